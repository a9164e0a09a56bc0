"""Several worksheet functions in one call, their results side by side.

Contract: a joint function takes every argument its functions take, by name, and hands each its
own; what one refuses stands in its columns alone. It works nothing out itself: what a function
gives here is what it gives alone.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace

from pourbook.cells import Rows, Value
from pourbook.functions.declare import Argument, Function, Result

Evaluate = Callable[[str, Sequence[Value | Rows]], Result]


def joint(name: str, own: Function, guests: Mapping[str, Function], evaluate: Evaluate) -> Function:
    """Return the function that works out a table and those beside it.

    Args:
        name: Its name.
        own: The function of the table.
        guests: The other functions, by the ids of their tables; their columns begin with them.
        evaluate: Calls a function by its name.

    Returns:
        The function; a row of its result holds a row of each, blanks below the last.
    """
    functions = [own, *guests.values()]
    taken: dict[str, Argument] = {}
    mine = [_taken(taken, block, one) for block, one in (("", own), *guests.items())]
    arguments = tuple(sorted(taken.values(), key=lambda argument: argument.optional))
    names = [argument.name for argument in arguments]

    def compute(*given: Value | Rows) -> Result:
        handed = dict(zip(names, given, strict=False))
        results = [
            evaluate(one.name, [handed.get(argument) for argument in own_names])
            for one, own_names in zip(functions, mine, strict=True)
        ]
        rows = max((len(found) for found in results if isinstance(found, list)), default=0)
        if not rows:
            return next(found for found in results if not isinstance(found, list))
        parts = [
            _table(found, len(one.columns), rows)
            for one, found in zip(functions, results, strict=True)
        ]
        return [[cell for part in parts for cell in part[at]] for at in range(rows)]

    columns = [
        replace(column, id=f"{block}_{column.id}")
        for block, function in guests.items()
        for column in function.columns
    ]
    return Function(
        name=name,
        summary=f"In one call: {', '.join(one.name for one in functions)}.",
        arguments=arguments,
        result="side by side: " + "; ".join(f"{one.name}, {one.result}" for one in functions),
        valid="as each of them",
        source="Pourbook itself",
        examples=(),
        compute=compute,
        columns=(*own.columns, *columns),
        rows=max(one.rows for one in functions),
    )


def _taken(taken: dict[str, Argument], block: str, function: Function) -> list[str]:
    """Take the arguments of a function among the others; return by which names they go there.

    One that has the name of another and is not the same goes by the id of its table before it.
    """
    names = []
    for argument in function.arguments:
        known = taken.get(argument.name, argument)
        alike = (known.kind, known.columns) == (argument.kind, argument.columns)
        name = argument.name if alike else f"{block}_{argument.name}"
        optional = argument.optional and (not alike or known.optional)
        taken[name] = replace(argument, name=name, optional=optional)
        names.append(name)
    return names


def _table(found: Result, width: int, rows: int) -> list[list[Value]]:
    """Return a result with so many rows; a refusal of the whole stands in every cell."""
    if not isinstance(found, list):
        return [[found] * width for _ in range(rows)]
    blank: list[list[Value]] = [[""] * width for _ in range(rows - len(found))]
    return found + blank
