"""A job begun from the shop's workbook, and a job's stock booked in it, on real files."""

from __future__ import annotations

import datetime as dt
import hashlib
import shutil
from collections.abc import Callable, Mapping
from pathlib import Path

import openpyxl
import pytest
from tests.command_line import run

from pourbook.errors import FileUnreadableError, InputError
from pourbook.formats.ooxml import rewrite
from pourbook.hosts import headless
from pourbook.job import fill, make
from pourbook.job.make import Scenario
from pourbook.shop import shop, stock_job
from pourbook.workbook.build import build
from pourbook.workbook.check.check import check_file
from pourbook.workbook.check.reader import Reader
from pourbook.workbook.layout.laid_out import Layout
from pourbook.workbook.layout.lay_out import lay_out
from pourbook.workbook.read.read import formula_cells, read_book
from pourbook.workbook.template import released

pytestmark = pytest.mark.in_turn(2)

QUOTED = dt.date(2026, 11, 24)
Row = dict[str, object]
MakeJob = Callable[..., Path]


@pytest.fixture(scope="module")
def reader(demo_shop: Path) -> Reader:
    return Reader(check_file(demo_shop))


@pytest.fixture
def changed(tmp_path: Path, demo_shop: Path) -> Callable[..., Path]:
    """A copy of the demo's shop with some cells typed anew."""

    def change(entries: Mapping[tuple[str, str, int], object]) -> Path:
        target = tmp_path / "shop.xlsx"
        shutil.copy(demo_shop, target)
        if entries:
            fill.fill(target, target, entries, force=True)
        return target

    return change


# A new job


def test_a_job_takes_what_the_shop_has(
    reader: Reader, scenario_us: Scenario, plan_us: Layout
) -> None:
    """The demo job was typed by hand before there was a shop: both must say the same."""
    taken = shop.entries_for(reader, "us", QUOTED).entries
    unknown = [key for key in taken if key not in plan_us.entry_at]
    assert not unknown
    for block in ("products", "working", "kinetics", "sundries", "labour"):
        ours = {k: v for k, v in taken.items() if k[0] == block}
        assert ours == {k: v for k, v in scenario_us.entries.items() if k[0] == block}
    for block in ("money", "rates", "site", "pace"):
        for key, value in taken.items():
            if key[0] == block:
                typed = scenario_us.entries.get(key, plan_us.block(block).field(key[1]).default)
                assert typed == value, key
    for name in ("product", "holds", "price", "shelf_life", "most"):
        theirs = [scenario_us.entries.get(("packs", name, i)) for i in range(9)]
        assert [taken.get(("packs", name, i)) for i in range(9)] == theirs
    sizes = [str(scenario_us.entries["packs", "contents", i]) for i in range(9)]
    assert [f"{taken['packs', 'contents', i]:g} US gal" for i in range(9)] == sizes
    assert taken["start", "date", 0] == QUOTED
    lots = {taken["stock", "lot", i]: taken["stock", "amount", i] for i in range(3)}
    assert lots == {"T-0412": 0.4, "C-0117": 0.5, "B-0933": 0.25}
    assert ("stock", "lot", 3) not in taken
    # what the shop paid by the gallon: 79 opened, 38 for half, 81 received
    paid = [taken["stock", "worth", i] for i in range(3)]
    assert paid == [{"T-0412": 79.0, "C-0117": 76.0, "B-0933": 81.0}[str(lot)] for lot in lots]


def test_what_was_paid_is_told_by_the_jobs_own_unit(reader: Reader) -> None:
    us, metric = (shop.entries_for(reader, system, QUOTED).entries for system in ("us", "metric"))
    litres = 3.785411784  # of a US gallon: NIST Handbook 44 (from memory)
    for row in range(3):
        assert float(str(metric["stock", "worth", row])) * litres == pytest.approx(
            float(str(us["stock", "worth", row])), abs=0.001
        )


