"""Holds a file for one command at a time, and cleans up after commands that were ended.

Contract: :func:`held` keeps every other command of Pourbook, on this computer or another that
shares the folder, from changing a file while it is read, changed and written. Whoever comes second
waits as long as others finish, but no more than :data:`PATIENCE` for one of them, and is then told
who has it. What a command needs only while it runs lies in the folder :data:`WORK` beside the file,
which goes with the last command; what one that was ended left there, the next one removes.
"""

from __future__ import annotations

import contextlib
import datetime as dt
import os
import shutil
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from typing import BinaryIO

from pourbook.errors import FileUnreadableError

WORK = ".pourbook-work"
"""Name of the folder for what is not finished; nothing in it is ever read as a workbook."""
PATIENCE = 8.0
"""Seconds to wait for one other command; most take two or three."""
_PAUSE = 0.05
_LOCK, _WHO = ".lock", ".who"
_ours: set[Path] = set()


@contextlib.contextmanager
def held(*paths: Path) -> Iterator[None]:
    """Hold files until the block ends; what this process holds already stays held.

    Args:
        paths: The files, which need not exist yet; their folders do.

    Raises:
        FileUnreadableError: Another command has one of them, or nothing can be made in its folder.
    """
    with contextlib.ExitStack() as stack:
        for path in sorted({path.resolve() for path in paths} - _ours):
            if path.parent.is_dir():  # else the command itself says what is missing
                stack.enter_context(_one(path))
        yield


def unfinished(path: Path) -> bool:
    """Return whether a file is one that a command had not finished."""
    return WORK in path.absolute().parent.parts


def scratch(path: Path) -> Path:
    """Make a folder to write a file in before it replaces ``path``, which must be held."""
    import tempfile  # noqa: PLC0415 - a check writes nothing

    full = path.resolve()
    return Path(tempfile.mkdtemp(prefix=f"{full.name}.", dir=full.parent / WORK))


@contextlib.contextmanager
def _one(path: Path) -> Iterator[None]:
    work = path.parent / WORK
    lock = _wait(path, work)
    _ours.add(path)
    try:
        _sweep(work, path.name)
        with contextlib.suppress(OSError):  # a full disk must not keep anybody from trying
            (work / (path.name + _WHO)).write_text(_who(), encoding="utf-8")
        yield
    finally:
        _ours.discard(path)
        _remove(work, path.name)
        _let_go(lock, work / (path.name + _LOCK))
        with contextlib.suppress(OSError):
            work.rmdir()


def _wait(path: Path, work: Path) -> BinaryIO:
    waited_for, until = "", time.monotonic() + PATIENCE
    while True:
        lock = _try(path, work)
        if lock is not None:
            return lock
        with contextlib.suppress(OSError):
            has_it = (work / (path.name + _WHO)).read_text(encoding="utf-8")
            if has_it != waited_for:
                waited_for, until = has_it, time.monotonic() + PATIENCE
        if time.monotonic() > until:
            what = f"another command has it: {waited_for or 'nobody knows which'}"
            raise FileUnreadableError(what, "wait until it is done and try again", str(path))
        time.sleep(_PAUSE)


def _try(path: Path, work: Path) -> BinaryIO | None:
    """Return the open lock file, or None while somebody has it."""
    name = work / (path.name + _LOCK)
    try:
        work.mkdir(exist_ok=True)
        lock = name.open("ab")
    except FileNotFoundError:  # whoever was last took the folder away in between
        return None
    except OSError as error:
        if isinstance(error, FileExistsError) and not work.is_file():
            return None  # it was there when it was to be made, and gone when it was looked at
        mend = "choose a folder you may write to, and see whether the disk is full"
        what = f"no file can be made there ({error.strerror or error})"
        raise FileUnreadableError(what, mend, str(path.parent)) from error
    import portalocker  # noqa: PLC0415 - a check holds nothing

    try:
        portalocker.lock(lock, portalocker.LockFlags.EXCLUSIVE | portalocker.LockFlags.NON_BLOCKING)
        if os.path.samestat(os.fstat(lock.fileno()), name.stat()):
            return lock
    except (portalocker.LockException, OSError):
        pass
    lock.close()
    return None


def _let_go(lock: BinaryIO, name: Path) -> None:
    with contextlib.suppress(OSError):  # Windows does not remove what is open: the sweep does
        name.unlink()
    lock.close()
    if os.name == "nt":
        with contextlib.suppress(OSError):
            name.unlink()


def _sweep(work: Path, own: str) -> None:
    """Remove what commands that were ended left; what a living one works on stays."""
    _remove(work, own)
    for name in sorted({p.name.removesuffix(_LOCK) for p in work.glob("*" + _LOCK)} - {own}):
        lock = _try(work.parent / name, work)
        if lock is not None:
            _remove(work, name)
            _let_go(lock, work / (name + _LOCK))


def _remove(work: Path, name: str) -> None:
    with contextlib.suppress(OSError):
        for left in work.iterdir():
            if left.name == name + _WHO:
                left.unlink()
            elif left.is_dir() and left.name.rpartition(".")[0] == name:
                shutil.rmtree(left, ignore_errors=True)


def _who() -> str:
    """Return who holds a file, in words: person, computer, command and since when."""
    import getpass  # noqa: PLC0415 - a check holds nothing
    import socket  # noqa: PLC0415

    try:
        person = getpass.getuser()
    except (OSError, KeyError):
        person = "somebody"
    command = " ".join(["pourbook", *sys.argv[1:2]])
    began = f"{dt.datetime.now():%H:%M:%S}"
    return f"{person} on {socket.gethostname()}, {command}, since {began} (process {os.getpid()})"
