"""Row checks of a logged batch: worked by hand, at the limit and past it, and refusals."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

import psychrolib
import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.oracles.logs import check_dew, check_ratio

from pourbook.errors import InputError
from pourbook.trade.logged import CureSheet, check_pot_life, check_recoat, check_wet_film

ZERO = 273.15
HOUR = 3600.0
SHEET = CureSheet(2400.0, 1.0, ZERO + 25.0, 55000.0, 4 * HOUR, 24 * HOUR)
ALIKE = [1000.0, 1000.0]


@pytest.mark.parametrize(
    ("masses", "ratio", "densities", "basis", "off"),
    [
        # 100 : 45 by mass, 2.000 kg of A calls for 2.000 x 45 / 100 = 0.900 kg of B;
        # 0.945 / 0.900 = 1.05, 5 % too much
        ([2.0, 0.945], [100.0, 45.0], [1150.0, 1000.0], "mass", 0.05),
        # 0.855 / 0.900 = 0.95, 5 % too little: off by as much
        ([2.0, 0.855], [100.0, 45.0], [1150.0, 1000.0], "mass", 0.05),
        # 2 : 1 by volume at 1150 and 1000 kg/m³: 2.300 kg of A is 2.0 L and calls for 1.0 L of B,
        # 1.000 kg; 1.080 / 1.000 = 1.08, 8 % too much
        ([2.3, 1.08], [2.0, 1.0], [1150.0, 1000.0], "volume", 0.08),
        # the same weights taken for a ratio by mass: 2.3 calls for 1.15; 1.08 / 1.15 = 0.93913,
        # 6.087 % too little
        ([2.3, 1.08], [2.0, 1.0], [1150.0, 1000.0], "mass", 0.0608696),
        # three parts 3 : 1 : 0.5 by mass, 3.06 kg of A call for 1.02 and 0.51 kg; 1.02 fits and
        # 0.4845 / 0.51 = 0.95 is the worse of the two
        ([3.06, 1.02, 0.4845], [3.0, 1.0, 0.5], [1000.0] * 3, "mass", 0.05),
        # hardener forgotten: 100 % too little
        ([2.0, 0.0], [100.0, 45.0], ALIKE, "mass", 1.0),
        # one part has nothing to be off against
        ([2.0], [1.0], [1000.0], "mass", 0.0),
    ],
)
def test_off_ratio_by_hand(
    masses: list[float], ratio: list[float], densities: list[float], basis: str, off: float
) -> None:
    tight = check_ratio(masses, ratio, densities, basis, off * 0.99)  # type: ignore[arg-type]
    fits = check_ratio(masses, ratio, densities, basis, off)  # type: ignore[arg-type]
    assert fits.figure == pytest.approx(off, abs=1e-7)
    assert check_ratio(masses, ratio, densities, basis, off * 1.01).holds  # type: ignore[arg-type]
    assert tight.holds is (off == 0.0)


def test_exactly_at_the_tolerance_holds() -> None:
    assert check_ratio([2.0, 0.945], [100.0, 45.0], ALIKE, "mass", 0.05).holds
    assert not check_ratio([2.0, 0.9451], [100.0, 45.0], ALIKE, "mass", 0.05).holds


def test_a_missing_base_is_a_fault_and_no_crash() -> None:
    check = check_ratio([0.0, 1.0], [2.0, 1.0], ALIKE, "mass", 0.05)
    assert not check.holds
    assert check.figure == math.inf
    assert check.words == "the base is missing"


def test_pot_life_by_hand() -> None:
    # 40 min at 25 °C; at 35 °C and 55 kJ/mol the rate is exp(55000 / 8.314462618 x
    # (1 / 298.15 - 1 / 308.15)) = 2.0544 times, so 2400 / 2.0544 = 1168.2 s by the rate, and 1.6
    # times less since it heats itself: 730.1 s or 12.2 min
    limit = check_pot_life(0.0, 0.0, 1.0, ZERO + 35.0, SHEET).limit
    assert limit == pytest.approx(730.1, abs=0.1)
    assert check_pot_life(100.0, 100.0 + 12 * 60.0, 1.0, ZERO + 35.0, SHEET).holds
    assert not check_pot_life(100.0, 100.0 + 13 * 60.0, 1.0, ZERO + 35.0, SHEET).holds
    # twice the mass it is stated for has half the time
    assert check_pot_life(0.0, 1200.0, 2.0, ZERO + 25.0, SHEET).holds
    assert not check_pot_life(0.0, 1201.0, 2.0, ZERO + 25.0, SHEET).holds
    # a lighter one has no more
    assert not check_pot_life(0.0, 2401.0, 0.1, ZERO + 25.0, SHEET).holds


@given(st.floats(1.0, 35.0), st.floats(0.35, 1.0), st.floats(0.0, 15.0))
def test_dew_margin_as_a_general_library_has_it(air: float, humidity: float, above: float) -> None:
    psychrolib.SetUnitSystem(psychrolib.SI)
    dew = psychrolib.GetTDewPointFromRelHum(air, humidity)
    check = check_dew(ZERO + dew + above, ZERO + air, humidity)
    if dew > 0.1:
        assert check.figure == pytest.approx(above, abs=0.05)
    if dew > 0.1 and abs(above - 3.0) > 0.05:
        assert check.holds is (above > 3.0)


def test_dew_by_hand_and_below_frost() -> None:
    # 16 °C and 71 %: dew point 10.75 (psychrolib), so 13 °C is 2.25 above it and 13.8 is 3.05
    assert not check_dew(ZERO + 13.0, ZERO + 16.0, 0.71).holds
    assert check_dew(ZERO + 13.8, ZERO + 16.0, 0.71).holds
    assert check_dew(ZERO + 13.0, ZERO + 16.0, 0.71, least=2.0).holds
    # dew point far below 0 °C: no figure, but a surface at 10 °C is dry
    frost = check_dew(ZERO + 10.0, ZERO + 5.0, 0.3)
    assert frost.holds
    assert math.isnan(frost.figure)
    assert not check_dew(ZERO + 1.0, ZERO + 5.0, 0.3).holds


def test_recoat_window_by_hand() -> None:
    # open from 4 to 24 h at 25 °C; at 15 °C and 55 kJ/mol the rate is 0.4630 times, so it is open
    # from 4 / 0.4630 = 8.64 h to 24 / 0.4630 = 51.8 h (published factor beside the curing tests)
    at25, at15 = ZERO + 25.0, ZERO + 15.0
    assert not check_recoat(3.99 * HOUR, at25, SHEET).holds
    assert check_recoat(4.0 * HOUR, at25, SHEET).holds
    assert check_recoat(24.0 * HOUR, at25, SHEET).holds
    late = check_recoat(24.1 * HOUR, at25, SHEET)
    assert not late.holds
    assert late.limit == 24 * HOUR
    assert late.words.endswith("was it sanded?")
    assert [check_recoat(h * HOUR, at15, SHEET).holds for h in (8.5, 8.7, 51.7, 52.0)] == [
        False,
        True,
        True,
        False,
    ]


def test_a_window_without_an_end_stays_open() -> None:
    check = check_recoat(1000.0 * HOUR, ZERO + 25.0, replace(SHEET, recoat_until=None))
    assert check.holds
    assert check.limit == math.inf


@pytest.mark.parametrize(
    ("reading", "off", "holds"),
    # 1 mm wanted, 10 % either way; an exact 0.9 and 1.1 hold
    [(0.9, -0.1, True), (0.899, -0.101, False), (1.1, 0.1, True), (1.2, 0.2, False), (1, 0, True)],
)
def test_a_wet_film_off_by_more_than_its_tenth_fails(
    reading: float, off: float, holds: bool
) -> None:
    check = check_wet_film(reading * 1e-3, 1e-3, 0.1)
    assert check.figure == pytest.approx(off, abs=1e-9)
    assert check.holds is holds


def test_words_say_which_side() -> None:
    assert "too thin" in check_wet_film(0.0008, 0.001, 0.1).words
    assert "too thick" in check_wet_film(0.0012, 0.001, 0.1).words
    assert check_wet_film(0.001, 0.001, 0.1).words == "the wet film is as wanted"


@pytest.mark.parametrize(
    "refused",
    [
        lambda: check_ratio([1.0], [2.0, 1.0], ALIKE, "mass", 0.05),
        lambda: check_ratio([], [], [], "mass", 0.05),
        lambda: check_ratio([1.0, -1.0], [2.0, 1.0], ALIKE, "mass", 0.05),
        lambda: check_ratio([1.0, 1.0], [2.0, 1.0], ALIKE, "mass", -0.05),
        lambda: check_pot_life(10.0, 0.0, 1.0, 298.15, SHEET),
        lambda: check_pot_life(math.nan, 0.0, 1.0, 298.15, SHEET),
        lambda: check_pot_life(0.0, math.inf, 1.0, 298.15, SHEET),
        lambda: check_pot_life(0.0, 10.0, 0.0, 298.15, SHEET),
        lambda: check_pot_life(0.0, 10.0, 1.0, 25.0, SHEET),
        lambda: check_dew(298.15, 298.15, 1.5),
        lambda: check_recoat(-1.0, 298.15, SHEET),
        lambda: check_recoat(1.0, 298.15, replace(SHEET, recoat_until=HOUR)),
        lambda: check_wet_film(-1.0, 0.001, 0.1),
        lambda: check_wet_film(0.001, 0.0, 0.1),
        lambda: check_wet_film(0.001, 0.001, -0.1),
    ],
)
def test_what_cannot_be_is_refused(refused: Callable[[], object]) -> None:
    with pytest.raises(InputError):
        refused()
