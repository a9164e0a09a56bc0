"""Ends of ranges, blanks and words that no other test holds, each worked out by hand beside it."""

from __future__ import annotations

import math
from collections.abc import Callable
from types import SimpleNamespace
from typing import Any

import pytest

from pourbook.cells import Rows, Value, ranges_of, row_of
from pourbook.errors import InputError
from pourbook.functions import joint
from pourbook.functions.batch import bucket_heat, mix_cards, mixes, pass_film
from pourbook.functions.board import board_rows
from pourbook.functions.buy import buy_list
from pourbook.functions.catalogue import evaluate
from pourbook.functions.day_columns import SPANS
from pourbook.functions.days import calendar, placing, spans
from pourbook.functions.days.whole_plan import WholePlan
from pourbook.functions.declare import Argument
from pourbook.functions.draw import drawing, drawn_pieces
from pourbook.functions.own import look_rules
from pourbook.functions.site import proof_tests
from pourbook.functions.used import used_checks
from pourbook.tables import reading, rooms
from pourbook.tables.buy import packs
from pourbook.tables.job_tables import JobTables
from pourbook.tables.layers import Layer
from pourbook.tables.measured import ROOM_COLUMNS, MeasuredPiece, RoomTotals
from pourbook.trade import weighing
from pourbook.trade.batch.pieces import Going
from pourbook.trade.days.schedule import WORK, Deed
from pourbook.trade.drawing.outlines import outline
from pourbook.trade.proof import TESTS
from pourbook.trade.weighing import Measured
from pourbook.units import SYSTEMS

METRIC, US = SYSTEMS["metric"], SYSTEMS["us"]
OUNCE = 29.5735295625e-6  # m3: the US fluid ounce, NIST Handbook 44, Appendix C
Job = Callable[..., list[Value | Rows]]


@pytest.mark.parametrize(
    ("ounces", "said"),
    [(0.0, "0 fl oz"), (0.25, "1/4 fl oz"), (2.0, "2 fl oz"), (1234.5, "1,234 1/2 fl oz")],
)
def test_a_mark_in_ounces(ounces: float, said: str) -> None:
    assert mix_cards._volume(ounces * OUNCE, US) == said


def test_cards_of_templates_1_say_one_time_in_their_own_words(
    job: Job, table: Callable[..., list[dict[str, Value]]]
) -> None:
    mix: Any = SimpleNamespace(use_by=1500.0, out_by=720.0, worked_by=1500.0)
    for templates, said in (
        (1, "use by 25"), (2, "out of the bucket by 12, worked by 25"),
    ):  # fmt: skip
        with ranges_of(templates):
            assert mix_cards._times(mix) == said


def test_cards_of_templates_2_say_when_mixing_began(
    job: Job, table: Callable[..., list[dict[str, Value]]]
) -> None:
    call = job({}, {})
    call[-1] = f"{METRIC.label}; sheets 2"
    rows = table(call)
    assert rows
    assert all("min after the start of mixing" in str(row["spread"]) for row in rows)


def test_more_batches_than_there_are_slots_are_named(job: Job) -> None:
    """12 batches: the tenth slot has the last three; of ten each has its own."""
    mixed = [SimpleNamespace(number=n, pieces=f"P{n}", batch=SimpleNamespace(shares=())) for n in
             range(1, 13)]  # fmt: skip
    sheet = drawing._Sheet()
    many: Any = mixed
    drawing._pour(sheet, [], many, [], SimpleNamespace(corners=[]))  # type: ignore[arg-type]
    last = sheet.texts[9 * drawing.SLOT + drawing._BATCH]
    assert last == "P10; and batches 11 to 12"
    assert sheet.texts[9 * drawing.SLOT + drawing._NUMBER] == "10+"
    drawing._pour(sheet, [], many[:10], [], SimpleNamespace(corners=[]))  # type: ignore[arg-type]
    assert sheet.texts[9 * drawing.SLOT + drawing._BATCH] == "P10"
    assert sheet.texts[9 * drawing.SLOT + drawing._NUMBER] == "10"


def test_the_first_piece_of_a_room_says_the_room() -> None:
    drawn: Any = [
        SimpleNamespace(room=room, name=name)
        for room, name in (("Bath", "Vanity"), ("Hall", "Floor"), ("hall", "Sill"), ("", "Top"))
    ]
    assert drawing._labels(drawn) == ["Bath: Vanity", "Hall: Floor", "Sill", "Top"]


