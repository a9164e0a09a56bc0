"""Takes what was typed in a books copy back into the job it was made from.

Contract: :func:`differences` lists every cell for typing that differs, in the order of the sheets;
:func:`take` takes all of them or none, and notes each on the sheet Changes. What an accepted quote
rests on, and what commands write, is never taken. The copy is only read; the job is replaced in one
step.
"""

from __future__ import annotations

import datetime as dt
import tempfile
from collections.abc import Sequence
from pathlib import Path

from pourbook.cells import Value, is_blank, text
from pourbook.dates import serial
from pourbook.errors import InputError, UsageError
from pourbook.formats import files
from pourbook.formats.held import held
from pourbook.functions.own import entered
from pourbook.hosts.headless.engine import same
from pourbook.job.fill import Entry, fill
from pourbook.records import dataclass
from pourbook.workbook.check import quoted
from pourbook.workbook.check.check import check_file
from pourbook.workbook.check.structure import describe, refuse_other_layout, same_formula
from pourbook.workbook.layout.laid_out import Layout, PlannedCell
from pourbook.workbook.layout.marks import IDENTITY_MARK
from pourbook.workbook.layout.mending import LONGEST_TEXT
from pourbook.workbook.read.calc_copy import as_ours
from pourbook.workbook.read.read import COPY_MARK, RawBook, read_book
from pourbook.workbook.read.sheet_lines import RawCell

SHEET = "Changes"
_NOTHING = RawCell(None, "")


@dataclass(frozen=True)
class Different:
    """An entry that the copy has otherwise: its label and cell, what the job and the copy have.

    ``formula`` is what the copy has there instead of a value, ``accepted`` whether an accepted
    quote rests on it.
    """

    key: Entry
    what: str
    sheet: str
    cell: str
    old: Value
    new: Value
    formula: str = ""
    accepted: bool = False


def differences(copy: Path, job: Path) -> list[Different]:
    """Return every entry that differs between a books copy and its job.

    Raises:
        FileUnreadableError: One of them cannot be read, or they are of different sheets.
        UsageError: The copy is none, or is of another job.
    """
    with as_ours(copy) as source:
        theirs = read_book(source)
    ours = read_book(job)
    if COPY_MARK not in theirs.marks:
        mend = "name the books copy first, then the job: pourbook take COPY.xlsx JOB.xlsx"
        raise UsageError("this is no books copy", mend, str(copy))
    plan, copied = ours.plan("job"), theirs.plan("job", copy=True)
    for layout, book in ((plan, ours), (copied, theirs)):
        refuse_other_layout(layout, book)
    if theirs.marks.get(IDENTITY_MARK) != ours.marks.get(IDENTITY_MARK) or (
        copied.fingerprint != plan.fingerprint
    ):
        mend = "name the job it was made from; the copy's first sheet says which"
        raise UsageError(f"{copy.name} is the copy of another job", mend, str(job))
    rests = _rests_on(plan) if _is_accepted(plan, ours) else set()
    return [
        Different(
            key=key,
            what=describe(plan, cell),
            sheet=cell.sheet,
            cell=cell.address,
            old=was.value,
            new=now.value,
            formula=now.formula,
            accepted=key[:2] in rests,
        )
        for key, cell in plan.entry_at.items()
        for was, now in [(_raw(ours, cell), _raw(theirs, cell))]
        if not _alike(was, now)
    ]


def _raw(book: RawBook, cell: PlannedCell) -> RawCell:
    sheet = book.sheets.get(cell.sheet)
    return sheet.cells.get(cell.address, _NOTHING) if sheet else _NOTHING


def _alike(was: RawCell, now: RawCell) -> bool:
    if was.formula or now.formula:
        return same_formula(was.formula, now.formula)
    return (is_blank(was.value) and is_blank(now.value)) or same(was.value, now.value)


