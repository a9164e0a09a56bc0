"""Does the same to many files in several processes, so that none that ends takes others with it.

Contract: :func:`each` gives a result a file, in the order they are ready, with few waiting at a
time: memory does not grow with the number of files. A file whose process ended is tried once more
on its own. What is done must be a plain function of a module, and its results be picklable.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from itertools import islice
from multiprocessing import get_context
from pathlib import Path
from typing import TypeVar

from pourbook.formats import bounded

T = TypeVar("T")
MOST_PROCESSES = 8
FEW_FILES = 8
"""Up to so many files one process is as fast: every process has to load Pourbook first, which
takes as long as reading three or four jobs (measured)."""
_WAITING = 4
"""Files handed to each process ahead of time."""
FILES_EACH = 1_000
"""Files after which a process gives way to a new one: whatever it kept of them goes with it."""


def sensible(files: int) -> int:
    """Return how many processes to read so many files with.

    Example:
        >>> sensible(3)
        1
    """
    return 1 if files <= FEW_FILES else min(os.cpu_count() or 1, files // 4, MOST_PROCESSES)


def each(
    work: Callable[[Path], T], paths: Sequence[Path], processes: int, ended: Callable[[Path], T]
) -> Iterator[T]:
    """Do something to every file.

    Args:
        work: Does it; never raises for what is wrong with a file.
        paths: The files.
        processes: How many to work in; one is this process itself.
        ended: Gives the result for a file that ended its process twice.
    """
    if processes <= 1:
        yield from map(work, paths)
        return
    unread: list[Path] = []
    left = iter(paths)
    while begun := list(islice(left, 1)):
        with _pool(processes) as pool:
            waiting: dict[Future[T], Path] = {}
            broken, handed = False, 1
            try:
                while begun or waiting:
                    for path in begun:
                        waiting[pool.submit(work, path)] = path
                    done, _ = wait(waiting, return_when=FIRST_COMPLETED)
                    for future in done:
                        path = waiting.pop(future)
                        try:
                            yield future.result()
                        except BrokenProcessPool:
                            unread.append(path)
                            broken = True
                    ahead = processes * _WAITING - len(waiting)
                    room = min(ahead, processes * FILES_EACH - handed)
                    begun = list(islice(left, 0 if broken else room))
                    handed += len(begun)
            except BrokenProcessPool:  # it broke while more was handed to it
                unread += [*waiting.values(), *(p for p in begun if p not in waiting.values())]
            except BaseException:
                pool.shutdown(wait=False, cancel_futures=True)
                raise
    for path in unread:  # one of them ended its process, and with it the others': each on its own
        with _pool(1) as pool:
            try:
                found = pool.submit(work, path).result()
            except BrokenProcessPool:
                found = ended(path)
        yield found


def _pool(processes: int) -> ProcessPoolExecutor:
    # Started afresh, not forked: the engines run threads of their own.
    context = get_context("spawn")
    return ProcessPoolExecutor(processes, mp_context=context, initializer=bounded.begin)
