"""Placing steps in working days: worked calendars, properties and refusals."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pourbook.errors import InputError
from pourbook.trade.cure.history import Temperatures
from pourbook.trade.days.schedule import MILESTONE, WORK, Need, Placed, Step, WorkingHours, schedule
from pourbook.trade.days.sequence import CoatTimes, job_steps

HOUR = 3600.0
WEEK = WorkingHours(7, 17, frozenset(range(5)))
ROOM = Temperatures.constant(296.15)
MONDAY = datetime(2024, 3, 4, 7)
FLOOD = CoatTimes(
    "flood",
    (1800.0, 1800.0, 1800.0),
    55e3,
    296.15,
    recoat_from=12 * HOUR,
    recoat_until=48 * HOUR,
    touch_dry=24 * HOUR,
    sand_seconds=2 * HOUR,
    clean_seconds=900.0,
    heat_passes=3,
    pass_seconds=120.0,
    pass_gap=60.0,
)
TOP = CoatTimes("top", (1200.0,), 55e3, 296.15, light_use=24 * HOUR, full_service=168 * HOUR)


def _by_name(placed: list[Placed]) -> dict[str, Placed]:
    return {line.step.name: line for line in placed}


def test_two_layers_at_reference_temperature() -> None:
    found = _by_name(schedule(job_steps([2 * HOUR], [FLOOD, TOP]), MONDAY, WEEK, ROOM))
    starts = {name: line.start for name, line in found.items()}
    assert starts["prepare"] == MONDAY
    assert starts["flood: clean"] == datetime(2024, 3, 4, 9)
    assert starts["flood: batch 1 of 3"] == datetime(2024, 3, 4, 9, 15)
    assert starts["flood: batch 3 of 3"] == datetime(2024, 3, 4, 10, 15)
    assert starts["flood: heat pass 1"] == datetime(2024, 3, 4, 10, 46)
    assert starts["flood: heat pass 2"] == datetime(2024, 3, 4, 10, 49)
    assert starts["flood: recoat from"] == datetime(2024, 3, 4, 22, 45)  # at night
    assert starts["flood: touch dry"] == datetime(2024, 3, 5, 10, 45)
    assert starts["flood: recoat until"] == datetime(2024, 3, 6, 9, 45)  # from the first batch
    assert starts["top: batch 1 of 1"] == datetime(2024, 3, 5, 7)
    assert starts["top: light use"] == datetime(2024, 3, 6, 7, 20)
    assert starts["top: full service"] == datetime(2024, 3, 12, 7, 20)
    assert not any(line.note for line in found.values())


def test_a_missed_window_adds_sanding_and_says_so() -> None:
    friday = datetime(2024, 3, 8, 13)
    found = _by_name(schedule(job_steps([], [FLOOD, TOP]), friday, WEEK, ROOM))
    assert found["sand 220 before top"].start == datetime(2024, 3, 11, 7)
    assert "window missed" in found["sand 220 before top"].note
    assert found["top: batch 1 of 1"].start == datetime(2024, 3, 11, 9)
    assert "sand 220" in found["top: batch 1 of 1"].note


def test_a_weekend_worked_keeps_the_window() -> None:
    friday = datetime(2024, 3, 8, 13)
    daily = replace(WEEK, weekdays=frozenset(range(7)))
    found = _by_name(schedule(job_steps([], [FLOOD, TOP]), friday, daily, ROOM))
    assert "sand 220 before top" not in found
    assert found["top: batch 1 of 1"].start == datetime(2024, 3, 9, 7)
    holiday = replace(daily, days_off=frozenset({date(2024, 3, 9)}))
    found = _by_name(schedule(job_steps([], [FLOOD, TOP]), friday, holiday, ROOM))
    assert found["top: batch 1 of 1"].start == datetime(2024, 3, 10, 7)


def test_sanding_in_any_case_needs_no_window() -> None:
    friday = datetime(2024, 3, 8, 13)
    layers = [replace(FLOOD, sand_always=True), TOP]
    found = _by_name(schedule(job_steps([], layers), friday, WEEK, ROOM))
    assert found["flood: sand 220"].start == datetime(2024, 3, 11, 7)
    assert found["top: batch 1 of 1"].start == datetime(2024, 3, 11, 9)
    assert "sand 220 before top" not in found


def test_a_cold_room_cures_later() -> None:
    cold = Temperatures.constant(286.15)
    warm_day = _by_name(schedule(job_steps([], [FLOOD, TOP]), MONDAY, WEEK, ROOM))
    cold_day = _by_name(schedule(job_steps([], [FLOOD, TOP]), MONDAY, WEEK, cold))
    assert cold_day["flood: touch dry"].start > warm_day["flood: touch dry"].start
    assert cold_day["flood: recoat from"].start > datetime(2024, 3, 5, 7)
    assert cold_day["top: batch 1 of 1"].start == cold_day["flood: recoat from"].start


def test_a_layer_that_no_longer_fits_today_waits_for_tomorrow_whole() -> None:
    late = datetime(2024, 3, 4, 16)
    found = _by_name(schedule(job_steps([], [FLOOD]), late, WEEK, ROOM))
    assert found["flood: clean"].start == datetime(2024, 3, 5, 7)


LAYERS = st.lists(
    st.builds(
        CoatTimes,
        name=st.just(""),
        batch_seconds=st.lists(st.floats(60.0, 5400.0), min_size=1, max_size=4).map(tuple),
        energy=st.floats(0.0, 80e3),
        reference=st.just(296.15),
        recoat_from=st.floats(0.0, 30 * HOUR),
        recoat_until=st.none() | st.floats(31 * HOUR, 90 * HOUR),
        touch_dry=st.none() | st.floats(HOUR, 30 * HOUR),
        light_use=st.floats(HOUR, 100 * HOUR),
        sand_seconds=st.floats(600.0, 3 * HOUR),
        sand_always=st.booleans(),
        clean_seconds=st.floats(0.0, 1800.0),
        heat_passes=st.integers(0, 3),
        pass_seconds=st.just(60.0),
        pass_gap=st.just(90.0),
    ),
    min_size=1,
    max_size=4,
)
HOURS = st.builds(
    WorkingHours,
    st.floats(5.0, 8.0),
    st.floats(16.0, 20.0),
    st.frozensets(st.integers(0, 6), min_size=1),
    st.frozensets(st.dates(date(2024, 3, 1), date(2024, 3, 31)), max_size=5),
)
STARTS = st.datetimes(datetime(2024, 3, 1), datetime(2024, 3, 14))
WEATHER = st.builds(
    Temperatures.day_night,
    st.floats(288.15, 305.15),
    st.floats(278.15, 292.15),
    st.just(7.0),
    st.just(19.0),
)


@settings(deadline=None)
@given(LAYERS, HOURS, STARTS, WEATHER)
def test_no_work_outside_hours_and_nothing_out_of_order(
    layers: list[CoatTimes], hours: WorkingHours, start: datetime, weather: Temperatures
) -> None:
    named = [replace(layers[i], name=f"L{i}") for i in range(len(layers))]
    steps = job_steps([HOUR], named)
    placed = schedule(steps, start, hours, weather)
    found = _by_name(placed)
    assert {step.name for step in steps} <= set(found)
    crew = [line for line in placed if line.step.kind == WORK]
    free = start
    for line in crew:
        day = datetime.combine(line.start.date(), datetime.min.time())
        assert line.start >= free
        assert day.weekday() in hours.weekdays
        assert day.date() not in hours.days_off
        assert line.start >= day + timedelta(hours=hours.start_hour)
        assert line.end <= day + timedelta(hours=hours.end_hour)
        free = line.end
    order = [step.name for step in steps if step.kind == WORK]
    assert [line.step.name for line in crew if line.step.name in order] == order
    for layer in named:
        days = {line.start.date() for line in crew if line.step.together == layer.name}
        assert len(days) == 1
    for i in range(1, len(named)):
        below, first = named[i - 1], found[named[i].batch(0)]
        opened = found.get(f"{below.name}: recoat from")
        assert opened is None or first.start >= opened.start
        closed = found.get(f"{below.name}: recoat until")
        last = max(line.end for line in crew if line.step.together == named[i].name)
        sanded = f"sand 220 before {named[i].name}" in found or below.sand_always
        assert sanded or closed is None or last <= closed.start
    assert placed == schedule(steps, start, hours, weather)


def _place(*steps: Step) -> list[Placed]:
    return schedule(steps, MONDAY, WEEK, ROOM)


COAT = Step("coat", WORK, HOUR)


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: WorkingHours(17, 7, frozenset({0})), "no working hours"),
        (lambda: WorkingHours(7, 17, frozenset()), "no weekday"),
        (lambda: WorkingHours(7, 25, frozenset({0})), "hour work ends"),
        (lambda: _place(Step("pour", WORK, 11 * HOUR)), "'pour' takes 11.0 h"),
        (lambda: _place(COAT, COAT), "two steps are called 'coat'"),
        (lambda: _place(Step("x", "rest")), "'x' is of kind 'rest'"),
        (lambda: _place(Step("x", MILESTONE)), "nothing says when 'x'"),
        (lambda: _place(Step("x", WORK, 1.0, (Need("coat"),))), "'x' waits for 'coat'"),
        (
            lambda: _place(COAT, Step("x", WORK, 1.0, (Need("coat", 20.0, 10.0),))),
            "window of 'x' closes before it opens",
        ),
        (
            lambda: _place(COAT, Step("x", WORK, 9.5 * HOUR, (Need("coat", 0.0, HOUR),))),
            "'x' cannot be finished before its recoat window",
        ),
        (
            lambda: _place(COAT, Step("x", MILESTONE, needs=(Need("coat", 1e12),))),
            "not ready in ten years",
        ),
        (
            lambda: _place(
                Step("a", WORK, 1.0, together="g"),
                Step("b", WORK, 1.0, (Need("a", 60.0),), together="g"),
            ),
            "'g' waits for another",
        ),
        (
            lambda: schedule(
                [COAT],
                datetime(2024, 3, 4),
                replace(
                    WEEK,
                    days_off=frozenset(date(2024, 1, 1) + timedelta(days=i) for i in range(800)),
                ),
                ROOM,
            ),
            "'coat' finds no working hours",
        ),
        (lambda: schedule([COAT], datetime(2024, 3, 4, tzinfo=UTC), WEEK, ROOM), "zone"),
        (lambda: _place(Step("x", WORK, -60.0)), "work of 'x' in s is -60"),
        (lambda: _place(Step("x", WORK, math.inf)), "work of 'x' in s is inf"),
        (lambda: _place(Step("x", WORK, 9.0, pause_seconds=-60.0)), "wait before 'x' in s is -60"),
        (
            lambda: _place(Step("x", WORK, 9.0, pause_seconds=math.nan)),
            "wait before 'x' in s is nan",
        ),
        (
            lambda: _place(COAT, Step("x", MILESTONE, needs=(Need("coat", -60.0),))),
            "age 'x' waits for in s is -60",
        ),
        (
            lambda: _place(COAT, Step("x", MILESTONE, needs=(Need("coat", math.inf),))),
            "age 'x' waits for in s is inf",
        ),
        (lambda: job_steps([], []), "no layers"),
        (lambda: job_steps([], [replace(TOP, batch_seconds=())]), "'top' has no batches"),
        (lambda: job_steps([], [replace(FLOOD, recoat_until=HOUR), TOP]), "'flood' closes before"),
        (
            lambda: job_steps([], [replace(FLOOD, sand_always=True, sand_seconds=None), TOP]),
            "'flood' is always sanded",
        ),
    ],
)
def test_steps_that_cannot_be_placed_are_refused(call: object, words: str) -> None:
    assert callable(call)
    with pytest.raises(InputError) as refusal:
        call()
    assert words in refusal.value.what
    assert refusal.value.mend
