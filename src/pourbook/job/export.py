"""The calendar of a job as a calendar file.

Contract: :func:`calendar_text` writes what the recomputed Days sheet says, line by line, and
nothing it has worked out itself; a calendar that is not in order is refused with the reason.
"""

from __future__ import annotations

import datetime as dt
from collections import Counter

from pourbook.cells import OK, Value, text, unmarked
from pourbook.dates import from_serial
from pourbook.errors import InputError
from pourbook.formats.ics import Event, to_ics
from pourbook.workbook.check.check import Checked
from pourbook.workbook.read.named import NamedCells


def placed_lines(checked: Checked) -> list[Event]:
    """Return the lines of the Days sheet as events, named by layer and step.

    Raises:
        InputError: The calendar is not in order, or empty.
    """

    def value(name: str, index: int) -> Value:
        cell = checked.plan.cell("days", name, index)
        return checked.values.get((cell.sheet, cell.address))

    found: list[Event] = []
    for index in range(checked.plan.block("days").rows):
        status = text(value("day_status", index))
        if status != OK and status:
            raise InputError(unmarked(status), "fix it, then export again", "Days")
        if not status:
            continue
        layer, step = text(value("day_layer", index)), text(value("step", index))
        start, end = value("starts", index), value("ends", index)
        if not (isinstance(start, int | float) and isinstance(end, int | float)):
            where = f"Days, line {index + 1}"
            raise InputError("it has no day and time", "see: pourbook check", where)
        words = [text(value(name, index)) for name in ("air", "day_note")]
        note = ": ".join(word for word in words if word and word != "go")
        name = f"{layer}: {step}" if layer else step
        found.append(Event(name, from_serial(start), from_serial(end), note))
    if not found:
        raise InputError("there is nothing on the calendar", "fill in Start and Layers", "Days")
    return found


def dates_of_board(checked: Checked) -> list[Event]:
    """Return the dates on site of every job of a board, named by job and date.

    Raises:
        InputError: There is none.
    """
    reader = NamedCells(checked.plan, checked.book, checked.values)
    found: list[Event] = []
    counts: Counter[str] = Counter()
    for row in reader.rows("visits", "visit_job"):
        job, crew = (reader.words("visits", f"visit_{name}", row) for name in ("job", "crew"))
        begins, ends = (reader.number("visits", f"visit_{n}", row) for n in ("from", "until"))
        counts[job.casefold()] += 1
        clash = reader.words("visits", "clash", row)
        note = f"Crew {crew}" + (f"; {clash}" if clash != OK else "")
        name = f"{job}, date {counts[job.casefold()]}"
        found.append(Event(name, from_serial(begins), from_serial(ends), note))
    if not found:
        raise InputError("there is nothing on the calendar", "make the board again", "Visits")
    return found


def board_text(checked: Checked, stamp: dt.datetime) -> str:
    """Return the calendar of a whole board in the form of RFC 5545.

    Args:
        checked: The board, recomputed.
        stamp: When the file is written, in UTC, without a time zone.

    Raises:
        InputError: There is no date on it.
    """
    return to_ics(dates_of_board(checked), stamp, "Board")


def calendar_text(checked: Checked, stamp: dt.datetime) -> str:
    """Return the calendar of a job in the form of RFC 5545.

    Args:
        checked: The job, recomputed.
        stamp: When the file is written, in UTC, without a time zone.

    Raises:
        InputError: The calendar is not in order, or the job has no name.
    """
    cell = checked.plan.cell("start", "job")
    sheet = checked.book.sheets.get(cell.sheet)
    name = text(sheet.value(cell.address)) if sheet else ""
    return to_ics(placed_lines(checked), stamp, name)
