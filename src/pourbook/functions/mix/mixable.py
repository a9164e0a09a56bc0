"""PB_PRODUCTS: whether every product of the Products table can be mixed, its density and ratio.

Contract: one result row a product; a refusal stands in its status.
"""

from __future__ import annotations

from collections.abc import Mapping

from pourbook import units
from pourbook.cells import OK, Rows, Value, row_of, text
from pourbook.errors import BlankError, PourbookError
from pourbook.functions.declare import Argument, Example, Function, Result
from pourbook.tables.products import (
    COLUMNS,
    RESULTS,
    Product,
    in_words,
    products_by_name,
    safety_in_words,
)
from pourbook.tables.rooms import system_of
from pourbook.tables.row_loop import read_each, rows_each

STATUS = [column.id for column in RESULTS].index("status")


def compute(rows: Rows, system_name: str) -> Result:
    """Return the result rows of PB_PRODUCTS."""
    system = system_of(system_name)
    names = products_by_name(rows, system)
    read = read_each(rows, COLUMNS, lambda _, row: find(names, row))
    return rows_each(read, len(RESULTS), lambda product: _shown(product, system), status=STATUS)


def find(names: Mapping[str, Product | PourbookError], row: dict[str, Value]) -> Product:
    """Return the product of a row.

    Raises:
        InputError: It has no name, or cannot be mixed.
    """
    product = names.get(text(row["product"]).casefold())
    if product is None:
        raise BlankError("it is blank", "name the product", "Product")
    if isinstance(product, PourbookError):
        raise product.again()
    return product


def _shown(product: Product, system: units.System) -> list[Value]:
    density = units.express(product.density, system.density)
    return [density, in_words(product), OK, safety_in_words(product)]


_EXAMPLE = row_of(
    COLUMNS,
    product="Clear",
    parts=2,
    basis="volume",
    ratio="2:1",
    first="A",
    density_a=1.2,
    density_b=0.9,
    solids=1.0,
)


PB_PRODUCTS = Function(
    name="PB_PRODUCTS",
    summary="Density of the mix, ratio in words and a status for every product.",
    arguments=(
        Argument("products", "rows", "the entry columns of the Products table", columns=COLUMNS),
        Argument("system", "text", "the unit system on the Start sheet"),
    ),
    result="one row a product: density of the mix in the job's unit, the ratio in words, a status",
    valid="1 to 3 parts; ratios above 0; densities 0.3 to 5 kg/L; volume solids above 0 to 100 %",
    source="mass balance; no change of volume on mixing is assumed",
    examples=(
        Example(
            ((_EXAMPLE,), "metric"),
            ((1.1, "2 A : 1 B by volume, A first", "ok", ""),),
        ),
    ),
    compute=compute,
    columns=RESULTS,
)
