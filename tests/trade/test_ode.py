"""The integrator of cures: the embedded pair of Dormand and Prince, held against scipy's own.

Dormand and Prince (1980), "A family of embedded Runge-Kutta formulae": the coefficients are read
from scipy, which has them as attributes of ``scipy.integrate.RK45``.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.integrate import RK45, solve_ivp

from pourbook.errors import InputError
from pourbook.trade.cure import ode
from pourbook.trade.cure.ode import Knot, between, crossing, integrate


def test_the_coefficients_are_those_of_the_pair() -> None:
    assert np.allclose(ode._NODES[:5], RK45.C[1:], rtol=1e-15)
    assert ode._NODES[5] == 1.0
    for row, known in zip(ode._ROWS[:5], RK45.A[1:], strict=True):
        assert np.allclose(row, known[: len(row)], rtol=1e-15)
        assert not known[len(row) :].any()
    assert np.allclose(ode._ROWS[5], RK45.B, rtol=1e-15)
    assert np.allclose(np.abs(ode._ERROR), np.abs(RK45.E), rtol=1e-12)
    assert math.isclose(sum(ode._ERROR), 0.0, abs_tol=1e-15)


def test_a_slope_of_the_fourth_power_is_followed_exactly() -> None:
    """A method of the fifth order adds up t⁴ without error, however long its steps."""
    *_, last = integrate(lambda t, _: [5 * t**4], [0.0], 0.0, 2.0, 1e6)
    assert last.time == 2.0
    assert last.values[0] == pytest.approx(32.0, rel=1e-13)
    assert last.slopes[0] == pytest.approx(80.0, rel=1e-13)


@pytest.mark.parametrize("tolerance", [1e-5, 1e-7, 1e-9])
def test_a_slope_that_turns_is_followed_to_its_tolerance(tolerance: float) -> None:
    """Y' = y cos t has y = exp(sin t); two values at once, as bucket and bench have."""

    def rate(t: float, y: list[float]) -> list[float]:
        return [y[0] * math.cos(t), -2.0 * y[1]]

    knots = list(integrate(rate, [1.0, 1.0], 0.0, 6.0, tolerance))
    assert [knots[0].time, knots[-1].time] == [0.0, 6.0]
    for knot in knots:
        exact = (math.exp(math.sin(knot.time)), math.exp(-2.0 * knot.time))
        assert knot.values == pytest.approx(exact, abs=200 * tolerance)
        assert knot.slopes == pytest.approx(rate(knot.time, knot.values))
    other = solve_ivp(
        lambda t, y: rate(t, list(y)), (0, 6), [1.0, 1.0], "RK45", rtol=tolerance, atol=tolerance
    )
    assert knots[-1].values == pytest.approx(list(other.y[:, -1]), abs=200 * tolerance)
    assert len(knots) < 3 * len(other.t)  # the steps are as long as the tolerance lets them be


def test_nothing_to_follow_gives_the_start() -> None:
    def steady(_: float, __: list[float]) -> list[float]:
        return [1.0]

    assert list(integrate(steady, [3.0], 5.0, 5.0, 1e-6)) == [Knot(5.0, [3.0], [1.0])]


def test_what_blows_up_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    """The slope y² from 1 has no value at 1: the steps shrink without end."""
    monkeypatch.setattr(ode, "MOST_STEPS", 2_000)
    with pytest.raises(InputError, match="too abruptly"):
        list(integrate(lambda _, y: [y[0] * y[0]], [1.0], 0.0, 2.0, 1e-6))


def test_between_two_knots_is_the_cubic_through_both() -> None:
    """t³ - 2t at 1 and 3: a cubic is met exactly, value and slope."""

    def at(t: float) -> Knot:
        return Knot(t, [t**3 - 2 * t], [3 * t**2 - 2])

    for part in (0.0, 0.25, 0.7, 1.0):
        found, exact = between(at(1.0), at(3.0), part), at(1.0 + 2.0 * part)
        assert found.time == pytest.approx(exact.time)
        assert found.values == pytest.approx(exact.values)
        assert found.slopes == pytest.approx(exact.slopes)


def test_a_crossing_is_where_the_cubic_crosses() -> None:
    """From 0 to 4 at an even pace, 3 is passed at 3; what is passed at once, at the first."""
    first, second = Knot(0.0, [0.0], [1.0]), Knot(4.0, [4.0], [1.0])
    assert crossing(first, second, lambda knot: knot.values[0] >= 3.0).time == pytest.approx(3.0)
    assert crossing(first, second, lambda _: True).time == pytest.approx(0.0, abs=1e-12)
    assert crossing(first, second, lambda _: False).time == 4.0
