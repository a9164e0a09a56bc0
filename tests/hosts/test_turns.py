"""Two turns of the fast engine give every value that one gives, and work every block out once."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

import openpyxl
import pytest
from openpyxl.workbook.defined_name import DefinedName
from openpyxl.worksheet.formula import ArrayFormula
from tests.agreement import jobs

from pourbook.cells import Address, Value
from pourbook.hosts.headless import fast
from pourbook.hosts.headless.engine import Recomputed
from pourbook.hosts.headless.turns import Run, Turns, in_turns
from pourbook.job import make
from pourbook.workbook.read.read import formula_cells, read_book


def _values(turns: Turns, wanted: list[Address], record: Recomputed) -> dict[Address, Value]:
    book = fast.evaluated(turns, record)
    return {(s, a): fast.value_of(book, s, a) for s, a in wanted}


def _waiting(turns: Turns) -> set[tuple[str, int, int]]:
    return {
        (run.sheet, run.row, run.column + at)
        for run in turns.rest
        for at in range(len(run.formulas))
    }


@pytest.fixture(params=["job", "settled job", "shop", "job 12"])
def finished(
    request: pytest.FixtureRequest,
    demo_us: Path,
    settled_us: Path,
    demo_shop: Path,
    tmp_path: Path,
) -> Path:
    """A workbook as a person has it."""
    if request.param == "job 12":
        sample = jobs.make(12)
        make.make(tmp_path / "12.xlsx", sample.system, sample.entries, pieces=jobs.PIECES)
        return tmp_path / "12.xlsx"
    return {"job": demo_us, "settled job": settled_us, "shop": demo_shop}[request.param]


def test_two_turns_give_what_one_gives(finished: Path) -> None:
    wanted, turns = list(formula_cells(read_book(finished))), in_turns(finished)
    two, one = Recomputed(), Recomputed()
    assert _values(turns, wanted, two) == _values(turns.in_one(), wanted, one)
    assert two.refusals.keys() == one.refusals.keys()
    assert sum(len(run.formulas) for run in turns.rest) > 100
    assert two.blocks <= one.blocks, "a block was worked out again in the second turn"


@pytest.fixture
def by_name(tmp_path: Path) -> Path:
    """A workbook whose blocks read a formula by a name, which no reference tells."""
    book = openpyxl.Workbook()
    page = book.active
    assert page is not None
    page["A1"] = '=LOWER("US")'
    book.defined_names["system"] = DefinedName("system", attr_text="Sheet!$A$1")
    for column, typed in enumerate(("Kitchen", "Island", "rectangle", "5'", "3'"), start=1):
        page.cell(5, column, typed)
    page["T5"] = ArrayFormula("T5:Y5", "=PB_ROOMS(A5:S5,system)")
    page["D1"] = ArrayFormula("D1:D2", "=LEN(system)*{1;10}")
    page["E1"], page["E2"] = "=T5*2", "=D2+1"
    book.save(tmp_path / "named.xlsx")
    return tmp_path / "named.xlsx"


def test_a_block_that_reads_by_a_name_is_noticed(by_name: Path) -> None:
    wanted = [("Sheet", a) for a in ("T5", "Y5", "D1", "D2", "E1", "E2")]
    record = Recomputed()
    found = _values(in_turns(by_name), wanted, record)
    assert list(found.values()) == [15.0, "ok", 2.0, 20.0, 30.0, 21.0]
    assert record.blocks > 1


def test_a_name_that_looks_like_a_cell_beyond_the_sheet_stops_nothing(by_name: Path) -> None:
    book = openpyxl.load_workbook(by_name)
    book["Sheet"]["F1"] = "=XYZ2026*A9999999"
    book.save(by_name)
    found = _values(in_turns(by_name), [("Sheet", "T5"), ("Sheet", "E1")], Recomputed())
    assert list(found.values()) == [15.0, 30.0]


def test_a_formula_the_engine_refuses_to_take_costs_no_other(demo_us: Path) -> None:
    turns = in_turns(demo_us)
    spoilt = Turns(turns.file, turns.first, (*turns.rest, Run("No such sheet", 1, 1, ("=1",))))
    wanted = list(formula_cells(read_book(demo_us)))
    assert _values(spoilt, wanted, Recomputed()) == _values(turns, wanted, Recomputed())


@pytest.mark.parametrize("odd", ["<f>1+1<!-- -->*5</f>", "<f>1+1</f><f>9</f>", '<f t="x">1+1</f>'])
def test_an_odd_formula_is_left_to_the_engine(
    demo_us: Path, tmp_path: Path, repack: Callable[..., Path], odd: str
) -> None:
    def edit(content: bytes) -> bytes:
        return re.sub(rb'(<c r="B6"[^>]*>)<f>[^<]*</f>', rb"\1" + odd.encode(), content, count=1)

    path = repack(demo_us, tmp_path / "odd.xlsx", {"xl/worksheets/sheet3.xml": edit})
    turns = in_turns(path)
    assert ("Rooms", 6, 2) in _waiting(in_turns(demo_us))
    assert ("Rooms", 6, 2) not in _waiting(turns)
    wanted = [("Rooms", "B6"), ("Checks", "B31")]
    assert _values(turns, wanted, Recomputed()) == _values(turns.in_one(), wanted, Recomputed())
