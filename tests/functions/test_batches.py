"""What goes into every batch: it adds up to the layers, and refuses what cannot be mixed."""

from __future__ import annotations

import math
import re
from collections.abc import Callable

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pourbook.cells import CellError, Rows, Value, ranges_of
from pourbook.errors import InputError
from pourbook.functions.batch import batches, plan_rows, plans
from pourbook.functions.catalogue import evaluate
from pourbook.functions.mix import parts
from pourbook.tables import colours, rooms
from pourbook.tables.job_tables import JobTables
from pourbook.tables.measured import ROOM_COLUMNS, RoomTotals
from pourbook.trade.batch.pieces import Going
from pourbook.units import SYSTEMS
from pourbook.workbook.template.template import load_book

Job = Callable[..., list[Value | Rows]]
Table = Callable[..., list[dict[str, Value]]]
CUPS = "white 60 at 4 %; grey 30 at 5 %; black 10 at 6 %"


def _sum(rows: list[dict[str, Value]], name: str) -> float:
    return math.fsum(float(str(row[name])) for row in rows)


DOSES = st.sampled_from(
    [
        {},
        {"pigment": "3 % mass"},
        {"pigment": "20 g per batch", "thinner": "30 mL per batch"},
        {"pigment": "15 g/m\u00b2", "thinner": "5 % vol", "broadcast": "200 g/m\u00b2"},
    ]
)


@settings(max_examples=40)
@given(
    DOSES,
    st.integers(1, 3),
    st.floats(0.8, 3.0),
    st.lists(st.tuples(st.just("Top"), st.floats(0.3, 6), st.just("yes")), min_size=1, max_size=5),
)
def test_batches_add_up_to_the_layer(
    job: Job,
    table: Table,
    doses: dict[str, Value],
    passes: int,
    bucket: float,
    pieces: list[tuple[str, float, str]],
) -> None:
    named = tuple((f"{n} {i}", a, s) for i, (n, a, s) in enumerate(pieces))
    loss: dict[str, Value] = {"loss": 0.07, "edge_loss": "20 mL/m", "take_up": "50 mL/m\u00b2"}
    spread = {"spread": "1 L/m²"}
    call = job(
        {"passes": passes, **spread, **loss, **doses}, {"bucket": f"{bucket} L"}, pieces=named
    )
    rows = table(call)
    if len(rows) == batches.ROWS:
        return
    assert {row["status"] for row in rows} == {"ok"}
    found = evaluate("PB_PLAN", [*call[:7], "metric"])
    assert isinstance(found, list)
    plan = [row[: len(plans.RESULTS)] for row in found]
    whole = evaluate("PB_PARTS", [call[0], call[2], call[4], plan, "metric"])
    assert isinstance(whole, list)
    ids = [c.id for c in parts.RESULTS]
    total = dict(zip(ids, whole[0], strict=True))
    assert total["part_status"] == "ok"
    for part in "abc":
        litres = float(str(total[f"volume_{part}"]))
        assert _sum(rows, f"volume_{part}") == pytest.approx(litres * 1000, rel=1e-9)
        assert _sum(rows, f"mass_{part}") == pytest.approx(total[f"mass_{part}"], rel=1e-9)
    for dose in ("pigment_mass", "thinner_volume", "broadcast_mass"):
        assert _sum(rows, dose) == pytest.approx(total[dose], rel=1e-9)
    assert [row["batch"] for row in rows] == list(range(1, len(rows) + 1))


def test_use_by_is_that_of_each_batch(job: Job, table: Table) -> None:
    """Stated for 100 g: a batch of m grams has 100/m of the time, by the rule of proportion."""
    rows = table(job({}, {"pace": 500}, work={"pot_mass": "100 g"}))
    for row in rows:
        mass = float(str(row["mass_a"])) + float(str(row["mass_b"]))
        assert row["use_by"] == pytest.approx(40 * 100 / mass)


@pytest.mark.parametrize("keep", ["yes", "no"])
def test_a_piece_without_a_number_comes_after_those_with_one(
    job: Job, table: Table, keep: str
) -> None:
    call = job({}, {"keep_order": keep}, pieces=(("Top", 1.9, "no"), ("Shelf", 1.9, "no")))
    measured = call[4]
    assert isinstance(measured, list)
    measured[1][rooms.COLUMNS.index("order")] = 1
    assert [row["pieces"] for row in table(call)] == ["Shelf", "Top"]


def _planned(call: list[Value | Rows]) -> dict[str, Value]:
    found = evaluate("PB_PLAN", [*call[:7], "metric"])
    assert isinstance(found, list)
    return dict(zip([c.id for c in plans.RESULTS], found[0], strict=False))


