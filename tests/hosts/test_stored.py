"""What a workbook holds is confirmed only where working it out anew gives the same."""

from __future__ import annotations

import random
import resource
import subprocess
import sys
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

import pytest

from pourbook.cells import CellError, Value
from pourbook.formats.ooxml.addresses import cells as block_cells
from pourbook.formats.ooxml.lines import SheetCells, lines_of
from pourbook.functions import catalogue
from pourbook.hosts.headless import fast, handed, stored
from pourbook.hosts.headless.engine import Recomputed, same
from pourbook.workbook.layout.lay_out import lay_out
from pourbook.workbook.read.read import RawBook, formula_cells, read_book
from pourbook.workbook.read.sheet_lines import RawCell

Cells = dict[str, dict[str, RawCell]]
PROGRAM = lay_out("job", "us", 18).program  # as many pieces as the jobs of the tests have


def cells_of(book: RawBook) -> Cells:
    return {name: dict(sheet.cells) for name, sheet in book.sheets.items()}


def confirmed(cells: Mapping[str, Mapping[str, RawCell]]) -> Recomputed | None:
    return stored.as_stored(cells, PROGRAM)


@pytest.fixture(scope="module")
def held(settled_us: Path) -> tuple[Cells, list[tuple[str, str]]]:
    book = read_book(settled_us)
    return cells_of(book), list(formula_cells(book))


def test_it_gives_what_the_long_way_gives(
    settled_us: Path, held: tuple[Cells, list[tuple[str, str]]]
) -> None:
    cells, wanted = held
    found = confirmed(cells)
    long = fast.FastEngine().recompute(settled_us, wanted)
    assert found is not None
    assert set(found.values) == set(long.values) == set(wanted)
    assert not [at for at in wanted if not same(found.values[at], long.values[at])]
    assert found.refusals.keys() == long.refusals.keys()
    assert found.reasons == long.reasons


@pytest.mark.parametrize("seed", range(6))
def test_a_figure_that_is_not_what_its_formula_gives_is_never_confirmed(
    seed: int, held: tuple[Cells, list[tuple[str, str]]]
) -> None:
    cells, wanted = held
    rng = random.Random(seed)
    shown = [(s, a) for s, a in wanted if a in cells[s] and cells[s][a].value not in {None, ""}]
    for sheet, address in rng.sample(shown, 4):
        old = cells[sheet][address]
        new: Value = f"{old.value}x"
        if isinstance(old.value, float):
            new = old.value * (1 + 1e-6) + 1e-6
        changed = {**cells, sheet: {**cells[sheet], address: old._replace(value=new)}}
        assert confirmed(changed) is None, f"{sheet}!{address}"


def test_a_typed_cell_that_was_changed_since_is_not_confirmed(
    settled_us: Path, held: tuple[Cells, list[tuple[str, str]]]
) -> None:
    cells, _ = held
    plan = read_book(settled_us).plan("job")
    for name, field in (
        ("site", "temperature"),
        ("rates", "labour"),
        ("log", "mass_a"),
        ("left", "rest"),
    ):
        cell = plan.cell(name, field, 0)
        old = cells[cell.sheet][cell.address]
        assert isinstance(old.value, float)
        other = old._replace(value=old.value + 1)
        assert confirmed({**cells, cell.sheet: {**cells[cell.sheet], cell.address: other}}) is None


def test_a_truth_value_in_a_block_is_no_number(held: tuple[Cells, list[tuple[str, str]]]) -> None:
    """TRUE equals 1 in Python, and is not what the function gives."""
    cells, _ = held
    blocks = {
        name: [one.array for one in sheet.values() if one.array] for name, sheet in cells.items()
    }
    inside = {(n, a) for n, areas in blocks.items() for area in areas for a in block_cells(area)}
    ones = [(n, a) for n, a in inside if a in cells[n] and cells[n][a].value == 1.0]
    assert len(ones) > 5
    for sheet, address in sorted(ones)[:3]:
        other = cells[sheet][address]._replace(value=True)
        assert confirmed({**cells, sheet: {**cells[sheet], address: other}}) is None