@pytest.mark.parametrize(
    ("day", "prices"),
    [
        ("2026-01-04", {}),
        ("2026-01-05", {("Tint base", 1.0): 79.0}),
        ("2026-08-31", {("Tint base", 1.0): 79.0, ("Clear flood", 4.0): 286.0}),
        ("2026-09-01", {("Tint base", 1.0): 84.0, ("Tint base", 3.0): 228.0}),
        ("2026-12-31", {("Clear flood", 4.0): 286.0}),
        ("2027-01-01", {("Clear flood", 4.0): 299.0, ("Tint base", 1.0): 84.0}),
    ],
)
def test_the_price_that_holds_on_the_day(
    reader: Reader, day: str, prices: dict[tuple[str, float], float]
) -> None:
    taken = shop.entries_for(reader, "us", dt.date.fromisoformat(day)).entries
    rows = [k[2] for k in taken if k[:2] == ("packs", "product")]
    kits = [i for i in rows if taken["packs", "holds", i] == "kit"]
    found = {
        (taken["packs", "product", i], taken["packs", "contents", i]): taken["packs", "price", i]
        for i in kits
    }
    assert len(found) == len(kits), "a pack is there twice"
    assert not prices or prices.items() <= found.items()
    assert bool(prices) == bool(found)


def test_the_sheet_says_the_same_of_every_price(
    demo_shop: Path, changed: Callable[..., Path]
) -> None:
    """The formula beside each price and the command choose the same rows, whatever the day."""
    for day in ("2026-01-04", "2026-08-31", "2026-09-01", "2027-01-01"):
        date = dt.date.fromisoformat(day)
        found = Reader(check_file(changed({("start", "day", 0): date})))
        rows = list(found.rows("prices", "product"))
        told = [r for r in rows if found.value("prices", "price_status", r) == "holds"]
        assert told == shop.prices_on(found, date), day


def test_stock_past_its_day_stays_on_the_shelf(reader: Reader) -> None:
    on_it = shop.entries_for(reader, "us", dt.date(2026, 12, 31))
    after = shop.entries_for(reader, "us", dt.date(2027, 1, 1))
    assert "C-0117" in {v for k, v in on_it.entries.items() if k[:2] == ("stock", "lot")}
    assert "C-0117" not in {v for k, v in after.entries.items() if k[:2] == ("stock", "lot")}
    assert any("past their use-by day: C-0117" in note for note in after.notes)


def test_a_metric_job_gets_the_shops_figures_in_metric(reader: Reader, plan_metric: Layout) -> None:
    """By definition: 1 ft = 0.3048 m, 1 US gal = 231 in³, °C = (°F - 32)/1.8."""
    taken = shop.entries_for(reader, "metric", QUOTED).entries
    assert not [key for key in taken if key not in plan_metric.entry_at]
    foot = 0.3048**2
    assert taken["rates", "replace_low", 0] == pytest.approx(65 / foot, rel=1e-11)
    assert taken["rates", "labour", 0] == 46
    assert taken["labour", "hours", 0] == pytest.approx(0.012 / foot, rel=1e-11), "each area"
    assert taken["labour", "hours", 1] == pytest.approx(0.006 / foot, rel=1e-11)
    assert taken["labour", "hours", 5] == 0.25, "for a batch"
    assert taken["sundries", "quantity", 2] == pytest.approx(0.04 / foot, rel=1e-11)
    assert taken["pace", "sand", 0] == pytest.approx(100 * foot, rel=1e-11)
    assert taken["products", "coldest", 0] == pytest.approx(28 / 1.8, rel=1e-11)
    assert taken["working", "pot_temp", 0] == pytest.approx(38 / 1.8, rel=1e-11)
    assert taken["kinetics", "hottest", 0] == pytest.approx(60, rel=1e-11)
    assert taken["products", "density_a", 0] == "1.18 kg/L"
    assert taken["working", "safe_mix", 3] == "0.75 US gal"
    assert taken["packs", "contents", 0] == "1 US gal"
    assert taken["packs", "price", 0] == 84
    assert taken["stock", "amount", 2] == "0.25 US gal"


