"""What if: every case is the plan that Batches, Buying and Days give when the job is changed so.

The figures are held against the other worksheet functions, called with the change typed where the
estimator would type it; one kitchen is worked out by hand.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Mapping

import pytest
from tests.agreement import jobs
from tests.agreement.pipeline import Pipeline

from pourbook.cells import Rows, Value, text
from pourbook.functions.batch.plans import Planned
from pourbook.functions.catalogue import evaluate
from pourbook.functions.days import calendar, what_if
from pourbook.functions.days.what_if import PB_CASES
from pourbook.functions.days.whole_plan import WholePlan
from pourbook.functions.days.whole_price import RATES
from pourbook.tables.buy.packs import STOCK
from pourbook.tables.job_tables import JobTables
from pourbook.tables.measured import ROOM_COLUMNS
from pourbook.trade.batch.pieces import Going
from pourbook.units import SYSTEMS
from pourbook.workbook.template.template import load_book

SEEDS = range(24)
NAMES = [argument.name for argument in PB_CASES.arguments]
KIT: tuple[Value, ...] = ("Clear", "kit", "2 L", 60.0, None, None)
BY_HAND: list[Value | Rows] = [*calendar.EXAMPLE, [KIT], [[None] * len(STOCK)], None]


RATES_BLANK: Rows = [[None]] * len(RATES)


def _cases(*typed: Value, **changed: Value | Rows) -> list[dict[str, Value]]:
    entries = [[cell] for cell in (*typed, *[None] * (len(what_if.CASES) - len(typed)))]
    given = dict(zip(NAMES, [*BY_HAND, entries, RATES_BLANK], strict=True)) | changed
    found = evaluate("PB_CASES", [given[name] for name in NAMES])
    assert isinstance(found, list), found
    return [dict(zip([c.id for c in PB_CASES.columns], row, strict=True)) for row in found]


def test_by_hand() -> None:
    """A top of 2 m², 1 mm, in buckets of 1.2 L that keep 0.1 L: two batches of 1.1 L.

    One spreads 10 m² an hour: 6 min for 1 m², and 2 of mixing, of 40. In buckets of 2.4 L it is one
    batch, 12 min and 2, and 2.1 L still take two kits of 2 L, 120.
    """
    planned, *_, bucket = _cases()
    figures = ("case_batches", "case_worst", "case_packs", "case_cost", "case_visits")
    assert [planned[name] for name in figures] == pytest.approx([2, 8 / 40, 2, 120.0, 1])
    assert planned["case_last"] == (dt.date(2027, 1, 11) - dt.date(1899, 12, 30)).days
    assert [bucket[name] for name in figures] == pytest.approx([1, 14 / 40, 2, 120.0, 1])
    four = _cases(None, None, None, None, "1.1 L")[-1]
    assert (four["case"], four["case_batches"]) == ("Buckets of 1.10 L", 2)


def test_amounts_used_cost_their_share_of_the_kits() -> None:
    """2 batches of 1 L and 0.1 in each bucket: 2.2 L of 4 for 120; one batch, 2.1 of 4."""
    rates = [["amounts used"] if name == "charge" else [None] for name in RATES]
    planned, *_, bucket = _cases(rates=rates)
    assert planned["case_cost"] == pytest.approx(120 * 2.2 / 4)
    assert bucket["case_cost"] == pytest.approx(120 * 2.1 / 4)
    assert (planned["case_packs"], bucket["case_packs"]) == (2, 2)


@pytest.mark.parametrize("seed", SEEDS)
def test_cases_are_the_plans_of_the_changed_job(seed: int) -> None:
    """Random jobs: each case against Batches, Days and Buying of the job with the change typed."""
    sample = jobs.make(seed)
    job = Pipeline(jobs.layout(sample.system), sample.entries)
    entries = sample.entries
    crew = job.get("site", "crew")
    changes: dict[int, dict[tuple[str, str, int], object]] = {0: {}}
    if isinstance(crew, float):
        changes[2] = {("site", "crew", 0): crew + 1}
    rows = {at for block, name, at in entries if (block, name) == ("rooms", "piece")}
    changes[4] = {("rooms", "may_split", at): "yes" for at in rows}
    last = _first_poured(entries)
    if last:
        changes[3] = {("rooms", "order", at): what_if.LAST for at in last}
    for at, change in changes.items():
        other = Pipeline(jobs.layout(sample.system), {**entries, **change})
        _same(job, other, at)


def _first_poured(entries: Mapping[tuple[str, str, int], object]) -> list[int]:
    """Return the rows of Rooms that have the name of the piece with the lowest Pour order."""
    column = {
        name: {at: value for (block, one, at), value in entries.items() if (block, one) == name}
        for name in (("rooms", "order"), ("rooms", "piece"))
    }
    pieces = column["rooms", "piece"]
    orders = [(v, at) for at, v in column["rooms", "order"].items() if isinstance(v, float | int)]
    ranked = sorted(one for one in orders if one[0] and one[1] in pieces)
    if not ranked:
        return []
    first = text(pieces[ranked[0][1]]).casefold()  # type: ignore[arg-type]
    return [at for at, name in pieces.items() if text(name).casefold() == first]  # type: ignore[arg-type]


def _same(job: Pipeline, other: Pipeline, at: int) -> None:
    figures = {c.id: job.get("what_if", c.id, at) for c in PB_CASES.columns}
    status = str(figures["case_status"])
    mixed = [
        (layer, number)
        for layer, number, of in zip(
            other.column("amounts", "status"),
            other.column("amounts", "batches"),
            other.column("layers", "option"),
            strict=True,
        )
        if str(of).upper() == str(other.get("rates", "option")).upper()
    ]
    if status.startswith(("cannot", "!")):
        assert figures["case_batches"] == ""
        said = [*other.column("batches", "status"), *other.column("days", "day_status")]
        said += [*other.column("buying", "buy_status"), *other.column("amounts", "status")]
        told = [s for s in map(str, said) if s.startswith(("!", "CHECK"))]
        assert told or not mixed, status
        return
    assert figures["case_batches"] == sum(float(str(number)) for _, number in mixed)
    visits = [v for v in other.column("days", "visit_from") if isinstance(v, float)]
    if isinstance(other.get("start", "start_date"), float):
        assert figures["case_visits"] == len(visits)
        assert figures["case_last"] == int(max(visits))
    else:
        assert figures["case_visits"] == figures["case_last"] == ""
    letter = str(other.get("rates", "option")).lower()
    cost = [c for c in other.column("buying", f"cost_{letter}") if isinstance(c, float | int)]
    assert figures["case_cost"] == pytest.approx(sum(cost))
    counts = [c for c in other.column("packs", "count") if isinstance(c, float | int)]
    assert figures["case_packs"] == sum(counts)


def test_random_jobs_have_pieces_to_pour_last() -> None:
    assert sum(bool(_first_poured(jobs.make(seed).entries)) for seed in SEEDS) >= len(SEEDS) // 3


def test_random_jobs_come_out_with_figures() -> None:
    done = 0
    for seed in SEEDS:
        sample = jobs.make(seed)
        job = Pipeline(jobs.layout(sample.system), sample.entries)
        done += isinstance(job.get("what_if", "case_batches", 0), float | int)
    assert done >= len(SEEDS) // 3


@pytest.mark.parametrize(
    ("typed", "at", "said"),
    [
        (("hot",), 1, "! Warmer by"),
        ((500,), 1, "! Warmer by: it is 500"),
        ((None, -2), 2, "! More helpers: it is -2"),
        ((None, 0.5), 2, "! More helpers"),
        ((None, None, "Bar"), 3, "! Poured last: there is no piece 'Bar'"),
        ((None, None, None, "D"), 5, "! Other option"),
        ((None, None, None, "B"), 5, "cannot be done: Option: option B has no layers"),
        ((None, None, None, None, "0 L"), 6, "! Buckets of"),
        ((None, None, None, None, "0.05 L"), 6, "cannot be done: "),
    ],
)
def test_wrong_entry_is_named_and_the_others_stand(
    typed: tuple[Value, ...], at: int, said: str
) -> None:
    rows = _cases(*typed)
    assert str(rows[at]["case_status"]).startswith(said)
    assert rows[0]["case_status"] == rows[4]["case_status"] == "ok"


def test_what_cannot_be_done_says_why_in_its_own_row() -> None:
    colder = _cases(-30)[1]
    assert colder["case"] == "Site 30 °C colder"
    assert colder["case_batches"] == 2
    hot = _cases(60)[1]
    assert hot["case_batches"] == ""
    assert str(hot["case_status"]).startswith("cannot be done: Flood")
    none = _cases(start=None)[0]
    assert (none["case_batches"], none["case_visits"], none["case_last"]) == (2, "", "")


def test_piece_poured_last_is_last() -> None:
    entry, order = [*calendar.EXAMPLE[4][0]], ROOM_COLUMNS.index("order")
    piece = ROOM_COLUMNS.index("piece")
    first = [1 if at == order else cell for at, cell in enumerate(entry)]
    second = ["Shelf" if at == piece else cell for at, cell in enumerate(entry)]
    rows = _cases(rooms=[first, second])
    assert rows[3]["case"] == "Top last"
    assert rows[3]["case_status"] == "ok"


def test_all_pieces_of_a_row_are_poured_last() -> None:
    names = [*calendar.EXAMPLE[4][0]]
    row = dict(zip(ROOM_COLUMNS, names, strict=True))
    shelves = [*{**row, "piece": "Shelf", "count": 2.0, "order": 1.0}.values()]
    rows = (*calendar.EXAMPLE[:4], (names, shelves))
    site: dict[str, Value] = {"temperature": 20.0, "crew": 2.0}
    tables = JobTables(*rows, SYSTEMS["metric"], Going.ROOMS)
    plan = WholePlan(tables, ((None,),), "A", site, (), (), (), None)
    what, changed = what_if._last(plan, None)
    assert what == "Shelf last"
    (planned,) = changed.planned
    assert isinstance(planned, Planned)
    orders = {piece.name: piece.order for piece in planned.layer.pieces}
    assert orders == {"Top": math.inf, "Shelf 1": what_if.LAST, "Shelf 2": what_if.LAST}


@pytest.mark.parametrize("bad", ["nan", "! earlier", "1e999", 1e300, True, "", "x" * 300])
def test_no_cell_breaks_the_table(bad: Value) -> None:
    """The cell in every argument and every column of every table in turn."""
    entries: Rows = [[None]] * len(what_if.CASES)
    sound: list[Value | Rows] = [*BY_HAND, entries, RATES_BLANK]
    for place, argument in enumerate(PB_CASES.arguments):
        table = sound[place]
        spoilt: list[Value | Rows] = [bad]
        if isinstance(table, list | tuple):
            first = list(table[0])
            spoilt = [[[*first[:at], bad, *first[at + 1 :]]] for at in range(len(argument.columns))]
        for one in spoilt:
            found = evaluate("PB_CASES", [*sound[:place], one, *sound[place + 1 :]])
            assert isinstance(found, str) or len(found) == what_if.ROWS  # type: ignore[arg-type]


def test_labels_are_those_of_the_sheet() -> None:
    block = load_book("job").block("cases")
    assert [(line.id, line.header) for line in block.columns] == [
        (name, what_if.LABELS[name]) for name in what_if.CASES
    ]
    assert load_book("job").block("what_if").rows == what_if.ROWS
