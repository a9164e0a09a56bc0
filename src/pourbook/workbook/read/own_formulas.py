"""The estimator's own formulas, on sheets that Pourbook leaves open.

Contract: pure. :func:`left_alone` names the cells whose stored value is theirs to keep: formulas an
engine here does not know, and those that come out anew each time, with all that rest on them.
"""

from __future__ import annotations

import re
from collections.abc import Mapping

from pourbook.cells import Address, CellError, Value
from pourbook.formats.ooxml.addresses import areas_named, split
from pourbook.workbook.layout.laid_out import Layout
from pourbook.workbook.read.read import RawBook

_VOLATILE = re.compile(
    r"\b(NOW|TODAY|RAND|RANDBETWEEN|RANDARRAY|OFFSET|INDIRECT|CELL|INFO)\(", re.IGNORECASE
)
_TEXT = re.compile(r'"[^"]*"')
_UNKNOWN = "#NAME?"


def left_alone(plan: Layout, book: RawBook, values: Mapping[Address, Value]) -> set[Address]:
    """Return the own formulas whose stored values are neither renewed nor judged.

    Args:
        plan: The layout.
        book: The workbook as read.
        values: What an engine gives for its formulas.
    """
    formulas = {
        (sheet.sheet, address): _TEXT.sub("", cell.formula)
        for sheet in plan.book.sheets
        if sheet.kind == "open" and sheet.sheet in book.sheets
        for address, cell in book.sheets[sheet.sheet].cells.items()
        if cell.formula and (sheet.sheet, address) not in plan.by_address
    }
    found = {
        at
        for at, formula in formulas.items()
        if _VOLATILE.search(formula) or _is_unknown(values.get(at))
    }
    while more := {
        at
        for at, formula in formulas.items()
        if at not in found and any(_reads(at, formula, one) for one in found)
    }:
        found |= more
    return found


def _is_unknown(value: Value) -> bool:
    return isinstance(value, CellError) and value == _UNKNOWN


def _reads(at: Address, formula: str, one: Address) -> bool:
    """Return whether a formula reads a cell."""
    sheet, (row, column) = one[0].casefold(), split(one[1])
    return any(
        (named or at[0].casefold()) == sheet and top <= row <= bottom and left <= column <= right
        for named, top, left, bottom, right in areas_named(formula)
    )
