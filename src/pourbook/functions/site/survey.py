"""PB_SURVEY: judges moisture and adhesion readings against the limits a product states.

Contract: one result row a reading: the unit of its test as the trade prints it, the verdict, the
reason and a status. No limit is built in: a blank limit is refused. ``wait`` means the surface may
mend by drying, ``don't`` that it has to be prepared again. Beside the first rows stand the gates of
:mod:`.gates`, which have nothing to do with the reading they stand beside.
"""

from __future__ import annotations

import re

from pourbook import units
from pourbook.cells import Rows, Value, choice, number, refuse_errors, text
from pourbook.errors import BlankError, InputError, MisreadError, PourbookError, RangeError
from pourbook.functions.declare import Argument, Example, Function, Result
from pourbook.functions.site import gates
from pourbook.records import dataclass
from pourbook.tables import substrates
from pourbook.tables.declared import Column, declared
from pourbook.tables.rooms import system_of
from pourbook.tables.row_loop import read_each, shown_each
from pourbook.trade import air

TABLE = declared("readings")
COLUMNS, LABELS = TABLE.columns, TABLE.labels
RESULTS = (
    Column("test_unit", "The unit of the test, as the trade prints it"),
    Column("verdict", "go, wait or don't"),
    Column("reason", "Why, in the unit of the test"),
    Column("survey_status", "ok, or what to fix in this row"),
    Column("gate", "What must be answered before the first step on site"),
    Column("gate_state", "ok, or what it waits for"),
)
TESTS = TABLE.choices["test"]
SHEET_TEST, CROSS_CUT, SLAB = "ASTM D4263", "ASTM D3359", "ASTM F2170"
DRY, DAMP = "dry", "damp"
_GRADE = re.compile(r"([0-5])\s*[bB]")
_EMISSION_SI = 1e-9  # 1 µg/(s·m²) in kg/(s·m²)
_MEND = {"wait": ": let it dry and read it again", "don't": ": prepare the surface again"}


@dataclass(frozen=True)
class ReadingUnit:
    """The unit a test is read in: how it is printed, and how many SI units one is."""

    shown: str
    si: float


def unit_of(test: str, system: units.System) -> ReadingUnit:
    """Return the unit a bare reading of a test is in.

    Example:
        >>> unit_of("ASTM D4541", units.SYSTEMS["us"]).shown
        'psi'
        >>> unit_of("ASTM F1869", units.SYSTEMS["metric"]).shown
        'µg/(s·m²)'
    """
    declared = air.SURVEY_TESTS[test]
    if declared.unit == "MPa" and system.fluids:
        return ReadingUnit("psi", units.to_si(1.0, "psi"))
    if declared.si == air.MVER_UNIT and not system.fluids:
        return ReadingUnit("µg/(s·m²)", _EMISSION_SI)
    shown = {SHEET_TEST: f"{DRY} or {DAMP}", CROSS_CUT: "0B to 5B"}
    return ReadingUnit(shown.get(test, declared.unit), declared.si)


def read_measure(value: Value, test: str, label: str, system: units.System) -> float:
    """Return a reading or a limit in SI.

    Args:
        value: A number in the unit of the test, or a text: ``dry``, ``damp``, ``4B``, ``2.5 MPa``.
        test: A name of :data:`pourbook.trade.air.SURVEY_TESTS`.
        label: Its column, for the refusal.
        system: The job's units.

    Returns:
        A fraction, kg/(s·m²), 0 dry or 1 damp, 0 to 5 for 0B to 5B, or Pa.

    Raises:
        InputError: It is blank, or no reading of this test.

    Example:
        >>> read_measure("4B", "ASTM D3359", "Reading", units.SYSTEMS["us"])
        4.0
    """
    typed = text(value)
    if not typed:
        mend = "type the limit the product states" if label == LABELS["limit"] else "type it"
        raise BlankError("it is blank", mend, label)
    if test == SHEET_TEST:
        return float(choice(value, label, (DRY, DAMP)) == DAMP)
    if test == CROSS_CUT:
        grade = _GRADE.fullmatch(typed)
        if grade is None:
            raise MisreadError(f"'{typed}' is no grade of {test}", "type 0B to 5B", label)
        return float(grade[1])
    if test == SLAB:
        return _humidity(value, typed, label)
    unit = unit_of(test, system)
    if unit.shown in {"psi", "MPa"} and any(c.isalpha() for c in typed):
        try:
            return units.read(value, "pressure", default=unit.shown, fluids=system.fluids)
        except PourbookError as error:
            raise error.at(label) from None
    found = number(value, label)
    if found < 0:
        raise RangeError(f"it is {found:g}", f"type it in {unit.shown}", label)
    return found * unit.si


