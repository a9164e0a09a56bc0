"""Result columns aside: last in their block, outside the print, looked up by name alone."""

from __future__ import annotations

from pathlib import Path

import openpyxl
import pytest

from pourbook.errors import TemplateError
from pourbook.units import SYSTEMS
from pourbook.workbook.layout import shown
from pourbook.workbook.layout.laid_out import Layout
from pourbook.workbook.layout.lay_out import plan_book
from pourbook.workbook.template.template import Book, read_book

TOP = 'sheet = "One"\nkind = "computed"\ntitle = "One"\npurpose = "To be tried."\n'
BOOK = """
book = "x"
title = "x"
sheets = ["One"]
overall = "form.overall"
currency = "form.overall"
system = "form.overall"
functions = []
macros = []
"""
FORM = """
[[block]]
id = "form"
kind = "form"
NEW_PAGE
[[block.line]]
id = "overall"
header = "Overall"
kind = "fixed"
default = "OK"
"""


def _table(name: str, columns: str, *, new_page: bool) -> str:
    """Return a table of two rows; a column in capitals stands aside."""
    text = f'[[block]]\nid = "{name}"\nkind = "table"\nrows = 2\n'
    text += "new_page = true\n" if new_page else ""
    text += '[block.fill]\nfunction = "PB_PLAN"\narguments = ["{form.overall}"]\n'
    for letter in columns:
        text += f'[[block.fill.columns]]\nid = "{letter.lower()}"\nheader = "{letter}"\n'
        text += "aside = true\n" if letter.isupper() else ""
    return text


def _read(folder: Path, *blocks: str, form: str = "") -> Book:
    text = TOP + "\n".join(blocks) + FORM.replace("NEW_PAGE", form)
    (folder / "one.toml").write_text(text, encoding="utf-8")
    (folder / "book.toml").write_text(BOOK, encoding="utf-8")
    return read_book(folder)


def _planned(folder: Path, *blocks: str, form: str = "") -> Layout:
    return plan_book(_read(folder, *blocks, form=form), SYSTEMS["metric"], 5)


def test_array_covers_columns_aside_and_the_print_does_not(tmp_path: Path) -> None:
    plan = _planned(tmp_path, _table("t", "abcDE", new_page=False))
    first = plan.places["t"].first
    assert plan.cell("t", "a").array == f"A{first}:E{first + 1}"
    (area,) = shown.print_areas(plan, plan.book.sheets[0])
    assert area.startswith("A1:C")


def test_own_part_where_another_block_is_wider(tmp_path: Path) -> None:
    narrow, wide = _table("t", "abC", new_page=False), _table("u", "defgh", new_page=True)
    plan = _planned(tmp_path, narrow, wide)
    last, end = plan.places["t"].last, plan.places["form"].last
    assert shown.print_areas(plan, plan.book.sheets[0]) == [
        f"A1:B{last}",
        f"A{plan.places['u'].top}:E{end}",
    ]


def test_range_names_leave_columns_aside_out(tmp_path: Path) -> None:
    line = '[[block.line]]\nid = "{0}"\nheader = "x"\nkind = "formula"\nformula = "{{t.{0}}}"\n'
    _read(tmp_path, _table("t", "abC", new_page=False))
    file = tmp_path / "one.toml"
    text = file.read_text(encoding="utf-8") + line.format("c") + line.format("results")
    file.write_text(text, encoding="utf-8")
    plan = plan_book(read_book(tmp_path), SYSTEMS["metric"], 5)
    first = plan.places["t"].first
    assert plan.cell("form", "c").formula == f"=$C${first}:$C${first + 1}"
    assert plan.cell("form", "results").formula == f"=$A${first}:$B${first + 1}"


@pytest.mark.parametrize(
    ("columns", "words"),
    [("aBc", "only the last"), ("ABC", "not all of them")],
)
def test_columns_aside_come_last(tmp_path: Path, columns: str, words: str) -> None:
    with pytest.raises(TemplateError, match=words):
        _read(tmp_path, _table("t", columns, new_page=False))


@pytest.mark.parametrize("where", ["below", "above"])
def test_columns_aside_within_the_print_are_refused(tmp_path: Path, where: str) -> None:
    """The block below prints on the same page, or the one above does."""
    aside, wide = _table("t", "abC", new_page=False), _table("u", "defgh", new_page=False)
    blocks = [aside, wide] if where == "below" else [wide, aside]
    with pytest.raises(TemplateError, match="begin within the printed part"):
        _read(tmp_path, *blocks, form="new_page = true")


def test_print_areas_of_the_demo_hold_nothing_aside(demo_us: Path, plan_us: Layout) -> None:
    book = openpyxl.load_workbook(demo_us)
    for sheet in plan_us.book.sheets:
        areas = shown.print_areas(plan_us, sheet)
        written = str(book[sheet.sheet].print_area).replace("$", "")
        assert [part.rpartition("!")[2] for part in written.split(",")] == areas
