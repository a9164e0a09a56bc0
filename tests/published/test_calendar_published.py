"""Working days: against the business calendars of pandas, run live.

A step that takes the whole of a working day is placed on every working day in turn, so that the
calendar's days are those that pandas counts.
"""

from __future__ import annotations

import random
from datetime import date, datetime, timedelta

import pandas as pd
import pytest

from pourbook.trade.cure.history import Temperatures
from pourbook.trade.days.schedule import WORK, Step, WorkingHours, schedule

STEADY = Temperatures.constant(296.15)


def _days(hours: WorkingHours, start: datetime, many: int) -> list[date]:
    whole = hours.length().total_seconds()
    steps = [Step(f"day {number}", WORK, whole) for number in range(many)]
    return [placed.start.date() for placed in schedule(steps, start, hours, STEADY)]


@pytest.mark.parametrize("seed", range(40))
def test_days_worked_are_those_of_a_business_calendar(seed: int) -> None:
    dice = random.Random(f"calendar {seed}")
    start = date(2026, 1, 1) + timedelta(days=dice.randrange(1500))
    weekdays = frozenset(dice.sample(range(7), dice.randint(1, 7)))
    off = frozenset(start + timedelta(days=dice.randrange(120)) for _ in range(dice.randrange(30)))
    hours = WorkingHours(7.0, 7.0 + dice.choice((1, 4.5, 8, 10)), weekdays, off)
    mask = "".join("1" if day in weekdays else "0" for day in range(7))
    calendar = pd.offsets.CustomBusinessDay(weekmask=mask, holidays=sorted(off))
    expected = pd.date_range(start, periods=25, freq=calendar)
    assert _days(hours, datetime.combine(start, datetime.min.time()), 25) == [
        day.date() for day in expected
    ]


def test_a_job_begun_after_hours_begins_on_the_next_business_hour() -> None:
    """Pandas rolls a moment out of hours forward to the opening of the next business day."""
    rolls = pd.offsets.CustomBusinessHour(start="07:00", end="17:00", holidays=["2026-12-25"])
    hours = WorkingHours(7.0, 17.0, frozenset(range(5)), frozenset({date(2026, 12, 25)}))
    for moment in pd.date_range("2026-12-18 00:00", "2026-12-31 23:00", freq="37min"):
        begun = schedule([Step("tape", WORK, 0.0)], moment.to_pydatetime(), hours, STEADY)
        if moment.hour == 17 and moment.minute == 0:
            continue  # the very end of a day: nothing is left of it, pandas still counts it open
        assert begun[0].start == rolls.rollforward(moment).to_pydatetime()
