"""What the calendar goes by: when the crew works, how fast, and the temperatures hour by hour.

Contract: cells of Start, Days and Hours in, SI out; dates and times of a spreadsheet are days since
30 December 1899. The job's clock begins at midnight of the first day.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from datetime import datetime
from itertools import chain

from pourbook import units
from pourbook.cells import Rows, Value, as_mapping, choice, is_blank, number, text
from pourbook.dates import DAY, read_date
from pourbook.errors import InputError, RangeError
from pourbook.records import dataclass
from pourbook.tables import limits
from pourbook.tables.works import HOUR, MINUTE
from pourbook.trade.cure.history import Temperatures
from pourbook.trade.days.schedule import WorkingHours

WEEK = {"Mon-Fri": range(5), "Mon-Sat": range(6), "every day": range(7)}

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


OTHER_STEPS = {
    "cans": ("Cans in the warm", HOUR),
    "lift_out": ("Lift out", HOUR),
    "mask": ("Mask", HOUR),
    "filler": ("Fillers cure", HOUR),
    "dams": ("Dams and tape", HOUR),
    "clean_up": ("Clean up after a coat", MINUTE),
    "drips": ("Sand drips of a poured coat", MINUTE),
    "back": ("Return visit", HOUR),
}
"""The other steps of Days in their order: what each is called, and what its figure counts, s."""


@dataclass(frozen=True)
class OtherSteps:
    """What the other steps of Days take, s, of one person; blank and 0 leave a step out.

    ``cans`` and ``filler`` are waits, nobody's work.
    """

    cans: float = 0.0
    lift_out: float = 0.0
    mask: float = 0.0
    filler: float = 0.0
    dams: float = 0.0
    clean_up: float = 0.0
    drips: float = 0.0
    back: float = 0.0

    def hours(self, coats: int, poured: int) -> float:
        """Return the work in them, h of one person.

        Args:
            coats: How many coats are put on.
            poured: How many of them are poured.

        Example:
            >>> OtherSteps(mask=3600.0, filler=7200.0, clean_up=900.0).hours(2, 1)
            1.5
        """
        once = self.lift_out + self.mask + self.dams + self.back
        return (once + self.clean_up * coats + self.drips * poured) / HOUR


def read_other_steps(rows: Rows) -> OtherSteps:
    """Read the other steps of Days, a row for each; jobs of templates 1 have none.

    Raises:
        InputError: A figure is no number or out of range; the place is its label.

    Example:
        >>> read_other_steps([[24], [None], [0.5]]).mask
        1800.0
    """
    found: dict[str, float] = {}
    for (name, (label, unit)), row in zip(OTHER_STEPS.items(), rows, strict=False):
        (cell,) = as_mapping(row, ("steps",)).values()
        value = 0.0 if is_blank(cell) else number(cell, label)
        if not 0 <= value <= MOST:
            raise RangeError(f"it is {value:g}", f"type 0 to {MOST:g}", label)
        found[name] = value * unit
    return OtherSteps(**found)


@dataclass(frozen=True)
class Pace:
    """How fast one person prepares, SI: s and m²/s; None where the sheet does not say."""

    prepare: float
    sand: float | None
    clean: float | None
    heat_pass: float
    gap: float


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
        raise RangeError(f"it is {crew:g}", "type 1, 2, 3 ... on Start", "Crew")
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
        humidity=None if is_blank(damp) else limits.humidity(damp, "Relative humidity"),
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
            raise RangeError(f"it is {value:g}", f"type 0 to {MOST:g}", label)
        return value

    def area_rate(name: str, label: str) -> float | None:
        if is_blank(cells[name]):
            return None
        value = number(cells[name], label)
        if value <= 0:
            raise RangeError(f"it is {value:g}", "type a number above 0", label)
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
    if {None, ""}.issuperset(chain.from_iterable(hourly)):
        return usual  # as in most jobs
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
