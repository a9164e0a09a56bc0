"""Dates and times as a spreadsheet counts them: days since 30 December 1899.

Contract: the one epoch of the project; local times without a zone.
"""

from __future__ import annotations

import contextlib
from datetime import date, datetime, timedelta

from pourbook.cells import Value, text
from pourbook.errors import MisreadError

EPOCH = datetime(1899, 12, 30)
"""Day 0 of a spreadsheet's dates."""


DAY = 86400.0
"""Seconds of a day."""
FIRST_DAY, LAST_DAY = 36526, 109574
"""1 January 2000 and 31 December 2199, as a spreadsheet counts days."""


def day_number(day: date) -> int:
    """Return a day as a spreadsheet counts it.

    Example:
        >>> day_number(date(2026, 11, 24))
        46350
    """
    return (day - EPOCH.date()).days


def day_of(number: float) -> date:
    """Return the day of a spreadsheet's date and time.

    Example:
        >>> day_of(46350.5)
        datetime.date(2026, 11, 24)
    """
    return EPOCH.date() + timedelta(days=int(number))


def serial(moment: datetime) -> float:
    """Return a moment as a spreadsheet's date and time.

    Example:
        >>> serial(datetime(1900, 1, 1, 12))
        2.5
    """
    return (moment - EPOCH).total_seconds() / DAY


def from_serial(days: float) -> datetime:
    """Return a spreadsheet's date and time as a moment, to the second.

    Example:
        >>> from_serial(2.5)
        datetime.datetime(1900, 1, 1, 12, 0)
    """
    return EPOCH + timedelta(seconds=round(days * DAY))


def read_date(value: Value, label: str) -> date:
    """Return a date typed as a date, or as year-month-day.

    Raises:
        InputError: It is no date.

    Example:
        >>> read_date(46398.0, "Work starts"), read_date("2027-01-11", "Work starts")
        (datetime.date(2027, 1, 11), datetime.date(2027, 1, 11))
    """
    found: date | None = None
    if isinstance(value, int | float) and not isinstance(value, bool):
        if FIRST_DAY <= value <= LAST_DAY:
            found = day_of(value)
    else:
        with contextlib.suppress(ValueError):
            found = date.fromisoformat(text(value))
    if found is None or not FIRST_DAY <= serial(datetime(*found.timetuple()[:3])) <= LAST_DAY:
        mend = "type it as year-month-day, such as 2027-01-18"
        raise MisreadError(f"'{text(value)}' is no date", mend, label)
    return found


def read_moment(value: Value, label: str) -> datetime:
    """Return a day and time typed as a date, or as year-month-day hour:minute.

    Raises:
        InputError: It is no day and time.

    Example:
        >>> read_moment("2027-01-11 09:30", "Mixing began"), read_moment(46398.5, "Mixing began")
        (datetime.datetime(2027, 1, 11, 9, 30), datetime.datetime(2027, 1, 11, 12, 0))
    """
    if isinstance(value, int | float) and not isinstance(value, bool):
        read_date(value, label)
        return from_serial(value)
    try:
        found = datetime.fromisoformat(text(value))
    except ValueError:
        mend = "type it as year-month-day hour:minute, such as 2027-01-18 09:30"
        raise MisreadError(f"'{text(value)}' is no day and time", mend, label) from None
    read_date(serial(found.replace(tzinfo=None)), label)
    return found.replace(tzinfo=None)
