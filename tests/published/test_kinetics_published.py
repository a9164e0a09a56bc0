"""Kamal-Sourour kinetics: checks K1 to K7, and the published error E4.

Status beside each number: read, computed (closed form or scipy), from memory.
"""

from __future__ import annotations

import csv
import math
from pathlib import Path

import pytest
from tests.oracles.kamal import isothermal, kamal_rate

from pourbook.trade.cure.curing import R_GAS
from pourbook.trade.cure.kinetics import Kinetics, heated
from pourbook.trade.cure.ode import Knot, crossing, integrate

HERE = Path(__file__).parent
# K1: constants in KinOpt's kinetic_models.py, github alan-tabore/KinOpt @059bc7b (read).
K1 = Kinetics(1.666e8, 80000.0, 1.666e13, 120000.0, 1.0, 0.7)


def _curve(heating: int) -> list[list[float]]:
    with (HERE / f"kamal_{heating}_K_per_min.csv").open(encoding="utf-8") as file:
        return [[float(cell) for cell in row] for row in list(csv.reader(file))[1:]]


@pytest.mark.parametrize("heating", [5, 10, 15])
def test_k1_curves(heating: int) -> None:
    """Read; tolerance 2e-3 because the file's own integration is that coarse (scipy: 6e-4)."""
    rows = _curve(heating)
    found = heated(K1, 293.0, heating / 60.0, [row[0] for row in rows])
    assert len(rows) == 51
    assert max(abs(found[i] - rows[i][3]) for i in range(51)) < 2e-3
    assert max(found) > 0.99


@pytest.mark.parametrize("heating", [5, 10, 15])
def test_k1_rates(heating: int) -> None:
    """Each row's rate from its own temperature and extent (read)."""
    for seconds, kelvin, rate, extent in _curve(heating):
        assert kelvin == pytest.approx(293.0 + heating / 60.0 * seconds, rel=1e-4)
        if extent < 0.999:
            assert kamal_rate(K1, extent, kelvin) == pytest.approx(rate, rel=1e-6)


def test_k1_first_rate() -> None:
    """9.118758519787938e-07 1/s at 293 K (read); gas constant rounded to ten figures."""
    assert kamal_rate(K1, 0.0, 293.0) == pytest.approx(9.118758519787938e-07, rel=1e-8)


# K1: temperatures in K at conversions 0.1, 0.5 and 0.9 for 5, 10 and 15 K/min, read off the full
# files; scipy puts 0.5 at 390.18, 400.16 and 406.18 K, so the files themselves are up to 2e-3 off.
@pytest.mark.parametrize(
    ("heating", "kelvins"),
    [(5, (366.49, 390.19, 402.69)), (10, (375.69, 400.20, 412.74)), (15, (381.30, 406.23, 418.74))],
)
def test_k1_temperatures(heating: int, kelvins: tuple[float, ...]) -> None:
    times = [(kelvin - 293.0) * 60.0 / heating for kelvin in kelvins]
    assert heated(K1, 293.0, heating / 60.0, times) == pytest.approx([0.1, 0.5, 0.9], abs=2e-3)


# K2: KinOpt's unit tests (read).
@pytest.mark.parametrize(
    ("conversion", "kelvin", "rate"),
    [
        (0.0, 100.0, math.exp(-1.0)),
        (0.1, 200.0, (math.exp(-1 / 2) + 2 * math.exp(-1 / 4) * 0.1**0.3) * 0.81),
        (0.3, 300.0, (math.exp(-1 / 3) + 2 * math.exp(-1 / 6) * 0.3**0.3) * 0.49),
        (0.5, 400.0, (math.exp(-1 / 4) + 2 * math.exp(-1 / 8) * 0.5**0.3) * 0.25),
        (0.6, 500.0, (math.exp(-1 / 5) + 2 * math.exp(-1 / 10) * 0.6**0.3) * 0.16),
        (1.0, 600.0, 0.0),
    ],
)
def test_k2_rates(conversion: float, kelvin: float, rate: float) -> None:
    kinetics = Kinetics(1.0, 831.446261815324, 2.0, 415.723130907662, 0.3, 2.0)
    assert kamal_rate(kinetics, conversion, kelvin) == pytest.approx(rate, abs=1e-8)


