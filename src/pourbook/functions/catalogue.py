"""The catalogue: every worksheet function with its arguments, units, source and example.

Contract: :data:`CATALOGUE` maps a function's name to its :class:`Function`;
:func:`evaluate` is the one way a host calls it. A refusal comes back as a text that begins with
``!``; any other exception is a fault of ours and is raised for the host to record.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cache, cached_property
from typing import Literal

from pourbook.errors import InputError, PourbookError
from pourbook.functions.values import FAILED, CellError, Rows, Value, is_blank, text

ArgumentKind = Literal["measure", "number", "text", "rows"]
Result = Value | list[list[Value]]
_PLAIN = (bool, int, float, str)
_NUMBER = (int, float)


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
class Column:
    """One result column of a block function, with the role of its unit in the measure system."""

    id: str
    help: str
    unit: str = ""


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


@cache
def catalogue() -> dict[str, Function]:
    """Return every worksheet function by its name."""
    from pourbook.functions import (  # noqa: PLC0415
        air,
        amounts,
        batches,
        buying,
        days,
        entered,
        live,
        looks,
        options,
        parts,
        plan_rows,
        products,
        proof,
        rooms,
        scalars,
        survey,
        used,
        words,
    )

    found: dict[str, Function] = {}
    for function in (
        rooms.PB_ROOMS,
        products.PB_PRODUCTS,
        plan_rows.PB_PLAN,
        amounts.PB_AMOUNTS,
        parts.PB_PARTS,
        batches.PB_BATCHES,
        survey.PB_SURVEY,
        air.PB_AIR,
        days.PB_DAYS,
        used.PB_USED,
        proof.PB_PROOF,
        words.PB_WORDS,
        entered.PB_ENTERED,
        looks.PB_LOOKS,
        options.PB_OPTIONS,
        *buying.FUNCTIONS,
        *scalars.FUNCTIONS,
        live.PB_LIVE,
    ):
        found[function.name] = function
    return found


def evaluate(name: str, given: Sequence[Value | Rows]) -> Result:
    """Call a worksheet function as a cell does.

    Args:
        name: The function's name, such as ``"PB_READ"``.
        given: Its arguments as :mod:`pourbook.functions.values` describes them.

    Returns:
        A value, or rows of values; a refusal is a text that begins with ``!``.

    Example:
        >>> evaluate("PB_READ", ["2 ft 6 in", "in"])
        30.0
        >>> evaluate("PB_READ", ["30 oz", "g"])[:2]
        '! '
    """
    function = catalogue()[name]
    try:
        if not function.required <= len(given) <= len(function.arguments):
            raise InputError(
                f"{name} takes {function.required} to {len(function.arguments)} arguments",
                "see the function list on the Scratch sheet",
            )
        values: list[object] = []
        for argument, value in zip(function.arguments, given, strict=False):
            if argument.kind != "rows" and isinstance(value, str) and value.startswith(FAILED):
                return value
            values.append(_accept(argument, value))
        return _finite(function.compute(*values))
    except PourbookError as error:
        return error.cell_text()


def _finite(result: Result) -> Result:
    if isinstance(result, float) and not math.isfinite(result):
        raise InputError("a figure is beyond all sense", "check every figure")
    return result


def _accept(argument: Argument, value: Value | Rows) -> object:
    """Check one argument against its declaration."""
    if argument.kind == "measure" and (
        type(value) is float or (type(value) is str and value.strip())
    ):
        return value  # by far the most arguments: nothing to refuse here
    plain = value is None or isinstance(value, _PLAIN)
    if argument.kind == "rows":
        return [[value]] if plain else value
    if not (value is None or isinstance(value, _PLAIN)):
        raise InputError("it is a range", "point at one cell", argument.name)
    if isinstance(value, CellError):
        raise InputError(f"the cell shows {value}", "mend that cell", argument.name)
    if is_blank(value):
        if argument.optional:
            return None
        raise InputError("it is blank", f"give {argument.help}", argument.name)
    if argument.kind == "number" and not (
        isinstance(value, _NUMBER) and not isinstance(value, bool)
    ):
        raise InputError(f"'{text(value)}' is no number", "give a number", argument.name)
    return text(value) if argument.kind == "text" else value