@pytest.mark.parametrize(("area", "binds"), [(0.5, "area"), (50.0, "bucket"), (None, "bucket")])
def test_a_batch_coats_no_more_than_the_most_area(job: Job, area: float | None, binds: str) -> None:
    """A film of 1 mm takes 0.5 L for 0.5 m², and 50 mL stay in the bucket: 0.55 L."""
    how: dict[str, Value] = {"most_area": area, "pace": 100}
    plan = _planned(job({}, how, pieces=(("Top", 4.0, "yes"),)))
    assert plan["plan_status"] == "ok"
    assert plan["binds"] == binds
    assert float(str(plan["limit"])) == pytest.approx(0.55 if area == 0.5 else 1.2)
    assert float(str(plan["largest"])) <= float(str(plan["limit"]))


def test_a_piece_above_the_most_area_says_what_to_raise(job: Job) -> None:
    said = str(_planned(job({}, {"most_area": 0.5, "pace": 100}))["plan_status"])
    assert "'Shelf' needs 0.59 L in one batch, which holds 0.55 L (area)" in said
    assert "raise Most area a batch on Layers, or let it be split on Rooms" in said


def test_a_most_area_of_nothing_is_refused_at_its_column(job: Job) -> None:
    said = str(_planned(job({}, {"most_area": 0}))["plan_status"])
    assert "Most area a batch: it is 0: type a number above 0" in said


def test_jobs_of_templates_1_keep_their_order() -> None:
    """There a piece without a number came first; their plans must stay what they were."""
    row = dict.fromkeys(ROOM_COLUMNS.of(1)) | {"piece": "Top", "status": "ok", "top": 1.0, "run": 0}
    with ranges_of(1):
        rooms = RoomTotals.of([list(row.values())], SYSTEMS["metric"])
        (piece,) = rooms.pieces((), ("top",), lambda _room, _surface: True)
    assert piece.order == 0


def test_split_piece_is_named_with_its_parts(job: Job, table: Table) -> None:
    rows = table(job({}, {}))
    named = "; ".join(str(row["pieces"]) for row in rows)
    assert re.search(r"Top, part 1 of \d, wet into wet", named)
    assert "Shelf, part" not in named


def test_other_options_are_left_out(job: Job, table: Table) -> None:
    assert table(job({"option": "B"}, {})) == []
    assert len(table(job({"option": "B"}, {}, option="b"))) > 1


@pytest.mark.parametrize("share", [1, 3])
def test_cups_hold_the_whole_batch(share: int) -> None:
    cups = colours.read(f"white {share}; black 1 at 2 %")
    found = colours.divide(0.0013, 1100.0, cups)
    assert math.fsum(c.volume for c in found) == 0.0013
    assert found[0].volume == pytest.approx(0.0013 * share / (share + 1))
    assert found[1].pigment == pytest.approx(0.0013 / (share + 1) * 1100 * 0.02)


def test_text_of_the_cups_adds_up(job: Job, table: Table) -> None:
    for row in table(job({}, {"cups": CUPS})):
        cups = str(row["cups"])
        millilitres = [int(x.replace(",", "")) for x in re.findall(r"([\d,]+) mL", cups)]
        assert sum(millilitres) == round(float(str(row["mixed"])) * 1000)
        grams = [float(x.replace(",", "")) for x in re.findall(r"([\d.,]+) g pigment", cups)]
        assert math.fsum(grams) == pytest.approx(float(str(row["cup_pigment"])), abs=0.16)


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ("white", "is no colour cup"),
        ("60 at 4 %", "is no colour cup"),
        ("white 60 at 4", "is no colour cup"),
        ("white 60 at 4 g", "is no colour cup"),
        ("white 60, grey 40", "is no colour cup"),
        ("white 0 at 4 %; grey 0", "share of 0"),
        ("white 60 at 100 %", "below 100 %"),
        ("white 60; White 40", "twice"),
        (";;", "is no colour cup"),
        ("; ".join(f"c{chr(97 + n)} 1" for n in range(13)), "12 at most"),
        ("w" * 30 + " 5", "24 letters"),
    ],
)
def test_bad_cups_are_refused_with_what_to_type(
    job: Job, table: Table, typed: str, said: str
) -> None:
    with pytest.raises(InputError, match=said) as caught:
        colours.read(typed)
    assert caught.value.where == "Colour cups"
    (row,) = table(job({}, {"cups": typed}))
    assert said in str(row["status"])
    assert row["mixed"] == "!"


@pytest.mark.parametrize(
    ("cells", "said"),
    [
        (({"pigment": "2 % mass"}, {"cups": CUPS}), "Pigment: the layer has colour cups"),
        (({}, {}, {}, {"pot_life": 1.5}), "pot life"),
        (({}, {"bucket": "100 mL"}), "'Shelf' needs"),
        (({}, {}, {}, {"pot_life": None}), "Pot life of Clear"),
    ],
)
def test_layer_that_cannot_be_mixed_says_why(
    job: Job, table: Table, cells: tuple[dict[str, Value], ...], said: str
) -> None:
    (row,) = table(job(*cells))
    assert str(row["status"]).startswith("! ")
    assert said in str(row["status"])
    assert row["title"] == "!"


