"""What is read of a table is remembered: the same content is read once a recalculation.

Contract: :func:`once` remembers the last results of a reader by the content it was given, so that
nothing can be stale: a changed cell is another content. Results are shared and never changed.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable, Hashable
from dataclasses import is_dataclass
from functools import cached_property, wraps
from threading import RLock
from typing import ParamSpec, TypeVar

from pourbook.cells import ranges_are_of

Given = ParamSpec("Given")
Result = TypeVar("Result")
MOST = 32
"""Results remembered of each reader."""
_CELLS = frozenset((float, int, bool, str, type(None)))
_TURN = RLock()  # an engine calls functions from several threads at once


def _content(value: object) -> Hashable:
    """Return a value's content with its type: 1, 1.0 and TRUE are three contents of a cell."""
    if isinstance(value, list | tuple):
        kinds = tuple(map(type, value))
        if _CELLS.issuperset(kinds):  # a row: tens of thousands of cells pass here
            return tuple(value), kinds
        return tuple([_content(one) for one in value])
    if isinstance(value, dict):
        return tuple([(name, _content(one)) for name, one in value.items()])
    if isinstance(value, Kept):
        return value.content
    if is_dataclass(value):
        return _of_record(value)
    return value.__class__, value


class Kept:
    """A record whose content is worked out once: neither it nor the rows it holds ever change."""

    @cached_property
    def content(self) -> Hashable:
        """What it is remembered by."""
        return _of_record(self)


def _of_record(value: object) -> Hashable:
    names = value.__dataclass_fields__  # type: ignore[attr-defined]
    return value.__class__, tuple([_content(getattr(value, name)) for name in names])


def once(read: Callable[Given, Result]) -> Callable[Given, Result]:
    """Have a reader remember its results by what it was given.

    Example:
        >>> calls = []
        >>> @once
        ... def count(rows: list[list[object]]) -> int:
        ...     calls.append(rows)
        ...     return len(rows)
        >>> count([[1], [2]]), count([[1], [2]]), count([[True], [2]]), len(calls)
        (2, 2, 2, 2)
    """
    known: OrderedDict[Hashable, Result] = OrderedDict()

    @wraps(read)
    def remembered(*given: Given.args, **named: Given.kwargs) -> Result:
        key = (
            ranges_are_of(),
            _content(given),
            tuple((name, _content(one)) for name, one in sorted(named.items())),
        )
        with _TURN:
            if key in known:
                known.move_to_end(key)
                return known[key]
            found = known[key] = read(*given, **named)
            if len(known) > MOST:
                known.popitem(last=False)
            return found

    return remembered
