"""A small Runge-Kutta integrator for the cure and heat equations.

Contract: deterministic; Dormand and Prince 5(4), 1980, with the usual step control (coefficients
from memory; the tests hold it to closed forms and to scipy). Each accepted step is a :class:`Knot`;
between knots a cubic through both values and slopes is used.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from operator import mul
from typing import NamedTuple

from pourbook.errors import InputError

Rate = Callable[[float, "list[float]"], "list[float]"]
MOST_STEPS = 200_000

_NODES = (0.2, 0.3, 0.8, 8.0 / 9.0, 1.0, 1.0)
_ROWS = (
    (0.2,),
    (3.0 / 40.0, 9.0 / 40.0),
    (44.0 / 45.0, -56.0 / 15.0, 32.0 / 9.0),
    (19372.0 / 6561.0, -25360.0 / 2187.0, 64448.0 / 6561.0, -212.0 / 729.0),
    (9017.0 / 3168.0, -355.0 / 33.0, 46732.0 / 5247.0, 49.0 / 176.0, -5103.0 / 18656.0),
    (35.0 / 384.0, 0.0, 500.0 / 1113.0, 125.0 / 192.0, -2187.0 / 6784.0, 11.0 / 84.0),
)
_ERROR = (
    71.0 / 57600.0,
    0.0,
    -71.0 / 16695.0,
    71.0 / 1920.0,
    -17253.0 / 339200.0,
    22.0 / 525.0,
    -1.0 / 40.0,
)


class Knot(NamedTuple):
    """An accepted point: time, values and slopes."""

    time: float
    values: list[float]
    slopes: list[float]


def _step(rate: Rate, knot: Knot, h: float) -> tuple[Knot, list[float]]:
    """Return the point one step on, and the error estimate of each value."""
    slopes = knot.slopes
    values = knot.values
    stages = [[slope] for slope in slopes]  # of each value
    for row, node in zip(_ROWS, _NODES, strict=True):
        values = [
            value + h * sum(map(mul, row, known))
            for value, known in zip(knot.values, stages, strict=True)
        ]
        slopes = rate(knot.time + node * h, values)
        for known, slope in zip(stages, slopes, strict=True):
            known.append(slope)
    errors = [h * sum(map(mul, _ERROR, known)) for known in stages]
    return Knot(knot.time + h, values, slopes), errors


def integrate(
    rate: Rate, values: list[float], begin: float, end: float, tolerance: float
) -> Iterator[Knot]:
    """Yield the accepted points from ``begin`` to exactly ``end``, the first being the start.

    Args:
        rate: Slopes as a function of time and values.
        values: Values at ``begin``.
        begin: Start time, s.
        end: End time, s, not before ``begin``.
        tolerance: Error allowed in one step, relative to one plus the size of each value.

    Raises:
        InputError: The cure is too abrupt to follow in :data:`MOST_STEPS` steps.

    Example:
        >>> last = list(integrate(lambda t, y: [-y[0]], [1.0], 0.0, 1.0, 1e-10))[-1]
        >>> round(last.values[0], 8)
        0.36787944
    """
    knot = Knot(begin, values, rate(begin, values))
    yield knot
    h = (end - begin) / 100.0 or end - begin
    for _ in range(MOST_STEPS):
        if knot.time >= end:
            return
        last = h >= end - knot.time
        new, errors = _step(rate, knot, end - knot.time if last else h)
        worst = max(
            abs(errors[j]) / (tolerance * (1.0 + abs(new.values[j]))) for j in range(len(errors))
        )
        if worst <= 1.0:
            knot = Knot(end, new.values, new.slopes) if last else new
            yield knot
        h *= min(5.0, max(0.2, 0.9 * worst**-0.2)) if worst > 0.0 else 5.0
    raise InputError(
        "this cure changes too abruptly to follow", "check its rate constants and its heat loss"
    )


def between(first: Knot, second: Knot, part: float) -> Knot:
    """Return the cubic through two knots at a fraction ``part`` of the way.

    Example:
        >>> line = between(Knot(0.0, [0.0], [0.0]), Knot(1.0, [1.0], [2.0]), 0.5)
        >>> line.values, line.slopes
        ([0.25], [1.0])
    """
    h = second.time - first.time
    s = part
    values, slopes = [], []
    for j in range(len(first.values)):
        p, q = first.values[j], second.values[j]
        a, b = h * first.slopes[j], h * second.slopes[j]
        c2, c3 = 3.0 * (q - p) - 2.0 * a - b, 2.0 * (p - q) + a + b
        values.append(p + s * (a + s * (c2 + s * c3)))
        slopes.append((a + s * (2.0 * c2 + 3.0 * s * c3)) / h)
    return Knot(first.time + s * h, values, slopes)


def crossing(first: Knot, second: Knot, passed: Callable[[Knot], bool]) -> Knot:
    """Return the point between two knots from which ``passed`` holds, by bisection.

    Example:
        >>> rise = crossing(Knot(0, [0.0], [1.0]), Knot(4, [4.0], [1.0]), lambda k: k.values[0] > 3)
        >>> round(rise.time, 9)
        3.0
    """
    low, high = 0.0, 1.0
    for _ in range(60):
        middle = (low + high) / 2.0
        if passed(between(first, second, middle)):
            high = middle
        else:
            low = middle
    return between(first, second, high)