def test_too_many_batches_are_said(job: Job, table: Table) -> None:
    many = job({}, {"bucket": "120 mL", "batch_loss": None}, pieces=(("Top", 20.0, "yes"),))
    rows = table(many)
    assert len(rows) == batches.ROWS
    assert "room for 60" in str(rows[-1]["status"])
    assert "bigger buckets" in str(rows[-1]["status"])
    assert rows[-2]["status"] == "ok"


NASTY: st.SearchStrategy[Value] = st.one_of(
    st.none(),
    st.booleans(),
    st.floats(-10, 1e4),
    st.text(max_size=30),
    st.sampled_from([CellError("#N/A"), "! earlier", "2 oz", "5 % vol", "3 % mass", "yes", CUPS]),
)


@settings(max_examples=80)
@given(st.data())
def test_anything_typed_gives_rows_or_a_refusal(job: Job, data: st.DataObject) -> None:
    call = job({}, {})
    place = data.draw(st.integers(0, 4))
    rows = call[place]
    assert isinstance(rows, list)
    row = list(rows[0])
    for column in data.draw(st.sets(st.integers(0, len(row) - 1), max_size=4)):
        row[column] = data.draw(NASTY)
    call[place] = [row, *rows[1:]]
    found = evaluate("PB_BATCHES", call)
    if isinstance(found, str):
        assert found.startswith("!")
        return
    assert isinstance(found, list)
    assert len(found) == batches.ROWS
    for line in found:
        status = line[batches.STATUS]
        assert status in {"ok", ""} or str(status).startswith(("! ", "CHECK: "))
        assert len(str(status)) <= 250


def test_template_has_a_row_for_every_result() -> None:
    declared = load_book("job").block("batches")
    assert declared.rows == batches.ROWS
    assert declared.fill is not None
    assert declared.fill.function == "PB_BATCHES"


def test_checks_know_how_many_cards_there_are() -> None:
    book = load_book("job")
    assert book.block("overall").field("cards").default == book.block("mix_cards").rows


def test_all_that_is_used_counts_against_the_pot_life(job: Job) -> None:
    """By hand: (40 - 2) min at 10 m²/h is 6.33 m²; at 1 mm and 1 mm drunk that is 12.67 L.

    What stays in the bucket, 0.1 L, is mixed as well but takes no time to spread.
    """
    call = job(
        {"take_up": "1 L/m²"},
        {"bucket": "90 L", "batch_loss": "100 mL"},
        pieces=(("Floor", 60.0, "yes"),),
    )
    found = evaluate("PB_PLAN", [*call[:7], call[8]])
    assert isinstance(found, list)
    shown = dict(zip((c.id for c in plan_rows.RESULTS), found[0], strict=True))
    assert shown["plan_status"] == "ok"
    assert shown["binds"] == "pot life"
    assert shown["limit"] == pytest.approx(10 * 38 / 60 * 2 + 0.1)


def test_bucket_that_keeps_all_of_a_batch_is_refused(job: Job) -> None:
    call = job({}, {"bucket": "1 L", "batch_loss": "1 L"}, pieces=(("Bar", 2.0, "yes"),))
    found = evaluate("PB_PLAN", [*call[:7], call[8]])
    assert isinstance(found, list)
    assert "Bucket hold-back: it is all the bucket holds" in str(found[0][3])


def test_a_piece_takes_its_time_in_every_pass(job: Job) -> None:
    """Its area by the pace, however it is parted and whatever the first pass takes up besides."""
    pieces = (("Bar", 4.0, "yes"), ("Shelf", 1.5, "yes"))
    doses: dict[str, Value] = {"take_up": "200 mL/m²", "edge_loss": "60 mL/m"}
    call = job({"passes": 2, "spread": "1 L/m²", **doses}, {"bucket": "1.3 L"}, pieces=pieces)
    one, how, coating, works, where = (table for table in call[:5] if isinstance(table, list))
    tables = JobTables(one, how, coating, works, where, SYSTEMS["metric"], Going.ROOMS)
    (planned,) = plans.plan_all(tables, 293.15, 2.0)
    assert isinstance(planned, plans.Planned)
    pace = planned.doing.pace * planned.doing.hands
    first, second = planned.passes
    assert first.mixed > 1.1 * second.mixed
    for one_pass, seconds in zip(planned.passes, planned.share_seconds, strict=True):
        spent = [0.0, 0.0]
        for batch, times in zip(one_pass.batches, seconds, strict=True):
            for share, time in zip(batch.shares, times, strict=True):
                spent[share.piece] += time
        assert spent == pytest.approx([piece.area / pace for piece in planned.layer.pieces])
