"""The estimator's own formulas, on sheets that Pourbook leaves open.

Contract: pure. :func:`left_alone` names the cells whose stored value is theirs to keep: formulas an
engine here does not know, and those that come out anew each time, with all that rest on them.
"""

from __future__ import annotations

import re
from collections.abc import Mapping

from pourbook.cells import Address, CellError, Value
from pourbook.formats.ooxml.addresses import cells as range_cells
from pourbook.workbook.layout.laid_out import Layout
from pourbook.workbook.read.read import RawBook

_VOLATILE = re.compile(
    r"\b(NOW|TODAY|RAND|RANDBETWEEN|RANDARRAY|OFFSET|INDIRECT|CELL|INFO)\(", re.IGNORECASE
)
_TEXT = re.compile(r'"[^"]*"')
_RANGE = re.compile(
    r"(?:(?:'((?:[^']|'')+)'|(\w+))!)?(\$?[A-Z]{1,3}\$?[0-9]+(?::\$?[A-Z]{1,3}\$?[0-9]+)?)"
)
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
    reads = {at: _read_by(at, formula) for at, formula in formulas.items()}
    while more := {at for at in formulas if at not in found and reads[at] & found}:
        found |= more
    return found


def _is_unknown(value: Value) -> bool:
    return isinstance(value, CellError) and value == _UNKNOWN


def _read_by(at: Address, formula: str) -> set[Address]:
    """Return the cells a formula reads."""
    return {
        (quoted.replace("''", "'") or plain or at[0], cell)
        for quoted, plain, area in _RANGE.findall(formula)
        for cell in range_cells(area.replace("$", ""))
    }
