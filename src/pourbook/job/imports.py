"""Takes the rows of a CSV file into the log or the receipts of a job.

Contract: :func:`plan_import` reads everything and changes nothing: either every row can be taken or
is there already, or one :class:`~pourbook.errors.InputError` names file, line and column. A row is
the same where its keys agree (``import_headings.LISTS``); the same keys with other figures are
refused with both places. What is taken goes below the last row that is filled.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import field, replace
from pathlib import Path

from pourbook.cells import Value, is_blank, text
from pourbook.errors import BlankError, InputError, PourbookError
from pourbook.formats import csv_rows, gs1
from pourbook.formats.csv_rows import Row, Table
from pourbook.job import figures, import_headings
from pourbook.job.figures import Way
from pourbook.job.fill import Entry
from pourbook.job.import_headings import LISTS, Asked, Heading, ListOf
from pourbook.records import dataclass
from pourbook.tables.buy import packs
from pourbook.tables.used import log_rows, lots
from pourbook.workbook.check import entries
from pourbook.workbook.layout.laid_out import Layout
from pourbook.workbook.layout.mending import mend as how_to
from pourbook.workbook.read.read import RawBook

_SAME = 1e-9
_LOTS = ("lot", "lot_a", "lot_b", "lot_c")


@dataclass(frozen=True)
class Import:
    """What an import comes to: the cells to write, rows taken, and rows that were there already.

    ``read_as`` says how a number with two meanings was read, and which number settled it.
    """

    entries: dict[Entry, Value]
    taken: tuple[str, ...] = ()
    skipped: tuple[str, ...] = ()
    first: str = ""
    read_as: str = ""


@dataclass(frozen=True)
class _Record:
    """A row in the job's terms, and where it stands."""

    where: str
    values: Mapping[str, Value]
    index: int = -1
    given: frozenset[str] = field(default_factory=frozenset)


def plan_import(path: Path, book: RawBook, plan: Layout, block: str, asked: Asked) -> Import:
    """Read a CSV file against a job: :func:`plan_table` of the file."""
    return plan_table(csv_rows.read_table(path, asked.encoding), book, plan, block, asked)


def plan_table(table: Table, book: RawBook, plan: Layout, block: str, asked: Asked) -> Import:
    """Read the rows of a list against a job.

    Args:
        table: The rows.
        book: The job as it stands.
        plan: Its layout.
        block: A name of :data:`pourbook.job.import_headings.LISTS`.
        asked: What was said of the file.

    Raises:
        InputError: A heading, a cell or a row cannot be taken, or they are too many.
    """
    if block not in plan.places:
        what = f"this job has no table for {LISTS[block].words}"
        raise InputError(what, "carry it over with pourbook upgrade", book.path.name)
    if block == "worked":
        first = plan.cell("quoted_steps", "step", 0)
        if is_blank(book.sheets[first.sheet].value(first.address)):
            what = "no quote is accepted yet, so no step is known"
            raise InputError(what, f"pourbook accept {book.path.name}", book.path.name)
    headings = import_headings.read(table, plan, _currency(book, plan), block, asked)
    if not table.rows:
        raise BlankError("there is no row under the headings", "add the rows", table.name)
    numbers = [
        cell
        for row in table.rows
        for cell, head in zip(row.cells, headings, strict=False)
        if head.field is not None and head.field.kind == "number"
    ]
    commas, points = (any(figures.has_decimal(s, cell) for cell in numbers) for s in ",.")
    way = Way(asked.decimal, asked.dates, commas, points)
    known = _known(book, plan, block)
    read: list[_Record] = []
    bad: list[InputError] = []
    for row in table.rows:
        record = _record(row, headings, plan, book, block, way, bad)
        if record is not None:
            read.append(record)
    if bad:
        raise csv_rows.all_of(bad)
    return replace(_placed(known, read, plan, block), read_as=_read_as(numbers, way))


def _read_as(numbers: Sequence[str], way: Way) -> str:
    unclear = next((n for n in numbers if figures.has_unclear_comma(n)), "")
    if way.decimal or not unclear or way.commas == way.points:
        return ""
    sign, kind = (",", "decimals") if way.commas else (".", "thousands")
    sure = next(n for n in numbers if figures.has_decimal(sign, n))
    return f"the comma of '{unclear}' was read as marking {kind}, for the file also has '{sure}'"


