"""Takes what Excel hands to a function, and gives back what Excel can show.

Contract: conversion only, without xlwings, so that it runs and is tested anywhere. In come the
values of COM: numbers, currency as Decimal, dates as datetime, error values as whole numbers,
ranges and array constants as tuples. Out goes what :mod:`pourbook.cells` describes.
"""

from __future__ import annotations

import datetime as dt
from decimal import Decimal

from pourbook.cells import CellError, Rows, Value
from pourbook.dates import EPOCH
from pourbook.functions.declare import Argument, Result

ERRORS = {
    -2146826288: "#NULL!",
    -2146826281: "#DIV/0!",
    -2146826273: "#VALUE!",
    -2146826265: "#REF!",
    -2146826259: "#NAME?",
    -2146826252: "#NUM!",
    -2146826246: "#N/A",
}
_ALL_ERRORS = range(-2146826300, -2146826200)  # newer Excel has more, such as #SPILL!
_VBA_WORDS = """
    and as boolean byref byte byval call case class const currency date debug decimal declare dim
    do double each else elseif empty end enum erase error event exit false for friend from
    function get global gosub goto if imp implements in input integer is let lib like line long
    loop lset me mod name new next not nothing null object on open option optional or paramarray
    preserve print private property public put raiseevent redim rem resume return rset seek select
    set single static step stop string sub text then time to true type typeof until variant wend
    while width with withevents write xor
"""


def parameter(argument: Argument) -> str:
    """Return an argument's name as VBA takes it.

    Example:
        >>> [parameter(Argument(name, "text", "")) for name in ("gap or pitch", "to")]
        ['gap_or_pitch', 'to_']
    """
    name = "".join(c if c.isalnum() else "_" for c in argument.name)
    return name + "_" * (name.lower() in _VBA_WORDS.split())


def taken(given: object) -> Value | Rows:
    """Return an argument as Excel passes it in the terms of the catalogue.

    Example:
        >>> taken(((1.0, None), ("a", -2146826246)))
        [[1.0, None], ['a', '#N/A']]
        >>> taken(Decimal("12.5")), taken(dt.datetime(2026, 11, 25, 12))
        (12.5, 46351.5)
    """
    if not isinstance(given, tuple | list):
        return _one(given)
    if any(isinstance(row, tuple | list) for row in given):
        return [[_one(v) for v in row] for row in given]
    return [[_one(v) for v in given]]  # an array constant of one row


def _one(value: object) -> Value:
    if value is None or isinstance(value, bool | str):
        return value if value != "" else None
    if isinstance(value, int) and value in _ALL_ERRORS:
        return CellError(ERRORS.get(value, "#VALUE!"))
    if isinstance(value, int | float | Decimal):
        return float(value)
    if isinstance(value, dt.datetime):
        return (value.replace(tzinfo=None) - EPOCH) / dt.timedelta(days=1)
    return CellError("#VALUE!")


def shown(result: Result) -> object:
    """Return a result as Excel takes it: floats, texts, and rows of them; a blank is empty text.

    Example:
        >>> shown([[1, None], ["ok", True]])
        [[1.0, ''], ['ok', True]]
    """
    if isinstance(result, list):
        return [[_cell(v) for v in row] for row in result]
    return _cell(result)


def _cell(value: Value) -> object:
    if value is None:
        return ""
    return value if isinstance(value, bool | str) else float(value)
