"""PB_USED: what each logged batch comes to, and whether it was mixed and spread as it should be.

Contract: one result row a row of the log. A row that cannot be read says what to mend in its status
and shows ``!`` elsewhere.
"""

from __future__ import annotations

from collections.abc import Mapping

from pourbook import units
from pourbook.errors import InputError, PourbookError
from pourbook.functions import layers as layer_table
from pourbook.functions import products as product_table
from pourbook.functions import working as working_table
from pourbook.functions.catalogue import Argument, Column, Function, Result
from pourbook.functions.products import Product
from pourbook.functions.rooms import system_of
from pourbook.functions.values import (
    FAILED,
    OK,
    Rows,
    Value,
    as_mapping,
    is_blank,
    number,
    refuse_errors,
    text,
)
from pourbook.trade import mixing

COLUMNS = (
    "batch",
    "layer",
    "started",
    "ended",
    "lot_a",
    "lot_b",
    "lot_c",
    "mass_a",
    "mass_b",
    "mass_c",
    "air",
    "surface",
    "humidity",
    "wet",
    "spread_over",
    "note",
)
LABELS = {
    "batch": "Batch",
    "layer": "Layer",
    "started": "Mixing began",
    "ended": "All spread at",
    "lot_a": "Lot A",
    "lot_b": "Lot B",
    "lot_c": "Lot C",
    "mass_a": "Part A weighed",
    "mass_b": "Part B weighed",
    "mass_c": "Part C weighed",
    "air": "Air",
    "surface": "Surface",
    "humidity": "Humidity",
    "wet": "Wet film read",
    "spread_over": "Spread over",
    "note": "Note",
}
RECEIPTS = (
    "date",
    "supplier",
    "document",
    "line",
    "kind",
    "product",
    "holds",
    "lot",
    "expiry",
    "packs",
    "contents",
    "price",
    "currency",
)
RESULTS = (
    Column("used_batch", "The batch's number"),
    Column("used_product", "The product it was mixed of"),
    Column("used_volume", "How much was mixed", "volume"),
    Column("off_ratio", "How far the parts were off their ratio, the worst of them"),
    Column("took", "Minutes from the beginning of mixing until all was spread"),
    Column("pot_life", "Minutes the mix could be spread at the air's temperature"),
    Column("above_dew", "How far the surface was above the dew point, in degrees", "temperature"),
    Column("since_coat", "Hours since the coat below was spread"),
    Column("film_share", "Wet film read, as a share of what was planned"),
    Column("lots", "The lots that went in, as plain codes"),
    Column("verdict", "ok, or look"),
    Column("reason", "What to look at"),
    Column("used_status", "ok, or what to mend in this row"),
)


def _products_of_layers(
    layers: Rows, products: Rows, option: str, system: units.System
) -> Mapping[str, Product | PourbookError]:
    """Return the product of every layer of the accepted option, by the layer's name."""
    known = product_table.products_by_name(products, system)
    found: dict[str, Product | PourbookError] = {}
    for cells in layers:
        row = as_mapping(cells, layer_table.COLUMNS)
        wanted = not option or text(row["option"]).casefold() == option.casefold()
        product = known.get(text(row["product"]).casefold())
        if wanted and product is not None and not is_blank(row["layer"]):
            found[text(row["layer"]).casefold()] = product
    return found


def _row(row: dict[str, Value], of_layers: Mapping[str, Product | PourbookError]) -> list[Value]:
    refuse_errors(row, LABELS)
    name = text(row["layer"])
    product = of_layers.get(name.casefold())
    if product is None:
        what = f"'{name}' is no layer of the accepted option" if name else "it is blank"
        raise InputError(what, "choose a layer of Layers", LABELS["layer"])
    if isinstance(product, PourbookError):
        raise product
    masses = [
        units.to_si(number(row[f"mass_{part}"], LABELS[f"mass_{part}"]), "g")
        for part, _ in zip("abc", product.ratio, strict=False)
    ]
    volume = sum(m / d for m, d in zip(masses, product.densities, strict=True))
    off = mixing.off_ratio(masses, product.ratio, product.densities, product.basis)
    worst = max((abs(share) for share in off), default=0.0)
    return [row["batch"] or "", product.name, volume, worst]


def compute(
    log: Rows,
    receipts: Rows,
    layers: Rows,
    products: Rows,
    working: Rows,
    system_name: str,
    option: str,
    film_off: float,
) -> Result:
    """Return the result rows of PB_USED."""
    system = system_of(system_name)
    of_layers = _products_of_layers(layers, products, option, system)
    result: list[list[Value]] = []
    for cells in log:
        row = as_mapping(cells, COLUMNS)
        if all(is_blank(v) for v in row.values()):
            result.append([""] * len(RESULTS))
            continue
        try:
            batch, product, volume, off = _row(row, of_layers)
            mixed = units.express(float(volume or 0), system.volume)
            empty: list[Value] = [""] * (len(RESULTS) - 5)
            result.append([batch, product, mixed, off, *empty, OK])
        except PourbookError as error:
            result.append([*[FAILED] * (len(RESULTS) - 1), error.cell_text()])
    return result


PB_USED = Function(
    name="PB_USED",
    summary="What each logged batch comes to, and whether it was mixed and spread as it should be.",
    arguments=(
        Argument("log", "rows", "the entry columns of the batches as mixed", columns=COLUMNS),
        Argument("receipts", "rows", "the typed columns of the receipts", columns=RECEIPTS),
        Argument("layers", "rows", "the entry columns of Layers", columns=layer_table.COLUMNS),
        Argument(
            "products", "rows", "the entry columns of Products", columns=product_table.COLUMNS
        ),
        Argument("working", "rows", "the Working and curing table", columns=working_table.COLUMNS),
        Argument("system", "text", "the unit system on the Start sheet"),
        Argument("option", "text", "the option that was accepted", optional=True),
        Argument("film_off", "number", "how far a wet film may differ", optional=True),
    ),
    result="one row a batch: volume, how far off ratio, times, air, film, lots, verdict, a status",
    valid="part A above 0, the others 0 and more",
    source="ratio through densities; common practice, no source",
    examples=(),
    compute=compute,
    columns=RESULTS,
)