def _currency(book: RawBook, plan: Layout) -> str:
    cell = plan.entry_at["money", "currency", 0]
    return text(book.sheets[cell.sheet].value(cell.address))


def _record(
    row: Row,
    headings: Sequence[Heading],
    plan: Layout,
    book: RawBook,
    block: str,
    way: Way,
    bad: list[InputError],
) -> _Record | None:
    """Read one row of the file; None where it cannot be taken, and ``bad`` then says why."""
    before = len(bad)
    try:
        csv_rows.refuse_wide(row, headings)
    except InputError as error:
        bad.append(error)
        return None
    values: dict[str, Value] = {}
    filled: set[str] = set()
    for place, (cell, head) in enumerate(zip(row.cells, headings, strict=False), start=1):
        if head.field is None or not cell:
            continue
        filled.add(head.field.id)
        try:
            values[head.field.id] = _value(cell, head, plan, book, way)
        except PourbookError as error:
            where = f"{row.where}, column {place}"
            bad.append(InputError(f"{head.shown}: {error.what}", error.mend, where))
    for item in plan.block(block).columns:
        if item.required and item.kind != "formula" and item.id not in filled:
            header = plan.text(item.header)
            bad.append(BlankError(f"{header} is blank", how_to(plan, item), row.where))
    if len(bad) == before:
        try:
            _read_lots(values, row)
            _refuse_wrong(values, row, block, _currency(book, plan))
        except InputError as error:
            bad.append(error)
    given = frozenset(h.field.id for h in headings if h.field is not None)
    return _Record(row.where, values, given=given) if len(bad) == before else None


def _value(cell: str, head: Heading, plan: Layout, book: RawBook, way: Way) -> Value:
    item = head.field
    assert item is not None  # columns left out are not read
    value: Value = cell
    if item.kind == "number":
        value = figures.figure(cell, item.unit, head.unit, plan.system, way)
    elif item.kind == "date":
        value = figures.moment(cell, way)
    elif item.kind == "choice":
        listed = entries.choices(plan, book, item)
        value = next((c for c in listed if c.casefold() == cell.casefold()), cell)
    else:
        csv_rows.refuse_unprinted(cell.replace(gs1.GS, "") if item.id in _LOTS else cell)
    fault = entries.fault(plan, book, item, value)
    if fault is not None:
        raise InputError(fault[1], fault[2].rstrip("."))
    return value


def _read_lots(values: dict[str, Value], row: Row) -> None:
    """Read the lots, and write a scanner's raw separator as brackets, since no cell can hold it."""
    day = values.get("started", values.get("date"))
    for name in _LOTS:
        if name not in values:
            continue
        label = log_rows.LABELS.get(name, "Lot")
        try:
            lots.read(values[name], label, int(day) if isinstance(day, float) else 1)
            typed = text(values[name])
            if gs1.GS in typed and isinstance(day, float):
                values[name] = _in_brackets(gs1.read_scan(typed, packs.day(day, label)))
        except PourbookError as error:
            raise InputError(f"{label}: {error.what}", error.mend, row.where) from None


def _in_brackets(scan: gs1.Scan) -> str:
    fields = [("01", scan.gtin), ("17", scan.expiry and f"{scan.expiry:%y%m%d}"), ("10", scan.lot)]
    return "".join(f"({name}){value}" for name, value in (*fields, *scan.others) if value)


def _refuse_wrong(values: Mapping[str, Value], row: Row, block: str, currency: str) -> None:
    """Refuse a row whose cells do not go together."""
    if block == "receipts":
        named = text(values.get("currency"))
        if named and named.casefold() != currency.casefold():
            mend = "convert its prices first, and leave the currency out"
            what = f"Currency: '{named}' is not the job's {currency}"
            raise InputError(what, mend, row.where)
        return
    began, ended = values.get("started"), values.get("ended")
    if isinstance(began, float) and isinstance(ended, float) and ended < began:
        what = f"{log_rows.LABELS['ended']}: it is before mixing began"
        raise InputError(what, "correct one of the two", row.where)


def _known(book: RawBook, plan: Layout, block: str) -> list[_Record]:
    """Return the rows of the job that are filled."""
    rows: dict[int, dict[str, Value]] = {}
    places: dict[int, str] = {}
    for (name, item, index), cell in plan.entry_at.items():
        value = book.sheets[cell.sheet].value(cell.address) if name == block else None
        if not is_blank(value):
            rows.setdefault(index, {})[item] = value
        if name == block:
            places.setdefault(index, f"{cell.sheet}!{cell.address}")
    return [_Record(places[index], rows[index], index) for index in sorted(rows)]


