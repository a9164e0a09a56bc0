"""The air and the surface before coating: dew point, its margin, and the readings of the survey.

Contract: temperatures in kelvin, humidity as a fraction, readings in SI; every function is pure.
Limits always come from the product or the user: the only default is the 3 K dew point margin of
ISO 8502-4 and ISO 12944-7 (both known here second-hand, not read).
"""

from __future__ import annotations

import math

from pourbook.errors import InputError
from pourbook.records import dataclass
from pourbook.trade.ranges import ZERO_CELSIUS, degrees, number, positive, temperature

MAGNUS_A = 17.62
MAGNUS_B = 243.12
"""Magnus constants over water, WMO No. 8 annex 4.B, quoted in a weather-station manual we read
(easymanua.ls/vaisala/aws330/manual?p=277)."""

AIR_LOW = ZERO_CELSIUS - 45.0
AIR_HIGH = ZERO_CELSIUS + 60.0
DEW_MARGIN = 3.0
_SLACK = 1e-6  # kelvin, fraction or relative: forgives the last bits of a unit change

MVER_UNIT = 0.45359237 / (1000.0 * 0.3048**2 * 86400.0)
"""1 lb/(1000 ft² · 24 h) in kg/(s·m²): 56.5096 µg/(s·m²), computed from exact definitions."""


def _magnus(celsius: float) -> float:
    """Return ln(e_w / 6.112 hPa) over water at a temperature in degrees Celsius."""
    return MAGNUS_A * celsius / (MAGNUS_B + celsius)


def _water_dew_point(air_temperature: float, relative_humidity: float) -> float:
    """Return the Magnus dew point over water in degrees Celsius, below freezing too."""
    temperature("air temperature", air_temperature, AIR_LOW, AIR_HIGH)
    if not 0.0 < relative_humidity <= 1.0:
        raise InputError(
            f"relative humidity is {relative_humidity * 100.0:g} %",
            "give a humidity above 0 and up to 100 %",
        )
    g = math.log(relative_humidity) + _magnus(air_temperature - ZERO_CELSIUS)
    return MAGNUS_B * g / (MAGNUS_A - g)


def dew_point(air_temperature: float, relative_humidity: float) -> float:
    """Return the temperature at which water condenses out of this air.

    Magnus formula over water, WMO No. 8 annex 4.B (constants 17.62 and 243.12 °C). Within 0.05 K
    of two independent libraries from 0 to 50 °C and 10 to 100 % humidity, wherever the dew point is
    0 °C or more (computed). Below that, frost forms instead of dew and the formula over water is
    wrong by up to several kelvin, so it is refused rather than guessed.

    Args:
        air_temperature: Air temperature, K, from 228.15 to 333.15 (-45 to 60 °C).
        relative_humidity: Fraction, above 0 and up to 1.

    Returns:
        Dew point, K, never above the air temperature.

    Raises:
        InputError: Temperature or humidity out of range, or dew point below 0 °C.

    Example:
        >>> round(dew_point(293.15, 0.5) - 273.15, 2)
        9.26
    """
    dew = _water_dew_point(air_temperature, relative_humidity)
    if dew < -_SLACK:
        raise InputError(
            "the dew point lies below the frost point, under 0 °C (32 °F)",
            "warm the air, or read the surface for frost by eye",
        )
    return min(max(dew, 0.0) + ZERO_CELSIUS, air_temperature)


def dew_margin(
    surface_temperature: float, air_temperature: float, relative_humidity: float
) -> float:
    """Return how far the surface is above the dew point; negative means water condenses on it.

    Args:
        surface_temperature: Surface temperature, K, from 228.15 to 373.15.
        air_temperature: Air temperature, K, from 228.15 to 333.15.
        relative_humidity: Fraction, above 0 and up to 1.

    Returns:
        Margin, K. Error and source as :func:`dew_point`.

    Example:
        >>> round(dew_margin(286.15, 289.15, 0.71), 2)
        2.26
    """
    temperature("surface temperature", surface_temperature, AIR_LOW, ZERO_CELSIUS + 100.0)
    return surface_temperature - dew_point(air_temperature, relative_humidity)


@dataclass(frozen=True)
class Verdict:
    """May the coating go down? ``state`` is ``go``, ``wait`` or ``don't``; the reasons say why."""

    state: str
    reasons: tuple[str, ...]


