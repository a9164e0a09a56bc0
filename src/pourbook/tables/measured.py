"""The measured pieces as layers need them, from the Rooms table with its results.

Contract: a layer that asks for pieces that are not measured yet is refused and told which row to
mend; areas come in the units of the sheet and leave in SI.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Mapping, Sequence
from typing import NamedTuple

from pourbook import units
from pourbook.cells import OK, Rows, Value, as_mapping, is_blank, number, ranges_are_of, text
from pourbook.errors import InputError, MisreadError, UnknownError
from pourbook.records import dataclass
from pourbook.tables import rooms
from pourbook.trade.batch.pieces import Join

_RESULTS = [c.id for c in rooms.RESULTS]
ROOM_COLUMNS = rooms.COLUMNS.beside(
    [name for name in _RESULTS if name not in rooms.SINCE_2], list(rooms.SINCE_2)
)
FILLS = "fills"
SURFACES = {"top": "top", "edge": "edge", "backsplash": "splash", FILLS: FILLS}
"""What a layer may coat, and the column of the Rooms table that holds its area."""
"""The surface of a layer that coats none: it fills what there is to fill."""
Covered = Callable[[str, str], bool]
"""Whether a surface of a room, both by name, has a coat already."""


def todays_surfaces(value: Value) -> str:
    """Return a text of surfaces in today's words; a backsplash was once a splash.

    Example:
        >>> todays_surfaces("top + splash")
        'top + backsplash'
    """
    return re.sub(r"\bsplash\b", "backsplash", text(value), flags=re.IGNORECASE)


def names_of(row: Mapping[str, Value]) -> list[str]:
    """Return the name of every piece a row of Rooms stands for: numbered where they are several.

    Raises:
        MisreadError: *How many* is no count of pieces.

    Example:
        >>> names_of({"piece": "Shelf", "count": 2}), names_of({"piece": "Bar", "count": None})
        (['Shelf 1', 'Shelf 2'], ['Bar'])
    """
    count = number(row["count"], "How many", 1.0)
    if not 1 <= count <= rooms.MOST_OF_A_KIND or count != int(count):
        what = f"'{text(row['count'])}' is no count of pieces"
        raise MisreadError(what, f"type 1 to {rooms.MOST_OF_A_KIND}", "How many")
    name = text(row["piece"])
    return [f"{name} {n}" for n in range(1, int(count) + 1)] if count > 1 else [name]


class MeasuredPiece(NamedTuple):
    """One piece of one layer, SI: what of it the layer coats in m², its exposed edge in m.

    ``soaked`` is what its bare surfaces take of the layer, m³, ``vertical`` what of it is edge or
    splash, m². A volume to fill has its opening as area, its ``fill`` in m³ and its ``depth`` in m.
    """

    name: str
    area: float
    run: float
    may_split: bool
    order: float
    colour: str = ""
    room: str = ""
    joins: tuple[str, ...] = ()
    soaked: float = 0.0
    vertical: float = 0.0
    fill: float = 0.0
    depth: float = 0.0
    named: str = ""
    """What its row of Rooms calls it: one of several has a number besides."""


def joins_of(pieces: Sequence[MeasuredPiece]) -> tuple[Join, ...]:
    """Return the places of the pieces of a layer that run into each other.

    A piece is sought in the room of the one that names it, then in the others; one that the layer
    does not coat has no join.
    """
    if not any(piece.joins for piece in pieces):
        return ()
    places: dict[tuple[str, str], int] = {}
    anywhere: dict[str, int] = {}
    for at, piece in enumerate(pieces):
        places.setdefault((piece.room.casefold(), piece.name.casefold()), at)
        anywhere.setdefault(piece.name.casefold(), at)
    found = []
    for at, piece in enumerate(pieces):
        for name in piece.joins:
            other = places.get((piece.room.casefold(), name.casefold()))
            other = anywhere.get(name.casefold()) if other is None else other
            if other is not None and other != at:
                found.append((min(at, other), max(at, other)))
    return tuple(dict.fromkeys(found))


def _first_or_last() -> float:
    """Return the place of a piece without one: after all others, in jobs of templates 1 before."""
    return 0.0 if ranges_are_of() == 1 else math.inf


@dataclass(frozen=True)
class RoomTotals:
    """The rows of the Rooms table that are filled in, by column."""

    rows: tuple[dict[str, Value], ...]
    system: units.System

    @classmethod
    def of(cls, cells: Rows, system: units.System) -> RoomTotals:
        """Take the whole Rooms table, entries and results."""
        found = [as_mapping(row, ROOM_COLUMNS) for row in cells]
        return cls(tuple(r for r in found if not is_blank(r["status"])), system)

    def pieces(
        self, wanted: Sequence[str], surfaces: Sequence[str], covered: Covered
    ) -> tuple[MeasuredPiece, ...]:
        """Return the pieces of the wanted rooms (all if none) that have such a surface.

        A row that stands for several pieces gives as many, numbered. What is covered drinks no
        more.

        Raises:
            InputError: A room is not known, or a piece in it is not measured yet.
        """
        names = {text(r["room"]).casefold() for r in self.rows}
        for room in wanted:
            if room.casefold() not in names:
                mend = "see the Rooms sheet"
                raise UnknownError(f"there is no room '{room}'", mend, "Only in room")
        keep = {room.casefold() for room in wanted}
        chosen = [r for r in self.rows if not keep or text(r["room"]).casefold() in keep]
        if not chosen:
            raise InputError("no piece is measured", "fill in the Rooms sheet", "Rooms sheet")
        bad = next((r for r in chosen if r["status"] != OK), None)
        if bad is not None:
            what = f"'{text(bad['piece']) or text(bad['room'])}' is not measured yet"
            raise InputError(what, "fix its row on the Rooms sheet", "Rooms sheet")
        return tuple(piece for row in chosen for piece in self._of_row(row, surfaces, covered))

    def _of_row(
        self, row: dict[str, Value], surfaces: Sequence[str], covered: Covered
    ) -> list[MeasuredPiece]:
        count = len(names_of(row))
        if list(surfaces) == [FILLS]:
            return self._filled(row, count)
        areas = {s: units.to_si(number(row[SURFACES[s]], s), self.system.area) for s in surfaces}
        area = math.fsum(areas.values())
        if not area:
            return []
        run = units.to_si(number(row["run"], "run"), self.system.run)
        soak = units.to_si(number(row["soak"], "Soak-in", 0.0), self.system.volume_per_area)
        bare = math.fsum(areas[s] for s in areas if not covered(text(row["room"]).casefold(), s))
        upright = math.fsum(size for s, size in areas.items() if s != "top")
        beside = (bare * soak / count, upright / count, 0.0, 0.0)
        return self._numbered(row, area / count, run / count, beside)

    def _filled(self, row: dict[str, Value], count: int) -> list[MeasuredPiece]:
        """Return the volumes to fill of a row, each with its opening as area."""
        volume = units.to_si(number(row["fill"], "To fill", 0.0), self.system.volume) / count
        depth = units.to_si(number(row["fill_depth"], "Deep", 0.0), self.system.length)
        if not volume or not depth:
            return []
        return self._numbered(row, volume / depth, 0.0, (0.0, 0.0, volume, depth))

    def _numbered(
        self,
        row: dict[str, Value],
        area: float,
        run: float,
        more: tuple[float, float, float, float],
    ) -> list[MeasuredPiece]:
        """Return the pieces a row stands for, each of an area in m² and an edge run in m.

        ``more`` is what soaks in, what stands upright, what is filled and how deep.
        """
        split = text(row["may_split"]).casefold() == "yes"
        order = number(row["order"], "Pour order", _first_or_last())
        where = (text(row["colour"]), text(row["room"]), rooms.joined_to(row))
        rest = (area, run, split, order, *where, *more, text(row["piece"]))
        return [MeasuredPiece(one, *rest) for one in names_of(row)]
