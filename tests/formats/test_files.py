"""Writing files: the old one stays whole whatever goes wrong, and every refusal says what to do."""

from __future__ import annotations

import os
import stat
import subprocess
import sys
import tempfile
from pathlib import Path

import pytest

from pourbook.errors import FileUnreadableError, PourbookError, UsageError
from pourbook.formats import files
from pourbook.job import make

OLD, NEW = b"the old file", b"the new file"
posix = pytest.mark.skipif(os.name != "posix", reason="rights are a matter of POSIX systems")


def put_new(path: Path) -> None:
    path.write_bytes(NEW)


@pytest.fixture
def old(tmp_path: Path) -> Path:
    path = tmp_path / "job.xlsx"
    path.write_bytes(OLD)
    return path


def _alone(path: Path) -> None:
    assert [p.name for p in path.parent.iterdir()] == [path.name], "something was left behind"


def test_new_file_is_written(tmp_path: Path) -> None:
    target = tmp_path / "job.xlsx"
    files.replace_file(target, put_new, force=False)
    assert target.read_bytes() == NEW
    _alone(target)


def test_existing_file_is_replaced_with_force(old: Path) -> None:
    files.replace_file(old, put_new, force=True)
    assert old.read_bytes() == NEW
    _alone(old)


def test_existing_file_is_refused_without_force(old: Path) -> None:
    with pytest.raises(UsageError, match=r"exists already.*--force") as refused:
        files.replace_file(old, put_new, force=False)
    assert refused.value.where == str(old)
    assert old.read_bytes() == OLD
    _alone(old)


@pytest.mark.parametrize("fault", [RuntimeError("planted"), KeyboardInterrupt(), MemoryError()])
def test_failing_writer_leaves_the_old_file(old: Path, fault: BaseException) -> None:
    def half(path: Path) -> None:
        path.write_bytes(NEW[:3])
        raise fault

    with pytest.raises(type(fault)):
        files.replace_file(old, half, force=True)
    assert old.read_bytes() == OLD
    _alone(old)


def test_old_file_stands_until_the_new_one_is_whole(old: Path) -> None:
    seen: list[bytes] = []

    def watch(path: Path) -> None:
        path.write_bytes(NEW)
        seen.append(old.read_bytes())
        assert old.parent in path.parents, "a move between disks is not one step"

    files.replace_file(old, watch, force=True)
    assert seen == [OLD]


def test_job_that_fails_midway_leaves_the_old_file(old: Path) -> None:
    with pytest.raises(KeyError):
        make.make(old, "us", {("rooms", "no such column", 0): 1}, pieces=4, force=True)
    assert old.read_bytes() == OLD
    _alone(old)


@pytest.mark.parametrize("owner", ["~$job.xlsx", "~$b.xlsx", ".~lock.job.xlsx#"])
def test_file_open_in_a_spreadsheet_program_is_refused(old: Path, owner: str) -> None:
    (old.parent / owner).write_text("someone")
    assert files.open_elsewhere(old) == old.parent / owner
    with pytest.raises(FileUnreadableError, match=r"open in a spreadsheet program: close it"):
        files.replace_file(old, put_new, force=True)
    assert old.read_bytes() == OLD
    assert sorted(p.name for p in old.parent.iterdir()) == sorted(["job.xlsx", owner])


@pytest.mark.parametrize("owner", ["~$other.xlsx", ".~lock.other.xlsx#", "~$xlsx"])
def test_another_open_file_is_no_hindrance(old: Path, owner: str) -> None:
    (old.parent / owner).write_text("someone")
    assert files.open_elsewhere(old) is None
    files.replace_file(old, put_new, force=True)
    assert old.read_bytes() == NEW


def test_refusal_to_replace_is_told_in_clear_words(
    old: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refused(_: Path, __: Path) -> None:
        raise PermissionError(13, "in use by another process")

    monkeypatch.setattr(Path, "replace", refused)
    with pytest.raises(FileUnreadableError, match=r"cannot be replaced: close it") as told:
        files.replace_file(old, put_new, force=True)
    assert told.value.where == str(old)
    monkeypatch.undo()
    assert old.read_bytes() == OLD
    _alone(old)


def test_refused_temporary_file_is_told_in_clear_words(
    old: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What a folder without rights does; root, who runs the tests in CI, may write anywhere."""

    def refused(**_: object) -> str:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(tempfile, "mkdtemp", refused)
    with pytest.raises(PourbookError) as told:
        files.replace_file(old, put_new, force=True)
    assert told.value.exit_code in {2, 3}
    assert old.read_bytes() == OLD


def test_full_disk_is_told_in_clear_words(old: Path) -> None:
    def full(_: Path) -> None:
        raise OSError(28, "No space left on device")

    with pytest.raises(PourbookError, match="No space left"):
        files.replace_file(old, full, force=True)
    assert old.read_bytes() == OLD
    _alone(old)


FULL = """
import resource, sys
resource.setrlimit(resource.RLIMIT_FSIZE, (100_000, 100_000))
from pourbook.cli import main
main(sys.argv[1:])
"""


@posix
@pytest.mark.parametrize(
    "words", [["new", "a.xlsx"], ["new", "a.xlsm"], ["new-shop", "a.xlsx"], ["demo", "a"]]
)
def test_a_disk_that_fills_up_is_one_clear_line(tmp_path: Path, words: list[str]) -> None:
    """No file may grow beyond 100 kB, which a program sees as it sees a full disk."""
    done = subprocess.run(
        [sys.executable, "-c", FULL, *words],
        cwd=tmp_path, capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.returncode == 3, done.stderr
    (said,) = done.stderr.splitlines()
    assert "the file cannot be written" in said
    assert not [p for p in tmp_path.rglob("*") if p.is_file()]


@posix
@pytest.mark.parametrize(("mask", "rights"), [(0o022, 0o644), (0o077, 0o600), (0o002, 0o664)])
def test_rights_follow_the_umask(tmp_path: Path, mask: int, rights: int) -> None:
    target = tmp_path / "job.xlsx"
    before = os.umask(mask)
    try:
        files.replace_file(target, put_new, force=False)
        assert os.umask(mask) == mask
    finally:
        os.umask(before)
    assert stat.S_IMODE(target.stat().st_mode) == rights


@posix
def test_a_replaced_file_keeps_its_rights(old: Path) -> None:
    old.chmod(0o640)
    files.replace_file(old, put_new, force=True)
    assert old.read_bytes() == NEW
    assert stat.S_IMODE(old.stat().st_mode) == 0o640


def test_folder_that_is_missing_or_in_the_way(tmp_path: Path) -> None:
    with pytest.raises(UsageError, match="folder does not exist"):
        files.replace_file(tmp_path / "none" / "job.xlsx", put_new, force=True)
    with pytest.raises(UsageError, match="this is a folder"):
        files.replace_file(tmp_path, put_new, force=True)
    assert list(tmp_path.iterdir()) == []