@dataclass(frozen=True)
class AirLimits:
    """The limits a product states, K and fractions; ``None`` where it states none.

    Attributes:
        min_surface: Lowest surface temperature, K.
        max_surface: Highest surface temperature, K.
        min_air: Lowest air temperature, K.
        max_air: Highest air temperature, K.
        max_humidity: Highest relative humidity, fraction.
        min_dew_margin: Least distance of the surface above the dew point, K.
    """

    min_surface: float | None
    max_surface: float | None
    min_air: float | None
    max_air: float | None
    max_humidity: float | None
    min_dew_margin: float = DEW_MARGIN


def _span(name: str, value: float, low: float | None, high: float | None) -> list[str]:
    """Return the complaint about a temperature outside its limits, if there is one."""
    if low is not None and value < low - _SLACK:
        return [f"{name} is {degrees(value)}, below the least allowed, {degrees(low)}"]
    if high is not None and value > high + _SLACK:
        return [f"{name} is {degrees(value)}, above the most allowed, {degrees(high)}"]
    return []


def _apart(kelvin: float) -> str:
    """Return a temperature difference as an estimator reads it, such as ``3.0 °C (5.4 °F)``."""
    return f"{kelvin:.1f} °C ({kelvin * 1.8:.1f} °F)"


def _margin(
    surface_temperature: float, air_temperature: float, relative_humidity: float, least: float
) -> tuple[bool, str]:
    """Return whether the dew margin passes, and the words for it.

    A dew point below 0 °C is not computed: the surface is then known to be dry if it is ``least``
    above 0 °C, and held back otherwise.
    """
    dew = _water_dew_point(air_temperature, relative_humidity)
    if dew < -_SLACK:
        margin = surface_temperature - ZERO_CELSIUS
        if margin >= least - _SLACK:
            return True, (
                f"dew point is below 0 °C, so the surface is more than {_apart(margin)} above it"
            )
        return False, (
            "dew point lies below the frost point and the surface is too near freezing to judge:"
            " warm it first"
        )
    margin = surface_temperature - ZERO_CELSIUS - dew
    where = f"dew point is {degrees(dew + ZERO_CELSIUS)}"
    if margin <= 0.0:
        return False, f"{where}, so water condenses on the surface"
    if margin < least - _SLACK:
        only = f"only {_apart(margin)} above it, under {_apart(least)}"
        return False, f"{where}, so the surface is {only}"
    return True, f"{where}, so the surface is {_apart(margin)} above it"


def judge_air(
    surface_temperature: float,
    air_temperature: float,
    relative_humidity: float,
    limits: AirLimits,
) -> Verdict:
    """Return whether the air and the surface allow coating now.

    ``don't`` when the surface itself is out of bounds (near the dew point, too cold, too hot);
    ``wait`` when only the air is out of bounds, which weather or a heater may mend; else ``go``.
    Exactly at a limit passes. 3 K is stricter than the 5 °F (2.78 K) some rules ask for.

    Args:
        surface_temperature: Surface temperature, K, from 228.15 to 373.15.
        air_temperature: Air temperature, K, from 228.15 to 333.15.
        relative_humidity: Fraction, above 0 and up to 1.
        limits: What the product states.

    Returns:
        The verdict. Dew point source and error as :func:`dew_point`.

    Raises:
        InputError: A reading out of range, or a dew margin limit below 0.

    Example:
        >>> limits = AirLimits(283.15, 303.15, 283.15, 303.15, 0.85)
        >>> judge_air(286.15, 289.15, 0.71, limits).state
        "don't"
        >>> judge_air(293.15, 293.15, 0.5, limits)
        Verdict(state='go', reasons=('dew point is 9.3 °C (48.7 °F), so the surface is 10.7 °C\
 (19.3 °F) above it',))
    """
    temperature("surface temperature", surface_temperature, AIR_LOW, ZERO_CELSIUS + 100.0)
    number("least dew point margin", limits.min_dew_margin)
    dry, words = _margin(
        surface_temperature, air_temperature, relative_humidity, limits.min_dew_margin
    )
    surface = _span("surface", surface_temperature, limits.min_surface, limits.max_surface)
    air = _span("air", air_temperature, limits.min_air, limits.max_air)
    if limits.max_humidity is not None and relative_humidity > limits.max_humidity + _SLACK:
        air.append(
            f"humidity is {relative_humidity * 100.0:g} %, above the most allowed,"
            f" {limits.max_humidity * 100.0:g} %"
        )
    if not dry or surface:
        return Verdict("don't", ((words,) if not dry else ()) + tuple(surface + air))
    return Verdict("wait", tuple(air)) if air else Verdict("go", (words,))


