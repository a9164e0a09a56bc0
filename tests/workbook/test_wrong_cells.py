"""The cell a status names is coloured, and no other of its row.

A rule is one OR of LEFT(status, n) = text; it is worked out here in Python from the stored status.
"""

from __future__ import annotations

import re
from pathlib import Path

import openpyxl
import pytest
from openpyxl.formula.translate import Translator
from openpyxl.workbook import Workbook

from pourbook.job.fill import fill
from pourbook.workbook.layout.laid_out import Layout

_TEST = re.compile(r"LEFT\((?:'?([\w ]+)'?!)?\$([A-Z]+)(\d+),(\d+)\)=\"([^\"]+)\"")


def _coloured(book: Workbook, plan: Layout, block: str, row: int) -> list[str]:
    """Return the fields of a row of a table whose cells a rule colours."""
    found = []
    for item in plan.block(block).columns:
        cell = plan.cell(block, item.id, row)
        page = book[cell.sheet]
        for area in page.conditional_formatting:
            first = str(area.sqref).partition(":")[0]
            if cell.address not in area.sqref:
                continue
            for rule in area.rules:
                if not rule.formula or not rule.formula[0].startswith("OR(LEFT("):
                    continue
                formula = "=" + rule.formula[0]
                here = Translator(formula, first).translate_formula(cell.address)
                for sheet, column, at, count, said in _TEST.findall(here):
                    status = book[sheet or cell.sheet][f"{column}{at}"].value
                    if said != "!" and str(status)[: int(count)] == said:
                        found.append(item.id)
    return found


@pytest.mark.parametrize(
    ("block", "field", "row", "wrong"),
    [
        ("rooms", "b", 1, None),
        ("rooms", "order", 2, -3),
        ("products", "ratio", 0, "one to one"),
        ("layers", "spread", 0, "a lot"),
        ("layers", "surfaces", 1, "ceiling"),
        ("packs", "price", 0, -1),
        ("log", "mass_a", 0, -5),
    ],
)
def test_the_cell_that_is_wrong_is_coloured(
    logged_job: Path, plan_us: Layout, tmp_path: Path, block: str, field: str, row: int, wrong: str
) -> None:
    target = tmp_path / "job.xlsx"
    assert not _coloured(openpyxl.load_workbook(logged_job, data_only=True), plan_us, block, row)
    fill(logged_job, target, {(block, field, row): wrong}, force=False)
    book = openpyxl.load_workbook(target, data_only=True)
    assert set(_coloured(book, plan_us, block, row)) == {field}


@pytest.fixture
def logged_job(settled_us: Path) -> Path:
    """The settled demo, whose log is filled."""
    return settled_us


def test_the_badge_of_every_sheet_is_a_link_to_checks(demo_us: Path, plan_us: Layout) -> None:
    book = openpyxl.load_workbook(demo_us)
    badges = [c for c in plan_us.cells if c.role == "check" and not c.block]
    assert {c.sheet for c in badges} == set(book.sheetnames)
    for cell in badges:
        link = book[cell.sheet][cell.address].hyperlink
        assert (link.location if link else "") == ("" if cell.sheet == "Checks" else "Checks!A1")
    first = plan_us.cell("overall", "first")
    assert (first.sheet, first.row < 12) == ("Checks", True)
