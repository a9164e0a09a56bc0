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


def _left(entries: dict[Key, object], counted: str, **cells: object) -> dict[Key, object]:
    """Return the entries with other cells in the rows that count a product."""
    rows = [k[2] for k, v in entries.items() if k[:2] == ("left", "product") and v == counted]
    assert rows
    return {**entries, **{("left", name, row): v for name, v in cells.items() for row in rows}}


def test_product_left_out_of_the_count(
    tmp_path: Path, logged_us: Scenario, plan_us: Plan, pieces: int
) -> None:
    entries = dict(logged_us.entries)
    last = max(row for block, name, row in entries if (block, name) == ("left", "product"))
    product = str(entries["left", "product", last])
    nothing = dict.fromkeys(("product", "lot", "date", "rest", "goes"))
    target = tmp_path / "without.xlsx"
    job.make(target, "us", _left(entries, product, **nothing), pieces=pieces)
    found = [f for f in check_file(target).findings if f.id == "job.look"]
    assert [f.cell for f in found] == [plan_us.cell("left", "product", last).address]
    assert f"'{product}' was issued and is not counted" in found[0].what
    assert "type 0" in found[0].mend
    none_left = tmp_path / "none_left.xlsx"
    job.make(none_left, "us", _left(entries, product, rest=0), pieces=pieces)
    assert not [f for f in check_file(none_left).findings if f.id == "job.look"]


def test_demo_needs_none(tmp_path: Path, logged_us: Scenario, pieces: int) -> None:
    target = tmp_path / "job.xlsx"
    job.make(target, "us", logged_us.entries, pieces=pieces)
    assert not [f for f in check_file(target).findings if f.id == "job.look"]
