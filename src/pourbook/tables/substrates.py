"""What stands in each room before the first coat: the first table of Survey, in SI units.

Contract: :func:`soaks` gives what the first coat loses in a room; where several rows stand for a
room, the one that drinks most counts. What concrete, stone and the like drink depends on how they
were made and sealed: nothing is usual, so it has to be typed.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from pourbook import units
from pourbook.cells import Rows, Value, choice, is_blank, refuse_errors, text
from pourbook.errors import BlankError, PourbookError
from pourbook.once import once
from pourbook.records import dataclass
from pourbook.tables import reading
from pourbook.tables.declared import declared
from pourbook.tables.row_loop import read_each

TABLE = declared("survey")
COLUMNS, LABELS = TABLE.columns, TABLE.labels
SUBSTRATES = TABLE.choices["substrate"]
WOOD, LAMINATE, TILE, CONCRETE, STONE, METAL, OLD_COATING, OTHER = SUBSTRATES
USUAL_SOAK = {
    WOOD: units.to_si(0.5, "US fl oz/ft²"),
    LAMINATE: 0.0,
    TILE: 0.0,
    METAL: 0.0,
    OLD_COATING: 0.0,
}
"""What the first coat loses into a bare surface, m³/m² (common practice, no source)."""


@dataclass(frozen=True)
class Surveyed:
    """What stands in a room: its substrate or nothing, and what it drinks, m³/m², or None."""

    room: str
    substrate: str
    soak: float | None

    def drinks(self) -> float:
        """Return what a square metre of it takes of the first coat, m³/m².

        Raises:
            InputError: Nobody typed it, and nothing is usual.
        """
        if self.soak is None and self.substrate not in ("", *USUAL_SOAK):
            what = f"nothing is usual for {self.substrate} in '{self.room}'"
            mend = "type Soak-in on Survey, 0 where it is sealed"
            raise BlankError(what, mend, "Survey sheet")
        return USUAL_SOAK.get(self.substrate, 0.0) if self.soak is None else self.soak


def read_survey(row: Mapping[str, Value], system: units.System) -> Surveyed:
    """Read one row.

    Raises:
        InputError: A cell cannot be read; the place is its column.
    """
    refuse_errors(row, LABELS)
    soak = None
    if not is_blank(row["soak"]):
        unit, kind = system.volume_per_area, "volume_per_area"
        soak = reading.labelled(row["soak"], kind, LABELS["soak"], unit, system.fluids)
    substrate = ""
    if not is_blank(row["substrate"]):
        substrate = choice(row["substrate"], LABELS["substrate"], SUBSTRATES)
    return Surveyed(text(row["survey_room"]), substrate, soak)


@once
def surveyed(rows: Rows, system: units.System) -> Sequence[Surveyed | PourbookError | None]:
    """Return every row of the table, a bad one as its refusal, a blank one as None."""
    return read_each(rows, COLUMNS, lambda _, row: read_survey(row, system))


def soaks(rows: Sequence[Surveyed | PourbookError | None], room: str) -> float:
    """Return what a square metre in a room takes of the first coat, m³/m²; 0 without a row.

    Args:
        rows: What :func:`surveyed` gives.
        room: The room.

    Raises:
        InputError: A row cannot be read, or nothing is usual for its substrate.
    """
    most = 0.0
    for one in rows:
        if isinstance(one, PourbookError):
            raise one.again()
        if one is not None and one.room.casefold() == room.casefold():
            most = max(most, one.drinks())
    return most
