"""What is worked out once from Pourbook's own files is kept beside its compiled modules.

Contract: :func:`kept` gives what a maker makes, and keeps it in the folder where Python keeps the
compiled modules of this package (``__pycache__``), for the next program that starts. It is made
anew once any file of the program or of its templates differs in size or time, and if what was kept
is damaged. Where that folder cannot be written, or Python is told to write none, nothing is kept.
Only what rests on Pourbook's own files alone may be kept here, never anything of a job.
"""

from __future__ import annotations

import gc
import hashlib
import os
import pickle
import sys
import zlib
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from functools import cache
from pathlib import Path
from typing import Any, TypeVar

from pourbook.resources import folder

Made = TypeVar("Made")
MOST = 24
"""Files kept; the oldest go."""
_ENDS = (".py", ".toml", ".txt", ".zip")
_SUMMED = hashlib.sha256().digest_size


def kept(name: str, make: Callable[[], Made]) -> Made:
    """Return what ``make`` makes, from its file if it was kept.

    Args:
        name: What it is; two makers never share one.
        make: Makes it, from Pourbook's own files alone.

    Example:
        >>> kept("an example", lambda: (1, 2))
        (1, 2)
    """
    place = _folder() / f"pourbook-{hashlib.sha256(name.encode()).hexdigest()[:16]}.{state()}.bin"
    found = _read(place)
    if found:
        kept_: Made = found[0]
        return kept_
    made = make()
    if not sys.dont_write_bytecode:
        _write(place, made)
    return made


@cache
def state() -> str:
    """Return a text that differs once a file of the program or of its templates does."""
    hashed = hashlib.sha256(sys.version.encode())
    for root in (Path(__file__).parent, folder("workbook_templates"), folder("shared")):
        for line in sorted(_files(str(root))):
            hashed.update(line.encode())
    return hashed.hexdigest()[:16]


def _files(root: str) -> Iterator[str]:
    for entry in os.scandir(root):
        if entry.is_dir() and entry.name != "__pycache__":
            yield from _files(entry.path)
        elif entry.name.endswith(_ENDS):
            looked = entry.stat()
            yield f"{entry.path} {looked.st_size} {looked.st_mtime_ns}\n"


def _folder() -> Path:
    return Path(__file__).parent / "__pycache__"


def _read(place: Path) -> list[Any]:
    """Return what was kept, in a list; an empty one if there is nothing whole."""
    try:
        content = place.read_bytes()
    except OSError:
        return []
    summed, packed = content[:_SUMMED], content[_SUMMED:]
    if hashlib.sha256(packed).digest() != summed:
        return []
    with _no_collecting():  # tens of thousands of cells, and no rubbish among them
        return [pickle.loads(zlib.decompress(packed))]  # noqa: S301 - as Python's own compiled files


def _write(place: Path, made: object) -> None:
    import tempfile  # noqa: PLC0415 - once in many starts

    packed = zlib.compress(pickle.dumps(made, pickle.HIGHEST_PROTOCOL), 1)
    with suppress(OSError):
        place.parent.mkdir(exist_ok=True)
        handle, name = tempfile.mkstemp(dir=place.parent, prefix="pourbook-", suffix=".tmp")
        try:
            with os.fdopen(handle, "wb") as stream:
                stream.write(hashlib.sha256(packed).digest() + packed)
            Path(name).replace(place)
        finally:  # Windows replaces no file that another program reads
            Path(name).unlink(missing_ok=True)
        _tidied(place)


def _tidied(place: Path) -> None:
    """Take away what other states of the program left, and the oldest beyond :data:`MOST`."""
    files = [one for one in place.parent.glob("pourbook-*.bin") if one != place]
    files.sort(key=lambda one: one.stat().st_mtime, reverse=True)
    for number, one in enumerate(files, 1):
        if number >= MOST or state() not in one.name:
            one.unlink(missing_ok=True)


@contextmanager
def _no_collecting() -> Iterator[None]:
    was = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was:
            gc.enable()
