"""PB_USED: what each logged batch comes to, and whether it was mixed and spread as it should be.

Contract: one result row a row of the log. A row that cannot be read says what to mend in its status
and shows ``!`` elsewhere. The verdict is ``look`` where something is wrong or could not be told
because it was not written down, else ``ok``; the reason says what, and may add a note to an ``ok``.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import field

from pourbook import units
from pourbook.cells import OK, Rows, Value, as_mapping, choice, is_blank, number, row_of, text
from pourbook.errors import LONGEST_CELL_TEXT, PourbookError, RangeError
from pourbook.functions.batch.plans import EXAMPLE_WORKING
from pourbook.functions.declare import Argument, Example, Function, Result
from pourbook.functions.mix.amounts import EXAMPLE_PRODUCT
from pourbook.functions.mix.amounts import RESULTS as AMOUNTS
from pourbook.functions.used import lot_balance, used_checks
from pourbook.functions.used.used_checks import Noticed
from pourbook.records import dataclass
from pourbook.tables import layers as layer_table
from pourbook.tables import products as product_table
from pourbook.tables import works as working_table
from pourbook.tables.buy import packs
from pourbook.tables.declared import Column
from pourbook.tables.limits import limits_by_product, limits_of
from pourbook.tables.rooms import system_of
from pourbook.tables.row_loop import read_each, rows_each
from pourbook.tables.used import log_rows, lots
from pourbook.tables.used.log_rows import COLUMNS, LABELS, LoggedBatch
from pourbook.tables.used.lots import RECEIPTS
from pourbook.tables.works import HOUR, MINUTE, Working
from pourbook.trade.air import AirLimits

__all__ = ["COLUMNS", "LABELS", "PB_USED", "RECEIPTS", "RESULTS"]

LOOK = "look"
AMOUNT_COLUMNS = tuple(column.id for column in AMOUNTS)
RESULTS = (
    Column("used_product", "The product it was mixed of"),
    Column("lots", "The lots that went in, as plain codes"),
    Column("used_volume", "How much was mixed", "volume"),
    Column("used_batch", "The batch's number"),
    Column("off_ratio", "How far the worst part was off what part A called for; below 0 is short"),
    Column("took", "Minutes from the beginning of mixing until all was spread"),
    Column("pot_life", "Minutes the mix could be spread at the air's temperature"),
    Column("above_dew", "How far the surface was above the dew point, in degrees", "temperature"),
    Column("since_coat", "Hours since the coat below was spread"),
    Column("film_share", "Wet film read, as a share of what was planned"),
    Column("verdict", "ok, or look"),
    Column("used_status", "ok, or what to fix in this row"),
    Column("reason", "What to look at"),
    Column("early", "yes: a lot was used before it was bought"),
)


@dataclass(frozen=True)
class _Around:
    """What every batch is compared with."""

    log: Sequence[LoggedBatch]
    working: Mapping[str, Working | PourbookError]
    limits: Mapping[str, AirLimits | PourbookError]
    lots: lots.Known
    film_off: float | None
    system: units.System
    overdrawn: dict[int, list[str]] = field(default_factory=dict)
    """What a batch took that its lots had not, by the batch's identity."""


def _wet_films(amounts: Rows, option: str, system: units.System) -> dict[str, float]:
    """Return the wet film of the option's layers that are worked out, m, by name."""
    found = {}
    for cells in amounts:
        row = as_mapping(cells, AMOUNT_COLUMNS)
        wet = row["wet"]
        if text(row["option"]).casefold() == option.casefold() and isinstance(wet, int | float):
            found[text(row["layer"]).casefold()] = units.to_si(float(wet), system.film)
    return found


def _judged(batch: LoggedBatch, around: _Around) -> list[Value]:
    """Return the cells of a batch that could be read."""
    product = batch.coat.product.name
    how = around.working.get(product.casefold())
    if isinstance(how, PourbookError):
        raise how.again()
    readable = {k: w for k, w in around.working.items() if isinstance(w, Working)}
    checks = (
        used_checks.ratio(batch, how.tolerance if how else working_table.USUAL_TOLERANCE),
        used_checks.time_taken(batch),
        used_checks.pot_life(batch, how.of(batch.coat.product.density) if how else None),
        used_checks.air_and_surface(batch, limits_of(around.limits, product, "Product")),
        used_checks.recoat(batch, around.log, readable),
        used_checks.film(batch, around.film_off),
    )
    off, took, life, above, since, share = checks
    judged = lots.judge(product, batch.lots, batch.day, around.lots)
    wrong = [*judged.wrong]
    wrong += around.overdrawn.get(id(batch), [])
    wrong += [words for check in checks for words in check.wrong]
    codes = dict.fromkeys(scanned.lot for _, scanned in batch.lots if scanned.lot)
    dew: Value = ""
    if above.value is not None:
        dew = units.express(above.value, "Δ" + around.system.temperature)
    return [
        product,
        "; ".join(codes),
        units.express(used_checks.volume(batch), around.system.volume),
        batch.number,
        _in(off, 1.0),
        _in(took, MINUTE),
        _in(life, MINUTE),
        dew,
        _in(since, HOUR),
        _in(share, 1.0),
        LOOK if wrong else OK,
        OK,
        _short("; ".join([*wrong, *judged.notes])),
        "yes" if judged.early else "",
    ]


def _in(found: Noticed, unit: float) -> Value:
    return "" if found.value is None else found.value / unit


def _short(words: str) -> str:
    return words if len(words) <= LONGEST_CELL_TEXT else words[: LONGEST_CELL_TEXT - 4] + " ..."


