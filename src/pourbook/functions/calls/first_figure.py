"""What a call would come to as a job: its tops taken as one piece a room, planned and priced.

Contract: the finish is planned in batches, bought in whole packs at the prices of the day of the
call, put on the calendar and priced by the functions behind Layers, Buying, Days and Price.
Nothing is taken from stock. What a call cannot know (shapes, joins, cutouts, the air, additives)
is left out, so that the quote lies beside it: how far is for the range to say.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from pourbook import units
from pourbook.cells import OK, Rows, Value, as_mapping, is_blank, number, row_of, text, word
from pourbook.dates import day_number, read_date
from pourbook.errors import BlankError, UnknownError
from pourbook.functions.batch.plans import Planned
from pourbook.functions.calls.call_rows import Call, Settings
from pourbook.functions.days import calendar
from pourbook.functions.days.placing import Calendar
from pourbook.functions.days.whole_plan import WholePlan
from pourbook.tables import doing, layers
from pourbook.tables.buy.packs import PACKS, STOCK
from pourbook.tables.buy.price_list import Listed, holding
from pourbook.tables.declared import declared, usual
from pourbook.tables.measured import FILLS, ROOM_COLUMNS
from pourbook.tables.site import read_other_steps
from pourbook.tables.works import HOUR
from pourbook.trade.days.schedule import Deed
from pourbook.trade.days.visits import paid_seconds, visits
from pourbook.trade.price.build_up import OverheadOn, Uplift, build_up

OPTION = "A"
FINISH = declared("finish_layers").columns
PRICES = declared("prices", "shop").columns
SUNDRIES = declared("sundries").columns
LABOUR = declared("labour").columns
SITE = ("crew", "work_from", "work_to", "weekdays")
RATES = (
    "labour", "trip", "overhead", "overhead_on", "uplift_is", "uplift", "minimum", "replace_low",
    "replace_high", "least",
)  # fmt: skip
PACE = ("sand", "clean", "heat_pass", "gap")
_CLEANED = layers.BEFORE[1]


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


@dataclass(frozen=True)
class FirstFigure:
    """What a call would come to: the price before tax, dates on site, the day it may be used."""

    net: float
    visits: int
    back: date | None


def first_figure(call: Call, shop: ShopTables) -> FirstFigure:
    """Return what a call would come to.

    Raises:
        PourbookError: It cannot be planned, bought, placed or priced; the place says where.
    """
    plan = _plan(call, shop)
    chosen, placed = plan.chosen(), plan.placed()
    assert placed is not None
    made = visits(placed.lines)
    _, coatings = plan.bought(chosen)
    counts = _quantities(chosen, call, shop.settings, len(made))
    others = read_other_steps(plan.steps)
    passes = sum(one.layer.passes for one in chosen)
    poured = sum(one.layer.passes for one in chosen if one.layer.method == layers.POURED)
    by_step = _hours(shop, counts) + shop.settings.ready + others.hours(passes, poured)
    least = number(shop.rates["least"], "Least hours a visit", 0.0) * HOUR
    on_days = paid_seconds(made, placed.site.crew, least) / HOUR
    net = _net(shop, coatings, _bits(shop, counts), max(by_step, on_days), len(made))
    return FirstFigure(net, len(made), _back(placed))


def _back(placed: Calendar) -> date | None:
    used = [line.end for line in placed.lines if line.step.deed is Deed.LIGHT_USE]
    return max(used).date() if used else None


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
        ((None,),),
    )
    steps = [[value] for value in usual("other_steps").values()]
    packs, stock = _packs(shop.prices, call.day), (row_of(STOCK),)
    return WholePlan(rows, shop.system, OPTION, site, steps, packs, stock, None)


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
        if is_blank(row["product"]) or is_blank(row["from"]) or row["most"] == 0:
            continue
        product, holds, seller = (text(row[name]) for name in ("product", "holds", "seller"))
        size = number(row["contents"], "Contents", 0.0)
        listed.append(Listed(at, product, holds, seller, size, read_date(row["from"], "From")))
    found = [_cells(rows[at], PACKS) for at in holding(listed, day)]
    return found or [row_of(PACKS)]


def _quantities(
    chosen: Sequence[Planned], call: Call, settings: Settings, dates: int
) -> dict[str, float]:
    """Return what labour and sundries go by, SI, by the words of *Goes by*."""

    def coated(method: str) -> float:
        found = (o.layer for o in chosen if o.layer.method == method)
        return math.fsum(layer.area * layer.passes for layer in found)

    def before(deed: str) -> float:
        return math.fsum(o.layer.area for o in chosen if o.layer.before == deed)

    pour, trowel, roll = (coated(method) for method in layers.METHODS)
    return {
        "job": 1.0,
        "layer": float(len(chosen)),
        "batch": float(sum(one.batches for one in chosen)),
        "finished area": call.area + call.run * settings.edge,
        "poured area": pour,
        "trowelled area": trowel,
        "rolled area": roll,
        "sanded area": before(layers.SANDING),
        "cleaned area": before(_CLEANED),
        "edge run": call.run,
        "visit": float(dates),
    }


def _times(counts: Mapping[str, float], goes_by: Value, system: units.System) -> float:
    """Return a quantity in the units of the sheet.

    Raises:
        UnknownError: It is none of the list.
    """
    name = word(goes_by)
    if name not in counts:
        raise UnknownError(f"'{text(goes_by)}' is not of the list", "see Sundries", "Goes by")
    if name.endswith("area"):
        return units.express(counts[name], system.area)
    return units.express(counts[name], system.run) if name == "edge run" else counts[name]


def _hours(shop: ShopTables, counts: Mapping[str, float]) -> float:
    rows = [as_mapping(row, LABOUR) for row in shop.labour]
    return math.fsum(
        number(row["hours"], "Hours for each") * _times(counts, row["per"], shop.system)
        for row in rows
        if not is_blank(row["step"])
    )


def _bits(shop: ShopTables, counts: Mapping[str, float]) -> float:
    """Return what the sundries cost."""
    found = []
    for row in (as_mapping(row, SUNDRIES) for row in shop.sundries):
        if is_blank(row["item"]):
            continue
        if is_blank(row["each"]):
            raise BlankError("it is blank", "type it on Sundries", f"Price of {text(row['item'])}")
        each = number(row["each"], "Price of one")
        count = number(row["quantity"], "How many for each")
        found.append(each * count * _times(counts, row["item_per"], shop.system))
    return math.fsum(found)


def _net(shop: ShopTables, coatings: float, bits: float, hours: float, dates: int) -> float:
    """Return the price before tax, by the rates of Start."""
    labels = declared("rates").labels

    def rate(name: str, blank: float | None = None) -> float:
        return number(shop.rates[name], labels[name], blank)

    on: OverheadOn = "labour" if word(shop.rates["overhead_on"]) == "labour" else "direct cost"
    uplift: Uplift = "markup" if word(shop.rates["uplift_is"]) == "markup" else "margin"
    return build_up(
        material=coatings,
        sundries=bits,
        labour=hours * rate("labour"),
        travel=dates * rate("trip"),
        overhead_rate=rate("overhead"),
        overhead_on=on,
        uplift=uplift,
        uplift_rate=rate("uplift"),
        minimum=rate("minimum", 0.0),
        tax_rate=0.0,
    ).price_before_tax
