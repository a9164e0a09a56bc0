"""The plain engine: the formulas package, in Python from end to end, run on every workbook in CI.

Contract: see :mod:`pourbook.hosts.headless.engine`. The package calls a function once with its
whole arguments, loses a cell and all that hangs on it when a function raises, and hands over values
of several libraries; this adapter passes plain values in and only values it can show back.
"""

from __future__ import annotations

import contextlib
import io
from collections.abc import Callable, Iterable
from contextvars import ContextVar
from functools import cache
from pathlib import Path
from typing import Any

import formulas
import numpy as np
import schedula
from formulas.errors import RangeValueError
from formulas.functions import Array
from formulas.ranges import Ranges
from formulas.tokens.operand import Empty, XlError

from pourbook.cells import Address, CellError, Rows, Value
from pourbook.errors import FileUnreadableError
from pourbook.formats.ooxml.addresses import a1
from pourbook.functions.catalogue import catalogue
from pourbook.hosts.headless.engine import Read, Recomputed, call, tidy

_BLANK = schedula.EMPTY
_RECORD: ContextVar[Recomputed] = ContextVar("record")
"""What the run in hand records: a formula once compiled serves many runs."""


@cache
def _adapters() -> dict[str, Callable[..., Any]]:
    """Return what the package calls for each worksheet function."""
    return {
        name: _adapter(name, tuple(a.kind == "rows" for a in function.arguments))
        for name, function in catalogue().items()
    }


class PlainEngine:
    """Recomputes through the formulas package."""

    name = "plain"

    def recompute(
        self,
        path: Path,
        wanted: Iterable[Address],
        read: Read | None = None,  # noqa: ARG002 - it works out all, whatever is stored
    ) -> Recomputed:
        """Recompute a workbook; see :class:`~pourbook.hosts.headless.engine.Engine`."""
        record = Recomputed()
        try:
            found = worked_out(path, record)
        except Exception as error:
            raise FileUnreadableError(
                f"the plain engine cannot open it ({type(error).__name__}: {error})", "", str(path)
            ) from error
        for sheet, address in wanted:
            record.values[sheet, address] = found.get((sheet.upper(), address))
        return record


def worked_out(path: Path, record: Recomputed) -> dict[Address, Value]:
    """Return every computed cell of a workbook by sheet in capitals and address."""
    formulas.get_functions().update(_adapters(), HYPERLINK=_link)
    _RECORD.set(record)
    quiet = io.StringIO()
    with contextlib.redirect_stdout(quiet), contextlib.redirect_stderr(quiet):
        model = formulas.ExcelModel().loads(str(path)).finish()
        record.calls = 0  # a call made while loading is no recalculation
        return _cells(model.calculate())


def _link(place: Any, shown: Any = None) -> Any:
    """Stand in for a function of spreadsheets the package lacks: a link shows its second word."""
    return place if shown is None else shown


def _cells(solution: Any) -> dict[Address, Value]:
    """Return every computed cell by sheet in capitals and address."""
    found: dict[Address, Value] = {}
    for key, ranges in solution.items():
        if not isinstance(ranges, Ranges) or not isinstance(key, str) or "!" not in key:
            continue
        for piece in ranges.ranges:
            rows = np.atleast_2d(np.asarray(ranges.value, object))
            top, left = int(piece["r1"]), int(piece["n1"])
            sheet = str(piece["sheet_id"]).rpartition("]")[2].rstrip("'").upper()
            for r, c in np.ndindex(*rows.shape):
                found[sheet, a1(top + r, left + c)] = _one(rows[r, c])
    return found


def _adapter(name: str, kinds: tuple[bool, ...]) -> Callable[..., Any]:
    def wrapped(*given: Any) -> Any:
        values: list[Value | Rows] = []
        for place, argument in enumerate(given):
            raw = argument
            if isinstance(raw, Ranges):
                try:
                    raw = raw.value
                except RangeValueError:
                    return schedula.NONE  # asked while loading, before the range is known
            rows = np.atleast_2d(np.asarray(raw, object))
            if place < len(kinds) and kinds[place]:
                values.append([[_one(v) for v in row] for row in rows])
            elif rows.size == 1:
                values.append(_one(rows.flat[0]))
            else:
                values.append([[_one(v) for v in row] for row in rows])
        return _give(call(name, values, _RECORD.get()))

    return wrapped


def _one(value: Any) -> Value:
    if value is _BLANK or isinstance(value, Empty):
        return None
    if isinstance(value, XlError):
        return CellError(str(value))
    if isinstance(value, np.generic):
        value = value.item()
    return tidy(value)


def _give(result: object) -> Any:
    if isinstance(result, list):
        block = np.empty((len(result), max(len(row) for row in result)), object)
        for number, row in enumerate(result):
            block[number, :] = row
        return block.view(Array)
    return 0 if result is None else result
