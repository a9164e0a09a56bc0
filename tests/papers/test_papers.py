"""Papers for client, crew and bookkeeper: their pages, what stands on them, that nothing is cut.

What is on a printed page is read from the PDF by poppler, an outside reader.
"""

from __future__ import annotations

import re
import shutil
import subprocess
from pathlib import Path

import openpyxl
import pytest
from openpyxl import Workbook
from openpyxl.worksheet.worksheet import Worksheet
from tests import office
from tests.command_line import run

from pourbook.job.make import Scenario, make
from pourbook.papers import write
from pourbook.papers.page import PAPERS, SMALLEST, Amount, Page, lines_of
from pourbook.workbook.check.check import check_file
from pourbook.workbook.layout.laid_out import Layout

pytestmark = pytest.mark.in_turn(2)

Printed = pytest.CaptureFixture[str]
MOST = {"client": 3, "crew": 9 + 4, "books": 5}
"""Pages of the demo's papers: nine of two cards each, and four more for the crew."""


@pytest.fixture(scope="module")
def written(settled_us: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The papers of the settled demo."""
    folder = tmp_path_factory.mktemp("papers")
    assert run("papers", settled_us, folder) == 0
    return folder


def _pages(written: Path, reader: str) -> list[Worksheet]:
    (found,) = written.glob(f"* {reader}.xlsx")
    pages = openpyxl.load_workbook(found).worksheets
    return [page for page in pages if page.sheet_state == "visible"]


def _printed(written: Path, reader: str) -> list[str]:
    """Return the text of every printed page."""
    office.program()
    poppler = shutil.which("pdftotext")
    assert poppler is not None
    (found,) = written.glob(f"* {reader}.pdf")
    done = subprocess.run(
        [poppler, "-layout", str(found), "-"], capture_output=True, text=True, check=True
    )
    return done.stdout.split("\f")[:-1]


@pytest.mark.parametrize("reader", MOST)
def test_pages_are_few_and_none_is_blank(written: Path, reader: str) -> None:
    pages = _printed(written, reader)
    assert 1 <= len(pages) <= MOST[reader]
    for number, page in enumerate(pages, start=1):
        assert f"Page {number} of {len(pages)}" in page
        assert len(page.split()) > 20, f"page {number} of the {reader} says next to nothing"


@pytest.mark.parametrize("reader", MOST)
def test_every_word_is_on_paper(written: Path, reader: str) -> None:
    """What is cut by its cell or its row is not in the text of the page."""
    shown = set(re.findall(r"[\w.,:%]+", " ".join(_printed(written, reader))))
    for page in _pages(written, reader):
        for row in page.iter_rows():
            for cell in row:
                if isinstance(cell.value, str):
                    lost = set(re.findall(r"[\w.,:%]+", cell.value)) - shown
                    assert not lost, f"{page.title}!{cell.coordinate}: {cell.value}"


@pytest.mark.parametrize("reader", MOST)
def test_nothing_is_small_and_no_page_is_scaled(written: Path, reader: str) -> None:
    for page in _pages(written, reader):
        assert page.page_setup.scale == 100
        assert not page.page_setup.fitToWidth or not page.sheet_properties.pageSetUpPr
        assert page.print_area
        sizes = {c.font.sz for row in page.iter_rows() for c in row if c.value is not None}
        assert min(sizes) >= SMALLEST >= 8


@pytest.mark.parametrize("reader", MOST)
def test_no_heading_is_the_last_of_a_page(written: Path, reader: str) -> None:
    for page in _pages(written, reader):
        for end in page.row_breaks.brk:
            last = page.cell(end.id, 1)
            dark = last.fill.fgColor.rgb == "0037474F"
            assert not dark, f"{page.title}: the headings of a table end page at row {end.id}"
            assert not (last.font.b and last.font.sz > 12), f"{page.title}!{last.coordinate}"


def test_tables_go_on_below_their_headings() -> None:
    page = Page(Workbook(), "Long", (1, 1), paper="letter")
    page.table(("Left", "Right"), [(f"row {n}", Amount(n)) for n in range(200)], "lr")
    starts = [1, *(end.id + 1 for end in page.sheet.row_breaks.brk)]
    assert len(starts) > 3
    assert {page.sheet.cell(row, 1).value for row in starts} == {"Left"}
    rows = [c.value for c in page.sheet["A"] if str(c.value).startswith("row")]
    assert rows == [f"row {n}" for n in range(200)]


@pytest.mark.parametrize("paper", PAPERS)
def test_no_page_is_taller_than_its_paper(paper: str) -> None:
    page = Page(Workbook(), "Tall", (1, 2), paper=paper)
    for number in range(300):
        page.text(f"{number} " + "many words " * (number % 40))
        if number % 7 == 0:
            page.heading(f"Heading {number}")
    ends = [end.id for end in page.sheet.row_breaks.brk]
    down = PAPERS[paper][2] - 2 * 0.7 * 72
    for first, last in zip([0, *ends], [*ends, page.row - 1], strict=True):
        heights = [page.sheet.row_dimensions[row].height for row in range(first + 1, last + 1)]
        assert 0 < sum(heights) <= down


def test_a_client_reads_price_high_and_every_option(
    written: Path, settled_us: Path, plan_us: Layout
) -> None:
    first = _printed(written, "client")[0]
    found = check_file(settled_us)
    for place in range(2):
        cell = plan_us.cell("price", "gross", place)
        gross = found.values[cell.sheet, cell.address]
        assert isinstance(gross, float)
        assert f"{gross:,.2f}" in first
        assert first.index(f"{gross:,.2f}") < len(first) / 2
    assert "Option C" not in first
    whole = " ".join(_printed(written, "client"))
    for words in ("Good through", "Not covered", "gas", "Signature", "out of use", "Full cure"):
        assert words in whole
    assert "for the crew alone" not in whole


def test_prices_by_room_add_up_to_the_price(
    written: Path, settled_us: Path, plan_us: Layout
) -> None:
    """By the area coated, to the cent: no cent is lost between the rooms."""
    found = check_file(settled_us)
    said = [
        str(cell.value)
        for page in _pages(written, "client")
        for (cell,) in page.iter_rows(max_col=1)
        if " by room, by the area coated: " in str(cell.value)
    ]
    assert len(said) == 2
    for place, line in enumerate(said):
        cell = plan_us.cell("price", "gross", place)
        gross = found.values[cell.sheet, cell.address]
        parts = [float(part.replace(",", "")) for part in re.findall(r"[\d,]+\.\d\d", line)]
        assert len(parts) == 3
        assert sum(round(part * 100) for part in parts) == round(float(str(gross)) * 100)


def test_the_crew_gets_a_card_for_every_batch(
    written: Path, settled_us: Path, plan_us: Layout
) -> None:
    whole = " ".join(_printed(written, "crew"))
    found = check_file(settled_us)
    titles = [
        str(found.values[cell.sheet, cell.address])
        for row in range(plan_us.block("batches").rows)
        if found.values[(cell := plan_us.cell("batches", "title", row)).sheet, cell.address]
    ]
    assert len(titles) > 9
    assert all(title in whole for title in titles)
    assert "To buy and to take along" in whole


def test_the_books_hold_numbers(written: Path, settled_us: Path, plan_us: Layout) -> None:
    found = check_file(settled_us)
    cell = plan_us.cell("settle_sums", "actual")
    used = found.values[cell.sheet, cell.address]
    (page,) = _pages(written, "books")
    numbers = [c.value for row in page.iter_rows() for c in row if isinstance(c.value, int | float)]
    assert len(numbers) > 60
    said = [c.value for row in page.iter_rows() for c in row if isinstance(c.value, str)]
    assert any(f"Used: {used:,.2f} USD" in text for text in said)


def test_a_job_that_may_not_go_on_paper_is_refused(
    scenario_us: Scenario, tmp_path: Path, capsys: Printed
) -> None:
    job, folder = tmp_path / "job.xlsx", tmp_path / "papers"
    make(job, "us", {**scenario_us.entries, ("rates", "labour", 0): None}, pieces=20)
    assert run("papers", job, folder, "--for", "client") == 1
    assert "see Price" in capsys.readouterr().err
    assert not folder.exists()
    assert run("papers", job, folder, "--for", "crew") == 0
    assert {file.name for file in folder.glob("*.xlsx")} == {"job crew.xlsx"}


def test_a_job_of_earlier_sheets_is_told_how_to_get_papers(tmp_path: Path, capsys: Printed) -> None:
    old = next((Path(__file__).parents[1] / "released").rglob("*.xlsx"))
    job = Path(shutil.copy(old, tmp_path / "old.xlsx"))
    assert run("papers", job, tmp_path / "p") == 2
    assert "pourbook upgrade old.xlsx" in capsys.readouterr().err
    assert not (tmp_path / "p").exists()


def test_a_file_is_no_folder_for_papers(settled_us: Path, capsys: Printed) -> None:
    assert run("papers", settled_us, settled_us) == 2
    assert "name a folder" in capsys.readouterr().err


def test_files_are_not_replaced_unless_told(
    written: Path, settled_us: Path, capsys: Printed
) -> None:
    assert run("papers", settled_us, written, "--for", "books") == 2
    assert "--force" in capsys.readouterr().err


def test_without_libreoffice_the_workbooks_are_written_and_it_is_said(
    settled_us: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: Printed
) -> None:
    monkeypatch.setattr(write, "OFFICE", ("no-such-program",))
    assert run("papers", settled_us, tmp_path / "p", "--for", "books") == 0
    assert "No PDF" in capsys.readouterr().out
    assert [file.suffix for file in (tmp_path / "p").iterdir()] == [".xlsx"]


def test_what_looks_like_a_formula_stays_text(scenario_us: Scenario, tmp_path: Path) -> None:
    job = tmp_path / "job.xlsx"
    harm = '=HYPERLINK("http://localhost","x")'
    make(job, "us", {**scenario_us.entries, ("start", "client", 0): harm}, pieces=20)
    assert run("papers", job, tmp_path / "p", "--for", "client") == 0
    page = openpyxl.load_workbook(tmp_path / "p" / "job client.xlsx").worksheets[0]
    held = [c for row in page.iter_rows() for c in row if c.value == harm]
    assert [cell.data_type for cell in held] == ["s"]


@pytest.mark.parametrize(
    ("text", "room", "lines"),
    [("", 5, 1), ("a b", 50, 1), ("word " * 40, 10, 10), ("x" * 100, 10, 6), ("a\nb\nc", 50, 3)],
)
def test_lines_are_counted_generously(text: str, room: float, lines: int) -> None:
    assert lines <= lines_of(text.strip(" "), room) <= 1.5 * lines
