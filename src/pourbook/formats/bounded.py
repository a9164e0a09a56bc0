"""Ends a program whose file costs far more than any job's, however it came to.

Contract: nothing is watched before :func:`watch`, which the command line and the processes that
read many files call. From then on what is done inside :func:`bounded` may take so much processor
time and so much more memory; beyond it the process says so and ends with the exit code of a file
that cannot be read. What a file holds is counted while it is read as well, and refused long before:
this is the last stop, for what nobody thought of.
"""

from __future__ import annotations

import atexit
import gc
import os
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import NoReturn

from pourbook.errors import FileUnreadableError

MOST_SECONDS = 20.0
"""Processor time for one file; a job of 5,000 pieces takes six (measured)."""
MOST_MEMORY = 1 << 30
"""Bytes that one file may add; a job of 5,000 pieces adds a third of it (measured)."""
_PAUSE = 0.2
_SELDOM = (400_000, 10, 5)
"""After how many new objects Python looks for rubbish, and how seldom among the older ones."""
_PAGES = Path("/proc/self/statm")
_work: list[tuple[Path, float, int]] = []
"""What is being done: the file, and the processor time and memory it began with."""
_watched = threading.Event()


def begin(tell: Callable[[FileUnreadableError], object] = lambda _: None) -> None:
    """Begin a process that reads files: it is watched, and rubbish is looked for seldom.

    What is read of a workbook is tens of thousands of cells and goes as one: Python would look
    through all of them, and through the templates, many times a file.

    Args:
        tell: See :func:`watch`.
    """
    watch(tell)
    gc.set_threshold(*_SELDOM)
    atexit.register(gc.freeze)  # nothing is looked for among what goes anyway


def watch(tell: Callable[[FileUnreadableError], object] = lambda _: None) -> None:
    """Watch this process from now on.

    Args:
        tell: Is told of the file before the process ends.
    """
    if not _watched.is_set():
        _watched.set()
        threading.Thread(target=_watch, args=(tell,), daemon=True).start()


@contextmanager
def bounded(path: Path) -> Iterator[None]:
    """Bound what is done with a file inside the block."""
    if not _watched.is_set():
        yield
        return
    _work.append((path, time.process_time(), _memory()))
    try:
        yield
    finally:
        _work.pop()


def _watch(tell: Callable[[FileUnreadableError], object]) -> NoReturn:
    while True:
        time.sleep(_PAUSE)
        for path, began, before in _work[:1]:
            if time.process_time() - began > MOST_SECONDS:
                _end(path, "it takes far longer than any job", tell)
            if _memory() - before > MOST_MEMORY:
                _end(path, "it takes far more memory than any job", tell)


def _end(path: Path, what: str, tell: Callable[[FileUnreadableError], object]) -> None:
    told = FileUnreadableError(what, "take the file as it was before", str(path))
    try:
        tell(told)
    finally:
        os._exit(told.exit_code)


def _memory() -> int:
    try:
        pages = int(_PAGES.read_text(encoding="ascii").split()[1])
    except OSError:
        import psutil  # noqa: PLC0415 - of systems without /proc alone

        return int(psutil.Process().memory_info().rss)
    return pages * os.sysconf("SC_PAGE_SIZE")
