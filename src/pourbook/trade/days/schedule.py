"""Placing the steps of a job in working days.

Contract: plain datetimes without a time zone and no clock read; summer time is not known here. One
crew does one thing at a time, in the order listed. Crew steps stay inside working hours; milestones
such as touch dry take no crew and may fall at night. Ages follow the temperatures of the job, in
seconds from its start. Times of curing are those the product states: none is built in.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from datetime import date, datetime, time, timedelta
from enum import Enum, auto
from typing import NamedTuple

from pourbook.dates import DAY
from pourbook.errors import InputError, RangeError
from pourbook.records import dataclass
from pourbook.trade.cure.history import Temperatures, time_to_age
from pourbook.trade.ranges import number

LONGEST_SEARCH = 366
"""Days looked ahead for a working day before the calendar is refused."""

LONGEST_WAIT = 3650 * DAY
"""Longest time from the job's start, s, any step is waited for."""

WORK = "work"
MILESTONE = "milestone"
ADDED = "added"
"""The mark of a note on what the calendar had to put in; the sheet counts it."""

LATE = "CHECK"
"""The mark of a note on what comes too late; the sheet counts it."""


class Deed(Enum):
    """What a step is, whatever its name: done by the crew, or reached by the film."""

    OTHER = auto()
    PREPARE = auto()
    SAND_BARE = auto()
    SAND = auto()
    SAND_MISSED = auto()
    CLEAN = auto()
    BATCH = auto()
    HEAT = auto()
    TOUCH_DRY = auto()
    RECOAT_FROM = auto()
    RECOAT_UNTIL = auto()
    LIGHT_USE = auto()
    FULL_SERVICE = auto()
    CANS = auto()
    LIFT_OUT = auto()
    MASK = auto()
    FILLED = auto()
    DAMS = auto()
    CLEAN_UP = auto()
    DRIPS = auto()
    RETURN = auto()


@dataclass(frozen=True)
class WorkingHours:
    """When the crew works.

    Attributes:
        start_hour: Hour of the clock work begins, from 0.
        end_hour: Hour it ends, after ``start_hour``, up to 24.
        weekdays: Days worked, 0 Monday to 6 Sunday.
        days_off: Dates not worked.
    """

    start_hour: float
    end_hour: float
    weekdays: frozenset[int]
    days_off: frozenset[date] = frozenset()

    def __post_init__(self) -> None:
        """Refuse hours in which nothing can be done."""
        number("hour work begins", self.start_hour, 0.0, 24.0)
        number("hour work ends", self.end_hour, 0.0, 24.0)
        if self.start_hour >= self.end_hour:
            raise RangeError(
                f"work begins at hour {self.start_hour:g} and ends at hour {self.end_hour:g},"
                " so there are no working hours",
                "let the day end later than it begins",
            )
        if not self.weekdays & frozenset(range(7)):
            raise InputError("no weekday is worked", "mark at least one working day")

    def length(self) -> timedelta:
        """Return the length of a working day."""
        return timedelta(hours=self.end_hour - self.start_hour)

    def earliest(self, ready: datetime, span: timedelta) -> datetime | None:
        """Return the first start, at or after ``ready``, from which ``span`` fits in one day."""
        midnight = datetime.combine(ready.date(), time())
        for _ in range(LONGEST_SEARCH):
            day = midnight.date()
            if day.weekday() in self.weekdays and day not in self.days_off:
                start = max(ready, midnight + timedelta(hours=self.start_hour))
                if start + span <= midnight + timedelta(hours=self.end_hour):
                    return start
            midnight += timedelta(days=1)
        return None


class Need(NamedTuple):
    """What a step waits for: another step's end, and the cure gained since.

    Attributes:
        step: Name of the earlier step.
        from_age: Equivalent age needed since it ended, s at ``reference``.
        until_age: Equivalent age by which this step must be finished, s; ``None`` for no end.
        energy: Activation energy of the layer, J/mol; 0 counts plain time.
        reference: Temperature the ages are stated at, K.
    """

    step: str
    from_age: float = 0.0
    until_age: float | None = None
    energy: float = 0.0
    reference: float = 296.15


