"""One row is one thing: rows may be sorted and moved, each table by itself, and nothing mixes."""

from __future__ import annotations

import math
import random
from collections.abc import Mapping
from pathlib import Path

import pytest
from tests.typed_out import typed_out

from pourbook.cells import Value
from pourbook.job import make
from pourbook.job.carry import read_entries
from pourbook.job.fill import Entry, fill
from pourbook.job.make import Scenario
from pourbook.workbook.layout.laid_out import Layout

pytestmark = pytest.mark.in_turn

FIGURES = ("price", "quote_price", "measured", "overall")


def _shuffled(
    entries: Mapping[Entry, object], table: str, rows: int, seed: int
) -> dict[Entry, object]:
    """Return the entries with the rows of one table in another order."""
    order = list(range(rows))
    random.Random(seed).shuffle(order)
    return {
        (block, name, order[row] if block == table else row): value
        for (block, name, row), value in entries.items()
    }


def _said(plan: Layout, values: Mapping[tuple[str, str], Value]) -> dict[Entry, Value]:
    return {
        (c.block, c.field.id, c.index): values[c.sheet, c.address]
        for c in plan.cells
        if c.formula and c.block in FIGURES and c.field is not None
    }


def _same(one: Value, other: Value) -> bool:
    if isinstance(one, float) and isinstance(other, float):
        return math.isclose(one, other, rel_tol=1e-9, abs_tol=1e-9)
    return one == other


@pytest.mark.parametrize(
    "table", ["products", "working", "doing", "packs", "rooms", "labour", "sundries"]
)
def test_sorting_one_table_moves_no_figure(
    table: str, plan_us: Layout, scenario_us: Scenario, pieces: int, tmp_path: Path, demo_us: Path
) -> None:
    typed = {**scenario_us.entries, **typed_out(plan_us, demo_us)}
    plain = make.make(tmp_path / "a.xlsx", "us", typed, pieces=pieces)
    before = _said(plan_us, plain)
    assert before["overall", "overall", 0] == "OK"
    entries = _shuffled(typed, table, plan_us.block(table).rows, seed=4)
    assert entries != typed
    after = _said(plan_us, make.make(tmp_path / "b.xlsx", "us", entries, pieces=pieces))
    assert {k: v for k, v in after.items() if not _same(v, before[k])} == {}


def test_a_layer_put_in_between_is_on_the_quote(
    plan_us: Layout, scenario_us: Scenario, pieces: int, tmp_path: Path
) -> None:
    moved = {
        (b, f, row + 1 if b == "layers" and row >= 1 else row): v
        for (b, f, row), v in scenario_us.entries.items()
    }
    between = {(b, f, 1): v for (b, f, row), v in moved.items() if b == "layers" and row == 0}
    again = {(b, f, 9): v for (b, f, row), v in moved.items() if b == "doing" and row == 0}
    entries = {**moved, **between, **again, ("layers", "layer", 1): "Second base"}
    entries["doing", "layer_name", 9] = "Second base"
    target = tmp_path / "a.xlsx"
    values = make.make(target, "us", entries, pieces=pieces)
    cell = plan_us.cell("quote_layers", "layer", 1)
    assert values[cell.sheet, cell.address] == "Second base"


def test_a_product_with_two_rows_of_working_is_refused(
    plan_us: Layout, scenario_us: Scenario, pieces: int, tmp_path: Path
) -> None:
    twice = {
        (b, f, 7): v for (b, f, row), v in scenario_us.entries.items() if (b, row) == ("working", 0)
    }
    values = make.make(tmp_path / "a.xlsx", "us", {**scenario_us.entries, **twice}, pieces=pieces)
    status = [plan_us.cell("plan", "plan_status", row) for row in range(6)]
    said = [values[cell.sheet, cell.address] for cell in status]
    assert any("has two rows" in str(words) for words in said)


def test_a_job_whose_rows_went_by_position_gets_their_names(
    demo_us: Path, plan_us: Layout, scenario_us: Scenario, pieces: int, tmp_path: Path
) -> None:
    """As of a job of the version before: the names stood there as formulas, in no mark."""
    entries = {**scenario_us.entries, **typed_out(plan_us, demo_us)}
    names = [
        k
        for k, value in entries.items()
        if k[:2] in {("working", "name"), ("doing", "name"), ("doing", "layer_name")} and value
    ]
    assert len(names) == 18
    typed, target = tmp_path / "typed.xlsx", tmp_path / "old.xlsx"
    make.make(typed, "us", entries, pieces=pieces)
    fill(typed, target, dict.fromkeys(names), force=False)
    carried = read_entries(target)
    assert {k: carried.entries[k] for k in names} == {k: entries[k] for k in names}
