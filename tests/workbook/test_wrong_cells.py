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

pytestmark = pytest.mark.in_turn

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
