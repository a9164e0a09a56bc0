"""Gel point and glass transition of a two-part mix, from its chemistry.

Contract: conversions and ratios are fractions, temperatures in kelvin; pure functions. These are
ideal-network laws: real mixes gel a little later than computed because rings form, and cure at
room temperature stalls once the glass transition passes the room's temperature.
"""

from __future__ import annotations

import math

from pourbook.errors import InputError
from pourbook.trade.cure.curing import COLDEST, HOTTEST
from pourbook.trade.ranges import degrees, number, positive, temperature


def gel_conversions(
    epoxy_functions: float, amine_functions: float, ratio: float = 1.0
) -> tuple[float, float]:
    """Return the conversions of epoxy and of amine hydrogen at which the mix gels.

    Flory 1941 and Stockmayer 1943 (from memory): the product of both is 1/((f - 1)(g - 1)), and
    the epoxy conversion is ``ratio`` times that of the amine.

    Args:
        epoxy_functions: Epoxide groups a resin molecule carries (f), from 2 to 20.
        amine_functions: Active hydrogens a hardener molecule carries (g), from 2 to 20.
        ratio: Amine hydrogens for one epoxide (r), above 0.

    Returns:
        Conversion of epoxy, conversion of amine hydrogen; fractions.

    Raises:
        InputError: A number out of range, or a mix so far off ratio that it never gels.

    Example:
        >>> [round(part, 6) for part in gel_conversions(2, 4)]
        [0.57735, 0.57735]
    """
    number("groups on the resin", epoxy_functions, 2.0, 20.0)
    number("groups on the hardener", amine_functions, 2.0, 20.0)
    positive("ratio of hardener to resin groups", ratio)
    branching = (epoxy_functions - 1.0) * (amine_functions - 1.0)
    if branching <= 1.0:
        raise InputError(
            "two groups on each molecule only make chains, which never gel",
            "give the hardener three active hydrogens or more",
        )
    epoxy = math.sqrt(ratio / branching)
    amine = math.sqrt(1.0 / (ratio * branching))
    if max(epoxy, amine) > 1.0 + 1e-12:
        raise InputError(
            f"with {ratio:g} hardener groups for one resin group the mix never gels",
            f"keep the ratio between {1.0 / branching:.3g} and {branching:.3g}",
        )
    return epoxy, amine


def _glass(uncured: float, cured: float, shape: float) -> None:
    """Refuse glass transition constants that describe no curing resin."""
    temperature("glass transition uncured", uncured, 100.0, HOTTEST)
    temperature("glass transition cured", cured, 100.0, HOTTEST)
    positive("shape of the glass transition curve", shape)
    number("shape of the glass transition curve", shape, 0.0, 1.0)
    if uncured >= cured:
        raise InputError(
            f"the mix turns to glass at {degrees(uncured)} uncured but {degrees(cured)} cured",
            "the cured figure is the higher one",
        )


def glass_transition(conversion: float, uncured: float, cured: float, shape: float) -> float:
    """Return the glass transition temperature of a mix cured part of the way.

    DiBenedetto: Tg = Tg0 + (Tg1 - Tg0) · L · a / (1 - (1 - L) · a); form and values read in the
    tests of an open kinetics package (see the published checks).

    Args:
        conversion: Fraction cured (a), 0 to 1.
        uncured: Glass transition of the fresh mix (Tg0), K, from 100 to 700.
        cured: Glass transition fully cured (Tg1), K, above ``uncured``, up to 700.
        shape: L, the ratio of heat capacity steps, above 0 and up to 1.

    Returns:
        Glass transition temperature, K; an empirical fit, good to a few kelvin when fitted.

    Example:
        >>> round(glass_transition(0.5, 173.15, 373.15, 0.5) - 273.15, 5)
        -33.33333
    """
    number("conversion", conversion, 0.0, 1.0)
    _glass(uncured, cured, shape)
    return uncured + (cured - uncured) * shape * conversion / (1.0 - (1.0 - shape) * conversion)


def conversion_at_glass(kelvin: float, uncured: float, cured: float, shape: float) -> float:
    """Return how far a mix cures at one temperature before it turns to glass and nearly stops.

    Undoes :func:`glass_transition`. Above ``cured`` nothing stops it and the answer is 1.

    Args:
        kelvin: Cure temperature, K, from 200 to 700, not below ``uncured``.
        uncured: Glass transition of the fresh mix, K, from 100 to 700.
        cured: Glass transition fully cured, K, above ``uncured``.
        shape: L, above 0 and up to 1.

    Returns:
        Conversion, fraction; error as :func:`glass_transition`.

    Example:
        >>> round(conversion_at_glass(298.15, 253.15, 333.15, 0.45), 4)
        0.7407
    """
    temperature("cure temperature", kelvin, COLDEST, HOTTEST)
    _glass(uncured, cured, shape)
    if kelvin < uncured:
        raise InputError(
            f"at {degrees(kelvin)} the fresh mix is already glass", "warm it before mixing"
        )
    part = min(1.0, (kelvin - uncured) / (cured - uncured))
    return part / (shape + (1.0 - shape) * part)
