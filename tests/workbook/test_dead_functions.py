"""No figure reaches paper while the functions behind it are dead, in any engine.

Every table a function fills is turned into what other programs leave there: zeros, or an error in
every cell. What prints must then be words that name the sheet to look at.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Mapping
from pathlib import Path

import openpyxl
import pytest
from openpyxl.worksheet.formula import ArrayFormula

from pourbook.cells import Value
from pourbook.errors import FAILED, FileUnreadableError
from pourbook.hosts import headless
from pourbook.job import books
from pourbook.job.make import Scenario
from pourbook.workbook.layout.laid_out import Layout, PlannedCell

pytestmark = pytest.mark.in_turn

Entries = Mapping[tuple[str, str, int], object]
Bare = Callable[[Layout, Entries], Path]
LEFT = [0, "#NAME?", "#VALUE!", "#N/A"]
PRINTED = ("quote", "quote_layers", "quote_price", "price", "quant", "labour", "sundries")
WORDS = {
    "company",
    "contact",
    "client",
    "site",
    "job",
    "date",
    "until",
    "option",
    "layer",
    "surfaces",
    "rooms",
}


def printed(layout: Layout) -> list[PlannedCell]:
    """Return the formulas of every figure that goes on paper."""
    own = [c for c in layout.cells if c.block in PRINTED and c.field and c.role == "formula"]
    return [c for c in own if c.field and c.field.id not in WORDS]


def cards(layout: Layout) -> list[PlannedCell]:
    """Return the formulas of all mix cards."""
    return [c for c in layout.cells if c.block == "mix_cards" and c.formula]


def kill(path: Path, left: Value) -> Path:
    """Leave one value in every cell that a function filled."""
    book = openpyxl.load_workbook(path)
    for page in book.worksheets:
        for row in list(page.iter_rows()):
            for cell in row:
                held = cell.value
                if not isinstance(held, ArrayFormula) or "PB_" not in held.text:
                    continue
                if "PB_LIVE" in held.text:
                    continue  # a program that knows our functions may read what another left
                for line in page[held.ref]:
                    for one in line:
                        one.value = left
    book.save(path)
    return path


@pytest.mark.plain
@pytest.mark.parametrize(
    ("engine", "left"), [*(("fast", left) for left in LEFT), ("plain", "#NAME?")]
)
def test_no_price_amount_or_card_prints_over_dead_tables(
    left: Value, engine: str, plan_us: Layout, scenario_us: Scenario, write_bare: Bare
) -> None:
    path = kill(write_bare(plan_us, scenario_us.entries), left)
    cells = [*printed(plan_us), *cards(plan_us)]
    found = headless.engine(engine).recompute(path, [(c.sheet, c.address) for c in cells]).values
    for cell in printed(plan_us):
        said = found[cell.sheet, cell.address]
        words = said in {"", None} or (isinstance(said, str) and said.startswith(FAILED + " see "))
        assert words, f"{cell.sheet}!{cell.address} prints {said!r}"
    net = plan_us.cell("quote_price", "net")
    assert found[net.sheet, net.address] == "! see Checks"
    for cell in cards(plan_us):
        said = found[cell.sheet, cell.address]
        titled = cell.field is not None and cell.field.id == "title" and said == "! see Checks"
        assert titled or said in {"", None}, f"{cell.sheet}!{cell.address} prints {said!r}"


@pytest.mark.parametrize("left", LEFT)
def test_recompute_and_books_refuse_a_job_whose_tables_are_not_formulas(
    left: Value, plan_us: Layout, scenario_us: Scenario, write_bare: Bare, tmp_path: Path
) -> None:
    path = kill(write_bare(plan_us, scenario_us.entries), left)
    before = path.read_bytes()
    with pytest.raises(FileUnreadableError, match=r"Survey!.*new NEW\.xlsx --from"):
        books.store(path, path, force=True)
    with pytest.raises(FileUnreadableError, match=r"Survey!.*new NEW\.xlsx --from"):
        books.books_copy(path, tmp_path / "copy.xlsx", force=False, made=dt.datetime(2027, 1, 1))
    assert path.read_bytes() == before
    assert not (tmp_path / "copy.xlsx").exists()
