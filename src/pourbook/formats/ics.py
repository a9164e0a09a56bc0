"""Writing a placed calendar as an iCalendar file.

Contract: text in the form of RFC 5545: CRLF line ends, lines folded at 75 octets, floating local
times (no time zone: 7:00 is 7:00 wherever the job is). The text depends on the arguments alone: the
stamp is passed in, and a step keeps its UID when it moves to another day, so that a calendar that
reads the file again moves the entry instead of doubling it.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable
from datetime import datetime

from pourbook.errors import InputError
from pourbook.records import dataclass

_FOLD = 75


@dataclass(frozen=True)
class Event:
    """One entry of a calendar: its name, unlike every other, its local times, and a note."""

    name: str
    start: datetime
    end: datetime
    note: str = ""


def _escape(text: str) -> str:
    """Return text as an RFC 5545 TEXT value (section 3.3.11, from memory).

    Control characters, which the format forbids, become spaces.
    """
    lines = text.replace("\r\n", "\n").replace("\r", "\n")
    for plain, written in (("\\", "\\\\"), (";", "\\;"), (",", "\\,")):
        lines = lines.replace(plain, written)
    kept = "".join(c if c == "\n" or (c >= " " and c != "\x7f") else " " for c in lines)
    return kept.replace("\n", "\\n")


def _fold(line: str) -> str:
    """Return a content line folded so that no piece is over 75 octets or splits a character."""
    pieces, piece, size = [], "", 0
    for character in line:
        octets = len(character.encode("utf-8"))
        if size + octets > _FOLD:
            pieces.append(piece)
            piece, size = " ", 1
        piece += character
        size += octets
    return "\r\n".join([*pieces, piece])


def _local(moment: datetime) -> str:
    """Return a floating local time."""
    if moment.tzinfo is not None:
        raise InputError("a date carries a time zone", "give the date and time alone")
    return moment.strftime("%Y%m%dT%H%M%S")


def to_ics(events: Iterable[Event], stamp: datetime, job: str) -> str:
    r"""Return events as an iCalendar text.

    An event that takes no time has no end, which RFC 5545 reads as ending when it starts. Fractions
    of a second are dropped.

    Args:
        events: What is to stand in the calendar, in order.
        stamp: When the file is written, in UTC, given without a time zone.
        job: The job's name or number; part of each UID.

    Returns:
        The text; write it as UTF-8 with its line ends untouched.

    Raises:
        InputError: A date with a time zone, a nameless job, or two events of one name.

    Example:
        >>> line = Event("pour", datetime(2024, 3, 4, 7), datetime(2024, 3, 4, 8))
        >>> text = to_ics([line], datetime(2024, 3, 1, 12), "job 12")
        >>> "DTSTART:20240304T070000" in text.split("\r\n")
        True
    """
    if not job.strip():
        raise InputError("the job has no name", "give it a name or number")
    lines = ["BEGIN:VCALENDAR", "VERSION:2.0", "PRODID:-//Pourbook//Pourbook//EN"]
    seen: set[str] = set()
    for line in events:
        name = line.name
        if name in seen:
            raise InputError(f"two steps are called '{name}'", "give each its own name")
        seen.add(name)
        mark = hashlib.sha256(f"{job}\n{name}".encode()).hexdigest()[:32]
        lines += [
            "BEGIN:VEVENT",
            f"UID:{mark}@pourbook",
            f"DTSTAMP:{_local(stamp)}Z",
            f"DTSTART:{_local(line.start)}",
        ]
        if line.end > line.start:
            lines.append(f"DTEND:{_local(line.end)}")
        lines.append(f"SUMMARY:{_escape(f'{job}: {name}')}")
        if line.note:
            lines.append(f"DESCRIPTION:{_escape(line.note)}")
        lines.append("END:VEVENT")
    lines.append("END:VCALENDAR")
    return "".join(_fold(line) + "\r\n" for line in lines)