def test_the_widest_cutout_is_drawn_where_not_all_can_be() -> None:
    """Of 32 points an outline of 22 leaves 10: 5 of a cutout and the way there and back."""
    round_top = [(math.cos(n), math.sin(n)) for n in range(22)]
    narrow, broad = (
        [(0.0, 0.0), (wide, 0.0), (wide, 0.1), (0.0, 0.1), (0.0, 0.0)] for wide in (0.2, 0.3)
    )
    for holes in ([narrow, broad], [broad, narrow]):
        path = drawing._path([round_top, *holes])
        assert (0.3, 0.1) in path
        assert (0.2, 0.1) not in path


def test_cutouts_stand_side_by_side_with_even_gaps() -> None:
    """2 m less 0.5 and 0.3 leaves three gaps of 0.4: they begin at 0.4 and 1.3."""
    row: dict[str, Value] = {"cutouts": "500 mm x 200 mm; 300 mm x 200 mm"}
    found = drawn_pieces._holes(outline("rectangle", [2.0, 0.6]), row, METRIC)
    lefts = [min(x for x, _ in hole) for hole in found]
    assert lefts == pytest.approx([0.4, 1.3])


@pytest.mark.parametrize(
    ("typed", "named"), [({"splash_run": "2 m"}, "height"), ({"splash_height": "10 cm"}, "run")]
)
def test_a_backsplash_needs_both_its_sizes(typed: dict[str, Value], named: str) -> None:
    cells = {"room": "Bar", "piece": "Top", "shape": "rectangle", "a": "2 m", "b": "1 m"} | typed
    found = evaluate("PB_ROOMS", [[row_of(rooms.COLUMNS, **cells)], "metric"])
    assert isinstance(found, list)
    assert f"Backsplash {named}" in str(found[0][5])
    assert "a backsplash needs its run and its height" in str(found[0][5])


def test_a_ratio_says_what_it_lacks() -> None:
    with pytest.raises(InputError, match="has no colon"):
        reading.ratio("2", 2)
    with pytest.raises(InputError, match="names 2 parts, the product has 3"):
        reading.ratio("2:1", 3)


def test_least_film_is_told_to_three_digits() -> None:
    usual: dict[str, Any] = {"thickest": None, "recoat_from": None, "thinnest": 0.00012345}
    planned: Any = SimpleNamespace(
        layer=SimpleNamespace(
            thickest_pass=1e-5, wet=1e-5, passes=1, product=SimpleNamespace(name="Clear")
        ),
        working=SimpleNamespace(**usual),
    )
    assert "Clear needs 0.123 mm to flow" in pass_film.told(planned, METRIC)


def test_half_a_litre_is_an_amount_and_less_than_nothing_is_none() -> None:
    assert board_rows._amount(0.5, "Left") == 0.5
    assert board_rows._amount(0.0, "Left") == 0.0
    with pytest.raises(InputError):
        board_rows._amount(-0.001, "Left")


def test_a_batch_of_its_own_temperature_is_not_late() -> None:
    """Only one that is warmer than it was planned for is refused: it takes 20 min and has 10."""
    for kelvin, late in ((293.15, False), (293.15 + 1e-9, False), (295.15, True)):
        mix: Any = SimpleNamespace(
            kelvin=kelvin, planned_for=293.15, takes=1200.0, out_by=600.0,
            batch=SimpleNamespace(mixed=0.001),
        )  # fmt: skip
        if not late:
            mixes.Mix.refuse_late(mix, METRIC)
            continue
        with pytest.raises(InputError, match="out of the bucket by 10 min, and takes 20"):
            mixes.Mix.refuse_late(mix, METRIC)


def test_a_coat_without_a_first_recoat_time_may_be_poured_over_at_once() -> None:
    below: Any = SimpleNamespace(
        coat=SimpleNamespace(name="Base", product=SimpleNamespace(name="Primer"), passes=1),
        started=0.0, done=1000.0, air=None,
    )  # fmt: skip
    coat = SimpleNamespace(
        name="Top", below="base", product=SimpleNamespace(name="Clear"), passes=1, sanded=False
    )
    batch: Any = SimpleNamespace(coat=coat, started=1000.0, done=2000.0, air=None)
    how: Any = SimpleNamespace(
        recoat_from=None, touch=None, recoat_until=None, cure_temp=None,
        energy_at=lambda _: 50_000.0,
    )  # fmt: skip
    for sanded in (False, True):
        coat.sanded = sanded
        found = used_checks.recoat(batch, [below, batch], {"primer": how})
        assert found == used_checks.Noticed(0.0)


def test_a_pack_of_what_is_not_bought_costs_nothing() -> None:
    item: Any = SimpleNamespace(row=0)
    assert buy_list._counted(item, None, METRIC) == [0, 0.0, 0.0, "ok"]


