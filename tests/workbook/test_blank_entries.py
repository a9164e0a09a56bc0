"""Whatever is left blank, no cell of a job shows an error value: it says what is missing."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path

import pytest

from pourbook.cells import CellError
from pourbook.hosts import headless
from pourbook.job.make import Scenario
from pourbook.workbook.layout.laid_out import Layout

Entry = tuple[str, str, int]
Bare = Callable[[Layout, Mapping[Entry, object]], Path]
PARTS = 4
"""The entries are left blank one by one, in so many tests."""


def shown(path: Path, plan: Layout) -> list[str]:
    """Return the cells that show an error value."""
    wanted = [(c.sheet, c.address) for c in plan.cells if c.formula or c.fill]
    values = headless.engine("fast").recompute(path, wanted).values
    return [f"{s}!{a} {v}" for (s, a), v in values.items() if isinstance(v, CellError)]


def blanks(plan: Layout, scenario: Scenario) -> list[Entry]:
    """Return the entries to leave blank: all of forms, and the first row of every table."""
    typed = (key for key, value in scenario.entries.items() if value is not None and key[2] == 0)
    return sorted(key for key in typed if key in plan.entry_at)


@pytest.mark.in_turn
@pytest.mark.parametrize("part", range(PARTS))
def test_one_entry_left_blank_shows_no_error(
    part: int, plan_us: Layout, scenario_us: Scenario, write_bare: Bare
) -> None:
    wrong = {}
    for key in blanks(plan_us, scenario_us)[part::PARTS]:
        entries = {**scenario_us.entries, key: None}
        path = write_bare(plan_us, entries)
        found = shown(path, plan_us)
        path.unlink()
        if found:
            wrong[key] = found[:5]
    assert wrong == {}


@pytest.mark.parametrize(
    "block", ["site", "money", "rates", "rooms", "layers", "products", "doing"]
)
def test_a_table_left_blank_shows_no_error(
    block: str, plan_us: Layout, scenario_us: Scenario, write_bare: Bare
) -> None:
    entries = {key: None if key[0] == block else one for key, one in scenario_us.entries.items()}
    assert shown(write_bare(plan_us, entries), plan_us) == []


def test_a_job_nothing_is_typed_into_shows_no_error(plan_us: Layout, write_bare: Bare) -> None:
    assert shown(write_bare(plan_us, {}), plan_us) == []