def _is_accepted(plan: Layout, book: RawBook) -> bool:
    return not is_blank(_raw(book, plan.cell("quoted", "revision")).value)


def _rests_on(plan: Layout) -> set[tuple[str, str]]:
    """Return block and field of every entry whose digest an acceptance keeps."""
    fill_of = plan.block("entered").fill
    assert fill_of is not None
    found: set[tuple[str, str]] = set()
    for argument in entered.parted(fill_of.arguments):
        block, fields = quoted.spanned(plan, argument)
        found |= {(block, name) for name in fields}
    return found


def take(copy: Path, job: Path, *, by: str, now: dt.datetime, wanted: Sequence[Different]) -> Path:
    """Take what differs into the job, all of it.

    Args:
        copy: The books copy, for its name.
        job: The job; changed in place.
        by: Who takes it.
        now: When.
        wanted: What :func:`differences` gave.

    Raises:
        FileUnreadableError: The job is open elsewhere.
        InputError: An accepted quote rests on one of them, one is a formula or no entry the job can
            hold, one of the two files was changed since, or Changes is full.
    """
    files.refuse_unless_free(job, force=True)
    for one in wanted:
        if one.accepted:
            what = f"{one.what}: an accepted quote rests on it"
            mend = "change it in the job and accept it: pourbook accept JOB --change '...'"
            raise InputError(what, mend, f"{one.sheet}!{one.cell}")
        if one.formula:
            what = f"{one.what} is a formula in the copy: {one.formula[:60]}"
            mend = "type what it gives into the copy, or the formula into the job"
            raise InputError(what, mend, f"{one.sheet}!{one.cell}")
    with held(job):
        if differences(copy, job) != list(wanted):
            raise InputError("one of the two was changed meanwhile", "run it again", job.name)
        book = read_book(job)
        entries = {one.key: one.new for one in wanted}
        notes = _notes(book.plan("job"), book, copy, by, now, wanted)
        with tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as folder:
            tried = Path(folder) / job.name
            fill(job, tried, entries, force=True)
            _refuse_bad(tried, wanted)
        fill(job, job, {**entries, **notes}, force=True)
    return job


def _refuse_bad(tried: Path, wanted: Sequence[Different]) -> None:
    """Refuse an entry that the job itself would call wrong."""
    taken = {(one.sheet, one.cell) for one in wanted}
    for finding in check_file(tried).findings:
        at = finding.sheet, finding.cell
        if finding.id.startswith("entry.") and at in taken:
            mend = f"fix it in the copy: {finding.mend}"
            raise InputError(finding.what, mend, finding.place)


def _notes(
    plan: Layout,
    book: RawBook,
    copy: Path,
    by: str,
    now: dt.datetime,
    wanted: Sequence[Different],
) -> dict[Entry, object]:
    """Return a row of Changes for each entry, below those that stand there."""
    rows = plan.block("taken").rows
    first = next(
        (
            row
            for row in range(rows)
            if is_blank(_raw(book, plan.kept_at["taken", "taken_what", row]).value)
        ),
        rows,
    )
    if first + len(wanted) > rows:
        what = f"{len(wanted)} changes are to be noted, {rows - first} rows are free"
        raise InputError(what, "type them into the job itself", SHEET)
    found: dict[Entry, object] = {}
    for row, one in enumerate(wanted, start=first):
        cells = {
            "taken_what": one.what,
            "taken_at": f"{one.sheet}!{one.cell}",
            "taken_old": shown(one.old),
            "taken_new": shown(one.new),
            "taken_on": serial(now),
            "taken_by": by,
            "taken_from": copy.name,
        }
        found |= {
            ("taken", name, row): (value or None) if isinstance(value, str) else value
            for name, value in cells.items()
        }
    return found


def shown(value: Value) -> str:
    """Return an entry as a text that no program takes for a formula."""
    said = f"{value:.10g}" if isinstance(value, float) else text(value)
    return said[:LONGEST_TEXT]
