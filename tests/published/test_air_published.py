"""Dew point against outside sources.

Status beside each number: read, second-hand, computed (by an outside library, not by us), from
memory.
"""

from __future__ import annotations

import psychrolib
import pytest
from CoolProp.HumidAirProp import HAPropsSI
from tests.oracles.humidities import humidity_at_dew_point

from pourbook.trade.air import MVER_UNIT, SURVEY_TESTS, AirLimits, dew_margin, dew_point, judge_air

psychrolib.SetUnitSystem(psychrolib.SI)
NO_LIMITS = AirLimits(None, None, None, None, None)

# T in °C, RH in %, dew point in °C of psychrolib 2.5.0 and CoolProp 8.0.0 at 101 325 Pa (computed).
TABLE = [
    (5, 85, 2.6915, 2.6919),
    (10, 50, 0.0626, 0.0642),
    (10, 85, 7.5975, 7.5979),
    (15, 60, 7.3070, 7.3082),
    (16, 71, 10.7501, 10.7510),
    (20, 30, 1.9143, 1.9173),
    (20, 50, 9.2724, 9.2744),
    (20, 70, 14.3671, 14.3683),
    (20, 85, 17.4027, 17.4033),
    (23, 50, 12.0284, 12.0309),
    (25, 40, 10.4757, 10.4791),
    (25, 60, 16.7011, 16.7035),
    (25, 85, 22.3018, 22.3028),
    (30, 50, 18.4466, 18.4508),
    (30, 85, 27.1986, 27.2000),
    (35, 40, 19.3846, 19.3914),
    (35, 70, 28.7009, 28.7045),
    (40, 50, 27.5852, 27.5928),
]


@pytest.mark.parametrize(("celsius", "percent", "psychro", "coolprop"), TABLE)
def test_dew_points_are_those_of_psychrolib_and_coolprop(
    celsius: float, percent: float, psychro: float, coolprop: float
) -> None:
    found = dew_point(celsius + 273.15, percent / 100.0) - 273.15
    assert found == pytest.approx(psychro, abs=0.05)
    assert found == pytest.approx(coolprop, abs=0.05)


def test_against_both_libraries_live() -> None:
    """Tolerance 0.05 K where the dew point is 0 °C or more, as found by both (computed).

    Below, both give the frost point over ice instead, so those points are left out.
    """
    checked = 0
    for celsius in range(0, 51, 5):
        for percent in range(10, 101, 10):
            kelvin, humidity = celsius + 273.15, percent / 100.0
            oracle = psychrolib.GetTDewPointFromRelHum(celsius, humidity)
            real_gas = HAPropsSI("D", "T", kelvin, "P", 101325.0, "R", humidity) - 273.15
            if min(oracle, real_gas) < 0.05:
                continue
            found = dew_point(kelvin, humidity) - 273.15
            assert found == pytest.approx(oracle, abs=0.05)
            assert found == pytest.approx(real_gas, abs=0.05)
            checked += 1
    assert checked == 81


# °F, %, dew point in °F: psychrolib in inch-pound units (computed); 0.05 K is 0.09 °F.
@pytest.mark.parametrize(
    ("fahrenheit", "percent", "dew"),
    [
        (60, 50, 41.33),
        (70, 50, 50.53),
        (70, 65, 57.71),
        (75, 50, 55.12),
        (77, 85, 72.14),
        (80, 70, 69.34),
        (85, 60, 69.56),
        (90, 50, 68.86),
        (90, 80, 82.99),
    ],
)
def test_fahrenheit_table(fahrenheit: float, percent: float, dew: float) -> None:
    kelvin = (fahrenheit - 32.0) / 1.8 + 273.15
    found = (dew_point(kelvin, percent / 100.0) - 273.15) * 1.8 + 32.0
    assert found == pytest.approx(dew, abs=0.09)


def test_d2_five_fahrenheit_rule() -> None:
    """Surface at least 5 °F above the dew point: Iowa DOT IM 378 step 7 (read).

    A surface 2.9 K above passes that rule and fails the 3 K rule (D8, logic).
    """
    dew = dew_point(293.15, 0.5)
    five = AirLimits(None, None, None, None, None, min_dew_margin=5.0 / 1.8)
    assert judge_air(dew + 5.0 / 1.8, 293.15, 0.5, five).state == "go"
    assert judge_air(dew + 2.7, 293.15, 0.5, five).state == "don't"
    assert judge_air(dew + 2.9, 293.15, 0.5, five).state == "go"
    assert judge_air(dew + 2.9, 293.15, 0.5, NO_LIMITS).state == "don't"


def test_d3_dry_and_wet_bulb() -> None:
    """71 °F dry, 64 °F wet (read, IM 378); dew point 60.22 °F by psychrolib (computed)."""
    dry, wet = (71.0 - 32.0) / 1.8, (64.0 - 32.0) / 1.8
    humidity = psychrolib.GetRelHumFromTWetBulb(dry, wet, 101325.0)
    found = (dew_point(dry + 273.15, humidity) - 273.15) * 1.8 + 32.0
    assert found == pytest.approx(60.22, abs=0.09)


def test_d5_do_not_coat() -> None:
    """16 °C, 71 %, surface 13 °C: chart 11 °C (read), exact 10.75 (computed): do not coat."""
    assert dew_point(289.15, 0.71) - 273.15 == pytest.approx(11.0, abs=0.5)
    assert dew_margin(286.15, 289.15, 0.71) == pytest.approx(2.25, abs=0.05)
    assert judge_air(286.15, 289.15, 0.71, NO_LIMITS).state == "don't"


def test_d8_exactly_three_kelvin_passes() -> None:
    """ISO 8502-4 and ISO 12944-7: 3 K above the dew point (second-hand); exactly 3 passes."""
    for celsius in range(5, 41):
        dew = dew_point(celsius + 273.15, 0.8)
        assert judge_air(dew + 3.0, celsius + 273.15, 0.8, NO_LIMITS).state == "go"
        assert judge_air(dew + 2.999, celsius + 273.15, 0.8, NO_LIMITS).state == "don't"


@pytest.mark.parametrize(("celsius", "percent", "psychro", "coolprop"), TABLE)
def test_d9_round_trip(celsius: float, percent: float, psychro: float, coolprop: float) -> None:
    """RH(T, Td(T, RH)) = RH to 1e-9 (identity)."""
    kelvin = celsius + 273.15
    assert humidity_at_dew_point(kelvin, dew_point(kelvin, percent / 100.0)) == pytest.approx(
        percent / 100.0, abs=1e-9
    )


def test_u14_moisture_unit() -> None:
    """1 lb/(1000 ft² · 24 h) = 56.5096 µg/(s·m²); MVER = 52.911 · g/(ft² · h) (computed)."""
    micrograms = MVER_UNIT * 1e9
    assert micrograms == pytest.approx(56.5096, abs=1e-4)
    gram_foot_hour = 1e-3 / (0.3048**2 * 3600.0)
    assert gram_foot_hour / SURVEY_TESTS["ASTM F1869"].si == pytest.approx(52.911, abs=1e-3)
