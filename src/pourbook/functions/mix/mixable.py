"""PB_PRODUCTS: whether every product of the Products table can be mixed, its density and ratio.

Contract: one result row a product; a refusal stands in its status.
"""

from __future__ import annotations

from pourbook import units
from pourbook.cells import FAILED, OK, Rows, Value, as_mapping, is_blank, text
from pourbook.errors import InputError, PourbookError
from pourbook.functions.declare import Argument, Example, Function, Result
from pourbook.tables.products import COLUMNS, RESULTS, in_words, products_by_name
from pourbook.tables.rooms import system_of


def compute(rows: Rows, system_name: str) -> Result:
    """Return the result rows of PB_PRODUCTS."""
    system = system_of(system_name)
    names = products_by_name(rows, system)
    result: list[list[Value]] = []
    for cells in rows:
        row = as_mapping(cells, COLUMNS)
        if all(is_blank(v) for v in row.values()):
            result.append([""] * len(RESULTS))
            continue
        product = names.get(text(row["product"]).casefold())
        if product is None:
            product = InputError("it is blank", "name the product", "Product")
        if isinstance(product, PourbookError):
            result.append([FAILED, FAILED, product.cell_text()])
            continue
        density = units.express(product.density, system.density)
        result.append([density, in_words(product), OK])
    return result


_EXAMPLE = ("Clear", 2, "volume", "2:1", "A", 1.2, 0.9, None, 1.0, *[None] * 5)


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
            ((1.1, "2 A : 1 B by volume, A first", "ok"),),
        ),
    ),
    compute=compute,
    columns=RESULTS,
)
