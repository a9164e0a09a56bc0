"""Outlines, lines and places of the drawing.

Areas are held against measuring (plane geometry) and, for convex shapes, against scipy's hull.
"""

from __future__ import annotations

import itertools
import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.spatial import ConvexHull

from pourbook.errors import InputError
from pourbook.trade import measuring
from pourbook.trade.drawing import hatch, on_page, outlines

SIZES = {
    "rectangle": [2.4, 0.6],
    "1 round corner": [2.0, 1.0, 0.3],
    "2 round corners": [2.0, 1.0, 0.3],
    "4 round corners": [2.0, 1.0, 0.3],
    "L-shape": [3.2, 0.65, 2.2, 0.6],
    "triangle": [1.2, 0.8],
    "triangle by sides": [0.5, 0.4, 0.3],
    "trapezoid": [1.2, 0.8, 0.5],
    "circle": [1.1],
    "ellipse": [1.4, 0.8],
    "half-round": [1.0, 0.4],
    "waterfall end": [0.9, 0.6],
    "integral backsplash": [2.0, 0.1],
}
CONVEX = [name for name in SIZES if name not in {"L-shape", "half-round"}]


def shoelace(points: outlines.Outline) -> float:
    """Return the area within a closed outline."""
    pairs = itertools.pairwise(points)
    return abs(math.fsum(x0 * y1 - x1 * y0 for (x0, y0), (x1, y1) in pairs)) / 2


def test_every_shape_is_drawn() -> None:
    assert set(SIZES) == set(measuring.SHAPES)


@pytest.mark.parametrize("shape", SIZES)
def test_an_outline_has_the_area_that_is_measured(shape: str) -> None:
    points = outlines.outline(shape, SIZES[shape])
    area = measuring.SHAPES[shape].area(*SIZES[shape])
    # Twenty chords leave out 1.6 % of a circle: 1 - sin(2 pi / 20) / (2 pi / 20).
    assert shoelace(points) == pytest.approx(area, rel=0.0164)
    assert shoelace(points) <= area * (1 + 1e-9)
    if not {"round", "circle", "ellipse"} & set(shape.replace("-", " ").split()):
        assert shoelace(points) == pytest.approx(area, rel=1e-9)


@pytest.mark.parametrize("shape", CONVEX)
def test_an_outline_is_the_hull_scipy_finds(shape: str) -> None:
    points = outlines.outline(shape, SIZES[shape])
    assert shoelace(points) == pytest.approx(ConvexHull(points).volume, rel=1e-9)


@pytest.mark.parametrize("shape", SIZES)
def test_an_outline_is_closed_lies_and_begins_on_top(shape: str) -> None:
    points = outlines.outline(shape, SIZES[shape])
    wide, high = outlines.spans(points)
    assert points[0] == points[-1]
    assert min(x for x, _ in points) == min(y for _, y in points) == 0
    assert wide >= high * (1 - 1e-9)
    assert points[0][1] == pytest.approx(high)


def test_a_trapezoid_stands_even_on_its_longer_side() -> None:
    """Sides of 1.2 and 0.8 m, 0.5 m apart: each leg goes in by 0.2 m."""
    points = outlines.outline("trapezoid", [0.8, 1.2, 0.5])
    drawn = [math.dist(one, two) for one, two in itertools.pairwise(points)]
    assert sum(math.isclose(side, math.hypot(0.2, 0.5)) for side in drawn) == 2


@pytest.mark.parametrize("corners", [1, 2, 4])
def test_as_many_corners_are_round_as_are_named(corners: int) -> None:
    """A round corner of 0.5 m takes (1 - pi/4) of 0.25 m² off; its chords a little more."""
    name = f"{corners} round corner{'s' if corners > 1 else ''}"
    drawn = shoelace(outlines.outline(name, [1.0, 1.0, 0.5]))
    assert drawn == pytest.approx(1 - corners * (1 - math.pi / 4) * 0.25, abs=0.006 * corners)


@pytest.mark.parametrize("sides", [(0.5, 0.4, 0.3), (0.6, 0.5, 0.4), (0.4, 0.9, 0.7)])
def test_a_triangle_has_the_sides_it_is_drawn_by(sides: tuple[float, float, float]) -> None:
    points = outlines.outline("triangle by sides", sides)
    drawn = [math.dist(one, two) for one, two in itertools.pairwise(points)]
    assert sorted(drawn) == pytest.approx(sorted(sides))


def test_what_is_no_shape_is_refused() -> None:
    with pytest.raises(InputError, match="not drawn"):
        outlines.outline("star", [1.0])


_SIDE = st.floats(0.2, 6.0)


@settings(max_examples=60)
@given(a=_SIDE, b=_SIDE, hole=st.floats(0.1, 0.9), shares=st.lists(st.floats(0.2, 1.0), max_size=4))
def test_lines_cover_what_each_share_is_of_the_area(
    a: float, b: float, hole: float, shares: list[float]
) -> None:
    around = outlines.outline("rectangle", [a, b])
    wide, high = outlines.spans(around)
    inner = outlines.outline("rectangle", [wide * hole, high * hole])
    corner = (wide - wide * hole) / 2, (high - high * hole) / 2
    cut = [(corner[0] + x, corner[1] + y) for x, y in inner]
    found = hatch.hatched([around, cut], shares, wide / 400)
    assert bool(found) is bool(shares)
    assert all(0 < line.x < wide and 0 <= line.y < high for line in found)
    net = wide * high * (1 - hole * hole)
    for turn, share in enumerate(shares):
        area = math.fsum(line.height for line in found if line.share == turn) * wide / 400
        assert area == pytest.approx(net * share / math.fsum(shares), abs=net * 0.012)
    assert len(hatch.seams(found)) == max(len(shares) - 1, 0)


def test_a_small_share_has_a_line() -> None:
    bar = outlines.outline("rectangle", [4.0, 1.0])
    found = hatch.hatched([bar], [19.0, 1.0], 2.0)
    assert {line.share for line in found} == {0, 1}


_BOX = st.builds(
    on_page.Boxed, _SIDE, st.floats(0.1, 4.0), st.sampled_from("AB"), st.integers(0, 30)
)


@settings(max_examples=60)
@given(pieces=st.lists(_BOX, min_size=1, max_size=24))
def test_pieces_are_on_the_page_and_apart(pieces: list[on_page.Boxed]) -> None:
    pieces = sorted(pieces, key=lambda piece: piece.room)
    placed = on_page.place(pieces)
    boxes = [
        (x, y, x + piece.wide * placed.scale, y + piece.high * placed.scale)
        for (x, y), piece in zip(placed.corners, pieces, strict=True)
    ]
    for left, low, right, high in boxes:
        assert -1e-6 <= left <= right <= on_page.WIDE + 1e-6
        assert -1e-6 <= low <= high <= on_page.HIGH
    for one, other in itertools.combinations(boxes, 2):
        beside = one[2] <= other[0] + 1e-6 or other[2] <= one[0] + 1e-6
        assert beside or one[3] <= other[1] + 1e-6 or other[3] <= one[1] + 1e-6
    rooms = {row: piece.room for row, piece in zip(placed.rows, pieces, strict=True)}
    assert all(rooms[row] == piece.room for row, piece in zip(placed.rows, pieces, strict=True))


def test_more_names_than_a_page_holds_are_refused() -> None:
    many = [on_page.Boxed(1.0, 1.0, str(n), 9) for n in range(40)]
    with pytest.raises(InputError, match="do not fit the page"):
        on_page.place(many)
