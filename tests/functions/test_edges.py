"""Edges that no other test holds: each figure worked out by hand beside it."""

from __future__ import annotations

import math
from dataclasses import dataclass

import pytest

from pourbook.cells import Value
from pourbook.errors import FAILED, InputError
from pourbook.functions.batch import mix_cards
from pourbook.functions.catalogue import evaluate
from pourbook.functions.mix import parts
from pourbook.tables import rooms
from pourbook.tables.buy import packs
from pourbook.tables.products import Product
from pourbook.tables.reading import Dose
from pourbook.tables.used.lots import KnownLot, Scanned, judge
from pourbook.tables.works import COLUMNS as WORKING
from pourbook.tables.works import read_working
from pourbook.trade import film
from pourbook.trade.cure.history import Temperatures
from pourbook.trade.proof import TESTS, Limit, better_angle, holds
from pourbook.units import SYSTEMS

HOUR = 3600.0
PRODUCT = Product("x", "volume", (2.0, 1.0), (1100.0, 1000.0), 1.0, "A")


@dataclass
class _Coat:
    """As much of a layer as its doses need."""

    pigment: Dose
    thinner: Dose
    broadcast: Dose
    product: Product = PRODUCT


def test_each_kind_of_dose_has_its_own_size() -> None:
    """0.006 m³ of mix of (2 x 1100 + 1000) / 3 kg/m³ in three batches over 12 m²."""
    mixed, mass = 0.006, 0.006 * 3200 / 3
    sizes = {"share": 0.03, "per batch": 0.05, "per area": 0.2}
    by_mass = {"share": 0.03 * mass, "per batch": 3 * 0.05, "per area": 12 * 0.2}
    by_volume = by_mass | {"share": 0.03 * mixed}
    for basis, amount in sizes.items():
        dose = Dose(basis, amount, "")  # type: ignore[arg-type]
        coat = _Coat(dose, dose, dose)
        found = parts.doses(coat, mixed, 3, 12.0)  # type: ignore[arg-type]
        wanted = (by_mass[basis], by_volume[basis], by_mass[basis])
        assert found == pytest.approx(wanted, rel=1e-12), basis
    assert len({*by_mass.values(), by_volume["share"]}) == 4, "no two could be swapped unseen"


def test_day_and_night_turn_off_the_hour() -> None:
    """Day from 7:30 to 18:45, for a job whose clock begins at 6:15."""
    warm = Temperatures.day_night(295.0, 285.0, 7.5, 18.75, 6.25)
    for clock, wanted in (
        (6.25, 285.0),
        (7.49, 285.0),
        (7.51, 295.0),
        (18.74, 295.0),
        (18.76, 285.0),
        (30.2, 285.0),  # 6:12 of the next morning
        (31.6, 295.0),
    ):
        assert warm.at((clock - 6.25) * HOUR) == wanted, clock


def test_a_lot_may_be_used_on_its_last_day() -> None:
    known = {("x", "l"): KnownLot(46000, 46100, {"kit"})}
    used = [("A", Scanned("L"))]
    assert judge("X", used, 46100, known).wrong == ()
    assert judge("X", used, 46101, known).wrong == ("lot L was past its use-by day",)
    scanned = [("A", Scanned("L", 46050))]
    assert judge("X", scanned, 46050, known).wrong == ()
    assert judge("X", scanned, 46051, known).wrong == ("lot L was past its use-by day",)


def _room(cutouts: str) -> Value:
    cells: dict[str, Value] = {
        "room": "Bar", "piece": "Top", "shape": "rectangle", "a": "2 m", "b": "0.6 m",
        "cutouts": cutouts,
    }  # fmt: skip
    found = evaluate("PB_ROOMS", [[[cells.get(c) for c in rooms.COLUMNS]], "metric"])
    assert isinstance(found, list)
    return found[0][5] if str(found[0][5]).startswith(FAILED) else found[0][0]


def test_cutouts_are_smaller_than_the_piece() -> None:
    assert _room("1 m x 0.5 m") == pytest.approx(2 * 0.6 - 0.5)
    assert str(_room("2 m x 0.7 m")).startswith("! Cutouts")
    assert str(_room("1 m x 0.6 m; 1 m x 0.61 m")).startswith("! Cutouts")


def test_a_kit_of_which_nothing_is_left_holds_nothing_of_any_part() -> None:
    assert packs.in_parts(PRODUCT, "kit", 0.0) == (0.0, 0.0)
    assert packs.in_parts(PRODUCT, "B", 0.0) == (0.0, 0.0)
    assert packs.in_parts(PRODUCT, "kit", 0.003) == pytest.approx((0.002, 0.001))


def test_notches_go_by_their_pitch() -> None:
    """Half of w d, and w (d - w/2) + pi w² / 8, once for each pitch."""
    for pitch in (0.005, 0.01):
        assert film.notch_film_v(0.004, 0.006, pitch) == pytest.approx(12e-6 / pitch)
        section = 0.004 * 0.004 + math.pi * 0.004**2 / 8
        assert film.notch_film_u(0.004, 0.006, pitch) == pytest.approx(section / pitch)
    for make in (film.notch_film_v, film.notch_film_u):
        with pytest.raises(InputError, match="overlap"):
            make(0.004, 0.006, 0.0039)


