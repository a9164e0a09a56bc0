"""The sheet of mix cards in the finished file: filled as far as there are batches, blank beyond."""

from __future__ import annotations

from pathlib import Path

import openpyxl
import pytest
from openpyxl import Workbook

from pourbook.errors import TemplateError
from pourbook.workbook.layout.laid_out import Layout
from pourbook.workbook.template.template import load_book, read_book


@pytest.fixture(scope="module")
def shown(demo_us: Path) -> Workbook:
    return openpyxl.load_workbook(demo_us, data_only=True)


def _values(plan: Layout, shown: Workbook, index: int) -> list[object]:
    place = plan.places["mix_cards"]
    top = place.first + index * place.step
    page = shown["Mix cards"]
    rows = page.iter_rows(min_row=top, max_row=top + place.step - 1, values_only=True)
    return [value for row in rows for value in row if value not in {None, ""}]


def test_every_batch_has_its_card_and_no_more(plan_us: Layout, shown: Workbook) -> None:
    batches = [
        shown["Batches"][plan_us.cell("batches", "status", n).address].value for n in range(60)
    ].count("ok")
    assert batches > 3
    for index in range(plan_us.block("mix_cards").rows):
        values = [str(v) for v in _values(plan_us, shown, index)]
        if index >= batches:
            assert values == [], f"card {index + 1} is not blank"
            continue
        assert values[0].startswith(f"Batch {index + 1} of {batches}: ")
        for word in ("1. Pour", "2. Pour", "Mixed at", "Emptied at", "Humid., %", "Remarks"):
            assert any(word in v for v in values), f"{word} on card {index + 1}"
        assert "sensitise" in values[-1]
        assert "safety data sheet" in values[-1]


def test_cards_show_a_split_piece_cups_and_weighing(plan_us: Layout, shown: Workbook) -> None:
    said = " ".join(str(v) for n in range(24) for v in _values(plan_us, shown, n))
    assert "wet into wet" in said
    assert "Divide: white" in said
    assert "WEIGH IT" in said
    assert "fl oz mark" in said


def test_part_that_is_not_there_has_no_place_to_write(plan_us: Layout, shown: Workbook) -> None:
    assert _values(plan_us, shown, 0).count("Weighed, g") == 2


def test_two_whole_cards_stand_on_a_page(plan_us: Layout, demo_us: Path) -> None:
    page = openpyxl.load_workbook(demo_us)["Mix cards"]
    place = plan_us.places["mix_cards"]
    breaks = [b.id for b in page.row_breaks.brk]
    assert breaks == [place.first + 2 * n * place.step - 1 for n in range(1, 12)]
    assert not page.sheet_properties.pageSetUpPr.fitToPage
    points = sum(page.row_dimensions[r].height or 15 for r in range(1, breaks[0] + 1))
    inches = 11 - page.page_margins.top - page.page_margins.bottom
    assert points * page.page_setup.scale / 100 <= inches * 72


@pytest.mark.parametrize("lost", ["when", "per_page"])
def test_cards_need_their_keys(lost: str, tmp_path: Path) -> None:
    text = """
sheet = "One"
kind = "print"
title = "One"
purpose = "To be broken."
[[block]]
id = "one"
kind = "cards"
rows = 2
when = "{one.a.@}"
per_page = 2
"""
    kept = [line for line in text.splitlines() if not line.startswith(lost)]
    (tmp_path / "one.toml").write_text("\n".join(kept), encoding="utf-8")
    top = 'book = "x"\ntitle = "x"\nsheets = ["One"]\noverall = "a.b"\ncurrency = "a.b"\n'
    top += 'system = "a.b"\nfunctions = []\nmacros = []\n'
    (tmp_path / "book.toml").write_text(top, encoding="utf-8")
    with pytest.raises(TemplateError, match="per_page"):
        read_book(tmp_path)
    assert load_book("job").block("mix_cards").per_page == 2
