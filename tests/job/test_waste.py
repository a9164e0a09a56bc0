"""What waste is made of: what went back, what is not explained, and the rest is lost.

Figures by hand, of tests/archive/making: 2 gallons quoted at 50.00 each, 3 bought, so many back on
the shelf; the log has 1500 g and 1290 g of a product whose sheet says what they come to.
"""

from __future__ import annotations

from pathlib import Path

import pytest
from tests.archive import making

from pourbook.workbook.check.check import check_file
from pourbook.workbook.layout.laid_out import Layout
from pourbook.workbook.read.named import NamedCells


def _cells(path: Path) -> NamedCells:
    checked = check_file(path)
    return NamedCells(checked.plan, checked.book, checked.values)


def test_parts_of_waste_by_hand(demo_us: Path, plan_us: Layout, tmp_path: Path) -> None:
    cells = _cells(making.make(demo_us, tmp_path / "first.xlsx", plan_us, making.FIRST))
    logged = cells.number("settle", "by_log", 0)
    assert 0 < logged < 1, "less than the gallon that was used by count"
    waste = -62.50  # see tests/archive/test_month.py
    returned = -2.0 * 50.0
    mystery = round((1.0 - logged) * 50.0, 2)
    assert cells.number("settle_waste", "returned", 0) == returned
    assert cells.number("settle_waste", "mystery", 0) == mystery
    assert cells.number("settle_waste", "lost", 0) == pytest.approx(
        waste - returned - mystery, abs=1e-9
    )
    assert cells.number("settle_waste", "waste", 0) == waste


def test_parts_add_up_to_the_waste_of_every_product(settled_us: Path) -> None:
    cells = _cells(settled_us)
    rows = list(cells.rows("settle", "product"))
    assert len(rows) == 3
    for row in rows:
        parts = [cells.number("settle_waste", n, row) for n in ("returned", "mystery", "lost")]
        assert round(sum(parts), 2) == cells.number("settle_money", "waste", row)
        thrown = cells.words("left", "goes", row) == "thrown away"
        assert (parts[0] == 0) == thrown, "only what goes back counts as returned"
