"""What a worksheet function is: its arguments, result columns, units, source and example.

Contract: plain data; :mod:`pourbook.functions.catalogue` lists every function there is.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import cached_property
from typing import Literal

from pourbook.cells import Value
from pourbook.records import dataclass
from pourbook.tables.declared import Column

ArgumentKind = Literal["measure", "number", "text", "rows"]


Result = Value | list[list[Value]]


@dataclass(frozen=True)
class Argument:
    """One argument of a worksheet function.

    ``kind`` is ``measure`` (number or text with a unit), ``number``, ``text`` or ``rows`` (a
    range). ``dimension`` names what a measure is (see :data:`pourbook.units.KINDS`). ``columns``
    are the columns of a range, by id.
    """

    name: str
    kind: ArgumentKind
    help: str
    dimension: str = ""
    optional: bool = False
    columns: tuple[str, ...] = ()


@dataclass(frozen=True)
class Example:
    """A call and the result it gives; the example runs as a test in every host."""

    arguments: tuple[Value | tuple[tuple[Value, ...], ...], ...]
    result: Value | tuple[tuple[Value, ...], ...]

    def typed(self, name: str) -> str:
        """Return the call as a person types it into a cell, without the leading ``=``.

        Example:
            >>> Example(("2 ft", "in"), 24.0).typed("PB_READ")
            'PB_READ("2 ft","in")'
        """
        return f"{name}({','.join(_literal(a) for a in self.arguments)})"


def _literal(value: object) -> str:
    if isinstance(value, str):
        return '"' + value.replace('"', '""') + '"'
    if isinstance(value, bool) or value is None:
        return "" if value is None else str(value).upper()
    return f"{value:g}" if isinstance(value, int | float) else "..."


@dataclass(frozen=True)
class Function:
    """A worksheet function, the same in every host.

    ``rows`` is how many rows a block function always gives; 0 is as many as its first argument has.
    """

    name: str
    summary: str
    arguments: tuple[Argument, ...]
    result: str
    valid: str
    source: str
    examples: tuple[Example, ...]
    compute: Callable[..., Result]
    columns: tuple[Column, ...] = ()
    rows: int = 0

    @cached_property
    def required(self) -> int:
        """Return how many arguments must be given."""
        return sum(not a.optional for a in self.arguments)
