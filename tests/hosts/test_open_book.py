"""Entries set in an open book, or put into a copy, come to what they come to in one built anew."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import openpyxl
import pytest
from tests import build_memory
from tests.agreement import jobs
from tests.open_book import OpenBook

from pourbook.job import make
from pourbook.workbook.build import build
from pourbook.workbook.read.read import read_book

pytestmark = pytest.mark.in_turn


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


ODD: dict[tuple[str, str, int], object] = {
    ("start", "job", 0): "=1+1",
    ("start", "client", 0): " a <b> & 'c' \n d ",
    ("start", "start_date", 0): dt.date(2027, 3, 1),
    ("log", "started", 0): dt.datetime(2027, 3, 1, 9, 30),
    ("rooms", "a", 0): dt.time(8, 30),
    ("rooms", "b", 0): "#N/A",
    ("rooms", "count", 1): True,
    ("rooms", "order", 1): 1e-17,
    ("layers", "loss", 0): 0.1 + 0.2,
    ("layers", "passes", 0): 2,
    ("layers", "layer", 1): "",
    ("products", "density_a", 0): None,
}


@pytest.mark.parametrize(
    ("entries", "identity"),
    [({}, ""), (ODD, "a mark"), (12, "")],
    ids=["nothing typed", "odd entries", "job 12"],
)
def test_a_copy_with_entries_is_the_workbook_built_anew(
    entries: int | dict[tuple[str, str, int], object], identity: str, tmp_path: Path
) -> None:
    plan = jobs.layout("us" if isinstance(entries, dict) else jobs.make(entries).system)
    typed = entries if isinstance(entries, dict) else jobs.make(entries).entries
    made = dt.datetime(2026, 11, 24, 9, 30, 15, 7)
    copy, anew = tmp_path / "copy.xlsx", tmp_path / "anew.xlsx"
    for _ in range(2):
        build.write(plan, typed, copy, made=made, identity=identity)
    build_memory.ANEW(plan, typed, anew, made=made, identity=identity)
    one, two = read_book(copy), read_book(anew)
    assert {n: s.cells for n, s in one.sheets.items()} == {
        n: s.cells for n, s in two.sheets.items()
    }
    assert one.marks == two.marks
    parts = []
    for path in (copy, anew):
        book = openpyxl.load_workbook(path)
        looks = {
            (page.title, cell.coordinate): (cell.style, cell.number_format, cell.protection.locked)
            for page in book.worksheets
            for row in page.iter_rows()
            for cell in row
        }
        said = book.properties
        parts.append((looks, said.created, said.modified, said.title, said.creator))
    assert parts[0] == parts[1]
