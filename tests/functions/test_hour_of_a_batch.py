"""Mix cards at the temperature of their hour: two times, and a batch its hour is too warm for.

By hand: 40 min at 20 degC by the data sheet, 55 kJ/mol; at 30 degC the mix reacts exp(55000 / 8.314
x (1/293.15 - 1/303.15)) = 2.105 times as fast, and a bucket that heats itself is cut once more by
1.6 (an assumption of ours, see trade/cure/heat.py): 11.9 min, 70 % of it 8.3 min. A batch takes
2 min of mixing and 6 min for 1 m² at 10 m²/h.
"""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.constants import R

from pourbook.cells import Rows, Value
from pourbook.functions.batch import batches
from pourbook.functions.catalogue import catalogue, evaluate
from pourbook.functions.days import calendar


def _rows(warmth: Rows) -> list[dict[str, Value]]:
    days = [[*[""] * (len(batches.DAYS) - 1), cell] for (cell,) in warmth]
    found = evaluate("PB_BATCHES", [*batches.EXAMPLE_ARGUMENTS, [], days])
    assert isinstance(found, list)
    names = [column.id for column in catalogue()["PB_BATCHES"].columns]
    return [dict(zip(names, row, strict=True)) for row in found]


def test_times_are_those_of_the_hour() -> None:
    faster = math.exp(55000.0 / R * (1 / 293.15 - 1 / 303.15))
    assert faster == pytest.approx(2.105, abs=2e-3)
    warm, usual = _rows([[30.0], [""]])[:2]
    assert warm["use_by"] == pytest.approx(40 / faster / 1.6, rel=1e-3)
    assert "out of the bucket by 8, worked by 11 min" in str(warm["spread"])
    assert usual["use_by"] == 40.0
    assert "out of the bucket by 28, worked by 40 min" in str(usual["spread"])
    assert warm["status"] == usual["status"] == "ok"


def test_hour_too_warm_for_its_batch_is_told() -> None:
    """At 37 degC 3.43 times as fast: 7.3 min are left, 70 % of it 5.1 min; the batch takes 8."""
    status = str(_rows([[37.0], [20.0]])[0]["status"])
    assert status.startswith(
        "CHECK: Batch: at 37.0 °C of its hour it is out of the bucket by 5 min"
    )
    assert "takes 8" in status
    assert "Day temperature on Start" in status


@given(cold=st.floats(10, 30), more=st.floats(0, 15))
def test_warmer_hour_never_lives_longer(cold: float, more: float) -> None:
    cooler, warmer = (_rows([[kelvin]])[0]["use_by"] for kelvin in (cold, cold + more))
    assert isinstance(cooler, float)
    assert isinstance(warmer, float)
    assert warmer <= cooler + 1e-9


def test_calendar_gives_the_hour_of_each_batch() -> None:
    """The batches go on at 10:00 and 10:08; it is 26 degC from 10 to 11 that day."""
    arguments: list[Value | Rows] = [*calendar.EXAMPLE]
    arguments[5] = [[None]] * 10 + [[26.0], [31.0]]
    found = evaluate("PB_DAYS", arguments)
    assert isinstance(found, list)
    assert [row[-1] for row in found[:3]] == pytest.approx([26.0, 26.0, ""])


def test_calendar_that_is_refused_leaves_the_day() -> None:
    rows = _rows([["!"], [""]])
    assert [row["use_by"] for row in rows[:2]] == [40.0, 40.0]
    bad = [[*[""] * (len(batches.DAYS) - 1), "! Days: fix it"]]
    said = evaluate("PB_BATCHES", [*batches.EXAMPLE_ARGUMENTS, [], bad])
    assert str(said).startswith("! ")
