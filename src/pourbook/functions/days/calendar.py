"""PB_DAYS: the calendar of the option to offer, line by line, and beside it layer by layer.

Contract: :data:`MOST_LINES` rows in order of time, blank after the last; a calendar that cannot be
kept gives one row whose status names the step and the reason. Behind the note, the first rows hold
the spans of the layers. Times are spreadsheet dates. A pour is judged at the temperature of its
hour and the humidity of Start, and by the temperatures until it is touch dry.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import datetime
from itertools import groupby

from pourbook import units
from pourbook.cells import OK, Rows, Value, choice, ranges_are_of, text
from pourbook.dates import serial
from pourbook.errors import FAILED, InputError, PourbookError
from pourbook.functions.batch import plans
from pourbook.functions.batch.plans import EXAMPLE_DOING, EXAMPLE_WORKING, Planned
from pourbook.functions.day_columns import ON_SITE, RESULTS, SPANS
from pourbook.functions.days import placing, pour_air, spans
from pourbook.functions.days.placing import Calendar
from pourbook.functions.declare import Argument, Example, Function, Result
from pourbook.functions.mix.amounts import EXAMPLE_LAYER, EXAMPLE_PRODUCT, EXAMPLE_ROOM_SPLIT
from pourbook.once import once
from pourbook.records import dataclass
from pourbook.tables import layers as layer_table
from pourbook.tables import site as site_sheet
from pourbook.tables.job_tables import JobTables, going_of
from pourbook.tables.rooms import system_of
from pourbook.tables.works import HOUR
from pourbook.trade.air import Verdict
from pourbook.trade.days.schedule import Deed, Placed
from pourbook.trade.days.visits import visits

MOST_LINES = 80
HOURLY = ("warmth",)
SITE = (
    "start",
    "temperature",
    "night",
    "day_from",
    "day_to",
    "humidity",
    "crew",
    "work_from",
    "work_to",
    "weekdays",
    "days_off",
    "prepare",
    "sand",
    "clean",
    "heat_pass",
    "gap",
    "surface",
    "going",
)
_STATUS = [column.id for column in RESULTS].index("day_status")
_WORDS = {
    Deed.SAND_BARE: "sand 220",
    Deed.SAND: "sand 220",
    Deed.SAND_MISSED: "sand 220, window missed",
    Deed.CLEAN: "clean",
    Deed.HEAT: "heat pass",
    Deed.TOUCH_DRY: "touch dry",
    Deed.RECOAT_FROM: "recoat from",
    Deed.RECOAT_UNTIL: "recoat until",
    Deed.LIGHT_USE: "light use",
    Deed.FULL_SERVICE: "full cure",
    Deed.CLEAN_UP: "clean up",
    Deed.DRIPS: "sand drips",
}
_WORDS_1 = _WORDS | {Deed.FULL_SERVICE: "hard use"}
"""As jobs of templates 1 have them."""
_TOGETHER = (Deed.BATCH, Deed.HEAT)
"""Steps of a layer that are told in one line where room is short."""


@dataclass(frozen=True)
class Line:
    """One line of the sheet; ``air`` is None where nothing is put on.

    ``turns`` says in words which of several steps it is, or nothing.
    """

    deed: Deed
    what: str
    turns: str
    layer: str
    start: datetime
    end: datetime
    air: Verdict | None
    note: str

    @property
    def step(self) -> str:
        """Return what is done, or what is reached."""
        return f"{self.what} {self.turns}" if self.turns else self.what

    @property
    def noted(self) -> str:
        """Return what the calendar had to change, and what is wrong with the air."""
        words = [self.note] if self.note else []
        if self.air is not None and self.air.state != "go":
            words += self.air.reasons
        return "; ".join(words)

    def cells(self) -> list[Value]:
        """Return the line as the sheet shows it."""
        hours = (self.end - self.start).total_seconds() / HOUR
        state = self.air.state if self.air else ""
        shown: Value = hours if self.end > self.start else ""
        row: list[Value] = [self.step, self.layer, serial(self.start), serial(self.end)]
        return [*row, shown, state, OK, self.noted]


def calendar(
    layers: Rows,
    doing: Rows,
    products: Rows,
    working: Rows,
    room_rows: Rows,
    hourly: Rows,
    system_name: str,
    option: Value,
    *given: Value | Rows,
) -> Calendar:
    """Return the placed calendar of an option from the arguments of PB_DAYS.

    Raises:
        InputError: See :func:`pourbook.functions.days.placing.place`.
    """
    typed, steps = parted(given)
    cells = dict(zip(SITE, [*typed, *[None] * len(SITE)], strict=False))
    rows = (layers, doing, products, working, room_rows)
    tables = JobTables(*rows, system_of(system_name), going_of(cells["going"]))
    return as_typed(tables, option, cells, hourly, steps)


@once
def as_typed(
    tables: JobTables, option: Value, cells: Mapping[str, Value], hourly: Rows, steps: Rows
) -> Calendar:
    """Return the placed calendar of an option from tables that are read; see :func:`calendar_of`.

    Raises:
        InputError: See :func:`pourbook.functions.days.placing.place`.
    """
    site = site_sheet.read_site(cells, tables.system)
    planned = plans.plan_all(tables, site.day, float(site.crew))
    return calendar_of(tables, option, cells, hourly, steps, planned)


def calendar_of(
    tables: JobTables,
    option: Value,
    cells: Mapping[str, Value],
    hourly: Rows,
    steps: Rows,
    planned: Sequence[Planned | PourbookError | None],
) -> Calendar:
    """Return the placed calendar of an option from its tables and its layers in batches.

    ``cells`` are those of :data:`SITE` by name.

    Raises:
        InputError: See :func:`pourbook.functions.days.placing.place`.
    """
    system = tables.system
    site = site_sheet.read_site(cells, system)
    pace = site_sheet.read_pace(cells, system)
    history = site_sheet.read_history(hourly, site, system)
    wanted = choice(option, "Option to offer", layer_table.OPTIONS)
    rows = zip(tables.layers, planned, strict=True)
    chosen = [plan for row, plan in rows if text(row[0]).upper() == wanted]
    others = site_sheet.read_other_steps(steps)
    return placing.place(chosen, tables.limits, site, pace, history, others)


def parted(given: Sequence[Value | Rows]) -> tuple[list[Value], Rows]:
    """Return the cells among what follows the option to offer, and the other steps of Days."""
    cells = [None if isinstance(cell, list | tuple) else cell for cell in given]
    rows = next((cell for cell in given if isinstance(cell, list | tuple)), ())
    return cells, rows  # type: ignore[return-value]


def line_of(found: Calendar, placed: Placed) -> Line:
    """Return a placed step in the words of the sheet, a batch judged."""
    step, coated = placed.step, found.coat_of(placed.step)
    words = _WORDS_1 if ranges_are_of() == 1 else _WORDS
    what, turns, judged = words.get(step.deed, step.name), "", None
    if step.deed is Deed.HEAT:
        turns = f"{step.turn}"
        if coated is not None and coated.coat.heat is not None:
            passes = coated.coat.heat.passes
            what = f"heat {passes} {'pass' if passes == 1 else 'passes'}, batch"
            turns = f"{step.turn} of {len(coated.coat.batch_seconds)}"
    if coated is not None and step.deed is Deed.BATCH:
        what = f"{coated.plan.layer.method} batch"
        turns = f"{step.turn} of {len(coated.coat.batch_seconds)}"
        judged = pour_air.judge(found, coated, placed.start, placed.end)
    name = coated.coat.name if coated else ""
    return Line(step.deed, what, turns, name, placed.start, placed.end, judged, placed.note)


def lines(found: Calendar) -> list[Line]:
    """Return the lines of the sheet; the batches of a layer become one line where room is short.

    Raises:
        InputError: There are still more lines than the sheet has.
    """
    made = _reopened([line_of(found, placed) for placed in found.lines])
    if len(made) > MOST_LINES:
        made = _merged(made)
    if len(made) > MOST_LINES:
        what = f"the calendar has {len(made)} lines, the sheet {MOST_LINES}"
        raise InputError(what, "make the job in two workbooks", "Days")
    return made


def _reopened(made: Sequence[Line]) -> list[Line]:
    """Say where a coat is sanded after its recoat window: the sanding is what lets it be coated."""
    closed = {line.layer: line.start for line in made if line.deed is Deed.RECOAT_UNTIL}
    note = "the recoat window has closed: this sanding reopens it"
    return [
        replace(line, note=note)
        if line.deed is Deed.SAND
        and not line.note
        and line.layer in closed
        and line.end > closed[line.layer]
        else line
        for line in made
    ]


def _merged(made: Sequence[Line]) -> list[Line]:
    """Return the lines with a layer's batches as one line, and its heat passes as another."""
    found: list[Line] = []
    for run, group in groupby(made, lambda line: (line.deed, line.layer)):
        several = list(group)
        first, last = several[0], several[-1]
        if run[0] not in _TOGETHER or first is last:
            found += several
            continue
        verdict = next((v for v in (o.air for o in several) if v and v.state != "go"), last.air)
        turns = f"{first.turns} to {last.turns}"
        found.append(replace(first, turns=turns, end=last.end, air=verdict))
    return found


