"""What needs a second look is told at the entry it speaks of."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import pytest

from pourbook.workbook import job
from pourbook.workbook.check import check_file
from pourbook.workbook.job import Scenario
from pourbook.workbook.plan import Plan

Key = tuple[str, str, int]


@pytest.mark.parametrize(
    ("key", "value", "place", "words"),
    [
        (
            ("receipts", "date", 3),
            dt.date(2027, 1, 16),
            ("log", "lot_a"),
            "used before it was bought",
        ),
        (("log", "mass_b", 0), 1100, ("log", "layer"), "part B"),
    ],
)
def test_log(
    key: Key,
    value: object,
    place: tuple[str, str],
    words: str,
    tmp_path: Path,
    logged_us: Scenario,
    plan_us: Plan,
    pieces: int,
) -> None:
    target = tmp_path / "job.xlsx"
    job.make(target, "us", {**logged_us.entries, key: value}, pieces=pieces)
    found = [f for f in check_file(target).findings if f.id == "job.look"]
    cells = {plan_us.cell(*place, row).address for row in range(60)}
    assert found
    assert all(f.sheet == "Used" and f.cell in cells for f in found)
    assert any(words in f.what for f in found), found
    assert all(f.mend for f in found)


def test_demo_needs_none(tmp_path: Path, logged_us: Scenario, pieces: int) -> None:
    target = tmp_path / "job.xlsx"
    job.make(target, "us", logged_us.entries, pieces=pieces)
    assert not [f for f in check_file(target).findings if f.id == "job.look"]
