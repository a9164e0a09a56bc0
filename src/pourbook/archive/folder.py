"""Finds every workbook below a folder and reads the jobs among them, in several processes.

Contract: :func:`look` tells of every workbook file it found, in order of their names: a job as
:class:`~pourbook.archive.record.JobRecord`, or why there is none. One file that cannot be read
never stops the others, and nothing is changed. Where two files hold one job, the one changed last
counts (:func:`without_copies`).
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable, Iterator
from dataclasses import replace
from functools import partial
from pathlib import Path

from pourbook.archive import cluster
from pourbook.archive.record import FINDINGS, JobRecord, record
from pourbook.archive.twice import shared
from pourbook.errors import FileUnreadableError, UsageError
from pourbook.formats.held import WORK
from pourbook.records import dataclass
from pourbook.workbook.check.check import check_file
from pourbook.workbook.read.read import COPY_MARK, KINDS, RawBook, read_book

READ = {".xlsx", ".xlsm"}
OTHERS = {".xls", ".xlsb", ".ods", ".fods", ".xltx", ".xltm"}
LOCKS = ("~$", ".~lock.")
PASSED, LEFT_OUT, JOB = "passed over", "left out", "job"


@dataclass(frozen=True)
class Found:
    """A workbook file that was found.

    Attributes:
        file: Its path below the folder, with forward slashes.
        kind: ``job``; ``left out``: it could not be read, or is a copy of another; ``passed over``:
            it is no job.
        why: Why it is no job, in a person's words; for a job a note on it, or nothing.
        changed: When the file was last changed, seconds since 1970.
        job: The job, if it is one.
    """

    file: str
    kind: str
    why: str
    changed: float
    job: JobRecord | None = None


def find(folder: Path) -> tuple[list[Path], list[Found]]:
    """Return the workbooks below a folder in order, and what cannot be looked at.

    Raises:
        UsageError: There is no such folder.
    """
    if not folder.is_dir():
        what = "this is a file, not a folder" if folder.exists() else "there is no such folder"
        raise UsageError(what, "name the folder that holds the jobs", str(folder))
    closed: list[Found] = []

    def blocked(error: OSError) -> None:
        where = Path(str(error.filename))
        closed.append(
            Found(_below(folder, where), LEFT_OUT, f"it cannot be opened: {error.strerror}", 0.0)
        )

    paths = [
        Path(base) / name
        for base, below, names in os.walk(folder, onerror=blocked)
        for name in _seen(below, names)
        if Path(name.rstrip("#")).suffix.lower() in READ | OTHERS
    ]
    return sorted(paths, key=lambda p: p.as_posix().casefold()), closed


def is_read(path: Path) -> bool:
    """Return whether a file is of a kind that is read, and no lock."""
    return path.suffix.lower() in READ and _locked(path) is None


def _seen(below: list[str], names: list[str]) -> Iterator[str]:
    """Give the files to look at; what a command has not finished is kept out of the walk."""
    if WORK in below:
        below.remove(WORK)
    return (n for n in names if not n.startswith(".") or n.startswith(LOCKS))


def _below(folder: Path, path: Path) -> str:
    return path.relative_to(folder).as_posix() if path.is_relative_to(folder) else path.as_posix()


def look(
    folder: Path,
    step: Callable[[int, int], None] = lambda _done, _of: None,
    processes: int = 0,
    dask: str = "",
) -> list[Found]:
    """Look at every workbook below a folder.

    Args:
        folder: The folder; those below it are searched too.
        step: Told how many files are done, of how many.
        processes: How many processes to read with; 0 chooses.
        dask: The scheduler of a cluster to read on instead.

    Returns:
        One entry a file, in order of their names.

    Raises:
        UsageError: There is no such folder, or no workbook in it.
    """
    folder = folder.resolve() if dask else folder  # its workers stand elsewhere
    paths, found = find(folder)
    if not paths and not found:
        mend = "name the folder that holds the jobs"
        raise UsageError("there is no workbook in this folder", mend, str(folder))
    locked = {lock for path in paths if (lock := _locked(path)) is not None}
    step(0, len(paths))
    work, dead = partial(look_at, folder), partial(_ended, folder)
    read = cluster.anywhere(work, paths, dead, address=dask, many=processes)
    for done, one in enumerate(read, start=1):
        found.append(one)
        step(done, len(paths))
    noted = [_noted(one, folder, locked) for one in found]
    return apart(without_copies(sorted(noted, key=lambda one: one.file.casefold())))


def _locked(path: Path) -> Path | None:
    """Return the file a lock file speaks of, None for any other file."""
    for lead in LOCKS:
        if path.name.startswith(lead):
            return path.with_name(path.name.removeprefix(lead).rstrip("#"))
    return None


def _noted(found: Found, folder: Path, locked: set[Path]) -> Found:
    """Say of a job that somebody has it open."""
    path = folder / found.file
    # Excel's lock leaves the first two letters of a long name out.
    is_open = path in locked or path.with_name(path.name[2:]) in locked
    if found.job is None or not is_open:
        return found
    note = "open in a spreadsheet program: read as it was last saved"
    return replace(found, why="; ".join(w for w in (found.why, note) if w))


def _ended(folder: Path, path: Path) -> Found:
    return Found(_below(folder, path), LEFT_OUT, "it could not be read", 0.0)


def look_at(folder: Path, path: Path) -> Found:
    """Look at one file; never raises for what is wrong with it."""
    file = _below(folder, path)
    try:
        changed = path.stat().st_mtime
    except OSError as error:
        return Found(file, LEFT_OUT, f"it cannot be opened: {error.strerror}", 0.0)
    if _locked(path) is not None:
        return Found(file, PASSED, "a lock file: somebody has that workbook open", changed)
    if path.suffix.lower() in OTHERS:
        mend = f"only {' and '.join(sorted(READ))} are read; save a job as .xlsx"
        return Found(file, PASSED, mend, changed)
    try:
        book = read_book(path)
        reason = _no_job(book)
        if reason is not None:
            return Found(file, *reason, changed)
        checked = check_file(path, book=book)
    except FileUnreadableError as error:
        words = ": ".join(part for part in (error.what, error.mend) if part)
        return Found(file, LEFT_OUT, words, changed)
    except Exception as error:  # noqa: BLE001 - one odd file must not take the others with it
        return Found(file, LEFT_OUT, f"Pourbook failed on it: {error}; send it to us", changed)
    broken = [f for f in checked.findings if f.id in {"structure.sheet", "function.failed"}]
    if broken:
        what = f"{broken[0].what}: {broken[0].mend}"
        return Found(file, LEFT_OUT, what, changed)
    job = record(checked)
    return Found(file, JOB, job.why, changed, job)


def _no_job(book: RawBook) -> tuple[str, str] | None:
    """Return what a workbook is if it is no job, and why."""
    kind = book.marks.get("pourbook book", "")
    if COPY_MARK in book.marks:
        return PASSED, "a books copy; the job it was made from counts"
    if kind == "job":
        return None
    if kind in KINDS:
        return PASSED, KINDS[kind]
    if {"Rooms", "Quoted", "Used", "Settle"} <= set(book.sheets):
        return LEFT_OUT, "a job whose marks are gone: take a copy that Pourbook or Excel saved"
    return PASSED, "Pourbook did not make this workbook"


def without_copies(found: Iterable[Found]) -> list[Found]:
    """Leave all files of a job but the one changed last out, naming the one that counts.

    One job is two files with the same mark, job name and client, or with the same accepted entries
    and no marks that differ. Under another name it is the same job if all batches of one are in the
    log of the other.
    """
    listed = list(found)
    kept: list[Found] = []
    copies: dict[str, str] = {}
    newest = sorted((f for f in listed if f.job), key=lambda f: (-f.changed, f.file))
    by_key: dict[object, list[Found]] = {}
    for one in newest:
        assert one.job is not None
        keys = [key for key in (one.job.identity, one.job.digest) if key]
        twins = [t for key in keys for t in by_key.get(key, []) if _same_job(one, t)]
        if twins:
            copies[one.file] = twins[0].file
            continue
        kept.append(one)
        for key in keys:
            by_key.setdefault(key, []).append(one)
    return [
        replace(f, kind=LEFT_OUT, why=f"the same job as {copies[f.file]}, which was changed later")
        if f.file in copies
        else f
        for f in listed
    ]


def apart(found: Iterable[Found]) -> list[Found]:
    """Leave no batch and no receipt line in two jobs: neither of them counts, and both say why."""
    listed = list(found)
    twice = shared({one.file: one.job.traces for one in listed if one.kind == JOB and one.job})
    told = []
    for one in listed:
        wrong = twice.get(one.file)
        if wrong and one.job is not None:
            more = f" (and {len(wrong) - 1} more)" if len(wrong) > 1 else ""
            at = wrong[0].trace
            why = f"{at.sheet}!{at.cell}: {wrong[0].words}{more}"
            one = replace(one, job=replace(one.job, state=FINDINGS, why=why, closings=()), why=why)  # noqa: PLW2901
        told.append(one)
    return told


def _same_job(one: Found, other: Found) -> bool:
    a, b = one.job, other.job
    assert a is not None
    assert b is not None
    named = (a.job.casefold(), a.client.casefold()) == (b.job.casefold(), b.client.casefold())
    named = named or _same_batches(a, b)
    if a.identity and b.identity:
        return a.identity == b.identity and named
    return bool(a.digest) and a.digest == b.digest and named


def _same_batches(one: JobRecord, other: JobRecord) -> bool:
    """Return whether one was saved under another name: it has logged nothing the other has not."""
    a, b = ({t.key for t in job.traces if t.is_batch} for job in (one, other))
    return bool(a and b) and (a <= b or b <= a)
