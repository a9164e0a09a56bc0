"""The headless check: structure, entries, recomputing and the job's own checks of one workbook.

Contract: :func:`check_file` reads a workbook and reports findings; reading never changes the file.
A file that cannot be read is a :class:`~pourbook.errors.FileUnreadableError`, not a finding.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from pathlib import Path

from pourbook.cells import Address, CellError, Value, is_refused, text, unmarked, word
from pourbook.errors import EntryAt, InputError, PourbookError
from pourbook.formats.ooxml.lines import SheetLine, lines_of
from pourbook.functions.catalogue import catalogue
from pourbook.hosts import headless
from pourbook.hosts.headless.engine import Read, Recomputed, same
from pourbook.records import dataclass
from pourbook.workbook.audit.own_units import own_units
from pourbook.workbook.check.appearance import check_appearance
from pourbook.workbook.check.closed import check_closed
from pourbook.workbook.check.entries import check_entries
from pourbook.workbook.check.findings import LOOKS, NOTES, Finding
from pourbook.workbook.check.quoted_check import check_quoted
from pourbook.workbook.check.second_look import notes, second_look
from pourbook.workbook.check.structure import OURS, check_structure, describe, has_other_layout
from pourbook.workbook.layout.laid_out import Layout, PlannedCell
from pourbook.workbook.read.own_formulas import left_alone
from pourbook.workbook.read.read import KINDS, RawBook, formula_cells, read_book
from pourbook.workbook.read.sheet_lines import RawCell

_CAUSES = {"structure.sheet", "structure.moved", "structure.version"}
_TOLD = {"quoted.changed": "unchanged", "job.proof": "proof"}
"""Findings that say more exactly what a check says."""
_NAMED = {"working": "name", "products": "product"}
"""Tables whose rows are named in what other sheets say of them, and the column that names them."""
FEW = 3
_SHOW = "cells that show a refusal"


@dataclass(frozen=True)
class Checked:
    """A workbook as read and recomputed, what was found, and what is only said."""

    book: RawBook
    plan: Layout
    values: Mapping[Address, Value]
    findings: tuple[Finding, ...]
    notes: tuple[Finding, ...] = ()


def check_file(
    path: Path,
    engines: tuple[str, ...] = ("fast",),
    step: Callable[[str], None] = lambda _: None,
    book: RawBook | None = None,
    kinds: tuple[str, ...] = tuple(KINDS),
    *,
    copy: bool = False,
) -> Checked:
    """Check one workbook.

    Args:
        path: The workbook.
        engines: The engines to recompute with; the first one's values are compared with the file,
            the others' with the first.
        step: Told of each step, for a progress display.
        book: The workbook, if it was read already.
        kinds: The books that will do; any unless named.
        copy: Whether a books copy is checked too: its functions are values, all else is live.

    Raises:
        FileUnreadableError: The file cannot be read as a workbook of these kinds.
    """
    step("reading")
    book = book or read_book(path)
    plan = book.plan(*kinds, copy=copy)
    findings = [*check_structure(plan, book)]
    if has_other_layout(plan, book):
        return Checked(book, plan, {}, _placed(plan, findings))
    if any(f.id in {"structure.sheet", "structure.moved"} for f in findings):
        # Without a sheet, or with one whose cells stand elsewhere, nothing else can be judged:
        # name the cause alone.
        causes = [f for f in findings if f.id in _CAUSES]
        return Checked(book, plan, {}, _placed(plan, causes))
    findings += check_appearance(plan, book)
    step("checking entries")
    findings += check_entries(plan, book)
    done: list[Recomputed] = []
    read = Read({name: sheet.cells for name, sheet in book.sheets.items()}, plan.program)
    for name in engines:
        step(f"recomputing, {name} engine")
        done.append(headless.engine(name).recompute(path, formula_cells(book), read))
    values = done[0].values
    if book.copy_of:
        values = {**_given(plan, book), **values}
    findings += _reasons(book, done[0])
    alone = left_alone(plan, book, values)
    judged = {at: value for at, value in values.items() if at not in alone} if alone else values
    if not done[0].as_stored:
        findings += _stored(plan, book, judged)
    for name, other in zip(engines[1:], done[1:], strict=True):
        findings += _agreement(book, judged, other.values, f"{engines[0]} and {name}")
    findings += _rows(plan, book, replace(done[0], values=values), findings)
    findings += _own_units(plan, book)
    said: list[Finding] = []
    own: list[Finding] = []
    if plan.book.book == "job":
        own += second_look(plan, book, values)
        own += check_quoted(plan, book, values)
        own += check_closed(plan, book)
        said += notes(plan, book, values)
    failing = _job_checks(plan, book, values, {_TOLD[f.id] for f in own if f.id in _TOLD})
    findings += [*_waiting(plan, book, failing, findings), *own]
    return Checked(book, plan, values, _placed(plan, findings), _placed(plan, said))


def _given(plan: Layout, book: RawBook) -> dict[Address, Value]:
    """Return what a books copy holds in place of Pourbook's functions."""
    return {
        (cell.sheet, cell.address): book.sheets[cell.sheet].value(cell.address)
        for cell in plan.cells
        if cell.fill or OURS.search(cell.formula)
    }


