"""Rounding a mix to what a person can weigh or read off a bucket, without spoiling its ratio.

Contract: pure functions on SI floats: kg, m³, kg/m³. A rounded amount is a whole number of steps,
and the rounded parts of a mix never make less of it than was planned;
the steps of a scale and of bucket marks are common practice, no source. Source of the ratio:
:func:`pourbook.trade.mixing.off_ratio`.
"""

from __future__ import annotations

import itertools
import math
import operator
from collections.abc import Callable, Iterator, Sequence
from functools import lru_cache

from pourbook.errors import InputError
from pourbook.records import dataclass
from pourbook.trade.measuring import require
from pourbook.trade.mixing import Basis, off_ratio

GRAM, MILLILITRE = 1e-3, 1e-6
FINER = (GRAM, 1e-4)
_NOISE = 1e-9


@dataclass(frozen=True)
class Measured:
    """Amounts as measured, in the order given, and how far they put the mix off its ratio.

    Attributes:
        amounts: Masses in kg, or marks on the bucket in m³.
        off: The largest share by which a part misses what the base calls for; 0.01 is 1 %.
    """

    amounts: tuple[float, ...]
    off: float


def steps(amount: float, step: float) -> int:
    """Return the whole number of steps nearest to an amount, halves up.

    Args:
        amount: Any amount, 0 or more.
        step: The step, in the unit of the amount, above 0.

    Raises:
        InputError: The amount is below 0 or the step not above 0.

    Example:
        >>> steps(0.2374, 0.005)
        47
    """
    require("0 or more", amount=amount)
    require("above 0", step=step)
    return math.floor(amount / step + 0.5 + _NOISE)


def nearest(amount: float, step: float) -> float:
    """Return the multiple of a step nearest to an amount, halves up.

    Args:
        amount: Any amount, 0 or more.
        step: The step, in the unit of the amount, above 0.

    Raises:
        InputError: As for :func:`steps`.

    Example:
        >>> nearest(2.4, 0.5)
        2.5
    """
    return steps(amount, step) * step


def up(amount: float, step: float) -> float:
    """Return the least multiple of a step that is no smaller than an amount.

    Args:
        amount: Any amount, 0 or more.
        step: The step, in the unit of the amount, above 0.

    Raises:
        InputError: As for :func:`steps`.

    Example:
        >>> up(2.1, 0.5), up(2.0, 0.5)
        (2.5, 2.0)
    """
    require("0 or more", amount=amount)
    require("above 0", step=step)
    return math.ceil(amount / step - _NOISE) * step


_PAILS_OZ = ((8.0, 0.5), (32.0, 1.0), (80.0, 2.0), (math.inf, 4.0))
_PAILS_ML = ((100.0, 5.0), (1000.0, 25.0), (2500.0, 50.0), (math.inf, 100.0))
"""Below which amount the marks of a vessel are how far apart (common practice, no source)."""


def mass_step(mass: float) -> float:
    """Return what a shop scale is read to, kg: 5 g, 1 g below 100 g, 0.1 g below 10 g.

    Args:
        mass: What is weighed, kg.

    Source: common practice, no source.

    Example:
        >>> mass_step(2.31), mass_step(0.05)
        (0.005, 0.001)
    """
    if mass >= 100 * GRAM:
        return 5 * GRAM
    return GRAM if mass >= 10 * GRAM else 0.1 * GRAM


def volume_step(volume: float, ounce: float | None) -> float:
    """Return how far apart the marks of the bucket or cup are that holds an amount, m³.

    Args:
        volume: What is read off, m³.
        ounce: A fluid ounce, m³, where buckets are marked in them: half an ounce on a cup below 8,
            one on a quart, two up to 80, four on a larger pail. None for millilitres: 5 on a cup
            below 100, 25 up to 1 L, 50 up to 2.5 L, 100 on a larger pail.

    Source: common practice, no source.

    Example:
        >>> volume_step(0.002, None) / MILLILITRE, volume_step(50e-6, None) / MILLILITRE
        (50.0, 5.0)
    """
    size, pails = (MILLILITRE, _PAILS_ML) if ounce is None else (ounce, _PAILS_OZ)
    return next(step for below, step in pails if volume < below * size) * size


def dose_step(volume: float, ounce: float | None) -> float:
    """Return what a small measuring cup is read to, m³: water, thinner, not what fills a bucket.

    Args:
        volume: What is read off, m³.
        ounce: A fluid ounce, m³, where it is marked in them: then half an ounce, a quarter below
            16. None for millilitres: then 5 mL, 1 mL below 100 mL.

    Source: common practice, no source.

    Example:
        >>> dose_step(0.002, None) / MILLILITRE, dose_step(50e-6, None) / MILLILITRE
        (5.0, 1.0)
    """
    if ounce is not None:
        return ounce / (2 if volume >= 16 * ounce else 4)
    return 5 * MILLILITRE if volume >= 100 * MILLILITRE else MILLILITRE


def worst_off(
    masses: Sequence[float], ratio: Sequence[float], densities: Sequence[float], basis: Basis
) -> float:
    """Return the largest share by which a part misses the ratio; infinite if the base is missing.

    Args:
        masses: Mass poured of each part, kg, the base first, each 0 or more.
        ratio: 1 to 3 parts, each above 0.
        densities: Density of each part, kg/m³, above 0.
        basis: Whether the ratio is by ``volume`` or by ``mass``.

    Raises:
        InputError: As for :func:`pourbook.trade.mixing.off_ratio`.

    Example:
        >>> worst_off([2.0, 1.25], [2.0, 1.0], [1000.0, 1000.0], "mass")
        0.25
    """
    if masses[0] == 0:
        return math.inf
    return max((abs(off) for off in off_ratio(masses, ratio, densities, basis)), default=0.0)


