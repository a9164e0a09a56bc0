"""Areas of pieces against shapely, which knows nothing but corners: computed, live.

Each shape is drawn here corner by corner, so that the oracle shares no formula with the project. A
round one is a polygon of so many corners that what is cut off is below the tolerance.
"""

from __future__ import annotations

import math

import pytest
from shapely import Point, Polygon, affinity, box, union_all

from pourbook.trade.measuring import SHAPES, net_area, polygon

MANY = 20_000
"""Sides of a quarter of a round: 1e-9 of its area is cut off."""
ROUND = 2e-8


def oracle(shape: str, *s: float) -> float:
    """Return the area of a shape drawn by its corners."""
    if shape == "rectangle":
        return float(box(0, 0, s[0], s[1]).area)
    if shape == "L-shape":
        a, b, c, d = s
        return float(union_all([box(0, 0, a, b), box(0, 0, d, c)]).area)
    if shape == "triangle":
        return float(Polygon([(0, 0), (s[0], 0), (s[0] * 0.3, s[1])]).area)
    if shape == "triangle by sides":
        a, b, c = s
        x = (a * a + b * b - c * c) / (2 * a)
        return float(Polygon([(0, 0), (a, 0), (x, math.sqrt(b * b - x * x))]).area)
    if shape == "trapezoid":
        one, two, height = s
        return float(Polygon([(0, 0), (one, 0), (0.1 + two, height), (0.1, height)]).area)
    if shape in {"circle", "ellipse", "half-round"}:
        wide, high = s[0] / 2, (s[1] if len(s) > 1 else s[0]) / 2
        if shape == "half-round":
            high = s[1] if len(s) > 1 else wide
        full = affinity.scale(Point(0, 0).buffer(1, quad_segs=MANY), wide, high)
        half = full.intersection(box(-wide, 0, wide, high)) if shape == "half-round" else full
        return float(half.area)
    corners = int(shape[0])
    length, width, radius = s
    whole = box(0, 0, length, width)
    spots = [(0, 0), (length, 0), (0, width), (length, width)][:corners]
    for x, y in spots:
        inner = (radius if x == 0 else length - radius, radius if y == 0 else width - radius)
        square = box(*(min(x, inner[0]), min(y, inner[1])), *(max(x, inner[0]), max(y, inner[1])))
        whole = whole.difference(square.difference(Point(inner).buffer(radius, quad_segs=MANY)))
    return float(whole.area)


FIGURES = [
    ("rectangle", 2.4892, 0.6604),
    ("rectangle", 0.05, 3.0),
    ("L-shape", 3.0, 0.65, 2.2, 0.6),
    ("L-shape", 1.2, 0.6, 0.6, 1.2),
    ("triangle", 1.5, 0.8),
    ("triangle by sides", 3.0, 4.0, 5.0),
    ("triangle by sides", 1.1, 0.9, 1.7),
    ("trapezoid", 2.0, 1.4, 0.65),
    ("trapezoid", 0.4, 0.9, 1.2),
    ("circle", 1.0668),
    ("circle", 0.3),
    ("ellipse", 2.1, 1.05),
    ("half-round", 1.8),
    ("half-round", 1.8, 0.4),
    ("half-round", 0.9, 0.9),
    ("1 round corner", 1.5, 0.7, 0.2),
    ("2 round corners", 1.8, 0.9, 0.45),
    ("2 round corners", 1.8, 0.9, 0.1),
    ("4 round corners", 1.2, 0.8, 0.05),
    ("4 round corners", 1.2, 0.8, 0.4),
]


@pytest.mark.parametrize("figure", FIGURES, ids=lambda f: " ".join(map(str, f)))
def test_an_area_is_that_of_its_corners(figure: tuple[str, float]) -> None:
    shape, *sizes = figure
    assert SHAPES[shape].area(*sizes) == pytest.approx(oracle(shape, *sizes), rel=ROUND)


OUTLINES = [
    [(0, 0), (3, 0), (3, 2), (1, 2), (1, 3), (0, 3)],
    [(0, 0), (2.4, 0.1), (2.2, 0.9), (1.1, 1.4), (0.2, 0.8)],
    [(0, 0), (4, 0), (4, 3), (2, 1), (0, 3)],
    [(5.5, 1.2), (1.2, 4.4), (0.3, 0.4)],
    [(0, 0), (0, 2), (0.6, 2), (0.6, 0.6), (2.4, 0.6), (2.4, 2), (3, 2), (3, 0)],
    [(math.cos(a / 10), math.sin(a / 10)) for a in range(0, 62, 3)],
]


@pytest.mark.parametrize("corners", OUTLINES, ids=lambda c: f"{len(c)} corners")
@pytest.mark.parametrize("way", [1, -1])
def test_an_outline_is_that_of_its_corners(corners: list[tuple[float, float]], way: int) -> None:
    assert polygon(corners[::way]) == pytest.approx(Polygon(corners).area, rel=1e-12)


@pytest.mark.parametrize(
    ("wide", "deep", "bowls"),
    [(2.5, 0.65, [(0.84, 0.56)]), (3.1, 0.7, [(0.5, 0.4), (0.5, 0.4)]), (1.0, 0.55, [(0.4, 0.3)])],
)
def test_what_is_cut_out_is_left_out(
    wide: float, deep: float, bowls: list[tuple[float, float]]
) -> None:
    piece, at = box(0, 0, wide, deep), 0.1
    for length, width in bowls:
        piece = piece.difference(box(at, 0.05, at + length, 0.05 + width))
        at += length + 0.1
    cut = [length * width for length, width in bowls]
    assert net_area(wide * deep, cut) == pytest.approx(piece.area, rel=1e-12)
