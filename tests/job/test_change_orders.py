"""Original, change and new total side by side: what was accepted before is never rewritten.

Expected prices are those that accepting itself gave, one after the other.
"""

from __future__ import annotations

import datetime as dt
import shutil
from pathlib import Path

import openpyxl
import pytest
from tests.command_line import run

from pourbook.cells import Value
from pourbook.job.accept import Accepted, accept
from pourbook.job.fill import fill
from pourbook.papers import write
from pourbook.workbook.check.check import check_file
from pourbook.workbook.read.named import NamedCells

FIRST, SECOND = dt.date(2026, 12, 20), dt.date(2027, 1, 9)


def _rows(path: Path) -> list[dict[str, Value]]:
    checked = check_file(path)
    cells = NamedCells(checked.plan, checked.book, checked.values)
    block = checked.plan.block("changes")
    rows = [{f.id: cells.value("changes", f.id, n) for f in block.columns} for n in range(9)]
    return [row for row in rows if row["change_no"] != ""]


@pytest.fixture(scope="module")
def changed(settled_us: Path, tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Accepted]:
    """The settled job, whose quote of 21 December was changed twice."""
    path = Path(shutil.copy(settled_us, tmp_path_factory.mktemp("changed") / "job.xlsx"))
    fill(path, path, {("rates", "labour", 0): 62.0}, force=True)
    accept(path, on=SECOND, change="island added")
    fill(path, path, {("rates", "labour", 0): 58.0}, force=True)
    return path, accept(path, on=SECOND + dt.timedelta(days=3), change="bar left out")


def test_original_changes_and_total_stand_side_by_side(
    settled_us: Path, changed: tuple[Path, Accepted], tmp_path: Path
) -> None:
    path, last = changed
    (original,) = _rows(settled_us)
    rows = _rows(path)
    assert [row["change_said"] for row in rows] == ["", "island added", "bar left out"]
    assert [row["change_no"] for row in rows] == [1.0, 2.0, 3.0]
    assert rows[0] == original, "what was accepted first is not rewritten"
    assert (rows[2]["change_net"], rows[2]["change_gross"]) == (last.net, last.gross)
    nets = [float(str(row["change_net"])) for row in rows]
    assert [row["change_more"] for row in rows] == [
        0.0,
        round(nets[1] - nets[0], 2),
        round(nets[2] - nets[1], 2),
    ]
    total = float(str(rows[0]["change_gross"])) + sum(
        float(str(r["change_tax_more"])) for r in rows
    )
    assert total == pytest.approx(last.gross, abs=0.005)
    checked = check_file(path)
    margin = NamedCells(checked.plan, checked.book, checked.values)
    assert margin.value("margin", "price", 0) == last.net, "settlement goes by the newest"


def test_a_change_order_is_a_page_to_sign(
    settled_us: Path, changed: tuple[Path, Accepted], tmp_path: Path
) -> None:
    path, last = changed
    write.write(check_file(path), tmp_path, ("client", "books"), force=False)
    page = openpyxl.load_workbook(tmp_path / "job client.xlsx")["Change order"]
    cells = [cell.value for row in page.iter_rows() for cell in row if cell.value is not None]
    for words in ("The quote", "island added", "bar left out", last.gross):
        assert words in cells
    assert any("Signature" in str(value) for value in cells)
    assert any(f"{last.gross:,.2f}" in str(value) for value in cells)
    books = openpyxl.load_workbook(tmp_path / "job books.xlsx").worksheets[0]
    assert "bar left out" in [cell.value for row in books.iter_rows() for cell in row]
    write.write(check_file(settled_us), tmp_path / "plain", ("client",), force=False)
    plain = openpyxl.load_workbook(tmp_path / "plain" / f"{settled_us.stem} client.xlsx")
    assert "Change order" not in plain.sheetnames


def test_settle_shows_each(
    changed: tuple[Path, Accepted], capsys: pytest.CaptureFixture[str]
) -> None:
    path, last = changed
    capsys.readouterr()
    assert run("settle", path) == 0
    shown = capsys.readouterr().out
    assert "Original, changes and now" in shown
    for words in ("island added", "bar left out", f"{last.gross:,.2f}"):
        assert words in shown
