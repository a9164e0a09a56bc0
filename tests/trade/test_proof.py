"""Tests of a finished film: scales, limits and what may not be."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pourbook.errors import InputError
from pourbook.trade import proof
from pourbook.trade.proof import TESTS, Limit


@pytest.mark.parametrize("name", [n for n, t in TESTS.items() if t.grades])
def test_grades_run_from_worst_to_best(name: str) -> None:
    test = TESTS[name]
    places = [proof.grade(test, g) for g in test.grades]
    assert places == list(range(len(test.grades)))
    assert [proof.shown(test, p) for p in places] == list(test.grades)
    best = Limit(low=places[-1])
    assert [proof.holds(test, p, best) for p in places] == [False] * (len(places) - 1) + [True]


@pytest.mark.parametrize("typed", ["", "7H", "6", "BB", "hard"])
def test_a_grade_no_pencil_has_is_refused(typed: str) -> None:
    with pytest.raises(InputError, match="6B to 6H"):
        proof.grade(TESTS["pencil hardness"], typed)


@given(st.floats(0, 100), st.floats(0, 100), st.floats(0, 100))
def test_a_limit_holds_its_ends(reading: float, one: float, two: float) -> None:
    low, high = sorted((one, two))
    inside = proof.holds(TESTS["Shore D"], reading, Limit(low, high))
    assert inside == (low <= reading <= high)


@pytest.mark.parametrize("reading", [-1.0, 100.5])
def test_a_reading_off_the_scale_is_refused(reading: float) -> None:
    with pytest.raises(InputError, match="off the scale"):
        proof.holds(TESTS["Shore D"], reading, Limit(75.0))


def test_ends_the_wrong_way_round() -> None:
    with pytest.raises(InputError, match="wrong way round"):
        proof.holds(TESTS["gloss at 60°"], 50.0, Limit(70.0, 35.0))
