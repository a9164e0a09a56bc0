"""How fast a two-part mix cures at a given temperature: the Kamal-Sourour rate, and its sum.

Contract: conversions are fractions, times seconds, temperatures kelvin; pure and deterministic. The
constants come from a product's own calorimetry: no set for a room-temperature coating is shipped,
because none was found that could be read and cited. Without them use the stated pot life
(:mod:`pourbook.trade.cure.heat`).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

from pourbook.errors import InputError
from pourbook.records import dataclass
from pourbook.trade.cure.curing import COLDEST, HOTTEST, R_GAS
from pourbook.trade.cure.ode import integrate
from pourbook.trade.ranges import number, temperature

TOLERANCE = 1e-9


@dataclass(frozen=True)
class Kinetics:
    """Kamal-Sourour constants of a mix: da/dt = (k1 + k2·a^m)·(1 - a)^n, k = A·exp(-E/RT).

    Attributes:
        a1: First rate constant A1, 1/s, 0 or more.
        e1: First energy E1, J/mol, 0 or more.
        a2: Second rate constant A2, 1/s, 0 or more.
        e2: Second energy E2, J/mol, 0 or more.
        m: Power of the conversion, 0 or more.
        n: Power of what is left, 0 or more.
    """

    a1: float
    e1: float
    a2: float
    e2: float
    m: float
    n: float

    def __post_init__(self) -> None:
        """Refuse constants no cure can have."""
        for name in ("a1", "e1", "a2", "e2", "m", "n"):
            number(f"kinetic constant {name}", getattr(self, name))

    def parts(self, conversion: float, kelvin: float) -> tuple[float, float]:
        """Return the two summands of the rate, 1/s, with the conversion held from 0 to 1."""
        a = conversion if 0.0 < conversion < 1.0 else float(conversion >= 1.0)
        left, warmth = (1.0 - a) ** self.n, R_GAS * kelvin
        first = self.a1 * math.exp(-self.e1 / warmth)
        second = self.a2 * math.exp(-self.e2 / warmth)
        return first * left, second * a**self.m * left

    def begins(self, conversion: float) -> None:
        """Refuse a mix whose rate is nothing at the start, which would never cure on paper."""
        if sum(self.parts(conversion, HOTTEST)) <= 0.0 and conversion < 1.0:
            raise InputError(
                "these kinetics never begin from a fresh mix", "give a first rate constant above 0"
            )


def conversions(
    kinetics: Kinetics,
    kelvin_at: Callable[[float], float],
    times: Sequence[float],
    start: float = 0.0,
) -> list[float]:
    """Return the conversion at each time along any smooth temperature.

    Runge-Kutta 5(4) with step control; within 1e-7 of the closed forms the tests hold it to.

    Args:
        kinetics: The mix's constants.
        kelvin_at: Temperature, K, from 200 to 1000, as a function of time in s.
        times: Times wanted, s, rising, 0 or more.
        start: Conversion at time 0, fraction.

    Returns:
        Conversions, fractions, one for each time.

    Raises:
        InputError: Times that do not rise, a temperature out of range, or a cure that never begins.

    Example:
        >>> first_order = Kinetics(0.001, 0.0, 0.0, 0.0, 0.0, 1.0)
        >>> [round(a, 6) for a in conversions(first_order, lambda t: 300.0, [0.0, 1000.0])]
        [0.0, 0.632121]
    """
    number("starting conversion", start, 0.0, 1.0)
    kinetics.begins(start)

    def rate(seconds: float, values: list[float]) -> list[float]:
        kelvin = temperature("temperature", kelvin_at(seconds), COLDEST, 1000.0)
        return [sum(kinetics.parts(values[0], kelvin))]

    found: list[float] = []
    now, conversion = 0.0, start
    for seconds in times:
        if not seconds >= now:
            raise InputError("the times wanted run backwards", "list them in order")
        if seconds > now:
            *_, last = integrate(rate, [conversion], now, seconds, TOLERANCE)
            now, conversion = seconds, min(1.0, last.values[0])
        found.append(conversion)
    return found


def heated(
    kinetics: Kinetics, begin: float, kelvin_per_second: float, times: Sequence[float]
) -> list[float]:
    """Return the conversion at each time on a steady ramp; see :func:`conversions`.

    Args:
        kinetics: The mix's constants.
        begin: Temperature at time 0, K.
        kelvin_per_second: Heating rate, K/s.
        times: Times wanted, s, rising.

    Returns:
        Conversions, fractions.

    Example:
        >>> kinetics = Kinetics(1.666e8, 80000.0, 1.666e13, 120000.0, 1.0, 0.7)
        >>> [round(a, 3) for a in heated(kinetics, 293.0, 5.0 / 60.0, [881.9, 1166.3])]
        [0.1, 0.5]
    """
    return conversions(kinetics, lambda seconds: begin + kelvin_per_second * seconds, times)
