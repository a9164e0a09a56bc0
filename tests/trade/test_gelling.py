"""When a mass gels: against scipy, against a sealed mass by hand, and against a stated pot life."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from pourbook.trade.cure.gelling import GEL_POINT, gel_time, misses
from pourbook.trade.cure.heat import Bucket
from pourbook.trade.cure.kinetics import Kinetics

R = 8.314462618


@pytest.mark.parametrize("mass", [0.2, 1.0, 6.0])
@pytest.mark.parametrize("warmth", [283.15, 294.26, 305.15])
@pytest.mark.parametrize("a1", [3.3e3, 3.3e4, 1e5])
def test_gel_time_is_scipys(mass: float, warmth: float, a1: float) -> None:
    """The same balance by LSODA, its event at the gel point."""
    mix = Kinetics(a1, 55e3, 100 * a1, 55e3, 1.0, 1.5)
    bucket = Bucket(mass, 0.12, 8.0, 350e3, 1900.0, warmth, warmth)

    def slopes(_: float, now: list[float]) -> list[float]:
        alpha, kelvin = now
        rate = (a1 + 100 * a1 * alpha) * math.exp(-55e3 / R / kelvin) * max(1 - alpha, 0) ** 1.5
        cooled = 8.0 * 0.12 * (kelvin - warmth) / (mass * 1900.0)
        return [rate, 350e3 / 1900.0 * rate - cooled]

    def gels(_: float, now: list[float]) -> float:
        return now[0] - GEL_POINT

    gels.terminal = True  # type: ignore[attr-defined]
    found = solve_ivp(slopes, (0, 9e4), [0.0, warmth], "LSODA", events=gels, rtol=1e-9, atol=1e-10)
    if found.t_events[0].size:
        assert gel_time(mix, bucket, 9e4) == pytest.approx(found.t_events[0][0], rel=5e-3)
    else:
        assert gel_time(mix, bucket, 9e4) is None


@given(st.floats(1e-5, 1e-2), st.floats(0.5, 3.0))
def test_at_one_temperature_it_is_the_closed_form(rate: float, order: float) -> None:
    """dα/dt = k (1-α)^n: t = ((1-α)^(1-n) - 1)/((n-1) k), and -ln(1-α)/k where n is 1."""
    cooled = Bucket(1.0, 0.1, 8.0, 1.0, 2000.0, 298.15, 298.15)  # it warms by 0.0005 K
    near = abs(order - 1) < 1e-3
    left = 1 - GEL_POINT
    by_hand = -math.log(left) if near else (left ** (1 - order) - 1) / (order - 1)
    found = gel_time(Kinetics(rate, 0.0, 0.0, 0.0, 0.0, 1.0 if near else order), cooled, 1e6)
    assert found == pytest.approx(by_hand / rate, rel=5e-3)


def test_a_third_off_is_the_most() -> None:
    assert not misses(3600 * 4 / 3, 3600)
    assert misses(3600 * 1.34, 3600)
    assert not misses(3600 * 2 / 3, 3600)
    assert misses(3600 * 0.66, 3600)
    assert misses(None, 3600)


@given(st.floats(0.05, 8.0), st.floats(1.05, 3.0))
def test_a_heavier_mass_in_the_same_bucket_gels_no_later(mass: float, more: float) -> None:
    mix = Kinetics(3.3e4, 55e3, 3.3e6, 55e3, 1.0, 1.5)

    def gels(kilograms: float) -> float:
        bucket = Bucket(kilograms, 0.1, 8.0, 350e3, 1900.0, 296.15, 296.15)
        return gel_time(mix, bucket, 1e6) or math.inf

    assert gels(mass * more) <= gels(mass) * 1.001


@pytest.mark.parametrize("end", [862.0, 900.0, 5000.0])
def test_a_gel_at_the_end_of_the_watch_is_seen(end: float) -> None:
    """First order at 0.001 a second reaches 0.57735 after -ln(1 - 0.57735) / 0.001 s, 861.2 s."""
    first_order = Kinetics(0.001, 0.0, 0.0, 0.0, 0.0, 1.0)
    held = Bucket(1.0, 0.05, 1e6, 1.0, 2000.0, 298.15, 298.15)
    found = gel_time(first_order, held, end)
    assert found == pytest.approx(-math.log(1 - 1 / math.sqrt(3)) / 0.001, rel=1e-3)
    assert gel_time(first_order, held, 850.0) is None
