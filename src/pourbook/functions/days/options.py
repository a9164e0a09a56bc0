"""PB_OPTIONS: whether the options beside the one to offer can be mixed and put on the calendar.

Contract: one row for each of A, B and C. The option to offer is told on Batches and Days and is
passed over here; an option without layers is blank. What cannot be planned is no price: its column
on the quote says where to look. Air that says wait is a CHECK here as it is on Days. The visits and
the hours they are paid for are those of the calendar, for the option to offer too; without a day
the work starts there is no calendar, and they are blank.
"""

from __future__ import annotations

from collections.abc import Sequence

from pourbook import units
from pourbook.cells import CHECK, OK, Rows, Value, is_blank, number, text
from pourbook.errors import PourbookError
from pourbook.functions.batch import batches
from pourbook.functions.days import calendar
from pourbook.functions.days.calendar import Line
from pourbook.functions.declare import Argument, Example, Function, Result
from pourbook.tables.declared import Column
from pourbook.tables.job_tables import JobTables, going_of
from pourbook.tables.layers import OPTIONS, POURED, Layer
from pourbook.tables.rooms import system_of
from pourbook.tables.site import read_other_steps
from pourbook.tables.works import HOUR
from pourbook.trade.days.visits import paid_seconds, visits

ELSEWHERE = "offered"
NOT_PLANNED = "! see Price"


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
    single, steps = calendar.parted(site)
    others = read_other_steps(steps)
    named = (*calendar.SITE, "steps", "least")
    given = dict(zip(named, [*single, *[None] * len(named)], strict=False))
    site = site[: len(calendar.SITE) + 1]
    tables = JobTables(*rows, units_of_job, going_of(given["going"]))
    warm = number(given["temperature"], "Day temperature")
    crew = number(given["crew"], "Crew")
    kelvin = units.to_si(warm, units_of_job.temperature)
    coats = [(text(row[0]).upper(), coat) for row, coat in zip(layers, tables.worked, strict=True)]
    least = number(given["least"], "Least hours a visit", 0.0) * HOUR
    found: list[list[Value]] = []
    for option in OPTIONS:
        own = [coat for letter, coat in coats if letter == option]
        if not own:
            found.append([option, "", "", "", "", OK, "", "", "", ""])
            continue
        passes = [(c.method, c.passes) for c in own if isinstance(c, Layer)]
        poured = sum(times for method, times in passes if method == POURED)
        on_steps = others.hours(sum(times for _, times in passes), poured)
        fault = batches.fault(tables, kelvin, crew, option)
        whys: list[str | None] = [fault.said() if fault else "", None, None]
        on_site: list[Value] = ["", ""]
        if not fault and not is_blank(given["start"]):
            try:
                placed = calendar.calendar(*rows, hourly, system, option, *site)
                whys[1:] = "", _of_air(calendar.lines(placed))
                made = visits(placed.lines)
                on_site = [len(made), paid_seconds(made, placed.site.crew, least) / HOUR]
            except PourbookError as error:
                whys[1:] = error.said(), ""
        if option == text(offered).upper():
            found.append([option, ELSEWHERE, ELSEWHERE, ELSEWHERE, OK, OK, "", *on_site, on_steps])
            continue
        said: list[Value] = ["" if why is None else CHECK if why else OK for why in whys]
        paper = NOT_PLANNED if whys[0] or whys[1] else OK
        why_not = "; ".join(why for why in whys if why)
        found.append([option, *said, paper, OK, why_not, *on_site, on_steps])
    return found


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
    ),
    result="one row for each of A, B, C: batches, calendar, air, on the quote, a status, why not, "
    "visits, hours paid on them, hours of the other steps",
    valid="as PB_BATCHES and PB_DAYS",
    source="Pourbook itself",
    examples=(
        Example(
            (*calendar.EXAMPLE, 3.0),
            (
                ("A", ELSEWHERE, ELSEWHERE, ELSEWHERE, OK, OK, "", 1, 6.0, 0.0),
                ("B", "", "", "", "", OK, "", "", "", ""),
                ("C", "", "", "", "", OK, "", "", "", ""),
            ),
        ),
    ),
    compute=compute,
    columns=(
        Column("option", "The option"),
        Column("option_batches", "ok, or CHECK: a batch cannot be mixed"),
        Column("option_calendar", "ok, or CHECK: the calendar cannot be kept"),
        Column("option_air", "ok, or CHECK: the air does not allow a pour at its hour"),
        Column("option_paper", "ok, or where to look: no price without a plan"),
        Column("option_status", "ok, or why it cannot be told"),
        Column("option_why", "Why not"),
        Column("option_visits", "Dates on site; blank without a calendar"),
        Column("option_paid", "Hours paid on them, all people together"),
        Column("option_steps", "Hours of one person in the other steps of Days"),
    ),
    rows=len(OPTIONS),
)
