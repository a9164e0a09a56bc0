"""Rolls many jobs up into one workbook: money, products, lots and every file that was found.

Contract: :func:`roll_up` takes what :func:`pourbook.archive.folder.look` found and returns the
entries of a month's workbook; :func:`write` makes it. Values are the jobs' own, sums are the
workbook's formulas. One currency, one system of units; nothing that was found is left untold.
"""

from __future__ import annotations

import datetime as dt
import math
from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from dataclasses import fields, replace
from pathlib import Path

from pourbook import units
from pourbook.archive.folder import JOB, LEFT_OUT, PASSED, Found
from pourbook.archive.record import EARNED, FINDINGS, SETTLED, JobRecord, ProductRecord, add_up
from pourbook.archive.still_open import DONE, OFFICE, READY
from pourbook.archive.whose import called_of, groups_of
from pourbook.cells import Address, Value, word
from pourbook.dates import from_serial
from pourbook.errors import InputError, UsageError
from pourbook.job import make as jobs
from pourbook.job.make import Entries
from pourbook.records import dataclass
from pourbook.units import SYSTEMS
from pourbook.workbook.check.closed import CORRECTED
from pourbook.workbook.read.read import MOST_PIECES
from pourbook.workbook.template.template import load_book

BOOK = "month"
IN, NOT_SETTLED, OUTSIDE = "in the totals", "not settled", "outside the dates"
VOLUMES = (
    "volume_quoted",
    "allowed",
    "by_log",
    "by_count",
    "volume_unexplained",
    "charged",
)
MONEY = tuple(f.name for f in fields(ProductRecord) if f.name not in {"product", *VOLUMES})


@dataclass(frozen=True)
class Taken:
    """A file, and how it was taken: into the totals or not, and why."""

    found: Found
    taken: str
    why: str

    @property
    def is_fault(self) -> bool:
        """Return whether something is missing in the totals."""
        return self.taken in {LEFT_OUT, NOT_SETTLED}


@dataclass(frozen=True)
class RollUp:
    """A month's workbook about to be written, and what is told of it."""

    entries: Entries
    pieces: int
    system: str
    currency: str
    files: tuple[Taken, ...]


def roll_up(
    found: Sequence[Found],
    folder: str,
    *,
    system: str = "",
    currency: str = "",
    first: dt.date | None = None,
    last: dt.date | None = None,
    made: dt.date,
) -> RollUp:
    """Return the entries of a roll-up.

    Args:
        found: The files that were found.
        folder: What to call the folder.
        system: The units wanted; those of the first settled job if left out.
        currency: The currency wanted; that of most settled jobs if left out.
        first: The first day of the span, by the last date noted on a job's Used; None is no limit.
        last: The last day of it.
        made: The day to note.

    Raises:
        UsageError: The span ends before it begins, or there is no job.
        InputError: There are more jobs, products, lots or files than a workbook holds.
    """
    if first is not None and last is not None and last < first:
        raise UsageError(f"{last} is before {first}", "swap the two days", "--from, --to")
    all_jobs = [f.job for f in found if f.kind == JOB and f.job is not None]
    if not all_jobs:
        said = "; ".join(f"{f.file}: {f.why}" for f in found[:3])
        raise UsageError(f"no job could be read ({said})", "name another folder", folder)
    settled = [job for job in all_jobs if job.state == SETTLED]
    lead = (settled or all_jobs)[0]
    system = system or lead.system
    currency = currency.strip().upper() or _commonest(settled or all_jobs)
    files = tuple(_taken(_as_closed(one, first, last), currency, first, last) for one in found)
    entries: Entries = {
        ("roll", "made_on", 0): made,
        ("roll", "folder", 0): folder,
        ("roll", "currency", 0): currency,
        ("file_counts", "listed", 0): len(files),
    }
    for name, day in (("from_day", first), ("to_day", last)):
        if day is not None:
            entries["roll", name, 0] = day
    rows: Counter[str] = Counter()
    for one in files:
        _file(entries, rows, one)
        job = one.found.job
        if job is not None and one.taken in {IN, NOT_SETTLED}:
            _job(entries, rows, one, job)
        if job is not None and one.taken in {IN, NOT_SETTLED}:
            _open(entries, rows, one, job)
        if job is not None and one.taken == IN:
            _detail(entries, rows, one, job, system)
    for every in found:
        _later(entries, rows, every, currency, last)
    _products(entries, rows)
    _lots(entries, rows, files)
    _whose(entries, rows, files)
    return RollUp(entries, _pieces(rows, folder), system, currency, files)


def _commonest(listed: Sequence[JobRecord]) -> str:
    """Return the currency of most jobs, of the first of them where two have as many."""
    return Counter(job.currency for job in listed).most_common(1)[0][0]


