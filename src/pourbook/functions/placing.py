"""From the sheets of a job to its placed steps: reads site, pace and temperatures, then schedules.

Contract: :func:`place` returns a :class:`Calendar` of one option in plain local datetimes, or
refuses it in the estimator's words. The job's clock begins at midnight of the first day; crew steps
are rounded up to whole minutes. Every pass of a layer is a coat of its own. Nothing is assumed of a
product's curing: a time its data sheet does not state leaves its line out, and a coat that goes
over another needs the other's earliest recoat time.
"""

from __future__ import annotations

import contextlib
import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta

from pourbook import units
from pourbook.errors import InputError, PourbookError
from pourbook.functions import air as air_table
from pourbook.functions.layers import BEFORE, piece_needs
from pourbook.functions.plans import Planned
from pourbook.functions.values import Rows, Value, choice, is_blank, number, text
from pourbook.functions.working import HOUR, MINUTE, Working
from pourbook.trade.air import AirLimits
from pourbook.trade.days import WORK, Placed, Step, WorkingHours, schedule
from pourbook.trade.history import DAY, Temperatures
from pourbook.trade.sequence import Layer as Coat
from pourbook.trade.sequence import job_steps

EPOCH = datetime(1899, 12, 30)
"""Day 0 of a spreadsheet's dates."""

WEEK = {"Mon-Fri": range(5), "Mon-Sat": range(6), "every day": range(7)}
FIRST_DAY, LAST_DAY = 36526, 109574
"""1 January 2000 and 31 December 2199, as a spreadsheet counts days."""

MOST = 10_000.0
"""The most hours, or minutes, any step may take."""

LONGEST_TYPED = 60
"""Days after which typed or day-and-night temperatures give way to the colder of day and night."""

PREPARE, BARE = "prepare", "bare surface: sand 220"
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


@dataclass(frozen=True)
class Coated:
    """One coat of the calendar: its steps' names begin with ``coat.name``."""

    coat: Coat
    plan: Planned
    limits: AirLimits


@dataclass(frozen=True)
class Calendar:
    """A placed job."""

    site: Site
    history: Temperatures
    coats: tuple[Coated, ...]
    lines: tuple[Placed, ...]

    def coat_of(self, step: str) -> Coated | None:
        """Return the coat a step belongs to; None for the preparation of the bare surface."""
        found = [c for c in self.coats if step.startswith(c.coat.name + ": ")]
        found += [c for c in self.coats if step == f"sand 220 before {c.coat.name}"]
        return max(found, key=lambda c: len(c.coat.name), default=None)

    def seconds(self, moment: datetime) -> float:
        """Return the time of the job's clock, s."""
        return (moment - self.site.start).total_seconds()


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
        if row and not is_blank(row[0]):
            label = f"Temperature of hour {hour + 1}"
            typed[hour] = units.to_si(number(row[0], label), system.temperature)
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


def _batches(plan: Planned, index: int) -> tuple[float, ...]:
    """Return how long each batch of a pass takes, s: mixing, then its share of the area."""
    needs = piece_needs(plan.layer, first=index == 0)
    pace = plan.doing.pace * plan.doing.hands
    mixing = plan.layer.product.minutes * MINUTE
    found = []
    for batch in plan.passes[index].batches:
        area = math.fsum(
            plan.layer.pieces[s.piece].area * s.volume / needs[s.piece].volume for s in batch.shares
        )
        found.append(minutes_up(mixing + area / pace))
    return tuple(found)


def _coat(name: str, plan: Planned, index: int, pace: Pace, site: Site) -> Coat:
    """Return one pass of a layer as the sequence takes it; sanding is set by what comes over it."""
    how = plan.working
    stated = (how.touch, how.recoat_from, how.recoat_until, how.light, how.full)
    reference = how.cure_temp
    if reference is None:
        if any(stated):
            mend = "type the temperature the times of cure are stated at, on Products"
            raise InputError("it is blank", mend, f"Cure at of {how.name}")
        reference = site.day
    before = plan.layer.before if index == 0 else BEFORE[0]
    clean = 0.0
    if before != BEFORE[0]:
        if pace.clean is None:
            mend = "type how much one person cleans in an hour, on Days"
            raise InputError("it is blank", mend, "Cleaning pace")
        clean = minutes_up(plan.layer.area / (pace.clean * site.crew))
    return Coat(
        name=name,
        batch_seconds=_batches(plan, index),
        energy=how.energy_at(reference),
        reference=reference,
        recoat_from=how.recoat_from or 0.0,
        recoat_until=how.recoat_until,
        touch_dry=how.touch,
        light_use=how.light,
        full_service=how.full,
        clean_seconds=clean,
        heat_passes=plan.doing.heat_passes,
        pass_seconds=pace.heat_pass,
        pass_gap=pace.gap,
    )


