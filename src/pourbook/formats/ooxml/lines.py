"""The rows of a sheet as they stand in a file: most are the same in all workbooks of one kind.

Contract: a row that was read before is the same :class:`SheetLine`, so that what was found of it
can be remembered with it. :class:`SheetCells` are the cells of a sheet by address, as any mapping
is, that know their lines; :func:`lines_of` gives those of any mapping.
"""

from __future__ import annotations

from collections import defaultdict, deque
from collections.abc import Callable, Iterable, Mapping, Sequence
from operator import is_
from typing import Any, Generic, TypeVar

from pourbook.formats.ooxml.addresses import split

Cell = TypeVar("Cell")
Found = TypeVar("Found")
_RESTS = 6
"""What things of a shape may rest on at a time: the layouts of a few kinds of workbooks."""


class LineShape(Generic[Cell]):
    """What rows have in common that differ in values alone: cells, whatever value each holds."""

    __slots__ = ("_known", "cells")

    def __init__(self, cells: Mapping[str, Cell]) -> None:
        self.cells = cells
        self._known: dict[str, deque[tuple[object, Any]]] = {}

    def once(self, look: str, by: object, work: Callable[..., Found], *given: object) -> Found:
        """Return what is worked out of its cells, and remember that.

        Args:
            look: A name for what is worked out.
            by: The one object what is worked out rests on beside it; the last few are known.
            work: Works it out, from the cells.
            given: What it is given besides.

        Example:
            >>> shape, by = LineShape({"A1": 1.0}), object()
            >>> shape.once("cells", by, len), shape.once("cells", by, list)
            (1, 1)
        """
        known = self._known.get(look)
        if known is None:
            known = self._known[look] = deque(maxlen=_RESTS)
        for on, found in tuple(known):  # other threads may add some
            if on is by:
                same: Found = found
                return same
        made = work(self.cells, *given)
        known.append((by, made))
        return made


class SheetLine(Generic[Cell]):
    """A row: its number, and what stands in it by address; neither ever changes.

    ``known`` is what was worked out of it, by a name for that. ``shape``, where others were met
    that differ from it in values alone, holds every cell of the row but for its value, and those
    of the others beside them.
    """

    __slots__ = ("cells", "known", "number", "shape")

    def __init__(
        self, number: int, cells: Mapping[str, Cell], shape: LineShape[Cell] | None = None
    ) -> None:
        self.number = number
        self.cells = cells
        self.known: dict[str, Any] = {}
        self.shape = shape


def resting_on(*things: object) -> tuple[object, ...]:
    """Return one and the same tuple for the very same things, as long as they are in use.

    It says what else rests on them that is known of a line. They stay in memory: give small ones.

    Example:
        >>> one, two = [1], [1]
        >>> resting_on(one) is resting_on(one), resting_on(one) is resting_on(two)
        (True, False)
    """
    for known in tuple(_TUPLES):  # other threads may add some
        if len(known) == len(things) and all(map(is_, known, things)):
            return known
    _TUPLES.append(things)
    return things


_TUPLES: deque[tuple[object, ...]] = deque(maxlen=64)


class SheetCells(dict[str, Cell]):
    """The cells of a sheet by address, from its lines."""

    def __init__(self, lines: Iterable[SheetLine[Cell]] = ()) -> None:
        self.lines = tuple(lines)
        for line in self.lines:
            self.update(line.cells)


def lines_of(cells: Mapping[str, Cell]) -> Sequence[SheetLine[Cell]]:
    """Return the lines of a sheet, from the top.

    Example:
        >>> [line.number for line in lines_of({"A7": 1.0, "B2": 2.0, "B7": 3.0})]
        [2, 7]
        >>> lines_of(SheetCells([SheetLine(2, {"B2": 2.0})]))[0].cells
        {'B2': 2.0}
    """
    if isinstance(cells, SheetCells):
        return cells.lines
    found: dict[int, dict[str, Cell]] = defaultdict(dict)
    for address, cell in cells.items():
        found[split(address)[0]][address] = cell
    return [SheetLine(number, found[number]) for number in sorted(found)]


def lines_not(cells: Mapping[str, Cell], look: str, by: object) -> list[SheetLine[Cell]]:
    """Return the lines of a sheet of which something is not known.

    Example:
        >>> cells = SheetCells([SheetLine(1, {"A1": 1.0}), SheetLine(2, {"A2": 2.0})])
        >>> cells.lines[0].known["it is small"] = small = object()
        >>> [line.number for line in lines_not(cells, "it is small", small)]
        [2]
    """
    return [line for line in lines_of(cells) if line.known.get(look) is not by]


def told(
    line: SheetLine[Cell], look: str, by: object, work: Callable[..., Found], *given: object
) -> Found:
    """Return what is worked out of a row whatever its values are; see :meth:`LineShape.once`.

    Example:
        >>> told(SheetLine(1, {"A1": 1.0}), "cells", None, len)
        1
    """
    if line.shape is None:
        return work(line.cells, *given)
    return line.shape.once(look, by, work, *given)