@dataclass(frozen=True)
class SurveyTest:
    """One test of a survey: what it measures, in which unit, and which side of a limit passes.

    Attributes:
        title: What is measured, in plain words.
        unit: The trade's unit, as printed.
        si: How many SI units one trade unit is.
        sense: ``at most`` or ``at least``.
        highest: Highest possible reading, in the trade's unit.
    """

    title: str
    unit: str
    si: float
    sense: str
    highest: float


SURVEY_TESTS = {
    "ASTM F2170": SurveyTest("humidity inside the slab at depth", "% RH", 0.01, "at most", 100.0),
    "ASTM F1869": SurveyTest(
        "moisture given off", "lb/1000 ft² in 24 h", MVER_UNIT, "at most", math.inf
    ),
    "ASTM D4263": SurveyTest("plastic sheet, 0 dry or 1 damp", "", 1.0, "at most", 1.0),
    "ASTM D3359": SurveyTest("cross-cut adhesion, 0B to 5B", "B", 1.0, "at least", 5.0),
    "ASTM D7234": SurveyTest("pull-off strength on concrete", "MPa", 1e6, "at least", math.inf),
    "ASTM D4541": SurveyTest("pull-off strength on metal", "MPa", 1e6, "at least", math.inf),
}
"""Survey tests by designation; titles and scales from memory, no limit is stated here."""


def judge_reading(value: float, limit: float, sense: str, what: str = "reading") -> Verdict:
    """Return whether a moisture or adhesion reading meets the limit a product states.

    A reading that must be ``at most`` the limit and is above it may fall by drying: ``wait``. One
    that must be ``at least`` the limit and is below it does not mend itself: ``don't``. Exactly at
    the limit passes.

    Args:
        value: The reading, 0 or more, in the unit of the limit.
        limit: The product's or the user's limit, 0 or more.
        sense: ``at most`` or ``at least``.
        what: Name of the reading for the reason.

    Returns:
        The verdict. Source: a plain comparison; range: any finite reading of 0 or more.

    Example:
        >>> judge_reading(0.8, 0.75, "at most", "slab humidity").reasons
        ('slab humidity is 0.8, more than 0.75: let it dry and read it again',)
        >>> judge_reading(2.1e6, 1.5e6, "at least").state
        'go'
    """
    if sense not in ("at most", "at least"):
        raise InputError(f"{what} has the sense '{sense}'", "write 'at most' or 'at least'")
    number(what, value)
    number(f"limit for {what}", limit)
    slack = _SLACK * limit
    if sense == "at most" and value > limit + slack:
        return Verdict(
            "wait", (f"{what} is {value:g}, more than {limit:g}: let it dry and read it again",)
        )
    if sense == "at least" and value < limit - slack:
        return Verdict(
            "don't", (f"{what} is {value:g}, less than {limit:g}: prepare the surface again",)
        )
    return Verdict("go", (f"{what} is {value:g}, {sense} {limit:g}",))


def judge_survey(designation: str, value: float, limit: float) -> Verdict:
    """Return the verdict on a named survey test, worded in the trade's unit.

    Args:
        designation: A name of :data:`SURVEY_TESTS`.
        value: Reading in SI: fraction, kg/(s·m²), 0 dry or 1 damp, 0 to 5 for 0B to 5B, or Pa.
        limit: Limit in the same unit, from the product or the user, above 0 save for D4263.

    Returns:
        The verdict of :func:`judge_reading`.

    Raises:
        InputError: Unknown test, or a value or limit the test cannot give.

    Example:
        >>> judge_survey("ASTM F1869", 4.0 * MVER_UNIT, 3.0 * MVER_UNIT).state
        'wait'
        >>> judge_survey("ASTM D3359", 4.0, 4.0).state
        'go'
    """
    test = SURVEY_TESTS.get(designation)
    if test is None:
        raise InputError(f"no survey test '{designation}'", f"use {', '.join(SURVEY_TESTS)}")
    what = f"{designation} {test.title}" + (f" in {test.unit}" if test.unit else "")
    number(what, value / test.si, 0.0, test.highest)
    if designation != "ASTM D4263":
        positive(f"limit for {designation}", limit)
    number(f"limit for {designation}", limit / test.si, 0.0, test.highest)
    return judge_reading(value / test.si, limit / test.si, test.sense, what)