def test_a_measure_that_means_something_else_is_converted(changed: Callable[..., Path]) -> None:
    """A bare gallon, a bare number and a dew margin mean something in the shop's units only."""
    typed = {
        ("working", "safe_mix", 0): "1 gal",
        ("products", "density_a", 0): 10,
        ("working", "margin", 0): 5.4,
    }
    taken = shop.entries_for(Reader(check_file(changed(typed))), "imperial", QUOTED).entries
    assert taken["working", "safe_mix", 0] == pytest.approx(3.785411784 / 4.54609, rel=1e-11)
    assert taken["products", "density_a", 0] == pytest.approx(10 * 4.54609 / 3.785411784, rel=1e-11)
    assert taken["working", "margin", 0] == pytest.approx(3, rel=1e-11)


BAD = {
    "a price without a day": (("prices", "from", 2), None),
    "a price that is a word": (("prices", "price", 2), "cheap"),
    "a product without parts": (("products", "parts", 1), None),
    "a sundry without a number": (("sundries", "quantity", 1), None),
    "a step that goes by nothing": (("labour", "per", 1), "moon"),
    "a movement without a value": (("movements", "value", 1), None),
    "a rate that is a word": (("rates", "labour", 0), "much"),
}


@pytest.mark.parametrize("case", BAD)
def test_a_bad_row_is_named_by_its_cell(case: str, changed: Callable[..., Path]) -> None:
    key, value = BAD[case]
    found = Reader(check_file(changed({key: value})))
    with pytest.raises(InputError) as refusal:
        shop.entries_for(found, "us", QUOTED)
    assert refusal.value.where == found.place(*key)
    assert refusal.value.mend


def test_packs_that_are_no_longer_bought_are_left_out(changed: Callable[..., Path]) -> None:
    found = Reader(check_file(changed({("prices", "most", 2): 0})))
    taken = shop.entries_for(found, "us", QUOTED).entries
    assert 228 not in {v for k, v in taken.items() if k[:2] == ("packs", "price")}


# A job's stock


def _receipt(line: object, kind: str, lot: str, packs: float = 1, **more: object) -> Row:
    given: Row = {"date": dt.date(2027, 1, 6), "document": "Q-2207", "product": "Tint base"}
    given |= {"holds": "kit", "line": line, "kind": kind, "lot": lot, "packs": packs}
    return given | {"contents": 3, "price": 228} | more


def _left(lot: str, rest: float, **more: object) -> Row:
    given: Row = {"date": dt.date(2027, 1, 18), "product": "Tint base", "lot": lot, "rest": rest}
    return given | {"goes": "back on the shelf"} | more


RECEIPTS = [
    _receipt(1, "bought", "T-0588", 2, expiry=dt.date(2028, 1, 6)),
    _receipt(2, "sent back", "T-0588", 1, expiry=dt.date(2028, 1, 6)),
    _receipt(3, "from shelf", "T-0412", 1, contents=0.4, price=31.6),
    _receipt(4, "bought", "", 1, product="Roll-on top", contents=0.75, price=139),
]
LEFT = [
    _left("T-0588", 0.53),
    _left("T-0412", 0.1, goes="thrown away"),
    _left("", 0.0, goes="thrown away", product="Roll-on top"),
]


@pytest.fixture
def make_job(tmp_path: Path, scenario_us: Scenario, scenario_metric: Scenario) -> MakeJob:
    """A job with receipts and what was left, and nothing that was measured."""

    def made(
        receipts: list[Row],
        left: list[Row],
        name: str = "job.xlsx",
        system: str = "us",
        **more: str,
    ) -> Path:
        scenario = scenario_us if system == "us" else scenario_metric
        kept = {"start", "money", "products"}
        entries: make.Entries = {k: v for k, v in scenario.entries.items() if k[0] in kept}
        entries["money", "currency", 0] = more.pop("currency", "USD")
        entries |= make.flatten({"receipts": receipts, "left": left})
        make.make(tmp_path / name, system, entries, pieces=1, force=True, identity=more["identity"])
        return tmp_path / name

    return lambda *given, **more: made(*given, **({"identity": "a1"} | more))


def _sum(path: Path) -> str:
    return hashlib.sha256(path.read_bytes()).hexdigest()


