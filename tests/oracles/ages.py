"""Activation energies and the Nurse-Saul maturity.

Contract: pure functions on SI floats, for tests alone.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from pourbook.errors import InputError
from pourbook.trade.cure.curing import R_GAS, _kelvin, _pieces
from pourbook.trade.ranges import degrees, positive


def energy_between(first: float, first_time: float, second: float, second_time: float) -> float:
    """Return the energy implied by one cure stated at two temperatures, such as two pot lives.

    Arrhenius solved for E: R · ln(t1/t2) / (1/T1 - 1/T2).

    Args:
        first: Temperature, K, from 200 to 700.
        first_time: Time at ``first``, s, above 0.
        second: Temperature, K, from 200 to 700, not equal to ``first``.
        second_time: Time at ``second``, s, above 0; shorter where it is warmer.

    Returns:
        Energy, J/mol.

    Example:
        >>> round(energy_between(423.15, 16.4 * 60, 473.15, 4.2 * 60) / 1000.0, 2)
        45.35
    """
    _kelvin("temperature", first)
    _kelvin("temperature", second)
    positive("time", first_time)
    positive("time", second_time)
    if first == second:
        raise InputError(
            f"both times are stated at {degrees(first)}", "give times at two different temperatures"
        )
    energy = R_GAS * math.log(first_time / second_time) / (1.0 / first - 1.0 / second)
    if energy < 0.0:
        raise InputError(
            "the warmer temperature has the longer time", "swap the two times, or check the sheet"
        )
    return energy


def nurse_saul(durations: Sequence[float], temperatures: Sequence[float], datum: float) -> float:
    """Return the Nurse-Saul maturity of a history, for comparison with the equivalent age.

    Sum of duration × (T - datum), counting nothing below the datum. A straight line in place of
    Arrhenius: it overrates cold and underrates hot cure. Form read (see the published checks).

    Args:
        durations: Length of each piece, s, 0 or more.
        temperatures: Temperature of each piece, K, as many, from 200 to 700.
        datum: Datum temperature, K, from 200 to 700.

    Returns:
        Maturity, K·s.

    Example:
        >>> nurse_saul([86400.0], [288.15], 262.15) / 86400.0
        26.0
    """
    _pieces(durations, temperatures)
    _kelvin("datum temperature", datum)
    return math.fsum(
        durations[i] * max(0.0, _kelvin("temperature", temperatures[i]) - datum)
        for i in range(len(durations))
    )
