"""The measured pieces as they are drawn: outlines from the Rooms table, and their order.

Contract: :func:`pieces` gives every measured piece that has an outline, room by room, what joins
beside what it joins; volumes to fill have none.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from contextlib import suppress

from pourbook import units
from pourbook.cells import OK, Rows, Value, as_mapping, is_blank, number, text
from pourbook.errors import BlankError, PourbookError, UnknownError
from pourbook.records import dataclass
from pourbook.tables import reading, rooms
from pourbook.tables.measured import ROOM_COLUMNS, names_of
from pourbook.trade import filling, measuring
from pourbook.trade.drawing.hatch import across
from pourbook.trade.drawing.outlines import Outline, closed, cutout, of_area, outline, spans

Key = tuple[str, str]


@dataclass(frozen=True)
class Drawn:
    """One piece to draw: its names, its outline and cutouts in m, and what it runs into."""

    room: str
    name: str
    outline: Outline
    holes: tuple[Outline, ...]
    joins: tuple[str, ...]

    @property
    def key(self) -> Key:
        """Return the names as they are compared."""
        return self.room.casefold(), self.name.casefold()


def pieces(cells: Rows, system: units.System, only: str = "") -> list[Drawn]:
    """Return the pieces of a room, or of all, in the order they are drawn.

    Args:
        cells: The Rooms table with its results.
        system: How bare numbers are read.
        only: The room to draw; all if it is empty.

    Raises: nothing; a row whose sizes cannot be read is left out, as one that is not measured.
    """
    found: dict[str, list[Drawn]] = {}
    for line in cells:
        row = as_mapping(line, ROOM_COLUMNS)
        if row["status"] != OK or only.casefold() not in {"", text(row["room"]).casefold()}:
            continue
        room = found.setdefault(text(row["room"]).casefold(), [])
        with suppress(PourbookError):  # what cannot be read is no measured piece
            room += _of_row(row, system)
    return [piece for room in found.values() for piece in _joined(room)]


def _of_row(row: Mapping[str, Value], system: units.System) -> list[Drawn]:
    shape = (text(row["shape"]) or "rectangle").casefold()
    if shape == filling.MOULD or shape in filling.FILLS:
        return []
    names = names_of(row)
    points = _outline(shape, row, system, len(names))
    holes = _holes(points, row, system)
    joins = rooms.joined_to(row)
    return [Drawn(text(row["room"]), one, points, holes, joins) for one in names]


def _outline(shape: str, row: Mapping[str, Value], system: units.System, count: int) -> Outline:
    if shape == rooms.POLYGON:
        return closed(reading.corners(row["a"], system))
    if shape == rooms.AREA_GIVEN:
        total = units.to_si(number(row["top"], "Top"), system.area)
        return of_area(total / count)
    named = next((one for one in measuring.SHAPES if one.casefold() == shape), "")
    if not named:
        raise UnknownError(f"'{shape}' is not drawn", "choose a shape from the list", "Shape")
    sizes = []
    for letter, name in zip("abcd", measuring.SHAPES[named].dimensions, strict=False):
        if not is_blank(row[letter]):
            sizes.append(
                reading.labelled(row[letter], "length", "Sizes", system.length, system.fluids)
            )
        elif name not in measuring.SHAPES[named].optional:
            raise BlankError("it is blank", f"a {named} needs it", "Sizes")
    return outline(named, sizes)


def _holes(points: Outline, row: Mapping[str, Value], system: units.System) -> tuple[Outline, ...]:
    """Return the cutouts, side by side in the middle: where they lie is not measured."""
    cut = reading.holes(row["cutouts"], system)
    shapes = [cutout(one.shape, one.sizes) if one.shape else of_area(one.area) for one in cut]
    wide, _ = spans(points)
    gap = (wide - sum(spans(shape)[0] for shape in shapes)) / (len(shapes) + 1)
    left, found = gap, []
    for shape in shapes:
        broad, up = spans(shape)
        low, high = _widest(points, left + broad / 2)
        foot = (low + high - up) / 2
        found.append([(left + x, foot + y) for x, y in shape])
        left += broad + gap
    return tuple(found)


def _widest(points: Outline, x: float) -> tuple[float, float]:
    """Return where an upright line at x lies longest within an outline."""
    low, height = max(across([points], x), key=lambda pair: pair[1], default=(0.0, 0.0))
    return low, low + height


def _joined(room: Sequence[Drawn]) -> list[Drawn]:
    """Return the pieces of a room with what runs into each other side by side."""
    left = list(room)
    found: list[Drawn] = []
    while left:
        found.append(left.pop(0))
        at = len(found) - 1
        while at < len(found):
            near = [one for one in left if run_together(found[at], one)]
            for one in near:
                left.remove(one)
                found.append(one)
            at += 1
    return found


def run_together(one: Drawn, other: Drawn) -> bool:
    """Return whether one of two pieces runs into the other."""
    named = {name.casefold() for name in one.joins}
    back = {name.casefold() for name in other.joins}
    return other.name.casefold() in named or one.name.casefold() in back