def weighed(
    masses: Sequence[float],
    ratio: Sequence[float],
    densities: Sequence[float],
    basis: Basis,
    allowed: float,
) -> Measured:
    """Round the parts of a mix to what a scale shows, as coarsely as the ratio allows.

    First to the usual step of each part (:func:`mass_step`), then to 1 g, then to 0.1 g. Each part
    is rounded down or up so that together they fill no less than the exact parts; of the ways to do
    that the one nearest to the ratio is taken, and of equal ones the one that makes least.

    Args:
        masses: Exact mass of each part, kg, the base first.
        ratio: 1 to 3 parts, each above 0.
        densities: Density of each part, kg/m³, above 0.
        basis: Whether the ratio is by ``volume`` or by ``mass``.
        allowed: How far the rounding may put the mix off its ratio; 0.01 is 1 %.

    Raises:
        InputError: Even 0.1 g is too coarse, or a figure is out of range.

    Example:
        >>> [round(m, 3) for m in weighed([2.312, 1.001], [2.31, 1], [1e3, 1e3], "mass", 1).amounts]
        [2.315, 1.0]
    """
    return _weighed(tuple(masses), tuple(ratio), tuple(densities), basis, allowed)


@lru_cache(maxsize=512)
def _weighed(
    masses: tuple[float, ...],
    ratio: tuple[float, ...],
    densities: tuple[float, ...],
    basis: Basis,
    allowed: float,
) -> Measured:
    """Return what :func:`weighed` does: batches of a layer are often as large as each other."""
    usual = [mass_step(mass) for mass in masses]
    for finest in (math.inf, *FINER):
        scale = [min(step, finest) for step in usual]
        off, _, amounts = min(_ways(masses, scale, ratio, densities, basis))
        if off <= allowed:
            return Measured(amounts, off)
    raise InputError(
        f"weighing to 0.1 g would put this small mix {off * 100:.2g} % off its ratio",
        "mix more at once, in fewer batches",
        "Off ratio",
    )


def _ways(
    masses: Sequence[float],
    scale: Sequence[float],
    ratio: Sequence[float],
    densities: Sequence[float],
    basis: Basis,
) -> Iterator[tuple[float, float, tuple[float, ...]]]:
    """Return every way to round parts down or up that makes no less: off, volume, amounts."""
    planned = math.fsum(map(operator.truediv, masses, densities))
    sides = [
        {steps * step for steps in (math.floor(mass / step + _NOISE), round(up(mass, step) / step))}
        for mass, step in zip(masses, scale, strict=True)
    ]
    for amounts in itertools.product(*map(sorted, sides)):
        volume = math.fsum(map(operator.truediv, amounts, densities))
        if volume >= planned * (1 - _NOISE):
            yield round(worst_off(amounts, ratio, densities, basis), 12), volume, amounts


def marks(
    volumes: Sequence[float],
    order: Sequence[int],
    ounce: float | None,
    ratio: Sequence[float],
    densities: Sequence[float],
    basis: Basis,
    step: Callable[[float, float | None], float] = volume_step,
) -> Measured:
    """Return the marks one bucket is filled to, part after part, and what reading them costs.

    Args:
        volumes: Exact volume of each part, m³, the base first.
        order: The parts in the order they are poured, by their place in ``volumes``.
        ounce: A fluid ounce, m³, where the bucket is marked in them; None for millilitres.
        ratio: 1 to 3 parts, each above 0.
        densities: Density of each part, kg/m³, above 0.
        basis: Whether the ratio is by ``volume`` or by ``mass``.
        step: Says how far apart marks are, of an amount and the fluid ounce.

    Returns:
        The marks in the order of pouring, each the sum of what is in the bucket by then; the last
        is rounded up, so that the bucket holds no less than was planned.

    Raises:
        InputError: A figure is out of range.

    Example:
        >>> found = marks([2e-3, 1e-3], [1, 0], None, [2, 1], [1e3, 1e3], "volume")
        >>> [round(mark * 1e3, 6) for mark in found.amounts], round(found.off, 9)
        ([1.0, 3.0], 0.0)
    """
    filled = read = 0.0
    poured = [0.0] * len(volumes)
    found = []
    for place, at in enumerate(order, start=1):
        filled += volumes[at]
        rounded = up if place == len(order) else nearest
        mark = rounded(filled, step(filled, ounce))
        poured[at] = (mark - read) * densities[at]
        read = mark
        found.append(mark)
    return Measured(tuple(found), worst_off(poured, ratio, densities, basis))


def share_out(amount: float, shares: Sequence[float], step: float) -> list[int]:
    """Divide a rounded amount by shares into whole steps that add up to it.

    Each share ends at the step nearest to where it would end exactly, so nothing is lost or made.

    Args:
        amount: What is divided, 0 or more.
        shares: Shares, 0 or more, not all 0; they need not add up to 1 or 100.
        step: The step, in the unit of the amount, above 0.

    Returns:
        Steps of each share; together :func:`steps` of the amount.

    Raises:
        InputError: A figure is out of range.

    Example:
        >>> share_out(0.1, [1, 1, 1], 0.001)
        [33, 34, 33]
    """
    require("0 or more", **{f"share {n}": share for n, share in enumerate(shares, 1)})
    whole = math.fsum(shares)
    require("above 0", shares=whole)
    total = steps(amount, step)
    ends = [
        math.floor(total * math.fsum(shares[: n + 1]) / whole + 0.5) for n in range(len(shares))
    ]
    ends[-1] = total
    return [end - before for before, end in zip([0, *ends[:-1]], ends, strict=True)]