def _placed(known: list[_Record], read: Sequence[_Record], plan: Layout, block: str) -> Import:
    """Sort the rows into new ones and known ones, and place the new ones."""
    how = LISTS[block]
    by_key: dict[tuple[str, ...], list[_Record]] = {}
    for record in known:
        by_key.setdefault(_key(record, how), []).append(record)
    fresh: list[_Record] = []
    skipped: list[str] = []
    unnumbered = list(known)
    for record in read:
        alike = [r for r in by_key.get(_key(record, how), []) if _may_be(r, record, how)]
        if not alike and (twin := _but_for_its_number(unnumbered, record, how)):
            unnumbered.remove(twin)  # each stands for one row
            skipped.append(record.where)
            continue
        if not alike:
            by_key.setdefault(_key(record, how), []).append(record)
            fresh.append(record)
            continue
        differs = _difference(alike[0], record)
        if differs:
            header = next(plan.text(f.header) for f in plan.block(block).columns if f.id == differs)
            keys = [plan.text(f.header) for f in plan.block(block).columns if f.id in how.keys]
            what = f"{alike[0].where} has the same {', '.join(keys)}, but another {header}"
            mend = f"correct one of the two, or give {how.words} another key"
            raise InputError(what, mend, record.where)
        skipped.append(record.where)
    begin = 1 + max((r.index for r in known), default=-1)
    free = plan.block(block).rows - begin
    if len(fresh) > free:
        what = f"{len(fresh)} new rows do not fit: {max(free, 0)} are free on the sheet"
        where = plan.places[block].sheet
        raise InputError(what, "split the job, or clear rows that are not needed", where)
    cells: dict[Entry, Value] = {
        (block, name, begin + n): value
        for n, record in enumerate(fresh)
        for name, value in record.values.items()
    }
    first = ""
    if fresh:
        cell = plan.entry_at[block, plan.block(block).columns[0].id, begin]
        first = f"{cell.sheet}!{cell.address}"
    return Import(cells, tuple(r.where for r in fresh), tuple(skipped), first)


def _key(record: _Record, how: ListOf) -> tuple[str, ...]:
    """Return what makes a row the same: times to the minute, texts without regard to capitals."""
    found = []
    for name in how.keys:
        value = record.values.get(name)
        if name == "started" and isinstance(value, int | float):
            found.append(str(round(value * 24 * 60)))
        elif name in _LOTS:
            found.append(_plain_lot(value, record).casefold())
        else:
            found.append(text(value).casefold())
    return tuple(found)


def _plain_lot(value: Value, record: _Record) -> str:
    began = record.values.get("started")
    try:
        return lots.read(value, "Lot", int(began) if isinstance(began, int | float) else 1).lot
    except PourbookError:
        return text(value)


def _may_be(one: _Record, two: _Record, how: ListOf) -> bool:
    if not how.loose:
        return True
    first, second = (text(r.values.get(how.loose)).casefold() for r in (one, two))
    return first == second or not first or not second


def _but_for_its_number(known: Sequence[_Record], record: _Record, how: ListOf) -> _Record | None:
    """Return the row of the job that says the same, where one of the two lacks its number."""
    if not how.number:
        return None
    rest = replace(how, keys=tuple(name for name in how.keys if name != how.number))
    for one in known:
        lacks = [is_blank(r.values.get(how.number)) for r in (one, record)]
        same = _key(one, rest) == _key(record, rest) and _may_be(one, record, how)
        if lacks[0] != lacks[1] and same and not _difference(one, record, but=how.number):
            return one
    return None


def _difference(known: _Record, record: _Record, but: str = "") -> str:
    """Return the first field in which a row differs; a blank in the file says nothing."""
    for name, value in record.values.items():
        if name == but:
            continue
        other = known.values.get(name)
        if name in _LOTS and _plain_lot(value, record) == _plain_lot(other, known):
            continue
        if isinstance(value, float) and isinstance(other, int | float):
            if math.isclose(value, other, rel_tol=_SAME, abs_tol=_SAME):
                continue
        elif text(value).casefold() == text(other).casefold():
            continue
        return name
    return ""
