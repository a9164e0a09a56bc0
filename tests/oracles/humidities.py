"""The way back from a dew point to a humidity.

Contract: pure functions on SI floats, for tests alone.
"""

from __future__ import annotations

import math

from pourbook.trade.air import AIR_HIGH, AIR_LOW, _magnus
from pourbook.trade.ranges import ZERO_CELSIUS, temperature


def humidity_at_dew_point(air_temperature: float, dew: float) -> float:
    """Return the relative humidity of air whose dew point is known; undoes :func:`dew_point`.

    Args:
        air_temperature: Air temperature, K, from 228.15 to 333.15.
        dew: Dew point, K, from 273.15 up to the air temperature.

    Returns:
        Relative humidity, fraction. Source and error as :func:`dew_point`.

    Example:
        >>> from pourbook.trade.air import dew_point
        >>> round(humidity_at_dew_point(293.15, dew_point(293.15, 0.5)), 9)
        0.5
    """
    temperature("air temperature", air_temperature, AIR_LOW, AIR_HIGH)
    temperature("dew point", dew, ZERO_CELSIUS, air_temperature)
    return math.exp(_magnus(dew - ZERO_CELSIUS) - _magnus(air_temperature - ZERO_CELSIUS))
