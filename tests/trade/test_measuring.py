"""Areas: behaviour, refusals, and properties every shape must have."""

from __future__ import annotations

import inspect
import math
from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad

from pourbook.errors import InputError
from pourbook.trade.edges import edge_area, edge_girth, splash_area
from pourbook.trade.measuring import (
    SHAPES,
    backsplash,
    circle,
    ellipse,
    half_round,
    l_shape,
    net_area,
    polygon,
    rectangle,
    require,
    round_corners,
    trapezoid,
    triangle,
    triangle_sides,
)

lengths = st.floats(0.01, 100.0)
scales = st.floats(0.1, 10.0)


def half_ellipse_by_strips(diameter: float, depth: float) -> float:
    """Integrate the height of a half ellipse along its straight side."""
    half = diameter / 2
    area, _ = quad(lambda x: depth * math.sqrt(1 - (x / half) ** 2), -half, half, epsabs=0)
    return float(area)


def test_l_shape_counts_its_corner_once() -> None:
    # 3.0 by 0.6 m along the wall, and 2.0 by 0.5 m along the other wall, corner 0.6 by 0.5 m
    assert l_shape(3.0, 0.6, 2.0, 0.5) == pytest.approx(3.0 * 0.6 + 2.0 * 0.5 - 0.6 * 0.5)


@given(lengths, lengths, lengths, lengths)
def test_l_shape_is_its_own_outline(b: float, d: float, more_a: float, more_c: float) -> None:
    a, c = d + more_a, b + more_c
    outline = [(0.0, 0.0), (a, 0.0), (a, b), (d, b), (d, c), (0.0, c)]
    assert l_shape(a, b, c, d) == pytest.approx(polygon(outline))


@given(lengths, lengths)
def test_round_shapes_agree_with_integration(diameter: float, depth: float) -> None:
    half = half_ellipse_by_strips(diameter, depth)
    assert half_round(diameter, depth) == pytest.approx(half, rel=1e-7)
    assert ellipse(diameter, 2 * depth) == pytest.approx(2 * half, rel=1e-7)


def test_half_round_without_depth_is_half_a_circle() -> None:
    assert half_round(1.4) == pytest.approx(circle(1.4) / 2)
    assert circle(1.4) == pytest.approx(math.pi * 0.7 * 0.7)


def test_three_sides_of_a_known_triangle_in_any_order() -> None:
    # 13, 14, 15: height 12 on the side of 14, so 84
    for sides in ((13.0, 14.0, 15.0), (15.0, 13.0, 14.0), (14.0, 15.0, 13.0)):
        assert triangle_sides(*sides) == pytest.approx(84.0)


def test_thin_triangle_keeps_its_figures() -> None:
    # sides 100, 100 and 0.000001: area = base/2 * sqrt(100² - (base/2)²), all but base * 50
    assert triangle_sides(100.0, 100.0, 1e-6) == pytest.approx(5e-5, rel=1e-9)


@given(lengths, lengths, st.floats(0.1, math.pi - 0.1))
def test_three_sides_agree_with_two_sides_and_angle(a: float, b: float, angle: float) -> None:
    c = math.dist((a, 0.0), (b * math.cos(angle), b * math.sin(angle)))
    area = triangle(a, b * math.sin(angle))
    assert triangle_sides(a, b, c) == pytest.approx(area, rel=1e-6)


@pytest.mark.parametrize("sides", [(1.0, 2.0, 3.5), (1.0, 2.0, 3.0), (0.1, 0.2, 0.3)])
def test_sides_that_do_not_close_are_refused(sides: tuple[float, float, float]) -> None:
    with pytest.raises(InputError, match="do not close"):
        triangle_sides(*sides)


@given(lengths, lengths, lengths)
def test_trapezoid_is_two_triangles(side_1: float, side_2: float, height: float) -> None:
    halves = triangle(side_1, height) + triangle(side_2, height)
    assert trapezoid(side_1, side_2, height) == pytest.approx(halves)


@given(lengths, lengths, st.floats(0.01, 0.99))
def test_splitting_a_rectangle_changes_nothing(length: float, width: float, cut: float) -> None:
    pieces = rectangle(length * cut, width) + rectangle(length * (1 - cut), width)
    assert pieces == pytest.approx(rectangle(length, width))


PLAIN = {
    "rectangle": (2.0, 0.6),
    "1 round corner": (2.0, 0.6, 0.3),
    "2 round corners": (2.0, 0.6, 0.3),
    "4 round corners": (2.0, 0.6, 0.3),
    "L-shape": (3.0, 0.6, 2.0, 0.5),
    "triangle": (2.0, 0.6),
    "triangle by sides": (3.0, 4.0, 4.5),
    "trapezoid": (2.0, 1.5, 0.6),
    "circle": (1.2,),
    "ellipse": (1.2, 0.8),
    "half-round": (1.2, 0.5),
    "waterfall end": (0.9, 0.6),
    "integral backsplash": (2.0, 0.1, 0.02),
}


