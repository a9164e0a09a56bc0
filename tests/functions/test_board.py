"""The board: reservations against linear programming, clashes against every pair, and by hand."""

from __future__ import annotations

import random
from collections.abc import Mapping

import numpy as np
import pytest
from scipy.optimize import linprog

from pourbook.cells import Rows, Value
from pourbook.errors import InputError
from pourbook.functions.board import board_rows
from pourbook.functions.board.board_rows import CREWS, RESULTS
from pourbook.functions.catalogue import evaluate
from pourbook.trade.board.clashes import AtJob, clashes
from pourbook.trade.board.reserve import Can, Claim, reserve

COLUMNS = [column.id for column in RESULTS]
NO_CREWS = ((None,) * CREWS,)


def _most(claims: list[Claim], cans: list[Can]) -> float:
    """Return how much can be covered at all, by a linear program over every pair."""
    pairs = [
        (i, j)
        for i, claim in enumerate(claims)
        for j, can in enumerate(cans)
        if can.product == claim.product
        and (can.here is None or can.here <= claim.day)
        and (can.use_by is None or can.use_by >= claim.day)
    ]
    if not pairs:
        return 0.0
    rows = np.zeros((len(claims) + len(cans), len(pairs)))
    for n, (i, j) in enumerate(pairs):
        rows[i, n] = rows[len(claims) + j, n] = 1.0
    limits = [c.amount for c in claims] + [c.amount for c in cans]
    found = linprog(-np.ones(len(pairs)), A_ub=rows, b_ub=limits)
    return -float(found.fun)


def _shop(dice: random.Random) -> tuple[list[Claim], list[Can]]:
    products = ["Clear", "Tint"]
    claims = [
        Claim(
            dice.choice(products),
            dice.randint(1, 9) / 2,
            dice.randint(1, 12),
            dice.random() < 0.7,
        )
        for _ in range(dice.randint(1, 7))
    ]
    cans = []
    for _ in range(dice.randint(0, 7)):
        here = dice.choice([None, dice.randint(1, 10)])
        use_by = dice.choice([None, (here or 0) + dice.randint(1, 9)])
        cans.append(Can(dice.choice(products), dice.randint(1, 9) / 2, here, use_by))
    return claims, cans


@pytest.mark.parametrize("seed", range(60))
def test_no_sharing_out_covers_more_of_the_accepted_jobs(seed: int) -> None:
    claims, cans = _shop(random.Random(seed))
    taken = reserve(claims, cans)
    for place, can in enumerate(cans):
        assert sum(takes.get(place, 0.0) for takes in taken) <= can.amount + 1e-9
    for claim, takes in zip(claims, taken, strict=True):
        assert sum(takes.values()) <= claim.amount + 1e-9
        for place in takes:
            can = cans[place]
            assert can.product == claim.product
            assert (can.here or 0) <= claim.day <= (can.use_by or 99)
    firm = [n for n, claim in enumerate(claims) if claim.firm]
    covered = sum(sum(taken[n].values()) for n in firm)
    assert covered == pytest.approx(_most([claims[n] for n in firm], cans), abs=1e-6)


def test_a_pencilled_job_takes_nothing_from_an_accepted_one() -> None:
    """The quoted job comes first in time and in the list, and gets what is left."""
    claims = [Claim("Clear", 3.0, 1, firm=False), Claim("Clear", 3.0, 9, firm=True)]
    assert reserve(claims, [Can("Clear", 4.0)]) == [{0: 1.0}, {0: 3.0}]


@pytest.mark.parametrize("seed", range(40))
def test_clashes_are_those_of_every_pair(seed: int) -> None:
    dice = random.Random(seed)
    visits = []
    for _ in range(dice.randint(0, 30)):
        begins = dice.randint(0, 40) / 8
        length = dice.randint(0, 12) / 8
        visits.append(
            AtJob(dice.choice("abcd"), dice.choice(["N", "S", ""]), begins, begins + length)
        )
    found = clashes(visits)
    for i, one in enumerate(visits):
        others = [
            j
            for j, other in enumerate(visits)
            if i != j
            and other.crew == one.crew
            and other.job != one.job
            and max(one.begins, other.begins) < min(one.ends, other.ends)
        ]
        assert found[i] == others


