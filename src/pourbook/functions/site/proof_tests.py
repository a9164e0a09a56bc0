"""PB_PROOF: whether a test of a sample board or a finished top holds, and whether it was too early.

Contract: one result row a test. The age of the coating is its equivalent age: the time at the
temperature its cure is stated for, worked out from the temperature it was kept at or, where that is
blank, from the site's. A reading taken before the stage of cure its test needs proves nothing, good
or bad: the verdict is ``too early``, with the day it may be made. A film is held against what the
layers of its product are planned to leave in the option to offer, or more where that is agreed.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping

from pourbook import dates, units
from pourbook.cells import (
    OK,
    Rows,
    Value,
    as_mapping,
    choice,
    is_blank,
    number,
    refuse_errors,
    text,
)
from pourbook.dates import DAY
from pourbook.errors import BlankError, InputError, MisreadError, PourbookError
from pourbook.functions.batch.plans import EXAMPLE_WORKING
from pourbook.functions.declare import Argument, Example, Function, Result
from pourbook.functions.mix import amounts
from pourbook.records import dataclass
from pourbook.tables import site as site_cells
from pourbook.tables import works as working_table
from pourbook.tables.declared import Column, declared
from pourbook.tables.rooms import system_of
from pourbook.tables.row_loop import read_each, shown_each
from pourbook.tables.works import Working
from pourbook.trade import acceptance, proof
from pourbook.trade.cure import history
from pourbook.trade.cure.history import Temperatures
from pourbook.trade.proof import Limit, ProofTest

TABLE = declared("tests")
COLUMNS, LABELS = TABLE.columns, TABLE.labels
RESULTS = (
    Column("proved", "The test, and what it was made with"),
    Column("proof_panel", "What was tested, and where"),
    Column("method", "The standard the test goes by"),
    Column("found", "The reading, with its unit"),
    Column("agreed", "The limit agreed, with its unit"),
    Column("tested_on", "The day of the test"),
    Column("age", "Equivalent age at the test, in days at the temperature the cure is stated for"),
    Column("proof_verdict", "holds, fails or too early"),
    Column("proof_reason", "Why it is so"),
    Column("proof_status", "ok, or what to fix in this row"),
)
_AMOUNTS = tuple(column.id for column in amounts.RESULTS)
HOLDS, FAILS, EARLY = "holds", "fails", "too early"
_AT_LEAST, _AT_MOST = "at least", "at most"
_SENSE = re.compile(r"(at least|at most|>=|<=|≥|≤)\s*", re.IGNORECASE)
_RANGE = re.compile(r"\s+to\s+|\s*–\s*|(?<=\d)\s*-\s*(?=\d)", re.IGNORECASE)


@dataclass(frozen=True)
class _Air:
    """Temperatures on site from midnight of the first day, whose date and time is ``start``."""

    start: float
    temperatures: Temperatures


def _unit(test: ProofTest, system: units.System) -> str:
    """Return the unit a bare number of a test is in."""
    if test.unit == "energy":
        return "in-lb" if system.fluids else "J"
    return system.film if test.unit == "film" else test.unit


def _measured(test: ProofTest, typed: str, label: str, system: units.System) -> float:
    """Return one reading: a place in the scale, SI for an energy or a film, else a plain number."""
    try:
        if test.grades:
            return proof.grade(test, typed)
        if test.unit in {"energy", "film"}:
            unit = _unit(test, system)
            return units.read(typed, test.unit, default=unit, fluids=system.fluids)
    except PourbookError as error:
        raise error.at(label) from None
    return number(typed.removesuffix(test.unit).strip(), label)


def _limit(test: ProofTest, value: Value, system: units.System) -> tuple[Limit, str]:
    """Return what was agreed, and how to print it: a bare limit is the least.

    Raises:
        InputError: It is blank, or none of this test.
    """
    label, typed = LABELS["limit"], text(value)
    if not typed:
        raise BlankError("it is blank", "type what was agreed with the client", label)
    sense = _SENSE.match(typed)
    words = sense[1].casefold() if sense else _AT_LEAST
    bare = typed[sense.end() :] if sense else typed
    ends = [bare] if test.grades else [e for e in _RANGE.split(bare) if e.strip()]
    found = [_measured(test, end.strip(), label, system) for end in ends]
    unit = "" if test.grades else f" {_unit(test, system)}" if _bare(bare) else ""
    if len(found) == 2 and found[0] > found[1]:
        raise InputError("its ends are the wrong way round", "type the smaller one first", label)
    if len(found) == 2:
        return Limit(*found), f"{bare}{unit}"
    if len(found) != 1:
        raise MisreadError(f"'{typed}' is no limit", "type 75, at most 10, or 35 to 70", label)
    if words in {_AT_MOST, "<=", "≤"}:
        return Limit(high=found[0]), f"{_AT_MOST} {bare}{unit}"
    return Limit(low=found[0]), f"{_AT_LEAST} {bare}{unit}"


def _bare(typed: str) -> bool:
    return not any(c.isalpha() for c in _RANGE.sub("", typed))


def _film_limit(
    test: ProofTest, value: Value, planned: float, system: units.System
) -> tuple[Limit, str]:
    """Return the limit of a film: what its layers are planned to leave, or what is agreed above."""
    shown = f"at least {units.express(planned, system.film):.3g} {system.film}, as planned"
    if is_blank(value):
        return Limit(low=planned), shown
    agreed, said = _limit(test, value, system)
    if agreed.low >= planned or not math.isfinite(agreed.low):
        return agreed, said
    return Limit(planned, agreed.high), shown


def _judged(
    test: ProofTest, row: dict[str, Value], system: units.System, planned: float | None
) -> tuple[str, str, bool, str]:
    """Return reading and limit as printed, whether it holds, and why."""
    typed = text(row["reading"])
    if not typed:
        raise BlankError("it is blank", "type what was read", LABELS["reading"])
    if test.unit == "film" and planned is not None:
        limit, agreed = _film_limit(test, row["limit"], planned, system)
    else:
        limit, agreed = _limit(test, row["limit"], system)
    unit = "" if test.grades or not _bare(typed) else f" {_unit(test, system)}"
    if test.unit == "film":
        listed = [p.strip() for p in typed.split(";") if p.strip()]
        films = [_measured(test, p, LABELS["reading"], system) for p in listed]
        if not math.isfinite(limit.low):
            raise InputError("it has no least film", "type the film asked for", LABELS["limit"])
        most = limit.high if math.isfinite(limit.high) else None
        judged = acceptance.judge_films(films, limit.low, most=most)
        ends = (units.express(film, system.film) for film in (judged.least, judged.most))
        thin, thick = (f"{end:.3g}" for end in ends)
        found = f"{len(films)} read, {thin} to {thick} {system.film}"
        return found, agreed, judged.accepted, judged.reason
    reading = _measured(test, typed, LABELS["reading"], system)
    try:
        good = proof.holds(test, reading, limit)
    except PourbookError as error:
        raise error.at(LABELS["reading"]) from None
    shown = test.method == proof.DEMONSTRATION
    why = "shown in the shop: no standard test, it measures nothing" if shown else ""
    if test.unit == proof.GLOSS and proof.better_angle(reading) != 60:
        why = f"read it at {proof.better_angle(reading)}° too: 60° tells little here"
    return f"{typed}{unit}", agreed, good, why


def _moment(value: Value, label: str) -> float:
    """Return a day and time as a spreadsheet counts them."""
    return dates.serial(dates.read_moment(value, label))


@dataclass(frozen=True)
class ProofRow:
    """A test as it was made; moments are days of the spreadsheet, ``kept_at`` in K if it was typed.

    ``needed`` is the age at ``reference``, K, that its stage takes, s.
    """

    test: ProofTest
    name: str
    panel: str
    found: str
    agreed: str
    holds: bool
    why: str
    coated: float
    tested: float
    needed: float
    reference: float
    energy: float
    kept_at: float | None


def _planned_films(rows: Rows, option: str, system: units.System) -> dict[str, float]:
    """Return the dry film that the layers of each product leave in an option, m."""
    found: dict[str, float] = {}
    for cells in rows:
        row = as_mapping(cells, _AMOUNTS)
        if text(row["option"]).casefold() != option.casefold() or row["status"] != OK:
            continue
        name = text(row["product"]).casefold()
        dry = units.to_si(number(row["dry"], "Dry film"), system.film)
        found[name] = found.get(name, 0.0) + dry
    return found


def read_proof(
    row: dict[str, Value],
    known: Mapping[str, Working | PourbookError],
    system: units.System,
    planned: Mapping[str, float],
) -> ProofRow:
    """Read one row of the tests.

    Args:
        row: Its cells.
        known: How each product works.
        system: The job's units.
        planned: The dry film that the layers of a product are planned to leave, m, by its name in
            small letters.

    Raises:
        InputError: A cell is missing or cannot be, or a figure of the product is missing.
    """
    refuse_errors(row, LABELS)
    test = proof.TESTS[choice(row["test"], LABELS["test"], tuple(proof.TESTS))]
    if is_blank(row["product"]):
        raise BlankError("it is blank", "choose the coating on top", LABELS["product"])
    try:
        how = working_table.find(known, text(row["product"]), LABELS["product"])
    except PourbookError as error:
        raise error.at(LABELS["product"]) from None
    film = planned.get(text(row["product"]).casefold())
    found, agreed, good, why = _judged(test, row, system, film)
    coated, tested = (_moment(row[n], LABELS[n]) for n in ("coated", "tested"))
    if tested <= coated:
        what = "it was tested before it was coated"
        raise InputError(what, "correct day or time", LABELS["tested"])
    stage = "touch" if test.from_stage == "touch dry" else "full"
    needed = how.touch if stage == "touch" else how.full
    if needed is None or how.cure_temp is None:
        missing = working_table.LABELS[stage if needed is None else "cure_temp"]
        mend = "type it on Products, from the data sheet"
        raise BlankError(f"{missing} of {how.name} is blank", mend, LABELS["product"])
    kept_at = None
    if not is_blank(row["kept_at"]):
        kept_at = units.to_si(number(row["kept_at"], LABELS["kept_at"]), system.temperature)
    return ProofRow(
        test=test,
        name=test.name if is_blank(row["with"]) else f"{test.name}: {text(row['with'])}",
        panel="; ".join(text(row[n]) for n in ("panel", "place") if not is_blank(row[n])),
        found=found,
        agreed=agreed,
        holds=good,
        why=why,
        coated=coated,
        tested=tested,
        needed=needed,
        reference=how.cure_temp,
        energy=how.energy_at(how.cure_temp),
        kept_at=kept_at,
    )


def _age(read: ProofRow, air: _Air | None) -> tuple[float, float]:
    """Return the age at the test, s, and when it gets as old as it must, as a spreadsheet counts.

    Raises:
        InputError: It was coated before the work starts, and how warm it was kept is not said.
    """
    if read.kept_at is not None:
        begin, temperatures = read.coated, Temperatures.constant(read.kept_at)
    elif air is None or read.coated < air.start:
        mend = "type the temperature it was kept at"
        raise InputError("it was coated before the work starts", mend, LABELS["kept_at"])
    else:
        begin, temperatures = air.start, air.temperatures
    start, end = ((moment - begin) * DAY for moment in (read.coated, read.tested))
    age = history.age_between(temperatures, start, end, read.energy, read.reference)
    ready = history.time_to_age(temperatures, start, read.needed, read.energy, read.reference)
    return age, begin + ready / DAY


def _from(ready: float) -> str:
    """Return when a test may be made, in words."""
    if ready > dates.LAST_DAY:
        return "so cold it takes years"
    return f"test it from {dates.from_serial(ready):%Y-%m-%d %H:%M}"


def judge(read: ProofRow, air: _Air | None) -> list[Value]:
    """Return the result row of one test, without its status.

    Raises:
        InputError: How warm it was kept is not known.
    """
    age, ready = _age(read, air)
    verdict, why = HOLDS if read.holds else FAILS, read.why
    if age < read.needed:
        verdict = EARLY
        why = f"{read.test.from_stage} needs {read.needed / DAY:.3g} days of age: {_from(ready)}"
    shown = [read.name, read.panel, read.test.method, read.found, read.agreed]
    return [*shown, math.floor(read.tested), age / DAY, verdict, why]


def compute(
    tests: Rows,
    working: Rows,
    hourly: Rows,
    system_name: str,
    start: Value = None,
    temperature: Value = None,
    night: Value = None,
    day_from: Value = None,
    day_to: Value = None,
    amount_rows: Rows = (),
    option: Value = None,
) -> Result:
    """Return the result rows of PB_PROOF."""
    system = system_of(system_name)
    for hour, cells_of_hour in enumerate(hourly, start=1):
        (cell,) = as_mapping(cells_of_hour, ("temperature",)).values()
        if not is_blank(cell):
            number(cell, f"Temperature of hour {hour}")
    known = working_table.working_by_name(working, system)
    planned = _planned_films(amount_rows, text(option), system)
    cells: dict[str, Value] = {
        "start": start,
        "temperature": temperature,
        "night": night,
        "day_from": day_from,
        "day_to": day_to,
        "crew": 1.0,
        "work_from": 0.0,
        "work_to": 24.0,
        "weekdays": "every day",
    }
    air: _Air | None = None
    refused: PourbookError | None = None
    if not is_blank(start):
        try:
            where = site_cells.read_site({**dict.fromkeys(_UNUSED), **cells}, system)
            temperatures = site_cells.read_history(hourly, where, system)
            air = _Air(dates.serial(where.start), temperatures)
        except PourbookError as error:
            refused = error.let_go()

    def judged(_: int, row: dict[str, Value]) -> list[Value]:
        if refused is not None and is_blank(row["kept_at"]):
            raise refused.again()
        return judge(read_proof(row, known, system, planned), air)

    return shown_each(read_each(tests, COLUMNS, judged), len(RESULTS), list)


_UNUSED = ("humidity", "surface", "days_off")
_EXAMPLE = ("sample board", "", "Clear", "Shore D", None, 46400.0, 46410.0, 20.0, 78.0, 75.0)

PB_PROOF = Function(
    name="PB_PROOF",
    summary="Whether tests of a sample board or a finished top hold, or were made too early.",
    arguments=(
        Argument("tests", "rows", "the entry columns of the tests", columns=COLUMNS),
        Argument("working", "rows", "the Working and curing table", columns=working_table.COLUMNS),
        Argument("hourly", "rows", "the temperatures of Hours", columns=("temperature",)),
        Argument("system", "text", "the unit system on the Start sheet"),
        Argument("start", "measure", "the day the work starts", optional=True),
        Argument("temperature", "measure", "day temperature", optional=True),
        Argument("night", "measure", "night temperature", optional=True),
        Argument("day_from", "measure", "hour the day temperature begins", optional=True),
        Argument("day_to", "measure", "hour it ends", optional=True),
        Argument("amounts", "rows", "the results of PB_AMOUNTS", columns=_AMOUNTS, optional=True),
        Argument("option", "text", "the option to offer, on Price", optional=True),
    ),
    result="one row a test: what, method, reading, limit, age, verdict, reason and a status",
    valid="the tests of the list; readings on their scales; tested after it was coated",
    source="scales: ASTM, ISO and EN standards as the trade module says; age: Arrhenius",
    examples=(
        Example(
            ((_EXAMPLE,), (EXAMPLE_WORKING,), ((None,),), "metric"),
            (
                (
                    "Shore D",
                    "sample board",
                    "ASTM D2240",
                    "78 Shore D",
                    "at least 75 Shore D",
                    46410.0,
                    10.0,
                    "holds",
                    "",
                    "ok",
                ),
            ),
        ),
    ),
    compute=compute,
    columns=RESULTS,
)
