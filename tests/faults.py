"""Runs a command again and again, each time with one step on the disk failing, or its last.

A step is whatever changes a folder: a file opened to write, made, renamed, removed, locked, its
rights set, or flushed. Python tells of them as audit events; a flush has none and is told by hand.
The command is forked from a process that has loaded it, so that a hundred runs cost little. Run as
a program: arguments are one JSON text (see :func:`main`), what it found is one JSON text too.
"""

from __future__ import annotations

import errno
import json
import os
import shutil
import sys
import traceback
from collections.abc import Callable
from pathlib import Path
from typing import Any

KILLED = 99
"""The exit code of a process that was ended at a step."""
_CHANGES = {
    "os.rename", "os.remove", "os.mkdir", "os.rmdir", "os.chmod", "os.truncate", "os.link",
    "tempfile.mkdtemp", "shutil.rmtree", "fcntl.flock", "fcntl.lockf",
}  # fmt: skip
_WRITES = os.O_WRONLY | os.O_RDWR | os.O_CREAT
ERRORS = {"full": errno.ENOSPC, "read-only": errno.EROFS, "taken away": errno.EIO}


def steps_on(folder: Path, told: Callable[[str], None]) -> None:
    """Tell of every step in a folder, from now to the end of this process."""

    def hook(event: str, given: tuple[Any, ...]) -> None:
        if event == "open":
            path, mode, flags = given
            written = set(str(mode or "")) & set("wax+") or int(flags or 0) & _WRITES
            if isinstance(path, str | bytes) and written and _inside(path):
                told(f"open {Path(os.fsdecode(path)).name}")
        elif event in _CHANGES and (event.startswith("fcntl") or _inside(given[0])):
            told(event)

    def _inside(path: object) -> bool:
        if isinstance(path, int):
            return False
        return Path(os.path.abspath(os.fsdecode(path))).is_relative_to(folder)  # type: ignore[arg-type]  # noqa: PTH100

    flush = os.fsync

    def fsync(fd: Any) -> None:
        told("flush")
        flush(fd)

    os.fsync = fsync
    sys.addaudithook(hook)


def _command(
    folder: Path, said: Path, words: list[str], told: Callable[[str], None] | None = None
) -> int:
    """Run a command in this process, which ends with it; what it says goes to a file."""
    code = 98
    try:
        os.chdir(folder)
        with said.open("w", encoding="utf-8") as out:
            os.dup2(out.fileno(), 1)
            os.dup2(out.fileno(), 2)
        if told is not None:
            steps_on(folder, told)
        from pourbook.cli import main as command

        command(words)
        code = 0
    except SystemExit as end:
        code = end.code if isinstance(end.code, int) else 0
    except BaseException:  # noqa: BLE001 - said, and seen by the test
        traceback.print_exc()
    sys.stdout.flush()
    sys.stderr.flush()
    return code


def in_child(folder: Path, words: list[str], told: Callable[[str], None] | None) -> tuple[int, str]:
    """Run a command in a process of its own; return its exit code and what it said."""
    said = folder.with_name(folder.name + ".said")
    child = os.fork()
    if not child:
        os._exit(_command(folder, said, words, told))
    _, status = os.waitpid(child, 0)
    return os.waitstatus_to_exitcode(status), said.read_text(encoding="utf-8")


def failing(at: int, how: str) -> Callable[[str], None]:
    """Return what fails at a step, counted from 1: the process ends, or the step and all later."""
    count = 0

    def told(_: str) -> None:
        nonlocal count
        count += 1
        if how == "killed" and count == at:
            os._exit(KILLED)
        if how != "killed" and count >= at:
            raise OSError(ERRORS[how], os.strerror(ERRORS[how]))

    return told


def counted(before: Path, work: Path, words: list[str]) -> list[str]:
    """Return the steps of a command that ends well; its folder stays, as what should come out."""
    listed = work / "steps"

    def told(step: str) -> None:
        fd = os.open(listed, os.O_WRONLY | os.O_APPEND | os.O_CREAT)
        os.write(fd, f"{step}\n".encode())
        os.close(fd)

    shutil.copytree(before, work / "well")
    code, said = in_child(work / "well", words, told)
    if code not in {0, 1}:
        raise SystemExit(f"{words} ended with {code}: {said}")
    return listed.read_text(encoding="utf-8").splitlines()


def at_once(folder: Path, commands: list[list[str]]) -> list[tuple[int, str]]:
    """Run commands in one folder, all at the same time; return each one's exit code and words."""
    said = folder.with_name(folder.name + ".said-at-once")
    said.mkdir()
    children = {}
    for number, words in enumerate(commands):
        child = os.fork()
        if not child:
            os._exit(_command(folder, said / f"{number}", words))
        children[child] = number
    codes = {}
    for _ in commands:
        child, status = os.wait()
        codes[children[child]] = os.waitstatus_to_exitcode(status)
    ends = range(len(commands))
    return [(codes[n], (said / f"{n}").read_text(encoding="utf-8")) for n in ends]


def main() -> None:
    """Run: ``before`` and ``work`` are folders, ``words`` the command, ``how`` it fails.

    ``most`` is how many steps to fail at, spread over all; 0 for each. Where it is to run
    ``at once``, ``words`` are those of many commands, in ``work``, and nothing is made to fail.
    """
    import pourbook.commands.accept_quote
    import pourbook.commands.bring_rows
    import pourbook.commands.copies
    import pourbook.commands.folders.learn_shop
    import pourbook.commands.folders.roll_month
    import pourbook.commands.new_job
    import pourbook.commands.settle_job
    import pourbook.commands.shop_book
    import pourbook.commands.tell_job  # noqa: F401

    asked = json.loads(sys.argv[1])
    if asked["how"] == "at once":
        json.dump(at_once(Path(asked["work"]), asked["words"]), sys.stdout)
        return
    before, work, words = Path(asked["before"]), Path(asked["work"]), asked["words"]
    steps = counted(before, work, words)
    wanted = list(range(1, len(steps) + 1))
    if asked["most"] and len(steps) > asked["most"]:
        apart = len(steps) / asked["most"]
        wanted = sorted({round(1 + n * apart) for n in range(asked["most"])} | set(_puts(steps)))
    found = []
    for at in wanted:
        folder = work / f"{at}"
        shutil.copytree(before, folder)
        code, said = in_child(folder, words, failing(at, asked["how"]))
        after = work / f"{at}-after"
        shutil.copytree(folder, after)
        again, more = in_child(folder, words, None)
        found.append(
            {
                "at": at,
                "step": steps[at - 1],
                "code": code,
                "said": said,
                "again": again,
                "more": more,
            }
        )
    json.dump(found, sys.stdout)


def _puts(steps: list[str]) -> list[int]:
    """Return the steps right at, before and after a file is put in its place."""
    at = [n for n, step in enumerate(steps, 1) if step == "os.rename"]
    return [n + d for n in at for d in (-1, 0, 1) if 1 <= n + d <= len(steps)]


if __name__ == "__main__":
    main()
