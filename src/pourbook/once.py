"""What is read of a table is remembered: the same content is read once a recalculation.

Contract: :func:`once` remembers the last results of a reader by the content it was given, so that
nothing can be stale: a changed cell is another content. Results are shared and never changed.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Sequence
from dataclasses import is_dataclass
from functools import cached_property, wraps
from threading import RLock
from typing import ParamSpec, TypeVar, cast

from pourbook.cells import Value, ranges_are_of

Given = ParamSpec("Given")
Result = TypeVar("Result")
MOST = 32
"""Results remembered of each reader."""
_CELLS = frozenset((float, int, bool, str, type(None)))
_NOTHING = object()
_TURN = RLock()  # an engine calls functions from several threads at once


def _content(value: object) -> Hashable:
    """Return a value's content with its type: 1, 1.0 and TRUE are three contents of a cell."""
    if isinstance(value, Kept | KeptRows):
        return value.content
    if isinstance(value, list | tuple):
        kinds = tuple(map(type, value))
        if _CELLS.issuperset(kinds):  # a row: tens of thousands of cells pass here
            return tuple(value), kinds
        return tuple([_content(one) for one in value])
    if isinstance(value, dict):
        return tuple([(name, _content(one)) for name, one in value.items()])
    if is_dataclass(value):
        return _of_record(value)
    return value.__class__, value


class _Known:
    """A content whose hash is worked out once."""

    __slots__ = ("content", "hash")

    def __init__(self, content: Hashable) -> None:
        self.content = content
        self.hash = hash(content)

    def __hash__(self) -> int:
        return self.hash

    def __eq__(self, other: object) -> bool:
        if self is other:
            return True
        if not isinstance(other, _Known) or self.hash != other.hash:
            return False
        return self.content == other.content


class Kept:
    """A record whose content is worked out once: neither it nor the rows it holds ever change."""

    @cached_property
    def content(self) -> Hashable:
        """What it is remembered by."""
        return _Known(_of_record(self))


class KeptRows(list[Sequence[Value]]):
    """Rows of cells that never change: their content is worked out once."""

    @cached_property
    def content(self) -> Hashable:
        """What they are remembered by."""
        return _Known(_content(tuple(self)))


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
    known: dict[Hashable, object] = {}

    @wraps(read)
    def remembered(*given: Given.args, **named: Given.kwargs) -> Result:
        key = (
            ranges_are_of(),
            _content(given),
            tuple((name, _content(one)) for name, one in sorted(named.items())),
        )
        with _TURN:
            found = known.pop(key, _NOTHING)
            if found is _NOTHING:
                found = read(*given, **named)
            known[key] = found  # the last
            if len(known) > MOST:
                del known[next(iter(known))]
            return cast("Result", found)

    return remembered
