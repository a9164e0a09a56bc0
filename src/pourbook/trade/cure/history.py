"""Temperature against time, and the cure it gives: constant, day and night, or hour by hour.

Contract: times in seconds from the job's start, temperatures in kelvin, energies in joules per
mole; nothing reads a clock. Ages are exact for temperatures constant piece by piece; the law and
its error are those of :mod:`pourbook.trade.cure.curing`.
"""

from __future__ import annotations

import math
import operator
from bisect import bisect_right
from collections.abc import Sequence
from itertools import accumulate

from pourbook.dates import DAY
from pourbook.errors import InputError
from pourbook.trade.cure.curing import COLDEST, HOTTEST, R_GAS, rate_ratio
from pourbook.trade.ranges import number, positive, temperature


class Temperatures:
    """Temperature against time from the job's start, constant piece by piece.

    A repeating history begins again after its last piece, for ever; any other holds its last
    temperature for ever. Build one with :meth:`constant`, :meth:`day_night` or :meth:`hourly`. The
    running ages of each energy asked for are kept, so that later questions cost a bisection.

    Example:
        >>> history = Temperatures.day_night(298.15, 288.15, 7.0, 19.0, start_hour=17.0)
        >>> [history.at(hour * 3600.0) for hour in (0.0, 2.0, 14.0, 24.0)]
        [298.15, 288.15, 298.15, 298.15]
    """

    __slots__ = ("_ages", "_kelvins", "_starts", "_widths", "highest", "lowest", "period")

    def __init__(
        self, starts: Sequence[float], kelvins: Sequence[float], period: float | None = None
    ) -> None:
        """Keep the pieces.

        Args:
            starts: Start of each piece, s, the first 0, rising.
            kelvins: Temperature of each piece, K, from 200 to 700.
            period: Length after which the pattern repeats, s, beyond the last start; ``None`` holds
                the last temperature.
        """
        if not kelvins or len(starts) != len(kelvins):
            raise InputError("the temperature history is empty", "give at least one temperature")
        bounds = [*starts, math.inf if period is None else period]
        if starts[0] != 0.0 or any(bounds[i] >= bounds[i + 1] for i in range(len(starts))):
            raise InputError("the temperature history runs backwards", "list it in order of time")
        if not all(COLDEST <= kelvin <= HOTTEST for kelvin in kelvins):
            for kelvin in kelvins:
                temperature("temperature", kelvin, COLDEST, HOTTEST)
        self._starts = tuple(starts)
        self._kelvins = tuple(kelvins)
        self.period = period
        self.lowest = min(kelvins)
        self.highest = max(kelvins)
        ends = [*starts[1:], starts[-1] if period is None else period]
        self._widths = tuple(map(operator.sub, ends, starts))
        self._ages: dict[tuple[float, float], tuple[list[float], list[float]]] = {}

    @classmethod
    def constant(cls, kelvin: float) -> Temperatures:
        """Return a history at one temperature, K."""
        return cls([0.0], [kelvin])

    @classmethod
    def day_night(
        cls, day: float, night: float, from_hour: float, to_hour: float, start_hour: float = 0.0
    ) -> Temperatures:
        """Return a repeating day of two temperatures.

        Args:
            day: Temperature from ``from_hour`` to ``to_hour``, K.
            night: Temperature the rest of the day, K.
            from_hour: Hour of the clock the day temperature begins, from 0.
            to_hour: Hour of the clock it ends, after ``from_hour``, up to 24.
            start_hour: Hour of the clock the job starts, from 0 to below 24.

        Returns:
            The history, repeating every 24 h.
        """
        number("hour the warm part begins", from_hour, 0.0, 24.0)
        number("hour the warm part ends", to_hour, 0.0, 24.0)
        number("hour the job starts", start_hour, 0.0, 24.0)
        if from_hour >= to_hour:
            raise InputError(
                f"the warm part of the day runs from hour {from_hour:g} to hour {to_hour:g}",
                "let it end later than it begins",
            )
        # Whole milliseconds, so that rounding can neither part two equal turns nor reach 24 h.
        turns = {round((h - start_hour) * 3.6e6) % round(DAY * 1e3) for h in (from_hour, to_hour)}
        starts = [turn / 1e3 for turn in sorted(turns | {0})]
        ends = [*starts[1:], DAY]
        kelvins = []
        for i in range(len(starts)):
            clock = (start_hour + (starts[i] + ends[i]) / 7200.0) % 24.0
            kelvins.append(day if from_hour <= clock < to_hour else night)
        return cls(starts, kelvins, DAY)

    @classmethod
    def hourly(
        cls, kelvins: Sequence[float], step: float = 3600.0, repeat: bool = False
    ) -> Temperatures:
        """Return a history of readings, each holding until the next.

        Args:
            kelvins: Temperatures, K, the first from the job's start.
            step: Time between readings, s, above 0.
            repeat: Begin again after the last; otherwise hold the last.

        Returns:
            The history.
        """
        positive("time between readings in s", step)
        starts = [i * step for i in range(len(kelvins))]
        return cls(starts, kelvins, len(kelvins) * step if repeat and kelvins else None)

    def at(self, seconds: float) -> float:
        """Return the temperature, K, at a time in s from the job's start."""
        number("time from the job's start", seconds)
        local = seconds if self.period is None else math.fmod(seconds, self.period)
        return self._kelvins[bisect_right(self._starts, local) - 1]

    def extremes(self, begin: float, end: float) -> tuple[float, float]:
        """Return the lowest and the highest temperature, K, met from ``begin`` up to ``end``.

        Every piece counts, however short. A temperature that begins just at ``end`` does not; the
        one at ``begin`` always does.

        Example:
            >>> nights = Temperatures.day_night(298.15, 288.15, 7.0, 19.0)
            >>> nights.extremes(8 * 3600.0, 19 * 3600.0), nights.extremes(8 * 3600.0, DAY)
            ((298.15, 298.15), (288.15, 298.15))
        """
        first = self.at(begin)
        if self.period is not None and end - begin >= self.period:
            return self.lowest, self.highest
        turn = 0.0 if self.period is None else begin - math.fmod(begin, self.period)
        turns = (turn,) if self.period is None else (turn, turn + self.period)
        met = [
            kelvin
            for offset in turns
            for start, kelvin in zip(self._starts, self._kelvins, strict=True)
            if begin < offset + start < end
        ]
        return min([first, *met]), max([first, *met])

    def _table(self, energy: float, reference: float) -> tuple[list[float], list[float]]:
        """Return the rate of each piece and the age at each piece's start (and at the period)."""
        key = (energy, reference)
        if key not in self._ages:
            # rate_ratio checks both once; the rest of it is written out here for speed.
            peak = rate_ratio(energy, reference, self.highest)
            scale, warmest = energy / R_GAS, 1.0 / self.highest
            rates = [peak * math.exp(scale * (warmest - 1.0 / k)) for k in self._kelvins]
            grown = accumulate(map(operator.mul, self._widths, rates), initial=0.0)
            self._ages[key] = rates, list(grown)
        return self._ages[key]

    def age(self, seconds: float, energy: float, reference: float) -> float:
        """Return the equivalent age, s, from the job's start to ``seconds``."""
        number("time from the job's start", seconds)
        rates, ages = self._table(energy, reference)
        turns, local = (0.0, seconds) if self.period is None else divmod(seconds, self.period)
        i = bisect_right(self._starts, local) - 1
        return turns * ages[-1] + ages[i] + (local - self._starts[i]) * rates[i]

    def time(self, age: float, energy: float, reference: float) -> float:
        """Return the time in s from the job's start at which the equivalent age is ``age``."""
        number("equivalent age", age)
        rates, ages = self._table(energy, reference)
        turns, local = (0.0, age) if self.period is None else divmod(age, ages[-1])
        i = bisect_right(ages, local, 0, len(rates)) - 1
        return turns * (self.period or 0.0) + self._starts[i] + (local - ages[i]) / rates[i]


