"""What of a piece each batch pours, as upright lines across it.

Contract: pure; any one unit of length. Lines stand evenly; those of a batch are in proportion to
what it pours of the piece, from left to right. A hole is left free.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from typing import NamedTuple

from pourbook.trade.drawing.outlines import Outline
from pourbook.trade.measuring import require

_CLOSE = 1e-9
_MOST = 40
"""Lines a small share is given rather than none."""


class Stroke(NamedTuple):
    """An upright line: its foot at ``x``, ``y``, its ``height``, and which share it belongs to."""

    x: float
    y: float
    height: float
    share: int = 0


def across(outlines: Sequence[Outline], x: float) -> list[tuple[float, float]]:
    """Return where an upright line at x lies within an outline and outside its holes.

    Args:
        outlines: The outline and its holes, each closed; what lies within two of them is outside.
        x: Where the line stands.

    Returns:
        The feet and heights, from below.

    Raises: nothing. Validity: outlines that do not cross each other.
    Source: the even-odd rule of plane geometry.

    Example:
        >>> square = [(0.0, 0.0), (2.0, 0.0), (2.0, 2.0), (0.0, 2.0), (0.0, 0.0)]
        >>> hole = [(0.5, 0.5), (1.5, 0.5), (1.5, 1.5), (0.5, 1.5), (0.5, 0.5)]
        >>> across([square, hole], 1.0)
        [(0.0, 0.5), (1.5, 0.5)]
    """
    crossed = []
    for points in outlines:
        for (x0, y0), (x1, y1) in itertools.pairwise(points):
            if (x0 <= x) != (x1 <= x):
                crossed.append(y0 + (x - x0) * (y1 - y0) / (x1 - x0))
    crossed.sort()
    pairs = zip(crossed[::2], crossed[1::2], strict=False)
    return [(low, high - low) for low, high in pairs if high - low > _CLOSE]


def hatched(outlines: Sequence[Outline], shares: Sequence[float], apart: float) -> list[Stroke]:
    """Return the lines of a piece, each with the share it belongs to.

    Args:
        outlines: The outline and its holes, each closed.
        shares: What each batch pours of it, in their order, above 0; none leaves it empty.
        apart: How far lines stand apart, above 0; a share that is small still has a line.

    Raises:
        InputError: A figure is out of range.

    Units: those of the outline. Validity: as for :func:`across`.
    Source: the area is the sum of lines times their distance (midpoint rule).

    Example:
        >>> bar = [(0.0, 0.0), (4.0, 0.0), (4.0, 1.0), (0.0, 1.0), (0.0, 0.0)]
        >>> [(line.x, line.share) for line in hatched([bar], [3.0, 1.0], 1.0)]
        [(0.5, 0), (1.5, 0), (2.5, 0), (3.5, 1)]
    """
    require("above 0", apart=apart, **{f"share {n}": one for n, one in enumerate(shares, 1)})
    if not shares:
        return []
    wide = max(x for x, _ in outlines[0])
    least = math.ceil(math.fsum(shares) / min(shares)) if len(shares) > 1 else 2
    count = max(round(wide / apart), min(least, _MOST))
    found = []
    for at in range(count):
        x = (at + 0.5) * wide / count
        found += [Stroke(x, y, height) for y, height in across(outlines, x)]
    total, whole = math.fsum(line.height for line in found), math.fsum(shares)
    ends = [math.fsum(shares[: n + 1]) / whole * total for n in range(len(shares))]
    placed, done = [], 0.0
    for line in found:
        middle = done + line.height / 2
        share = next((n for n, end in enumerate(ends) if middle <= end), len(shares) - 1)
        placed.append(Stroke(line.x, line.y, line.height, share))
        done += line.height
    return placed


def seams(lines: Sequence[Stroke]) -> list[float]:
    """Return where two shares meet, between the last line of one and the first of the next.

    Example:
        >>> seams([Stroke(0.5, 0, 1, 0), Stroke(1.5, 0, 1, 0), Stroke(2.5, 0, 1, 1)])
        [2.0]
    """
    return [
        (one.x + other.x) / 2
        for one, other in itertools.pairwise(lines)
        if one.share != other.share
    ]
