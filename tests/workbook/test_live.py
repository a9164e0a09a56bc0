"""The one cell that is worked out when a file is opened, and what stands on it."""

from __future__ import annotations

import zipfile
from pathlib import Path

import pytest
from lxml import etree

from pourbook import __version__
from pourbook.formats.ooxml import rewrite
from pourbook.functions.catalogue import evaluate
from pourbook.workbook.layout.laid_out import Layout

_Q = "{http://schemas.openxmlformats.org/spreadsheetml/2006/main}"


def test_it_gives_the_version() -> None:
    assert evaluate("PB_LIVE", []) == __version__
    assert str(evaluate("PB_LIVE", [1.0])).startswith("! PB_LIVE takes 0 to 0 arguments")


def test_only_that_cell_is_worked_out_on_opening(demo_us: Path, plan_us: Layout) -> None:
    marked = []
    with zipfile.ZipFile(demo_us) as package:
        for part, name in rewrite.sheet_parts(demo_us).items():
            for cell in etree.fromstring(package.read(part)).iter(_Q + "c"):
                formula = cell.find(_Q + "f")
                if formula is not None and formula.get("ca") == "1":
                    marked.append((name, cell.get("r")))
    live = plan_us.cell("overall", "live")
    assert marked == [(live.sheet, live.address)]


@pytest.mark.parametrize("name", ["live", "overall"])
def test_what_stands_on_it_is_an_array_of_one_cell(name: str, plan_us: Layout) -> None:
    cell = plan_us.cell("overall", name)
    assert cell.array == cell.address


def test_tops_and_check_are_arrays_of_one_cell_and_no_other(plan_us: Layout) -> None:
    alone = [c for c in plan_us.cells if c.array and not c.fill]
    assert sum(c.role == "check" and not c.block for c in alone) == len(plan_us.book.sheets)
    assert {c.block for c in alone} == {
        "", "overall", "standing", "checks", "quant", "price", "labour", "sundries", "quote",
        "quote_layers", "quote_price", "take", "decision", "board", "map", "listed", "shop_list",
        "shopping",
    }  # fmt: skip
    checks = {
        plan_us.block("checks").checks[c.index].id for c in alone if c.role == "check" and c.block
    }
    assert checks == {"live", "labour", "option", "options", "price", "profit", "visits"}
    merged = [c for c in alone if c.spans > 1]
    assert not merged, "no program takes an array formula in cells that span others"
