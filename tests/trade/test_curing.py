"""Cure and histories: properties and refusals."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.oracles.ages import energy_between, nurse_saul

from pourbook.errors import InputError
from pourbook.trade.cure.curing import equivalent_age, pot_life, rate_ratio, ten_degree_energy
from pourbook.trade.cure.history import Temperatures, age_between, time_to_age

KELVINS = st.floats(268.15, 318.15)
ENERGY = st.floats(0.0, 100e3)
HISTORIES = st.one_of(
    st.builds(Temperatures.constant, KELVINS),
    st.builds(
        Temperatures.day_night,
        KELVINS,
        KELVINS,
        st.floats(0.0, 11.0),
        st.floats(12.0, 24.0),
        st.floats(0.0, 23.0),
    ),
    st.builds(
        Temperatures.hourly,
        st.lists(KELVINS, min_size=1, max_size=40),
        st.floats(600.0, 7200.0),
        st.booleans(),
    ),
)
TIMES = st.floats(0.0, 3e6)


@given(ENERGY, KELVINS, KELVINS, KELVINS)
def test_rates_chain_and_rise(energy: float, one: float, two: float, three: float) -> None:
    through = rate_ratio(energy, one, two) * rate_ratio(energy, two, three)
    assert through == pytest.approx(rate_ratio(energy, one, three), rel=1e-9)
    assert rate_ratio(energy, min(one, two), max(one, two)) >= 1.0


@given(st.floats(1e3, 150e3), KELVINS, st.floats(1.0, 30.0))
def test_energy_comes_back_from_two_pot_lives(energy: float, kelvin: float, step: float) -> None:
    warm = pot_life(kelvin + step, 1800.0, kelvin, energy)
    assert energy_between(kelvin, 1800.0, kelvin + step, warm) == pytest.approx(energy, rel=1e-6)


@given(HISTORIES, ENERGY, TIMES, TIMES, TIMES)
def test_ages_add_up(
    history: Temperatures, energy: float, one: float, two: float, three: float
) -> None:
    a, b, c = sorted([one, two, three])
    parts = age_between(history, a, b, energy, 296.15) + age_between(history, b, c, energy, 296.15)
    assert parts == pytest.approx(age_between(history, a, c, energy, 296.15), rel=1e-9, abs=1e-3)


@given(HISTORIES, ENERGY, TIMES, st.floats(0.0, 1e6))
def test_time_undoes_age(history: Temperatures, energy: float, begin: float, age: float) -> None:
    end = time_to_age(history, begin, age, energy, 296.15)
    assert end >= begin
    assert age_between(history, begin, end, energy, 296.15) == pytest.approx(
        age, rel=1e-9, abs=1e-2
    )


@given(HISTORIES, ENERGY, st.floats(1.0, 3e5))
def test_age_is_the_sum_of_small_steps(history: Temperatures, energy: float, end: float) -> None:
    """Against a plain midpoint sum; only the pieces where the temperature turns can differ."""
    count = 4000
    step = end / count
    naive = math.fsum(
        step * rate_ratio(energy, 296.15, history.at((i + 0.5) * step)) for i in range(count)
    )
    fastest = rate_ratio(energy, 296.15, history.highest)
    turns = end / 600.0 + 2.0
    assert age_between(history, 0.0, end, energy, 296.15) == pytest.approx(
        naive, abs=turns * step * fastest
    )


@given(st.lists(KELVINS, min_size=1, max_size=30), ENERGY)
def test_hourly_history_agrees_with_the_plain_sum(kelvins: list[float], energy: float) -> None:
    history = Temperatures.hourly(kelvins)
    total = equivalent_age([3600.0] * len(kelvins), kelvins, energy, 296.15)
    end = 3600.0 * len(kelvins)
    assert age_between(history, 0.0, end, energy, 296.15) == pytest.approx(total, rel=1e-9)


def test_held_and_repeated_histories() -> None:
    held = Temperatures.hourly([283.15, 293.15])
    again = Temperatures.hourly([283.15, 293.15], repeat=True)
    assert [held.at(h * 3600.0) for h in (0, 1, 2, 3)] == [283.15, 293.15, 293.15, 293.15]
    assert [again.at(h * 3600.0) for h in (0, 1, 2, 3)] == [283.15, 293.15, 283.15, 293.15]


@pytest.mark.parametrize("start_hour", [0.0, 6.0, 7.0, 12.0, 19.0, 23.5])
def test_day_and_night_follow_the_clock(start_hour: float) -> None:
    history = Temperatures.day_night(298.15, 288.15, 7.0, 19.0, start_hour)
    for quarter in range(4 * 48):
        clock = (start_hour + quarter / 4.0) % 24.0
        expected = 298.15 if 7.0 <= clock < 19.0 else 288.15
        assert history.at(quarter * 900.0) == expected
    assert age_between(history, 0.0, 86400.0 * 10, 0.0, 296.15) == pytest.approx(864000.0)


def test_a_temperature_that_begins_just_at_the_end_is_not_met() -> None:
    history = Temperatures([0.0, 10.0], [280.0, 300.0])
    assert history.extremes(0.0, 10.0) == (280.0, 280.0)
    assert history.extremes(0.0, 10.5) == (280.0, 300.0)
    assert history.extremes(10.0, 10.5) == (300.0, 300.0)


def test_maturity_counts_nothing_below_its_datum() -> None:
    assert nurse_saul([3600.0, 3600.0], [263.15, 283.15], 273.15) == pytest.approx(36000.0)


@pytest.mark.parametrize(
    "call",
    [
        lambda: rate_ratio(-1.0, 293.15, 303.15),
        lambda: rate_ratio(55e3, 20.0, 303.15),
        lambda: rate_ratio(math.nan, 293.15, 303.15),
        lambda: pot_life(293.15, 0.0, 293.15, 55e3),
        lambda: ten_degree_energy(293.15, 303.15, 0.5),
        lambda: energy_between(293.15, 60.0, 293.15, 30.0),
        lambda: energy_between(293.15, 30.0, 303.15, 60.0),
        lambda: equivalent_age([1.0], [], 55e3, 293.15),
        lambda: equivalent_age([-1.0], [293.15], 55e3, 293.15),
        lambda: Temperatures.hourly([]),
        lambda: Temperatures.hourly([], repeat=True),
        lambda: Temperatures.hourly([293.15], step=0.0),
        lambda: Temperatures.day_night(298.15, 288.15, 19.0, 7.0),
        lambda: Temperatures([1.0], [293.15]),
        lambda: Temperatures([0.0, 5.0, 5.0], [293.15] * 3),
        lambda: Temperatures.constant(25.0),
        lambda: Temperatures.constant(293.15).at(-1.0),
        lambda: age_between(Temperatures.constant(293.15), 2.0, 1.0, 55e3, 293.15),
        lambda: time_to_age(Temperatures.constant(293.15), 0.0, -1.0, 55e3, 293.15),
    ],
)
def test_a_cure_that_cannot_be_is_refused(call: object) -> None:
    assert callable(call)
    with pytest.raises(InputError) as refusal:
        call()
    assert refusal.value.mend


def test_extremes_over_midnight_are_those_of_both_days() -> None:
    """Day 25 °C from 7 to 19 h, night 15 °C: from 20 h to 6 h it is night, to 8 h day again."""
    nights = Temperatures.day_night(298.15, 288.15, 7.0, 19.0)
    hour = 3600.0
    assert nights.extremes(20 * hour, 30 * hour) == (288.15, 288.15)
    assert nights.extremes(20 * hour, 31 * hour) == (288.15, 288.15)
    assert nights.extremes(20 * hour, 32 * hour) == (288.15, 298.15)
    assert nights.extremes((48 + 12) * hour, (48 + 20) * hour) == (288.15, 298.15)
    assert nights.extremes(8 * hour, 32 * hour) == (288.15, 298.15)


def test_a_day_that_ends_as_it_begins_is_none() -> None:
    for hours in ((7.0, 7.0), (19.0, 7.0), (-1.0, 7.0), (7.0, 25.0)):
        with pytest.raises(InputError):
            Temperatures.day_night(298.15, 288.15, *hours)
    whole = Temperatures.day_night(298.15, 288.15, 0.0, 24.0)
    assert {whole.at(hour * 3600.0) for hour in range(48)} == {298.15}


def test_a_factor_per_ten_degrees_is_one_and_more() -> None:
    """Energy is R ln(factor) / (1/T1 - 1/T2); a factor of 1 rests on no temperature at all."""
    span = 1 / 293.15 - 1 / 303.15
    for factor in (1.0, 1.5, 2.0, 3.0):
        energy = ten_degree_energy(293.15, 303.15, factor)
        assert energy == pytest.approx(8.314462618 * math.log(factor) / span)
    with pytest.raises(InputError):
        ten_degree_energy(293.15, 303.15, 0.99)
