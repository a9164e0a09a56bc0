"""PB_ENTERED: whether what is typed on the sheets a quote rests on is what it was when accepted.

Contract: a digest is the first :data:`DIGITS` hexadecimal digits of SHA-256 over what is typed,
written in one way whatever program saved the file. It tells an honest change from none; it keeps
nobody from writing a new digest on purpose. Capitals and blanks nobody sees make no difference.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Iterable, Sequence
from typing import TypeVar

from pourbook.cells import (
    OK,
    Columns,
    Rows,
    Value,
    as_mapping,
    clean,
    is_blank,
    refuse_errors,
    text,
)
from pourbook.functions.batch import bucket_heat
from pourbook.functions.declare import Argument, Example, Function, Result
from pourbook.tables import doing, layers, products, rooms, works
from pourbook.tables.buy import additives, packs
from pourbook.tables.declared import Column
from pourbook.trade.batch.pieces import Going

DIGITS = 16
_One = TypeVar("_One")
_FORM = ("typed",)
_SAFETY = ("isocyanate", "flammable", "voc", "respirator", "vertical", "figures")
_COATINGS = Columns(
    [name for name in products.COLUMNS if name not in _SAFETY], products.COLUMNS.older
)
"""What a safety data sheet says, whose figures they are, and how much of what is poured stays on an
edge, may be typed at any time: no amount that is mixed and no price rests on it."""
_PIECES = Columns([name for name in rooms.COLUMNS if name != "colour"], rooms.COLUMNS.older)
"""A colour alone changes neither amount nor price; it may be chosen after the quote is accepted."""
TABLES = {
    "start": ("Start", "job and client", _FORM),
    "money": ("Start", "currency and tax", _FORM),
    "site": ("Start", "site and crew", _FORM),
    "rooms": ("Rooms", "pieces", _PIECES),
    "layers": ("Layers", "layers", layers.COLUMNS),
    "doing": ("Layers", "layers as they are done", doing.DOING),
    "products": ("Products", "products", _COATINGS),
    "working": ("Products", "products as they work", works.COLUMNS),
    "kinetics": ("Products", "kinetics", bucket_heat.COLUMNS),
    "packs": ("Buying", "packs", packs.PACKS),
    "stock": ("Buying", "stock", packs.STOCK),
    "sundries": ("Buying", "sundries", ("item", "item_per", "quantity", "each")),
    "rates": ("Price", "rates", _FORM),
    "labour": ("Price", "steps of labour", ("step", "per", "hours")),
    "additives": ("Buying", "additives", additives.COLUMNS),
}
"""What is typed on the sheets a quote rests on: each table, its sheet, what it holds, its columns.

