"""Single checks of a logged batch.

Contract: pure functions on SI floats, for tests alone.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from pourbook.errors import InputError
from pourbook.trade.air import DEW_MARGIN, AirLimits, dew_margin, judge_air
from pourbook.trade.logged import _SLACK, LogCheck
from pourbook.trade.mixing import Basis
from pourbook.trade.ranges import number
from pourbook.trade.weighing import worst_off


def check_ratio(
    masses: Sequence[float],
    ratio: Sequence[float],
    densities: Sequence[float],
    basis: Basis,
    tolerance: float,
) -> LogCheck:
    """Check the weighed parts of a batch against the product's ratio.

    Args:
        masses: Mass weighed of each part, kg, the base first, each 0 or more.
        ratio: 1 to 3 parts, each above 0.
        densities: Density of each part, kg/m³, above 0; any one figure where all is by mass.
        basis: Whether the ratio is by ``volume`` or by ``mass``.
        tolerance: Largest share a part may be off, 0 or more.

    Returns:
        The check; its figure is the largest share off, without a sign.

    Raises:
        InputError: As for :func:`pourbook.trade.mixing.off_ratio`, or a tolerance below 0.

    Example:
        >>> check_ratio([2.0, 1.25], [2.0, 1.0], [1000.0, 1000.0], "mass", 0.05).words
        'a part is 25.0 % off the ratio, 5 % may be'
    """
    number("tolerance", tolerance)
    if not masses or len(masses) != len(ratio):
        raise InputError("not every part has its mass", "give one mass a part")
    off = worst_off(masses, ratio, densities, basis)
    holds = off <= tolerance * (1 + _SLACK) + _SLACK
    if off == math.inf:
        return LogCheck(False, off, tolerance, "the base is missing")
    words = f"a part is {off * 100:.1f} % off the ratio, {tolerance * 100:g} % may be"
    return LogCheck(holds, off, tolerance, words)


def check_dew(surface: float, air: float, humidity: float, least: float = DEW_MARGIN) -> LogCheck:
    """Check how far the surface was above the dew point.

    Args:
        surface: Surface temperature, K, from 228.15 to 373.15.
        air: Air temperature, K, from 228.15 to 333.15.
        humidity: Relative humidity, fraction, above 0 and up to 1.
        least: Least distance above the dew point, K, 0 or more.

    Returns:
        The check; figure in K, nan where the dew point is below 0 °C and no margin is worked out.
        It holds then as :func:`pourbook.trade.air.judge_air` has it.

    Raises:
        InputError: A reading out of range.

    Example:
        >>> check_dew(286.15, 289.15, 0.71).holds
        False
    """
    verdict = judge_air(
        surface, air, humidity, AirLimits(None, None, None, None, None, min_dew_margin=least)
    )
    try:
        margin = dew_margin(surface, air, humidity)
    except InputError:  # frost: judged above without a figure
        margin = math.nan
    return LogCheck(verdict.state == "go", margin, least, verdict.reasons[0])
