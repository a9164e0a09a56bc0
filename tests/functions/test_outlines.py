"""An edge run is refused only where no piece of that shape and size has so long an outline.

The outlines are made here from corners and measured with ``math.dist``.
"""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pourbook.cells import Value
from pourbook.functions.catalogue import catalogue, evaluate
from pourbook.tables.rooms import COLUMNS

Corner = tuple[float, float]
SIZES = st.floats(0.2, 4)
SHIFTS = st.floats(-8, 8)


def _status(shape: str, run: float, **sizes: float) -> str:
    typed: dict[str, Value] = {"room": "Bar", "piece": "Top", "shape": shape}
    typed |= {name: f"{value!r} m" for name, value in sizes.items()}
    typed |= {"edge_run": f"{run!r} m", "edge_height": "40 mm"}
    found = evaluate("PB_ROOMS", [[[typed.get(c) for c in COLUMNS]], "metric"])
    assert isinstance(found, list)
    ids = [c.id for c in catalogue()["PB_ROOMS"].columns]
    return str(dict(zip(ids, found[0], strict=True))["status"])


def _round(corners: list[Corner]) -> float:
    return sum(math.dist(a, b) for a, b in zip(corners, [*corners[1:], corners[0]], strict=True))


def test_a_leaning_triangle_is_taken() -> None:
    """1 m wide, half a metre high, its tip five metres to the side: 10.1 m round."""
    corners = [(0.0, 0.0), (1.0, 0.0), (5.0, 0.5)]
    assert _status("triangle", round(_round(corners), 3), a=1.0, b=0.5) == "ok"


@given(SIZES, SIZES, SHIFTS)
def test_every_triangle_there_is_is_taken(base: float, height: float, tip: float) -> None:
    corners = [(0.0, 0.0), (base, 0.0), (tip, height)]
    assert _status("triangle", _round(corners), a=base, b=height) == "ok"


@given(SIZES, SIZES, SIZES, SHIFTS)
def test_every_trapezoid_there_is_is_taken(
    below: float, above: float, height: float, shift: float
) -> None:
    corners = [(0.0, 0.0), (below, 0.0), (shift + above, height), (shift, height)]
    assert _status("trapezoid", _round(corners), a=below, b=above, c=height) == "ok"


@given(SIZES, SIZES)
def test_every_rectangle_there_is_is_taken(long: float, deep: float) -> None:
    assert _status("rectangle", 2 * (long + deep), a=long, b=deep) == "ok"


@pytest.mark.parametrize(
    ("shape", "sizes"),
    [
        ("rectangle", {"a": 1.0, "b": 0.5}),
        ("circle", {"a": 1.0}),
        ("triangle by sides", {"a": 1.0, "b": 0.8, "c": 0.7}),
    ],
)
def test_a_run_no_such_piece_has_is_refused(shape: str, sizes: dict[str, float]) -> None:
    assert "longer than the piece is round" in _status(shape, 8.0, **sizes)
