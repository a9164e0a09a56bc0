"""A books copy taken back: every entry that differs is listed, all are taken or none."""

from __future__ import annotations

import datetime as dt
import json
import shutil
from collections import defaultdict
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import pytest
from openpyxl.utils.datetime import to_excel
from tests.command_line import run

from pourbook.cells import Value
from pourbook.errors import FileUnreadableError, InputError
from pourbook.formats.ooxml import rewrite
from pourbook.formats.ooxml.copying import copied
from pourbook.job import books, take
from pourbook.job.fill import Entry, fill
from pourbook.workbook.check.check import check_file
from pourbook.workbook.layout.laid_out import Layout
from pourbook.workbook.read.read import read_book

pytestmark = pytest.mark.in_turn(2)

Printed = pytest.CaptureFixture[str]
NOW = dt.datetime(2027, 3, 1, 14, 30)


def _copy(job: Path) -> Path:
    target = job.with_name("books.xlsx")
    books.books_copy(job, target, force=True, made=dt.datetime(2027, 2, 1, 9))
    return target


def _type(path: Path, plan: Layout, entries: Mapping[Entry, object]) -> None:
    """Type into a workbook as a spreadsheet program does; nothing is recomputed."""
    placed: dict[str, dict[str, Value]] = defaultdict(dict)
    for key, content in entries.items():
        cell = plan.entry_at[key]
        value = float(to_excel(content)) if isinstance(content, dt.date) else content
        assert value is None or isinstance(value, str | int | float)
        placed[cell.sheet][cell.address] = value
    parts = rewrite.sheet_parts(path)
    old = path.with_name("old.xlsx")
    shutil.move(path, old)

    def edit(part: str, content: bytes) -> bytes:
        values = placed.get(parts.get(part, ""))
        return rewrite.with_values(content, values) if values else content

    copied(old, path, edit)
    old.unlink()


@pytest.fixture
def job(settled_us: Path, tmp_path: Path) -> Path:
    return Path(shutil.copy(settled_us, tmp_path / "job.xlsx"))


TYPED: dict[Entry, object] = {
    ("receipts", "price", 0): 71.25,
    ("left", "rest", 1): 0.125,
    ("spent", "sundries", 0): 88.0,
    ("receipts", "document", 1): "=NOT A FORMULA",
}


def test_what_was_typed_in_the_copy_is_taken_and_noted(
    job: Path, plan_us: Layout, tmp_path: Path
) -> None:
    twin = Path(shutil.copy(job, tmp_path / "twin.xlsx"))
    copy = _copy(job)
    assert take.differences(copy, job) == []
    _type(copy, plan_us, TYPED)
    before = read_book(job)
    found = take.differences(copy, job)
    assert {one.key: one.new for one in found} == TYPED
    old = {one.key: one.old for one in found}
    assert old == {key: before.sheets["Used"].value(plan_us.entry_at[key].address) for key in TYPED}
    take.take(copy, job, by="Bo", now=NOW, wanted=found)
    fill(twin, twin, TYPED, force=True)  # the same typed into the job itself
    ours, theirs = check_file(job), check_file(twin)
    changed = {at for at, value in ours.values.items() if theirs.values[at] != value}
    assert not changed
    assert take.differences(copy, job) == []
    sheet = read_book(job).sheets["Changes"]
    fields = ("taken_at", "taken_new")
    rows = [
        {f: sheet.value(plan_us.kept_at["taken", f, row].address) for f in fields}
        for row in range(5)
    ]
    assert [row["taken_new"] for row in rows] == ["71.25", "=NOT A FORMULA", "0.125", "88", None]
    assert sheet.value(plan_us.kept_at["taken", "taken_by", 0].address) == "Bo"
    assert sheet.value(plan_us.kept_at["taken", "taken_from", 0].address) == "books.xlsx"
    assert sheet.value(plan_us.kept_at["taken", "taken_on", 0].address) == to_excel(NOW)
    cell = plan_us.entry_at["receipts", "price", 0]
    assert rows[0]["taken_at"] == f"Used!{cell.address}"


@pytest.mark.parametrize(
    ("entries", "words"),
    [
        ({("rates", "labour", 0): 99.0}, "an accepted quote rests on it"),
        ({("rooms", "a", 0): "9 ft"}, "an accepted quote rests on it"),
        ({("left", "rest", 0): "a lot"}, "'a lot' is no number"),
        ({("receipts", "date", 0): "soon"}, "'soon' is no date"),
    ],
)
def test_all_are_taken_or_none(
    job: Path, plan_us: Layout, entries: dict[Entry, object], words: str
) -> None:
    copy = _copy(job)
    _type(copy, plan_us, {**TYPED, **entries})
    before = job.read_bytes()
    with pytest.raises(InputError, match=words) as refused:
        take.take(copy, job, by="Bo", now=NOW, wanted=take.differences(copy, job))
    (key,) = entries
    assert plan_us.entry_at[key].address in refused.value.where
    assert job.read_bytes() == before