class Step(NamedTuple):
    """One line of the calendar.

    Attributes:
        name: Its name, unlike every other.
        kind: ``work`` for the crew, ``milestone`` for an event without crew.
        work_seconds: How long the crew needs, s; a step is never split over two days.
        needs: What it waits for.
        together: Steps in a row with the same text here are done the same day, one straight after
            the other, such as the batches of a layer wet into wet.
        pause_seconds: Wait before it, s, within its group, such as between heat passes.
        sand_seconds: Time to sand and clean, s, if this step's window is missed; ``None`` if
            sanding cannot mend it.
        sand_needs: What that sanding waits for, beside what the step itself waits for.
        latest: A milestone that closes: shown at the end of its window, rounded down.
        deed: What it is.
        coat: Which layer it belongs to, counted from 0; ``None`` for what is done before them.
        turn: Which of several it is, counted from 1, such as the batch of a layer.
        begins: When it begins, s from the start of its group; ``None``: straight after the step
            before, and its pause. Steps of a group may overlap: more than one person works.
        note: What is to be said of it.
        hands: How many of the crew it takes; ``None`` is all of them.
    """

    name: str
    kind: str
    work_seconds: float = 0.0
    needs: tuple[Need, ...] = ()
    together: str = ""
    pause_seconds: float = 0.0
    sand_seconds: float | None = None
    sand_needs: tuple[Need, ...] = ()
    latest: bool = False
    deed: Deed = Deed.OTHER
    coat: int | None = None
    turn: int = 1
    begins: float | None = None
    note: str = ""
    hands: int | None = None


class Placed(NamedTuple):
    """A step with its start and end; ``note`` says what the calendar had to change."""

    step: Step
    start: datetime
    end: datetime
    note: str = ""


def _check(steps: Sequence[Step]) -> None:
    """Refuse steps that cannot be placed whatever the calendar."""
    seen: set[str] = set()
    for step in steps:
        if step.name in seen:
            raise InputError(f"two steps are called '{step.name}'", "give each its own name")
        if step.kind not in (WORK, MILESTONE):
            raise InputError(
                f"step '{step.name}' is of kind '{step.kind}'", f"write {WORK} or {MILESTONE}"
            )
        if not 0.0 <= step.work_seconds < math.inf:  # words for all would take longer than the rest
            number(f"work of '{step.name}' in s", step.work_seconds)
        if not 0.0 <= step.pause_seconds < math.inf:
            number(f"wait before '{step.name}' in s", step.pause_seconds)
        if step.kind == MILESTONE and not step.needs:
            raise InputError(f"nothing says when '{step.name}' is reached", "name the step before")
        for need in step.needs:
            if need.step not in seen:
                raise InputError(
                    f"'{step.name}' waits for '{need.step}', which does not come before it",
                    "list the steps in the order they are done",
                )
            if not 0.0 <= need.from_age < math.inf:
                number(f"age '{step.name}' waits for in s", need.from_age)
            if need.until_age is not None and need.until_age <= need.from_age:
                raise InputError(
                    f"the recoat window of '{step.name}' closes before it opens",
                    "make the latest recoat time longer than the earliest",
                )
        seen.add(step.name)


