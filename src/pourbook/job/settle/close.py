"""Closes a job's settlement, books what comes after as corrections, and reopens it.

Contract: :func:`close` and :func:`reopen` write rows on Closed and change nothing else that stands
in the file; a row that was written is never changed. Each row holds what changed since the one
before, so that all of them together are what Settle says now: closing and correcting comes to the
same as never having closed.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterator, Mapping, Sequence
from pathlib import Path

from pourbook.cells import Value, text
from pourbook.dates import day_number, from_serial
from pourbook.errors import InputError
from pourbook.formats import files
from pourbook.formats.held import held
from pourbook.formats.ledger import Posting, Transaction
from pourbook.job.fill import Entry, fill
from pourbook.job.settle import settled
from pourbook.records import dataclass
from pourbook.workbook.check import closed
from pourbook.workbook.check.check import Checked, check_file
from pourbook.workbook.check.closed import CLOSED, CORRECTED, REOPENED, ClosedRow, closings
from pourbook.workbook.check.frozen import number_of
from pourbook.workbook.check.reader import Reader
from pourbook.workbook.layout.laid_out import Layout

_FROM = {
    "volume_quoted": ("settle", "quoted"),
    "volume_unexplained": ("settle", "unexplained"),
    "used": ("settle_money", "actual"),
    **{name: ("settle", name) for name in ("allowed", "by_log", "by_count", "charged")},
    **{
        name: ("settle_money", name)
        for name in ("quoted", "area", "rate", "waste", "price", "unexplained")
    },
}
"""Where each figure of a product stands on Settle."""
_LINE = ("day", "document", "payee", "said", "account", "amount")
Key = tuple[str, str, str]


@dataclass(frozen=True)
class ClosingDone:
    """What closing came to: the row that was written, and what is booked with it."""

    path: Path
    number: int
    what: str
    on: dt.date
    lines: tuple[Transaction, ...]
    changed: bool = True


def close(
    path: Path,
    *,
    by: str = "",
    on: dt.date | None = None,
    why: str = "",
    step: Callable[[str], None] = lambda _: None,
) -> ClosingDone:
    """Close a settlement, or book what came after it was closed.

    Args:
        path: The job.
        by: Who closes it.
        on: The day; today if left out, or the last day on Used where that is later.
        why: What a correction is for.
        step: Told of each step, for a progress display.

    Raises:
        FileUnreadableError: The job cannot be read, or the file is open elsewhere.
        InputError: It cannot be settled, the day lies before what is noted, or a table is full.
    """
    files.refuse_unless_free(path, force=True)
    with held(path):
        checked = check_file(path, step=step, kinds=("job",))
        _refuse_unsound(checked)
        before = closings(checked.plan, checked.book)
        day = _day(checked, before, on)
        lines = tuple(_changed(settled.transactions(checked, day), before, day))
        rows = _products(checked, before)
        sums = _sums(checked, before)
        moved = bool(lines or rows or any(sums.values()))
        if before and not moved:
            last = before[-1]
            if last.what != REOPENED:
                when = from_serial(last.on).date()
                return ClosingDone(path, last.number, last.what, when, (), changed=False)
        what = CORRECTED if before and moved else CLOSED
        row = {**_headed(before, what, day, by, why), **sums}
        _write(path, checked.plan, before, row, rows, _split(lines))
        return ClosingDone(path, len(before) + 1, what, day, lines)


def reopen(path: Path, *, by: str, why: str, on: dt.date) -> ClosingDone:
    """Reopen a job that was closed; what was closed stays as it was.

    Raises:
        FileUnreadableError: The job cannot be read, or the file is open elsewhere.
        InputError: It is not closed, or the day lies before it was closed.
    """
    files.refuse_unless_free(path, force=True)
    with held(path):
        checked = check_file(path, kinds=("job",))
        before = closings(checked.plan, checked.book)
        if not before or before[-1].what == REOPENED:
            said = "it is open already" if before else "it was never closed"
            raise InputError(said, "type on Used, and close it with: pourbook settle JOB --close")
        _refuse_early(before, on)
        row = _headed(before, REOPENED, on, by, why)
        _write(path, checked.plan, before, row, [], [])
        return ClosingDone(path, len(before) + 1, REOPENED, on, ())


def _headed(
    before: Sequence[ClosedRow], what: str, on: dt.date, by: str, why: str
) -> dict[str, Value]:
    """Return what a row says of itself: its number, what it is, when, by whom and why."""
    number, day = float(len(before) + 1), float(day_number(on))
    return {"no": number, "what": what, "closed_on": day, "closed_by": by, "why": why}


def _refuse_unsound(checked: Checked) -> None:
    """Refuse a job that cannot be settled, or whose earlier closings were changed by hand."""
    name = checked.book.path.name
    if "closings" not in checked.plan.places:
        mend = f"bring it up to date first: pourbook upgrade {name}"
        raise InputError("its templates have no sheet for it", mend, name)
    stopping = settled.obstacles(checked)
    if stopping:
        first = stopping[0]
        more = f" (and {len(stopping) - 1} more: pourbook check)" if len(stopping) > 1 else ""
        raise InputError(first.what, first.mend + more, f"{first.file}, {first.place}")


def _day(checked: Checked, before: Sequence[ClosedRow], on: dt.date | None) -> dt.date:
    """Return the day of a closing: none before what is noted on Used, or was closed already."""
    last = settled.last_day(checked)
    day = on or max(dt.date.today(), last)
    if day < last:
        what = f"{day} lies before the last day noted on Used, {last}"
        raise InputError(what, "close it on that day or later: --on", "Used")
    _refuse_early(before, day)
    return day


def _refuse_early(before: Sequence[ClosedRow], on: dt.date) -> None:
    if before and on < (last := from_serial(before[-1].on).date()):
        what = f"{on} lies before the last closing, {last}"
        mend = "see whether the computer's clock is right, or give the day: --on"
        raise InputError(what, mend, closed.SHEET)


def booked(before: Sequence[ClosedRow]) -> list[Transaction]:
    """Return the entries as they were booked, closing by closing."""
    found: list[Transaction] = []
    for one in before:
        kept: dict[tuple[Value, ...], list[Posting]] = {}
        for line in one.lines:
            name = tuple(line.get(part) for part in _LINE[:4])
            cents = round(number_of(line.get("amount")) * 100)
            kept.setdefault(name, []).append(Posting(text(line.get("account")), cents))
        for (day, document, payee, said), postings in kept.items():
            when = from_serial(number_of(day)).date()
            entry = Transaction(when, text(document), text(said), tuple(postings), text(payee))
            found.append(entry)
    return found


def _key(one: Transaction) -> Key:
    """Return what tells an entry from others; of a correction, that of what it corrects."""
    if one.document == settled.SETTLEMENT and not one.payee:
        return one.document, "", ""
    return one.document, one.payee, one.text.removeprefix(settled.CORRECTION)


def _changed(
    now: Sequence[Transaction], before: Sequence[ClosedRow], day: dt.date
) -> Iterator[Transaction]:
    """Give what is to be booked: entries that are new, and what others differ by now."""
    was: dict[Key, dict[str, int]] = {}
    first: dict[Key, Transaction] = {}
    for one in booked(before):
        first.setdefault(_key(one), one)
        amounts = was.setdefault(_key(one), {})
        for posting in one.postings:
            amounts[posting.account] = amounts.get(posting.account, 0) + posting.cents
    closed_until = max((from_serial(one.on).date() for one in before), default=dt.date.min)
    named: dict[Key, Transaction] = {}
    should: dict[Key, dict[str, int]] = {}
    for one in now:
        named.setdefault(_key(one), one)
        amounts = should.setdefault(_key(one), {})
        for posting in one.postings:
            amounts[posting.account] = amounts.get(posting.account, 0) + posting.cents
    for key in dict.fromkeys([*should, *was]):
        old, new = was.get(key, {}), should.get(key, {})
        accounts = dict.fromkeys([*new, *old])
        postings = tuple(
            Posting(name, cents)
            for name in accounts
            if (cents := new.get(name, 0) - old.get(name, 0))
        )
        if not postings:
            continue
        one = named.get(key) or first[key]
        is_new = key not in was
        when = one.day if is_new and one.day > closed_until else day
        said = (
            one.text if is_new else settled.CORRECTION + one.text.removeprefix(settled.CORRECTION)
        )
        yield Transaction(when, one.document, said, postings, one.payee)


def _split(lines: Sequence[Transaction]) -> list[dict[str, Value]]:
    """Return a row for each side of each entry."""
    return [
        {
            "day": float(day_number(one.day)),
            "document": one.document,
            "payee": one.payee,
            "said": one.text,
            "account": posting.account,
            "amount": posting.cents / 100,
        }
        for one in lines
        for posting in one.postings
    ]


def _products(checked: Checked, before: Sequence[ClosedRow]) -> list[dict[str, Value]]:
    """Return what each product's figures changed by; products without a change are left out."""
    reader = Reader(checked)
    now: dict[str, dict[str, float]] = {}
    names: dict[str, str] = {}
    for row in reader.rows("settle", "product"):
        product = reader.words("settle", "product", row)
        names[product.casefold()] = product
        now[product.casefold()] = {
            name: reader.number(block, field, row) for name, (block, field) in _FROM.items()
        }
    for one in before:
        for line in one.products:
            product = text(line.get("product"))
            names.setdefault(product.casefold(), product)
            figures = now.setdefault(product.casefold(), {})
            for name in _FROM:
                figures[name] = figures.get(name, 0.0) - number_of(line.get(name))
    found: list[dict[str, Value]] = []
    for key, figures in now.items():
        clean: dict[str, Value] = {
            name: _cut(figures.get(name, 0.0), cents=name in closed.MONEY) for name in _FROM
        }
        if any(clean.values()) or not before:
            found.append({"product": names[key], **clean})
    return found