ODD: dict[str, RawCell] = {
    "an error value": RawCell(CellError("#N/A")),
    "a block of no function of ours": RawCell(1.0, "=SUM({1,2})", "J90:K90"),
    "a block of a function nobody knows": RawCell(1.0, "=PB_NOBODY(A1)", "J90:K90"),
    "a block that is larger than it gives": RawCell(1.0, "=PB_LIVE()", "J90:K90"),
    "a formula that cannot be read": RawCell(1.0, "=SUM(("),
    "a formula in a circle": RawCell(1.0, "=J90"),
    "a formula nobody knows": RawCell(1.0, "=MYOWN(3)"),
}


@pytest.mark.parametrize("what", ODD)
def test_what_is_odd_goes_the_long_way(
    what: str, held: tuple[Cells, list[tuple[str, str]]]
) -> None:
    cells, _ = held
    assert confirmed({**cells, "Scratch": {**cells["Scratch"], "J90": ODD[what]}}) is None


def test_formulas_of_ones_own_are_worked_out_too(
    held: tuple[Cells, list[tuple[str, str]]], settled_us: Path
) -> None:
    cells, _ = held
    plan = read_book(settled_us).plan("job")
    total = plan.cell("price", "gross", 0)
    gross = cells[total.sheet][total.address].value
    assert isinstance(gross, float)
    length = plan.cell("rates", "labour", 0)
    old = cells[length.sheet][length.address]
    assert isinstance(old.value, float)
    own = {
        **cells,
        "Scratch": {
            **cells["Scratch"],
            "J90": RawCell(gross * 2, f"={total.sheet}!{total.address}*2"),
            "J91": RawCell(gross * 2 + 1, "=J90+1"),
        },
        length.sheet: {
            **cells[length.sheet],
            length.address: old._replace(formula=f"={old.value:g}*1"),
        },
    }
    found = confirmed(own)
    assert found is not None
    assert found.values["Scratch", "J91"] == gross * 2 + 1
    wrong = {**own["Scratch"], "J91": RawCell(gross * 2 + 1.1, "=J90+1")}
    assert confirmed({**own, "Scratch": wrong}) is None