def compute(
    log: Rows,
    receipts: Rows,
    stock: Rows,
    layers: Rows,
    products: Rows,
    working: Rows,
    amounts: Rows,
    system_name: str,
    offered: Value = None,
    accepted: Value = None,
    film_off: Value = None,
) -> Result:
    """Return the result rows of PB_USED."""
    system = system_of(system_name)
    option = text(accepted) or text(offered)
    if option:
        option = choice(option, "Option", layer_table.OPTIONS)
    off = None if is_blank(film_off) else number(film_off, "Wet film may differ by")
    if off is not None and off < 0:
        raise RangeError(f"it is {off:g}", "type 0 % or more", "Wet film may differ by")
    films = _wet_films(amounts, option, system)
    known = log_rows.coats(layers, products, films, option, system)
    read = read_each(log, COLUMNS, lambda _, row: log_rows.read_batch(row, known, system))
    batches = [b for b in read if isinstance(b, LoggedBatch)]
    around = _Around(
        log=batches,
        working=working_table.working_by_name(working, system),
        limits=limits_by_product(products, working, system),
        lots=lots.known_lots(receipts, stock, system),
        film_off=off,
        system=system,
    )
    around.overdrawn.update(lot_balance.overdrawn(batches, around.lots, system))
    at = [column.id for column in RESULTS].index("used_status")
    return rows_each(read, len(RESULTS), lambda batch: _judged(batch, around), status=at)


_LAYERS = (
    row_of(
        layer_table.COLUMNS,
        option="A",
        layer="Base",
        product="Clear",
        method="roll",
        surfaces="top",
        before="sand 220 and clean",
        spread="1 mm",
    ),
    row_of(
        layer_table.COLUMNS,
        option="A",
        layer="Flood",
        product="Clear",
        method="pour",
        surfaces="top + edge",
        spread="1 mm",
    ),
)
_AMOUNTS = (
    ("A", 1, "Base", "Clear", 2.0, 2.0, 1.0, 1.0, 2.0, 0.0, 0.0, 0.0, 0.2, 2.2, 2, "ok"),
    ("A", 2, "Flood", "Clear", 2.0, 2.0, 1.0, 1.0, 2.0, 0.0, 0.0, 0.0, 0.2, 2.2, 2, "ok"),
)
_RECEIPT = (
    *("Depot", "R-1", 46398.0, 1, "bought", "Clear", "kit", "K-7"),
    *(None, 1, 4.0, 90.0, None, None),
)


def _logged(layer: str, started: float, lot: str, b: float, wet: float | None) -> tuple[Value, ...]:
    """Return a row of the example's log: 1.1 kg of part A at 20 °C, spread in half an hour."""
    ended = started + 0.5 / 24
    return (
        *(layer, started, ended, None, lot, None, None),
        *(1100.0, b, None, 20.0, 20.0, 1.0, wet, None, None, None),
    )


_AROUND = (
    (_RECEIPT,),
    ((None,) * len(packs.STOCK),),
    _LAYERS,
    (EXAMPLE_PRODUCT,),
    (EXAMPLE_WORKING,),
    _AMOUNTS,
    "metric",
    "A",
    None,
    0.2,
)
_DAMP = "dew point is 20 °C (68 °F), so water condenses on the surface"
PB_USED = Function(
    name="PB_USED",
    summary="What each logged batch works out to, and whether it went on as it should.",
    arguments=(
        Argument("log", "rows", "the entry columns of the batches as mixed", columns=COLUMNS),
        Argument("receipts", "rows", "the typed columns of the receipts", columns=RECEIPTS),
        Argument("stock", "rows", "the entry columns of the stock on Buying", columns=packs.STOCK),
        Argument("layers", "rows", "the entry columns of Layers", columns=layer_table.COLUMNS),
        Argument(
            "products", "rows", "the entry columns of Products", columns=product_table.COLUMNS
        ),
        Argument("working", "rows", "the Working and curing table", columns=working_table.COLUMNS),
        Argument("amounts", "rows", "the amounts of every layer", columns=AMOUNT_COLUMNS),
        Argument("system", "text", "the unit system on the Start sheet"),
        Argument("offered", "text", "the option to offer, on Price", optional=True),
        Argument("accepted", "text", "the option that was accepted, if any", optional=True),
        Argument("film_off", "number", "how far a wet film may differ, 0.2 is 20 %", optional=True),
    ),
    result="one row a batch: volume, how far off ratio, times, air, film, lots, verdict, a status",
    valid="part A above 0, the others 0 and more; all spread not before mixing began",
    source="ratio by conservation of mass; Arrhenius; Magnus, WMO No. 8; limits from data sheets",
    examples=(
        Example(
            (
                (_logged("Base", 46398.375, "K-7", 1000.0, 0.9),),
                *_AROUND,
            ),
            (("Clear", "K-7", 2.0, "", 0.0, 30.0, 40.0, 0.0, "", 0.9, "look", "ok", _DAMP, ""),),
        ),
        Example(
            (
                (
                    _logged("Base", 46398.375, "K-7", 1000.0, None),
                    _logged("Flood", 46398.5625, "K-8", 1050.0, 1.1),
                ),
                *_AROUND,
            ),
            (
                ("Clear", "K-7", 2.0, "", 0.0, 30.0, 40.0, 0.0, "", "", "look", "ok", _DAMP, ""),
                (
                    *("Clear", "K-8", 2.05, "", 0.05, 30.0, 40.0, 0.0, 4.0, 1.1, "look", "ok"),
                    "no lot of part B; part B is 5.0 % over, 2 % is allowed; "
                    + _DAMP
                    + "; Base: the coat below was too fresh: 4.0 h old, recoat from 8.0 h"
                    " (hours at 20 °C (68 °F)); lot K-8 is on no receipt",
                    "",
                ),
            ),
        ),
    ),
    compute=compute,
    columns=RESULTS,
)
