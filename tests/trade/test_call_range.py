"""The range of a quote: Student's t against scipy, and how often simulated quotes lie in it."""

from __future__ import annotations

import math
import random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import t

from pourbook.errors import InputError
from pourbook.trade.learning import Prior, learn
from pourbook.trade.price.call_range import quote_range, student_within


@settings(max_examples=30, deadline=None)
@given(st.floats(0.01, 0.99), st.floats(1.0, 60.0))
def test_student_is_that_of_scipy(chance: float, freedom: float) -> None:
    expected = float(t.ppf((1 + chance) / 2, freedom))
    assert student_within(chance, freedom) == pytest.approx(expected, rel=1e-5, abs=1e-6)


def test_simulated_quotes_lie_in_it_as_often_as_it_says() -> None:
    """Shops whose quotes scatter 15 % about 1.1 times the call, 30 quotes each."""
    dice, held, shops = random.Random(13), 0, 1500
    for _ in range(shops):
        *known, following = (1.1 * math.exp(dice.gauss(0.0, 0.15)) for _ in range(31))
        low, high = quote_range(1.0, learn("price", known, Prior(1.0, 0.15)), 0.8)
        held += low <= following <= high
    assert abs(held / shops - 0.8) < 3 * math.sqrt(0.8 * 0.2 / shops)


@pytest.mark.parametrize("chance", [0.0, 1.0, math.nan])
def test_no_chance_that_is_none(chance: float) -> None:
    with pytest.raises(InputError):
        quote_range(1000.0, learn("price", [], Prior(1.0, 0.1)), chance)
