"""Two commands at once, and commands that were ended: no row is lost, no leftover is read."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from pourbook.archive import folder
from pourbook.errors import FileUnreadableError
from pourbook.formats import files, held
from pourbook.workbook.read.read import read_book

HOLD = """
import sys, time
from pathlib import Path
from pourbook.formats.held import held, scratch
path = Path(sys.argv[1])
with held(path):
    (scratch(path) / path.name).write_bytes(b"half")
    print("has it", flush=True)
    time.sleep(float(sys.argv[2]))
"""
COUNT = """
import sys
from pathlib import Path
from pourbook.formats import files
from pourbook.formats import held as locks
from pourbook.formats.held import held
locks.PATIENCE = 300.0  # what is asked here is that nothing is lost, however slow the machine
path = Path(sys.argv[1])
for _ in range(int(sys.argv[2])):
    with held(path):
        now = int(path.read_text())
        files.replace_file(path, lambda new: new.write_text(str(now + 1)), force=True)
"""


def _start(code: str, *arguments: object) -> subprocess.Popen[str]:
    words = [sys.executable, "-c", code, *map(str, arguments)]
    return subprocess.Popen(words, stdout=subprocess.PIPE, text=True)


def _put(words: str) -> Callable[[Path], None]:
    def put(new: Path) -> None:
        new.write_text(words)

    return put


def _holding(path: Path, seconds: float) -> subprocess.Popen[str]:
    process = _start(HOLD, path, seconds)
    assert process.stdout is not None
    assert process.stdout.readline() == "has it\n"
    return process


@pytest.fixture
def path(tmp_path: Path) -> Path:
    path = tmp_path / "job.xlsx"
    path.write_text("0")
    return path


def test_the_second_is_refused_and_told_who_has_it(
    path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(held, "PATIENCE", 0.5)
    with _holding(path, 60) as other:
        try:
            with pytest.raises(FileUnreadableError, match=r"another command has it") as told:
                files.replace_file(path, _put("1"), force=True)
        finally:
            other.kill()
    assert f"(process {other.pid})" in str(told.value)
    assert told.value.where == str(path)
    assert path.read_text() == "0"


def test_the_second_waits_for_one_that_is_done_soon(path: Path) -> None:
    with _holding(path, 1), held.held(path):
        files.replace_file(path, _put("1"), force=True)
    assert path.read_text() == "1"
    assert [p.name for p in path.parent.iterdir()] == [path.name]


def test_no_change_is_lost_among_many(path: Path) -> None:
    several = [_start(COUNT, path, 25) for _ in range(4)]
    assert [(process.communicate(), process.returncode)[1] for process in several] == [0] * 4
    assert path.read_text() == "100"
    assert [p.name for p in path.parent.iterdir()] == [path.name]


def test_a_folder_that_goes_while_it_is_made_is_made_again(
    path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Seen with six programs at once: it is there, so it cannot be made, and then it is gone."""
    made = Path.mkdir
    tries: list[Path] = []

    def mkdir(self: Path, *, exist_ok: bool = False) -> None:
        tries.append(self)
        if len(tries) == 1:
            raise FileExistsError(17, "File exists", str(self))
        made(self, exist_ok=exist_ok)

    monkeypatch.setattr(Path, "mkdir", mkdir)
    with held.held(path):
        assert len(tries) == 2
    assert [p.name for p in path.parent.iterdir()] == [path.name]


def test_a_file_in_the_way_is_told(path: Path) -> None:
    (path.parent / held.WORK).write_text("")
    with pytest.raises(FileUnreadableError, match="no file can be made there"), held.held(path):
        pass


def test_what_is_held_may_be_held_again(path: Path) -> None:
    with held.held(path):
        with held.held(path):
            assert (path.parent / held.WORK).is_dir()
        with held.held(path):
            pass
        files.replace_file(path, _put("1"), force=True)
    assert [p.name for p in path.parent.iterdir()] == [path.name]


@pytest.mark.parametrize("next_one", ["job.xlsx", "other.xlsx"])
def test_what_an_ended_command_left_is_not_read_and_goes_with_the_next(
    path: Path, next_one: str
) -> None:
    with _holding(path, 60) as other:
        other.kill()
    (left,) = (path.parent / held.WORK).rglob(path.name)
    with pytest.raises(FileUnreadableError, match="a command that was ended left this unfinished"):
        read_book(left)
    assert folder.find(path.parent) == ([path], [])
    files.replace_file(path.with_name(next_one), _put("1"), force=True)
    assert {p.name for p in path.parent.iterdir()} == {path.name, next_one}


def test_what_a_living_command_works_on_stays(path: Path) -> None:
    with _holding(path, 60) as other:
        try:
            files.replace_file(path.with_name("b"), _put(""), force=True)
            assert len(list((path.parent / held.WORK).rglob(path.name))) == 1
        finally:
            other.kill()


def test_a_name_that_only_begins_alike_is_another_file(path: Path) -> None:
    longer = path.with_name("job.xlsx.old.xlsx")
    with _holding(longer, 60) as other:
        try:
            files.replace_file(path, _put("1"), force=True)
            assert len(list((path.parent / held.WORK).rglob(longer.name))) == 1
        finally:
            other.kill()
