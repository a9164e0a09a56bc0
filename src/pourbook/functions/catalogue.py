"""The catalogue: every worksheet function with its arguments, units, source and example.

Contract: :data:`CATALOGUE` maps a function's name to its :class:`Function`;
:func:`evaluate` is the one way a host calls it. A refusal comes back as a text that begins with
``!``; any other exception is a fault of ours and is raised for the host to record. Tables that
stand on each other are worked out in one call (:data:`JOINTS`), each by its own function.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from functools import cache
from typing import Any

from pourbook.cells import (
    ANY,
    CellError,
    Rows,
    Value,
    is_blank,
    is_refused,
    ranges_of,
    sheets_of,
    text,
)
from pourbook.errors import BlankError, CellText, InputError, PourbookError
from pourbook.functions.batch import batches, plan_rows
from pourbook.functions.board import board_rows
from pourbook.functions.buy import additions, buy_list
from pourbook.functions.calls import calls
from pourbook.functions.days import calendar, options, what_if
from pourbook.functions.declare import Argument, Function, Result
from pourbook.functions.draw import drawing
from pourbook.functions.joint import joint
from pourbook.functions.measure import room_areas
from pourbook.functions.mix import amounts, mixable, parts
from pourbook.functions.own import entered, live, looks, scalars, words
from pourbook.functions.site import damp, proof_tests, survey
from pourbook.functions.used import used
from pourbook.once import KeptRows, once

JOINTS: dict[str, tuple[Any, ...]] = {
    "PB_PLANS": ("PB_PLAN", ("products", "PB_PRODUCTS")),
    "PB_PURCHASE": ("PB_BUY", ("stock", "PB_STOCK"), ("additives", "PB_ADDITIVES")),
    "PB_SITE": ("PB_SURVEY", ("onsite", "PB_AIR")),
    "PB_DONE": ("PB_USED", ("proofs", "PB_PROOF")),
    "PB_REVIEW": ("PB_LOOKS", ("entered", "PB_ENTERED")),
    "PB_OUTLOOK": ("PB_CASES", ("options", "PB_OPTIONS")),
}
"""Functions that are worked out in one call: the own one of a table, and by the ids of other tables
those that stand aside of it."""
_PLAIN = (bool, int, float, str)
_NUMBER = (int, float)


@cache
def catalogue() -> dict[str, Function]:
    """Return every worksheet function by its name."""
    found: dict[str, Function] = {}
    for function in (
        room_areas.PB_ROOMS,
        mixable.PB_PRODUCTS,
        plan_rows.PB_PLAN,
        amounts.PB_AMOUNTS,
        parts.PB_PARTS,
        batches.PB_BATCHES,
        survey.PB_SURVEY,
        damp.PB_AIR,
        calendar.PB_DAYS,
        used.PB_USED,
        proof_tests.PB_PROOF,
        words.PB_WORDS,
        entered.PB_ENTERED,
        looks.PB_LOOKS,
        options.PB_OPTIONS,
        what_if.PB_CASES,
        drawing.PB_DRAWING,
        calls.PB_CALLS,
        board_rows.PB_BOARD,
        *buy_list.FUNCTIONS,
        additions.PB_ADDITIVES,
        *scalars.FUNCTIONS,
        live.PB_LIVE,
    ):
        found[function.name] = function
    for name, (own, *guests) in JOINTS.items():
        found[name] = joint(name, found[own], {guest: found[f] for guest, f in guests}, _evaluated)
    return found


def evaluate(
    name: str, given: Sequence[Value | Rows], tell: Callable[[CellText], None] = lambda _: None
) -> Result:
    """Call a worksheet function as a cell does.

    Args:
        name: The function's name, such as ``"PB_READ"``.
        given: Its arguments as :mod:`pourbook.cells` describes them.
        tell: Is told of each refusal that a cell of the result shows.

    Returns:
        A value, or rows of values; a refusal is a text that begins with ``!``.

    Example:
        >>> evaluate("PB_READ", ["2 ft 6 in", "in"])
        30.0
        >>> evaluate("PB_READ", ["30 oz", "g"])[:2]
        '! '
    """
    function = catalogue()[name]
    if function.columns:
        kept = [KeptRows(one) if type(one) is list else one for one in given]
        result = _block(_made_of(name), name, kept)
    else:
        result = _evaluated(name, given)
    if isinstance(result, list):
        return [
            [_plain(value, tell) for value in row] if CellText in map(type, row) else list(row)
            for row in result
        ]
    return _plain(result, tell)


def _made_of(name: str) -> tuple[int, ...]:
    """Return which functions work a block out, by their identity."""
    own, *guests = JOINTS.get(name, (name,))
    return tuple(id(catalogue()[one]) for one in (name, own, *(each for _, each in guests)))


@once
def _block(_: tuple[int, ...], name: str, given: Sequence[Value | Rows]) -> Result:
    """Work out a block, or give what it was: a job is worked out, then checked, then written to.

    Args:
        _: The functions that work it out.
        name: Its name.
        given: See :func:`evaluate`.
    """
    return _evaluated(name, given)


def _plain(value: Value, tell: Callable[[CellText], None]) -> Value:
    """Return a value as a host takes it; a refusal is told of."""
    if isinstance(value, CellText):
        tell(value)
        return str(value)
    return value


def _evaluated(name: str, given: Sequence[Value | Rows]) -> Result:
    function = catalogue()[name]
    try:
        if not function.required <= len(given) <= len(function.arguments):
            raise InputError(
                f"{name} takes {function.required} to {len(function.arguments)} arguments",
                "see the function list on the Scratch sheet",
            )
        if name in JOINTS:
            return function.compute(*given)
        values: list[object] = []
        for argument, value in zip(function.arguments, given, strict=False):
            if argument.kind != "rows" and is_refused(value):
                return value
            values.append(_accept(argument, value))
        with ranges_of(_sheets(function, given)):
            return _finite(function.compute(*values))
    except PourbookError as error:
        return error.cell_text()


def _sheets(function: Function, given: Sequence[Value | Rows]) -> int:
    """Return of which templates the ranges of a call are, by its cell on the system of units."""
    for argument, value in zip(function.arguments, given, strict=False):
        if argument.name == "system" and isinstance(value, str):
            return sheets_of(value)
    return ANY


def _finite(result: Result) -> Result:
    if isinstance(result, float) and not math.isfinite(result):
        raise InputError("a figure is larger than anybody can mean", "check every figure")
    return result


def _accept(argument: Argument, value: Value | Rows) -> object:
    """Check one argument against its declaration."""
    if argument.kind == "measure" and (
        type(value) is float or (type(value) is str and value.strip())
    ):
        return value  # by far the most arguments: nothing to refuse here
    if argument.kind == "rows":
        if value is None or isinstance(value, _PLAIN):
            left_out = argument.optional and is_blank(value)
            return [] if left_out else [[value]]
        return value
    if not (value is None or isinstance(value, _PLAIN)):
        raise InputError("it is a range", "point at one cell", argument.name)
    if isinstance(value, CellError):
        raise InputError(f"the cell shows {value}", "fix that cell", argument.name)
    if is_blank(value):
        if argument.optional:
            return None
        raise BlankError("it is blank", f"give {argument.help}", argument.name)
    if argument.kind == "number" and not (
        isinstance(value, _NUMBER) and not isinstance(value, bool)
    ):
        raise InputError(f"'{text(value)}' is no number", "give a number", argument.name)
    return text(value) if argument.kind == "text" else value
