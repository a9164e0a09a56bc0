"""A layer given as a depth, and what is filled, by hand: pours, volumes, batches and the calendar.

A deep pour of 25 mm in passes of 12 mm at most, and 12 m of grout lines 3 mm wide and 4 mm deep,
are worked out beside each figure. Thickest passes are as an invented data sheet says.
"""

from __future__ import annotations

from itertools import pairwise

import pytest

from pourbook.cells import Rows, Value, row_of
from pourbook.functions.batch.plans import EXAMPLE_DOING
from pourbook.functions.catalogue import catalogue, evaluate
from pourbook.functions.days import calendar
from pourbook.functions.mix.amounts import EXAMPLE_LAYER, EXAMPLE_PRODUCT
from pourbook.tables import layers, rooms, works
from pourbook.tables.job_tables import JobTables
from pourbook.trade.batch.pieces import Going
from pourbook.units import SYSTEMS

PIECES: tuple[dict[str, Value], ...] = (
    {"piece": "Slab", "shape": "rectangle", "a": 2000, "b": 600, "may_split": "yes"},
    {"piece": "Grout", "shape": "grout lines", "a": 3, "b": "12 m", "c": 4},
    {"piece": "Knot", "shape": "round void", "a": 80, "b": 20, "count": 2, "may_split": "yes"},
    {"piece": "Crack", "shape": "void", "a": 10, "b": 500, "c": "15 mm"},
    {"piece": "Coasters", "shape": "mould", "a": "600 mL", "b": 10},
)
"""0.144 L; twice pi x 40² x 20 mm = 0.2011 L; 0.075 L; 0.6 L."""


def _rooms(*pieces: dict[str, Value]) -> Rows:
    entries = [row_of(rooms.COLUMNS, **{"room": "Bar", **piece}) for piece in pieces]
    found = evaluate("PB_ROOMS", [entries, "metric"])
    assert isinstance(found, list)
    return [[*entry, *row] for entry, row in zip(entries, found, strict=True)]


def _given(
    thickest: Value = "12 mm", pieces: Rows | None = None, **layer: Value
) -> list[Value | Rows]:
    """Return the arguments of PB_PLAN for one layer."""
    entry = [
        layer.get(name, value) for name, value in zip(layers.COLUMNS, EXAMPLE_LAYER, strict=True)
    ]
    works_row = row_of(
        works.COLUMNS, name="Clear", pot_life=60, pot_temp=20, cure_temp=20, touch=12,
        recoat_from=8, recoat_until=48, light=72, full=168, thickest=thickest,
    )  # fmt: skip
    doing = [*EXAMPLE_DOING]
    doing[2] = "10 L"
    where = _rooms(*PIECES) if pieces is None else pieces
    return [[entry], [doing], [EXAMPLE_PRODUCT], [works_row], where, 20.0, 2.0, "metric"]


def _amounts(given: list[Value | Rows]) -> dict[str, Value]:
    plan = evaluate("PB_PLAN", [*given, [], "room by room"])
    assert isinstance(plan, list)
    found = evaluate(
        "PB_AMOUNTS",
        [given[0], given[2], given[4], [row[:13] for row in plan], "metric", given[3]],
    )
    assert isinstance(found, list)
    columns = [c.id for c in catalogue()["PB_AMOUNTS"].columns]
    return dict(zip(columns, found[0], strict=True))


def test_volumes_are_measured() -> None:
    found = [row[-2:] for row in _rooms(*PIECES)]
    assert found[0] == ["", ""]
    wanted = [(0.144, 4), (0.201062, 20), (0.075, 15), (0.6, 10)]
    for (volume, depth), row in zip(wanted, found[1:], strict=True):
        assert row == pytest.approx([volume, depth], rel=1e-5)


def test_depth_becomes_as_many_pours() -> None:
    """25 mm in passes of at most 12 mm: three of 8.333 mm over 1.2 m², 30 L in all."""
    given = _given(spread="25 mm", film="depth")
    found = _amounts(given)
    assert found["status"] == "ok"
    assert found["net"] == pytest.approx(30.0)
    assert found["coated"] == pytest.approx(3 * 1.2)
    assert found["wet"] == pytest.approx(25 / 3)
    two = _amounts(_given(spread="25 mm", film="depth", passes=2, thickest=None))
    assert [two["net"], two["wet"]] == pytest.approx([30.0, 12.5])


