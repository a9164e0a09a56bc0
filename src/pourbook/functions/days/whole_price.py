"""What a whole plan comes to: its price before tax, from the tables a price is built up of.

Contract: coatings in whole packs, sundries and labour by what they go by, hours by step or those on
site where they are more, travel by the date, overhead and profit by the rates, as on the sheet
Price. Additives and what Survey puts down for mending are left out: the price is a first figure.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from datetime import date

from pourbook import units
from pourbook.cells import Rows, Value, as_mapping, is_blank, number, text, word
from pourbook.errors import BlankError, RangeError, UnknownError
from pourbook.functions.batch.plans import Planned
from pourbook.functions.days.placing import Calendar
from pourbook.functions.days.whole_plan import WholePlan
from pourbook.records import dataclass
from pourbook.tables import layers
from pourbook.tables.declared import declared
from pourbook.tables.measured import ROOM_COLUMNS
from pourbook.tables.site import OtherSteps, read_other_steps
from pourbook.tables.works import HOUR
from pourbook.trade.days.schedule import Deed
from pourbook.trade.days.visits import paid_seconds, visits
from pourbook.trade.price.build_up import OverheadOn, Uplift, build_up

SUNDRIES = declared("sundries").columns
LABOUR = declared("labour").columns
RATES = declared("rates", "shop").columns


@dataclass(frozen=True)
class PriceTables:
    """What a price is built up of besides the plan: tables as they are, rates by their lines."""

    sundries: Rows
    labour: Rows
    rates: Mapping[str, Value]


@dataclass(frozen=True)
class FirstFigure:
    """What a plan comes to: the price before tax, dates on site, the day it may be used."""

    net: float
    visits: int
    back: date | None


def rates_of(rows: Value | Rows) -> dict[str, Value]:
    """Return the rates of Price by their lines; a line that is not handed over is None.

    Example:
        >>> rates_of([[46.0], [38.0]])["trip"], rates_of(None)["charge"]
        (38.0, None)
    """
    cells = [row[0] for row in rows] if isinstance(rows, list | tuple) else []
    return dict.fromkeys(RATES) | dict(zip(RATES, cells, strict=False))


def whole_price(plan: WholePlan, tables: PriceTables) -> FirstFigure:
    """Return what a plan comes to; without a calendar the dates follow from the hours.

    Raises:
        PourbookError: It cannot be planned, bought, placed or priced; the place says where.
    """
    chosen, placed = plan.chosen(), plan.placed()
    made = visits(placed.lines) if placed else []
    _, coatings = plan.bought(chosen)
    others = read_other_steps(plan.steps)
    prepared = number(plan.site["prepare"], "Prepare", 0.0)
    counts = _quantities(chosen, plan, len(made))
    hours = _hours(tables.labour, counts, plan.system) + prepared
    hours += step_hours(others, [one.layer for one in chosen])
    least = number(tables.rates["least"], "Least hours a visit", 0.0) * HOUR
    if placed:
        hours = max(hours, paid_seconds(made, placed.site.crew, least) / HOUR)
    dates = len(made) if placed else _dates(hours, plan)
    counts["visit"] = float(dates)
    bits = _bits(tables.sundries, counts, plan.system)
    return FirstFigure(_net(tables.rates, coatings, bits, hours, dates), dates, _back(placed))


def step_hours(others: OtherSteps, coats: Sequence[layers.Layer]) -> float:
    """Return the work in the other steps of Days for some layers, h of one person."""
    poured = sum(coat.passes for coat in coats if coat.method == layers.POURED)
    return others.hours(sum(coat.passes for coat in coats), poured)


def _dates(hours: float, plan: WholePlan) -> int:
    begins, ends = (number(plan.site[name], "Work") for name in ("work_from", "work_to"))
    day = plan.crew * (ends - begins)
    if day <= 0:
        raise RangeError("the working day has no hours", "see Start", "Work ends")
    return math.ceil(round(hours / day, 9))


def _back(placed: Calendar | None) -> date | None:
    lines = placed.lines if placed else ()
    used = [line.end for line in lines if line.step.deed is Deed.LIGHT_USE]
    return max(used).date() if used else None


def _quantities(chosen: Sequence[Planned], plan: WholePlan, dates: int) -> dict[str, float]:
    """Return what labour and sundries go by, SI, by the words of *Goes by*."""

    def coated(method: str) -> float:
        found = (o.layer for o in chosen if o.layer.method == method)
        return math.fsum(layer.area * layer.passes for layer in found)

    def before(deed: str) -> float:
        return math.fsum(o.layer.area for o in chosen if o.layer.before == deed)

    def measured(column: str, unit: str) -> float:
        rows = (as_mapping(row, ROOM_COLUMNS)[column] for row in plan.tables.rooms)
        return units.to_si(math.fsum(number(v, "Rooms") for v in rows if not is_blank(v)), unit)

    pour, trowel, roll = (coated(method) for method in layers.METHODS)
    return {
        "job": 1.0,
        "layer": float(len(chosen)),
        "batch": float(sum(one.batches for one in chosen)),
        "finished area": measured("total", plan.system.area),
        "poured area": pour,
        "trowelled area": trowel,
        "rolled area": roll,
        "sanded area": before(layers.SANDING),
        "cleaned area": before(layers.CLEANING),
        "edge run": measured("run", plan.system.run),
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


def _hours(labour: Rows, counts: Mapping[str, float], system: units.System) -> float:
    rows = [as_mapping(row, LABOUR) for row in labour]
    return math.fsum(
        number(row["hours"], "Hours for each") * _times(counts, row["per"], system)
        for row in rows
        if not is_blank(row["step"])
    )


def _bits(sundries: Rows, counts: Mapping[str, float], system: units.System) -> float:
    """Return what the sundries cost."""
    found = []
    for row in (as_mapping(row, SUNDRIES) for row in sundries):
        if is_blank(row["item"]):
            continue
        if is_blank(row["each"]):
            raise BlankError("it is blank", "type it on Sundries", f"Price of {text(row['item'])}")
        each = number(row["each"], "Price of one")
        count = number(row["quantity"], "How many for each")
        found.append(each * count * _times(counts, row["item_per"], system))
    return math.fsum(found)


def _net(
    rates: Mapping[str, Value], coatings: float, bits: float, hours: float, dates: int
) -> float:
    """Return the price before tax, by the rates of Start."""
    labels = declared("rates").labels

    def rate(name: str, blank: float | None = None) -> float:
        return number(rates[name], labels[name], blank)

    on: OverheadOn = "labour" if word(rates["overhead_on"]) == "labour" else "direct cost"
    uplift: Uplift = "markup" if word(rates["uplift_is"]) == "markup" else "margin"
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