def age_between(
    history: Temperatures, begin: float, end: float, energy: float, reference: float
) -> float:
    """Return the equivalent age gained between two times.

    Exact for a temperature constant piece by piece; ages add up over adjoining spans to about one
    part in 10⁹ of the age from the job's start.

    Args:
        history: Temperatures from the job's start.
        begin: Time, s from the job's start, 0 or more.
        end: Time, s, not before ``begin``.
        energy: Activation energy, J/mol.
        reference: Reference temperature, K.

    Returns:
        Equivalent age at ``reference``, s. Source as
        :func:`pourbook.trade.cure.curing.equivalent_age`.

    Example:
        >>> history = Temperatures.hourly([283.15, 288.15, 293.15, 298.15], step=21600.0)
        >>> round(age_between(history, 0.0, 86400.0, 55000.0, 298.15) / 3600.0, 3)
        14.74
    """
    if end < begin:
        raise InputError("the time span ends before it begins", "swap its two times")
    return history.age(end, energy, reference) - history.age(begin, energy, reference)


def time_to_age(
    history: Temperatures, begin: float, age: float, energy: float, reference: float
) -> float:
    """Return the time, from the job's start, at which something begun at ``begin`` reaches ``age``.

    Undoes :func:`age_between`, with the same error.

    Args:
        history: Temperatures from the job's start.
        begin: Time the cure begins, s from the job's start, 0 or more.
        age: Equivalent age wanted at ``reference``, s, 0 or more.
        energy: Activation energy, J/mol.
        reference: Reference temperature, K.

    Returns:
        Time, s from the job's start (not from ``begin``).

    Example:
        >>> time_to_age(Temperatures.constant(298.15), 3600.0, 7200.0, 55000.0, 298.15)
        10800.0
    """
    number("equivalent age", age)
    start = history.age(begin, energy, reference)
    return max(begin, history.time(start + age, energy, reference))
