"""Reads and replaces files so that nothing a person typed is ever lost.

Contract: :func:`replace_file` writes to a temporary file beside the target, flushes it to the disk
and then replaces the target in one step; a failure leaves the old file as it was, and so does
another command that has the target (:mod:`pourbook.formats.held`). An existing file is refused
unless ``force`` is given, and a file that a spreadsheet program holds open is refused with a clear
message.
"""

from __future__ import annotations

import contextlib
import os
import shutil
import stat
from collections.abc import Callable
from pathlib import Path

from pourbook.errors import FileUnreadableError, UsageError
from pourbook.formats.held import held, scratch


def open_elsewhere(path: Path) -> Path | None:
    """Return the owner file a spreadsheet program leaves beside a workbook it holds open.

    Excel writes ``~$name.xlsx`` (for longer names it drops the first two characters),
    LibreOffice ``.~lock.name.xlsx#``.
    """
    name = path.name
    owners = [f"~${name}", f"~${name[2:]}" if len(name) > 2 else "", f".~lock.{name}#"]
    for owner in owners:
        if owner and (path.parent / owner).exists():
            return path.parent / owner
    return None


def refuse_unless_free(path: Path, *, force: bool) -> None:
    """Refuse to write onto a file that exists or is open.

    Raises:
        UsageError: The file exists and ``force`` is not given, or its folder is missing.
        FileUnreadableError: A spreadsheet program holds the file open.
    """
    if not path.parent.is_dir():
        raise UsageError("the folder does not exist", "make it first", str(path.parent))
    if path.is_dir():
        raise UsageError("this is a folder", "name a file", str(path))
    if path.exists() and not force:
        mend = "choose another name, or add --force to replace it"
        raise UsageError("the file exists already", mend, str(path))
    if open_elsewhere(path) is not None:
        raise FileUnreadableError(
            "the workbook is open in a spreadsheet program", _CLOSE, str(path)
        )


_CLOSE = "close it there and try again"


def replace_file(path: Path, write: Callable[[Path], None], *, force: bool) -> None:
    """Write a file in one step.

    Args:
        path: The file to make.
        write: Writes the whole content to the temporary path it is given.
        force: Whether an existing file may be replaced.

    Raises:
        UsageError: See :func:`refuse_unless_free`.
        FileUnreadableError: The file is open elsewhere or cannot be written.
    """
    refuse_unless_free(path, force=force)
    path = path.resolve() if path.is_symlink() else path  # a link stays one, to the new file
    with held(path):
        refuse_unless_free(path, force=force)
        temporary = _temporary(path)
        try:
            write(temporary)
            with temporary.open("rb+") as stream:
                os.fsync(stream.fileno())
            _same_rights(temporary, path)
            _put(temporary, path)
        except PermissionError as error:
            raise FileUnreadableError("the file cannot be replaced", _CLOSE, str(path)) from error
        except OSError as error:
            mend = "see whether the disk is full or was taken away"
            what = f"the file cannot be written ({error.strerror or error})"
            raise FileUnreadableError(what, mend, str(path)) from error
        finally:
            shutil.rmtree(temporary.parent, ignore_errors=True)


def _temporary(path: Path) -> Path:
    """Return where to write what is to replace a file, so that replacing it is one step."""
    try:
        return scratch(path) / path.name
    except OSError as error:
        mend = "choose a folder you may write to"
        what = f"no file can be made there ({error.strerror or error})"
        raise FileUnreadableError(what, mend, str(path.parent)) from error


def _put(temporary: Path, path: Path) -> None:
    temporary.replace(path)
    if os.name == "posix":
        folder = os.open(path.parent, os.O_RDONLY)
        try:
            os.fsync(folder)
        finally:
            os.close(folder)


def _same_rights(new: Path, old: Path) -> None:
    """Give a new file the rights of the one it replaces; without one it has the usual ones."""
    if os.name == "posix":
        with contextlib.suppress(FileNotFoundError):
            new.chmod(stat.S_IMODE(old.stat().st_mode))
