"""The Kamal-Sourour rate alone, and its sum at one temperature.

Contract: pure functions on SI floats, for tests alone.
"""

from __future__ import annotations

from collections.abc import Sequence

from pourbook.trade.cure.kinetics import Kinetics, conversions
from pourbook.trade.ranges import number, temperature


def kamal_rate(kinetics: Kinetics, conversion: float, kelvin: float) -> float:
    """Return the rate of cure.

    Kamal and Sourour's form, read with values in the tests of an open kinetics package (see the
    published checks).

    Args:
        kinetics: The mix's constants.
        conversion: Fraction cured, 0 to 1.
        kelvin: Temperature, K, from 50 to 1000; constants hold only where they were fitted.

    Returns:
        Rate, 1/s.

    Example:
        >>> kinetics = Kinetics(1.666e8, 80000.0, 1.666e13, 120000.0, 1.0, 0.7)
        >>> f"{kamal_rate(kinetics, 0.0, 293.0):.4e}"
        '9.1188e-07'
    """
    number("conversion", conversion, 0.0, 1.0)
    temperature("temperature", kelvin, 50.0, 1000.0)
    return sum(kinetics.parts(conversion, kelvin))


def isothermal(kinetics: Kinetics, kelvin: float, times: Sequence[float]) -> list[float]:
    """Return the conversion at each time at one temperature; see :func:`conversions`.

    Example:
        >>> second_order = Kinetics(0.001, 0.0, 0.0, 0.0, 0.0, 2.0)
        >>> [round(a, 6) for a in isothermal(second_order, 300.0, [1000.0])]
        [0.5]
    """
    return conversions(kinetics, lambda _: kelvin, times)
