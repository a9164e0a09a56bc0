"""What formualizer hands over to our functions and takes back, and calls of blocks set by hand.

Contract: conversion only: formualizer hands over blanks as None, ranges as lists of rows, errors as
mappings, and numbers always as floats. What it calls must not hold the workbook: Python cannot see
that the engine holds what it calls, and would never let go of either.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any, NamedTuple

from pourbook.cells import CellError, Rows, Value
from pourbook.formats.ooxml.addresses import areas_named
from pourbook.functions.catalogue import catalogue
from pourbook.hosts.headless.engine import Recomputed, call, spread, tidy

_CODES = {
    "Div": "#DIV/0!",
    "Na": "#N/A",
    "Value": "#VALUE!",
    "Name": "#NAME?",
    "Num": "#NUM!",
    "Ref": "#REF!",
    "Null": "#NULL!",
}
CALLS = "pourbook calls"
"""A sheet of the engine alone, with a cell for each block: what fills it, one call."""
_CALL = re.compile(r"\s*([A-Z_]+)\(")
_CELL = r"\$?[A-Z]{1,3}\$?\d{1,7}"
_BARE = re.compile(
    rf"(\"[^\"]*\"|(?:'(?:[^']|'')*'|[\w.]+)!{_CELL}(?::{_CELL})?|[A-Za-z_][\w.]*\()"
    rf"|(?<![\w.$]){_CELL}(?::{_CELL})?(?![\w.(])"
)
"""In a formula: a text, a cell of a named sheet or a function, else a cell of the same sheet."""


class BlockCall(NamedTuple):
    """A block: its sheet, the formula that fills it, without its equals sign, and its area."""

    sheet: str
    words: str
    area: str

    def box(self) -> tuple[int, int, int, int]:
        """Return its first row and column, and its last."""
        ((_, top, left, bottom, right),) = areas_named(self.area)
        return top, left, bottom, right


def plain_value(value: Any) -> Value:
    """Return what the engine hands over as a plain value."""
    if isinstance(value, dict):
        return CellError(_CODES.get(str(value.get("kind")), "#VALUE!"))
    return tidy(value)


def register(
    book: Any,
    name: str,
    record: Recomputed,
    block: Callable[[list[list[Value]]], Any],
    *,
    alias: str = "",
    alone: bool = False,
) -> None:
    """Let a workbook call a function of ours.

    Args:
        book: The workbook in formualizer.
        name: The function's name.
        record: Is told of every call and of what goes wrong inside it.
        block: Is given the rows of a result that is a block, and gives what the engine gets.
        alias: Under what name it is called; its own if left out.
        alone: Whether the record is of this call alone: a new call forgets what the last one told.
    """

    def called(*given: Any) -> Any:
        if alone:
            record.refusals.clear()
            record.reasons.clear()
        values = [_argument(value) for value in given]
        result = spread(catalogue()[name], values, call(name, values, record))
        if not isinstance(result, list):
            return 0.0 if result is None else result
        record.blocks += 1
        return block(result)

    most = max(len(catalogue()[name].arguments), 1) + 8
    book.register_function(alias or name, called, min_args=0, max_args=most)


def stand_call(book: Any, number: int, block: BlockCall, record: Recomputed) -> list[list[Value]]:
    """Set the call of a block on the sheet of calls, where it fills nothing.

    Args:
        book: The workbook in formualizer, with a sheet :data:`CALLS`.
        number: Which block it is, from 1.
        block: The block.
        record: As for :func:`register`, of this call alone.

    Returns:
        The rows it gives, once it is called; empty until then.

    Raises:
        ValueError: No function of Pourbook fills the block.
    """
    found = _CALL.match(block.words)
    if found is None or found[1] not in catalogue():
        raise ValueError(f"no function of Pourbook fills {block.area}")
    filled: list[list[Value]] = []

    def keep(rows: list[list[Value]]) -> float:
        filled[:] = rows
        return 0.0

    alias = f"PB_BLOCK_{number}"
    register(book, found[1], record, keep, alias=alias, alone=True)
    words = qualified(block.words[found.end() :], block.sheet)
    book.set_formulas_batch(CALLS, number, 1, [[f"={alias}({words}"]])
    return filled


def qualified(arguments: str, sheet: str) -> str:
    """Return arguments with the sheet they stand on named, for a call that stands on another."""
    own = sheet.replace("'", "''")
    return _BARE.sub(lambda m: m[0] if m[1] else f"'{own}'!{m[0]}", arguments)


def _argument(value: Any) -> Value | Rows:
    if isinstance(value, list):
        return [[plain_value(one) for one in row] for row in value]
    return plain_value(value)
