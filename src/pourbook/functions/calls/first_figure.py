"""What a call would come to as a job: its tops taken as one piece a room, planned and priced.

Contract: the finish is planned in batches, bought in whole packs at the prices of the day of the
call, put on the calendar and priced by the functions behind Layers, Buying, Days and Price.
Nothing is taken from stock. What a call cannot know (shapes, joins, cutouts, the air, additives)
is left out, so that the quote lies beside it: how far is for the range to say.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date, timedelta

from pourbook import units
from pourbook.cells import OK, Rows, Value, as_mapping, is_blank, number, row_of, text, word
from pourbook.dates import day_number, read_date
from pourbook.errors import UnknownError
from pourbook.functions.calls.call_rows import Call, Settings
from pourbook.functions.days import calendar
from pourbook.functions.days.whole_plan import WholePlan
from pourbook.functions.days.whole_price import FirstFigure, PriceTables, whole_price
from pourbook.records import dataclass
from pourbook.tables import doing, layers
from pourbook.tables.buy.packs import PACKS, STOCK, charge_of
from pourbook.tables.buy.price_list import Listed, holding
from pourbook.tables.declared import declared, usual
from pourbook.tables.job_tables import JobTables, going_of
from pourbook.tables.measured import FILLS, ROOM_COLUMNS

OPTION = "A"
FINISH = declared("finish_layers").columns
PRICES = declared("prices", "shop").columns
SITE = declared("site", "shop").columns
PACE = declared("pace", "shop").columns


@dataclass(frozen=True)
class ShopTables:
    """The shop as a worksheet hands it over: tables as they are, forms by the names of lines."""

    finishes: Rows
    products: Rows
    working: Rows
    prices: Rows
    sundries: Rows
    labour: Rows
    system: units.System
    site: Mapping[str, Value]
    rates: Mapping[str, Value]
    pace: Mapping[str, Value]
    settings: Settings


def first_figure(call: Call, shop: ShopTables) -> FirstFigure:
    """Return what a call would come to.

    Raises:
        PourbookError: It cannot be planned, bought, placed or priced; the place says where.
    """
    return whole_price(_plan(call, shop), PriceTables(shop.sundries, shop.labour, shop.rates))


def _plan(call: Call, shop: ShopTables) -> WholePlan:
    """Return the call as a job of one option."""
    wanted = word(call.finish)
    mine = [as_mapping(row, FINISH) for row in shop.finishes]
    mine = [row for row in mine if word(row["finish"]) == wanted]
    mine = [row for row in mine if word(row["surfaces"]) != FILLS]  # a call has nothing to fill
    if not mine:
        what = f"'{call.finish}' has no layers"
        raise UnknownError(what, "see the Finishes sheet", "Finish")
    first = call.start or call.day + timedelta(days=shop.settings.lead)
    site: dict[str, Value] = dict.fromkeys(calendar.SITE) | {
        **shop.site,
        **shop.pace,
        "start": float(day_number(first)),
        "temperature": units.express(shop.settings.warmth, shop.system.temperature),
        "prepare": shop.settings.ready,
    }
    rows = (
        [_cells(row, layers.COLUMNS, option=OPTION) for row in mine],
        [_cells(row, doing.DOING, name=OPTION, layer_name=row["layer"]) for row in mine],
        shop.products,
        shop.working,
        _rooms(call, shop),
    )
    tables = JobTables(*rows, shop.system, going_of(site["going"]))
    steps = [[value] for value in usual("other_steps").values()]
    packs, stock = _packs(shop.prices, call.day), (row_of(STOCK),)
    charge = charge_of(shop.rates.get("charge"))
    return WholePlan(tables, ((None,),), OPTION, site, steps, packs, stock, None, charge)


def _cells(row: Mapping[str, Value], columns: Sequence[str], **own: Value) -> tuple[Value, ...]:
    """Return a row of another table with the cells of the same names."""
    return tuple(own.get(name, row.get(name)) for name in columns)


def _rooms(call: Call, shop: ShopTables) -> list[tuple[Value, ...]]:
    """Return the call's tops as Rooms measures them: one piece a room, that may be split."""
    system, edge = shop.system, call.run * shop.settings.edge
    share = {
        "top": units.express(call.area / call.rooms, system.area),
        "edge": units.express(edge / call.rooms, system.area),
        "splash": 0.0,
        "total": units.express((call.area + edge) / call.rooms, system.area),
        "run": units.express(call.run / call.rooms, system.run),
        "soak": units.express(call.soak, system.volume_per_area),
    }
    named = {"piece": "Tops", "may_split": "yes", "status": OK}
    return [
        row_of(ROOM_COLUMNS, room=f"Room {at}", **named, **share) for at in range(1, call.rooms + 1)
    ]


def _packs(prices: Rows, day: date) -> list[tuple[Value, ...]]:
    """Return what is on sale on a day, as Buying lists it."""
    listed, rows = [], [as_mapping(row, PRICES) for row in prices]
    for at, row in enumerate(rows):
        if is_blank(row["product"]) or is_blank(row["from"]):
            continue
        product, holds, seller = (text(row[name]) for name in ("product", "holds", "seller"))
        size = number(row["contents"], "Contents", 0.0)
        listed.append(Listed(at, product, holds, seller, size, read_date(row["from"], "From")))
    on_sale = (rows[at] for at in holding(listed, day))
    found = [_cells(row, PACKS) for row in on_sale if row["most"] != 0]  # 0: no longer sold
    return found or [row_of(PACKS)]