@pytest.mark.parametrize("corners", [1, 2, 3, 4])
@pytest.mark.parametrize("radius", [0.01, 0.2, 0.3])
def test_round_corners_agree_with_integration(corners: int, radius: float) -> None:
    """By strips: a corner of a square of the radius keeps what lies under a quarter circle."""
    kept, _ = quad(lambda x: math.sqrt(radius**2 - x**2), 0.0, radius)
    by_strips = 2.0 * 0.6 - corners * (radius**2 - kept)
    assert round_corners(2.0, 0.6, radius, corners) == pytest.approx(by_strips, rel=1e-9)


def test_four_round_corners_end_in_a_circle() -> None:
    assert round_corners(0.8, 0.8, 0.4, 4) == pytest.approx(circle(0.8))


@pytest.mark.parametrize(("radius", "corners"), [(0.31, 2), (0.61, 1), (0.1, 5), (0.1, 0)])
def test_radius_without_room_is_refused(radius: float, corners: int) -> None:
    with pytest.raises(InputError):
        round_corners(2.0, 0.6, radius, corners)


def test_cove_is_a_quarter_circle_in_the_corner() -> None:
    """By hand: splash 100 mm high, cove 20 mm, so 91.416 mm are left of the height.

    80 mm of wall, a quarter circle of 31.416 mm, and 20 mm less of the top, whose own row goes to
    the wall.
    """
    assert backsplash(2.0, 0.1, 0.02) == pytest.approx(2.0 * 0.091416, abs=2e-6)
    with pytest.raises(InputError, match="higher than the backsplash"):
        backsplash(2.0, 0.1, 0.11)


def test_every_named_shape_is_tried_below() -> None:
    assert list(SHAPES) == list(PLAIN)


@pytest.mark.parametrize("name", PLAIN)
def test_shape_table_names_the_arguments_in_order(name: str) -> None:
    shape = SHAPES[name]
    arguments = inspect.signature(shape.area).parameters
    assert list(shape.dimensions) == list(arguments)
    may_be_left_out = tuple(n for n, a in arguments.items() if a.default is not a.empty)
    assert shape.optional == may_be_left_out


@pytest.mark.parametrize("name", PLAIN)
@given(scale=scales)
def test_area_grows_with_the_square_of_the_size(name: str, scale: float) -> None:
    area = SHAPES[name].area
    larger = area(*(scale * size for size in PLAIN[name]))
    assert larger == pytest.approx(scale**2 * area(*PLAIN[name]))


@pytest.mark.parametrize("name", PLAIN)
@pytest.mark.parametrize("bad", [0.0, -1.0, math.nan, math.inf, 1e200])
def test_every_dimension_of_every_shape_is_checked(name: str, bad: float) -> None:
    sizes = PLAIN[name]
    for i in range(len(sizes)):
        with pytest.raises(InputError):
            SHAPES[name].area(*sizes[:i], bad, *sizes[i + 1 :])


def test_impossible_l_shapes_are_refused() -> None:
    with pytest.raises(InputError, match="leg 2 is shorter"):
        l_shape(3.0, 0.6, 0.5, 0.5)
    with pytest.raises(InputError, match="leg 2 is deeper"):
        l_shape(3.0, 0.6, 2.0, 3.1)


def test_l_shape_may_shrink_to_a_rectangle() -> None:
    assert l_shape(3.0, 0.6, 0.6, 0.5) == pytest.approx(1.8)
    assert l_shape(3.0, 0.6, 2.0, 3.0) == pytest.approx(6.0)


BAY = [(0.0, 0.0), (4.0, 0.0), (4.0, 3.0), (2.0, 1.0), (0.0, 3.0)]  # 12 less a 4 by 2 notch: 8


def test_polygon_with_a_notch_either_way_round() -> None:
    assert polygon(BAY) == pytest.approx(8.0)
    assert polygon(BAY[::-1]) == pytest.approx(8.0)


def test_polygon_may_close_on_its_first_corner_or_repeat_one() -> None:
    assert polygon([*BAY, BAY[0]]) == pytest.approx(8.0)
    assert polygon([*BAY[:2], BAY[1], *BAY[2:]]) == pytest.approx(8.0)


def test_polygon_may_have_a_corner_on_a_straight_edge() -> None:
    assert polygon([(0, 0), (1, 0), (2, 0), (2, 1), (0, 1)]) == pytest.approx(2.0)


@given(scales, st.floats(-1000, 1000), st.floats(-1000, 1000), st.floats(0, 2 * math.pi))
def test_polygon_moves_and_turns_freely(scale: float, dx: float, dy: float, turn: float) -> None:
    sin, cos = scale * math.sin(turn), scale * math.cos(turn)
    moved = [(dx + cos * x - sin * y, dy + sin * x + cos * y) for x, y in BAY]
    assert polygon(moved) == pytest.approx(8.0 * scale**2, rel=1e-6)