def test_very_many_formulas_of_ones_own_go_the_long_way(
    held: tuple[Cells, list[tuple[str, str]]],
) -> None:
    cells, _ = held
    for formula, many in (("=2+2", stored.MOST_OWN), ("={row}+2", stored.MOST_OWN // 5)):
        for more, is_confirmed in ((0, True), (1, False)):
            own = {
                f"Z{row}": RawCell(
                    4.0 if "row" not in formula else row + 2.0, formula.format(row=row)
                )
                for row in range(1, many + 1 + more)
            }
            done = confirmed({**cells, "Scratch": {**cells["Scratch"], **own}})
            assert (done is not None) is is_confirmed


def test_an_entry_that_rests_on_what_it_feeds_goes_the_long_way(
    held: tuple[Cells, list[tuple[str, str]]], settled_us: Path
) -> None:
    cells, _ = held
    plan = read_book(settled_us).plan("job")
    total, entry = plan.cell("price", "gross", 0), plan.cell("rates", "labour", 0)
    old = cells[entry.sheet][entry.address]
    gross = cells[total.sheet][total.address].value
    assert isinstance(old.value, float)
    assert isinstance(gross, float)
    formula = f"={total.sheet}!{total.address}*{old.value / gross!r}"
    own = {entry.address: old._replace(formula=formula)}
    assert confirmed({**cells, entry.sheet: {**cells[entry.sheet], **own}}) is None


def test_a_function_that_fails_inside_is_not_confirmed(
    held: tuple[Cells, list[tuple[str, str]]], monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(*_: object) -> Value:
        raise RuntimeError("planted")

    rooms = catalogue.catalogue()["PB_ROOMS"]
    planted = {**catalogue.catalogue(), "PB_ROOMS": replace(rooms, compute=broken)}
    monkeypatch.setattr(catalogue, "catalogue", lambda: planted)
    assert confirmed(held[0]) is None


class Nothing:
    """A turn in which nothing else is found than is stored."""

    def __init__(self, turns: list[object], *_: object) -> None:
        turns.append(self)

    def done(self) -> None:
        pass


def test_a_workbook_that_was_confirmed_is_known_by_its_very_sheets_alone(
    demo_us: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The same sheets are not worked out again; others, or by other functions, are."""
    sheets = {name: one.cells for name, one in read_book(demo_us).sheets.items()}
    first = confirmed(sheets)
    assert first is not None
    turns: list[object] = []
    monkeypatch.setattr(stored, "_Turn", lambda *given: Nothing(turns, *given))
    again = confirmed(sheets)
    assert again == first
    assert again is not None
    again.values.clear()  # what one was given is its own
    assert confirmed(sheets) == first
    assert not turns
    confirmed({**sheets, "Rooms": SheetCells(lines_of(sheets["Rooms"]))})
    assert len(turns) == 1
    known = dict(catalogue.catalogue())
    monkeypatch.setattr(catalogue, "catalogue", lambda: known)
    confirmed(sheets)
    assert len(turns) == 2


@pytest.mark.parametrize(
    ("typed", "named"),
    [
        ("$A$1:$B$2,C3)", "'A b'!$A$1:$B$2,'A b'!C3)"),
        ("Rooms!$A$1,'Mix cards'!B2:C3,\"A1\")", "Rooms!$A$1,'Mix cards'!B2:C3,\"A1\")"),
        ("INDEX(LOG10(A1),2),PB_2)", "INDEX(LOG10('A b'!A1),2),PB_2)"),
        ('IF(A1="it\'s B2",B2,Sheet2!C3)', "IF('A b'!A1=\"it's B2\",'A b'!B2,Sheet2!C3)"),
    ],
)
def test_arguments_name_the_sheet_they_stand_on(typed: str, named: str) -> None:
    assert handed.qualified(typed, "A b") == named


MANY = """
import sys
from pathlib import Path
from pourbook.hosts.headless import stored
from pourbook.workbook.read.read import read_book
book = read_book(Path(sys.argv[1]))
cells, program = {n: s.cells for n, s in book.sheets.items()}, book.plan().program
for turn in range(24):
    assert stored.as_stored(cells, program)
    if turn in (3, 23):
        print(int(Path("/proc/self/statm").read_text().split()[1]))
"""


@pytest.mark.skipif(not Path("/proc/self/statm").exists(), reason="the memory in use is read there")
def test_workbooks_are_let_go(settled_us: Path) -> None:
    run = [sys.executable, "-c", MANY, str(settled_us)]
    done = subprocess.run(run, check=True, capture_output=True, text=True)
    early, late = (int(pages) * resource.getpagesize() for pages in done.stdout.split())
    assert late - early < 40e6


REFUSED = """
import gc, sys
from pathlib import Path
from tests.agreement import hosts, jobs
from pourbook.errors import PourbookError
from pourbook.units import SYSTEMS
from pourbook.workbook.build.guards import guards
from pourbook.workbook.check.check import check_file
folder = Path(sys.argv[1])
for system in SYSTEMS:
    guards(jobs.layout(system))  # made once, of Pourbook's own files
gc.disable()
kept = refusals = 0
for seed in range(4000, 4006):
    path = folder / f"{seed}.xlsx"
    hosts.write_quickly(jobs.make(seed), path)
    gc.collect()
    refusals += sum(one.id == "job.row" for one in check_file(path).findings)
    kept += gc.collect()
errors = [one for one in gc.get_objects() if isinstance(one, PourbookError)]
print(kept, refusals, len(errors), sum(one.__traceback__ is not None for one in errors))
"""


def test_a_refusal_that_is_kept_keeps_nothing_of_what_was_read(tmp_path: Path) -> None:
    """What was worked out on the way to it is in the frames of its traceback, and all of the file.

    Python gives memory back as soon as nothing leads there; what leads to itself waits for long.
    """
    root = Path(__file__).resolve().parents[2]
    run = [sys.executable, "-c", REFUSED, str(tmp_path)]
    done = subprocess.run(run, check=True, capture_output=True, text=True, cwd=root)
    kept, refusals, errors, led = map(int, done.stdout.split())
    assert refusals > 4
    assert errors > 10
    assert led == 0
    assert kept < 1_000
