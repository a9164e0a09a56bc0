"""Areas of counters, bars, vanities and floors as an estimator measures them.

Contract: lengths in m in, areas in m² out. A shape that cannot exist is refused, never guessed.
:data:`SHAPES` is the one list of shapes a worksheet may name. :func:`require` is the range check
every trade module uses, so that a bad figure is refused in the same words everywhere.

Source of the formulas, unless a function says otherwise: plane geometry.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from typing import Literal, NamedTuple

from pourbook.errors import InputError

Point = tuple[float, float]
Rule = Literal["any", "above 0", "0 or more", "below 100 %", "up to 100 %"]

_RULES: dict[Rule, tuple[Callable[[float], bool], str, str]] = {
    "any": (math.isfinite, "is not a number", "type a number"),
    "above 0": (lambda x: x > 0, "is not above 0", "type a figure above 0"),
    "0 or more": (lambda x: x >= 0, "is below 0", "type 0 or more"),
    "below 100 %": (lambda x: 0 <= x < 1, "is not 0 % to below 100 %", "type a share below 100 %"),
    "up to 100 %": (lambda x: 0 < x <= 1, "is not above 0 % to 100 %", "type a share up to 100 %"),
}
# No job holds a figure as large as this, and up to it no formula overflows.
LARGEST = 1e12
# Share of a shape's size below which a distance is rounding noise of converted units.
_NOISE = 1e-9


def require(rule: Rule, **figures: float) -> None:
    """Refuse the first figure that breaks the rule, by its name with underscores as spaces.

    Args:
        rule: The range every figure must lie in; shares are fractions of 1.
        **figures: The figures by name.

    Raises:
        InputError: A figure is no number, is above 1e12, or lies outside the range.

    Example:
        >>> require("above 0", volume_solids=0.0)
        Traceback (most recent call last):
        pourbook.errors.InputError: volume solids is not above 0: type a figure above 0
    """
    fits, what, mend = _RULES[rule]
    for name, figure in figures.items():
        if abs(figure) <= LARGEST and fits(figure):
            continue
        label = name.replace("_", " ")
        if abs(figure) > LARGEST:
            raise InputError(f"{label} is far too large", "check the figure")
        raise InputError(f"{label} {what}", mend)


def rectangle(length: float, width: float) -> float:
    """Return the area of a rectangle, m².

    Args:
        length: Length, m, above 0.
        width: Width, m, above 0.

    Raises:
        InputError: A dimension is not above 0.

    Example:
        >>> rectangle(2.0, 0.5)
        1.0
    """
    require("above 0", length=length, width=width)
    return length * width


def l_shape(a: float, b: float, c: float, d: float) -> float:
    """Return the area of an L-shaped top, m², counting the corner once.

    Args:
        a: Outer length of leg 1, m, above 0.
        b: Depth of leg 1, m, above 0.
        c: Outer length of leg 2, measured along the other side and including the corner, m, >= b.
        d: Depth of leg 2, m, above 0, <= a.

    Raises:
        InputError: A dimension is not above 0, or the legs do not make an L.

    Example:
        >>> l_shape(3.0, 0.5, 2.0, 0.5)
        2.25
    """
    require("above 0", leg_1_length=a, leg_1_depth=b, leg_2_length=c, leg_2_depth=d)
    if c < b:
        raise InputError("leg 2 is shorter than leg 1 is deep", "measure leg 2 with the corner")
    if d > a:
        raise InputError("leg 2 is deeper than leg 1 is long", "check leg 1 length, leg 2 depth")
    return a * b + (c - b) * d


def triangle(base: float, height: float) -> float:
    """Return the area of a triangle, m², from a side and the height square to it.

    Args:
        base: Any side, m, above 0.
        height: Height square to that side, m, above 0.

    Raises:
        InputError: A dimension is not above 0.

    Example:
        >>> triangle(2.0, 1.5)
        1.5
    """
    require("above 0", base=base, height=height)
    return base * height / 2


def triangle_sides(a: float, b: float, c: float) -> float:
    """Return the area of a triangle, m², from its three sides, in any order.

    Heron's formula with the sides sorted by size, which keeps its figures for thin triangles.

    Args:
        a: First side, m, above 0.
        b: Second side, m, above 0.
        c: Third side, m, above 0.

    Raises:
        InputError: A side is not above 0, or two sides together do not reach past the third.

    Example:
        >>> triangle_sides(3.0, 4.0, 5.0)
        6.0
    """
    require("above 0", side_1=a, side_2=b, side_3=c)
    short, middle, long = sorted((a, b, c))
    slack = short - (long - middle)
    if slack <= _NOISE * short:
        raise InputError("the three sides do not close", "measure the longest side again")
    product = (long + (middle + short)) * slack * (short + (long - middle))
    return math.sqrt(product * (long + (middle - short))) / 4


def trapezoid(side_1: float, side_2: float, height: float) -> float:
    """Return the area of a trapezoid, m².

    Args:
        side_1: One of the two parallel sides, m, above 0.
        side_2: The other parallel side, m, above 0.
        height: Distance between them, m, above 0.

    Raises:
        InputError: A dimension is not above 0.

    Example:
        >>> trapezoid(2.0, 1.0, 0.5)
        0.75
    """
    require("above 0", side_1=side_1, side_2=side_2, height=height)
    return (side_1 + side_2) / 2 * height


def circle(diameter: float) -> float:
    """Return the area of a circle, m².

    Args:
        diameter: Diameter, m, above 0.

    Raises:
        InputError: The diameter is not above 0.

    Example:
        >>> round(circle(2.0), 6)
        3.141593
    """
    require("above 0", diameter=diameter)
    return math.pi * diameter**2 / 4


def ellipse(d1: float, d2: float) -> float:
    """Return the area of an ellipse, m².

    Args:
        d1: Longest diameter, m, above 0.
        d2: Diameter square to it, m, above 0.

    Raises:
        InputError: A diameter is not above 0.

    Example:
        >>> round(ellipse(2.0, 1.0), 6)
        1.570796
    """
    require("above 0", long_diameter=d1, short_diameter=d2)
    return math.pi * d1 * d2 / 4


def half_round(diameter: float, depth: float | None = None) -> float:
    """Return the area of a half circle, m², or with a depth of a half ellipse.

    Args:
        diameter: Length of the straight side, m, above 0.
        depth: How far the round side stands out from the straight one, m, above 0; None for half
            the diameter.

    Raises:
        InputError: A dimension is not above 0.

    Example:
        >>> round(half_round(2.0), 6), round(half_round(2.0, 0.5), 6)
        (1.570796, 0.785398)
    """
    depth = diameter / 2 if depth is None else depth
    require("above 0", diameter=diameter, depth=depth)
    return math.pi * diameter * depth / 4


def _distance_to_edge(point: Point, start: Point, end: Point) -> float:
    """Return the distance from a point to the straight edge between two different points."""
    along = (end[0] - start[0], end[1] - start[1])
    reach = (point[0] - start[0]) * along[0] + (point[1] - start[1]) * along[1]
    share = min(1.0, max(0.0, reach / (along[0] ** 2 + along[1] ** 2)))
    return math.dist(point, (start[0] + share * along[0], start[1] + share * along[1]))


def _cross(start: Point, end: Point, point: Point) -> float:
    """Return twice the signed area of the triangle the three points make."""
    return (end[0] - start[0]) * (point[1] - start[1]) - (end[1] - start[1]) * (point[0] - start[0])


def _edges_meet(points: list[Point], i: int, j: int, noise: float) -> bool:
    """Say whether edges i < j of a closed outline meet anywhere but in the corner neighbours share.

    An edge runs from the corner of its own number to the next.
    """
    first, second = (i, i + 1), (j, (j + 1) % len(points))
    start_1, end_1, start_2, end_2 = (points[k] for k in first + second)
    gaps = [_distance_to_edge(points[k], start_2, end_2) for k in first if k not in second]
    gaps += [_distance_to_edge(points[k], start_1, end_1) for k in second if k not in first]
    if min(gaps) <= noise:
        return True
    astride_1 = (_cross(start_1, end_1, start_2) > 0) != (_cross(start_1, end_1, end_2) > 0)
    astride_2 = (_cross(start_2, end_2, start_1) > 0) != (_cross(start_2, end_2, end_1) > 0)
    return len(gaps) == 4 and astride_1 and astride_2


def polygon(corners: Sequence[Point]) -> float:
    """Return the area inside straight edges, m², from the corners in order (shoelace formula).

    The first corner may be repeated at the end; corners typed twice in a row count once.

    Args:
        corners: At least three (x, y) pairs, m, in order around the edge, either way round.

    Raises:
        InputError: A coordinate is no number, there are fewer than three different corners, the
            edges touch or cross, or they enclose nothing.

    Example:
        >>> polygon([(0, 0), (3, 0), (3, 0.5), (0.5, 0.5), (0.5, 2), (0, 2)])
        2.25
    """
    for i, (x, y) in enumerate(corners, 1):
        require("any", **{f"corner {i} x": x, f"corner {i} y": y})
    size = max((math.dist(corners[0], corner) for corner in corners), default=0.0)
    noise = _NOISE * size
    points = [p for i, p in enumerate(corners) if math.dist(p, corners[i - 1]) > noise]
    n = len(points)
    if n < 3:
        raise InputError("fewer than 3 different corners", "give at least 3 corners")
    around = "list the corners in order around the edge"
    area = abs(math.fsum(_cross(points[0], points[i - 1], points[i]) for i in range(2, n))) / 2
    if area <= noise * size:
        raise InputError("the corners enclose no area", around)
    if any(_edges_meet(points, i, j, noise) for j in range(n) for i in range(j)):
        raise InputError("the edges cross or touch", around)
    return area


def round_corners(length: float, width: float, radius: float, corners: int) -> float:
    """Return the area of a rectangle with some of its corners rounded, m².

    A corner of radius r loses what a square of it has beyond a quarter circle, (1 - pi/4) r².

    Args:
        length: Length, m, above 0.
        width: Width, m, above 0.
        radius: Radius of each round corner, m, above 0, at most the shorter side; half of it where
            two round corners share a side.
        corners: How many corners are round, 1 to 4.

    Raises:
        InputError: A dimension is not above 0, or the radius has no room.

    Example:
        >>> round(round_corners(2.0, 1.0, 0.5, 4), 6)
        1.785398
    """
    require("above 0", length=length, width=width, radius=radius)
    if corners not in (1, 2, 3, 4):
        raise InputError(f"{corners} corners of a rectangle are round", "give 1 to 4")
    room = min(length, width) / (1 if corners == 1 else 2)
    if radius > room * (1 + _NOISE):
        raise InputError("the radius has no room in the piece", "check the radius and the sides")
    return length * width - corners * (1 - math.pi / 4) * radius**2


def backsplash(run: float, height: float, cove: float | None = None) -> float:
    """Return the area of a backsplash in one with its top, m².

    A cove of radius r takes r off the wall and r off the top and puts a quarter circle there; the
    top is measured to the wall, so its share is taken off here.

    Args:
        run: Length along the wall, m, above 0.
        height: Height above the top, m, above 0.
        cove: Radius of the cove, m, above 0 and at most the height; None for a square joint.

    Raises:
        InputError: A dimension is not above 0, or the cove is higher than the splash.

    Example:
        >>> backsplash(2.0, 0.1), round(backsplash(2.0, 0.1, 0.02), 6)
        (0.2, 0.182832)
    """
    require("above 0", run=run, height=height)
    if cove is None:
        return run * height
    require("above 0", cove=cove)
    if cove > height * (1 + _NOISE):
        raise InputError("the cove is higher than the backsplash", "check the cove and the height")
    return run * (height - (2 - math.pi / 2) * cove)


class Shape(NamedTuple):
    """A shape a worksheet may name.

    Attributes:
        area: The area function, lengths in m, area in m².
        dimensions: Its arguments in order, each with the label an estimator reads.
        optional: The arguments that may be left out.
        leans: Whether it may lean to a side, so that its sizes set no bound to its outline.
        surface: What it is of a piece: top, edge or splash; the last two stand upright.
    """

    area: Callable[..., float]
    dimensions: dict[str, str]
    optional: tuple[str, ...] = ()
    leans: bool = False
    surface: str = "top"


def _with_round(corners: int) -> Callable[[float, float, float], float]:
    def area(length: float, width: float, radius: float) -> float:
        return round_corners(length, width, radius, corners)

    return area


_ROUND = {"length": "length", "width": "width", "radius": "radius of the corners"}
SHAPES: dict[str, Shape] = {
    "rectangle": Shape(rectangle, {"length": "length", "width": "width"}),
    "1 round corner": Shape(_with_round(1), _ROUND),
    "2 round corners": Shape(_with_round(2), _ROUND),
    "4 round corners": Shape(_with_round(4), _ROUND),
    "L-shape": Shape(
        l_shape,
        {
            "a": "leg 1 outer length",
            "b": "leg 1 depth",
            "c": "leg 2 outer length, with the corner",
            "d": "leg 2 depth",
        },
    ),
    "triangle": Shape(triangle, {"base": "base", "height": "height"}, leans=True),
    "triangle by sides": Shape(triangle_sides, {"a": "side 1", "b": "side 2", "c": "side 3"}),
    "trapezoid": Shape(
        trapezoid,
        {"side_1": "parallel side 1", "side_2": "parallel side 2", "height": "distance between"},
        leans=True,
    ),
    "circle": Shape(circle, {"diameter": "diameter"}),
    "ellipse": Shape(ellipse, {"d1": "long diameter", "d2": "short diameter"}),
    "half-round": Shape(half_round, {"diameter": "straight side", "depth": "depth"}, ("depth",)),
    "waterfall end": Shape(rectangle, {"length": "drop", "width": "depth"}, surface="edge"),
    "integral backsplash": Shape(
        backsplash,
        {"run": "run", "height": "height", "cove": "radius of the cove"},
        ("cove",),
        surface="splash",
    ),
}


def net_area(gross: float, cutouts: Sequence[float]) -> float:
    """Return the area left when sinks, hobs and other cutouts are taken off, m².

    Args:
        gross: Area of the whole piece, m², above 0.
        cutouts: Area of each cutout, m², >= 0; may be empty.

    Raises:
        InputError: A figure is out of range, or the cutouts are larger than the piece.

    Example:
        >>> net_area(2.0, [0.25, 0.25])
        1.5
    """
    require("above 0", piece_area=gross)
    require("0 or more", **{f"cutout {i}": cutout for i, cutout in enumerate(cutouts, 1)})
    cut = math.fsum(cutouts)
    if cut > gross:
        raise InputError("the cutouts are larger than the piece", "check the cutouts")
    return gross - cut
