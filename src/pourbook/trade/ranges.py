"""Shared refusals of the curing, air, heat and calendar formulas.

Contract: each guard returns the number it was given, or refuses it with
:class:`pourbook.errors.InputError` in the estimator's words; temperatures are spoken of in degrees
Celsius and Fahrenheit, never in kelvin. Nothing here computes a trade quantity.
"""

from __future__ import annotations

import math

from pourbook.errors import MisreadError, RangeError

ZERO_CELSIUS = 273.15
"""0 degrees Celsius in kelvin (exact)."""


def degrees(kelvin: float) -> str:
    """Return a temperature as an estimator reads it.

    Example:
        >>> degrees(293.15)
        '20 °C (68 °F)'
    """
    celsius = kelvin - ZERO_CELSIUS
    return f"{_plain(celsius)} °C ({_plain(celsius * 1.8 + 32.0)} °F)"


def _plain(value: float) -> str:
    """Return a number to one decimal without a trailing ``.0`` or a negative zero."""
    return f"{round(value, 1) + 0.0:.1f}".removesuffix(".0")


def number(name: str, value: float, low: float = 0.0, high: float = math.inf) -> float:
    """Return ``value`` if it is a finite number from ``low`` to ``high``, ends included.

    Example:
        >>> number("ratio", 2.0)
        2.0
        >>> number("humidity", 1.5, 0.0, 1.0)
        Traceback (most recent call last):
        ...
        pourbook.errors.RangeError: humidity is 1.5: give a number from 0 to 1
    """
    if not (math.isfinite(value) and low <= value <= high):
        span = f"of {low:g} or more" if high == math.inf else f"from {low:g} to {high:g}"
        raise RangeError(f"{name} is {value:g}", f"give a number {span}")
    return value


def positive(name: str, value: float) -> float:
    """Return ``value`` if it is a finite number above nothing.

    Example:
        >>> positive("pot life", 0.0)
        Traceback (most recent call last):
        ...
        pourbook.errors.RangeError: pot life is 0: give a number above 0
    """
    if not (math.isfinite(value) and value > 0.0):
        raise RangeError(f"{name} is {value:g}", "give a number above 0")
    return value


def temperature(name: str, kelvin: float, low: float, high: float) -> float:
    """Return ``kelvin`` if it lies from ``low`` to ``high`` kelvin, ends included.

    Example:
        >>> temperature("air temperature", 20.0, 228.15, 333.15)
        Traceback (most recent call last):
        ...
        pourbook.errors.RangeError: air temperature of -253.1 °C (-423.7 °F) is outside the range\
 -45 °C (-49 °F) to 60 °C (140 °F): give a temperature inside it
    """
    if not math.isfinite(kelvin):
        raise MisreadError(f"{name} is no temperature", "give a temperature")
    if not low <= kelvin <= high:
        raise RangeError(
            f"{name} of {degrees(kelvin)} is outside the range {degrees(low)} to {degrees(high)}",
            "give a temperature inside it",
        )
    return kelvin