@given(st.lists(st.floats(0.5, 5.0), min_size=3, max_size=12))
def test_polygon_around_a_point_is_its_slices(spokes: list[float]) -> None:
    step = 2 * math.pi / len(spokes)
    corners = [(r * math.cos(i * step), r * math.sin(i * step)) for i, r in enumerate(spokes)]
    slices = sum(r * spokes[i - 1] * math.sin(step) / 2 for i, r in enumerate(spokes))
    assert polygon(corners) == pytest.approx(slices)


@pytest.mark.parametrize(
    ("corners", "what"),
    [
        ([], "fewer than 3"),
        ([(0, 0), (1, 0)], "fewer than 3"),
        ([(0, 0), (1, 0), (0, 0), (0, 0)], "fewer than 3|no area"),
        ([(0, 0), (1, 1), (3, 3)], "no area"),
        ([(0, 0), (2, 2), (2, 0), (0, 2)], "no area"),  # bow-tie, its halves cancel
        ([(0, 0), (3, 2), (3, 0), (0, 1)], "cross or touch"),  # bow-tie of unlike halves
        ([(0, 0), (4, 0), (4, 2), (2, 0), (0, 2)], "cross or touch"),  # a corner on an edge
        ([(0, 0), (2, 1), (4, 0), (4, 3), (2, 1), (0, 2)], "cross or touch"),  # pinched at a corner
        ([(0, 0), (4, 0), (2, 0), (2, 2)], "cross or touch"),  # doubles back along an edge
        ([(0, 0), (math.nan, 0), (1, 1)], "corner 2 x"),
        ([(0, 0), (1, math.inf), (1, 1)], "corner 2 y"),
    ],
)
def test_polygons_that_are_none_are_refused(corners: list[tuple[float, float]], what: str) -> None:
    with pytest.raises(InputError, match=what):
        polygon(corners)


def test_a_touch_hidden_by_rounding_is_still_refused() -> None:
    with pytest.raises(InputError, match="cross or touch"):
        polygon([(0, 0), (2, 1), (4, 0), (4, 3), (2, 1 + 1e-13), (0, 2)])
    with pytest.raises(InputError, match="cross or touch"):  # on a slanting edge
        polygon([(0, 0), (4, 2), (4, 5), (2, 1 + 1e-13), (0, 5)])


def test_an_edge_has_the_girth_of_its_profile() -> None:
    assert edge_girth(0.04, "square") == 0.04
    assert edge_girth(0.07, "girth given") == 0.07
    # a half circle across the height: half the circumference of that diameter
    assert edge_girth(0.04, "half-round") == pytest.approx(math.pi * 0.04 / 2)


@given(lengths, lengths, scales)
def test_edge_and_splash_grow_with_their_run(run: float, height: float, scale: float) -> None:
    for profile in ("square", "half-round", "girth given"):
        once = edge_area(run, height, profile)
        assert edge_area(scale * run, height, profile) == pytest.approx(scale * once)
    assert splash_area(scale * run, height) == pytest.approx(scale * splash_area(run, height))


def test_edge_area_is_run_times_girth_and_may_be_none() -> None:
    assert edge_area(3.0, 0.04, "square") == pytest.approx(0.12)
    assert edge_area(0.0, 0.04, "square") == 0.0
    assert edge_area(3.0, 0.04, "square", under=0.01) == pytest.approx(0.15)
    assert splash_area(0.0, 0.0) == 0.0


@pytest.mark.parametrize(
    "refused",
    [
        lambda: edge_girth(-0.04, "square"),
        lambda: edge_girth(0.04, "ogee"),
        lambda: edge_area(-1.0, 0.04, "square"),
        lambda: splash_area(-1.0, 0.1),
        lambda: splash_area(1.0, -0.1),
    ],
)
def test_bad_edges_are_refused(refused: Callable[[], float]) -> None:
    with pytest.raises(InputError):
        refused()


def test_unknown_edge_is_named_and_the_known_ones_listed() -> None:
    with pytest.raises(InputError, match=r"'ogee'.*square, half-round, girth given"):
        edge_girth(0.04, "ogee")


def test_cutouts_come_off() -> None:
    assert net_area(2.0, []) == 2.0
    assert net_area(2.0, [0.3, 0.2]) == pytest.approx(1.5)
    assert net_area(2.0, [1.5, 0.5]) == 0.0


@pytest.mark.parametrize(
    ("gross", "cutouts", "what"),
    [
        (2.0, [1.5, 0.6], "larger than the piece"),
        (2.0, [0.1, -0.1], "cutout 2 is below 0"),
        (0.0, [], "piece area is not above 0"),
    ],
)
def test_bad_cutouts_are_refused(gross: float, cutouts: list[float], what: str) -> None:
    with pytest.raises(InputError, match=what):
        net_area(gross, cutouts)


def test_refusals_are_short_enough_for_a_cell() -> None:
    with pytest.raises(InputError) as refusal:
        require("below 100 %", loss=1.0)
    assert refusal.value.cell_text() == (
        "! loss is not 0 % to below 100 %: type a share below 100 %"
    )