def _humidity(value: Value, typed: str, label: str) -> float:
    """Return the humidity inside a slab as a fraction; a share typed for per cent is refused."""
    bare = typed.removesuffix("RH").rstrip().removesuffix("%").rstrip()
    percent = number(value if bare == typed else bare, label)
    if 0 < percent <= 1:
        mend = f"type {percent * 100:g} for {percent * 100:g} % RH"
        raise InputError(f"{typed} may be a share or per cent", mend, label)
    if not 0 <= percent <= 100:
        raise RangeError(f"it is {percent:g} % RH", "type 0 to 100", label)
    return percent / 100


@dataclass(frozen=True)
class SurveyReading:
    """What a test of the old surface read, and its limit, each as :func:`read_measure` gives."""

    test: str
    reading: float
    limit: float
    room: str


def read_reading(row: dict[str, Value], system: units.System) -> SurveyReading:
    """Read one row of the readings.

    Raises:
        InputError: The test is unknown, or reading or limit cannot be; the place is the column.
    """
    refuse_errors(row, LABELS)
    test = _test(row["test"])
    reading = read_measure(row["reading"], test, LABELS["reading"], system)
    limit = read_measure(row["limit"], test, LABELS["limit"], system)
    return SurveyReading(test, reading, limit, text(row["read_room"]))


def _test(value: Value) -> str:
    """Return the designation of a test; its number alone will do, as in jobs of templates 1."""
    typed = text(value).casefold()
    known = (test for test in TESTS if typed and test.casefold().endswith(f"({typed})"))
    return choice(next(known, value), LABELS["test"], TESTS).rpartition("(")[2].rstrip(")")


def judge(read: SurveyReading, system: units.System) -> list[Value]:
    """Judge one reading: unit, verdict and reason.

    Raises:
        InputError: Reading or limit is none of its test; the place is the column.
    """
    test, reading, limit = read.test, read.reading, read.limit
    try:
        state = air.judge_survey(test, reading, limit).state
    except PourbookError as error:
        raise error.at(error.where or LABELS["limit"]) from None
    unit = unit_of(test, system)
    title = air.SURVEY_TESTS[test].title.partition(",")[0]
    if test == SHEET_TEST:
        why = f"{title} is {(DRY, DAMP)[int(reading)]}"
    else:
        ending = "B" if test == CROSS_CUT else f" {unit.shown}"
        sense = {"go": air.SURVEY_TESTS[test].sense, "wait": "more than", "don't": "less than"}
        why = (
            f"{title} is {reading / unit.si:.4g}{ending},"
            f" {sense[state]} {limit / unit.si:.4g}{ending}"
        )
    return [unit.shown, state, why + _MEND.get(state, "")]


def compute(readings: Rows, system_name: str, survey_rows: Rows = (), answers: Rows = ()) -> Result:
    """Return the result rows of PB_SURVEY."""
    system = system_of(system_name)
    read = read_each(readings, COLUMNS, lambda _, row: read_reading(row, system))
    there = substrates.surveyed(survey_rows, system)
    found = shown_each(read, len(RESULTS) - 2, lambda one: judge(one, system))
    judged = [
        gates.Judged(one.room, air.SURVEY_TESTS[one.test].sense == "at most", row[1] == "go")
        for one, row in zip(read, found, strict=True)
        if isinstance(one, SurveyReading)
    ]
    told = gates.told(there, answers, judged) if answers else []
    return [[*row, *(told[at] if at < len(told) else ("", ""))] for at, row in enumerate(found)]


PB_SURVEY = Function(
    name="PB_SURVEY",
    summary="Judges readings of moisture and adhesion against the limits a product states.",
    arguments=(
        Argument("readings", "rows", "the entry columns of the table of readings", columns=COLUMNS),
        Argument("system", "text", "the unit system on the Start sheet"),
        Argument(
            "survey",
            "rows",
            "the entry columns of the first table of Survey",
            columns=substrates.COLUMNS,
            optional=True,
        ),
        Argument(
            "answers",
            "rows",
            "what Survey says is answered before anything is touched",
            columns=gates.COLUMNS,
            optional=True,
        ),
    ),
    result="one row a reading: unit, go, wait or don't, the reason, and a status; beside the first "
    "rows each gate and what it waits for",
    valid="the tests of the list; readings and limits of 0 and more, each test in its own unit",
    source="a plain comparison; titles and scales of the tests from memory, no limit is built in",
    examples=(
        Example(
            ((("Bath", "ASTM F2170", 78.0, 75.0, None),), "us"),
            (
                (
                    "% RH",
                    "wait",
                    "humidity inside the slab at depth is 78 % RH, more than 75 % RH:"
                    " let it dry and read it again",
                    "ok",
                    "",
                    "",
                ),
            ),
        ),
        Example(
            ((("Bar", "ASTM D3359", "5B", "4B", None),), "us"),
            (("0B to 5B", "go", "cross-cut adhesion is 5B, at least 4B", "ok", "", ""),),
        ),
    ),
    compute=compute,
    columns=RESULTS,
)
