"""Checks of one logged batch: its ratio, its pot life, the dew point, the recoat time, the film.

Contract: SI floats in, times in seconds on one clock, shares as fractions; out comes a
:class:`Check`: the figure, its limit, whether it holds, and short words for it. Nothing is judged
here that the product or the user gave no limit for, but the dew point margin of
:mod:`pourbook.trade.air`. Exactly at a limit holds. A figure that cannot be is refused with
:class:`pourbook.errors.InputError`; one that is only bad is a check that fails, because what was
done was done.

The arithmetic is that of :mod:`pourbook.trade.mixing`, :mod:`pourbook.trade.cure.heat`,
:mod:`pourbook.trade.cure.curing` and :mod:`pourbook.trade.air`, with its sources, range and error.
"""

from __future__ import annotations

import math

from pourbook.errors import InputError
from pourbook.records import dataclass
from pourbook.trade.cure.curing import equivalent_age
from pourbook.trade.cure.heat import pot_life_of_batch
from pourbook.trade.ranges import degrees, number, positive

_SLACK = 1e-9  # relative: forgives the last bits of a unit change


@dataclass(frozen=True)
class LogCheck:
    """One check of a logged batch.

    Attributes:
        holds: Whether the figure keeps its limit.
        figure: What was worked out, in SI or as a fraction; nan where it cannot be worked out.
        limit: What it is held against, in the same unit.
        words: What was found, in an estimator's words.
    """

    holds: bool
    figure: float
    limit: float
    words: str


@dataclass(frozen=True)
class CureSheet:
    """What a product's sheet says of time and temperature.

    Attributes:
        pot_life: Pot life, s, above 0.
        pot_life_mass: Mass of mix it is stated for, kg, above 0.
        reference: Temperature its times are stated at, K.
        energy: Activation energy, J/mol.
        recoat_from: Earliest recoat time, s, 0 or more.
        recoat_until: Latest recoat time without sanding, s, above the earliest; None for no limit.
    """

    pot_life: float
    pot_life_mass: float
    reference: float
    energy: float
    recoat_from: float = 0.0
    recoat_until: float | None = None


def _minutes(seconds: float) -> str:
    """Return a time as a person says it: minutes up to two hours, then hours."""
    if seconds < 7200.0:
        return f"{seconds / 60.0:.0f} min"
    return f"{seconds / 3600.0:.1f} h"


def check_pot_life(
    mix_begun: float, pour_done: float, mass: float, kelvin: float, sheet: CureSheet
) -> LogCheck:
    """Check the time from the start of mixing to the end of the pour against the pot life.

    The pot life is that of :func:`pourbook.trade.cure.heat.pot_life_of_batch`, as batches are
    planned with: at this temperature, and cut in proportion for a batch heavier than the one it
    is stated for.

    Args:
        mix_begun: Time mixing began, s.
        pour_done: Time the last of it was poured, s, not before.
        mass: Mass of the batch, kg, above 0.
        kelvin: Temperature of the mix as logged, K, from 200 to 700.
        sheet: What the product states.

    Returns:
        The check; figure and limit in seconds.

    Raises:
        InputError: The times run backwards, or a figure is out of range.

    Example:
        >>> sheet = CureSheet(2400.0, 1.0, 298.15, 55000.0)
        >>> check_pot_life(0.0, 1800.0, 2.0, 298.15, sheet).words
        '30 min from mixing to poured, the pot life at 25 °C (77 °F) was 20 min'
    """
    if not pour_done >= mix_begun:
        raise InputError("the pour ends before the mixing begins", "swap or correct its two times")
    taken = number("time from mixing to poured", pour_done - mix_begun)
    limit = pot_life_of_batch(
        mass,
        kelvin,
        stated=sheet.pot_life,
        stated_mass=sheet.pot_life_mass,
        reference=sheet.reference,
        energy=sheet.energy,
    ).value
    words = (
        f"{_minutes(taken)} from mixing to poured, the pot life at {degrees(kelvin)} was"
        f" {_minutes(limit)}"
    )
    return LogCheck(taken <= limit * (1 + _SLACK), taken, limit, words)


def check_recoat(elapsed: float, kelvin: float, sheet: CureSheet) -> LogCheck:
    """Check that a coat went on within the recoat window of the coat below.

    Args:
        elapsed: Time from the coat below to this one, s, 0 or more.
        kelvin: Temperature between them, K, from 200 to 700.
        sheet: What the product of the coat below states.

    Returns:
        The check; the figure is the age of the coat below as if at its stated temperature, s,
        the limit the end of the window it missed, or, where it holds, the end it must stay under
        (inf for none).

    Raises:
        InputError: A figure out of range, or a window that closes before it opens.

    Example:
        >>> sheet = CureSheet(2400.0, 1.0, 298.15, 55000.0, 4 * 3600.0, 24 * 3600.0)
        >>> check_recoat(3 * 3600.0, 298.15, sheet).words
        'the coat below was too fresh: 3.0 h old, recoat from 4.0 h'
        >>> check_recoat(3 * 3600.0, 308.15, sheet).holds
        True
    """
    number("earliest recoat time", sheet.recoat_from)
    closes = math.inf
    if sheet.recoat_until is not None:
        closes = positive("latest recoat time", sheet.recoat_until)
    if closes <= sheet.recoat_from:
        raise InputError(
            "the recoat window closes before it opens",
            "make the latest recoat time longer than the earliest",
        )
    age = equivalent_age([elapsed], [kelvin], sheet.energy, sheet.reference)
    if age < sheet.recoat_from * (1 - _SLACK):
        words = (
            f"the coat below was too fresh: {_minutes(age)} old, recoat from"
            f" {_minutes(sheet.recoat_from)}"
        )
        return LogCheck(False, age, sheet.recoat_from, words)
    if age > closes * (1 + _SLACK):
        words = (
            f"the recoat window had closed: {_minutes(age)} old, recoat until {_minutes(closes)};"
            " was it sanded?"
        )
        return LogCheck(False, age, closes, words)
    return LogCheck(True, age, closes, f"the coat below was {_minutes(age)} old, in its window")


def check_wet_film(reading: float, target: float, tolerance: float) -> LogCheck:
    """Check one wet film reading against the film wanted.

    Several readings are judged by a rule: :func:`pourbook.trade.acceptance.judge_films`.

    Args:
        reading: Wet film read, m, 0 or more.
        target: Wet film wanted, m, above 0.
        tolerance: Share it may be off either way, 0 or more.

    Returns:
        The check; the figure is the share off, below 0 for too thin.

    Raises:
        InputError: A figure is out of range.

    Example:
        >>> check_wet_film(0.0009, 0.001, 0.05).words
        'the wet film is 10.0 % too thin, 5 % may be'
    """
    number("wet film", reading)
    positive("wet film wanted", target)
    number("tolerance", tolerance)
    off = reading / target - 1.0
    side = "thin" if off < 0.0 else "thick"
    words = f"the wet film is {abs(off) * 100:.1f} % too {side}, {tolerance * 100:g} % may be"
    if abs(off) < 0.0005:
        words = "the wet film is as wanted"
    return LogCheck(abs(off) <= tolerance * (1 + _SLACK) + _SLACK, off, tolerance, words)
