"""What the calendar goes by: when the crew works, how fast, and the temperatures hour by hour.

Contract: cells of Start, Days and Hours in, SI out; dates and times of a spreadsheet are days since
30 December 1899. The job's clock begins at midnight of the first day.
"""

from __future__ import annotations

import contextlib
import math
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from pourbook import units
from pourbook.errors import InputError
from pourbook.functions import air as air_table
from pourbook.functions.values import Rows, Value, as_mapping, choice, is_blank, number, text
from pourbook.functions.working import HOUR, MINUTE
from pourbook.trade.days import WorkingHours
from pourbook.trade.history import DAY, Temperatures

EPOCH = datetime(1899, 12, 30)
"""Day 0 of a spreadsheet's dates."""

WEEK = {"Mon-Fri": range(5), "Mon-Sat": range(6), "every day": range(7)}
FIRST_DAY, LAST_DAY = 36526, 109574
"""1 January 2000 and 31 December 2199, as a spreadsheet counts days."""

MOST = 10_000.0
"""The most hours, or minutes, any step may take."""

LONGEST_TYPED = 60
"""Days after which typed or day-and-night temperatures give way to the colder of day and night."""
_SLACK = 1e-6


@dataclass(frozen=True)
class Site:
    """When and in what air the crew works, SI: temperatures in K, humidity a fraction or None."""

    start: datetime
    day: float
    night: float
    day_from: float
    day_to: float
    humidity: float | None
    surface: float | None
    crew: int
    hours: WorkingHours


@dataclass(frozen=True)
class Pace:
    """How fast one person prepares, SI: s and m²/s; None where the sheet does not say."""

    prepare: float
    sand: float | None
    clean: float | None
    heat_pass: float
    gap: float


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
            found = (EPOCH + timedelta(days=int(value))).date()
    else:
        with contextlib.suppress(ValueError):
            found = date.fromisoformat(text(value))
    if found is None or not FIRST_DAY <= serial(datetime(*found.timetuple()[:3])) <= LAST_DAY:
        mend = "type it as year-month-day, such as 2027-01-18"
        raise InputError(f"'{text(value)}' is no date", mend, label)
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
        raise InputError(f"'{text(value)}' is no day and time", mend, label) from None
    read_date(serial(found.replace(tzinfo=None)), label)
    return found.replace(tzinfo=None)


def read_site(cells: Mapping[str, Value], system: units.System) -> Site:
    """Read the arguments that stand on Start.

    Raises:
        InputError: One is missing or impossible; the place is its label on Start.
    """

    def kelvin(name: str, label: str, blank: float | None = None) -> float:
        if is_blank(cells[name]) and blank is not None:
            return blank
        return units.to_si(number(cells[name], label), system.temperature)

    if is_blank(cells["start"]):
        raise InputError("type the day the work starts on Start")
    first = read_date(cells["start"], "Work starts")
    crew = number(cells["crew"], "Crew")
    if crew < 1 or crew != int(crew):
        raise InputError(f"it is {crew:g}", "type 1, 2, 3 ... on Start", "Crew")
    off = cells["days_off"]
    listed = [off] if isinstance(off, int | float) else text(off).split(";")
    worked = WEEK[choice(cells["weekdays"], "Days worked", tuple(WEEK))]
    day = kelvin("temperature", "Day temperature")
    damp = cells["humidity"]
    return Site(
        start=datetime(first.year, first.month, first.day),
        day=day,
        night=kelvin("night", "Night temperature", day),
        day_from=number(cells["day_from"], "Day temperature from", 0.0),
        day_to=number(cells["day_to"], "Day temperature until", 24.0),
        humidity=None if is_blank(damp) else air_table.humidity(damp, "Relative humidity"),
        surface=None if is_blank(cells["surface"]) else kelvin("surface", "Surface temperature"),
        crew=int(crew),
        hours=WorkingHours(
            number(cells["work_from"], "Work begins"),
            number(cells["work_to"], "Work ends"),
            frozenset(worked),
            frozenset(read_date(d, "Days off") for d in listed if not is_blank(d)),
        ),
    )


def read_pace(cells: Mapping[str, Value], system: units.System) -> Pace:
    """Read the form of the Days sheet.

    Raises:
        InputError: A figure is missing or below what it can be; the place is its label.
    """

    def at_least_0(name: str, label: str) -> float:
        value = number(cells[name], label)
        if not 0 <= value <= MOST:
            raise InputError(f"it is {value:g}", f"type 0 to {MOST:g}", label)
        return value

    def area_rate(name: str, label: str) -> float | None:
        if is_blank(cells[name]):
            return None
        value = number(cells[name], label)
        if value <= 0:
            raise InputError(f"it is {value:g}", "type a number above 0", label)
        return units.to_si(value, system.area) / HOUR

    return Pace(
        prepare=at_least_0("prepare", "Prepare") * HOUR,
        sand=area_rate("sand", "Sanding pace"),
        clean=area_rate("clean", "Cleaning pace"),
        heat_pass=at_least_0("heat_pass", "A heat pass") * MINUTE,
        gap=at_least_0("gap", "Before each heat pass") * MINUTE,
    )


def read_history(hourly: Rows, site: Site, system: units.System) -> Temperatures:
    """Return the temperatures from midnight of the first day.

    An hour typed holds for its hour; a blank one, and every hour after the table, is day or night
    of Start, until :data:`LONGEST_TYPED` days are over.

    Raises:
        InputError: A temperature cannot be read; the place is its row.
    """
    usual = Temperatures.day_night(site.day, site.night, site.day_from, site.day_to)
    typed: dict[int, float] = {}
    for hour, row in enumerate(hourly):
        (cell,) = as_mapping(row, ("temperature",)).values()
        if not is_blank(cell):
            label = f"Temperature of hour {hour + 1}"
            typed[hour] = units.to_si(number(cell, label), system.temperature)
    if not typed:
        return usual
    turns = sorted({site.day_from * HOUR % DAY, site.day_to * HOUR % DAY})
    starts, kelvins = [], []
    for hour in range(LONGEST_TYPED * 24):
        begin = hour * HOUR
        cuts = [begin]
        if hour not in typed:
            midnight = begin - begin % DAY
            cuts += [midnight + t for t in turns if begin < midnight + t < begin + HOUR]
        for cut in cuts:
            starts.append(cut)
            kelvins.append(typed[hour] if hour in typed else usual.at(cut))
    starts.append(LONGEST_TYPED * DAY)
    kelvins.append(min(site.day, site.night))
    return Temperatures(starts, kelvins)


def minutes_up(seconds: float) -> float:
    """Return a time rounded up to whole minutes, s.

    Raises:
        InputError: It is longer than any step may take.

    Example:
        >>> minutes_up(60.0), minutes_up(61.0)
        (60.0, 120.0)
    """
    if seconds > MOST * HOUR:
        what = f"it takes {seconds / HOUR:.3g} h"
        raise InputError(what, "look at pace and hands on Layers and Days", "Work")
    return math.ceil(seconds / MINUTE - _SLACK) * MINUTE
