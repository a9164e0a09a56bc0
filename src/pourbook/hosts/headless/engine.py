"""The one interface of the headless engines, and what both need.

Contract: an engine recomputes every formula of a workbook file and hands back the values of the
cells asked for. Whatever a worksheet function could not do is recorded in
:attr:`Recomputed.reasons`, never swallowed. An engine never writes to the file.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import field
from pathlib import Path
from typing import TYPE_CHECKING, Protocol

from pourbook.cells import Address, CellError, Rows, Value
from pourbook.dates import EPOCH, day_number
from pourbook.errors import CellText, PourbookError
from pourbook.functions.catalogue import evaluate
from pourbook.functions.declare import Function, Result
from pourbook.records import dataclass

if TYPE_CHECKING:
    from pourbook.hosts.headless.program import Program  # the add-in for Calc goes without it

NEARLY = 1e-9
LEAST = 5e-9
"""Less than this is no difference: LibreOffice saves a day and time to 15 digits, so that hours
worked out from two of them differ by 2.4e-9."""
INTERNAL = "! Pourbook failed here: run pourbook check and send us what it says"


@dataclass(frozen=True)
class Reason:
    """Why a function call failed although what it was given may have been right."""

    function: str
    message: str


@dataclass
class Recomputed:
    """What an engine made of a workbook.

    ``refusals`` are all that stand behind a text that a cell shows, each speaking of other entries.
    ``calls`` counts the calls of functions, ``blocks`` those that gave a block. ``as_stored`` says
    that every value was seen to be the one stored.
    """

    values: dict[Address, Value] = field(default_factory=dict)
    refusals: dict[str, list[PourbookError]] = field(default_factory=dict)
    reasons: list[Reason] = field(default_factory=list)
    calls: int = 0
    blocks: int = 0
    as_stored: bool = False

    def tell(self, shown: CellText) -> None:
        """Keep a refusal behind its text, once for each entry it speaks of."""
        behind = self.refusals.setdefault(str(shown), [])
        if all(one.place != shown.refusal.place for one in behind):
            behind.append(shown.refusal)


def same(a: Value, b: Value) -> bool:
    """Return whether two cell values are the same to 1e-9; a blank is an empty text.

    Example:
        >>> same(1.0, 1.0 + 1e-12), same(None, ""), same("ok", "OK")
        (True, True, False)
    """
    if a is None or b is None:
        return (a or "") == (b or "")
    if isinstance(a, bool) or isinstance(b, bool):
        return a is b
    if isinstance(a, int | float) and isinstance(b, int | float):
        return math.isclose(a, b, rel_tol=NEARLY, abs_tol=LEAST)
    return type(a) is type(b) and a == b


class Cell(Protocol):
    """A cell as it was read; ``array`` is the area a formula fills, empty if its own cell."""

    @property
    def value(self) -> Value: ...  # noqa: D102
    @property
    def formula(self) -> str: ...  # noqa: D102
    @property
    def array(self) -> str: ...  # noqa: D102


Sheets = Mapping[str, Mapping[str, Cell]]
"""The cells of each sheet, by address."""


@dataclass(frozen=True)
class Read:
    """A workbook as it was read, and the formulas of the templates it is made from."""

    sheets: Sheets
    program: Program


class Engine(Protocol):
    """An engine that recomputes workbooks."""

    name: str

    def recompute(
        self, path: Path, wanted: Iterable[Address], read: Read | None = None
    ) -> Recomputed:
        """Recompute a workbook.

        Args:
            path: The workbook; it is only read.
            wanted: The cells whose values are wanted.
            read: What was read of it, where what is stored may be right already.

        Raises:
            FileUnreadableError: The engine cannot open the file.
        """
        ...


def call(name: str, given: list[Value | Rows], record: Recomputed) -> Result:
    """Call a worksheet function for an engine and record what goes wrong inside it."""
    record.calls += 1
    try:
        return evaluate(name, given, record.tell)
    except Exception as error:  # noqa: BLE001 - an engine would turn it into a bare #VALUE!
        reason = f"{type(error).__name__}: {error}"
        if isinstance(error, PourbookError):
            reason = str(error)
        record.reasons.append(Reason(name, reason))
        return INTERNAL


def spread(function: Function, given: Sequence[Value | Rows], result: Result) -> Result:
    """Return the refusal of a whole block in each of its cells; anything else as it is."""
    if isinstance(result, list) or not function.columns:
        return result
    first = given[0] if given else None
    rows = function.rows or (len(first) if isinstance(first, list) else 1)
    return [[result] * len(function.columns) for _ in range(rows)]


_DAY = dt.timedelta(days=1)


def tidy(value: object) -> Value:
    """Return a value an engine gives as a plain cell value: dates and times as days, as cells do.

    Example:
        >>> tidy(dt.time(12)), tidy(dt.date(2026, 11, 24)), tidy(dt.timedelta(hours=36))
        (0.5, 46350.0, 1.5)
    """
    if value is None or isinstance(value, bool | str | CellError):
        return value
    if isinstance(value, int | float):
        return float(value)
    if isinstance(value, dt.datetime):
        return (value.replace(tzinfo=None) - EPOCH) / _DAY
    if isinstance(value, dt.date):
        return float(day_number(value))
    if isinstance(value, dt.time):
        return (dt.datetime.combine(EPOCH, value.replace(tzinfo=None)) - EPOCH) / _DAY
    if isinstance(value, dt.timedelta):
        return value / _DAY
    raise TypeError(f"an engine gave {type(value).__name__}")