class _Calendar:
    """The placing itself: what is placed, and when the crew is free."""

    def __init__(self, start: datetime, hours: WorkingHours, history: Temperatures) -> None:
        self.start = start
        self.hours = hours
        self.history = history
        self.free = start
        self.lines: list[Placed] = []
        self.ends: dict[str, datetime] = {}

    def place(self, step: Step, start: datetime, end: datetime, note: str = "") -> None:
        """Write a line."""
        self.lines.append(Placed(step, start, end, note))
        self.ends[step.name] = end

    def when(self, need: Need, age: float, up: bool) -> datetime:
        """Return the whole second at which ``need``'s step has gained ``age``."""
        begin = (self.ends[need.step] - self.start).total_seconds()
        seconds = time_to_age(self.history, begin, age, need.energy, need.reference)
        if seconds > LONGEST_WAIT:
            raise InputError(
                f"what waits for '{need.step}' is not ready in ten years at these temperatures",
                "check the times of cure and the temperatures",
            )
        whole = math.ceil(seconds - 1e-6) if up else math.floor(seconds + 1e-6)
        return self.start + timedelta(seconds=whole)

    def ready(self, step: Step) -> datetime:
        """Return when everything ``step`` waits for is there."""
        return max([self.start, *(self.when(need, need.from_age, True) for need in step.needs)])

    def closes(self, step: Step) -> datetime | None:
        """Return by when ``step`` must be finished, if there is such a time."""
        ends = [
            self.when(need, need.until_age, False)
            for need in step.needs
            if need.until_age is not None
        ]
        return min(ends, default=None)

    def slot(self, name: str, ready: datetime, span: timedelta) -> datetime:
        """Return the first start for crew work, or refuse it naming the step."""
        if span > self.hours.length():
            raise InputError(
                f"'{name}' takes {span.total_seconds() / 3600.0:.1f} h but a working day has"
                f" {self.hours.length().total_seconds() / 3600.0:.1f} h",
                "split it, add hands, or lengthen the day",
            )
        found = self.hours.earliest(max(ready, self.free), span)
        if found is None:
            raise InputError(
                f"'{name}' finds no working hours within {LONGEST_SEARCH} days",
                "check the working days and the dates off",
            )
        return found

    def milestone(self, step: Step) -> None:
        """Place an event at the time it is reached."""
        at = self.ready(step)
        if step.latest:
            at = min(self.when(need, need.from_age, False) for need in step.needs)
        self.place(step, at, at)

    def group(self, steps: Sequence[Step]) -> None:
        """Place crew steps one straight after the other within one day."""
        first = steps[0]
        offsets = _offsets(steps)
        total = max(at + step.work_seconds for at, step in zip(offsets, steps, strict=True))
        span = timedelta(seconds=math.ceil(total))
        name = first.together or first.name
        named = {step.name for step in steps}
        needs = [need for step in steps for need in step.needs]
        if any(need.step in named and need.from_age > 0.0 for need in needs):
            raise InputError(
                f"a step of '{name}' waits for another of the same group to cure",
                "give it a pause, or take it out of the group",
            )
        outside = [need for need in needs if need.step not in named]
        whole = first._replace(needs=tuple(outside))
        ready = self.ready(whole)
        begin = self.slot(name, ready, span)
        closes = self.closes(whole)
        note = ""
        if closes is not None and begin + span > closes:
            note = f"recoat window closed {closes:%Y-%m-%d %H:%M}: sand 220 and clean first"
            if first.sand_seconds is None:
                raise InputError(
                    f"'{name}' cannot be finished before its recoat window closes,"
                    f" {closes:%Y-%m-%d %H:%M}",
                    "start at another hour, or allow sanding before it",
                )
            sand = Step(
                f"sand 220 before {name}",
                WORK,
                first.sand_seconds,
                first.sand_needs,
                deed=Deed.SAND_MISSED,
                coat=first.coat,
            )
            sand_span = timedelta(seconds=math.ceil(first.sand_seconds))
            at = self.slot(sand.name, max(ready, self.ready(sand)), sand_span)
            self.place(sand, at, at + sand_span, f"{ADDED}: recoat window missed")
            self.free = at + sand_span
            begin = self.slot(name, ready, span)
        for offset, step in zip(offsets, steps, strict=True):
            start = begin + timedelta(seconds=offset)
            end = begin + timedelta(seconds=offset + step.work_seconds)
            self.place(step, start, end, note or step.note)
            note = ""
        self.free = begin + span


def _offsets(steps: Sequence[Step]) -> list[float]:
    """Return when each step of a group begins, s from the start of the group."""
    found: list[float] = []
    end = 0.0
    for step in steps:
        begins = end + step.pause_seconds if step.begins is None else step.begins
        found.append(begins)
        end = begins + step.work_seconds
    return found


def schedule(
    steps: Iterable[Step], start: datetime, hours: WorkingHours, history: Temperatures
) -> list[Placed]:
    """Return every step at its earliest time, in order of time.

    A recoat window that closes before the crew can finish adds a sanding step and a note. A window
    opens from the end of the last batch and closes from the end of the first, where the needs say
    so (see :func:`pourbook.trade.days.sequence.job_steps`).

    Args:
        steps: Steps in the order the crew does them.
        start: When the job starts, without a time zone.
        hours: When the crew works.
        history: Temperatures in s from ``start``.

    Returns:
        The placed steps; milestones rounded to the cautious whole second.

    Raises:
        InputError: A step that cannot be placed, named with the reason.

    Example:
        >>> hours = WorkingHours(7, 17, frozenset(range(5)))
        >>> coat = Step("flood coat", WORK, 3600.0)
        >>> dry = Step("touch dry", MILESTONE, needs=(Need("flood coat", 24 * 3600.0),))
        >>> for line in schedule([coat, dry], datetime(2024, 3, 1, 16, 30), hours,
        ...                      Temperatures.constant(296.15)):
        ...     print(line.step.name, line.start)
        flood coat 2024-03-04 07:00:00
        touch dry 2024-03-05 08:00:00
    """
    if start.tzinfo is not None:
        raise InputError("the start has a time zone", "give the local date and time alone")
    listed = list(steps)
    _check(listed)
    calendar = _Calendar(start, hours, history)
    i = 0
    while i < len(listed):
        step = listed[i]
        size = 1
        if step.kind == MILESTONE:
            calendar.milestone(step)
        else:
            while (
                step.together
                and i + size < len(listed)
                and listed[i + size].together == step.together
                and listed[i + size].kind == WORK
            ):
                size += 1
            calendar.group(listed[i : i + size])
        i += size
    return sorted(calendar.lines, key=lambda line: (line.start, line.end))
