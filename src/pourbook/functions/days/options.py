"""PB_OPTIONS: whether the options beside the one to offer can be mixed and put on the calendar.

Contract: one row for each of A, B and C. The option to offer is told on Batches and Days and is
passed over here; an option without layers is blank. What cannot be planned is no price: its column
on the quote says where to look. Air that says wait is a CHECK here as it is on Days. The visits and
the hours they are paid for are those of the calendar, for the option to offer too; without a day
the work starts there is no calendar, and they are blank. Where batches cannot be settled, a first
price is told as if every piece might be split, rounded up to tens.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

from pourbook import units
from pourbook.cells import CHECK, OK, Rows, Value, is_blank, number, row_of, text
from pourbook.errors import PourbookError
from pourbook.functions.batch import batches
from pourbook.functions.days import calendar
from pourbook.functions.days.calendar import Line
from pourbook.functions.days.whole_plan import WholePlan
from pourbook.functions.days.whole_price import (
    LABOUR,
    SUNDRIES,
    PriceTables,
    rates_of,
    step_hours,
    whole_price,
)
from pourbook.functions.declare import Argument, Example, Function, Result
from pourbook.tables.buy.packs import PACKS, STOCK, charge_of
from pourbook.tables.declared import Column
from pourbook.tables.job_tables import JobTables, going_of
from pourbook.tables.layers import OPTIONS, Layer
from pourbook.tables.rooms import system_of
from pourbook.tables.site import read_other_steps
from pourbook.tables.works import HOUR
from pourbook.trade.days.visits import paid_seconds, visits

ELSEWHERE = "offered"
NOT_PLANNED = "! see Price"
STEP = 10.0
"""What a first price is rounded up to, in the job's currency."""


def compute(
    layers: Rows,
    doing: Rows,
    products: Rows,
    working: Rows,
    room_rows: Rows,
    hourly: Rows,
    system: str,
    offered: str,
    *site: Value | Rows,
) -> Result:
    """Return the rows of PB_OPTIONS; the arguments are those of PB_DAYS.

    Raises:
        InputError: Temperature or crew are no numbers.
    """
    rows = (layers, doing, products, working, room_rows)
    units_of_job = system_of(system)
    last = len(calendar.SITE)
    single, steps = calendar.parted(site[: last + 1])
    others = read_other_steps(steps)
    least, *priced_by = [*site[last + 1 :], *[None] * 5][:5]
    named = (*calendar.SITE, "least")
    alone = [*single[:last], *[None] * (last - len(single)), calendar.parted([least])[0][0]]
    given = dict(zip(named, alone, strict=True))
    tables = JobTables(*rows, units_of_job, going_of(given["going"]))
    warm = number(given["temperature"], "Day temperature")
    crew = number(given["crew"], "Crew")
    kelvin = units.to_si(warm, units_of_job.temperature)
    coats = [(text(row[0]).upper(), coat) for row, coat in zip(layers, tables.worked, strict=True)]
    least = number(given["least"], "Least hours a visit", 0.0) * HOUR
    found: list[list[Value]] = []
    used = {letter for letter, _ in coats}
    faults = {o: batches.fault(tables, kelvin, crew, o) if o in used else None for o in OPTIONS}
    for option in OPTIONS:
        own = [coat for letter, coat in coats if letter == option]
        if not own:
            found.append([option, "", "", "", "", OK, "", "", "", "", ""])
            continue
        on_steps = step_hours(others, [coat for coat in own if isinstance(coat, Layer)])
        fault = faults[option]
        rough: Value = ""
        if priced_by[0] and any(faults.values()):  # one that cannot be mixed keeps all prices
            cells = {name: given[name] for name in calendar.SITE}
            plan = WholePlan(tables, hourly, option, cells, steps, (), (), None)
            rough = _rough(plan, priced_by)
        whys: list[str | None] = [fault.said() if fault else "", None, None]
        on_site: list[Value] = ["", ""]
        if not fault and not is_blank(given["start"]):
            try:
                cells = {name: given[name] for name in calendar.SITE}
                placed = calendar.as_typed(tables, option, cells, hourly, steps)
                whys[1:] = "", _of_air(calendar.lines(placed))
                made = visits(placed.lines)
                on_site = [len(made), paid_seconds(made, placed.site.crew, least) / HOUR]
            except PourbookError as error:
                whys[1:] = error.said(), None
        if option == text(offered).upper():
            found.append(
                [option, ELSEWHERE, ELSEWHERE, ELSEWHERE, OK, OK, "", *on_site, on_steps, rough]
            )
            continue
        said: list[Value] = ["" if why is None else CHECK if why else OK for why in whys]
        paper = NOT_PLANNED if whys[0] or whys[1] else OK
        why_not = "; ".join(why for why in whys if why)
        found.append([option, *said, paper, OK, why_not, *on_site, on_steps, rough])
    return found


