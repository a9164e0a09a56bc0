"""A workbook with a block too large to spill comes out as any other, round by round."""

from __future__ import annotations

from pathlib import Path

import pytest
from tests.bench.bench_growth import entries

from pourbook.cells import CellError
from pourbook.hosts.headless import fast, rounds
from pourbook.hosts.headless.engine import Recomputed, same
from pourbook.hosts.headless.handed import BlockCall
from pourbook.job import make
from pourbook.job.make import Scenario
from pourbook.workbook.check.check import check_file
from pourbook.workbook.read.read import formula_cells, read_book


@pytest.fixture
def spilled(monkeypatch: pytest.MonkeyPatch) -> None:
    """Have every block be too large."""
    monkeypatch.setattr(rounds, "MOST_SPILLED", 1)


def anew(path: Path) -> Recomputed:
    return fast.FastEngine().recompute(path, formula_cells(read_book(path)))


@pytest.mark.parametrize("which", ["settled_us", "demo_shop"])
def test_it_comes_out_the_same(
    which: str, request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = request.getfixturevalue(which)
    one = anew(path)
    monkeypatch.setattr(rounds, "MOST_SPILLED", 1)
    other = anew(path)
    assert one.values.keys() == other.values.keys()
    assert [at for at in one.values if not same(one.values[at], other.values[at])] == []
    assert other.reasons == []


@pytest.mark.usefixtures("spilled")
def test_refusals_are_those_of_the_last_round(demo_us: Path, tmp_path: Path) -> None:
    from openpyxl import load_workbook

    plan, book = read_book(demo_us).plan("job"), load_workbook(demo_us)
    cell = plan.cell("rooms", "a", 0)
    book[cell.sheet][cell.address] = "5 kg"
    book.save(tmp_path / "bad.xlsx")
    told = anew(tmp_path / "bad.xlsx").refusals
    assert {r.place and r.place.field for behind in told.values() for r in behind} >= {"a"}
    assert not any("no piece is measured" in text for text in told)


def test_1200_pieces_are_worked_out(scenario_us: Scenario, tmp_path: Path) -> None:
    path = tmp_path / "large.xlsx"
    make.make(path, "us", entries(scenario_us, 1200), pieces=1200)
    checked = check_file(path)
    assert not [at for at, value in checked.values.items() if isinstance(value, CellError)]
    status = [checked.plan.cell("rooms", "status", row) for row in (0, 600, 1199)]
    assert [checked.values[c.sheet, c.address] for c in status] == ["ok"] * 3
    assert {f.id for f in checked.findings} <= {"job.row", "job.check"}


def test_a_block_of_no_function_is_told(demo_us: Path) -> None:
    book = fast.loaded(demo_us.read_bytes(), Recomputed())
    with pytest.raises(ValueError, match="no function of Pourbook fills A1:B2"):
        rounds.in_rounds(book, [BlockCall("Scratch", "{1,2}", "A1:B2")], Recomputed())
