"""The outline of a piece and of what is cut out of it, from the sizes that were measured.

Contract: pure; lengths in m, points as (x, y) with y upwards, no point below or left of 0. An
outline is closed: its first point, in the midst of the upper edge where it can be, is its last. Of
what its sizes leave open (the side a triangle leans to, where a cutout lies) the middle is taken.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

from pourbook.errors import InputError

Point = tuple[float, float]
Outline = list[Point]
_AROUND = 20
"""Chords a circle is drawn with: its area is then 1.6 % short."""
_CUTOUT = 8
"""Chords of a round cutout."""
_QUARTER = 4
"""Chords of a round corner."""


def outline(shape: str, sizes: Sequence[float]) -> Outline:
    """Return the outline of a piece, its long side level.

    Args:
        shape: A shape of :data:`pourbook.trade.measuring.SHAPES`.
        sizes: Its sizes in m, in their order there, without those left out.

    Raises:
        InputError: There is no such shape, or the sizes make none.

    Units: m. Validity: sizes above 0 that the area of the shape takes.
    Source: plane geometry.

    Example:
        >>> outline("rectangle", [1.0, 2.0])
        [(1.0, 1.0), (0.0, 1.0), (0.0, 0.0), (2.0, 0.0), (2.0, 1.0), (1.0, 1.0)]
    """
    if shape not in _SHAPES:
        raise InputError(f"'{shape}' is not drawn", "choose a shape from the list of Rooms")
    return closed(_lying(_SHAPES[shape](*sizes)))


def of_area(area: float) -> Outline:
    """Return the square of an area in m2, for a piece of which no more is known.

    Example:
        >>> of_area(4.0)[0]
        (1.0, 2.0)
    """
    return outline("rectangle", [math.sqrt(area)] * 2)


def closed(corners: Sequence[Point]) -> Outline:
    """Return corners as a closed outline that begins in the midst of its highest level edge.

    Args:
        corners: The corners in turn, m, the first not repeated.

    Raises: nothing. Validity: three corners or more.
    Source: plane geometry.

    Example:
        >>> closed([(1.0, 1.0), (3.0, 1.0), (2.0, 2.0)])
        [(1.0, 1.0), (0.0, 0.0), (2.0, 0.0), (1.0, 1.0)]
    """
    left, low = (min(point[axis] for point in corners) for axis in (0, 1))
    moved = [(x - left, y - low) for x, y in corners]
    top = max(y for _, y in moved)
    for at, (x, y) in enumerate(moved):
        nx, ny = moved[(at + 1) % len(moved)]
        if math.isclose(y, top) and math.isclose(ny, top):
            begin = ((x + nx) / 2, top)
            return [begin, *moved[at + 1 :], *moved[: at + 1], begin]
    at = next(at for at, (_, y) in enumerate(moved) if y == top)
    return [*moved[at:], *moved[:at], moved[at]]


def turned(points: Sequence[Point]) -> Outline:
    """Return corners turned by a quarter, still going round the same way.

    Example:
        >>> turned([(0.0, 0.0), (1.0, 0.0), (1.0, 2.0)])
        [(0.0, 0.0), (0.0, 1.0), (-2.0, 1.0)]
    """
    return [(0.0 - y, x) for x, y in points]


def spans(points: Sequence[Point]) -> tuple[float, float]:
    """Return how wide and how high an outline is, m.

    Example:
        >>> spans(outline("circle", [2.0]))
        (2.0, 2.0)
    """
    found = [max(p[axis] for p in points) - min(p[axis] for p in points) for axis in (0, 1)]
    return found[0], found[1]


def _lying(corners: Sequence[Point]) -> Sequence[Point]:
    wide, high = spans(corners)
    return turned(corners) if high > wide * (1 + 1e-9) else corners


def _rectangle(length: float, width: float, *_: float) -> Outline:
    return [(0.0, 0.0), (length, 0.0), (length, width), (0.0, width)]


def _arc(x: float, y: float, radius: float, quarter: int) -> Outline:
    """Return the points of a round corner about a middle, from one quarter turn to the next."""
    turns = [(quarter + step / _QUARTER) * math.pi / 2 for step in range(_QUARTER + 1)]
    return [(x + radius * math.cos(turn), y + radius * math.sin(turn)) for turn in turns]


def _round(corners: int) -> Callable[[float, float, float], Outline]:
    """Return the drawer of a rectangle with so many round corners, the ones on the right first."""

    def draw(length: float, width: float, radius: float) -> Outline:
        found: Outline = []
        for place, (x, y, quarter) in enumerate(
            ((length, 0.0, 3), (length, width, 0), (0.0, width, 1), (0.0, 0.0, 2))
        ):
            if place < corners:
                inward = (radius if x == 0 else -radius), (radius if y == 0 else -radius)
                found += _arc(x + inward[0], y + inward[1], radius, quarter)
            else:
                found.append((x, y))
        return found

    return draw


def _l_shape(a: float, b: float, c: float, d: float) -> Outline:
    return [(0.0, 0.0), (d, 0.0), (d, c - b), (a, c - b), (a, c), (0.0, c)]


def _triangle(base: float, height: float) -> Outline:
    return [(0.0, 0.0), (base, 0.0), (base / 2, height)]


def _by_sides(a: float, b: float, c: float) -> Outline:
    x = (a * a + c * c - b * b) / (2 * a)
    return [(0.0, 0.0), (a, 0.0), (x, math.sqrt(max(c * c - x * x, 0.0)))]


def _trapezoid(side_1: float, side_2: float, height: float) -> Outline:
    low, high = max(side_1, side_2), min(side_1, side_2)
    left = (low - high) / 2
    return [(0.0, 0.0), (low, 0.0), (left + high, height), (left, height)]


def cutout(shape: str, sizes: Sequence[float]) -> Outline:
    """Return the outline of what is cut out, by fewer points than a piece has; as :func:`outline`.

    Example:
        >>> len(cutout("circle", [0.4])), len(outline("circle", [0.4]))
        (9, 21)
    """
    if shape in {"circle", "ellipse"}:
        return closed(_lying(ellipse(sizes[0], sizes[-1], _CUTOUT)))
    return outline(shape, sizes)


def ellipse(wide: float, high: float, around: int = _AROUND) -> Outline:
    """Return the corners that stand for an ellipse about 0, 0, sizes in m.

    Example:
        >>> len(ellipse(2.0, 1.0)), ellipse(2.0, 1.0)[0]
        (20, (1.0, 0.0))
    """
    turns = [2 * math.pi * step / around for step in range(around)]
    return [(wide / 2 * math.cos(turn), high / 2 * math.sin(turn)) for turn in turns]


def _half_round(side: float, depth: float | None = None) -> Outline:
    deep = side / 2 if depth is None else depth
    turns = [math.pi * step / (_AROUND - 6) for step in range(_AROUND - 5)]
    return [(side / 2 * math.cos(turn), -deep * math.sin(turn)) for turn in turns][::-1]


_SHAPES: dict[str, Callable[..., Outline]] = {
    "rectangle": _rectangle,
    "1 round corner": _round(1),
    "2 round corners": _round(2),
    "4 round corners": _round(4),
    "L-shape": _l_shape,
    "triangle": _triangle,
    "triangle by sides": _by_sides,
    "trapezoid": _trapezoid,
    "circle": lambda diameter: ellipse(diameter, diameter),
    "ellipse": ellipse,
    "half-round": _half_round,
    "waterfall end": _rectangle,
    "integral backsplash": _rectangle,
}