def test_a_formula_in_the_copy_is_refused(job: Path) -> None:
    import openpyxl

    copy = _copy(job)
    plan = read_book(job).plan("job")
    book = openpyxl.load_workbook(copy)
    cell = plan.entry_at["left", "rest", 0]
    book[cell.sheet][cell.address] = "=1/2"
    book.save(copy)
    with pytest.raises(InputError, match="is a formula in the copy: =1/2"):
        take.take(copy, job, by="Bo", now=NOW, wanted=take.differences(copy, job))


def test_what_is_no_copy_of_this_job_is_refused(
    job: Path, demo_metric: Path, tmp_path: Path, capsys: Printed
) -> None:
    copy = _copy(job)
    other = Path(shutil.copy(demo_metric, tmp_path / "other.xlsx"))
    assert run("take", job, job, "--by", "Bo") == 2
    assert "name the books copy first" in capsys.readouterr().err
    assert run("take", copy, other, "--by", "Bo") == 2
    assert "the copy of another job" in capsys.readouterr().err
    assert run("take", copy, copy, "--by", "Bo") == 3
    assert run("take", tmp_path / "none.xlsx", job, "--by", "Bo") == 3


def test_the_command_lists_first_and_takes_when_told(
    job: Path, plan_us: Layout, capsys: Printed
) -> None:
    copy = _copy(job)
    assert run("take", copy, job, "--by", "Bo") == 0
    assert "hold the same entries" in capsys.readouterr().out
    _type(copy, plan_us, TYPED)
    before = job.read_bytes()
    assert run("take", copy, job) == 2
    assert run("take", copy, job, "--dry-run") == 0
    shown = capsys.readouterr().out
    for words in ("71.25", "=NOT A FORMULA", "Nothing written", "Used!"):
        assert words in shown
    assert job.read_bytes() == before
    assert run("take", copy, job, "--dry-run", "--json") == 0
    answer: Any = json.loads(capsys.readouterr().out)
    assert next(one["new"] for one in answer["differences"]) == 71.25
    assert run("take", copy, job, "--by", "Bo") == 0
    assert "4 entries taken" in capsys.readouterr().out


def test_a_copy_is_checked_as_far_as_it_goes(
    job: Path, plan_us: Layout, tmp_path: Path, capsys: Printed
) -> None:
    copy = _copy(job)
    code = run("check", job)
    found = capsys.readouterr().out.count("\n")
    assert run("check", copy) == code
    assert capsys.readouterr().out.count("\n") == found, "what is found in the job, and no more"
    _type(copy, plan_us, {("left", "rest", 0): "a lot"})
    assert run("check", copy) == 1
    assert "'a lot' is no number" in capsys.readouterr().out
    second = _copy(job)
    cell = plan_us.cell("settle_sums", "actual")
    _typed_over(second, cell.sheet, cell.address)
    assert run("check", second) == 1
    assert f"Settle!{cell.address}" in capsys.readouterr().out
    for words in (("settle", copy), ("show", copy), ("accept", copy)):
        assert run(*words) == 3
        assert "the books copy of job.xlsx" in capsys.readouterr().err


def _typed_over(path: Path, sheet: str, address: str) -> None:
    from tests.archive.conftest import type_over

    old = path.with_name("before.xlsx")
    shutil.move(path, old)
    type_over(old, path, sheet, address, 1.0)


def test_what_was_changed_meanwhile_is_looked_at_again(job: Path, plan_us: Layout) -> None:
    copy = _copy(job)
    _type(copy, plan_us, TYPED)
    listed = take.differences(copy, job)
    fill(job, job, {("left", "rest", 1): 0.75}, force=True)
    before = job.read_bytes()
    with pytest.raises(InputError, match="changed meanwhile"):
        take.take(copy, job, by="Bo", now=NOW, wanted=listed)
    assert job.read_bytes() == before


def test_a_full_sheet_of_changes_takes_nothing(job: Path, plan_us: Layout) -> None:
    rows = plan_us.block("taken").rows
    fill(job, job, {("taken", "taken_what", row): "x" for row in range(rows - 3)}, force=True)
    copy = _copy(job)
    _type(copy, plan_us, TYPED)
    with pytest.raises(InputError, match="4 changes are to be noted, 3 rows are free"):
        take.take(copy, job, by="Bo", now=NOW, wanted=take.differences(copy, job))


def test_an_unknown_file_is_no_workbook(job: Path, tmp_path: Path) -> None:
    odd = tmp_path / "odd.xlsx"
    odd.write_bytes(b"no")
    with pytest.raises(FileUnreadableError):
        take.differences(odd, job)