def _rough(plan: WholePlan, tables: Sequence[Value | Rows]) -> Value:
    """Return what an option would cost were every piece allowed to be split; blank if unknown."""
    packs, sundries, labour = (one if isinstance(one, list | tuple) else () for one in tables[:3])
    by_line = rates_of(tables[3])
    try:
        charge = charge_of(by_line["charge"])
        whole = replace(plan, packs=packs, stock=(row_of(STOCK),), charge=charge).split()
        found = whole_price(whole, PriceTables(sundries, labour, by_line))
    except PourbookError:
        return ""
    return math.ceil(found.net / STEP) * STEP


def _of_air(lines: Sequence[Line]) -> str:
    """Return the first batch that the air does not allow at its hour, and why."""
    for line in lines:
        if line.air is not None and line.air.state != "go":
            return f"{line.step}: {line.noted}"
    return ""


PB_OPTIONS = Function(
    name="PB_OPTIONS",
    summary="Whether the options beside the one to offer can be mixed and put on the calendar.",
    arguments=(
        *calendar.ARGUMENTS,
        Argument(
            "least", "measure", "least hours a person is paid a visit, on Price", optional=True
        ),
        Argument(
            "packs", "rows", "the entry columns of Packs, on Buying", columns=PACKS, optional=True
        ),
        Argument("sundries", "rows", "the sundries, on Buying", columns=SUNDRIES, optional=True),
        Argument("labour", "rows", "labour by step, on Price", columns=LABOUR, optional=True),
        Argument("rates", "rows", "the rates, on Price", columns=("rate",), optional=True),
    ),
    result="one row for each of A, B, C: batches, calendar, air, on the quote, a status, why not, "
    "visits, hours paid on them, hours of the other steps, a first price without batches settled",
    valid="as PB_BATCHES and PB_DAYS",
    source="Pourbook itself",
    examples=(
        Example(
            (*calendar.EXAMPLE, 3.0),
            (
                ("A", ELSEWHERE, ELSEWHERE, ELSEWHERE, OK, OK, "", 1, 6.0, 0.0, ""),
                ("B", "", "", "", "", OK, "", "", "", "", ""),
                ("C", "", "", "", "", OK, "", "", "", "", ""),
            ),
        ),
    ),
    compute=compute,
    columns=(
        Column("option", "The option"),
        Column("option_batches", "ok, or CHECK: a batch cannot be mixed"),
        Column("option_calendar", "ok, or CHECK: the calendar cannot be kept"),
        Column(
            "option_air",
            "ok, or CHECK: the air does not allow a pour; blank without a calendar",
        ),
        Column("option_paper", "ok, or where to look: no price without a plan"),
        Column("option_status", "ok, or why it cannot be told"),
        Column("option_why", "Why not"),
        Column("option_visits", "Dates on site; blank without a calendar"),
        Column("option_paid", "Hours paid on them, all people together"),
        Column("option_steps", "Hours of one person in the other steps of Days"),
        Column("option_rough", "A first price before tax, where batches cannot be settled"),
    ),
    rows=len(OPTIONS),
)