def compute(*given: object) -> Result:
    """Return the result rows of PB_DAYS."""
    rows: list[list[Value]] = [[""] * len(RESULTS) for _ in range(MOST_LINES)]
    aside = _STATUS + 2
    try:
        found = calendar(*given)  # type: ignore[arg-type]
        made, beside, on_site = lines(found), spans.spans(found), visits(found.lines)
    except PourbookError as error:
        rows[0] = [FAILED] * len(RESULTS)
        rows[0][_STATUS] = error.cell_text()
        return rows
    for row, line in zip(rows, made, strict=False):
        row[:aside] = line.cells()
    for row, span in zip(rows, beside, strict=False):
        row[aside : -len(ON_SITE)] = span
    for row, visit in zip(rows, on_site, strict=False):
        people = visit.hands or found.site.crew
        row[-len(ON_SITE) : -1] = serial(visit.start), serial(visit.end), people
    degree = system_of(str(given[6])).temperature
    for row, kelvin in zip(rows, warmths(found), strict=False):
        row[-1] = units.express(kelvin, degree)
    return rows


def warmths(found: Calendar) -> list[float]:
    """Return the warmest each batch meets, K, in the order of the work, however it is shown."""
    poured = [p for p in found.lines if p.step.deed is Deed.BATCH]
    poured.sort(key=lambda p: (p.step.coat or 0, p.step.turn))
    warmest = found.history.extremes
    return [warmest(found.seconds(p.start), found.seconds(p.end))[1] for p in poured]


