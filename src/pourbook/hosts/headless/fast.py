"""The fast engine: formualizer, a compiled spreadsheet engine.

Contract: see :mod:`pourbook.hosts.headless.engine`. Conversion only: formualizer hands over blanks
as None, ranges as lists of rows, errors as mappings, and numbers always as floats.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any

import formualizer

from pourbook.errors import FileUnreadableError
from pourbook.functions.catalogue import catalogue
from pourbook.functions.values import CellError, Rows, Value
from pourbook.hosts.headless.engine import Address, Recomputed, call, tidy
from pourbook.workbook.addresses import split

_CODES = {
    "Div": "#DIV/0!",
    "Na": "#N/A",
    "Value": "#VALUE!",
    "Name": "#NAME?",
    "Num": "#NUM!",
    "Ref": "#REF!",
    "Null": "#NULL!",
}
_EPOCH = dt.datetime(1899, 12, 30)


class FastEngine:
    """Recomputes through formualizer."""

    name = "fast"

    def recompute(self, path: Path, wanted: Iterable[Address]) -> Recomputed:
        """Recompute a workbook; see :class:`~pourbook.hosts.headless.engine.Engine`."""
        record = Recomputed()
        try:
            book = formualizer.load_workbook(str(path))
            for name, function in catalogue().items():
                book.register_function(
                    name,
                    _adapter(name, record),
                    min_args=0,
                    max_args=max(len(function.arguments), 1) + 8,
                )
            book.evaluate_all()
        except Exception as error:
            raise FileUnreadableError(
                f"the fast engine cannot open it ({type(error).__name__}: {error})", "", str(path)
            ) from error
        for sheet, address in wanted:
            row, column = split(address)
            record.values[sheet, address] = _result(book.get_value(sheet, row, column))
        return record


def _adapter(name: str, record: Recomputed) -> Callable[..., Any]:
    def wrapped(*given: Any) -> Any:
        result = call(name, [_argument(v) for v in given], record)
        return result if isinstance(result, list) else _scalar(result)

    return wrapped


def _argument(value: Any) -> Value | Rows:
    if isinstance(value, list):
        return [[_one(v) for v in row] for row in value]
    return _one(value)


def _one(value: Any) -> Value:
    if isinstance(value, dict):
        return CellError(_CODES.get(str(value.get("kind")), "#VALUE!"))
    if isinstance(value, dt.datetime):
        return (value.replace(tzinfo=None) - _EPOCH) / dt.timedelta(days=1)
    if isinstance(value, dt.date):
        return float((value - _EPOCH.date()).days)
    return tidy(value)


def _result(value: Any) -> Value:
    return _one(value)


def _scalar(value: Value) -> Value:
    return 0.0 if value is None else value
