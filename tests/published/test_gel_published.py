"""Gel point and glass transition: checks G1 to G4, T1 and T3."""

from __future__ import annotations

import math

import pytest
from tests.oracles.gel import conversion_at_glass, gel_conversions, glass_transition

from pourbook.errors import InputError


# Flory 1941, Stockmayer 1943 (from memory); values computed by hand.
@pytest.mark.parametrize(
    ("f", "g", "ratio", "epoxy", "amine"),
    [
        (2, 4, 1.0, 1.0 / math.sqrt(3.0), 1.0 / math.sqrt(3.0)),  # G1
        (2, 5, 1.0, 0.5, 0.5),  # G2
        (2, 6, 1.0, 0.447214, 0.447214),  # G2
        (4, 4, 1.0, 0.333333, 0.333333),  # G3
        (3, 4, 1.0, 0.408248, 0.408248),  # G3
        (2, 4, 0.8, 0.516398, 0.645497),  # G4
        (2, 4, 1.25, 0.645497, 0.516398),  # G4
    ],
)
def test_gel_points_are_the_printed_ones(
    f: float, g: float, ratio: float, epoxy: float, amine: float
) -> None:
    assert gel_conversions(f, g, ratio) == pytest.approx((epoxy, amine), abs=1e-6)


@pytest.mark.parametrize("ratio", [0.33, 3.01])
def test_g4_never_gels(ratio: float) -> None:
    with pytest.raises(InputError, match="never gels"):
        gel_conversions(2, 4, ratio)


# T1: KinOpt's own unit test test_tg_diBennedetto, Tg0 -100, Tg1 100, L 0.5 (read).
@pytest.mark.parametrize(
    ("conversion", "celsius"),
    [(0, -100), (0.1, -89.47368), (0.3, -64.70588), (0.5, -33.33333), (0.6, -14.28571), (1, 100)],
)
def test_t1_dibenedetto(conversion: float, celsius: float) -> None:
    found = glass_transition(conversion, 173.15, 373.15, 0.5) - 273.15
    assert found == pytest.approx(celsius, abs=1e-5)


# T3: Tg0 -20, Tg1 60, L 0.45 (computed).
@pytest.mark.parametrize(("conversion", "celsius"), [(0.577, 10.43), (0.75, 25.96), (0.9, 44.16)])
def test_t3_room_temperature_ceiling(conversion: float, celsius: float) -> None:
    found = glass_transition(conversion, 253.15, 333.15, 0.45) - 273.15
    assert found == pytest.approx(celsius, abs=0.005)
    assert conversion_at_glass(298.15, 253.15, 333.15, 0.45) == pytest.approx(0.7407, abs=1e-4)