def _lots(path: Path) -> dict[str, tuple[float, float]]:
    found = Reader(check_file(path))
    return {
        found.text("lots", "lot", row): (
            round(found.number("lots", "on_amount", row), 9),
            round(found.number("lots", "on_value", row), 2),
        )
        for row in found.rows("lots", "product")
    }


def test_a_job_is_booked_once(changed: Callable[..., Path], make_job: MakeJob) -> None:
    target, source = changed({}), make_job(RECEIPTS, LEFT)
    before = _sum(target)
    tried = stock_job.book(target, source, dry_run=True)
    assert _sum(target) == before, "a dry run wrote"
    done = stock_job.book(target, source, dry_run=False)
    assert done == tried
    assert [m.kind for m in done.new] == [
        *("received", "issued", "back on the shelf", "sent back"),
        *("issued", "received", "issued", "back on the shelf"),
    ]
    assert not check_file(target).findings
    # 2 x 228 + 31.60 paid less 228 sent back, for 3 + 0.4 gallons
    mean = (228 + 31.6) / 3.4
    assert _lots(target) == {
        "T-0412": (0, 0),
        "C-0117": (0.5, 38),
        "B-0933": (0.25, 20.25),
        "T-0588": (0.53, round(0.53 * mean, 2)),
        "Q-2207 4": (0, 0),
    }
    booked = _sum(target)
    again = stock_job.book(target, source, dry_run=False)
    assert (again.new, again.already) == ((), 8)
    assert _sum(target) == booked, "the second run wrote"


def test_a_renamed_copy_is_the_same_job(changed: Callable[..., Path], make_job: MakeJob) -> None:
    target, source = changed({}), make_job(RECEIPTS, LEFT)
    stock_job.book(target, source, dry_run=False)
    copy = source.with_name("archive 2027.xlsx")
    shutil.copy(source, copy)
    fill.fill(copy, copy, {("start", "job", 0): "Tern Cottage, finished"}, force=True)
    assert stock_job.book(target, copy, dry_run=False).new == ()


def test_what_is_new_is_added_and_what_changed_is_refused(
    changed: Callable[..., Path], make_job: MakeJob
) -> None:
    target = changed({})
    stock_job.book(target, make_job(RECEIPTS[:1], []), dry_run=False)
    done = stock_job.book(target, make_job(RECEIPTS, []), dry_run=False)
    assert (len(done.new), done.already) == (5, 2)
    before = _sum(target)
    other = make_job([RECEIPTS[0] | {"packs": 3}, *RECEIPTS[1:]], [])
    with pytest.raises(InputError, match="booked already with other figures") as refusal:
        stock_job.book(target, other, dry_run=False)
    assert "job.xlsx, Used!" in refusal.value.where
    assert "shop.xlsx, Stock!A" in refusal.value.what
    with pytest.raises(InputError, match="no longer has it"):
        stock_job.book(target, make_job(RECEIPTS[:2], []), dry_run=False)
    assert _sum(target) == before


def test_a_job_without_a_mark_is_known_by_name_and_client(
    tmp_path: Path, make_job: MakeJob, repack: Callable[..., Path]
) -> None:
    marked = make_job(RECEIPTS[:1], [])
    old = repack(
        marked,
        tmp_path / "old.xlsx",
        {"docProps/custom.xml": lambda content: content.replace(b"pourbook id", b"other")},
    )
    name = stock_job.identity_of(Reader(check_file(old)))
    assert name.startswith("tern cottage: kitchen, bar and bath / the owners")
    assert stock_job.identity_of(Reader(check_file(marked))) == "a1"


