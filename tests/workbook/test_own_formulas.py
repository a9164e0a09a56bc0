"""The estimator's own formulas on Scratch: what no engine here knows, and what is new each time."""

from __future__ import annotations

from pathlib import Path

import openpyxl
import pytest

from pourbook.formats.ooxml import rewrite
from pourbook.job import books
from pourbook.workbook.check.check import check_file
from pourbook.workbook.read.read import read_book

pytestmark = pytest.mark.in_turn

OWN = {
    "A60": ("=MYOWN(3)", 6.0),  # a function of another add-in, as Excel stored it
    "A61": ("=A60*2", 12.0),
    "A62": ("=TODAY()", 46000.0),
    "A63": ("=A62+1", 46001.0),
    "A64": ("=Scratch!A63+'Scratch'!$A$61", 46013.0),
}


@pytest.fixture
def noted(demo_us: Path, tmp_path: Path) -> Path:
    """The demo with formulas on Scratch and the values another program stored for them."""
    book = openpyxl.load_workbook(demo_us)
    for address, (formula, _) in OWN.items():
        book["Scratch"][address] = formula
    book.save(tmp_path / "bare.xlsx")
    values = {("Scratch", address): value for address, (_, value) in OWN.items()}
    books.store(tmp_path / "bare.xlsx", tmp_path / "worked.xlsx", force=False)
    rewrite.inject(tmp_path / "worked.xlsx", tmp_path / "job.xlsx", values)
    return tmp_path / "job.xlsx"


def test_they_are_no_finding(noted: Path) -> None:
    assert check_file(noted).findings == ()


def test_they_keep_their_values(noted: Path) -> None:
    books.store(noted, noted, force=True)
    sheet = read_book(noted).sheets["Scratch"]
    assert {a: sheet.value(a) for a in OWN} == {a: value for a, (_, value) in OWN.items()}
    assert {a: sheet.cells[a].formula for a in OWN} == {
        a: formula for a, (formula, _) in OWN.items()
    }


def test_one_that_is_known_and_stale_is_still_named(noted: Path) -> None:
    book = openpyxl.load_workbook(noted)
    book["Scratch"]["A65"] = "=SUM(1,2)"
    book.save(noted)
    rewrite.inject(noted, noted.with_name("stale.xlsx"), {("Scratch", "A65"): 4.0})
    found = check_file(noted.with_name("stale.xlsx")).findings
    assert [f.place for f in found if f.id == "recompute.differs"] == ["Scratch!A65"]


def test_a_name_that_looks_like_a_cell_beyond_the_sheet_ends_no_check(noted: Path) -> None:
    book = openpyxl.load_workbook(noted)
    book["Scratch"]["A66"] = "=XYZ2026+SUM(A1:XFD1048576)*0"
    book.save(noted)
    assert {f.id for f in check_file(noted).findings} <= {"recompute.novalue", "recompute.differs"}
