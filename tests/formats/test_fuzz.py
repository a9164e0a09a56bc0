"""Packages broken at random, and cells that hold anything: read, or refused in one clear line.

A few examples run here; ``POURBOOK_FUZZ=10000 pytest tests/formats/test_fuzz.py -n0`` tries so many
of each. Whatever was found once stands as a case of its own in ``test_hostile.py``.
"""

from __future__ import annotations

import io
import os
import zipfile
from collections.abc import Mapping
from functools import cache
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from pourbook.cells import CellError
from pourbook.errors import FileUnreadableError, PourbookError
from pourbook.formats import csv_rows
from pourbook.formats.ooxml.package import open_package
from pourbook.workbook.check.appearance import check_appearance
from pourbook.workbook.check.check import check_file
from pourbook.workbook.check.entries import check_entries
from pourbook.workbook.check.structure import check_structure
from pourbook.workbook.layout.laid_out import PlannedCell
from pourbook.workbook.read.read import KINDS, read_book

pytestmark = pytest.mark.in_turn

TRIED = int(os.environ.get("POURBOOK_FUZZ", "0"))
BROKEN = settings(
    max_examples=TRIED or 60,
    deadline=None,
    derandomize=not TRIED,
    suppress_health_check=list(HealthCheck),
)
WORKED = settings(BROKEN, max_examples=max(TRIED // 20, 8))
PIECES = [
    b"<!-- -->", b"<f>1</f>", b"<v>1e999</v>", b"</row>", b"<row r='0'>", b"&amp;", b"&x;", b"]]>",
    b'<c r="XFD1048576"/>', b'<c r="A0">', b'r="$A$1"', b't="s"', b't="e"', b"<f t='shared'/>",
    b"<!DOCTYPE a>", b"<?x y?>", b"\xff\xfe", b"\x00", b'="', b"<is><t>x</t></is>", b"-1", b"NaN",
    "é".encode(), b'xmlns="urn:x"', b"<mergeCell ref='A1:Z99'/>", b"=1+", b'=SUM("', b"#REF!",
]  # fmt: skip
CHANGES = st.lists(
    st.tuples(
        st.floats(0, 1, exclude_max=True),  # which part
        st.floats(0, 1, exclude_max=True),  # where in it
        st.integers(0, 40),  # how many bytes go
        st.one_of(st.sampled_from(PIECES), st.binary(max_size=12)),  # what comes instead
    ),
    min_size=1,
    max_size=6,
)
ANY_VALUE = st.one_of(
    st.none(), st.booleans(), st.floats(), st.text(max_size=40), st.integers(-(10**18), 10**18),
    st.sampled_from(["=1+", "='", "!", "! x", "CHECK", "1e400", "2:1", "12' 6 1/2\"", "5 oz"]),
    st.sampled_from(["#DIV/0!", "#NAME?"]).map(CellError),
)  # fmt: skip


@cache
def parts_of(path: Path) -> dict[str, bytes]:
    with zipfile.ZipFile(path) as package:
        return {name: package.read(name) for name in package.namelist()}


def packed(path: Path, parts: Mapping[str, bytes]) -> Path:
    held = io.BytesIO()
    with zipfile.ZipFile(held, "w", zipfile.ZIP_STORED) as package:
        for name, content in parts.items():
            package.writestr(name, content)
    path.write_bytes(held.getvalue())
    return path


def one_line(refused: PourbookError) -> None:
    """See that a refusal is one clear line."""
    assert refused.what
    assert "\n" not in str(refused)


@pytest.fixture(scope="module")
def books(demo_us: Path, demo_shop: Path) -> tuple[Path, ...]:
    return demo_us, demo_shop


@BROKEN
@given(which=st.integers(0, 1), changes=CHANGES)
def test_a_broken_package_is_read_or_refused(
    which: int,
    changes: list[tuple[float, float, int, bytes]],
    books: tuple[Path, ...],
    tmp_path_factory: pytest.TempPathFactory,
) -> None:
    parts = dict(parts_of(books[which]))
    names = sorted(parts)
    for part, where, gone, new in changes:
        name = names[int(part * len(names))]
        at = int(where * len(parts[name]))
        parts[name] = parts[name][:at] + new + parts[name][at + gone :]
    path = packed(tmp_path_factory.getbasetemp() / "broken.xlsx", parts)
    try:
        book = read_book(path)
        plan = book.plan(*KINDS)
    except FileUnreadableError as refused:
        one_line(refused)
        return
    for finding in (*check_structure(plan, book), *check_entries(plan, book)):
        assert finding.what
    if all(sheet.sheet in book.sheets for sheet in plan.book.sheets):
        assert all(f.what for f in check_appearance(plan, book))


@BROKEN
@given(content=st.binary(max_size=400))
def test_any_bytes_are_no_workbook(
    content: bytes, tmp_path_factory: pytest.TempPathFactory
) -> None:
    path = tmp_path_factory.getbasetemp() / "bytes.xlsx"
    for begun in (b"", b"PK\x03\x04", b"\xd0\xcf\x11\xe0"):
        path.write_bytes(begun + content)
        with pytest.raises(FileUnreadableError):
            open_package(path)


@BROKEN
@given(content=st.one_of(st.binary(max_size=300), st.text(max_size=300).map(str.encode)))
def test_any_bytes_are_a_csv_file_or_refused(
    content: bytes, tmp_path_factory: pytest.TempPathFactory
) -> None:
    path = tmp_path_factory.getbasetemp() / "bytes.csv"
    path.write_bytes(content)
    try:
        table = csv_rows.read_table(path)
    except PourbookError as refused:
        one_line(refused)
        return
    assert all(isinstance(cell, str) for row in table.rows for cell in row.cells)


@WORKED
@given(data=st.data())
def test_cells_that_hold_anything_end_no_check(
    data: st.DataObject, demo_us: Path, tmp_path_factory: pytest.TempPathFactory
) -> None:
    from openpyxl import load_workbook

    plan = read_book(demo_us).plan("job")
    book = load_workbook(demo_us)
    cells: list[PlannedCell] = data.draw(st.lists(st.sampled_from(plan.entries), max_size=8))
    for cell in cells:
        value = data.draw(ANY_VALUE)
        if isinstance(value, str):
            value = "".join(c for c in value if c.isprintable())
        if isinstance(value, float) and not (-1e300 < value < 1e300):
            value = None
        book[cell.sheet][cell.address].value = value
    path = tmp_path_factory.getbasetemp() / "cells.xlsx"
    book.save(path)
    for finding in check_file(path).findings:
        assert finding.what
        assert finding.id != "function.failed", finding.what