def _board(**ranges: tuple[tuple[object, ...], ...]) -> list[dict[str, object]]:
    usual: dict[str, tuple[tuple[object, ...], ...]] = {
        "days": tuple((n, None) for n in (1, 2, 3, 4)), "visits": ((None,) * 4,),
        "needs": ((None,) * 5,), "cans": ((None,) * 5,), "crews": NO_CREWS,
    }  # fmt: skip
    given = [*(usual | ranges).values(), "metric"]
    rows = evaluate("PB_BOARD", given)  # type: ignore[arg-type]
    assert isinstance(rows, list)
    return [dict(zip(COLUMNS, row, strict=True)) for row in rows]


def test_what_is_reserved_where_and_what_a_rest_would_do() -> None:
    """By hand: 2 L of the lot that expires first, 1 of the other, 2 to come too late to be used.

    The rest of lot C-2, 3 L, would do for the quoted Hall, which needs 3.
    """
    rows = _board(
        needs=(
            ("Bar", "yes", "Clear", 3.0, 46400.0),
            ("Hall", "no", "clear", 3.0, 46410.0),
            ("Loft", "yes", "Clear", 1.0, 46402.0),
        ),
        cans=(
            ("Clear", "C-2", None, 46500.0, 5.0),
            ("Clear", "C-1", None, 46400.0, 2.0),
            ("Clear", "on order", 46408.0, None, 2.0),
        ),
    )
    assert [r["need_lots"] for r in rows] == ["C-1: 2, C-2: 1", "C-2: 3", "C-2: 1", ""]
    assert [r["need_short"] for r in rows[:3]] == [0.0, 0.0, 0.0]
    assert [r["can_free"] for r in rows[:3]] == pytest.approx([0.0, 0.0, 2.0])
    assert [r["can_fits"] for r in rows[:3]] == ["Hall", "", ""]


def test_who_is_where_and_in_two_places() -> None:
    rows = _board(
        visits=(
            ("Bar", "North", 46400.375, 46400.6),
            ("Hall", "north ", 46400.5, 46400.7),
            ("Loft", None, 46400.375, 46400.7),
            ("Bar", "North", 46401.375, 46401.6),
        ),
        days=((1, 46400.0), (2, 46401.0), (3, None), (4, 46402.0)),
        crews=(("North", "without a name", *(None,) * 6),),
    )
    assert [r["clash"] for r in rows] == ["CHECK: Hall", "CHECK: Bar", "ok", "ok"]
    assert [r["crew_1"] for r in rows] == ["Bar 09:00; Hall 12:00", "Bar 09:00", "", ""]


def test_what_cannot_be_read_is_refused_and_named() -> None:
    blank: tuple[object, ...] = (None,) * 5
    good, wrong = (("Bar", "yes", "Clear", amount, 46400.0) for amount in (1.0, -1.0))

    def said(*needs: tuple[object, ...]) -> str:
        given = [((1, None),), ((None,) * 4,), needs, (blank,), NO_CREWS, "metric"]
        return str(evaluate("PB_BOARD", given))  # type: ignore[arg-type]

    assert said(wrong).startswith("! Still needs: it is -1")
    assert "more rows than the 1 of the board" in said(blank, good)


def test_more_rows_than_a_board_has_are_refused_at_their_first_column() -> None:
    def read(row: Mapping[str, Value]) -> str | None:
        return str(row["need_job"]) if row["need_job"] else None

    columns = ("need_job", "need_firm")
    rows: Rows = [["Den", None], ["Bath", None], [None, None]]
    assert board_rows._each(rows, columns, read, 2) == ["Den", "Bath"]
    with pytest.raises(InputError) as caught:
        board_rows._each(rows, columns, read, 1)
    assert caught.value.what == "the range has more rows than the 1 of the board"
    assert caught.value.where == "Job"