def _sums(checked: Checked, before: Sequence[ClosedRow]) -> dict[str, float]:
    """Return what receipts, price and profit changed by."""
    reader = Reader(checked)
    now = {"receipts": reader.number("settle_state", "receipts")}
    for index, word in enumerate(("quoted", "earned")):
        for name in ("price", "profit"):
            now[f"{name}_{word}"] = reader.number("margin", name, index)
    return {
        name: float(_cut(value - sum(one.sums.get(name, 0.0) for one in before), cents=True))
        for name, value in now.items()
    }


def _cut(value: float, *, cents: bool) -> float:
    """Return a difference without the noise of floating point."""
    return round(value, 2 if cents else 9) + 0.0


def _write(
    path: Path,
    plan: Layout,
    before: Sequence[ClosedRow],
    row: Mapping[str, Value],
    products: Sequence[Mapping[str, Value]],
    lines: Sequence[Mapping[str, Value]],
) -> None:
    """Write the rows of one closing below those that stand there."""
    number = float(len(before) + 1)
    rows: dict[str, tuple[Mapping[str, Value], ...]] = {
        "closings": (row,),
        "closed_products": tuple({"closing": number, **one} for one in products),
        "closed_lines": tuple({"closing": number, **one} for one in lines),
    }
    rows["closings"] = ({**row, "seal": closed.seal(rows)},)
    taken = {
        "closings": len(before),
        "closed_products": sum(len(one.products) for one in before),
        "closed_lines": sum(len(one.lines) for one in before),
    }
    entries: dict[Entry, object] = {}
    for block, written in rows.items():
        declared = plan.block(block)
        if taken[block] + len(written) > declared.rows:
            what = f"'{plan.text(declared.title)}' has {declared.rows} rows, and more are needed"
            mend = "keep this file as it is, and book what comes now in a job of its own"
            raise InputError(what, mend, f"{path.name}, {closed.SHEET}")
        for index, one in enumerate(written, start=taken[block]):
            for name, value in one.items():
                entries[block, name, index] = None if value == "" else value
    fill(path, path, entries, force=True)


def describe(one: ClosedRow) -> str:
    """Return a closing in words.

    Example:
        >>> describe(ClosedRow(1, "closed", 46387.0, "Bo", ""))
        'closed 2026-12-31 by Bo'
    """
    by = f" by {one.by}" if one.by else ""
    why = f": {one.why}" if one.why else ""
    return f"{one.what} {from_serial(one.on).date()}{by}{why}"