def _own_units(plan: Layout, book: RawBook) -> Iterator[Finding]:
    mend = "look at the units of the cells it reads; PB_CONVERT turns one unit into another"
    for (sheet, cell), what in own_units(plan, book):
        said = f"its units do not fit: {what}"
        yield Finding("own.units", book.path.name, sheet, cell, said, mend)


def _placed(plan: Layout, findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """Return the findings; those at an entry say by ids which it is."""
    return tuple(replace(f, entry=_entry_at(plan, (f.sheet, f.cell))) for f in findings)


def _entry_at(plan: Layout, address: Address) -> EntryAt | None:
    cell = plan.by_address.get(address)
    if cell is None or cell.role != "entry" or cell.field is None:
        return None
    return EntryAt(cell.block, cell.field.id, cell.index)


def _reasons(book: RawBook, done: Recomputed) -> Iterator[Finding]:
    for reason in dict.fromkeys(done.reasons):
        what = f"{reason.function}: {reason.message}"
        mend = "this is a fault of Pourbook: send us the workbook and this line"
        yield Finding("function.failed", book.path.name, "", "", what, mend)


def _stored(plan: Layout, book: RawBook, values: Mapping[Address, Value]) -> Iterator[Finding]:
    """Compare what the file shows with what its formulas give."""
    mend = f"store fresh values: pourbook recompute {book.path.name}"
    empty = [
        a for a in values if book.sheets[a[0]].value(a[1]) is None and values[a] not in ("", None)
    ]
    if empty:
        what = f"{len(empty)} formulas have no stored value, this the first"
        sheet, cell = empty[0]
        yield Finding("recompute.novalue", book.path.name, sheet, cell, what, mend)
    skip = set(empty)
    differing: dict[tuple[str, str], list[Address]] = defaultdict(list)
    for address, value in values.items():
        stored = book.sheets[address[0]].value(address[1])
        if address not in skip and not same(stored, value):
            planned = plan.by_address.get(address)
            differing[_together(planned, address)].append(address)
    if len(differing) > FEW:  # typed and not worked out since: one command mends all of it
        old = [address for addresses in differing.values() for address in addresses]
        sheets = ", ".join(dict.fromkeys(sheet for sheet, _ in old))
        what = f"{len(old)} cells show old values, on {sheets}; the first, "
        what += _old(plan, book, values, old[0])
        yield Finding("recompute.differs", book.path.name, *old[0], what, mend)
        return
    for addresses in differing.values():
        # A whole block that went wrong is one fault, not a hundred.
        for address in addresses if len(addresses) <= FEW else addresses[:1]:
            what = _old(plan, book, values, address)
            if len(addresses) > FEW:
                what += f"; so do {len(addresses) - 1} more cells there"
            yield Finding("recompute.differs", book.path.name, *address, what, mend)


def _old(plan: Layout, book: RawBook, values: Mapping[Address, Value], address: Address) -> str:
    """Return what a cell shows and what it should."""
    planned = plan.by_address.get(address)
    label = f"{describe(plan, planned)} " if planned else ""
    stored = book.sheets[address[0]].value(address[1])
    what = f"{label}shows {_shown(stored)}, its formula gives {_shown(values[address])}"
    if stored == "#NAME?":
        what += " (the program that saved it does not know Pourbook's functions)"
    return what


def _together(planned: PlannedCell | None, address: Address) -> tuple[str, str]:
    """Return what cells share that are told of in one line: their block, or the overall check."""
    if planned is None:
        return address
    return ("", "overall") if planned.role == "check" else (address[0], planned.block)


def _shown(value: Value) -> str:
    if isinstance(value, float):
        return f"{value:.10g}"
    return f"'{text(value)}'"


def _agreement(
    book: RawBook, one: Mapping[Address, Value], two: Mapping[Address, Value], names: str
) -> Iterator[Finding]:
    for (sheet, cell), value in one.items():
        other = two.get((sheet, cell))
        if not same(value, other):
            what = f"{names} give {_shown(value)} and {_shown(other)}"
            mend = "trust neither: send us the workbook"
            yield Finding("engines.disagree", book.path.name, sheet, cell, what, mend)


def _rows(
    plan: Layout,
    book: RawBook,
    done: Recomputed,
    known: list[Finding],
) -> Iterator[Finding]:
    """Report refusals and error values in computed cells, at the entry they speak of.

    A cell that only waits for another one is no fault of its own: it is reported only where no
    fault it could wait for was found.
    """
    values = done.values
    seen = {(f.sheet, f.cell) for f in known if f.id.startswith(("entry.", "structure."))}
    roots = any(f.id.startswith("entry.") for f in known)
    waiting: list[Finding] = []
    # What may not go on paper yet says which sheet to look at: that sheet has its own finding.
    told = {values.get((c.sheet, c.address)) for c in plan.in_block.get("standing", ())}
    for cell in _refused(plan, book, done):
        value = values[cell.sheet, cell.address]
        if isinstance(value, CellError):
            what = f"{describe(plan, cell)} shows {value}"
            mend = "fix the entries it is worked out from"
            waiting.append(
                Finding("job.error", book.path.name, cell.sheet, cell.address, what, mend)
            )
            continue
        if plan.block(cell.block).kind != "table":
            continue  # a total that waits for its rows
        if cell.field is not None and (cell.field.of_guest or cell.field.repeats):
            continue  # the table it is worked out for, or that it repeats, has it in its own row
        refusal = _refusal(plan, cell, value, done.refusals)
        place = _entry_of(plan, book, cell, refusal)
        sheet, address = place or (cell.sheet, cell.address)
        if (sheet, address) in seen or value in told:
            continue  # the same refusal stands in every block that needs this one
        seen.add((sheet, address))
        told.add(value)
        what = f"{refusal.where}: {refusal.what}" if refusal.where else refusal.what
        if not refusal.mend:
            what = f"{describe(plan, cell)}: {what}"
        mend = refusal.mend or "see the columns it is worked out from"
        found = Finding("job.row", book.path.name, sheet, address, what, mend, refusal.kind)
        if place is not None:
            roots = True
            yield found
        else:
            waiting.append(found)
    if not roots:
        yield from waiting


def _refused(plan: Layout, book: RawBook, done: Recomputed) -> list[PlannedCell]:
    """Return the computed cells of blocks that show a refusal or an error, in their order."""
    found: dict[str, set[str]] = {}
    if done.as_stored:  # by far the most: each row is looked at once
        for name, sheet in book.sheets.items():
            found[name] = {one for line in lines_of(sheet.cells) for one in _bad_in(line)}
    else:
        for (name, address), value in done.values.items():
            if _is_bad(value):
                found.setdefault(name, set()).add(address)
    return [
        cell
        for sheet in plan.on_sheet
        if (bad := found.get(sheet))
        for cell in plan.on_sheet[sheet]
        if cell.address in bad and cell.block and (cell.formula or cell.fill)
        if (sheet, cell.address) in done.values
    ]


def _bad_in(line: SheetLine[RawCell]) -> Sequence[str]:
    """Return the cells of a row that show a refusal or an error."""
    found: Sequence[str] | None = line.known.get(_SHOW)
    if found is None:
        cells = line.cells.items()
        found = line.known[_SHOW] = tuple([at for at, raw in cells if _is_bad(raw.value)])
    return found


def _is_bad(value: Value) -> bool:
    """Return whether a cell shows a refusal or an error."""
    return isinstance(value, CellError) or (is_refused(value) and bool(unmarked(value)))


def _refusal(
    plan: Layout,
    cell: PlannedCell,
    said: Value,
    refusals: Mapping[str, Sequence[PourbookError]],
) -> PourbookError:
    """Return the refusal a cell shows; what the sheet's own formulas say is all there is of it."""
    behind = refusals.get(str(said)) or [InputError(unmarked(said))]
    source = _source(plan, cell)
    own = (one for one in behind if one.place and one.place.table == source)
    return next(own, next((one for one in behind if one.place), behind[0]))


def _entry_of(
    plan: Layout, book: RawBook, cell: PlannedCell, refusal: PourbookError
) -> Address | None:
    """Return the entry a refusal speaks of, if it is known and stands in the workbook."""
    said = refusal.place or EntryAt(cell.block, _headed(plan, cell, refusal.what))
    index = said.index
    if said.named:
        index = _row_of(plan, book, said)
    elif index is None and said.table == _source(plan, cell):
        index = cell.index
    entry = None if index is None else plan.entry_at.get((said.table, said.field, index))
    return (entry.sheet, entry.address) if entry else None


def _source(plan: Layout, cell: PlannedCell) -> str:
    """Return the table whose rows those of a result are; nothing where they are of none."""
    fill = plan.block(cell.block).fill
    if fill is None:
        return cell.block
    if catalogue()[fill.function].rows:
        return ""
    return fill.arguments[0].strip("{}").partition(".")[0]


def _headed(plan: Layout, cell: PlannedCell, words: str) -> str:
    """Return the column that a refusal of the sheet's own begins with, as its formula has it."""
    if plan.block(cell.block).fill is not None:
        return ""
    headings = {item.id: plan.text(item.header) + ":" for item in plan.block(cell.block).columns}
    return next((id for id, heading in headings.items() if words.startswith(heading)), "")


def _row_of(plan: Layout, book: RawBook, said: EntryAt) -> int | None:
    """Return the row of a table that a name stands in."""
    key = _NAMED.get(said.table, "")
    for index in range(plan.block(said.table).rows) if key else ():
        name = plan.cell(said.table, key, index)
        if word(book.sheets[name.sheet].value(name.address)) == word(said.named):
            return index
    return None


def _waiting(
    plan: Layout, book: RawBook, checks: Iterator[tuple[str, Finding]], known: list[Finding]
) -> Iterator[Finding]:
    """Tell the checks one by one, or in one line while a cause is named where it was typed."""
    failing = list(checks)
    harmless = {*LOOKS, *NOTES, "appearance.lies"}  # says nothing of what the cell holds
    causes = [f for f in known if f.id not in harmless and _entry_at(plan, (f.sheet, f.cell))]
    if len(failing) < 2 or not causes:
        yield from (finding for _, finding in failing)
        return
    labels = "; ".join(label for label, _ in failing)
    first = failing[0][1]
    what = f"{len(failing)} checks do not hold, and may only wait for {causes[0].place}: {labels}"
    mend = "fix what is named at the cells that were typed, then check again"
    yield Finding("job.check", book.path.name, first.sheet, first.cell, what, mend)


def _job_checks(
    plan: Layout, book: RawBook, values: Mapping[Address, Value], told: set[str]
) -> Iterator[tuple[str, Finding]]:
    """Report the checks that do not hold, by their labels, unless their cause is told already."""
    for cell in plan.checks:
        check = plan.block(cell.block).checks[cell.index]
        if check.id not in told and values.get((cell.sheet, cell.address)) != "OK":
            label, mend = plan.text(check.label), plan.text(check.mend)
            what = f"does not hold: {label}"
            yield (
                label,
                Finding("job.check", book.path.name, cell.sheet, cell.address, what, mend),
            )