@pytest.mark.parametrize("spread", ["0 L/m²", "0 mm", "0 g/m²"])
def test_a_spread_of_nothing_leaves_no_film(spread: str) -> None:
    said = evaluate("PB_FILM", [spread, "mm", "1.2 kg/L"])
    assert isinstance(said, str)
    assert said.startswith(FAILED)


def test_a_shape_of_one_size() -> None:
    assert evaluate("PB_AREA", ["m²", "circle", "2 m"]) == pytest.approx(math.pi)
    said = evaluate("PB_AREA", ["m²", "rectangle", "2 m"])
    assert isinstance(said, str)
    assert said.startswith(FAILED)
    assert "the shape rectangle needs it" in said


@pytest.mark.parametrize(
    ("litres", "shown"), [(0.00437, "4.4 mL"), (0.00434, "4.3 mL"), (0.0996, "100 mL")]
)
def test_thinner_is_shown_to_a_mark_that_can_be_read(litres: float, shown: str) -> None:
    said = mix_cards._thinner(litres / 1000, SYSTEMS["metric"])
    assert said == shown


def test_gloss_holds_between_its_limits_and_on_them() -> None:
    test, limit = TESTS["gloss at 60°"], Limit(35.0, 70.0)
    assert [holds(test, g, limit) for g in (34.9, 35.0, 70.0, 70.1)] == [False, True, True, False]
    assert [better_angle(g) for g in (9.9, 10.0, 70.0, 70.1)] == [85, 60, 60, 20]


@pytest.mark.parametrize(
    ("typed", "seconds"),
    [(120, 7200), ("120 min", 7200), ("2 h", 7200), (" 120 ", 7200), ("1 day", 86400)],
)
def test_a_time_is_read_with_a_unit_of_its_own(typed: Value, seconds: float) -> None:
    row: dict[str, Value] = dict.fromkeys(WORKING) | {"name": "x", "pot_life": typed}
    assert read_working(row, SYSTEMS["us"]).pot_life == seconds


@pytest.mark.parametrize("typed", ["2:30", "2 gal", "-3", 0, "soon"])
def test_what_is_no_time_is_refused(typed: Value) -> None:
    """2:30 is two hours and a half to one and two minutes and a half to another."""
    row: dict[str, Value] = dict.fromkeys(WORKING) | {"name": "x", "pot_life": typed}
    with pytest.raises(InputError):
        read_working(row, SYSTEMS["us"])


def _measured(**typed: Value) -> list[Value]:
    """Return top, edge, splash, total and run of a row of Rooms, metric, or its refusal."""
    row = {"room": "Bar", "piece": "Top", "shape": "rectangle", "a": 2000, "b": 600, **typed}
    found = evaluate("PB_ROOMS", [[[row.get(column) for column in rooms.COLUMNS]], "metric"])
    assert isinstance(found, list)
    return list(found[0][:5]) if found[0][5] == "ok" else [found[0][5]]


@pytest.mark.parametrize(
    ("typed", "top", "edge", "splash"),
    [
        # a drip edge: 3 m of 40 mm face and 15 mm under it
        ({"edge_run": 3, "edge_height": 40, "under": 15}, 1.2, 3 * 0.055, 0),
        # half-round, 40 mm high: half a circle of it, and 10 mm more under it
        (
            {"edge_run": 3, "edge_height": 40, "edge_profile": "half-round", "under": "1 cm"},
            1.2,
            3 * (math.pi * 0.02 + 0.01),
            0,
        ),
        # two corners of 100 mm lose what a square has beyond a quarter circle
        ({"shape": "2 round corners", "c": 100}, 1.2 - 2 * (0.01 - math.pi * 0.01 / 4), 0, 0),
        # it stands upright: an edge, in front of which nothing is a top; with one hole of 0.1 x 0.2
        ({"shape": "waterfall end", "a": 900, "cutouts": "100 x 200"}, 0, 0.54 - 0.02, 0),
        ({"shape": "integral backsplash", "b": 100}, 0, 0, 0.2),
        ({"shape": "integral backsplash", "b": 100, "count": 3}, 0, 0, 0.6),
    ],
)
def test_upright_pieces_and_round_corners(
    typed: dict[str, Value], top: float, edge: float, splash: float
) -> None:
    found = _measured(**typed)
    run = 3.0 if "edge_run" in typed else 0.0
    assert found == pytest.approx([top, edge, splash, top + edge + splash, run], rel=1e-12)


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ({"under": 15}, "! Edge run"),
        ({"edge_run": 3, "under": 15}, "! Edge height"),
        ({"shape": "2 round corners"}, "! Size C"),
        ({"shape": "4 round corners", "c": 301}, "radius has no room"),
        ({"shape": "integral backsplash", "b": 100, "c": 101}, "cove is higher"),
        ({"shape": "waterfall end", "c": 10}, "! Size C"),
    ],
)
def test_what_cannot_stand_is_refused(typed: dict[str, Value], said: str) -> None:
    (found,) = _measured(**typed)
    assert said in str(found)
