"""Cure and temperature: pot life, equivalent age and maturity.

Contract: times in seconds, temperatures in kelvin, energies in joules per mole; pure functions. The
one law here is Arrhenius with a constant energy: exact algebra, but itself an approximation.
Published energies of amine-cured epoxies run from about 44 to 65 kJ/mol, so without the product's
own energy a time 10 K away from its reference is uncertain by some 15 % either way, and by more
further away. Nothing here knows that a film stops curing as it turns to glass.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from pourbook.errors import InputError
from pourbook.trade.ranges import number, positive, temperature

R_GAS = 8.314462618
"""Molar gas constant, J/(mol·K), to ten figures (CODATA 2018, from memory)."""

COLDEST = 200.0
HOTTEST = 700.0
HIGHEST_ENERGY = 4e5


def _kelvin(name: str, value: float) -> float:
    """Return a temperature within the span this module computes with."""
    return temperature(name, value, COLDEST, HOTTEST)


def rate_ratio(energy: float, first: float, second: float) -> float:
    """Return how many times faster the cure runs at ``second`` than at ``first``.

    Arrhenius: exp(E/R · (1/first - 1/second)).

    Args:
        energy: Activation energy E, J/mol, from 0 to 400 000.
        first: Temperature, K, from 200 to 700.
        second: Temperature, K, from 200 to 700.

    Returns:
        The ratio, dimensionless. Exact for a constant energy; see the module's note on its error.

    Raises:
        InputError: A number out of range.

    Example:
        >>> round(rate_ratio(55000.0, 298.15, 308.15), 4)
        2.0544
    """
    number("activation energy in J/mol", energy, 0.0, HIGHEST_ENERGY)
    _kelvin("temperature", first)
    _kelvin("temperature", second)
    return math.exp(energy / R_GAS * (1.0 / first - 1.0 / second))


def ten_degree_energy(first: float, second: float, factor: float = 2.0) -> float:
    """Return the energy with which the rate grows by ``factor`` per 10 K between two temperatures.

    Arrhenius solved for E over the whole span: R · ln(factor) · first · second / 10 K. The common
    doubling rule is no constant energy: 47.8 kJ/mol from 10 to 20 °C, 52.9 from 25 to 35 °C.

    Args:
        first: Temperature, K, from 200 to 700.
        second: Temperature, K, from 200 to 700.
        factor: Growth of the rate per 10 K, 1 or more.

    Returns:
        Energy, J/mol.

    Example:
        >>> round(ten_degree_energy(298.15, 308.15))
        52949
    """
    number("factor per 10 degrees", factor, 1.0)
    _kelvin("temperature", first)
    _kelvin("temperature", second)
    return R_GAS * math.log(factor) * first * second / 10.0


def pot_life(kelvin: float, stated: float, reference: float, energy: float) -> float:
    """Return the pot life at another temperature of the mix, for the same mass.

    Stated pot life divided by :func:`rate_ratio`. A mass that heats itself is not at the room's
    temperature: see :func:`pourbook.trade.cure.heat.pot_life_of_batch`.

    Args:
        kelvin: Temperature, K, from 200 to 700.
        stated: Stated pot life, s, above 0.
        reference: Temperature the pot life is stated at, K.
        energy: Activation energy, J/mol.

    Returns:
        Pot life, s.

    Example:
        >>> round(pot_life(308.15, 1800.0, 298.15, 52949.0))
        900
    """
    return positive("pot life", stated) / rate_ratio(energy, reference, kelvin)


def _pieces(durations: Sequence[float], temperatures: Sequence[float]) -> None:
    """Refuse a history whose lists do not match or whose durations run backwards."""
    if len(durations) != len(temperatures):
        raise InputError(
            f"{len(durations)} durations for {len(temperatures)} temperatures", "give one for each"
        )
    for seconds in durations:
        number("duration", seconds)


def equivalent_age(
    durations: Sequence[float], temperatures: Sequence[float], energy: float, reference: float
) -> float:
    """Return the time at the reference temperature that cures as much as this history does.

    Sum of duration × :func:`rate_ratio`; the form printed with MatLib node187 eq. 12.16 (read).

    Args:
        durations: Length of each piece, s, 0 or more.
        temperatures: Temperature of each piece, K, as many.
        energy: Activation energy, J/mol.
        reference: Reference temperature, K.

    Returns:
        Equivalent age, s.

    Example:
        >>> day = equivalent_age([21600.0] * 4, [283.15, 288.15, 293.15, 298.15], 55000.0, 298.15)
        >>> round(day / 3600.0, 3)
        14.74
    """
    _pieces(durations, temperatures)
    return math.fsum(
        durations[i] * rate_ratio(energy, reference, temperatures[i]) for i in range(len(durations))
    )
