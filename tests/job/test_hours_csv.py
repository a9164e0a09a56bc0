"""Hours of labour by step, from a table the crew wrote into the job, and against the quote."""

from __future__ import annotations

from pathlib import Path

import openpyxl
import pytest
from tests.command_line import run

from pourbook.job.fill import fill
from pourbook.workbook.check.check import check_file
from pourbook.workbook.read.named import NamedCells

pytestmark = pytest.mark.in_turn(2)

HOURS = (
    "Day,Step,Hours (h),Who\n"
    "2027-01-12,Pour and heat passes,6.5,two of us\n"
    "2027-01-13,pour and HEAT passes,3,Ann\n"
    "2027-01-13,Pour and heat passes,2.25,Bo\n"
    "2027-01-14,Clean,1,\n"
)


def _table(folder: Path, text: str = HOURS) -> Path:
    path = folder / "hours.csv"
    path.write_text(text, encoding="utf-8")
    return path


def _cells(path: Path) -> NamedCells:
    checked = check_file(path)
    return NamedCells(checked.plan, checked.book, checked.values)


@pytest.fixture
def job(settled_us: Path, tmp_path: Path) -> Path:
    """Return the settled demo without hours."""
    path = tmp_path / "job.xlsx"
    fill(settled_us, path, {("spent", "hours", 0): None}, force=False)
    return path


def test_hours_go_to_invoices_and_settle_holds_them_against_the_quote(
    job: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """By hand: 6.5 + 3 + 2.25 poured, 1 cleaned up: 12.75 in all."""
    table = _table(tmp_path)
    assert run("log", job, "--from", table, "--hours", "--dry-run") == 0
    assert "4 rows would be taken into the hours of labour" in capsys.readouterr().out
    assert not list(_cells(job).rows("worked", "hours"))
    assert run("log", job, "--from", table, "--hours") == 0
    cells = _cells(job)
    assert [cells.words("worked", "worked_status", row) for row in range(4)] == ["ok"] * 4
    worked = {
        cells.words("settle_steps", "step", row): cells.number("settle_steps", "worked", row)
        for row in range(cells.plan.block("settle_steps").rows)
        if cells.words("settle_steps", "step", row)
    }
    expected = {"Pour and heat passes": 11.75, "Clean": 1.0}
    assert {name: hours for name, hours in worked.items() if hours} == expected
    assert cells.number("as_earned", "hours") == 12.75
    capsys.readouterr()
    assert run("log", job, "--from", table, "--hours") == 0
    assert "0 rows taken" in (told := capsys.readouterr().out)
    assert "4 there already, skipped" in told


@pytest.mark.parametrize(
    ("row", "said"),
    [
        ("2027-01-12,sweep,1,", "sweep"),
        ("2027-01-12,Clean,-1,", "-1"),
        ("someday,Clean,1,", "someday"),
        ("2027-01-12,,1,", "Step is blank"),
        ("2027-01-12,Clean,7,two of us\n2027-01-12,Clean,8,two of us", "another Hours"),
    ],
)
def test_what_cannot_be_taken_is_named_by_its_line(
    job: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], row: str, said: str
) -> None:
    table = _table(tmp_path, f"Date,Step,Hours,Note\n{row}\n")
    before = job.read_bytes()
    assert run("log", job, "--from", table, "--hours") == 1
    told = capsys.readouterr().err
    assert said in told
    assert "hours.csv, line" in told
    assert job.read_bytes() == before


def test_a_job_of_released_templates_says_it_has_no_such_table(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    old = next((Path(__file__).parents[1] / "released").glob("*/us.xlsx"))
    table = _table(tmp_path)
    assert run("log", old, "--from", table, "--hours", "--dry-run") == 1
    assert "pourbook upgrade" in capsys.readouterr().err


def test_a_job_that_is_not_accepted_says_so(
    demo_us: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    table = _table(tmp_path)
    assert run("log", demo_us, "--from", table, "--hours", "--dry-run") == 1
    assert "no quote is accepted yet" in capsys.readouterr().err


def test_the_crew_gets_a_sheet_with_every_step_and_every_day(job: Path, tmp_path: Path) -> None:
    assert run("papers", job, tmp_path / "papers") == 0
    (book,) = (tmp_path / "papers").glob("*crew*.xlsx")
    page = openpyxl.load_workbook(book)["Hours"]
    shown = [str(cell.value) for row in page.iter_rows() for cell in row if cell.value]
    cells = _cells(job)
    steps = [cells.words("quoted_steps", "step", row) for row in cells.rows("quoted_steps", "step")]
    assert len(steps) > 5
    assert set(steps) <= set(shown)
    visits = cells.number("options", "option_visits", 0)
    assert visits == 5
    assert len([one for one in shown if one.endswith(" Jan")]) == visits