def _layer(call: list[Value | Rows]) -> Layer:
    (found,) = _tables(call).worked
    assert isinstance(found, Layer), found
    return found


def _tables(call: Any) -> JobTables:
    one, how, coating, works, where = call[:5]
    return JobTables(one, how, coating, works, where, METRIC, Going.ROOMS)


def test_what_runs_off_an_edge_does_so_in_each_pass(job: Job) -> None:
    """0.3 of 1 mm stays on (4 + 1) m of edge 40 mm high: 0.7 mm of 0.2 m2, in each of 2 passes."""
    layer = _layer(job({"passes": 2}, {}, {"vertical": "0.3 mm"}))
    assert layer.run_off == pytest.approx(0.7e-3 * 0.2 * 2, rel=1e-9)


@pytest.mark.parametrize("typed", [0, 0.5, 2.5, -1])
def test_passes_are_counted(job: Job, typed: float) -> None:
    (found,) = _tables(job({"passes": typed}, {})).worked
    assert "is no count" in str(found)


def test_a_fraction_is_a_bare_size() -> None:
    found = [look_rules._size(one, US) for one in ("1/2", "5", "12", "2 ft", 3.0)]
    assert found == ["1/2 in", "5 in", "12 in", "2 ft", "3 in"]


def test_an_argument_of_another_kind_stays_as_its_function_has_it() -> None:
    """Alike ones are needed where either needs them; one of another kind goes by its own name."""
    need, may = (Argument("a", "number", "", optional=one) for one in (False, True))
    for first, second, optional in ((need, may, False), (may, need, False), (may, may, True)):
        taken = {"a": first}
        function: Any = SimpleNamespace(arguments=[second])
        assert joint._taken(taken, "b", function) == ["a"]
        assert taken["a"].optional is optional
    for optional in (False, True):
        other = Argument("a", "text", "", optional=optional)
        taken = {"a": need}
        function = SimpleNamespace(arguments=[other])
        assert joint._taken(taken, "b", function) == ["b_a"]
        assert taken["b_a"].optional is optional


def test_a_piece_has_nothing_to_fill_unless_it_is_said() -> None:
    piece = MeasuredPiece("Top", 1.0, 2.0, False, 1.0)
    assert (piece.soaked, piece.vertical, piece.fill, piece.depth) == (0.0, 0.0, 0.0, 0.0)


def test_powers_of_the_cure_are_held_to_ten() -> None:
    usual: dict[str, Value] = dict.fromkeys(bucket_heat.COLUMNS) | {
        "name": "x", "heat": 400, "specific": 2, "a1": 1e6, "e1": 60, "m": 1, "n": 1, "loss": 5,
        "source": "a sheet",
    }  # fmt: skip
    for name in ("m", "n"):
        bucket_heat.read_heat(usual | {name: 10}, METRIC)
        with pytest.raises(InputError, match="it is 10\\.5"):
            bucket_heat.read_heat(usual | {name: 10.5}, METRIC)


def test_stock_is_judged_by_a_day_and_by_nothing_else() -> None:
    """1 m2 at 1 mm takes a litre or so: one kit of 3 L, unless a lot in stock is of use by then."""
    site: dict[str, Value] = {"temperature": 20.0, "crew": 2.0}
    tables = _tables(calendar.EXAMPLE)
    product = "Clear"
    pack = row_of(packs.PACKS, product=product, holds="kit", contents="3 L", price=60)
    lot = row_of(packs.STOCK, product=product, lot="L", holds="kit", amount="3 L", expiry=46000.0)
    found = {}
    for day in (None, "", "soon", 45_000.0, 46_001.0):
        plan = WholePlan(tables, ((None,),), "A", site, (), [pack], [lot], day)
        found[day] = plan.bought(plan.chosen())[0]
    assert found[46_001.0] > found[45_000.0]
    assert {found[None], found[""], found["soon"]} == {found[None]}


def test_a_mix_without_its_hour_is_as_it_was_planned() -> None:
    given: Any = SimpleNamespace()
    mix = mixes.Mix(1, 1, "1 of 1", given, 0, given, 600.0, 300.0)
    assert (mix.kelvin, mix.planned_for, mix.takes) == (0.0, 0.0, 0.0)


def test_only_jobs_of_templates_1_heat_a_whole_coat_after_its_last_batch() -> None:
    plan: Any = SimpleNamespace(
        doing=SimpleNamespace(heat_passes=2, hands=1),
        working=SimpleNamespace(heat_from=300.0, heat_until=900.0),
    )
    pace: Any = SimpleNamespace(heat_pass=60.0, gap=30.0)
    site: Any = SimpleNamespace(crew=2)
    for templates, heats in ((1, False), (2, True)):
        with ranges_of(templates):
            assert (placing._heat(plan, pace, site) is not None) is heats


