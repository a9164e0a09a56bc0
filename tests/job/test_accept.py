"""An accepted quote stays as it was, says what has changed since, and changes nothing typed.

Outside witnesses: openpyxl reads the files, hashlib digests what it read, LibreOffice saves the job
anew, and sums of packs are added up here by hand from the demo's own list.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import re
import shutil
import zipfile
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

import openpyxl
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from tests.agreement import jobs
from tests.office import saved_by_office

from pourbook.cells import Value
from pourbook.errors import FileUnreadableError, InputError, UsageError
from pourbook.formats.ooxml.addresses import cells as range_cells
from pourbook.functions.own.entered import RESTS_ON, canonical
from pourbook.job import books, make
from pourbook.job.accept import accept
from pourbook.job.fill import fill
from pourbook.job.make import Scenario
from pourbook.workbook.check import frozen, quoted
from pourbook.workbook.check.check import check_file
from pourbook.workbook.layout.laid_out import Layout, PlannedCell
from pourbook.workbook.read.read import RawBook, RawSheet, read_book
from pourbook.workbook.read.sheet_lines import RawCell

pytestmark = pytest.mark.in_turn(2)

DAY = dt.date(2026, 12, 1)
Key = tuple[str, str, int]


def _shown(path: Path, plan: Layout) -> Mapping[Key, object]:
    """Return what openpyxl reads in every cell of a field."""
    book = openpyxl.load_workbook(path, data_only=True)
    found = {}
    for cell in plan.cells:
        if (
            cell.block
            and cell.field is not None
            and cell.role not in {"header", "unit", "label", "help"}
        ):
            value = book[cell.sheet][cell.address].value
            if value not in (None, ""):
                found[cell.block, cell.field.id, cell.index] = value
    return found


def _entries(path: Path, plan: Layout) -> dict[Key, Value]:
    book = read_book(path)
    return {key: book.sheets[c.sheet].value(c.address) for key, c in plan.entry_at.items()}


def _ids(path: Path) -> set[str]:
    return {f.id for f in check_file(path).findings}


@pytest.fixture(scope="module")
def figures(accepted_us: Path, plan_us: Layout) -> Mapping[Key, object]:
    return _shown(accepted_us, plan_us)


# What is frozen


@pytest.mark.plain
def test_accepted_demo_is_clean_and_says_so(
    accepted_us: Path, figures: Mapping[Key, object]
) -> None:
    assert check_file(accepted_us, ("fast", "plain")).findings == ()
    assert figures["quoted", "revision", 0] == 1
    assert figures["quoted", "accepted_on", 0] == dt.datetime(2026, 12, 1)
    assert figures["quoted", "accepted_by", 0] == "The owners of Tern Cottage"
    assert figures["quoted", "option", 0] == "A"
    assert figures["quoted", "quote_date", 0] == dt.datetime(2026, 11, 24)
    assert figures["quoted", "currency", 0] == "USD"
    assert figures["quoted", "tax_rate", 0] == 0.0625
    assert figures["quoted", "state", 0] == "ok"
    assert not [key for key in figures if key[0].startswith("revision")]


def test_frozen_price_is_the_price(
    accepted_us: Path, figures: Mapping[Key, object], plan_us: Layout
) -> None:
    page = openpyxl.load_workbook(accepted_us, data_only=True)["Price"]
    place = plan_us.places["price"]
    price = {
        page.cell(r, 1).value: page.cell(r, 2).value for r in range(place.first, place.last + 1)
    }
    numbers = {k: v for k, v in price.items() if isinstance(v, int | float)}
    rows = range(plan_us.block("quoted_lines").rows)
    lines = {
        figures["quoted_lines", "item", r]: r
        for r in rows
        if ("quoted_lines", "item", r) in figures
    }
    assert list(lines) == list(numbers)
    assert len(lines) > 15
    for name, value in numbers.items():
        assert figures["quoted_lines", "amount", lines[name]] == pytest.approx(value, rel=1e-12)
        assert figures["quoted_lines", "changed", lines[name]] == "same"
    assert figures["quoted_lines", "in", lines["Price with tax"]] == "USD"
    assert figures["quoted_lines", "in", lines["Coatings per area"]] == "USD/ft²"
    assert figures["quoted", "area", 0] == pytest.approx(figures["measured", "total", 0], rel=1e-12)


def test_frozen_layers_are_those_of_the_option(figures: Mapping[Key, object]) -> None:
    for row in range(3):  # option A is the first three layers of the demo
        assert figures["amounts", "option", row] == "A"
        for name in ("layer", "product", "number"):
            assert figures["quoted_layers", name, row] == figures["amounts", name, row]
        for name in ("coated", "wet", "mixed"):
            wanted = pytest.approx(figures["amounts", name, row], rel=1e-12)
            assert figures["quoted_layers", name, row] == wanted
        both = float(str(figures["amounts", "net", row])) + float(
            str(figures["amounts", "take_up", row])
        )
        assert figures["quoted_layers", "net", row] == pytest.approx(both, rel=1e-12)
    assert ("quoted_layers", "layer", 3) not in figures


def _products(figures: Mapping[Key, object]) -> dict[object, tuple[object, object]]:
    return {
        figures["quoted_products", "product", r]: (
            figures["quoted_products", "bought", r],
            figures["quoted_products", "cost", r],
        )
        for r in range(12)
        if ("quoted_products", "product", r) in figures
    }


def test_frozen_packs_and_products(figures: Mapping[Key, object]) -> None:
    """By hand: a kit of 3 and 0.4 in stock at 79; kits of 2 and 4 at 152 and 286; 0.75 and 0.25."""
    assert _products(figures) == {
        "Tint base": (pytest.approx(3.4), pytest.approx(228 + 0.4 * 79)),
        "Clear flood": (pytest.approx(6.0), 438),
        "Roll-on top": (pytest.approx(1.0), 193),
    }
    names = ("product", "holds", "contents", "price", "count", "lot")
    packs = [
        tuple(figures.get(("quoted_packs", name, row)) for name in names)
        for row in range(24)
        if ("quoted_packs", "product", row) in figures
    ]
    assert packs == [
        ("Tint base", "kit", pytest.approx(3), 228, 1, None),
        ("Clear flood", "kit", pytest.approx(2), 152, 1, None),
        ("Clear flood", "kit", pytest.approx(4), 286, 1, None),
        ("Roll-on top", "kit", pytest.approx(0.75), 139, 1, None),
        ("Roll-on top", "kit", pytest.approx(0.25), 54, 1, None),
        ("Tint base", "kit", pytest.approx(0.4), pytest.approx(0.4 * 79), None, "T-0412"),
    ]


def test_metric_twin_freezes_litres(tmp_path: Path, demo_metric: Path, plan_metric: Layout) -> None:
    """A US gallon is 3.785411784 L by definition (NIST SP 811, appendix B, from memory)."""
    path = tmp_path / "twin.xlsx"
    accept(demo_metric, path, on=DAY)
    figures = _shown(path, plan_metric)
    gallons = {"Tint base": 3.4, "Clear flood": 6.0, "Roll-on top": 1.0}
    assert {name: bought for name, (bought, _) in _products(figures).items()} == {
        name: pytest.approx(volume * 3.785411784, rel=1e-9) for name, volume in gallons.items()
    }
    assert check_file(path).findings == ()


# What accepting leaves alone


def test_there_is_a_row_for_every_digest(plan_us: Layout) -> None:
    """One without a row would be lost, and the seal would never be right."""
    needed = len(RESTS_ON) + len(quoted.tables(plan_us))
    assert needed <= plan_us.block("quoted_sheets").rows


def test_accepting_changes_no_entry(demo_us: Path, accepted_us: Path, plan_us: Layout) -> None:
    assert _entries(demo_us, plan_us) == _entries(accepted_us, plan_us)
    with zipfile.ZipFile(demo_us) as old, zipfile.ZipFile(accepted_us) as new:
        assert old.namelist() == new.namelist()
        same = {n for n in old.namelist() if old.read(n) == new.read(n)}
    assert {"xl/styles.xml", "docProps/custom.xml"} <= same


def test_accepting_another_option_changes_that_one_entry(
    tmp_path: Path, accepted_us: Path, plan_us: Layout
) -> None:
    path = tmp_path / "other.xlsx"
    done = accept(accepted_us, path, option="b", on=dt.date(2026, 12, 3), by="Both")
    assert (done.revision, done.option, done.by, done.changed) == (2, "B", "Both", True)
    before, after = _entries(accepted_us, plan_us), _entries(path, plan_us)
    assert {k for k in after if after[k] != before[k]} == {("rates", "option", 0)}
    figures = _shown(path, plan_us)
    assert figures["revisions", "revision", 0] == 1
    assert figures["revisions", "option", 0] == "A"
    assert figures["revisions", "accepted_on", 0] == dt.datetime(2026, 12, 1)
    net, tax, gross, material = (
        figures["revisions", name, 0] for name in ("net", "tax", "gross", "material")
    )
    assert (net, tax, gross, material) == (6770.13, 423.13, 7193.26, 890.6)
    old = _shown(accepted_us, plan_us)
    assert figures["revisions", "digest", 0] == old["quoted", "digest", 0]
    for row in range(3):
        assert figures["revision_products", "revision", row] == 1
        for name in ("product", "net", "mixed", "bought", "cost"):
            wanted = old["quoted_products", name, row]
            assert figures["revision_products", name, row] == wanted
    assert ("revision_products", "product", 3) not in figures
    # A kit of 3 and 0.4 in stock; 2 for the knots; 1.5 and 0.25 of A in stock; 0.75 and 0.25.
    assert _products(figures) == {
        "Tint base": (pytest.approx(3.4), pytest.approx(228 + 0.4 * 79)),
        "Clear flood": (2, 152),
        "Binder": (pytest.approx(1.75), 118),
        "Roll-on top": (pytest.approx(1.0), 193),
    }
    assert check_file(path).findings == ()


def test_macros_stay(tmp_path: Path, scenario_us: Scenario, plan_us: Layout, pieces: int) -> None:
    path = tmp_path / "job.xlsm"
    make.make(path, "us", scenario_us.entries, pieces=pieces)
    before = _entries(path, plan_us)
    with zipfile.ZipFile(path) as package:
        project = package.read("xl/vbaProject.bin")
    accept(path, on=DAY)
    with zipfile.ZipFile(path) as package:
        assert package.read("xl/vbaProject.bin") == project
    assert _entries(path, plan_us) == before
    assert [p.name for p in tmp_path.iterdir()] == ["job.xlsm"]
    assert check_file(path).findings == ()


# What happens afterwards


def test_later_change_leaves_it_and_accepting_again_keeps_it(
    tmp_path: Path, accepted_us: Path, plan_us: Layout
) -> None:
    path = tmp_path / "job.xlsx"
    shutil.copy(accepted_us, path)
    first = quoted.kept(plan_us, read_book(path))
    fill(path, path, {("rates", "labour", 0): 50, ("layers", "loss", 0): 0.2}, force=True)
    assert quoted.kept(plan_us, read_book(path)) == first
    assert _ids(path) == {"quoted.changed"}
    assert accept(path, on=dt.date(2026, 12, 8)).revision == 2
    second = quoted.kept(plan_us, read_book(path))
    assert second["quoted_lines", "amount", 13] != first["quoted_lines", "amount", 13]
    assert second["revisions", "net", 0] == first["quoted_lines", "amount", 13]
    assert _ids(path) == set()
    made = path.read_bytes()
    again = accept(path)
    assert (again.changed, again.revision) == (False, 2)
    assert path.read_bytes() == made


def test_no_revision_lies_before_the_last_one(
    tmp_path: Path, accepted_us: Path, plan_us: Layout
) -> None:
    """A computer whose clock was set back would put the newest revision before the first."""
    path = tmp_path / "job.xlsx"
    fill(accepted_us, path, {("rates", "labour", 0): 50}, force=False)
    before = path.read_bytes()
    early = DAY - dt.timedelta(days=1)
    with pytest.raises(InputError, match=f"{early} lies before .* {DAY}") as told:
        accept(path, on=early)
    assert "--on" in told.value.mend
    assert path.read_bytes() == before
    later = dt.date(2199, 1, 1)
    assert accept(path, on=later).revision == 2
    fill(path, path, {("rates", "labour", 0): 51}, force=True)
    assert (done := accept(path)).revision == 3
    assert done.on == later, "without a day it is no earlier than the last"


def test_figure_changed_by_hand_is_mended_by_accepting_again(
    tmp_path: Path, accepted_us: Path, plan_us: Layout
) -> None:
    path = tmp_path / "job.xlsx"
    fill(accepted_us, path, {("quoted_products", "bought", 0): 9.0}, force=False)
    assert _ids(path) == {"quoted.sealed"}
    assert accept(path, on=DAY).revision == 2
    assert quoted.kept(plan_us, read_book(path))["quoted_products", "bought", 0] == 3.4
    assert _ids(path) == set()


def test_table_of_revisions_that_is_full_is_refused(plan_us: Layout, accepted_us: Path) -> None:
    before = quoted.kept(plan_us, read_book(accepted_us))
    fresh = {k: v for k, v in before.items() if k[0] != "quoted_sheets"}
    for _ in range(plan_us.block("revisions").rows):
        written = frozen.entries_of(plan_us, before, fresh, "", DAY)
        before = {k: v for k, v in written.items() if v is not None}
    assert before["quoted", "revision", 0] == 9
    assert [before["revisions", "revision", i] for i in range(8)] == [1, 2, 3, 4, 5, 6, 7, 8]
    with pytest.raises(InputError, match="'Earlier revisions' on Quoted has 8 rows, and 9"):
        frozen.entries_of(plan_us, before, fresh, "", DAY)


# Refusals


def _refused(path: Path, kind: type[Exception], words: str, **more: object) -> None:
    before = path.read_bytes()
    with pytest.raises(kind, match=words):
        accept(path, **more)  # type: ignore[arg-type]
    assert path.read_bytes() == before


def test_formula_typed_over_is_refused(tmp_path: Path, demo_us: Path, plan_us: Layout) -> None:
    path = tmp_path / "job.xlsx"
    cell = plan_us.cell("price", "net")
    book = openpyxl.load_workbook(demo_us)
    book[cell.sheet][cell.address] = 4000
    book.save(path)
    _refused(path, InputError, "Price before tax.* typed over with '4000'")


def test_price_that_is_a_refusal_is_refused(
    tmp_path: Path, scenario_us: Scenario, pieces: int
) -> None:
    path = tmp_path / "job.xlsx"
    no_pack = {("packs", "most", 0): 0, ("packs", "most", 1): 0}
    make.make(path, "us", {**scenario_us.entries, **no_pack}, pieces=pieces)
    _refused(path, InputError, r"Price!B\d+: option A is not in order: see Buying")


def test_copy_is_refused_as_by_recompute(tmp_path: Path, demo_us: Path) -> None:
    taken = tmp_path / "taken.xlsx"
    taken.write_bytes(b"mine")
    _refused(demo_us, UsageError, "exists already", target=taken)
    _refused(demo_us, UsageError, "ends in .xlsx", target=tmp_path / "copy.xlsm")
    assert taken.read_bytes() == b"mine"
    copy = tmp_path / "copy.xlsx"
    books.books_copy(demo_us, copy, force=False, made=dt.datetime(2026, 12, 1))
    _refused(copy, FileUnreadableError, "books copy")


def test_fault_on_used_does_not_stop_it(tmp_path: Path, demo_us: Path) -> None:
    path = tmp_path / "job.xlsx"
    fill(demo_us, path, {("left", "product", 0): "Tint base"}, force=False)
    assert "entry.missing" in _ids(path)
    with pytest.raises(InputError, match="work has begun: 'Counted after the work' is not empty"):
        accept(path, on=DAY)
    assert accept(path, on=DAY, change="island added").changed


RECEIPT = {
    "document": "R-1", "date": dt.date(2026, 12, 14), "kind": "bought", "product": "Tint base",
    "holds": "kit", "packs": 1, "contents": 3, "price": 236,
}  # fmt: skip
ROW = {("receipts", name, 0): value for name, value in RECEIPT.items()}


def test_what_work_is_held_against_moves_only_by_a_change_order(
    tmp_path: Path, accepted_us: Path, plan_us: Layout
) -> None:
    path = tmp_path / "job.xlsx"
    fill(accepted_us, path, {**ROW, ("rates", "labour", 0): 50}, force=False)
    before = path.read_bytes()
    with pytest.raises(InputError, match="pourbook accept JOB --change") as told:
        accept(path, on=dt.date(2026, 12, 15))
    assert told.value.where == "Used!F" + str(plan_us.cell("receipts", "product").row)
    assert path.read_bytes() == before
    done = accept(path, on=dt.date(2026, 12, 15), change="dearer labour, as agreed")
    assert (done.revision, done.changed) == (2, True)
    figures = _shown(path, plan_us)
    assert figures["quoted", "change", 0] == "dearer labour, as agreed"
    assert figures["revisions", "revision", 0] == 1
    said = [f.what for f in check_file(path).findings if f.id == "job.check"]
    assert not any("accepted" in what for what in said), "it came after the first acceptance"
    done = accept(path, on=dt.date(2026, 12, 16), change="nothing new")
    assert not done.changed


@pytest.mark.parametrize(
    ("entries", "on", "said"),
    [
        (ROW, dt.date(2026, 12, 15), "accepted before anything was logged"),
        ({}, dt.date(2026, 11, 23), "accepted while it stood"),
        ({}, dt.date(2026, 12, 25), "accepted while it stood"),
        (
            {**ROW, ("receipts", "date", 0): dt.date(2072, 12, 14)},
            DAY,
            "no day on Used is years away",
        ),
    ],
)
def test_days_that_cannot_be_are_a_check(
    tmp_path: Path,
    demo_us: Path,
    entries: dict[tuple[str, str, int], object],
    on: dt.date,
    said: str,
) -> None:
    """Logged before the yes, a yes before the quote or after it ended, a receipt of 2072."""
    path = tmp_path / "job.xlsx"
    accept(demo_us, path, on=on)
    fill(path, path, entries, force=True)
    found = [f.what for f in check_file(path).findings if f.id == "job.check"]
    assert [what for what in found if "accepted" in what or "away" in what] == [
        what for what in found if said in what
    ]
    assert sum(said in what for what in found) == 1


# Digests


def _with(book: RawBook, cell: PlannedCell, value: Value) -> RawBook:
    sheet = book.sheets[cell.sheet]
    cells = {**sheet.cells, cell.address: RawCell(value)}
    return replace(book, sheets={**book.sheets, cell.sheet: RawSheet(sheet.name, False, cells)})


BESIDE = (
    *(
        "start_date",
        "isocyanate",
        "flammable",
        "voc",
        "respirator",
        "vertical",
        "second_trip",
        "leftovers",
    ),
    *(
        "figures",
        "finish_a",
        "finish_b",
        "finish_c",
        "licence",
        "deposit",
        "terms",
        "warranty",
        "by_room",
        "team",
        "promised",
        "picture",
    ),
    *("loss_of", "settled_loss", "settled_spread", "settled_jobs"),
)
"""Entries no amount and no price rests on; they stand last in their tables."""
COMPARED = ("Survey", "Days", "Hours")
"""Sheets that plan the work: what they move of a quote is compared itself, as a planted fault has
it (``unchanged``)."""
OFFERED = ("Finishes",)
"""What they offer is digested where it stands, on Layers; an amount asks them only whether the rows
of a finish stand together."""
_READ: dict[str, RawBook] = {}
_VALUES = st.one_of(
    st.text(min_size=1, max_size=9), st.booleans(), st.floats(-1e6, 1e6, allow_nan=False)
)


@settings(max_examples=40)
@given(at=st.integers(0, 10**6), new=_VALUES)
def test_digest_moves_with_every_entry_and_with_nothing_else(
    at: int, new: Value, demo_us: Path, plan_us: Layout
) -> None:
    book = _READ.setdefault("us", read_book(demo_us))
    cells = [c for c in plan_us.cells if c.block and c.field]
    cell = cells[at % len(cells)]
    was = canonical(book.sheets[cell.sheet].value(cell.address)).casefold()
    assume(canonical(new).casefold() != was)
    before = quoted.sheet_digests(plan_us, book, {})
    after = quoted.sheet_digests(plan_us, _with(book, cell, new), {})
    moved = {name for name in before if before[name] != after[name]}
    counts = cell.role == "entry" and cell.sheet in RESTS_ON
    counts &= _named(cell) not in {*BESIDE, "colour"}  # none changes an amount or a price
    worked_out = (cell.block, _named(cell), cell.role) == ("site", "hours", "formula")
    counts |= worked_out  # it stands among what is typed
    assert moved == ({cell.sheet} if counts else set())
    assert (quoted.whole(before) != quoted.whole(after)) is counts


def test_a_quote_without_any_seal_is_said_and_is_no_fault_of_ours(tmp_path: Path) -> None:
    sample = jobs.make(40)
    target = tmp_path / "job.xlsx"
    make.make(target, sample.system, sample.entries, pieces=jobs.PIECES)
    assert "quoted.sealed" in {f.id for f in check_file(target).findings}


@pytest.mark.parametrize("sheet", RESTS_ON)
def test_digest_is_the_one_hashlib_gives(
    sheet: str, accepted_us: Path, plan_us: Layout, figures: Mapping[Key, object]
) -> None:
    page = openpyxl.load_workbook(accepted_us)[sheet]
    values = openpyxl.load_workbook(accepted_us, data_only=True)[sheet]
    lines = []
    for block in (b for s in plan_us.book.sheets if s.sheet == sheet for b in s.blocks):
        typed = [c for c in plan_us.entries if c.block == block.id and _named(c) not in BESIDE]
        if not typed:
            continue
        top, left = typed[0].row, typed[0].column
        for row in range(top, typed[-1].row + 1):
            for column in range(left, max(c.column for c in typed) + 1):
                value = page.cell(row, column).value
                if isinstance(value, str) and value.startswith("="):
                    value = values.cell(row, column).value
                if value is None:
                    continue
                if isinstance(value, dt.datetime):
                    value = (value - dt.datetime(1899, 12, 30)).days
                if isinstance(value, dt.time):
                    value = (value.hour * 60 + value.minute) / 1440
                if isinstance(value, str) and sheet == "Layers":  # as a backsplash was first called
                    value = value.replace("backsplash", "splash")
                content = f"t:{value.strip()}" if isinstance(value, str) else f"n:{value:.12g}"
                at = f"{block.id}.{row - top}.{column - left}"
                lines.append(f"{at}={content.casefold()!r}")
    assert len(lines) > 9
    row = RESTS_ON.index(sheet)
    assert figures["quoted_sheets", "name", row] == sheet
    wanted = hashlib.sha256("\n".join(lines).encode()).hexdigest()[:16]
    assert figures["quoted_sheets", "digest", row] == wanted


@given(number=st.floats(-1e9, 1e9, allow_nan=False))
def test_number_cut_to_fifteen_digits_is_the_same_entry(number: float) -> None:
    assert canonical(float(f"{number:.15g}")) == canonical(number)


def test_digest_does_not_move_with_a_recompute(
    tmp_path: Path, accepted_us: Path, plan_us: Layout
) -> None:
    path = tmp_path / "job.xlsx"
    books.store(accepted_us, path, force=False)
    one, two = read_book(accepted_us), read_book(path)
    assert quoted.sheet_digests(plan_us, one, {}) == quoted.sheet_digests(plan_us, two, {})
    assert quoted.kept(plan_us, one) == quoted.kept(plan_us, two)


@pytest.mark.libreoffice
def test_digest_and_seal_outlive_libreoffice(
    tmp_path: Path, accepted_us: Path, plan_us: Layout
) -> None:
    """Numbers of 16 and 17 digits too, which LibreOffice stores with 15."""
    path = tmp_path / "odd.xlsx"
    odd = {
        ("rooms", "a", 2): 100 / 3,
        ("rates", "labour", 0): 46 + 1e-13,
        ("rooms", "b", 2): 0.1 + 0.2,
    }
    odd |= {("rates", "trip", 0): 38.0000000000005, ("rates", "minimum", 0): 1 / 7}
    fill(accepted_us, path, odd, force=False)
    accept(path, on=DAY)
    saved = saved_by_office(path, tmp_path)
    ours, theirs = read_book(path), read_book(saved)
    stored = [theirs.sheets["Rooms"].value(plan_us.entry_at["rooms", "a", 2].address)]
    assert stored == [33.3333333333333], "LibreOffice cut it"
    digests = quoted.sheet_digests(plan_us, ours, {})
    assert quoted.sheet_digests(plan_us, theirs, {}) == digests
    figures = quoted.kept(plan_us, theirs)
    assert quoted.seal(plan_us, figures) == figures["quoted", "seal", 0]
    assert not {i for i in _ids(saved) if i.startswith("quoted.")}


_RANGE = re.compile(r"(?:'([^']+)'!|([A-Za-z]+)!)?(\$?[A-Z]{1,3}\$?\d+(?::\$?[A-Z]{1,3}\$?\d+)?)")


_ASIDE = re.compile(r'"[^"]*"|ROWS\([^()]*\)')
"""What stands in a formula and is no content of a cell."""


def _named(cell: PlannedCell) -> str:
    return cell.field.id if cell.field else ""


def test_all_that_a_quote_is_reckoned_from_is_digested(plan_us: Layout) -> None:
    """Follow every formula back from the frozen figures and from Quote to what is typed."""
    leads = {c.block: c for c in plan_us.cells if c.array}
    todo = [
        c
        for c in plan_us.cells
        if c.sheet == "Quote"
        or c.block in {"price", "amounts", "buying", "packs", "stock", "measured"}
    ]
    seen: set[tuple[str, str]] = set()
    typed: set[str] = set()
    while todo:
        cell = todo.pop()
        if (cell.sheet, cell.address) in seen:
            continue
        seen.add((cell.sheet, cell.address))
        if cell.role == "entry":
            typed.add(cell.sheet)
        if cell.fill == "words":  # a word is that of one cell beside it, not of the whole table
            assert cell.field is not None
            block, _, name = cell.field.id.removeprefix("word_").partition("_")
            todo += [c for c in plan_us.cells if c.block == block and _named(c) == name]
            continue
        if cell.fill == "options":
            continue  # says whether a price may be shown, by the days planned; it is none of it
        if cell.fill:
            fill = plan_us.block(cell.fill).fill
            assert fill is not None
            todo.append(leads[fill.within or cell.fill])
        if cell.role == "check" and not cell.block:
            continue  # the overall check at the top looks at everything
        for quotes, plain, area in _RANGE.findall(_ASIDE.sub("", cell.formula)):
            where = quotes or plain or cell.sheet
            for address in range_cells(area.replace("$", "")):
                if (where, address) in plan_us.by_address:
                    todo.append(plan_us.by_address[where, address])
    assert typed == {*RESTS_ON, *COMPARED, *OFFERED}
