"""What is exactly at its limit is within it, whatever the last bits of the figures say.

Half a thousandth beyond it is not. Each limit is tried with figures whose quotient is not exact in
binary, and a hair (1e-12 of it) to either side.
"""

from __future__ import annotations

import math
from types import SimpleNamespace
from typing import Any

import pytest

from pourbook import units
from pourbook.functions.batch import pass_film
from pourbook.trade import acceptance, logged
from pourbook.trade.air import judge_reading
from pourbook.trade.batch.pieces import Piece
from pourbook.trade.batch.plan import plan

HAIR, BEYOND = 1e-12, 5e-4
METRIC = units.SYSTEMS["metric"]
SHEET = logged.CureSheet(2400.0, 0.5, 298.15, 50e3, 14_400.0, 86_400.0)
NEAR = (-HAIR, 0.0, HAIR)


def _film(wet: float, passes: int = 1, **limits: float) -> str:
    """Return what is said of the film of a pass, all of it in m."""
    usual = {"thickest": None, "thinnest": None, "recoat_from": None}
    planned: Any = SimpleNamespace(
        layer=SimpleNamespace(
            thickest_pass=wet, wet=wet, passes=passes, product=SimpleNamespace(name="Clear")
        ),
        working=SimpleNamespace(**(usual | limits)),
    )
    return pass_film.told(planned, METRIC)


@pytest.mark.parametrize("off", NEAR)
def test_a_pass_as_thick_or_thin_as_it_may_be_is_ok(off: float) -> None:
    assert _film(0.0003 * (1 + off), thickest=0.0003) == "ok"
    assert _film(0.0003 * (1 + off), thinnest=0.0003) == "ok"


def test_a_pass_beyond_is_told() -> None:
    assert _film(0.0003 * (1 + BEYOND), thickest=0.0003).startswith("CHECK")
    assert _film(0.0003 * (1 - BEYOND), thinnest=0.0003).startswith("CHECK")


@pytest.mark.parametrize("off", NEAR)
@pytest.mark.parametrize(("times", "passes"), [(2, 2), (3, 3), (7, 7)])
def test_a_film_of_so_many_passes_takes_no_more(off: float, times: int, passes: int) -> None:
    """0.3 mm at most, and so many times that in one pass; one and a half in two takes three."""
    assert f"type {passes} passes" in _film(0.0003 * times * (1 + off), thickest=0.0003)
    assert "type 3 passes" in _film(0.00045, 2, thickest=0.0003)


@pytest.mark.parametrize("off", NEAR)
def test_a_pour_at_the_end_of_its_pot_life_holds(off: float) -> None:
    assert logged.check_pot_life(0.0, 2400.0 * (1 + off), 0.5, 298.15, SHEET).holds
    assert not logged.check_pot_life(0.0, 2400.0 * (1 + BEYOND), 0.5, 298.15, SHEET).holds


@pytest.mark.parametrize("off", NEAR)
@pytest.mark.parametrize("limit", [14_400.0, 86_400.0])
def test_a_recoat_at_either_end_of_its_window_holds(off: float, limit: float) -> None:
    assert logged.check_recoat(limit * (1 + off), 298.15, SHEET).holds


def test_a_recoat_beyond_either_end_does_not() -> None:
    fresh = logged.check_recoat(14_400.0 * (1 - BEYOND), 298.15, SHEET)
    closed = logged.check_recoat(86_400.0 * (1 + BEYOND), 298.15, SHEET)
    assert (fresh.holds, closed.holds) == (False, False)
    assert fresh.words == "the coat below was too fresh: 4.0 h old, recoat from 4.0 h"
    assert "the recoat window had closed: 24.0 h old, recoat until 24.0 h" in closed.words


@pytest.mark.parametrize("off", NEAR)
@pytest.mark.parametrize("side", [-1, 1])
def test_a_wet_film_at_its_tolerance_holds(off: float, side: int) -> None:
    """0.3 mm wanted, 10 % may be: 0.27 and 0.33 hold."""
    assert logged.check_wet_film(0.0003 * (1 + side * 0.1 + off), 0.0003, 0.1).holds
    assert not logged.check_wet_film(0.0003 * (1 + side * (0.1 + BEYOND)), 0.0003, 0.1).holds


@pytest.mark.parametrize("off", NEAR)
def test_a_reading_at_its_limit_is_a_go(off: float) -> None:
    assert judge_reading(0.7 * (1 + off), 0.7, "at most").state == "go"
    assert judge_reading(0.7 * (1 + off), 0.7, "at least").state == "go"
    assert judge_reading(0.7 * (1 + BEYOND), 0.7, "at most").state == "wait"
    assert judge_reading(0.7 * (1 - BEYOND), 0.7, "at least").state == "don't"


@pytest.mark.parametrize("off", NEAR)
def test_a_dry_film_at_the_floor_and_at_the_ceiling_counts_as_within(off: float) -> None:
    """ISO 19840: no reading under 80 % of the nominal film, none over three times it."""
    rule, nominal = acceptance.ISO_19840, 0.0001
    even = [nominal * (1 + off)] * 10
    at_floor = acceptance.judge_films([*even, 0.8 * nominal * (1 + off)], nominal, rule=rule)
    assert at_floor.under == 0
    assert at_floor.thin == 1
    assert acceptance.judge_films(even, nominal, rule=rule).thin == 0
    at_ceiling = acceptance.judge_films([*even, 3 * nominal * (1 + off)], nominal, rule=rule)
    assert at_ceiling.over == 0
    beyond = acceptance.judge_films([*even, 3 * nominal * (1 + BEYOND)], nominal, rule=rule)
    assert beyond.over == 1


@pytest.mark.parametrize("off", NEAR)
def test_a_piece_that_just_fills_a_batch_is_one(off: float) -> None:
    made = plan([Piece("bar", 0.003 * (1 + off))], 0.003)
    assert len(made.batches) == 1
    assert math.isclose(made.batches[0].mixed, 0.003, rel_tol=1e-9)