def test_a_job_begun_as_a_copy_gets_a_mark_of_its_own(
    changed: Callable[..., Path], make_job: MakeJob
) -> None:
    target, first = changed({}), make_job(RECEIPTS[:1], [])
    stock_job.book(target, first, dry_run=False)
    with pytest.raises(InputError, match="booked under its own name"):
        stock_job.book(target, first, dry_run=False, copied=True)
    second = make_job([_receipt(1, "bought", "T-0700", document="Q-3001")], [], name="b.xlsx")
    fill.fill(second, second, {("start", "job", 0): "Gull House"}, force=True)
    with pytest.raises(InputError, match=r"then 'Tern Cottage.*add --copied") as refusal:
        stock_job.book(target, second, dry_run=False)
    assert refusal.value.where == "shop.xlsx, Stock!A16"
    before = _sum(second)
    stock_job.book(target, second, dry_run=True, copied=True)
    assert _sum(second) == before, "a dry run wrote"
    done = stock_job.book(target, second, dry_run=False, copied=True, identity="b2")
    assert len(done.new) == 2
    assert read_book(second).marks["pourbook id"] == "b2"
    assert stock_job.book(target, second, dry_run=False).new == ()
    assert stock_job.book(target, first, dry_run=False).new == ()
    with pytest.raises(InputError, match="booked under its own name"):
        stock_job.book(target, second, dry_run=False, copied=True)


def test_a_job_without_a_mark_can_be_given_one(
    tmp_path: Path, make_job: MakeJob, repack: Callable[..., Path]
) -> None:
    old = repack(
        make_job([], []),
        tmp_path / "old.xlsx",
        {"docProps/custom.xml": lambda content: content.replace(b"pourbook id", b"other")},
    )
    stock_job.remark(old, "c3")
    assert read_book(old).marks["pourbook id"] == "c3"
    assert read_book(old).marks["other"] == "a1"
    assert openpyxl.load_workbook(old).custom_doc_props["pourbook id"].value == "c3"


def test_every_job_gets_a_mark_of_its_own(tmp_path: Path) -> None:
    marks = set()
    for name in ("one.xlsx", "two.xlsx"):
        make.make(tmp_path / name, "us", {}, pieces=1)
        marks.add(read_book(tmp_path / name).marks["pourbook id"])
    assert len(marks) == 2
    assert all(len(mark) == 32 for mark in marks)


def test_a_metric_job_is_booked_in_gallons(changed: Callable[..., Path], make_job: MakeJob) -> None:
    bought = _receipt(1, "bought", "T-7", 2, contents=3.785411784, price=90)
    target = changed({})
    source = make_job([bought], [_left("T-7", 3.785411784)], system="metric")
    stock_job.book(target, source, dry_run=False)
    assert _lots(target)["T-7"] == (1.0, 90.0)


def test_a_scanned_lot_is_the_lot(changed: Callable[..., Path], make_job: MakeJob) -> None:
    code = "(01)09501101530003(17)280106(10)T-0588"
    source = make_job([_receipt(1, "bought", code)], [_left("T-0588", 0.5)])
    done = stock_job.book(changed({}), source, dry_run=True)
    assert {m.lot for m in done.new} == {"T-0588"}
    assert {m.use_by for m in done.new} == {dt.date(2028, 1, 6)}


REFUSED: dict[str, tuple[list[Row], list[Row], dict[str, str], str, str]] = {
    "another currency": (RECEIPTS[:1], [], {"currency": "EUR"}, "job is in EUR", "Start!"),
    "a receipt without a price": (
        [{k: v for k, v in RECEIPTS[0].items() if k != "price"}], [], {}, "Price of one", "Used!",
    ),
    "a lot the shop has not": (
        [_receipt(1, "from shelf", "T-1")], [], {}, "T-1 of Tint base .* not in the shop", "Used!",
    ),
    "more than is on the shelf": (
        [_receipt(1, "from shelf", "T-0412")], [], {}, "would be 2.6 below zero", "Used!",
    ),
    "a lot from the shelf without its name": (
        [_receipt(1, "from shelf", "")], [], {}, "lot is blank", "Used!",
    ),
    "another use-by day than the shop's": (
        [_receipt(1, "from shelf", "T-0412", contents=0.1, expiry=dt.date(2027, 4, 1))],
        [], {}, "by 2027-03-31 at shop.xlsx, Stock!A", "Used!",
    ),
    "more goes back than was taken": (
        RECEIPTS[:1], [_left("T-0588", 7)], {}, "more of Tint base goes back", "Used!",
    ),
    "a lot the job did not take": (
        RECEIPTS[:1], [_left("X", 1)], {}, "lot X is none of what the job took", "Used!",
    ),
    "a lot with a wildcard": ([_receipt(1, "bought", "T*")], [], {}, "cannot tell apart", "Used!"),
    "two lines that look alike": (
        [_receipt(None, "bought", "T-1"), _receipt(None, "bought", "T-1")],
        [], {}, "looks the same as", "Used!",
    ),
}  # fmt: skip


