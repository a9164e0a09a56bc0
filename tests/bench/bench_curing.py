"""Time a season of hourly temperatures for 12 layers, against a plain loop, in one run.

Run: python tests/bench/bench_curing.py
"""

from __future__ import annotations

import math
import time

from pourbook.trade.cure.curing import R_GAS
from pourbook.trade.cure.history import Temperatures, age_between, time_to_age

HOURS = 8760
LAYERS = 12
WEEKS = 52


def _season() -> list[float]:
    return [
        288.15
        + 10.0 * math.sin(2.0 * math.pi * hour / HOURS)
        + 5.0 * math.sin(2.0 * math.pi * hour / 24.0)
        for hour in range(HOURS)
    ]


def _plain(kelvins: list[float], hours: int, energy: float, reference: float) -> float:
    gained = 0.0
    for hour in range(hours):
        gained += 3600.0 * math.exp(energy / R_GAS * (1.0 / reference - 1.0 / kelvins[hour]))
    return gained


def main() -> None:
    """Print the times in milliseconds and their ratios; fail if the answers differ."""
    kelvins = _season()
    energies = [45e3 + 2e3 * i for i in range(LAYERS)]
    begin = time.perf_counter()
    history = Temperatures.hourly(kelvins)
    ages = [age_between(history, 0.0, HOURS * 3600.0, e, 296.15) for e in energies]
    season = time.perf_counter()
    weekly = [
        age_between(history, 0.0, week * 168 * 3600.0, e, 296.15)
        for e in energies
        for week in range(1, WEEKS + 1)
    ]
    back = [time_to_age(history, 0.0, age, energies[i], 296.15) for i, age in enumerate(ages)]
    middle = time.perf_counter()
    plain_ages = [_plain(kelvins, HOURS, e, 296.15) for e in energies]
    plain_season = time.perf_counter()
    plain_weekly = [
        _plain(kelvins, week * 168, e, 296.15) for e in energies for week in range(1, WEEKS + 1)
    ]
    end = time.perf_counter()
    found, plain = [*ages, *weekly], [*plain_ages, *plain_weekly]
    worst = max(abs(found[i] / plain[i] - 1.0) for i in range(len(plain)))
    worst = max(worst, *(abs(t / (HOURS * 3600.0) - 1.0) for t in back))
    if worst > 1e-9:
        raise SystemExit(f"answers differ by {worst:.1e}")
    one, plain_one = (season - begin) * 1e3, (plain_season - middle) * 1e3
    every, plain_every = (middle - begin) * 1e3, (end - middle) * 1e3
    print(f"{HOURS} points x {LAYERS} layers, one age each: {one:.1f} ms", end="")
    print(f", plain loop {plain_one:.1f} ms, {plain_one / one:.1f} times as long")
    print(f"and an age for each of {WEEKS} weeks: {every:.1f} ms", end="")
    print(f", plain loop {plain_every:.0f} ms, {plain_every / every:.0f} times as long")


if __name__ == "__main__":
    main()