TIMES = [300.0, 600.0, 900.0, 1200.0, 1500.0]


def test_k3_closed_form() -> None:
    """With m = n = 1, k1 = 2e-4, k2 = 3e-3 (computed from the closed form)."""
    found = isothermal(Kinetics(2e-4, 0.0, 3e-3, 0.0, 1.0, 1.0), 300.0, TIMES)
    expected = [0.0915128, 0.2667600, 0.5124073, 0.7399451, 0.8827928]
    assert found == pytest.approx(expected, abs=1e-7)


def test_k4_implicit_form() -> None:
    """With m = 1, n = 2, same constants (computed from the implicit closed form)."""
    found = isothermal(Kinetics(2e-4, 0.0, 3e-3, 0.0, 1.0, 2.0), 300.0, TIMES)
    expected = [0.0865790, 0.2261590, 0.3857320, 0.5237513, 0.6268733]
    assert found == pytest.approx(expected, abs=1e-7)


def test_k5_limits() -> None:
    """With m = 0, n = 1 gives 1 - exp(-kt), n = 2 gives kt/(1 + kt) (closed forms)."""
    first = isothermal(Kinetics(1e-3, 0.0, 2e-3, 0.0, 0.0, 1.0), 300.0, TIMES)
    second = isothermal(Kinetics(1e-3, 0.0, 2e-3, 0.0, 0.0, 2.0), 300.0, TIMES)
    assert first == pytest.approx([1.0 - math.exp(-3e-3 * t) for t in TIMES], abs=1e-8)
    assert second == pytest.approx([3e-3 * t / (1.0 + 3e-3 * t) for t in TIMES], abs=1e-8)


# K6: Lee, Loos and Springer 1982: constants from memory, minutes to each conversion computed.
@pytest.mark.parametrize(
    ("celsius", "minutes"), [(120, (7.28, 61.4, 118.3, 390.0)), (177, (0.315, 2.40, 8.75, 39.1))]
)
def test_k6_integrator_on_a_rate_with_a_jump(celsius: float, minutes: tuple[float, ...]) -> None:
    over = 1.0 / (R_GAS * (celsius + 273.15))
    k1, k2 = 2.101e9 * math.exp(-8.07e4 * over), -2.014e9 * math.exp(-7.78e4 * over)
    k3 = 1.960e5 * math.exp(-5.66e4 * over)

    def rate(_: float, values: list[float]) -> list[float]:
        a = values[0]
        return [(k1 + k2 * a) * (1.0 - a) * (0.47 - a) if a <= 0.3 else k3 * (1.0 - a)]

    knots = list(integrate(rate, [0.0], 0.0, minutes[-1] * 1.1, 1e-7))
    found = []
    for target in (0.1, 0.3, 0.5, 0.9):
        i = next(i for i in range(len(knots)) if knots[i].values[0] >= target)

        def passed(knot: Knot, target: float = target) -> bool:
            return knot.values[0] >= target

        found.append(crossing(knots[i - 1], knots[i], passed).time)
    assert found == pytest.approx(minutes, rel=0.01)


def test_k7_and_e4_gas_constant() -> None:
    """Rate 4.157e-4 1/s with R = 8.314; the source's R = 8.617 gives 7.76e-4 (read, both).

    tomichec/adapt cure.py: A 1.53e5 1/s, E 66.5 kJ/mol, m 0.813, n 2.74.
    """
    found = kamal_rate(Kinetics(0.0, 0.0, 1.53e5, 66500.0, 0.813, 2.74), 0.3, 450.15)
    assert found == pytest.approx(4.157e-4, rel=0.01)
