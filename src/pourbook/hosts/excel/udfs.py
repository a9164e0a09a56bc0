"""The functions Excel calls: one for each of the catalogue, made for xlwings' COM server.

Contract: the server imports this module by its name and calls ``PB_...``; the wrapper module in the
workbook is generated from it by xlwings. Only the part of xlwings under the BSD licence is used.
A refusal is a short text that begins with ``!``; a fault of ours is one too, never a stack trace.
Each range is read once, as ``Value2``: a currency cell keeps all its places, a date is its number.
"""

from __future__ import annotations

import inspect
import subprocess
import sys
from collections.abc import Callable
from typing import Any

import xlwings
from xlwings.conversion import Accessor, Pipeline

from pourbook.cells import Value
from pourbook.functions.catalogue import catalogue
from pourbook.functions.declare import Function
from pourbook.hosts.excel.arguments import parameter, shown, taken
from pourbook.hosts.headless.engine import Recomputed, call

CATEGORY = "Pourbook"
UNREAD = "! Excel was busy and did not hand over a range: press Ctrl+Alt+F9"
_WIDEST = 255  # what Excel's function wizard shows


class AsGiven(Accessor):  # type: ignore[misc, unused-ignore]
    """Reads an argument as Excel holds it, without xlwings' own guesses."""

    @classmethod
    def reader(cls, options: dict[str, Any]) -> Pipeline:  # noqa: ARG003 - xlwings' signature
        """Return the steps that read an argument."""
        return Pipeline([_read])


class Unread:
    """Stands for a range that Excel did not hand over, such as while it was busy."""


def _read(context: Any) -> None:
    try:
        value = context.value if context.range is None else context.range.impl.xl.Value2
        context.value = taken(value)
    except Exception:  # noqa: BLE001 - whatever COM raises would put a stack trace in the cell
        context.value = Unread()


def _made(function: Function) -> Callable[..., object]:
    """Return the function xlwings publishes for one entry of the catalogue."""

    def compute(*given: Any) -> object:
        if any(isinstance(value, Unread) for value in given):
            return UNREAD
        return shown(call(function.name, list(given), Recomputed()))

    empty = inspect.Parameter.empty
    blank: Value = None
    compute.__name__ = function.name
    compute.__doc__ = function.summary[:_WIDEST]
    compute.__annotations__ = {}
    compute.__dict__["__signature__"] = inspect.Signature(
        [
            inspect.Parameter(
                parameter(a),
                inspect.Parameter.POSITIONAL_OR_KEYWORD,
                default=blank if a.optional else empty,
            )
            for a in function.arguments
        ]
    )
    made: Any = compute
    for argument in function.arguments:
        help_text = argument.help[:_WIDEST]
        made = xlwings.arg(parameter(argument), convert=AsGiven, doc=help_text)(made)
    # Outermost, for xlwings takes these options back with every further decorator.
    published: Callable[..., object] = xlwings.func(category=CATEGORY)(made)
    return published


globals().update({name: _made(function) for name, function in catalogue().items()})


@xlwings.sub  # type: ignore[untyped-decorator, unused-ignore]
def open_step(step: str, path: str) -> None:
    """Open Pourbook's window at a step of the work, with a workbook chosen."""
    # nothing but Pourbook's own Python, and words without a shell
    subprocess.Popen([sys.executable, "-m", "pourbook", "desk", path, "--step", step])  # noqa: S603
