"""Take the job? The line on Start says go, wait or walk away, the weightiest reason first."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

import pytest
from tests.open_book import OpenBook

from pourbook.job.make import Scenario
from pourbook.workbook.layout.laid_out import Layout

Key = tuple[str, str, int]


@pytest.fixture(scope="module")
def job(plan_us: Layout, tmp_path_factory: pytest.TempPathFactory) -> OpenBook:
    """A job whose entries are set in memory."""
    return OpenBook(plan_us, Path(tmp_path_factory.mktemp("take")))


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ({}, "go"),
        ({("gates", "asbestos", 0): None}, "wait; gates"),
        ({("readings", "reading", 0): 80}, "wait; gates; moisture"),
        ({("readings", "reading", 3): "1B"}, "walk away; adhesion"),
        ({("kinetics", "hottest", 0): 100}, "wait; heat; margin"),
        ({("pace", "heat_pass", 0): 6}, "wait; hands"),
        ({("start", "start_date", 0): None}, "wait; calendar; margin"),
        ({("rates", "labour", 0): None}, "wait; margin"),
        (
            {("readings", "reading", 3): "1B", ("gates", "gas", 0): None},
            "walk away; gates; adhesion",
        ),
    ],
)
def test_reasons_stand_in_order_of_weight(
    typed: Mapping[Key, object], said: str, job: OpenBook, scenario_us: Scenario, plan_us: Layout
) -> None:
    cell = plan_us.cell("decision", "take", 0)
    values = job.values({**scenario_us.entries, **typed})
    assert values[cell.sheet, cell.address] == said