def _taken(found: Found, currency: str, first: dt.date | None, last: dt.date | None) -> Taken:
    job = found.job
    if found.kind in {LEFT_OUT, PASSED} or job is None:
        return Taken(found, found.kind, found.why)
    day = None if job.settled_on is None else from_serial(job.settled_on).date()
    if day is not None and not _within(day, first, last):
        return Taken(found, OUTSIDE, f"last noted on {day}")
    if job.state != SETTLED:
        why = found.why if job.state == NOT_SETTLED else f"{job.state}: {found.why}"
        return Taken(found, NOT_SETTLED, why)
    if job.currency != currency:
        what = f"its currency is {job.currency or 'not named'}, this workbook holds {currency}"
        how = f"; make one of its own: --currency {job.currency}" if job.currency else ""
        return Taken(found, LEFT_OUT, what + how)
    return Taken(found, IN, found.why)


def _as_closed(found: Found, first: dt.date | None, last: dt.date | None) -> Found:
    """Return a job that was closed with what was closed in the span, whatever it says now."""
    job = found.job
    if job is None or not job.closings:
        return found
    inside = [one for one in job.closings if _within(from_serial(one.on).date(), first, last)]
    if not inside:
        return replace(found, job=replace(job, state=SETTLED, settled_on=job.closings[-1].on))
    named = dict.fromkeys(p.product for one in inside for p in one.products)
    products = tuple(
        add_up(name, (p for one in inside for p in one.products if p.product == name))
        for name in named
    )
    prices, profits = (
        (round(sum(a), 2), round(sum(b), 2))
        for a, b in (
            zip(*(one.prices for one in inside), strict=True),
            zip(*(one.profits for one in inside), strict=True),
        )
    )
    only = "" if inside[0].number == 1 else f" ({CORRECTED})"
    return replace(
        found,
        job=replace(
            job,
            job=job.job + only,
            state=SETTLED,
            settled_on=inside[-1].on,
            sums=add_up("", (one.sums for one in inside)),
            prices=prices,
            profits=profits,
            products=products,
        ),
    )


def _within(day: dt.date, first: dt.date | None, last: dt.date | None) -> bool:
    return not ((first and day < first) or (last and day > last))


def _later(
    entries: Entries, rows: Counter[str], one: Found, currency: str, last: dt.date | None
) -> None:
    """List what was booked of a job after the span, and is not in the totals."""
    job = one.job
    if job is None or one.kind != JOB or job.currency != currency or last is None:
        return
    days = [from_serial(closing.on).date() for closing in job.closings]
    if not days or days[0] > last:
        return
    for closing, day in zip(job.closings, days, strict=True):
        if day > last:
            row: dict[str, object] = {
                "job": job.job,
                "why": closing.why,
                "booked_on": _day(closing.on),
                "number": closing.number,
                "used": closing.sums.used,
                "profit_earned": closing.profits[EARNED],
                "file": one.file,
            }
            put(entries, rows, "later", row)


def put(entries: Entries, rows: Counter[str], block: str, row: dict[str, object]) -> None:
    """Add a row to a table of a workbook about to be written; what is blank stays blank.

    Args:
        entries: What is to be written.
        rows: How many rows each table has so far.
        block: The table.
        row: What stands in it, by field.
    """
    index = rows[block]
    rows[block] += 1
    for name, content in row.items():
        if content is not None and content != "":
            entries[block, name, index] = content


def _file(entries: Entries, rows: Counter[str], one: Taken) -> None:
    changed = one.found.changed
    put(
        entries,
        rows,
        "files",
        {
            "file": one.found.file,
            "taken": one.taken,
            "why": one.why,
            "job": one.found.job.job if one.found.job else None,
            "changed": dt.date.fromtimestamp(changed) if changed else None,
            "stale": one.found.job.stale if one.found.job else None,
        },
    )


def _job(entries: Entries, rows: Counter[str], one: Taken, job: JobRecord) -> None:
    row: dict[str, object] = {
        "job": job.job,
        "client": job.client,
        "state": job.state,
        "option": job.option,
        "accepted_on": _day(job.accepted_on),
        "settled_on": _day(job.settled_on),
        "to_mend": None if job.closings else job.to_mend,
        "closed": "yes" if job.closings else "no",
        "file": one.found.file,
    }
    if one.taken == IN and job.sums is not None:
        row |= dict(zip(("price_quoted", "price_earned"), job.prices, strict=True))
        row |= dict(zip(("profit_quoted", "profit_earned"), job.profits, strict=True))
        for name in MONEY:
            entries["job_coatings", name, rows["jobs"]] = getattr(job.sums, name)
    put(entries, rows, "jobs", row)


