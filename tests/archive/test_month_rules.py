# ruff: noqa: F811 - fixtures that are imported are named again where they are asked for
"""The month's book keeps the rules the job's book keeps, in the file as it is written.

The tests are those of ``tests/workbook/test_template_rules.py``, on a roll-up that holds jobs,
products, lots and files; what they ask of a job alone is asked here in the month's own numbers.
"""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import pytest
from openpyxl import Workbook
from tests.archive.test_month import records
from tests.workbook import test_template_rules as rules_of_books
from tests.workbook.test_template_rules import (  # noqa: F401 - pytest collects them here
    arrays,
    book,
    formulas,
    rules,
    shown,
    test_builtin_style_names_are_kept,
    test_every_macro_is_explained,
    test_every_number_has_a_visible_unit,
    test_no_external_link,
    test_no_message_is_cut_short,
    test_no_nested_if_beyond_two,
    test_no_unexplained_constant,
    test_no_volatile_function,
    test_nothing_is_hidden,
    test_one_formula_per_column,
    test_overall_check_stands_at_the_top_of_every_sheet,
    test_print_area_covers_all_computed_cells,
    test_prompts_and_errors_say_how_to_mend,
    test_references_stay_on_cells_that_hold_something,
    test_sheets_are_protected_without_a_password,
)

from pourbook.archive.folder import Found
from pourbook.archive.month import BOOK, roll_up, write
from pourbook.units import SYSTEMS
from pourbook.workbook.layout.laid_out import Layout
from pourbook.workbook.layout.lay_out import lay_out

Cell = tuple[str, str]


@pytest.fixture(scope="module")
def path(tmp_path_factory: pytest.TempPathFactory) -> Path:
    target = tmp_path_factory.mktemp("rules") / "month.xlsx"
    passed = Found("prices.xlsx", "passed over", "no job", 1.8e9)
    roll = roll_up([*records(10), passed], "f", made=dt.date(2027, 3, 1))
    write(roll, target, force=False, made=dt.datetime(2027, 3, 1))
    return target


@pytest.fixture(scope="module")
def layout(path: Path) -> Layout:
    return lay_out(BOOK, "us", 10)


def test_only_allowed_functions_and_none_of_ours(layout: Layout, formulas: dict[Cell, str]) -> None:
    """The bookkeeper has no add-in: a roll-up is native to the last cell."""
    used = {name for f in formulas.values() for name in rules_of_books._called(f)}
    assert used <= set(layout.book.functions)
    assert {"SUMIFS", "INDEX", "SUMPRODUCT", "COUNTIF"} <= used


def test_no_circular_reference(formulas: dict[Cell, str]) -> None:
    assert not rules_of_books._circle(formulas, {})


def test_only_the_lot_to_trace_is_typed(layout: Layout, book: Workbook) -> None:
    (entry,) = layout.entries
    assert (entry.block, entry.field.id if entry.field else "") == ("trace", "lot")
    for sheet in layout.book.sheets:
        for row in book[sheet.sheet].iter_rows():
            for cell in row:
                is_entry = (sheet.sheet, cell.coordinate) == (entry.sheet, entry.address)
                assert cell.protection.locked is not is_entry, f"{sheet.sheet}!{cell.coordinate}"


def test_every_check_feeds_the_overall_one(layout: Layout, formulas: dict[Cell, str]) -> None:
    cell = layout.cell("overall", "overall")
    read = set(rules_of_books._cells(formulas[cell.sheet, cell.address], cell.sheet))
    count = len(layout.block("checks").checks)
    assert count == 7
    rows = {(cell.sheet, layout.cell("checks", "result", i).address) for i in range(count)}
    assert read == rows


@pytest.mark.parametrize("system", SYSTEMS)
def test_book_lays_out_in_every_system(system: str) -> None:
    found = lay_out(BOOK, system, 3)
    cells = [(c.sheet, c.address) for c in found.cells]
    assert len(set(cells)) == len(cells), "two things are planned for one cell"


def test_tables_grow_as_far_as_they_say() -> None:
    for name, times in (("jobs", 1), ("detail", 6), ("lots", 8), ("files", 2)):
        assert lay_out(BOOK, "us", 7).block(name).rows == 7 * times
