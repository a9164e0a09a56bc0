"""Options beside the one to offer are planned too: what cannot be mixed or kept has no price."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

import pytest

from pourbook.cells import Address, Value
from pourbook.job import make
from pourbook.job.make import Scenario
from pourbook.workbook.layout.laid_out import Layout

Key = tuple[str, str, int]
_LOOK = "! see Price"


def _of(
    plan: Layout, values: Mapping[Address, Value], block: str, name: str, index: int = 1
) -> Value:
    cell = plan.cell(block, name, index)
    return values[cell.sheet, cell.address]


@pytest.mark.parametrize(
    ("typed", "column", "why", "net"),
    [
        ({("working", "recoat_from", 2): None}, "calendar", "Recoat from", _LOOK),
        ({("products", "ratio", 2): "30000:1"}, "batches", "off its ratio", _LOOK),
        ({("working", "margin", 2): 30}, "air", "dew point", None),
    ],
)
def test_option_that_is_not_offered(
    typed: Mapping[Key, object],
    column: str,
    why: str,
    net: str | None,
    tmp_path: Path,
    scenario_us: Scenario,
    plan_us: Layout,
    pieces: int,
) -> None:
    """Option B alone has the flakes in resin; the option to offer, A, is sound."""
    entries = {**scenario_us.entries, **typed}
    values = make.make(tmp_path / "job.xlsx", "us", entries, pieces=pieces)
    said = {
        name: _of(plan_us, values, "options", f"option_{name}")
        for name in ("batches", "calendar", "air", "why")
    }
    assert said[column] == "CHECK", said
    assert why in str(said["why"]), said
    shown = _of(plan_us, values, "quote_price", "net")
    assert shown == net if net else isinstance(shown, float)
    assert _of(plan_us, values, "quote_price", "net", 0) == 6716.86
    assert _of(plan_us, values, "overall", "overall", 0) != "OK"


def test_options_of_the_demo_are_all_planned(
    tmp_path: Path, scenario_us: Scenario, plan_us: Layout, pieces: int
) -> None:
    values = make.make(tmp_path / "job.xlsx", "us", scenario_us.entries, pieces=pieces)
    rows = [
        [_of(plan_us, values, "options", f"option{name}", row) for name in ("", "_batches")]
        for row in range(3)
    ]
    assert rows == [["A", "offered"], ["B", "ok"], ["C", ""]]
