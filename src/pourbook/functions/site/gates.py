"""The gates before the first step on site: what must be answered before anything is prepared.

Contract: :func:`told` gives each gate with ``ok`` or what it waits for. Old paint, tile, adhesive
or backer may hold lead or asbestos; gas, electric and plumbing are for licensed trades; concrete is
read for moisture, an old coating for adhesion, room by room (common practice, no source; local
codes go first).
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

from pourbook.cells import OK, Rows, Value, as_mapping, choice, is_blank, refuse_errors, text
from pourbook.errors import InputError, PourbookError
from pourbook.records import dataclass
from pourbook.tables.substrates import CONCRETE, OLD_COATING, Surveyed

NAMES = ("old", "lead", "asbestos", "gas", "electric", "plumbing", "by_whom")
_LABELS = dict(
    zip(
        NAMES,
        ("Old is sanded", "Lead", "Asbestos", "Gas", "Electric", "Plumbing", "Disconnected by"),
        strict=True,
    )
)
YES, NO = "yes", "no"
TESTED = ("tested: none", "left to those licensed")
NOTHING, DISCONNECTED = "nothing there", "disconnected"
WAITS = "waits: "
COLUMNS = ("answer",)


@dataclass(frozen=True)
class Judged:
    """A reading that was judged: its room, whether it reads moisture or adhesion, what it says."""

    room: str
    moisture: bool
    go: bool


def told(
    survey: Sequence[Surveyed | PourbookError | None], answers: Rows, readings: Sequence[Judged]
) -> list[tuple[Value, Value]]:
    """Return each gate, and ``ok`` or what it waits for.

    Args:
        survey: What is there, as :func:`pourbook.tables.substrates.surveyed` gives it.
        answers: The answers, in the order of :data:`NAMES`.
        readings: The readings.

    Raises:
        InputError: There are more or fewer answers.
    """
    if len(answers) != len(NAMES):
        what = f"the range has {len(answers)} rows instead of {len(NAMES)}"
        raise InputError(what, "give the whole form Before anything is touched")
    row = {
        name: as_mapping(cells, COLUMNS)["answer"]
        for name, cells in zip(NAMES, answers, strict=True)
    }
    rows = [one for one in survey if isinstance(one, Surveyed)]

    def in_rooms(substrate: str, moisture: bool) -> str:
        """Return the first room of a substrate without such a reading, or with one against it."""
        mine = [one for one in readings if one.moisture is moisture]
        against = {one.room.casefold() for one in mine if not one.go}
        done = {one.room.casefold() for one in mine} - against
        rooms = (r.room for r in rows if r.substrate == substrate)
        return next((room for room in rooms if room.casefold() not in done), "")

    def unread(substrate: str, what: str, *, moisture: bool) -> str:
        room = in_rooms(substrate, moisture)
        return room and f"a reading of {what} that says go, in '{room}', {substrate}"

    gates: dict[str, Callable[[], str]] = {
        "Lead": lambda: _hazard(row, "lead"),
        "Asbestos": lambda: _hazard(row, "asbestos"),
        "Gas": lambda: _disconnected(row, "gas"),
        "Electric": lambda: _disconnected(row, "electric"),
        "Plumbing": lambda: _disconnected(row, "plumbing"),
        "Moisture": lambda: unread(CONCRETE, "moisture", moisture=True),
        "Adhesion": lambda: unread(OLD_COATING, "adhesion", moisture=False),
    }
    return [(name, _state(asked)) for name, asked in gates.items()]


def _state(asked: Callable[[], str]) -> str:
    try:
        waits = asked()
    except PourbookError as error:
        return error.cell_text()
    return WAITS + waits if waits else OK


def _hazard(row: Mapping[str, Value], name: str) -> str:
    """Return what lead or asbestos waits for, where something old is worked on."""
    refuse_errors(row, _LABELS)
    if is_blank(row["old"]):
        return "say whether anything old is sanded, ground or scraped"
    if choice(row["old"], _LABELS["old"], (YES, NO)) == NO:
        return ""
    if is_blank(row[name]):
        return f"a test for {name} before anything old is touched, by those licensed"
    choice(row[name], _LABELS[name], TESTED)
    return ""


def _disconnected(row: Mapping[str, Value], name: str) -> str:
    """Return what gas, electric or plumbing waits for."""
    refuse_errors(row, _LABELS)
    if is_blank(row[name]):
        return "say whether anything has to be disconnected, by those licensed"
    if choice(row[name], _LABELS[name], (NOTHING, DISCONNECTED)) == DISCONNECTED:
        return "" if text(row["by_whom"]) else "say who disconnects it"
    return ""
