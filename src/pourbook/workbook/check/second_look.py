"""Findings for what can be worked out and is not liked: looks, closed looks, tests, own formulas.

Contract: one finding a look or a test, at the entry it speaks of, in the words the sheet itself
shows. What a row cannot be worked out for is told by
:mod:`pourbook.workbook.check.check`.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from pourbook.cells import Address, Value, is_blank, text
from pourbook.formats.ooxml.lines import lines_not
from pourbook.functions.own.looks import CLOSED, OPEN
from pourbook.workbook.check.findings import LOOK, Finding
from pourbook.workbook.check.structure import as_offered, describe
from pourbook.workbook.layout.laid_out import Layout, PlannedCell
from pourbook.workbook.read.read import RawBook
from pourbook.workbook.read.sheet_lines import RawCell

_BAD_TESTS = ("fails", "too early")


def second_look(plan: Layout, book: RawBook, values: Mapping[Address, Value]) -> Iterator[Finding]:
    """Report every look that is open, and every test that does not hold."""
    file = book.path.name
    for look, entry, meant, usual, _ in _looks(plan, values, OPEN):
        block, name, row = entry.split(".") if entry else ("looks", "look", "0")
        cell = plan.cell(block, name, int(row))
        what = f"{look}; usual: {usual}" if usual else look
        mend = f"{meant}; if it is meant, close it on Looks with initials and a reason"
        yield Finding(LOOK, file, cell.sheet, cell.address, what, mend)
    for index in range(plan.block("proofs").rows):
        verdict, reason = (
            text(_value(plan, values, "proofs", name, index))
            for name in ("proof_verdict", "proof_reason")
        )
        if verdict in _BAD_TESTS:
            cell = plan.cell("tests", "reading", index)
            what = ": ".join(words for words in (describe(plan, cell), verdict, reason) if words)
            mend = "test again from the day it names, or repair the film"
            yield Finding("job.proof", file, cell.sheet, cell.address, what, mend)


def notes(plan: Layout, book: RawBook, values: Mapping[Address, Value]) -> Iterator[Finding]:
    """Say which looks are closed, and which cells for typing hold a formula."""
    file = book.path.name
    for look, entry, _, _, by in _looks(plan, values, CLOSED):
        block, name, row = entry.split(".") if entry else ("looks", "look", "0")
        cell = plan.cell(block, name, int(row))
        mend = "open it again: clear its row on Looks"
        yield Finding("look.closed", file, cell.sheet, cell.address, f"{look}: {by}", mend)
    for cell, raw in _worked(plan, book):
        if not is_blank(raw.value):
            given = values.get((cell.sheet, cell.address), raw.value)
            formula = "=" + raw.formula.removeprefix("=")
            what = f"{describe(plan, cell)} holds the formula {formula[:60]} and counts as "
            mend = "type the figure over it if it should stay as it is"
            what += f"{text(given)}"
            yield Finding("entry.worked", file, cell.sheet, cell.address, what, mend)


def _worked(plan: Layout, book: RawBook) -> list[tuple[PlannedCell, RawCell]]:
    """Return the cells for typing that hold a formula of somebody's own, in reading order."""
    found: dict[int, RawCell] = {}
    for name, places in plan.entry_places.items():
        sheet, look = book.sheets.get(name), f"nothing worked out in entries {name}"
        for line in lines_not(sheet.cells, look, plan.mark) if sheet else ():
            held = ((places[at], line.cells[at]) for at in places.keys() & line.cells.keys())
            own = {
                place: raw
                for place, raw in held
                if raw.formula and not as_offered(plan.entries[place], raw)
            }
            found |= own
            if not own:
                line.known[look] = plan.mark
    return [(plan.entries[at], found[at]) for at in sorted(found)]


def _looks(
    plan: Layout, values: Mapping[Address, Value], wanted: str
) -> Iterator[tuple[str, str, str, str, str]]:
    """Return name, entry, what may be meant, what is usual and who closed it, for each look."""
    for index in range(plan.block("looks").rows):
        look, state, entry, meant, usual, by = (
            text(_value(plan, values, "looks", f"look{name}", index))
            for name in ("", "_state", "_entry", "_meant", "_usual", "_by")
        )
        if state == wanted:
            yield look, entry, meant, usual, by


def _value(
    plan: Layout, values: Mapping[Address, Value], block: str, name: str, index: int
) -> Value:
    cell = plan.cell(block, name, index)
    return values.get((cell.sheet, cell.address))
