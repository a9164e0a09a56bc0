"""Every file of a folder is told of: read, left out and why, in one process or in several."""

from __future__ import annotations

import os
import shutil
from collections import Counter
from dataclasses import replace
from pathlib import Path

import pytest
from tests.archive import making

from pourbook.archive import folder as archive
from pourbook.archive import processes
from pourbook.archive.folder import Found, look, look_at, without_copies
from pourbook.archive.record import JobRecord
from pourbook.errors import UsageError

EXPECTED = {
    "asked.xlsx": ("job", "not accepted"),
    "broken.xlsx": ("left out", "no workbook"),
    "cad.xlsx": ("job", ""),
    "first backup.xlsx": ("left out", "the same job as first.xlsx"),
    "first books.xlsx": ("passed over", "books copy"),
    "first.xlsx": ("job", ""),
    "live.xlsm": ("job", ""),
    "old.ods": ("passed over", "save a job as .xlsx"),
    "prices.xlsx": ("passed over", "Pourbook did not make"),
    "second.xlsx": ("job", "open in a spreadsheet program"),
    "typed over.xlsx": ("job", "Settle!"),
    "~$second.xlsx": ("passed over", "lock file"),
}


@pytest.fixture(scope="module")
def found(mixed_folder: Path) -> dict[str, Found]:
    return {one.file: one for one in look(mixed_folder, processes=1)}


def test_every_workbook_is_told_of(found: dict[str, Found]) -> None:
    assert set(found) == set(EXPECTED)


@pytest.mark.parametrize("file", EXPECTED)
def test_each_is_what_it_is(found: dict[str, Found], file: str) -> None:
    kind, words = EXPECTED[file]
    if file == "asked.xlsx":
        assert found[file].job is not None
        assert found[file].job.state == words  # type: ignore[union-attr]
        words = "pourbook accept"
    assert found[file].kind == kind
    assert words in found[file].why


def test_every_job_of_a_folder_says_how_far_it_is(found: dict[str, Found]) -> None:
    states = {name: one.job.state for name, one in found.items() if one.job and one.kind == "job"}
    assert states == {
        "asked.xlsx": "not accepted",
        "cad.xlsx": "settled",
        "first.xlsx": "settled",
        "live.xlsm": "settled",
        "second.xlsx": "settled",
        "typed over.xlsx": "findings",
    }


def test_a_stale_figure_is_counted_and_not_believed(found: dict[str, Found]) -> None:
    job = found["second.xlsx"].job
    assert job is not None
    assert job.stale == 1
    assert job.sums is not None
    assert job.sums.used == 99.0  # 135.00 of receipts less 0.8 gallons on the shelf at 45.00


def test_a_typed_over_figure_is_not_taken(found: dict[str, Found]) -> None:
    job = found["typed over.xlsx"].job
    assert job is not None
    assert job.sums is None
    assert not job.products
    assert job.lots, "a recall needs its lots all the same"


def test_several_processes_read_the_same(mixed_folder: Path, found: dict[str, Found]) -> None:
    seen: list[tuple[int, int]] = []
    several = look(mixed_folder, lambda done, of: seen.append((done, of)), processes=2)
    assert {one.file: one for one in several} == found
    assert seen[0] == (0, 12)
    assert seen[-1] == (12, 12)


def test_reading_changes_no_file(mixed_folder: Path) -> None:
    before = {p: (p.stat().st_mtime_ns, p.read_bytes()) for p in mixed_folder.iterdir()}
    look(mixed_folder, processes=1)
    assert {p: (p.stat().st_mtime_ns, p.read_bytes()) for p in mixed_folder.iterdir()} == before


def test_a_file_that_ends_its_process_takes_no_other_with_it(
    tmp_path: Path, settled_folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A process that dies is tried once more alone; the others are read."""
    for name in ("a.xlsx", "b.xlsx"):
        (tmp_path / name).write_bytes(b"no workbook")
    monkeypatch.setattr(archive, "look_at", _deadly)
    found = {one.file: one for one in look(tmp_path, processes=2)}
    assert "could not be read" in found["b.xlsx"].why
    assert found["a.xlsx"].why == "read"


def _deadly(folder: Path, path: Path) -> Found:
    import os

    if path.name == "b.xlsx":
        os._exit(1)
    return Found(path.name, "passed over", "read", 0.0)


def test_an_odd_fault_is_told_not_raised(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "odd.xlsx"
    path.write_bytes(b"x")

    def odd(_: Path) -> None:
        raise RecursionError("too deep")

    monkeypatch.setattr(archive, "read_book", odd)
    found = look_at(tmp_path, path)
    assert found.kind == "left out"
    assert "too deep" in found.why


def test_a_job_without_its_marks_is_left_out_not_passed_over(
    tmp_path: Path, settled_folder: Path
) -> None:
    import zipfile

    target = tmp_path / "bare.xlsx"
    with zipfile.ZipFile(settled_folder / "first.xlsx") as old, zipfile.ZipFile(target, "w") as new:
        for item in old.infolist():
            if item.filename != "docProps/custom.xml":
                new.writestr(item, old.read(item))
    found = look_at(tmp_path, target)
    assert found.kind == "left out"
    assert "marks are gone" in found.why


@pytest.mark.parametrize("name", ["nowhere", "file.txt", "empty"])
def test_a_folder_without_workbooks_is_refused(tmp_path: Path, name: str) -> None:
    (tmp_path / "empty").mkdir()
    (tmp_path / "file.txt").write_text("x", encoding="utf-8")
    with pytest.raises(UsageError):
        look(tmp_path / name)


def _job(job: str, **more: object) -> JobRecord:
    plain = JobRecord(job, "c", "settled", "", "A", "USD", "us", "", "", None, None, 0, 0)
    return replace(plain, **more)  # type: ignore[arg-type]


def _twins(one: JobRecord, other: JobRecord) -> int:
    """Return how many of two files are left out."""
    files = [Found("a", "job", "", 1.0, one), Found("b", "job", "", 2.0, other)]
    return sum(f.kind == "left out" for f in without_copies(files))


def test_what_makes_two_files_one_job() -> None:
    assert _twins(_job("x", identity="1"), _job("X", identity="1")) == 1
    assert _twins(_job("x", identity="1"), _job("y", identity="1")) == 0, "begun from a copy"
    assert _twins(_job("x", digest="d"), _job("x", digest="d")) == 1
    assert _twins(_job("x", identity="1", digest="d"), _job("x", identity="2", digest="d")) == 0
    assert _twins(_job("x"), _job("x")) == 0


def test_the_copy_changed_last_counts(tmp_path: Path, settled_folder: Path) -> None:
    import os

    for name, when in (("old.xlsx", 1.0e9), ("new.xlsx", 1.1e9)):
        shutil.copy(settled_folder / "first.xlsx", tmp_path / name)
        os.utime(tmp_path / name, (when, when))
    found = {one.file: one for one in look(tmp_path, processes=1)}
    assert found["new.xlsx"].kind == "job"
    assert found["old.xlsx"].why == "the same job as new.xlsx, which was changed later"


def test_processes_give_way_to_new_ones(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Two processes do six files between them, and two new ones the next six."""
    monkeypatch.setattr(processes, "FILES_EACH", 3)
    paths = [tmp_path / f"{number}" for number in range(20)]
    found = list(processes.each(making.who, paths, 2, making.who))
    assert sorted(path.name for path, _ in found) == sorted(path.name for path in paths)
    turns = Counter(process for _, process in found)
    assert os.getpid() not in turns
    assert len(turns) >= 4  # 20 files are four pools of six at most
    assert max(turns.values()) <= 6
