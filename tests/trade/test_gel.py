"""Gel point and glass transition: properties and refusals."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.oracles.gel import conversion_at_glass, gel_conversions, glass_transition

from pourbook.errors import InputError


@given(st.floats(2.0, 6.0), st.floats(2.5, 8.0), st.floats(0.9, 1.1))
def test_gel_product_and_ratio(f: float, g: float, ratio: float) -> None:
    epoxy, amine = gel_conversions(f, g, ratio)
    assert epoxy * amine == pytest.approx(1.0 / ((f - 1.0) * (g - 1.0)))
    assert epoxy / amine == pytest.approx(ratio)


@given(st.floats(2.5, 8.0), st.floats(0.0, 5.0))
def test_more_groups_gel_sooner(g: float, more: float) -> None:
    assert gel_conversions(2, g + more)[0] <= gel_conversions(2, g)[0]


@given(st.floats(0.0, 1.0), st.floats(0.0, 1.0), st.floats(0.2, 1.0))
def test_glass_rises_with_cure_and_comes_back(one: float, other: float, shape: float) -> None:
    low, high = sorted([one, other])
    soft, hard = (glass_transition(a, 253.15, 333.15, shape) for a in (low, high))
    assert 253.15 <= soft <= hard <= 333.15 + 1e-9
    assert conversion_at_glass(soft, 253.15, 333.15, shape) == pytest.approx(low, abs=1e-9)


def test_heat_above_the_cured_glass_finishes_the_cure() -> None:
    assert conversion_at_glass(350.0, 253.15, 333.15, 0.45) == 1.0


@pytest.mark.parametrize(
    "call",
    [
        lambda: gel_conversions(2, 2),
        lambda: gel_conversions(1, 4),
        lambda: gel_conversions(2, 4, 0.0),
        lambda: glass_transition(1.1, 253.15, 333.15, 0.5),
        lambda: glass_transition(0.5, 333.15, 253.15, 0.5),
        lambda: glass_transition(0.5, 253.15, 333.15, 0.0),
        lambda: glass_transition(0.5, -20.0, 60.0, 0.5),
        lambda: conversion_at_glass(250.0, 253.15, 333.15, 0.5),
    ],
)
def test_a_mix_that_cannot_be_has_no_gel_point(call: object) -> None:
    assert callable(call)
    with pytest.raises(InputError) as refusal:
        call()
    assert refusal.value.mend
