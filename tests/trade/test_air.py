"""Air and survey verdicts: properties and refusals."""

from __future__ import annotations

import math

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from pourbook.errors import InputError
from pourbook.trade.air import (
    MVER_UNIT,
    AirLimits,
    dew_margin,
    dew_point,
    judge_air,
    judge_reading,
    judge_survey,
)

KELVINS = st.floats(273.15, 333.15)
HUMIDITY = st.floats(0.05, 1.0)
LIMITS = AirLimits(283.15, 308.15, 283.15, 303.15, 0.85)


def _dew(kelvin: float, humidity: float) -> float | None:
    """Return the dew point, or None below the frost point."""
    try:
        return dew_point(kelvin, humidity)
    except InputError:
        return None


@given(KELVINS, HUMIDITY, HUMIDITY)
def test_dew_point_stays_under_air_and_rises_with_humidity(
    kelvin: float, one: float, other: float
) -> None:
    dry, damp = _dew(kelvin, min(one, other)), _dew(kelvin, max(one, other))
    assume(dry is not None and damp is not None)
    assert dry is not None
    assert damp is not None
    assert 273.15 <= dry <= damp <= kelvin


@given(KELVINS)
def test_saturated_air_has_its_own_dew_point(kelvin: float) -> None:
    assert dew_point(kelvin, 1.0) == pytest.approx(kelvin, abs=1e-9)


@pytest.mark.parametrize(
    ("kelvin", "humidity"),
    [
        (20.0, 0.5),
        (333.2, 0.5),
        (228.1, 1.0),
        (293.15, 0.0),
        (293.15, 1.01),
        (293.15, -0.1),
        (math.nan, 0.5),
        (293.15, math.nan),
        (math.inf, 0.5),
    ],
)
def test_dew_point_refuses(kelvin: float, humidity: float) -> None:
    with pytest.raises(InputError):
        dew_point(kelvin, humidity)


def test_frost_is_refused_not_guessed() -> None:
    with pytest.raises(InputError, match="below the frost point"):
        dew_point(273.15, 0.8)
    with pytest.raises(InputError, match="below the frost point"):
        dew_margin(293.15, 283.15, 0.1)


def test_dry_air_is_judged_by_the_freezing_point() -> None:
    """Dew point below 0 °C: a surface 3 K above 0 °C is dry whatever the dew point."""
    free = AirLimits(None, None, None, None, None)
    assert judge_air(276.15, 283.15, 0.1, free).state == "go"
    verdict = judge_air(276.0, 283.15, 0.1, free)
    assert verdict.state == "don't"
    assert "frost" in verdict.reasons[0]


@pytest.mark.parametrize(
    ("surface", "air", "humidity", "state", "words"),
    [
        (293.15, 293.15, 0.5, "go", "above it"),
        (283.15, 283.15, 0.5, "go", "above it"),
        (281.15, 293.15, 0.3, "don't", "below the least allowed, 10 °C"),
        (310.15, 293.15, 0.3, "don't", "above the most allowed, 35 °C"),
        (293.15, 281.15, 0.5, "wait", "air is 8 °C"),
        (293.15, 305.15, 0.3, "wait", "air is 32 °C"),
        (303.15, 293.15, 0.9, "wait", "humidity is 90 %"),
        (293.15, 293.15, 1.0, "don't", "water condenses"),
        (294.15, 293.15, 0.9, "don't", "under 3.0 °C"),
    ],
)
def test_air_is_judged_and_says_why(
    surface: float, air: float, humidity: float, state: str, words: str
) -> None:
    verdict = judge_air(surface, air, humidity, LIMITS)
    assert verdict.state == state
    assert any(words in reason for reason in verdict.reasons)


@given(st.floats(275.0, 330.0), st.floats(275.0, 330.0), HUMIDITY)
def test_a_warmer_surface_is_never_wetter(one: float, other: float, humidity: float) -> None:
    free = AirLimits(None, None, None, None, None)
    cold = judge_air(min(one, other), 293.15, humidity, free)
    warm = judge_air(max(one, other), 293.15, humidity, free)
    assert cold.state == "don't" or warm.state == "go"


def test_a_reading_at_its_limit_is_a_go() -> None:
    assert judge_reading(0.75, 0.75, "at most").state == "go"
    assert judge_reading(0.7501, 0.75, "at most").state == "wait"
    assert judge_reading(1.5e6, 1.5e6, "at least").state == "go"
    assert judge_reading(1.4e6, 1.5e6, "at least").state == "don't"
    with pytest.raises(InputError, match="at most"):
        judge_reading(1.0, 1.0, "below")


@pytest.mark.parametrize(
    ("test", "value", "limit", "state"),
    [
        ("ASTM F2170", 0.80, 0.75, "wait"),
        ("ASTM F2170", 0.75, 0.75, "go"),
        ("ASTM F1869", 3.0 * MVER_UNIT, 3.0 * MVER_UNIT, "go"),
        ("ASTM D4263", 0.0, 0.0, "go"),
        ("ASTM D4263", 1.0, 0.0, "wait"),
        ("ASTM D3359", 3.0, 4.0, "don't"),
        ("ASTM D7234", 1.6e6, 1.5e6, "go"),
        ("ASTM D4541", 1.0e6, 1.5e6, "don't"),
    ],
)
def test_a_survey_reading_is_held_against_its_limit(
    test: str, value: float, limit: float, state: str
) -> None:
    assert judge_survey(test, value, limit).state == state


@pytest.mark.parametrize(
    ("test", "value", "limit"),
    [
        ("ASTM F2170", 75.0, 0.75),
        ("ASTM D3359", 6.0, 4.0),
        ("ASTM D3359", 4.0, 0.0),
        ("no test", 1.0, 1.0),
        ("ASTM D7234", -1.0, 1e6),
    ],
)
def test_a_survey_reading_that_cannot_be_is_refused(test: str, value: float, limit: float) -> None:
    with pytest.raises(InputError):
        judge_survey(test, value, limit)
