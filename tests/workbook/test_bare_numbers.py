"""A bare number means the unit of its column: held by taking whole jobs from one system to another.

Every number typed into a US job is turned into the unit that the metric templates name at the same
place, by factors of their own (NIST SP 811, appendix B.8, from memory; all but the gallon's are
exact by definition). All that functions and formulas then give has to be the same, in the units the
templates name at the results. A column whose heading names another unit than is read, in either
system, is found by it. Units that both systems share (minutes, hours, shares) are not told apart:
those that may be written out are written out.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from functools import cache

import pytest
from tests.agreement import jobs
from tests.agreement.pipeline import Pipeline

from pourbook.cells import CHECK, OK, Value
from pourbook.workbook.layout.laid_out import Layout
from pourbook.workbook.layout.lay_out import lay_out

US, METRIC = (lay_out("job", name, jobs.PIECES) for name in ("us", "metric"))
Key = tuple[str, str]
Entries = Mapping[tuple[str, str, int], object]
GALLON, FOOT, INCH, POUND = 3.785411784, 0.3048, 25.4, 0.45359237
OUNCE = GALLON * 1000 / 128
FACTORS = {
    ("US gal", "L"): GALLON,
    ("US fl oz", "mL"): OUNCE,
    ("ft²", "m²"): FOOT**2,
    ("ft", "m"): FOOT,
    ("in", "mm"): INCH,
    ("mil", "mm"): INCH / 1000,
    ("lb", "kg"): POUND,
    ("lb/US gal", "kg/L"): POUND / GALLON,
    ("US fl oz/ft²", "mL/m²"): OUNCE / FOOT**2,
    ("US fl oz/ft", "mL/m"): OUNCE / FOOT,
    ("ft²/h", "m²/h"): FOOT**2,
    ("min/ft²", "min/m²"): 1 / FOOT**2,
    ("@money/ft²", "@money/m²"): 1 / FOOT**2,
    ("@money/US gal", "@money/L"): 1 / GALLON,
}
WARMTH = ("°F", "°C")
BETWEEN = {
    *[("cases", "warmer"), ("working", "margin"), ("used", "above_dew"), ("onsite", "dew_margin")],
    ("readings", "onsite_dew_margin"),
}
"""Differences of temperatures."""
BY_AREA = {("labour", "hours"): "per", ("sundries", "quantity"): "item_per"}
"""Numbers that stand for one square foot or one foot where their row goes by an area or a run."""
BY_ROW = {"add_need_a", "add_need_b", "add_need_c", "now"}
"""Columns whose unit stands in their row; the ends of their names, for they are repeated."""
_DAMP = {("site", "humidity"): 0.8, ("site", "temperature"): 78.0, ("site", "night"): 78.0}
NEAR: dict[Key, dict[Key, object]] = {
    ("pace", "surface"): {("site", "humidity"): 0.5, ("pace", "surface"): 20.0},
    ("working", "margin"): {**_DAMP, ("pace", "surface"): None, ("working", "margin"): 5.0},
    ("products", "warmest"): {("site", "temperature"): 96.0, ("products", "warmest"): 86.0},
}
"""Limits that bind in no random job, and what is typed so that they do."""
ECHOES = {("shop_list", "list_contents")}
"""Columns that show what was typed."""
SEEDS = tuple(seed for seed in range(1, 25) if jobs.system_of(seed) == "us")
NOT_TYPED = {
    *[("additives", "left"), ("cases", "bucket"), ("cases", "warmer"), ("rooms", "d")],
    *[("doing", "most_area"), ("finish_layers", "most_area"), ("kinetics", "hottest")],
    *[("layers", "edge_loss"), ("finish_layers", "edge_loss"), ("layers", "take_up")],
    *[("finish_layers", "take_up"), ("layers", "spread"), ("finish_layers", "spread")],
    *[("log", "spread_over"), ("products", "vertical"), ("survey", "soak"), ("rooms", "under")],
    *[("working", "thickest"), ("working", "thinnest"), ("rooms", "cutouts")],
    *[("products", "density_a"), ("products", "density_b"), ("products", "density_c")],
}
"""Entries the random jobs leave blank or write with a unit of its own."""


def _units(plan: Layout) -> dict[Key, str]:
    return {(c.block, c.field.id): plan.unit(c.field.unit) for c in plan.cells if c.field}


_IN_METRIC = _units(METRIC)
UNITS = {
    key: (unit, _IN_METRIC[key]) for key, unit in _units(US).items() if unit != _IN_METRIC[key]
}
"""What differs between the systems: the unit in each."""


def as_metric(key: Key, number: float) -> float:
    if UNITS[key] == WARMTH:
        return number / 1.8 if key in BETWEEN else (number - 32) / 1.8
    return number * FACTORS[UNITS[key]]


def in_words(key: Key, typed: str) -> str:
    """Return a text with its units written out, so that it means the same in every system."""
    if key == ("rooms", "a") and ";" in typed:  # the corners of a polygon
        return re.sub(r"\d+(\.\d+)?", lambda m: repr(float(m[0]) * INCH), typed)
    if "notch" in typed:
        return re.sub(r"(\d+/\d+)(?! ?(in|mm))", r"\1 in", typed)
    if key in UNITS and not re.search(r"[A-Za-zµ'\"%]", typed):
        typed = f"{typed} {UNITS[key][0]}"
    return re.sub(r"(?<!US )\b(gal|fl oz)\b", r"US \1", typed)


def twin(entries: Entries, but: Key | None = None) -> dict[tuple[str, str, int], object]:
    """Return the entries of the same job in metric units, one column left as it was."""
    found: dict[tuple[str, str, int], object] = {}
    for (block, name, row), typed in entries.items():
        key, value = (block, name), typed
        is_number = isinstance(typed, int | float) and not isinstance(typed, bool)
        if is_number and key in BY_AREA and key != but:
            per = str(entries.get((block, BY_AREA[key], row)))
            size = FOOT**2 if "area" in per else FOOT if per == "edge run" else 1.0
            value = float(typed) / size  # type: ignore[arg-type]
        elif key == ("rooms", "a") and entries.get(("rooms", "shape", row)) == "area given":
            value = float(typed) * FOOT**2 if is_number else typed  # type: ignore[arg-type]
        elif is_number and key in UNITS and key != but:
            value = as_metric(key, float(typed))  # type: ignore[arg-type]
        elif isinstance(typed, str):
            value = in_words(key, typed)
        found[block, name, row] = value
    return found


@cache
def sample(seed: int) -> dict[tuple[str, str, int], object]:
    """Return the entries of a random US job; its cutouts are texts of bare sizes and left out."""
    return {key: one for key, one in jobs.make(seed).entries.items() if key[1] != "cutouts"}


@cache
def given(seed: int) -> dict[tuple[str, str, int], Value]:
    return outcome(Pipeline(US, sample(seed)))


def outcome(job: Pipeline) -> dict[tuple[str, str, int], Value]:
    cells = [c for c in US.cells if c.field and (c.fill or c.formula) and job.covers(c)]
    return {
        (c.block, c.field.id, c.index): job.get(c.block, c.field.id, c.index)
        for c in cells
        if c.field
    }


def apart(us: Mapping[tuple[str, str, int], Value], entries: Entries) -> list[str]:
    """Return the results of a metric job that are not those of the US job."""
    other = outcome(Pipeline(METRIC, entries))
    found = []
    for (block, name, row), value in us.items():
        key, metric = (block, name), other[block, name, row]
        if name.endswith(tuple(BY_ROW)):
            continue
        if isinstance(value, float) and isinstance(metric, float):
            should = as_metric(key, value) if key in UNITS else value
            if not math.isclose(should, metric, rel_tol=1e-6, abs_tol=1e-8):
                found.append(f"{block}.{name} {row}: {should} and {metric}")
        elif _word(value) != _word(metric):
            found.append(f"{block}.{name} {row}: {value!r} and {metric!r}")
    return found


def _word(value: Value) -> str:
    """Return what kind of answer a cell gives: a number, a refusal, a check that fails, a text."""
    if not isinstance(value, str):
        return "number" if isinstance(value, float) else "nothing"
    return next((mark for mark in ("!", CHECK, OK) if value.startswith(mark)), "text")


@pytest.mark.parametrize("seed", SEEDS)
def test_a_job_gives_the_same_in_either_system(seed: int) -> None:
    assert sum(isinstance(value, float) for value in given(seed).values()) > 300
    assert apart(given(seed), twin(sample(seed))) == []


def test_every_unit_that_differs_is_known_here() -> None:
    assert {*UNITS.values()} == {*FACTORS, WARMTH}


def _typed() -> dict[Key, int]:
    """Return the columns in which a number is typed, each with a job that types one."""
    typed = {(c.block, c.field.id) for c in US.entries if c.field}
    columns = UNITS.keys() & typed | BY_AREA.keys()
    return {
        (block, name): seed
        for seed in reversed(SEEDS)
        for (block, name, _), value in sample(seed).items()
        if (block, name) in columns and isinstance(value, int | float)
    }


def test_the_columns_left_out_are_known() -> None:
    entries = {(c.block, c.field.id) for c in US.entries if c.field}
    assert (UNITS.keys() & entries) - _typed().keys() == NOT_TYPED


@pytest.mark.in_turn(2)
@pytest.mark.parametrize("key", sorted(_typed()), ids=".".join)
def test_a_column_read_in_the_other_unit_is_found(key: Key) -> None:
    for seed in SEEDS:
        entries = {**sample(seed)}
        if key in NEAR:
            entries |= {(*k, 0): v for k, v in NEAR[key].items() if k[0] in {"site", "pace"}}
            entries = {k: NEAR[key].get(k[:2], v) for k, v in entries.items()}
        typed = any(k[:2] == key and isinstance(v, int | float) for k, v in entries.items())
        us = outcome(Pipeline(US, entries)) if key in NEAR else given(seed)
        if typed and apart(us, twin(entries, but=key)):
            return
    pytest.fail(f"{key} may be read in either unit, and nothing differs")


@pytest.mark.parametrize("seed", SEEDS)
def test_a_number_is_the_same_with_its_unit_written_out(seed: int) -> None:
    fields = {(c.block, c.field.id): c.field for c in US.entries if c.field}
    units = _units(US)
    written = {}
    for (block, name, row), value in sample(seed).items():
        key = (block, name)
        bare = isinstance(value, int | float) and key in fields and fields[key].kind == "measure"
        given_area = key == ("rooms", "a") and sample(seed).get(("rooms", "shape", row))
        unit = "ft²" if given_area == "area given" else units.get(key, "")
        is_unit = unit and " " not in unit.removeprefix("US ").removeprefix("fl ")
        written[block, name, row] = f"{value!r} {unit}" if bare and is_unit else value
    assert sum(isinstance(v, str) for v in written.values()) > sum(
        isinstance(v, str) for v in sample(seed).values()
    )
    other = outcome(Pipeline(US, written))
    results = {key: value for key, value in given(seed).items() if key[:2] not in ECHOES}
    differ = [key for key, value in results.items() if not _close(value, other[key])]
    assert differ == []


def _close(one: Value, two: Value) -> bool:
    if isinstance(one, float) and isinstance(two, float):
        return math.isclose(one, two, rel_tol=1e-9, abs_tol=1e-9)
    return type(one) is type(two)