def test_two_of_a_piece_drink_half_each_of_what_both_do() -> None:
    """4 m2 of top and 1 of edge at 0.1 L/m2 take half a litre, a quarter each."""
    row = row_of(
        ROOM_COLUMNS, room="Bar", piece="Top", count=2, top=4.0, edge=1.0, run=6.0, soak=100.0,
        status="ok",
    )  # fmt: skip
    rows = RoomTotals.of([row], METRIC)
    pieces = rows.pieces((), ("top", "edge"), lambda *_: False)
    assert [one.soaked for one in pieces] == pytest.approx([0.25e-3, 0.25e-3])
    assert [(one.area, one.run, one.vertical) for one in pieces] == [(2.5, 3.0, 0.5)] * 2


def test_the_working_of_a_batch_says_the_share_of_its_time(job: Job) -> None:
    tables = _tables(job({}, {"share": 0.5}))
    (mix, *_) = mixes.mixes(tables, 293.15, 2.0, "A")
    assert isinstance(mix, mixes.Mix)
    told = {one.label: one for one in mixes.steps(mix, METRIC)}
    assert told["Out of the bucket by"].working == "50 % of it"


def test_a_range_may_end_where_it_begins() -> None:
    test = TESTS["gloss at 60°"]
    limit, _ = proof_tests._limit(test, "50 to 50", METRIC)
    assert (limit.low, limit.high) == (50.0, 50.0)
    with pytest.raises(InputError, match="the wrong way round"):
        proof_tests._limit(test, "50 to 49", METRIC)


def test_a_notch_has_two_sizes_or_three() -> None:
    """Square, 6 wide and 6 deep with 6 between: half is open; 12 between, a third."""
    for typed, film in (("6 x 6", 0.003), ("6 x 6 x 6", 0.003), ("6 x 6 x 12", 0.002)):
        found = reading.spread(f"square notch {typed} at 100 %", METRIC)
        assert found.amount == pytest.approx(film)
    for typed, many in (("6", 1), ("6 x 6 x 6 x 6", 4)):
        with pytest.raises(InputError, match=f"has {many} sizes"):
            reading.spread(f"square notch {typed}", METRIC)


def test_a_time_of_a_layer_is_that_of_its_own_line() -> None:
    """Two coats of two lines each; the second coat's is the third line that is dry to touch."""
    deeds = spans._MILESTONES
    times = [one.id for one in SPANS][-len(deeds) :]
    lines = [
        SimpleNamespace(step=SimpleNamespace(coat=coat, deed=deed, kind=kind))
        for coat in (0, 1)
        for deed, kind in [(Deed.BATCH, WORK), *((deed, "") for deed in deeds)]
    ]
    found: Any = SimpleNamespace(coats=[None, None], lines=lines)
    each = 1 + len(deeds)
    for row in (0, 1):
        for place, column in enumerate(times):
            assert spans.line_behind(found, row, column) == row * each + 1 + place
    assert spans.line_behind(found, 2, times[0]) is None
    assert spans.line_behind(found, 0, "span_name") is None


def test_a_list_of_pieces_that_just_fits_is_whole() -> None:
    assert mix_cards._short("Top; Sill", 9) == "Top; Sill"
    assert mix_cards._short("Top; Sills", 9) == "Top; and 1 more, see Batches"


def test_marks_off_by_just_what_is_allowed_will_do(
    job: Job, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A tenth is allowed; what hands lose of it is the module's own."""
    (mix, *_) = mixes.mixes(_tables(job({}, {}, {}, {"tolerance": 0.1})), 293.15, 2.0, "A")
    assert isinstance(mix, mixes.Mix)
    allowed = 0.1 * mix_cards.HAND
    for off, will_do in ((allowed, True), (allowed * 1.001, False)):
        marks = Measured((1.0, 2.0), off)
        monkeypatch.setattr(weighing, "marks", lambda *_, marks=marks: marks)
        assert (mix_cards.measured(mix, METRIC)[1] is marks) is will_do


def test_what_has_no_depth_yet_is_not_filled() -> None:
    """0.6 L at 10 mm has an opening of 0.06 m2."""
    for depth, filled in ((10.0, [pytest.approx(0.06)]), (None, []), (0.0, [])):
        row = row_of(
            ROOM_COLUMNS, room="Bar", piece="Knot", fill=0.6, fill_depth=depth, status="ok"
        )
        pieces = RoomTotals.of([row], METRIC).pieces((), ("fills",), lambda *_: False)
        assert [one.area for one in pieces] == filled
