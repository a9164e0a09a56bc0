"""What is to be looked at in a logged batch: ratio, pot life, air, coat below, film and lots.

Contract: each check takes a :class:`.LoggedBatch` in SI units and gives its figure
(None where it cannot be told) and the words for whatever is wrong; no words is in order.
What a product does not state limits nothing. Times between coats are counted as the calendar does:
as hours at the temperature the data sheet names, here at the air temperatures in the log, each
taken to hold from halfway to the reading before it until halfway to the next.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from itertools import pairwise

from pourbook.errors import PourbookError, RangeError
from pourbook.records import dataclass
from pourbook.tables.products import PARTS
from pourbook.tables.used.log_rows import LABELS, LoggedBatch
from pourbook.tables.works import Working
from pourbook.trade import air, logged, mixing
from pourbook.trade.air import AirLimits
from pourbook.trade.cure import curing
from pourbook.trade.logged import CureSheet
from pourbook.trade.ranges import degrees

_SLACK = 1e-9
_EARLIER_PASS = 0.5
_SENSELESS = 1e6
_ANY = 300.0  # K: a coat without a stated temperature is its own clock at any


@dataclass(frozen=True)
class Noticed:
    """The figure of a check, and what is wrong with it in words."""

    value: float | None = None
    wrong: tuple[str, ...] = ()


def volume(batch: LoggedBatch) -> float:
    """Return the mixed volume, m³: every part by weight over its density."""
    pairs = zip(batch.masses, batch.coat.product.densities, strict=True)
    return math.fsum(mass / density for mass, density in pairs)


def ratio(batch: LoggedBatch, tolerance: float) -> Noticed:
    """Return how far the worst part is off what part A called for, and whether that is too far.

    Raises:
        InputError: It is off beyond all sense.
    """
    product = batch.coat.product
    shares = mixing.off_ratio(batch.masses, product.ratio, product.densities, product.basis)
    if not shares:
        return Noticed(0.0)
    at = max(range(len(shares)), key=lambda i: abs(shares[i]))
    worst = shares[at]
    if abs(worst) > _SENSELESS:
        what = f"it is more than {_SENSELESS:,.0f} times what part A calls for"
        mend = "check it, and the ratio on Products"
        raise RangeError(what, mend, LABELS[f"mass_{PARTS[at + 1].lower()}"])
    if abs(worst) <= tolerance + _SLACK:
        return Noticed(worst)
    way = "over" if worst > 0 else "short"
    far = (
        f"part {PARTS[at + 1]} is {abs(worst) * 100:.1f} % {way}, {tolerance * 100:g} % is allowed"
    )
    return Noticed(worst, (far,))


def time_taken(batch: LoggedBatch) -> Noticed:
    """Return how long it took from mixing until all was spread, s."""
    if batch.ended is None:
        return Noticed(None, ("when all was spread is not written down",))
    return Noticed(batch.ended - batch.started)


def pot_life(batch: LoggedBatch, working: Working | None) -> Noticed:
    """Return the pot life of the batch at the air's temperature, s, and whether it was kept.

    Raises:
        InputError: A pot life is stated without its temperature.
    """
    if working is None or working.pot_life is None:
        return Noticed()
    if batch.air is None:
        return Noticed(None, ("the air is not written down, so its pot life cannot be told",))
    mass = math.fsum(batch.masses)
    if batch.ended is None or working.pot_temp is None:
        return Noticed(working.pot_life_at(batch.air, mass))
    sheet = CureSheet(
        working.pot_life,
        working.pot_mass or mass,  # stated for no weight: not cut for any
        working.pot_temp,
        working.energy_at(working.pot_temp),
    )
    done = logged.check_pot_life(batch.started, batch.ended, mass, batch.air, sheet)
    return Noticed(done.limit, () if done.holds else (done.words,))


def air_and_surface(batch: LoggedBatch, limits: AirLimits) -> Noticed:
    """Return how far the surface was above the dew point, K, and what the air forbade."""
    if batch.air is None or batch.surface is None:
        return Noticed()  # the check of the pot life says so
    if batch.humidity is None:
        return Noticed(None, ("no humidity is written down, so the dew point cannot be told",))
    verdict = air.judge_air(batch.surface, batch.air, batch.humidity, limits)
    wrong = () if verdict.state == "go" else verdict.reasons
    try:
        above = batch.surface - air.dew_point(batch.air, batch.humidity)
    except PourbookError:  # below the frost point, where the verdict speaks for itself
        return Noticed(None, wrong)
    return Noticed(above, wrong)


def coat_below(
    batch: LoggedBatch, log: Sequence[LoggedBatch], working: Mapping[str, Working]
) -> tuple[LoggedBatch, str] | None:
    """Return the last batch of the coat this one lies on, and the name of its product's row.

    In a layer of several passes the coat below is the pass before, which is what ended at least
    half of its earliest recoat time earlier: the log does not number the passes.
    """
    own = working.get(batch.coat.product.name.casefold())
    gap = _EARLIER_PASS * (own.recoat_from or 0.0) if own else 0.0
    names = {batch.coat.below} - {""}
    ended = [
        one
        for one in log
        if one.done <= batch.started
        and (
            one.coat.name.casefold() in names
            or (batch.coat.passes > 1 and one.coat == batch.coat and batch.started - one.done > gap)
        )
    ]
    if not ended:
        return None
    last = max(ended, key=lambda one: one.done)
    return last, last.coat.product.name.casefold()


def recoat(
    batch: LoggedBatch, log: Sequence[LoggedBatch], working: Mapping[str, Working]
) -> Noticed:
    """Return how long after the coat below mixing began, s, and whether its window was kept."""
    found = coat_below(batch, log, working)
    if found is None:
        later = [one for one in log if one.coat.name.casefold() == batch.coat.below]
        if not batch.coat.below or not later:
            return Noticed()  # the first coat, or one over what was not logged
        words = f"it was mixed before the coat below, {later[0].coat.name}, was spread"
        return Noticed(None, (words,))
    last, product = found
    since = batch.started - last.done
    how = working.get(product)
    if how is None:
        return Noticed(since)
    opens = max(how.recoat_from or 0.0, (how.touch or 0.0) if batch.coat.sanded else 0.0)
    closes = None if batch.coat.sanded else how.recoat_until
    reference = how.cure_temp or _ANY
    sheet = CureSheet(math.inf, math.inf, reference, how.energy_at(reference), opens, closes)
    age = aged(log, last.done, batch.started, how)
    done = logged.check_recoat(age, reference, sheet)
    at = f" (hours at {degrees(how.cure_temp)})" if how.cure_temp is not None else ""
    return Noticed(since, () if done.holds else (f"{last.coat.name}: {done.words}{at}",))


def aged(log: Sequence[LoggedBatch], begin: float, end: float, how: Working) -> float:
    """Return the age of a coat between two moments, s at the temperature its data sheet names."""
    if how.cure_temp is None:
        return end - begin
    read = sorted({(b.started, b.air) for b in log if b.air is not None})
    if not read:
        return end - begin
    turns = [(one[0] + two[0]) / 2 for one, two in pairwise(read)]
    edges = [-math.inf, *turns, math.inf]
    lasting, warmth = [], []
    for (low, high), (_, kelvin) in zip(pairwise(edges), read, strict=True):
        inside = min(high, end) - max(low, begin)
        if inside > 0:
            lasting.append(inside)
            warmth.append(kelvin)
    return curing.equivalent_age(lasting, warmth, how.energy_at(how.cure_temp), how.cure_temp)


def film(batch: LoggedBatch, film_off: float | None) -> Noticed:
    """Return the wet film as a share of what was planned, and whether it is off by too much."""
    if batch.wet is None or not batch.coat.wet:
        return Noticed()
    share = batch.wet / batch.coat.wet
    if film_off is None:
        return Noticed(share)
    done = logged.check_wet_film(batch.wet, batch.coat.wet, film_off)
    return Noticed(share, () if done.holds else (done.words,))