@pytest.mark.in_turn
@pytest.mark.parametrize("case", REFUSED)
def test_what_cannot_be_booked_is_refused_whole(
    case: str, changed: Callable[..., Path], make_job: MakeJob
) -> None:
    receipts, left, more, words, place = REFUSED[case]
    target, source = changed({}), make_job(receipts, left, **more)
    before = _sum(target)
    with pytest.raises(InputError, match=words) as refusal:
        stock_job.book(target, source, dry_run=False)
    assert refusal.value.where.startswith(f"job.xlsx, {place}")
    assert _sum(target) == before


def test_the_wrong_kind_of_workbook_is_refused(demo_shop: Path, make_job: MakeJob) -> None:
    source = make_job(RECEIPTS, [])
    with pytest.raises(InputError, match="this is no shop workbook"):
        stock_job.book(source, source, dry_run=False)
    with pytest.raises(InputError, match="this is no job workbook"):
        stock_job.book(demo_shop, demo_shop, dry_run=False)
    with pytest.raises(FileUnreadableError, match="this is a shop workbook"):
        read_book(demo_shop).plan()


def test_labour_is_the_same_in_other_units(
    reader: Reader, plan_us: Layout, plan_metric: Layout, demo_us: Path, demo_metric: Path
) -> None:
    """The rates of the shop in the metric twin cost what the metric demo's own do."""
    for name in ("labour", "sundries"):
        both = []
        for path, layout in ((demo_us, plan_us), (demo_metric, plan_metric)):
            cell = layout.cell("price", name, 0)
            both.append(read_book(path).sheets[cell.sheet].value(cell.address))
        assert both[0] == pytest.approx(both[1], abs=0.011)
    taken = shop.entries_for(reader, "metric", QUOTED).entries
    sheets = read_book(demo_metric).sheets
    for key in taken:
        if key[:2] in {("labour", "hours"), ("sundries", "quantity")}:
            cell = plan_metric.cell(*key)
            assert taken[key] == pytest.approx(sheets[cell.sheet].value(cell.address), rel=1e-9)


def test_a_shop_of_the_first_sheets_still_begins_a_job(
    scenario_shop: Scenario, shop_rows: int, tmp_path: Path
) -> None:
    """It has no finishes; all else comes over."""
    plan = lay_out("shop", "us", shop_rows, released.FIRST)
    entries = {k: v for k, v in scenario_shop.entries.items() if k in plan.entry_at}
    entries |= {k: "job" for k, v in entries.items() if v == "visit"}  # a word of later sheets
    bare, file = tmp_path / "bare.xlsx", tmp_path / "shop.xlsx"
    build.write(plan, {**make.defaults(plan), **entries}, bare, made=dt.datetime(2026, 1, 5))
    book = read_book(bare)
    rewrite.inject(bare, file, headless.engine("fast").recompute(bare, formula_cells(book)).values)
    found = shop.entries_for(Reader(check_file(file)), "us", dt.date(2026, 11, 28)).entries
    assert found["products", "product", 0] == entries["products", "product", 0]
    assert found["packs", "price", 0] == 84
    assert not {block for block, _, _ in found} & {"finishes", "finish_layers"}


def test_a_job_takes_what_stands_on_every_quote(
    changed: Callable[..., Path], tmp_path: Path
) -> None:
    paper = {
        "licence": "4711",
        "deposit": 0.4,
        "terms": "Rest in 14 days.",
        "warranty": "Two years.",
        "by_room": "yes",
        "picture": "mark.png",
    }
    shop = changed({("paper", name, 0): value for name, value in paper.items()})
    assert run("new", tmp_path / "job.xlsx", "--shop", shop) == 0
    found = check_file(tmp_path / "job.xlsx")
    cells = {name: found.plan.cell("paper", name) for name in paper}
    assert {
        name: found.book.sheets[cell.sheet].value(cell.address) for name, cell in cells.items()
    } == paper
