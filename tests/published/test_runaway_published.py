"""Curing on a heated ramp and in an insulated bucket: two textbook laws of thermal analysis.

Kissinger (1957): on a ramp of beta the rate of a first-order reaction is greatest at Tp, where
E·beta/(R·Tp²) = A·exp(-E/(R·Tp)); so ln(beta/Tp²) against 1/Tp is a line of slope -E/R. Townsend
and Tou (1980): an insulated mass of order 0 is fastest after R·T²·cp/(E·q), q its first heat rate;
the next term of its series is 2·R·T/E of it. Both formulas are from memory; temperatures and times
are worked out from them by scipy here, never taken from the program.
"""

from __future__ import annotations

import itertools
import math

import pytest
from scipy import optimize

from pourbook.trade.cure.heat import Bucket, bucket_history
from pourbook.trade.cure.kinetics import Kinetics, heated

R = 8.31446261815324  # CODATA 2018, exact
BEGIN = 293.15


def _peak(factor: float, energy: float, ramp: float) -> float:
    def balance(kelvin: float) -> float:
        made = factor * math.exp(-energy / (R * kelvin))
        return energy * ramp / (R * kelvin**2) - made

    return float(optimize.brentq(balance, 300.0, 900.0))


@pytest.mark.parametrize("per_minute", [2.0, 5.0, 10.0, 20.0])
@pytest.mark.parametrize(("factor", "energy"), [(1e6, 60e3), (5e8, 80e3), (1e5, 50e3)])
def test_kissinger_peak(factor: float, energy: float, per_minute: float) -> None:
    """The steepest part of the conversion on the ramp lies where Kissinger's law has it."""
    ramp = per_minute / 60.0
    at = (_peak(factor, energy, ramp) - BEGIN) / ramp
    apart = 0.05 / ramp  # a twentieth of a kelvin
    times = [at + step * apart for step in range(-40, 41)]
    found = heated(Kinetics(factor, energy, 0.0, 0.0, 0.0, 1.0), BEGIN, ramp, times)
    steps = [b - a for a, b in itertools.pairwise(found)]
    fastest = steps.index(max(steps)) + 0.5
    assert abs(fastest - 40) * 0.05 < 0.5, "kelvin from the peak"
    # and the rate there is that of the law: what is left times A·exp(-E/RT), by central difference
    kelvin = BEGIN + ramp * at
    rate = (found[41] - found[39]) / (2 * apart)
    left = 1.0 - found[40]
    assert rate == pytest.approx(left * energy * ramp / (R * kelvin**2), rel=1e-4)


def test_slope_of_kissinger_plot_is_the_energy() -> None:
    """Read backwards as a laboratory does: from the peaks of four ramps to the energy."""
    factor, energy = 5e8, 80e3
    points = []
    for per_minute in (2.0, 5.0, 10.0, 20.0):
        ramp = per_minute / 60.0
        times = [step * 0.25 / ramp for step in range(1200)]
        found = heated(Kinetics(factor, energy, 0.0, 0.0, 0.0, 1.0), BEGIN, ramp, times)
        steps = [b - a for a, b in itertools.pairwise(found)]
        top = steps.index(max(steps))
        low, here, high = steps[top - 1 : top + 2]
        shift = 0.5 * (low - high) / (low - 2 * here + high)
        kelvin = BEGIN + 0.25 * (top + 0.5 + shift)
        points.append((1.0 / kelvin, math.log(ramp / kelvin**2)))
    n = len(points)
    x, y = (sum(part) / n for part in zip(*points, strict=True))
    slope = sum((a - x) * (b - y) for a, b in points) / sum((a - x) ** 2 for a, b in points)
    assert -slope * R == pytest.approx(energy, rel=2e-3)


@pytest.mark.parametrize(("energy", "start"), [(120e3, 298.15), (150e3, 310.0), (100e3, 300.0)])
def test_time_to_the_greatest_rate(energy: float, start: float) -> None:
    """An insulated bucket runs away when Townsend and Tou say, and the next term at most later."""
    heat, capacity, hour = 4e5, 2000.0, 3600.0
    law = 10 * hour
    first = R * start**2 * capacity / (energy * law)  # W/kg that makes it ten hours
    factor = first / heat * math.exp(energy / (R * start))
    mix = Kinetics(factor, energy, 0.0, 0.0, 0.0, 0.0)
    bucket = Bucket(1.0, 0.05, 0.0, heat, capacity, start, start)
    times = [law * (0.8 + 0.002 * step) for step in range(200)]
    states = bucket_history(mix, bucket, times)
    over = [s.seconds for s in states if s.conversion > 0.5]
    assert over, "it has run away"
    assert over[0] == pytest.approx(law, rel=3 * R * start / energy)