The day work begins may move: it is no part of the quote, and what it moves is compared itself."""
LATER = ("additives",)
"""Tables that jobs of templates 1 do not have: they are handed over behind the digests kept."""
RESTS_ON = tuple(dict.fromkeys(sheet for sheet, _, _ in TABLES.values()))
"""The sheets whose entries a quote rests on: every entry a price or a line of Quote is reckoned
from stands there, but for Survey, Days and Hours: they plan the work and may change until it is
done, and what they move of the quote is compared itself."""

STEPS_ALONE = "steps alone"

AS_BEFORE = {
    ("site", None): Going.FEWEST.value,
    ("doing", "share"): 1.0,
    ("doing", "carrying"): 0.0,
    ("rates", None): STEPS_ALONE,
}
"""What a job of templates 1 went by before there was such an entry: carried over, it is no change.
A form has no columns."""


_KEPT_AT = len(TABLES) - len(LATER)


def parted(given: Sequence[_One]) -> list[_One]:
    """Return what is handed over of the tables, without the digests kept, in their order."""
    return [*given[:_KEPT_AT], *given[_KEPT_AT + 1 :]]


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


def first_called(column: str | None, value: Value) -> Value:
    """Return an entry in the word it first had, so that a new word for the same is no change.

    Example:
        >>> first_called("surfaces", "top + backsplash")
        'top + splash'
    """
    if column == "surfaces" and isinstance(value, str):
        return re.sub(r"\bbacksplash\b", "splash", value, flags=re.IGNORECASE)
    return value


def digest(lines: Iterable[str]) -> str:
    """Return the digest of some lines of text.

    Example:
        >>> digest(["a"])
        'ca978112ca1bbdca'
    """
    return hashlib.sha256("\n".join(lines).encode()).hexdigest()[:DIGITS]


def sheet_digests(tables: Iterable[Rows]) -> dict[str, str]:
    """Return a digest for each sheet, of the tables that are typed on it.

    Args:
        tables: The rows of each of :data:`TABLES`, in its order.
    """
    lines: dict[str, list[str]] = {sheet: [] for sheet in RESTS_ON}
    for (name, (sheet, _, columns)), rows in zip(TABLES.items(), tables, strict=False):
        for at, row in enumerate(rows):
            names = columns if columns is not _FORM else (None,)
            for across, (value, column) in enumerate(zip(row, names, strict=False)):
                content = canonical(first_called(column, value)).casefold()
                if content and AS_BEFORE.get((name, column)) != value:
                    lines[sheet].append(f"{name}.{at}.{across}={content!r}")
    return {sheet: digest(found) for sheet, found in lines.items()}


def entered(*ranges: Rows) -> Result:
    """Return the digest of each sheet now, and whether it is the one that was kept, given last.

    Raises:
        InputError: A range has the wrong number of columns, or a cell shows an error or a refusal.
    """
    tables: list[Rows] = parted(ranges)
    tables += [[]] * (len(TABLES) - len(tables))
    kept = ranges[_KEPT_AT]
    for (_, what, columns), table in zip(TABLES.values(), tables, strict=True):
        labels = dict.fromkeys(columns, what.capitalize())
        for row in table:
            refuse_errors(as_mapping(row, columns), labels)
    rows = [as_mapping(row, ("name", "digest")) for row in kept]
    for read in rows:
        refuse_errors(read, dict.fromkeys(read, "A digest that was kept"))
    then = {text(row["name"]): text(row["digest"]) for row in rows}
    found: list[list[Value]] = []
    for sheet, now in sheet_digests(tables).items():
        was = then.get(sheet, "")
        found.append([OK, sheet, now, "" if not was else "same" if was == now else "changed"])
    return found


def _argument(name: str, *, optional: bool = False) -> Argument:
    _, what, columns = TABLES[name]
    return Argument(name, "rows", f"The {what}.", columns=columns, optional=optional)


_EMPTY = digest([])
_NOTHING = tuple(
    (("",) * len(columns),) for name, (_, _, columns) in TABLES.items() if name not in LATER
)

PB_ENTERED = Function(
    name="PB_ENTERED",
    summary="Whether what is typed on each sheet a quote rests on is what it was when accepted.",
    arguments=(
        *(_argument(name) for name in TABLES if name not in LATER),
        Argument("kept", "rows", "The digests that were kept.", columns=("name", "digest")),
        *(_argument(name, optional=True) for name in LATER),
    ),
    result="a block: ok, the sheet, its digest, and same or changed; blank if none was kept",
    valid="always",
    source="SHA-256: FIPS 180-4, by Python's hashlib",
    examples=(
        Example(
            (*_NOTHING, (("Price", "ca978112ca1bbdca"), ("Layers", _EMPTY))),
            tuple(
                (OK, sheet, _EMPTY, {"Price": "changed", "Layers": "same"}.get(sheet, ""))
                for sheet in RESTS_ON
            ),
        ),
    ),
    compute=entered,
    columns=(
        Column("entered_status", "ok, or why it cannot be told"),
        Column("entered_sheet", "the sheet"),
        Column("entered_digest", "its digest now"),
        Column("entered_since", "same or changed since it was accepted; blank before"),
    ),
    rows=len(RESTS_ON),
)
