"""Does the same to many files on a Dask cluster, where the folder is one that its workers see too.

Contract: as :func:`pourbook.archive.processes.each`, on other machines. The scheduler gives the
files of a worker that ends to another one; a file that ends one worker after another gives what
``ended`` says of it. Dask is optional: without it, or without a cluster, one clear refusal.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from itertools import islice
from pathlib import Path
from typing import Any, TypeVar

from pourbook import __version__
from pourbook.archive import processes
from pourbook.errors import UsageError

T = TypeVar("T")
SECONDS = 10
_WAITING = 4
"""Files handed out ahead of time, for each thread of the workers."""


def anywhere(
    work: Callable[[Path], T],
    paths: Sequence[Path],
    ended: Callable[[Path], T],
    *,
    address: str = "",
    many: int = 0,
) -> Iterator[T]:
    """Do something to every file, on a cluster where one is named, else in processes here.

    Args:
        work: As of :func:`each`, and so are the files and ``ended``.
        paths: The files.
        ended: Gives the result for a file that ended whoever tried.
        address: Of the scheduler; none is here.
        many: How many processes to work in here; 0 chooses.
    """
    if address:
        return each(address, work, paths, ended)
    return processes.each(work, paths, many or processes.sensible(len(paths)), ended)


def each(
    address: str, work: Callable[[Path], T], paths: Sequence[Path], ended: Callable[[Path], T]
) -> Iterator[T]:
    """Do something to every file.

    Args:
        address: Of the scheduler, such as ``tcp://10.0.0.5:8786``.
        work: Does it; a plain function of a module, which never raises for what is wrong with a
            file.
        paths: The files; the workers have to find them under the same paths.
        ended: Gives the result for a file that ended every worker that tried.

    Raises:
        UsageError: Dask is not installed, no scheduler answers, or a worker has another Pourbook.
    """
    try:
        import distributed as dask  # noqa: PLC0415 - optional, and slow to import
    except ImportError:
        mend = "install it: pip install 'pourbook[dask]'"
        raise UsageError("Dask is not installed", mend, "--dask") from None
    distributed: Any = dask
    try:
        client = distributed.Client(address, timeout=SECONDS)
    except (OSError, ValueError, TypeError) as error:
        mend = "start one: dask scheduler, and dask worker ADDRESS"
        raise UsageError(f"no scheduler answers at {address}", mend, "--dask") from error
    with client:
        _refuse_others(client, address)
        yield from _each(client, distributed, work, paths, ended)


def _refuse_others(client: Any, address: str) -> None:
    found = client.run(_version)
    if not found:
        mend = f"start some: dask worker {address}"
        raise UsageError(f"there is no worker at {address}", mend, "--dask")
    others = {version for version in found.values() if version != __version__}
    if others:
        what = f"a worker has Pourbook {', '.join(sorted(others))}, this is {__version__}"
        raise UsageError(what, "install the same on all of them", "--dask")


def _version() -> str:
    return __version__


def _each(
    client: Any,
    distributed: Any,
    work: Callable[[Path], T],
    paths: Sequence[Path],
    ended: Callable[[Path], T],
) -> Iterator[T]:
    left = iter(path.resolve() for path in paths)
    room = max(sum(client.nthreads().values()), 1) * _WAITING

    def handed(number: int) -> list[Any]:
        found = list(islice(left, number))
        futures = [client.submit(work, path, pure=False) for path in found]
        path_of.update(zip((f.key for f in futures), found, strict=True))
        return futures

    path_of: dict[str, Path] = {}
    running = distributed.as_completed(handed(room))
    for future in running:
        path = path_of.pop(future.key)
        killed = isinstance(future.exception(), distributed.KilledWorker)
        yield ended(path) if killed else future.result()
        future.release()  # results do not pile up on the cluster
        for more in handed(1):
            running.add(more)