def _open(entries: Entries, rows: Counter[str], one: Taken, job: JobRecord) -> None:
    """List what a job lacks that is not all done; its name and phase in its first row."""
    if job.stand is None or job.stand.phase == DONE or (one.taken == IN and _is_settled(job)):
        return
    wrong = [(one.why, OFFICE, "", "yes")] if job.state == FINDINGS else []
    lacking = [
        (m.what, m.ask, f"{m.sheet}!{m.cell}", "yes" if m.needed else "no")
        for m in job.stand.missing
    ]
    for number, (what, ask, where, needed) in enumerate([*wrong, *lacking]):
        row: dict[str, object] = {"what": what, "ask": ask, "where": where, "needed": needed}
        if not number:
            row |= {"job": job.job, "phase": job.stand.phase}
        put(entries, rows, "open_jobs", {**row, "file": one.found.file})


def _is_settled(job: JobRecord) -> bool:
    """Return whether nothing is to be asked for that the settlement rests on."""
    assert job.stand is not None
    return job.stand.phase == READY and not any(one.needed for one in job.stand.missing)


def _day(serial: float | None) -> dt.date | None:
    return None if serial is None else from_serial(serial).date()


def _detail(entries: Entries, rows: Counter[str], one: Taken, job: JobRecord, system: str) -> None:
    old, new = SYSTEMS[job.system].volume, SYSTEMS[system].volume
    for product in job.products:
        row: dict[str, object] = {"job": job.job, "product": product.product}
        for name in VOLUMES:
            volume = getattr(product, name)
            row[name] = volume if old == new else units.convert(volume, old, new)
        row |= {name: getattr(product, name) for name in MONEY}
        put(entries, rows, "detail", {**row, "file": one.found.file})


def _products(entries: Entries, rows: Counter[str]) -> None:
    """List every product once, by its first spelling, and number the rows of Detail by them."""
    products = [str(entries["detail", "product", index]) for index in range(rows["detail"])]
    names: dict[str, str] = {}
    for name in products:
        names.setdefault(word(name), name)
    numbers = {key: number for number, key in enumerate(sorted(names), start=1)}
    for key in numbers:
        put(entries, rows, "by_product", {"product": names[key]})
    for index, name in enumerate(products):
        entries["detail", "product_no", index] = numbers[word(name)]


def _lots(entries: Entries, rows: Counter[str], files: Iterable[Taken]) -> None:
    """List the lots of every job that was read, so that the rows of one lot stand together."""
    listed = [
        (lot.lot.casefold(), one.found.file, lot, one.found.job)
        for one in files
        if one.found.job is not None and one.found.kind == JOB
        for lot in one.found.job.lots
    ]
    for _, file, lot, job in sorted(listed, key=lambda found: (found[0], found[1])):
        row: dict[str, object] = {
            "lot": lot.lot,
            "job": job.job,
            "client": job.client,
            "product": lot.product,
            "first": _day(lot.first),
            "last": _day(lot.last),
            "batches": lot.batches,
            "document": ", ".join(lot.documents),
            "file": file,
        }
        put(entries, rows, "lots", row)


def _whose(entries: Entries, rows: Counter[str], files: Iterable[Taken]) -> None:
    """List what settled jobs lost, by what it may lie on, and the lots they were called back for.

    Callbacks are those of every job that was read: a lot is bad whether a job is settled or not.
    """
    read = [one for one in files if one.found.job is not None and one.found.kind == JOB]
    settled = [one.found.job for one in read if one.taken == IN and one.found.job is not None]
    for group in groups_of([job.layers for job in settled]):
        put(entries, rows, "whose", {f.name: getattr(group, f.name) for f in fields(group)})
    jobs = [
        ({word(lot.lot) for lot in one.found.job.lots}, {word(lot) for lot in one.found.job.called})
        for one in read
        if one.found.job is not None
    ]
    spelled = {
        word(lot): lot for one in read if one.found.job is not None for lot in one.found.job.called
    }
    for lot in called_of(jobs):
        row: dict[str, object] = {f.name: getattr(lot, f.name) for f in fields(lot)}
        put(entries, rows, "called", {**row, "lot": spelled[lot.lot]})


def _pieces(rows: Counter[str], folder: str) -> int:
    """Return how far the tables must grow to hold all rows."""
    book = load_book(BOOK)
    needed = {name: math.ceil(count / book.block(name).grows_by) for name, count in rows.items()}
    most = max(needed.values())
    if most > MOST_PIECES:
        name = max(needed, key=lambda n: needed[n])
        what = f"{rows[name]} rows of '{book.block(name).title}' are more than a workbook holds"
        mend = "take fewer jobs: a folder a year, or --from and --to"
        raise InputError(what, mend, folder)
    return max(most, 1)


def write(
    roll: RollUp,
    target: Path,
    *,
    force: bool,
    made: dt.datetime,
    step: Callable[[str], None] = lambda _: None,
) -> dict[Address, Value]:
    """Write the workbook of a roll-up and return the values of its formulas.

    Raises:
        UsageError: The file exists, or the folder does not.
        FileUnreadableError: The file is open elsewhere.
    """
    return jobs.make(
        target,
        roll.system,
        roll.entries,
        book=BOOK,
        pieces=roll.pieces,
        force=force,
        made=made,
        step=step,
    )
