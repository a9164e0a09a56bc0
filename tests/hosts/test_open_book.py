"""Entries set in an open book come to what they come to in a workbook that is made."""

from __future__ import annotations

from pathlib import Path

import pytest
from tests.agreement import jobs
from tests.open_book import OpenBook

from pourbook.job import make


@pytest.mark.parametrize("seed", [3, 12, 19])
def test_open_book_says_what_a_made_workbook_says(seed: int, tmp_path: Path) -> None:
    sample = jobs.make(seed)
    made = make.make(tmp_path / "job.xlsx", sample.system, sample.entries, pieces=jobs.PIECES)
    found = OpenBook(jobs.layout(sample.system), tmp_path).values(sample.entries)
    assert found.keys() == made.keys()
    numbers = {k: v for k, v in made.items() if isinstance(v, float)}
    assert {k: v for k, v in found.items() if k not in numbers} == {
        k: v for k, v in made.items() if k not in numbers
    }
    assert {k: found[k] for k in numbers} == pytest.approx(numbers, rel=1e-12, abs=1e-9)


def test_what_was_set_before_leaves_nothing_behind(tmp_path: Path) -> None:
    sample = jobs.make(12)
    book = OpenBook(jobs.layout(sample.system), tmp_path)
    before = book.values(sample.entries)
    assert book.values({**sample.entries, ("rooms", "a", 0): "25 oz"}) != before
    assert book.values(sample.entries) == before