def _sanded(plan: Planned, pace: Pace, site: Site) -> float | None:
    """Return how long the crew sands the area of a layer, s; None without a pace."""
    if pace.sand is None:
        return None
    return minutes_up(plan.layer.area / (pace.sand * site.crew))


def _under(coat: Coat, how: Working, over: Planned, index: int, pace: Pace, site: Site) -> Coat:
    """Return a coat with what the next one asks of it."""
    if how.recoat_from is None:
        mend = "type the earliest time from its data sheet, on Products"
        raise InputError("it is blank", mend, f"Recoat from of {how.name}")
    always = index == 0 and over.layer.before == BEFORE[2]
    sanding = _sanded(over, pace, site)
    if always and sanding is None:
        mend = "type how much one person sands in an hour, on Days"
        raise InputError("it is blank", mend, "Sanding pace")
    return replace(coat, sand_always=always, sand_seconds=sanding)


def _dry_first(step: Step, coats: list[Coat]) -> Step:
    """Return a sanding between coats put off until the coat is touch dry, if that is stated.

    Common practice, no source: what is still tacky clogs the paper, whatever its recoat time.
    """
    for coat in coats:
        if step.name == f"{coat.name}: sand 220":
            age = max(coat.recoat_from, coat.touch_dry or 0.0)
            return replace(step, needs=tuple(replace(n, from_age=age) for n in step.needs))
    return step


def _names(chosen: list[Planned]) -> list[tuple[str, Planned, int]]:
    """Return every pass with a name unlike the others."""
    found = []
    used: dict[str, int] = {}
    for plan in chosen:
        base = plan.layer.name
        used[base.casefold()] = used.get(base.casefold(), 0) + 1
        again = used[base.casefold()]
        name = f"{base} ({again})" if again > 1 else base
        passes = plan.layer.passes
        found += [(f"{name}, pass {i + 1}" if passes > 1 else name, plan, i) for i in range(passes)]
    return found


def _prepare(pace: Pace, site: Site) -> list[float]:
    """Return the preparation in parts that each fit a working day, s."""
    longest = site.hours.length().total_seconds()
    whole = minutes_up(pace.prepare / site.crew)
    parts = max(1, math.ceil(whole / longest - _SLACK))
    return [min(longest, whole - i * longest) for i in range(parts)] if whole else []


def place(
    planned: list[Planned | PourbookError | None],
    limits: dict[str, AirLimits | PourbookError],
    site: Site,
    pace: Pace,
    history: Temperatures,
) -> Calendar:
    """Place one option's steps on the calendar.

    Args:
        planned: The layers of the option, as :func:`pourbook.functions.plans.plan_all` gives them.
        limits: What each product states of the air.
        site: When and in what air the crew works.
        pace: How fast it prepares.
        history: Temperatures from midnight of the first day.

    Returns:
        The calendar. Source: common practice, no source, for the order of the steps; curing by
        :mod:`pourbook.trade.curing`.

    Raises:
        InputError: A layer is not in order, a figure is missing, or a step finds no place.
    """
    chosen: list[Planned] = []
    for plan in planned:
        if isinstance(plan, PourbookError):
            raise InputError(str(plan), "mend Layers first; see Batches")
        if plan is not None:
            chosen.append(plan)
    if not chosen:
        raise InputError("the option to offer has no layers", "choose another on Price", "Option")
    listed = _names(chosen)
    coats = [_coat(name, plan, index, pace, site) for name, plan, index in listed]
    for i in range(len(coats) - 1):
        _, over, index = listed[i + 1]
        coats[i] = _under(coats[i], listed[i][1].working, over, index, pace, site)
    parts = _prepare(pace, site)
    steps = [_dry_first(step, coats) for step in job_steps(parts, coats)]
    if chosen[0].layer.before == BEFORE[2]:
        sanding = _sanded(chosen[0], pace, site)
        if sanding is None:
            mend = "type how much one person sands in an hour, on Days"
            raise InputError("it is blank", mend, "Sanding pace")
        steps.insert(len(parts), Step(BARE, WORK, sanding))
    lines = schedule(steps, site.start, site.hours, history)
    coated = tuple(
        Coated(coat, plan, air_table.limits_of(limits, plan.layer.product.name))
        for coat, (_, plan, _) in zip(coats, listed, strict=True)
    )
    return Calendar(site, history, coated, tuple(lines))
