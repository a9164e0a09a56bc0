"""The sheet Quoted read back, and the digests that tell whether anything has changed since.

Contract: digests are the first :data:`DIGITS` hexadecimal digits of SHA-256 over what is typed,
written in one way whatever program saved the file. They tell an honest change from none; they keep
nobody from writing a new digest on purpose. Nothing here changes a file.
"""

from __future__ import annotations

import hashlib
import math
from collections.abc import Mapping

from pourbook.functions.values import Value, clean, is_blank, text
from pourbook.hosts.headless.engine import Address
from pourbook.workbook.plan import Plan, PlannedCell
from pourbook.workbook.read import RawBook

SHEET = "Quoted"
RESTS_ON = ("Start", "Rooms", "Layers", "Products", "Buying", "Price")
"""The sheets whose entries a quote rests on: every entry a price or a line of Quote is reckoned
from stands there. Survey, Days and Hours plan the work and may change until it is done."""
DIGITS = 16
OF_THE_DAY = {"revision", "accepted_on", "accepted_by", "change", "seal"}
"""Fields of the form that do not come from the job itself."""

Key = tuple[str, str, int]
Kept = Mapping[Key, Value]


def canonical(value: Value) -> str:
    """Return a cell's content in the one form that is digested; nothing for a blank.

    A number is cut to 15 digits, which is what LibreOffice stores, and then to 12, so that the
    noise of one program's arithmetic against another's does not count.

    Example:
        >>> canonical(0.1 + 0.2) == canonical(0.3), canonical(" Bar "), canonical("12")
        (True, 't:Bar', 't:12')
    """
    if is_blank(value):
        return ""
    if isinstance(value, bool):
        return f"b:{value}"
    if isinstance(value, int | float):
        return f"n:{float(f'{value:.15g}'):.12g}"
    return "t:" + clean(str(value))


def _hash(lines: list[str]) -> str:
    return hashlib.sha256("\n".join(lines).encode()).hexdigest()[:DIGITS]


def _line(cell: PlannedCell, content: str) -> str:
    assert cell.field is not None
    return f"{cell.block}.{cell.field.id}.{cell.index}={content!r}"


def value_at(plan: Plan, book: RawBook, values: Mapping[Address, Value], key: Key) -> Value:
    """Return the value of a field: the recomputed one, else what stands in the file."""
    cell = plan.cell(*key)
    address = cell.sheet, cell.address
    if address in values:
        return values[address]
    sheet = book.sheets.get(cell.sheet)
    return sheet.value(cell.address) if sheet else None


def sheet_digests(plan: Plan, book: RawBook, values: Mapping[Address, Value]) -> dict[str, str]:
    """Return a digest of the entries of every sheet a quote rests on.

    Args:
        plan: The layout.
        book: The workbook as read.
        values: Its recomputed cells; an entry that is a formula counts by what it gives.
    """
    lines: dict[str, list[str]] = {name: [plan.system.name] for name in RESTS_ON}
    for cell in plan.entries:
        sheet = book.sheets.get(cell.sheet)
        if cell.sheet not in lines or sheet is None:
            continue
        value = values.get((cell.sheet, cell.address), sheet.value(cell.address))
        content = canonical(cell.field.listed(value) if cell.field else value)
        if content:
            lines[cell.sheet].append(_line(cell, content))
    return {name: _hash(found) for name, found in lines.items()}


def whole(digests: Mapping[str, str]) -> str:
    """Return one digest over others."""
    return _hash([f"{name}={digest}" for name, digest in digests.items()])


def kept(plan: Plan, book: RawBook) -> dict[Key, Value]:
    """Return what commands have written on Quoted, without the blank cells."""
    sheet = book.sheets.get(SHEET)
    found = {}
    for key, cell in plan.kept_at.items():
        value = sheet.value(cell.address) if sheet and cell.sheet == SHEET else None
        if not is_blank(value):
            found[key] = value
    return found


def tables(plan: Plan) -> dict[str, str]:
    """Return the titles of the sealed tables of Quoted by block id."""
    declared = next(s for s in plan.book.sheets if s.sheet == SHEET)
    return {b.id: plan.text(b.title) for b in declared.blocks if b.id != "quoted_sheets"}


def table_seals(plan: Plan, figures: Kept) -> dict[str, str]:
    """Return a digest of each table of Quoted, by its title."""
    lines: dict[str, list[str]] = {block: [] for block in tables(plan)}
    for key, cell in plan.kept_at.items():
        content = canonical(figures.get(key))
        if key[0] in lines and key[:2] != ("quoted", "seal") and content:
            lines[key[0]].append(_line(cell, content))
    return {title: _hash(lines[block]) for block, title in tables(plan).items()}


def seal(plan: Plan, figures: Kept) -> str:
    """Return the digest of all that commands have written on Quoted, the seal itself left out."""
    stored = {
        f"{key[1]}.{key[2]}": canonical(figures.get(key))
        for key in plan.kept_at
        if key[0] == "quoted_sheets"
    }
    return whole({**table_seals(plan, figures), **stored})


def listed(figures: Kept, rows: int) -> dict[str, str]:
    """Return the digests stored on Quoted by the name of their sheet or table."""
    return {
        text(figures.get(("quoted_sheets", "name", row))): text(
            figures.get(("quoted_sheets", "digest", row))
        )
        for row in range(rows)
        if ("quoted_sheets", "name", row) in figures
    }


def close(one: Value, two: Value) -> bool:
    """Return whether two figures are the same to 1e-9, two texts to their last letter."""
    numbers = isinstance(one, int | float) and isinstance(two, int | float)
    if numbers and not isinstance(one, bool) and not isinstance(two, bool):
        return math.isclose(float(one or 0), float(two or 0), rel_tol=1e-9, abs_tol=1e-9)
    return canonical(one) == canonical(two)