_TOLD = {
    "start": "the day the work starts, on Start",
    "temperature": "the day temperature on Start",
    "night": "the night temperature on Start",
    "day_from": "the hour the day temperature begins, on Start",
    "day_to": "the hour it ends, on Start",
    "humidity": "the relative humidity on Start",
    "crew": "the crew on Start",
    "work_from": "the hour work begins, on Start",
    "work_to": "the hour work ends, on Start",
    "weekdays": "the days worked, on Start",
    "days_off": "the days off, on Start",
    "prepare": "hours of one person to prepare, on Days",
    "sand": "area one person sands in an hour, on Days",
    "clean": "area one person cleans in an hour, on Days",
    "heat_pass": "minutes of a heat pass, on Days",
    "gap": "minutes before each heat pass, on Days",
    "surface": "temperature of the surface; blank is that of the air",
    "going": "how batches go over the pieces, on Start",
}
ARGUMENTS = (
    *plans.ARGUMENTS[:5],
    Argument("hourly", "rows", "temperatures hour by hour, from midnight", columns=HOURLY),
    Argument("system", "text", "the unit system on the Start sheet"),
    Argument("option", "text", "the option to offer, on Price"),
    *(Argument(name, "measure", _TOLD[name], optional=True) for name in SITE),
    Argument("steps", "rows", "the other steps, on Days", columns=("steps",), optional=True),
)
EXAMPLE = (
    (EXAMPLE_LAYER,),
    (EXAMPLE_DOING,),
    (EXAMPLE_PRODUCT,),
    (EXAMPLE_WORKING,),
    (EXAMPLE_ROOM_SPLIT,),
    ((None,),),
    "metric",
    "A",
    46398.0,
    20.0,
    None,
    None,
    None,
    0.5,
    2.0,
    8.0,
    16.0,
    "Mon-Fri",
    None,
    4.0,
    10.0,
    20.0,
    2.0,
    2.0,
    None,
    "room by room",
    ((None,),),
)
_ENDS = tuple(
    46398 + hours / 24
    for hours in (8, 10, 10 + 8 / 60, 10 + 16 / 60, 18 + 16 / 60, 34 + 8 / 60, 34 + 16 / 60)
)
_REST = tuple(("",) * len(RESULTS) for _ in range(MOST_LINES - 8))
_NO_SPAN = ("",) * (len(SPANS) + len(ON_SITE))
_WHEN = (_ENDS[0], _ENDS[1], "", "", "", "", "")
_PREPARED = ("Prepare", "Prepare, 2027-01-11", *_WHEN, _ENDS[0], _ENDS[3], 2, 20.0)
_FLOODED = (
    *("Flood", "Flood, 2027-01-11", _ENDS[1], _ENDS[3], _ENDS[4], _ENDS[5], _ENDS[6]),
    *(_ENDS[3] + 3, _ENDS[3] + 7, "", "", "", 20.0),
)