def test_each_pour_waits_on_days() -> None:
    """A recoat time of 8 h at 20 degC: three pours are on the days one, one and two or later."""
    given = _given(spread="25 mm", film="depth", pieces=_rooms(PIECES[0]))
    arguments: list[object] = [*calendar.EXAMPLE]
    arguments[:5] = given[:5]
    rows = evaluate("PB_DAYS", arguments)  # type: ignore[arg-type]
    assert isinstance(rows, list)
    assert rows[0][6] == "ok"
    coats: dict[object, list[float]] = {}
    for row in rows:
        if str(row[0]).startswith("pour batch"):
            coats.setdefault(row[1], []).extend([float(row[2]), float(row[3])])  # type: ignore[arg-type]
    assert list(coats) == [f"Flood, pass {n}" for n in (1, 2, 3)]
    ends = [(min(times), max(times)) for times in coats.values()]
    for (_, done), (begun, _) in pairwise(ends):
        assert begun >= done + 8 / 24 - 1e-9


def test_fills_take_their_volumes() -> None:
    """0.144 + 0.201 + 0.075 + 0.6 L in two passes: the knots are 20 mm deep, a pass 12 at most."""
    found = _amounts(_given(surfaces="fills", spread=None))
    assert found["status"] == "ok"
    assert found["net"] == pytest.approx(0.144 + 0.201062 + 0.075 + 0.6, rel=1e-5)
    # openings: 0.036 + 2 x 0.005027 + 0.005 + 0.06 m², twice over
    assert found["coated"] == pytest.approx(2 * (0.036 + 0.010053 + 0.005 + 0.06), rel=1e-4)


def test_each_fill_takes_its_own_volume_in_every_pass() -> None:
    """Half of it in each of two passes, whatever its depth."""
    given = _given(surfaces="fills", spread=None)
    one, how, coating, works_row, where = (table for table in given[:5] if isinstance(table, list))
    tables = JobTables(one, how, coating, works_row, where, SYSTEMS["metric"], Going.ROOMS)
    (layer,) = tables.worked
    assert isinstance(layer, layers.Layer)
    assert layer.deepest == pytest.approx(0.010)  # the knots, 20 mm in two
    knot = 0.201062 / 2
    litres = {"Grout": 0.144, "Knot 1": knot, "Knot 2": knot, "Crack": 0.075, "Coasters": 0.6}
    for first in (True, False):
        needs = {need.name: 1000 * need.volume for need in layer.needs(first=first)}
        assert needs == pytest.approx({name: one / 2 for name, one in litres.items()}, rel=1e-5)


def test_each_fill_gets_its_own_in_a_batch() -> None:
    given = _given(surfaces="fills", spread=None)
    rows = evaluate(
        "PB_BATCHES",
        [*given[:5], 20.0, 2.0, "A", "metric", "room by room", []],
    )
    assert isinstance(rows, list)
    mixed = [row[5] for row in rows if row[0] != ""]
    left = 0.1  # what stays in each bucket
    in_all = sum(float(str(amount)) - left for amount in mixed)
    assert in_all == pytest.approx(1.020062, rel=1e-5)
    text = str(rows[0])
    assert "Grout" in text
    assert "Knot 1 to 2" in text
    assert "Slab" not in text


@pytest.mark.parametrize(
    ("layer", "thickest", "said"),
    [
        ({"spread": "25 mm", "film": "depth"}, None, "Passes: it is blank"),
        ({"spread": "120 g/m²", "film": "depth"}, "3 mm", "only a film thickness can be depth"),
        ({"spread": "25 mm", "film": "depth"}, "1 mm", "it takes 25 passes"),
        ({"spread": "1 mm", "surfaces": "fills"}, "3 mm", "goes by its own depth"),
        ({"spread": None, "surfaces": "top + fills"}, "3 mm", "fills go with no surface"),
        ({"spread": None}, "3 mm", "Coverage"),
    ],
)
def test_what_cannot_be_poured_is_refused(
    layer: dict[str, Value], thickest: Value, said: str
) -> None:
    assert said in str(_amounts(_given(thickest, None, **layer))["status"])


@pytest.mark.parametrize(
    ("piece", "said"),
    [
        ({"shape": "grout lines", "a": 3, "b": "12 m"}, "Size C"),
        ({"shape": "void", "a": 10, "b": 10, "c": 10, "edge_run": 1}, "Edge run"),
        ({"shape": "mould", "a": "2 m", "b": 10}, "Size A"),
        ({"shape": "mould", "a": 1}, "Size B"),
        ({"shape": "grout lines", "a": 0, "b": "12 m", "c": 4}, "too small"),
    ],
)
def test_fill_that_cannot_be_is_refused(piece: dict[str, Value], said: str) -> None:
    assert said in str(_rooms({"piece": "x", **piece})[0][-4])
