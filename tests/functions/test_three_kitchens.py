"""Three invented kitchens planned by hand: a small one, a large one with a bar, and a hot day.

Films are 1 mm without loss, so that 1 m² takes 1 L; 50 mL stay in each bucket; 2 min of mixing and
1 min of carrying. The share of 70 %, and of half on a hot day, is common practice, no source.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pourbook.cells import Rows, Value, row_of
from pourbook.functions.batch.bucket_heat import COLUMNS as HEAT
from pourbook.functions.catalogue import catalogue, evaluate
from pourbook.tables.job_tables import GOINGS
from pourbook.tables.measured import ROOM_COLUMNS
from pourbook.tables.rooms import COLUMNS
from pourbook.workbook.template.template import load_book

Job = Callable[..., list[Value | Rows]]
Piece = tuple[str, str, float, dict[str, Value]]
ROOMS, WARMTH = 4, 5


def _planned(
    job: Job, pieces: Sequence[Piece], how: dict[str, Value], warm: float, going: str
) -> tuple[dict[str, Value], list[tuple[str, object]]]:
    """Return the row of PB_PLAN, and pieces and mix of each batch."""
    call = job({}, {"share": None, "carrying": None, **how}, {"minutes": 2})
    call[ROOMS] = [
        row_of(
            ROOM_COLUMNS, room=room, piece=name, top=area, edge=0.0, splash=0.0, run=0.0,
            status="ok", **more,
        )
        for room, name, area, more in pieces
    ]  # fmt: skip
    call[WARMTH] = warm
    plan = evaluate("PB_PLAN", [*call[:7], "metric", [[None] * len(HEAT)], going])
    batches = evaluate("PB_BATCHES", [*call, going])
    assert isinstance(plan, list), plan
    assert isinstance(batches, list), batches
    row = dict(zip([c.id for c in catalogue()["PB_PLAN"].columns], plan[0], strict=True))
    return row, [(str(b[3]), float(str(b[5]))) for b in batches if b[0] != ""]


def test_small_kitchen(job: Job) -> None:
    """One spreads 10 m² an hour; 40 min of pot life at 20 °C.

    Planned within 0.7 x 40 = 28 min, less 3: 25 min, in which 10 x 25 / 60 = 4.17 m² are spread;
    with 0.05 L left that is 4.217 L. The bucket of 3 L binds and spreads 2.95 L.
    2.0 + 1.5 + 0.5 = 4.0 L: two batches at least, and two will do: 2.0 alone, 1.5 with 0.5.
    """
    pieces: list[Piece] = [
        ("Kitchen", "Run", 2.0, {}),
        ("Kitchen", "Island", 1.5, {}),
        ("Kitchen", "Sill", 0.5, {}),
    ]
    row, batches = _planned(job, pieces, {"bucket": "3 L"}, 20.0, "room by room")
    assert (row["binds"], row["batches"], row["bound"], row["proved"]) == ("bucket", 2, 2, "fewest")
    assert row["limit"] == pytest.approx(3.0)
    assert batches == [("Run", pytest.approx(2.05)), ("Island; Sill", pytest.approx(2.05))]


def test_large_kitchen_with_a_bar(job: Job) -> None:
    """Two spread 9 m² an hour each, in a bucket of 12 L: the pot life binds.

    25 min x 18 / 60 = 7.5 m² a batch, 7.55 L with what stays.

    The island is first, and its end joins it: 4.0 + 1.5 = 5.5 L, and 2.0 L of the run that may be
    split fill the first batch to 7.5; the run has 6.5 L, so 4.5 go into the second; the pantry of
    3.0 L makes that 7.5 too. The bar of 3.5 L is another room: a third batch. With fewest, all
    18.5 L go into three batches as well: 18.5 / 7.5 = 2.5.
    """
    pieces: list[Piece] = [
        ("Kitchen", "Run", 6.5, {"may_split": "yes", "order": 2}),
        ("Kitchen", "Island", 4.0, {"order": 1}),
        ("Kitchen", "Island end", 1.5, {"order": 1, "joins": "Island"}),
        ("Kitchen", "Pantry", 3.0, {"order": 3}),
        ("Bar", "Bar", 3.5, {}),
    ]
    how: dict[str, Value] = {"bucket": "12 L", "hands": 2, "pace": 9}
    row, batches = _planned(job, pieces, how, 20.0, "room by room")
    assert (row["binds"], row["batches"], row["bound"], row["splits"]) == ("pot life", 3, 3, 1)
    assert row["limit"] == pytest.approx(7.55)
    split = "part {} of 2, wet into wet"
    assert batches == [
        (f"Island; Island end; Run, {split.format(1)}", pytest.approx(7.55)),
        (f"Run, {split.format(2)}; Pantry", pytest.approx(7.55)),
        ("Bar", pytest.approx(3.55)),
    ]
    # The run's second part is begun 3 min after its first; a third of 40 min is 13 min.
    assert row["seams"] == "ok"
    assert _planned(job, pieces, how, 20.0, "fewest")[0]["batches"] == 3


def test_hot_day(job: Job) -> None:
    """30 °C: ten degrees warmer, half the pot life, and 1.6 times less for the heat of the mix.

    40 / 2 / 1.6 = 12.5 min, of which half is planned with on a hot day: 6.25 min less 3 are 3.25,
    in which 10 x 3.25 / 60 = 0.5417 m² are spread; 0.5917 L with what stays. A top of 3.0 m² and a
    shelf of 0.4 m² are 3.4 L: 3.4 / 0.5417 = 6.3, so seven batches.
    What joins is begun within a third of 12.5 min = 4.2 min: mixing and carrying take 3.
    """
    pieces: list[Piece] = [
        ("Kitchen", "Top", 3.0, {"may_split": "yes"}),
        ("Kitchen", "Shelf", 0.4, {}),
    ]
    row, batches = _planned(job, pieces, {"bucket": "3 L", "share": 0.5}, 30.0, "room by room")
    assert row["pot"] == pytest.approx(12.5)
    assert row["limit"] == pytest.approx(10 * 3.25 / 60 + 0.05)
    assert (row["binds"], row["batches"], row["bound"]) == ("pot life", 7, 7)
    assert sum(float(str(mix)) for _, mix in batches) == pytest.approx(3.4 + 7 * 0.05)
    assert row["seams"] == "ok"


def test_a_seam_that_comes_too_late_is_named(job: Job) -> None:
    """Carrying takes 15 min: the second part is begun 17 min after the first, not within 13."""
    pieces: list[Piece] = [("Kitchen", "Run", 6.0, {"may_split": "yes"})]
    how: dict[str, Value] = {"bucket": "12 L", "hands": 2, "pace": 30, "carrying": 15}
    row, batches = _planned(job, pieces, how, 20.0, "room by room")
    assert len(batches) == 1  # (28 - 17) min at 60 m² an hour: 11 m²
    row, batches = _planned(job, pieces, how | {"bucket": "4 L"}, 20.0, "room by room")
    assert len(batches) == 2
    assert str(row["seams"]).startswith("CHECK: Run, part and the next part of it: poured 17 min")
    row, _ = _planned(job, pieces, how | {"bucket": "4 L", "mixers": 2}, 20.0, "room by room")
    assert row["seams"] == "ok"  # the second mixes while the first spreads


def test_a_join_that_cannot_be_kept_is_named(job: Job) -> None:
    """As ordered, the island stands between the run and its end."""
    pieces: list[Piece] = [
        ("Kitchen", "Run", 2.9, {"order": 1}),
        ("Kitchen", "Island", 2.9, {"order": 2}),
        ("Kitchen", "Run end", 0.5, {"order": 3, "joins": "Run"}),
    ]
    row, _ = _planned(job, pieces, {"bucket": "3 L"}, 20.0, "as ordered")
    assert str(row["seams"]).startswith("CHECK: Run and Run end: poured")
    assert "one Pour order" in str(row["seams"])
    pieces[2] = ("Kitchen", "Run end", 0.5, {"order": 1, "joins": "Run"})
    row, batches = _planned(job, pieces, {"bucket": "3 L"}, 20.0, "room by room")
    assert row["seams"] == "ok"
    assert [names for names, _ in batches] == ["Run", "Run end", "Island"]


@pytest.mark.parametrize(
    ("joins", "count", "said"),
    [
        ("iland", 1, "Joins: there is no piece 'iland'"),
        ("Island", 1, "Joins: a piece cannot join itself"),
        ("Shelf", 1, "Joins: 'Shelf' stands for several pieces"),
        ("Bar", 3, "Joins: Island stands for 3 pieces"),
        ("bar; Sill", 1, "ok"),
    ],
)
def test_a_join_that_is_none_is_refused_where_it_is_typed(
    joins: str, count: int, said: str
) -> None:
    rows = [
        row_of(
            COLUMNS, room="Kitchen", piece=piece, shape="area given", a="2 m²", count=many, **more
        )
        for piece, many, more in (
            ("Island", count, {"joins": joins}),
            ("Bar", None, {}),
            ("Sill", None, {}),
            ("Shelf", 4, {}),
        )
    ]
    found = evaluate("PB_ROOMS", [rows, "metric"])
    assert isinstance(found, list)
    assert said in str(found[0][5])


@given(st.floats(10, 60), st.floats(5, 35), st.floats(0, 20), st.sampled_from([None, 200.0]))
def test_a_warmer_site_never_gives_a_longer_pot_life(
    job: Job, life: float, cool: float, more: float, grams: float | None
) -> None:
    work: dict[str, Value] = {"pot_life": life, "pot_mass": f"{grams} g" if grams else None}
    pots = []
    for warm in (cool, cool + more):
        call = job({}, {"pace": 900}, {"minutes": 0.01}, work)
        call[WARMTH] = warm
        plan = evaluate("PB_PLAN", [*call[:7], "metric", [[None] * len(HEAT)], "fewest"])
        assert isinstance(plan, list)
        pots.append(float(str(plan[0][4])))
    assert pots[1] <= pots[0] * (1 + 1e-9)


def test_a_pass_too_deep_says_how_many_it_takes(job: Job) -> None:
    """5 mm where 3 mm are the most: two of 2.5 mm, the second 24 h after the first."""
    stated: dict[str, Value] = {"thickest": "3 mm", "recoat_from": 24, "cure_temp": 20}
    pieces = (("Top", 1.0, "yes"),)
    said = {}
    for spread in ("2.9 mm", "5 mm"):
        call = job({"spread": spread}, {"bucket": "9 L"}, {}, stated, pieces)
        plan = evaluate("PB_PLAN", [*call[:7], "metric", [[None] * len(HEAT)], "fewest"])
        assert isinstance(plan, list)
        said[spread] = plan[0][-1]
    assert said["2.9 mm"] == "ok"
    assert "type 2 passes of 2.500 mm on Layers" in str(said["5 mm"])
    assert str(said["5 mm"]).endswith("goes on 24 h after the first, 2 days on site")


def test_the_thickest_pass_is_not_below_the_thinnest(job: Job) -> None:
    call = job({}, {}, {}, {"thinnest": "2 mm", "thickest": "1 mm"})
    plan = evaluate("PB_PLAN", [*call[:7], "metric", [[None] * len(HEAT)], "fewest"])
    assert isinstance(plan, list)
    assert "Thickest pass" in str(plan[0][3])


def test_start_offers_the_ways_batches_go() -> None:
    assert load_book("job").block("site").field("going").choices == GOINGS
