"""What Calc hands to a function, and what it can show: the only place that knows Calc's ways.

Contract: conversion only, and nothing but Pourbook and the standard library, for it runs inside
LibreOffice. A range comes as rows with an empty text for a blank cell; an argument left out comes
as None. A blank cell a scalar function points at comes as 0; where that 0 is refused and no bare
number could be typed, it counts as blank. Calc does not call a function whose range holds an error
value. A block function gives a block of floats and texts, any other a float or a text; Calc shows
neither None nor long whole numbers. Answers are remembered, because Calc asks three times for a
block (see ``wrapped``), and works out every cell of a sheet again whenever it likes.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from typing import Any

from pourbook.cells import Rows, Value
from pourbook.errors import FAILED
from pourbook.functions.catalogue import catalogue
from pourbook.functions.declare import Argument, Function, Result
from pourbook.hosts.headless.engine import Recomputed, call, spread
from pourbook.units import PLAIN_NUMBERS

Shown = float | str | tuple[tuple[float | str, ...], ...]
_BLOCKS, _CELLS = 256, 16384


def answer(name: str, given: tuple[Any, ...]) -> Shown:
    """Call a worksheet function for Calc.

    Args:
        name: The function's name, such as ``"PB_READ"``.
        given: Its arguments as Calc gives them, those left out as None.

    Returns:
        What to show.

    Example:
        >>> answer("PB_READ", ("2 ft 6 in", "in"))
        30.0
        >>> answer("PB_AREA", ("ft²", "rectangle", "2 ft", "3 in", 0.0))  # 0: a blank cell
        0.5
    """
    return _block(name, given) if catalogue()[name].columns else _cell_of(name, given)


@lru_cache(_BLOCKS)
def _block(name: str, given: tuple[Any, ...]) -> Shown:
    function = catalogue()[name]
    values = _arguments(function, given)
    return shown(spread(function, values, call(name, values, Recomputed())))


@lru_cache(_CELLS)
def _cell_of(name: str, given: tuple[Any, ...]) -> Shown:
    function = catalogue()[name]
    values = _arguments(function, given)
    result = call(name, values, Recomputed())
    if isinstance(result, str) and result.startswith(FAILED) and 0 in values:
        # Perhaps no 0 but a blank cell; where none could be typed that is what it was.
        blank = [_blank(a, v) for a, v in zip(function.arguments, values, strict=False)]
        result = call(name, blank, Recomputed())
    return shown(result)


def _blank(argument: Argument, value: Value | Rows) -> Value | Rows:
    unit = argument.kind == "measure" and argument.dimension not in PLAIN_NUMBERS
    return None if value == 0 and (unit or argument.kind == "text") else value


def _arguments(function: Function, given: Sequence[Any]) -> list[Value | Rows]:
    last = len(given)
    while last and given[last - 1] is None:
        last -= 1
    values: list[Value | Rows] = []
    for argument, raw in zip(function.arguments, given[:last], strict=False):
        if not isinstance(raw, tuple):
            values.append(raw)
        elif argument.kind != "rows" and len(raw) == len(raw[0]) == 1:
            values.append(_one(raw[0][0]))
        else:
            values.append([[_one(cell) for cell in row] for row in raw])
    return values


def _one(cell: Any) -> Value:
    return None if cell == "" else cell


def shown(result: Result) -> Shown:
    """Return a result as Calc shows it.

    Example:
        >>> shown([[None, 2**40], ["ok", True]])
        (('', 1099511627776.0), ('ok', 1.0))
    """
    if isinstance(result, list):
        return tuple(tuple(_cell(value) for value in row) for row in result)
    return _cell(result)


def _cell(value: Value) -> float | str:
    if value is None or isinstance(value, str):
        return str(value or "")
    return float(value)