PB_DAYS = Function(
    name="PB_DAYS",
    summary="Every step of the option to offer on the calendar, in working hours and in time.",
    arguments=ARGUMENTS,
    result="80 rows in order of time: step, layer, start, end, hours, air, status, note; "
    "in the first 8 the preparation and each layer with its times",
    valid="a start date; steps that each fit a working day; temperatures the products stand",
    source="Arrhenius equivalent age; common practice, no source, for the order of the steps",
    examples=(
        Example(
            EXAMPLE,
            (
                ("prepare", "", _ENDS[0], _ENDS[1], 2.0, "", "ok", "", *_PREPARED),
                (
                    "pour batch 1 of 2",
                    "Flood",
                    _ENDS[1],
                    _ENDS[2],
                    8 / 60,
                    "go",
                    "ok",
                    "",
                    *_FLOODED,
                ),
                (
                    "pour batch 2 of 2",
                    "Flood",
                    _ENDS[2],
                    _ENDS[3],
                    8 / 60,
                    "go",
                    "ok",
                    "",
                    *_NO_SPAN,
                ),
                ("recoat from", "Flood", _ENDS[4], _ENDS[4], "", "", "ok", "", *_NO_SPAN),
                ("recoat until", "Flood", _ENDS[5], _ENDS[5], "", "", "ok", "", *_NO_SPAN),
                ("touch dry", "Flood", _ENDS[6], _ENDS[6], "", "", "ok", "", *_NO_SPAN),
                ("light use", "Flood", _ENDS[3] + 3, _ENDS[3] + 3, "", "", "ok", "", *_NO_SPAN),
                ("full cure", "Flood", _ENDS[3] + 7, _ENDS[3] + 7, "", "", "ok", "", *_NO_SPAN),
                *_REST,
            ),
        ),
    ),
    compute=compute,
    columns=RESULTS,
    rows=MOST_LINES,
)
