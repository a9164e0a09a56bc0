"""The heat of a batch in its bucket: how hot, how soon, and how large a batch stays tame.

Contract: SI units, pure and deterministic. One temperature for the whole mass and one heat loss
coefficient: the middle of a real bucket is hotter than computed here. Answers that decide how much
to mix come with their assumptions as text. A batch that heats itself can burn, smoke and catch
fire: the product's safety data sheet decides, never these figures.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import NamedTuple

from pourbook.errors import InputError
from pourbook.records import dataclass
from pourbook.trade.cure.curing import COLDEST, HIGHEST_ENERGY, HOTTEST, R_GAS, pot_life, rate_ratio
from pourbook.trade.cure.kinetics import TOLERANCE, Kinetics
from pourbook.trade.cure.ode import Knot, between, crossing, integrate
from pourbook.trade.ranges import degrees, number, positive, temperature

SAFETY = (
    "a batch left in its bucket can get hot enough to burn, smoke or catch fire: follow the"
    " product's safety data sheet, sections 5 and 7"
)
_WARMER, _COLDER = 1.6, 1.25  # assumed; see pot_life_of_batch
SEMENOV_CRITICAL = 1.0 / math.e
"""Critical Semenov number. Heat made equals heat lost where psi·exp(x) = x, x being the rise times
E/(R·Ta²); the last balance, where the curves touch, also has psi·exp(x) = 1, so x = 1 and
psi = 1/e. Combustion Theory, appendix B.2 p. 519 (fliphtml5.com/zroi/zdmt, read in excerpt)."""


class Figure(NamedTuple):
    """A number with the assumptions that must stand beside it."""

    value: float
    assumptions: tuple[str, ...]


@dataclass(frozen=True)
class Bucket:
    """A mixed batch in its container.

    Attributes:
        mass: Mass of the mix, kg, above 0.
        area: Surface that loses heat, m², above 0.
        film: Heat loss coefficient, W/(m²·K), 0 or more; 0 is a perfectly insulated bucket.
        heat: Heat of the whole cure, J/kg, above 0.
        capacity: Specific heat of the mix, J/(kg·K), above 0.
        ambient: Air temperature, K.
        start: Temperature of the mix when mixed, K.
    """

    mass: float
    area: float
    film: float
    heat: float
    capacity: float
    ambient: float
    start: float

    def __post_init__(self) -> None:
        """Refuse a batch that cannot be."""
        for name in ("mass", "area", "heat", "capacity"):
            positive(f"{name} of the batch", getattr(self, name))
        number("heat loss coefficient", self.film)
        temperature("air temperature", self.ambient, COLDEST, HOTTEST)
        temperature("temperature of the mix", self.start, COLDEST, HOTTEST)


@dataclass(frozen=True)
class BucketState:
    """A batch at one time: s, fraction cured, K, and the heat lost so far, J."""

    seconds: float
    conversion: float
    temperature: float
    lost: float


def adiabatic_rise(heat: float, capacity: float) -> float:
    """Return how far a mix warms when none of its heat escapes: heat over specific heat.

    Args:
        heat: Heat of the whole cure, J/kg, above 0.
        capacity: Specific heat, J/(kg·K), above 0.

    Returns:
        Rise, K; exact for constant specific heat, else to some 10 %.

    Example:
        >>> adiabatic_rise(350000.0, 1600.0)
        218.75
    """
    return positive("heat of cure", heat) / positive("specific heat", capacity)


def semenov_number(energy: float, heat_rate: float, conductance: float, ambient: float) -> float:
    """Return psi = E·Q/(R·Ta²·hA); above :data:`SEMENOV_CRITICAL` no steady balance exists.

    Semenov's theory for a uniform mass whose fuel is not used up; because real fuel is used up, a
    mass a little above critical may still stay tame, so the test is on the cautious side. It needs
    the mix to start no hotter than the air.

    Args:
        energy: Activation energy, J/mol, from 0 to 400 000.
        heat_rate: Heat the mass would make at the air's temperature, W, 0 or more.
        conductance: Heat lost per kelvin (film coefficient × area), W/K, above 0.
        ambient: Air temperature, K, from 200 to 700.

    Returns:
        The Semenov number, dimensionless.

    Example:
        >>> round(semenov_number(60000.0, 5.0, 1.0, 298.15) / SEMENOV_CRITICAL, 2)
        1.1
    """
    number("activation energy in J/mol", energy, 0.0, HIGHEST_ENERGY)
    number("heat rate in W", heat_rate)
    positive("heat loss in W/K", conductance)
    temperature("air temperature", ambient, COLDEST, HOTTEST)
    return energy * heat_rate / (R_GAS * ambient**2 * conductance)


def batch_semenov(kinetics: Kinetics, bucket: Bucket) -> float:
    """Return the Semenov number of a batch at the fastest moment of its cure at room temperature.

    The greatest rate over a grid of 1001 conversions at the air's temperature is taken as if it
    lasted, with the mean energy of its two terms: cautious.

    Args:
        kinetics: The mix's constants.
        bucket: The batch; its film coefficient must be above 0.

    Returns:
        The Semenov number, dimensionless. Source as :func:`semenov_number`.

    Example:
        >>> mix = Kinetics(1e6, 60000.0, 0.0, 0.0, 0.0, 1.0)
        >>> bucket = Bucket(1.0, 0.05, 8.0, 4e5, 2000.0, 298.15, 298.15)
        >>> batch_semenov(mix, bucket) > SEMENOV_CRITICAL
        True
    """
    first, second = max(
        (kinetics.parts(i / 1000.0, bucket.ambient) for i in range(1001)), key=math.fsum
    )
    fastest = first + second
    energy = (first * kinetics.e1 + second * kinetics.e2) / fastest if fastest > 0.0 else 0.0
    heat_rate = bucket.mass * bucket.heat * fastest
    return semenov_number(energy, heat_rate, bucket.film * bucket.area, bucket.ambient)


def _knots(
    kinetics: Kinetics, bucket: Bucket, end: float, tolerance: float = TOLERANCE
) -> Iterator[Knot]:
    """Yield conversion, temperature and heat lost per heat capacity (K) at each accepted step."""
    kinetics.begins(0.0)
    rise = bucket.heat / bucket.capacity
    loss = bucket.film * bucket.area / (bucket.mass * bucket.capacity)

    coldest = min(bucket.start, bucket.ambient)
    hottest_possible = max(bucket.start, bucket.ambient) + rise

    def rate(_: float, values: list[float]) -> list[float]:
        # A trial step may leave the bounds no solution leaves; the true path is untouched.
        cure = sum(kinetics.parts(values[0], min(hottest_possible, max(coldest, values[1]))))
        lost = loss * (values[1] - bucket.ambient)
        return [cure, rise * cure - lost, lost]

    return integrate(rate, [0.0, bucket.start, 0.0], 0.0, end, tolerance)


def _state(bucket: Bucket, knot: Knot) -> BucketState:
    """Return a knot as a batch state."""
    conversion, kelvin, lost = knot.values
    return BucketState(
        knot.time, min(1.0, conversion), kelvin, lost * bucket.mass * bucket.capacity
    )


def bucket_history(kinetics: Kinetics, bucket: Bucket, times: Sequence[float]) -> list[BucketState]:
    """Return the batch at each time: m·cp·dT/dt = m·H·da/dt - h·A·(T - Ta).

    Lumped heat balance (textbook form, computed); the balance closes to about one part in 10⁶.

    Args:
        kinetics: The mix's constants.
        bucket: The batch.
        times: Times wanted, s, rising, 0 or more.

    Returns:
        A state for each time.

    Example:
        >>> fast = Kinetics(0.01, 0.0, 0.0, 0.0, 0.0, 1.0)
        >>> sealed = Bucket(1.0, 0.05, 0.0, 350000.0, 1600.0, 298.15, 298.15)
        >>> round(bucket_history(fast, sealed, [5000.0])[0].temperature - 298.15, 3)
        218.75
    """
    states: list[BucketState] = []
    if not times:
        return states
    if times[0] < 0.0 or any(times[i] > times[i + 1] for i in range(len(times) - 1)):
        raise InputError("the times wanted run backwards", "list them in order from 0 on")
    before: Knot | None = None
    for knot in _knots(kinetics, bucket, times[-1]):
        while len(states) < len(times) and times[len(states)] <= knot.time:
            wanted = times[len(states)]
            found = knot
            if before is not None and wanted < knot.time:
                part = (wanted - before.time) / (knot.time - before.time)
                found = between(before, knot, part)
            states.append(_state(bucket, found))
        before = knot
    return states


def hottest(kinetics: Kinetics, bucket: Bucket, end: float) -> BucketState:
    """Return the batch at its highest temperature up to a time.

    Args:
        kinetics: The mix's constants.
        bucket: The batch.
        end: How long it is watched, s, above 0.

    Returns:
        The state; its temperature never exceeds the hotter of air and mix by more than
        :func:`adiabatic_rise`. Source and error as :func:`bucket_history`.

    Example:
        >>> fast = Kinetics(0.01, 0.0, 0.0, 0.0, 0.0, 1.0)
        >>> bucket = Bucket(1.0, 0.05, 8.0, 350000.0, 1600.0, 298.15, 298.15)
        >>> 298.15 < hottest(fast, bucket, 5000.0).temperature < 298.15 + 218.75
        True
    """
    positive("time watched in s", end)
    before: Knot | None = None
    best: Knot | None = None
    for knot in _knots(kinetics, bucket, end):
        found = knot
        if before is not None and before.slopes[1] > 0.0 > knot.slopes[1]:
            found = crossing(before, knot, lambda point: point.slopes[1] <= 0.0)
        if best is None or found.values[1] > best.values[1]:
            best = found
        before = knot
    if best is None:
        raise InputError("the batch is watched for no time", "give a time above 0")
    return _state(bucket, best)


def time_to_temperature(
    kinetics: Kinetics, bucket: Bucket, limit: float, end: float, tolerance: float = TOLERANCE
) -> float | None:
    """Return when the batch first reaches a temperature, or ``None`` if not by ``end``.

    Args:
        kinetics: The mix's constants.
        bucket: The batch.
        limit: Temperature, K, from 200 to 1000.
        end: How long it is watched, s, above 0.
        tolerance: Step error allowed, see :func:`pourbook.trade.cure.ode.integrate`.

    Returns:
        Time from mixing, s. Source and error as :func:`bucket_history`.

    Example:
        >>> first_order = Kinetics(0.001, 0.0, 0.0, 0.0, 0.0, 1.0)
        >>> sealed = Bucket(1.0, 0.05, 0.0, 400000.0, 2000.0, 298.15, 298.15)
        >>> round(time_to_temperature(first_order, sealed, 398.15, 5000.0), 3)
        693.147
    """
    temperature("temperature limit", limit, COLDEST, 1000.0)
    positive("time watched in s", end)
    before: Knot | None = None
    for knot in _knots(kinetics, bucket, end, tolerance):
        if knot.values[1] >= limit:
            if before is None:
                return 0.0
            return crossing(before, knot, lambda point: point.values[1] >= limit).time
        before = knot
    return None


def largest_tame_batch(
    kinetics: Kinetics, bucket: Bucket, limit: float, working_seconds: float, most: float
) -> Figure:
    """Return the largest batch that stays below a temperature for as long as it is being used.

    The container keeps its shape, so its area grows as mass to the power 2/3. Found by bisection to
    one part in 10⁴, rounded towards the smaller batch.

    Args:
        kinetics: The mix's constants.
        bucket: A batch of known area; its mass only sets the shape of the container.
        limit: Temperature the mix must stay below, K.
        working_seconds: Time from mixing until the last of it is spread, s, above 0.
        most: Largest batch considered, kg, above 0.

    Returns:
        Mass, kg, with its assumptions. Source and error as :func:`bucket_history`.

    Raises:
        InputError: Even a thousandth of ``most`` gets too hot.

    Example:
        >>> mix = Kinetics(4e5, 60000.0, 4e6, 60000.0, 1.0, 1.0)
        >>> bucket = Bucket(1.0, 0.05, 8.0, 4e5, 2000.0, 298.15, 298.15)
        >>> 0.02 < largest_tame_batch(mix, bucket, 313.15, 3600.0, 20.0).value < 20.0
        True
    """
    positive("largest batch considered in kg", most)
    start = max(bucket.start, bucket.ambient)

    def tame(mass: float) -> bool:
        area = bucket.area * (mass / bucket.mass) ** (2.0 / 3.0)
        batch = replace(bucket, mass=mass, area=area, start=start)
        return time_to_temperature(kinetics, batch, limit, working_seconds, 1e-7) is None

    assumptions = (
        "the mix has one temperature throughout and starts no colder than the air",
        "a larger batch uses a larger container of the same shape",
        f"all of it is out of the container after {working_seconds / 60.0:g} minutes",
        SAFETY,
    )
    if tame(most):
        return Figure(most, (f"no batch above {most:g} kg was considered", *assumptions))
    low, high = most / 1000.0, most
    if not tame(low):
        raise InputError(
            f"even a batch of {low:g} kg reaches {degrees(limit)} before it is used up",
            "work faster, start cooler, or pour a slower product",
        )
    while high - low > 1e-4 * low:
        middle = math.sqrt(low * high)
        if tame(middle):
            low = middle
        else:
            high = middle
    return Figure(low, assumptions)


def self_heating_caution(kelvin: float, reference: float, energy: float) -> float:
    """Return how many times less time a mix has away from its sheet's temperature than by its rate.

    Assumed; see :func:`pot_life_of_batch`, which says what it was held against.

    Args:
        kelvin: Temperature of the mix, K, from 200 to 700.
        reference: Temperature the pot life is stated at, K.
        energy: Activation energy, J/mol.

    Example:
        >>> self_heating_caution(298.15, 298.15, 55000.0)
        1.0
        >>> round(self_heating_caution(303.15, 298.15, 55000.0), 2)
        1.44
    """
    ratio = rate_ratio(energy, reference, kelvin)
    return min(ratio, _WARMER) if ratio >= 1.0 else min(1.0 / ratio, _COLDER)


def pot_life_of_batch(
    mass: float,
    kelvin: float,
    *,
    stated: float,
    stated_mass: float | None,
    reference: float,
    energy: float,
) -> Figure:
    """Return a cautious pot life of a batch whose product states only one, at one mass.

    The stated pot life at this temperature (:func:`pourbook.trade.cure.curing.pot_life`), cut in
    proportion when the batch is larger than the mass it was stated for; a smaller batch gets no
    credit. The proportion is an assumption, not a measurement: no published pair of pot lives at
    two masses was found outside sellers' sheets. ASTM D2471 only says that the time varies with
    the volume mixed (read). A mass that heats itself answers to the room more than the rate alone:
    a warmer mix is cut once more by the ratio of the rates, at most by 1.6, and a colder one gains
    less by at most 1.25; both assumed. Against the heat balance of this module, run to gel over the
    kinetics the tests draw, from 5 to 35 °C and half to twenty times the mass, it never promised
    more time than computed; a cube-root rule did, and the rate alone.

    Args:
        mass: Mass of the batch, kg, above 0.
        kelvin: Temperature of the mix when mixed, K, from 200 to 700.
        stated: Stated pot life, s, above 0.
        stated_mass: Mass the pot life is stated for, kg, above 0; None where none is stated, and
            the mass then cuts nothing.
        reference: Temperature the pot life is stated at, K.
        energy: Activation energy, J/mol.

    Returns:
        Pot life, s, never above that of the stated mass, with its assumptions.

    Example:
        >>> sheet = {"stated": 2400.0, "stated_mass": 0.1, "reference": 298.15, "energy": 55000.0}
        >>> round(pot_life_of_batch(0.4, 298.15, **sheet).value, 6)
        600.0
        >>> round(pot_life_of_batch(0.05, 298.15, **sheet).value, 6)
        2400.0
        >>> round(pot_life_of_batch(0.1, 303.15, **sheet).value / 60.0, 1)
        19.2
    """
    share = 1.0
    if stated_mass is not None:
        of_mass = positive("stated mass in kg", stated_mass)
        share = min(1.0, of_mass / positive("mass in kg", mass))
    caution = self_heating_caution(kelvin, reference, energy)
    what = "no mass" if stated_mass is None else f"{stated_mass:g} kg"
    return Figure(
        share * pot_life(kelvin, stated, reference, energy) / caution,
        (
            f"the pot life was stated for {what} at {degrees(reference)}",
            "assumed: a larger batch has proportionally less time, a smaller one no more",
            f"assumed: away from {degrees(reference)} the mix has {caution:.2f} times less time"
            " than its rate alone gives, since it heats itself",
            SAFETY,
        ),
    )
