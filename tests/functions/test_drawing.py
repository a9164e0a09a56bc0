"""PB_DRAWING: every piece is drawn to one scale, and every batch that pours it is marked on it."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import pytest

from pourbook.cells import Rows, Value, row_of
from pourbook.functions.catalogue import evaluate
from pourbook.functions.draw import drawing
from pourbook.functions.draw.drawing import ASIDE, LINES, PIECES, POINTS, ROWS, SLOT, SLOTS, TEXTS
from pourbook.tables.measured import ROOM_COLUMNS
from pourbook.trade.drawing.on_page import HIGH, WIDE

Job = Callable[..., list[Value | Rows]]
ROOMS = 4
Point = tuple[float, float]


_PIECE: dict[str, Value] = {
    "room": "Kitchen",
    "shape": "rectangle",
    "a": "2 m",
    "b": "500 mm",
    **dict.fromkeys(("edge", "splash", "run"), 0.0),
    "top": 1.0,
    "status": "ok",
}


def _rooms(*pieces: dict[str, Value]) -> list[list[Value]]:
    return [list(row_of(ROOM_COLUMNS, **{**_PIECE, **piece})) for piece in pieces]


def _drawn(job: Job, *pieces: dict[str, Value], more: Sequence[Value] = ()) -> list[list[Value]]:
    # 1 mm of film from 3 L buckets that keep 50 mL: 2.95 m² a batch.
    call = job({}, {"share": None, "carrying": None, "bucket": "3 L"}, {"minutes": 2})
    call[ROOMS] = _rooms(*pieces)
    found = evaluate("PB_DRAWING", [*call, "room by room", *more])
    assert isinstance(found, list), found
    assert len(found) == ROWS
    assert all(isinstance(cell, float) for row in found for cell in row[2:])
    return [list(row) for row in found]


def _text(found: list[list[Value]], name: str) -> str:
    return str(found[0][0] if name == "status" else found[TEXTS[name]][1])


def _outline(found: list[list[Value]], piece: int) -> list[Point]:
    rows = found[piece * POINTS : (piece + 1) * POINTS]
    return [(float(str(row[2])), float(str(row[3]))) for row in rows if row[2] != ASIDE]


def _slot(
    found: list[list[Value]], slot: int, first: int = 0, last: int = LINES
) -> list[tuple[float, float, float]]:
    rows = found[slot * SLOT + first : slot * SLOT + last]
    return [
        (float(str(x)), float(str(y)), float(str(size))) for *_, x, y, size in rows if x != ASIDE
    ]


def _box(points: Sequence[Point]) -> tuple[float, float, float, float]:
    across, up = [x for x, _ in points], [y for _, y in points]
    return min(across), min(up), max(across), max(up)


def test_pieces_are_to_one_scale_and_on_the_page(job: Job) -> None:
    found = _drawn(job, {"piece": "Run", "a": "3 m", "top": 1.5}, {"piece": "Island"})
    run, island = (_box(_outline(found, n)) for n in (0, 1))
    for left, low, right, high in (run, island):
        assert 0 <= left < right <= WIDE
        assert 0 <= low < high <= HIGH
    scale = (run[2] - run[0]) / 3.0
    assert island[2] - island[0] == pytest.approx(2.0 * scale)
    assert run[3] - run[1] == pytest.approx(0.5 * scale)
    assert [found[n * POINTS][1] for n in range(3)] == ["Kitchen: Run", "Island", ""]
    assert not _outline(found, 2)
    assert _text(found, "status") == "ok"
    wide = float(_text(found, "width").split(" m")[0])
    assert wide == pytest.approx(WIDE / scale, abs=0.06)


def test_each_batch_is_drawn_on_what_it_pours(job: Job) -> None:
    found = _drawn(
        job,
        {"piece": "Run", "a": "4 m", "top": 2.0},
        {"piece": "Island", "a": "3 m", "top": 1.5},
        {"piece": "Sill", "a": "1 m", "top": 0.5},
    )
    boxes = [_box(_outline(found, n)) for n in range(3)]
    poured = [found[slot * SLOT + 6][1] for slot in range(SLOTS)]
    assert poured[:2] == ["Run", "Island; Sill"]
    assert set(poured[2:]) == {""}
    for slot, pieces in ((0, [0]), (1, [1, 2])):
        lines, numbers = _slot(found, slot), _slot(found, slot, LINES, SLOT)
        assert found[slot * SLOT + 1][1] == str(slot + 1)
        for x, y, size in lines:
            inside = [n for n in pieces if boxes[n][0] < x < boxes[n][2]]
            assert [n for n in inside if boxes[n][1] - 1e-6 <= y <= y + size <= boxes[n][3] + 1e-6]
        assert len(numbers) == len(pieces)
        for n, (x, y, _) in zip(pieces, numbers, strict=True):
            assert boxes[n][0] < x < boxes[n][2]
            assert boxes[n][1] < y < boxes[n][3]
    assert not _slot(found, SLOTS)  # no seam


def test_a_split_piece_shows_its_seam_where_the_parts_meet(job: Job) -> None:
    found = _drawn(job, {"piece": "Run", "a": "8 m", "top": 4.0, "may_split": "yes"})
    left, low, right, high = _box(_outline(found, 0))
    ((x, y, size),) = _slot(found, SLOTS)
    assert (y, y + size) == pytest.approx((low, high))
    assert left < x < right
    first = [at for at, *_ in _slot(found, 0)]
    second = [at for at, *_ in _slot(found, 1)]
    assert max(first) < x < min(second)


def test_what_joins_stands_beside_it_with_a_line(job: Job) -> None:
    found = _drawn(
        job,
        {"piece": "Run"},
        {"piece": "Sill", "a": "1 m", "top": 0.5},
        {"piece": "End", "a": "1 m", "top": 0.5, "joins": "Run"},
    )
    assert [found[n * POINTS][1] for n in range(3)] == ["Kitchen: Run", "End", "Sill"]
    run, end = (_box(_outline(found, n)) for n in (0, 1))
    ((x, y, size),) = _slot(found, SLOTS + 1)
    assert (x, x + size) == pytest.approx((run[2], end[0]))
    least = min(run[3] - run[1], end[3] - end[1])
    assert run[3] == pytest.approx(end[3])  # both hang from one line
    assert y == pytest.approx(run[3] - least / 2)  # in the midst of the shorter edge


def test_pieces_of_one_name_are_drawn_without_batches_and_named(job: Job) -> None:
    found = _drawn(
        job, {"piece": "Run"}, {"piece": "Run", "a": "1 m", "top": 0.5}, {"piece": "Bar"}
    )
    assert _text(found, "missing") == "batches of 'Run', a name 2 pieces have"
    assert [len(_outline(found, n)) for n in range(3)] == [POINTS] * 3
    bar = _box(_outline(found, 2))
    assert _slot(found, 0)
    assert all(bar[0] < x < bar[2] for x, *_ in _slot(found, 0))


def test_a_cutout_is_left_free(job: Job) -> None:
    found = _drawn(job, {"piece": "Run", "cutouts": "800 mm x 300 mm", "top": 0.76})
    left, low, right, high = _box(_outline(found, 0))
    scale = (right - left) / 2.0
    middle = (left + right) / 2
    crossing = [(y, size) for x, y, size in _slot(found, 0) if abs(x - middle) < 0.3 * scale]
    assert crossing
    for y, size in crossing:
        assert size == pytest.approx(0.1 * scale)
        assert y == pytest.approx(low) or y + size == pytest.approx(high)


def test_a_job_not_begun_says_so_and_pieces_alone_are_drawn(job: Job) -> None:
    nothing = _drawn(job)
    assert "there is nothing to draw" in _text(nothing, "status")
    call = job({}, {}, {})
    call[0] = [[None] * len(row) for row in call[0]]  # type: ignore[union-attr]
    call[1] = [[None] * len(row) for row in call[1]]  # type: ignore[union-attr]
    call[ROOMS] = _rooms({"piece": "Run"})
    found = evaluate("PB_DRAWING", [*call, "room by room"])
    assert isinstance(found, list)
    assert "no layer is poured yet" in str(found[0][0])
    assert len(_outline([list(row) for row in found], 0)) == POINTS


@pytest.mark.parametrize(
    ("more", "said"),
    [
        ((4.0,), "no layer 4"),
        ((1.0, 3.0), "no pass 3"),
        ((None, None, "Attic"), "type a room"),
    ],
)
def test_what_is_not_there_is_said(job: Job, more: Sequence[Value], said: str) -> None:
    assert said in _text(_drawn(job, {"piece": "Run"}, more=more), "status")


def test_a_room_alone_is_drawn_larger(job: Job) -> None:
    pieces: list[dict[str, Value]] = [{"piece": "Run", "a": "6 m", "top": 2.0, "room": "Bar"}]
    pieces.append({"piece": "Sill"})
    both = _box(_outline(_drawn(job, *pieces), 1))
    alone = _box(_outline(_drawn(job, *pieces, more=(None, None, "kitchen")), 0))
    assert alone[2] - alone[0] > both[2] - both[0]


def test_more_pieces_than_are_drawn_are_said(job: Job) -> None:
    many: list[dict[str, Value]] = [
        {"piece": f"T{n}", "a": "400 mm", "b": "400 mm", "top": 0.16} for n in range(PIECES + 3)
    ]
    found = _drawn(job, *many)
    assert _text(found, "missing") == "3 more pieces: draw one room"
    assert _outline(found, PIECES - 1)


def test_a_piece_that_is_not_measured_or_filled_is_left_out(job: Job) -> None:
    found = _drawn(
        job,
        {"piece": "Run"},
        {"piece": "Bad", "status": "! Size A: it is blank"},
        {"piece": "Void", "shape": "mould", "a": "2 L", "b": "30 mm"},
    )
    assert _outline(found, 0)
    assert not _outline(found, 1)


def test_the_way_to_a_cutout_goes_straight_up_to_a_slanting_edge() -> None:
    """Over the hole's corner at (1.5, 2.5) the left side of the triangle, y = 2x, is at 3."""
    triangle = [(0.0, 0.0), (4.0, 0.0), (2.0, 4.0), (0.0, 0.0)]
    hole = [(1.5, 2.5), (2.0, 2.5), (2.0, 2.7), (1.5, 2.7), (1.5, 2.5)]
    path = drawing._path([triangle, hole])
    assert path == [*triangle[:3], (1.5, 3.0), *hole, (1.5, 3.0), triangle[3]]
    right = [(2.5, 2.5), (2.8, 2.5), (2.5, 2.6), (2.5, 2.5)]
    assert (2.5, 3.0) in drawing._path([triangle, right])
