"""What settled jobs teach: the loss and the pace to plan the next job with, and how sure they are.

Contract: losses as fractions, paces in m²/s (or any one unit), prices as ratios, pure functions.
One kind of work (a product on a kind of surface, or as a kind of layer) has a true level of its
own, and its jobs scatter about it. On a scale where that scatter is even, logit for a loss and log
for a pace, jobs are taken as normal, with level and spread both unknown:

    x | m, s² ~ Normal(m, s²),   m | s² ~ Normal(m0, s²/k),   s² ~ Inverse-Gamma(k/2, k·s0²/2)

Prior: m0 is what the shop reckons with, s0 how far one job usually lies off it, and k how many jobs
that opinion is worth. After n jobs of mean x̄ the level is (k·m0 + n·x̄)/(k + n), so few jobs are
drawn towards the shop's figure and many are not; the next job follows Student's t with k + n
degrees of freedom. Unlike a plain average plus so many spreads, the bound is wider where jobs are
few.

Valid where jobs are independent of each other and done much as the next one will be; a change of
crew or product begins a new kind. Job sizes are not weighed. The confidence is as good as the
shop's opinion while jobs are few: simulated with jobs that scatter half again as much as it says,
a 90 % bound held 82 to 87 % of the time up to five jobs and 89 % at twenty (kinds 0.3 apart).

Source: the normal-inverse-gamma conjugate model, a textbook result, from memory; checked against
scipy by integrating it numerically and by simulation. Student's quantile: scipy.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Literal

from pourbook.errors import InputError
from pourbook.records import dataclass
from pourbook.trade.ranges import number, positive

Measure = Literal["loss", "pace", "price"]
"""What is learned of: a loss, a pace, or what a price came to as a ratio of its first figure."""

LEAST_LOSS = 0.001
"""A settled loss below this counts as this: on the logit scale no loss at all is endlessly far."""


@dataclass(frozen=True)
class Prior:
    """What the shop reckons with before it has settled a job of the kind.

    Attributes:
        typical: Typical loss, above 0 and below 1, or typical pace, above 0.
        spread: How far one job in three lies off it, either way, on the logit or log scale, above
            0: 0.3 is a third more or less of a pace, or a loss of 10 % going to 7.6 or 13 %.
        worth: How many settled jobs this opinion weighs as much as, above 0; 3 or 4 is cautious.
    """

    typical: float
    spread: float
    worth: float = 4.0


@dataclass(frozen=True)
class Learned:
    """What is known of the next job of a kind.

    Attributes:
        measure: ``loss``, ``pace`` or ``price``.
        jobs: How many settled jobs it rests on.
        level: Level on the logit or log scale.
        width: Width of the t distribution of the next job, on the same scale.
        freedom: Its degrees of freedom.
        spread: How far one job lies off the level, on the same scale, with the prior's opinion.
    """

    measure: Measure
    jobs: int
    level: float
    width: float
    freedom: float
    spread: float

    def typical(self) -> float:
        """Return the loss or pace the next job as likely exceeds as not."""
        return _back(self.measure, self.level)

    def quantile(self, share: float) -> float:
        """Return the loss or pace the next job stays below with a chance of ``share``.

        Args:
            share: Chance, from 0.001 to 0.999.

        Raises:
            InputError: The chance is out of range.
        """
        from scipy.special import stdtrit  # noqa: PLC0415  slow to load, and only learning needs it

        number("chance", share, 0.001, 0.999)
        return _back(self.measure, self.level + self.width * float(stdtrit(self.freedom, share)))

    def suggested(self, confidence: float = 0.9) -> float:
        """Return what to plan with so that it suffices with this confidence.

        A loss the next job stays under, or a pace the next job reaches.

        Args:
            confidence: Chance, from 0.001 to 0.999.

        Raises:
            InputError: The confidence is out of range.
        """
        return self.quantile(confidence if self.measure == "loss" else 1.0 - confidence)


def _scaled(measure: Measure, value: float) -> float:
    """Return a loss by its logit, a pace by its logarithm."""
    return math.log(value / (1.0 - value)) if measure == "loss" else math.log(value)


def _back(measure: Measure, scaled: float) -> float:
    """Return the loss or pace of a figure on its scale, without overflow."""
    if measure != "loss":
        return math.exp(min(scaled, 700.0))
    if scaled >= 0.0:
        return 1.0 / (1.0 + math.exp(-scaled))
    return math.exp(scaled) / (1.0 + math.exp(scaled))


def _readings(measure: Measure, values: Sequence[float]) -> list[float]:
    """Return the settled figures on their scale, or refuse one that cannot be."""
    if measure != "loss":
        return [
            _scaled(measure, positive(f"{measure} of job {i}", v)) for i, v in enumerate(values, 1)
        ]
    for i, loss in enumerate(values, 1):
        if not 0.0 <= loss < 1.0:
            raise InputError(
                f"the loss of job {i} is {loss * 100.0:.4g} %",
                "check its film readings against what its log says was mixed, or leave it out",
            )
    return [_scaled(measure, max(loss, LEAST_LOSS)) for loss in values]


def learn(measure: Measure, values: Sequence[float], prior: Prior) -> Learned:
    """Return what the settled jobs of one kind say of the next.

    Args:
        measure: ``loss`` (fractions, 0 to below 1), ``pace`` or ``price`` (above 0).
        values: One figure a settled job; none gives the prior alone.
        prior: What the shop reckons with.

    Returns:
        The distribution of the next job.

    Raises:
        InputError: A figure, or the prior, is out of range, or the measure is not known.

    Example:
        >>> prior = Prior(typical=0.10, spread=0.3, worth=4.0)
        >>> first = learn("loss", [], prior)
        >>> round(first.typical(), 3), round(first.suggested(0.9), 3)
        (0.1, 0.157)
        >>> after = learn("loss", [0.06, 0.07, 0.065, 0.06, 0.07, 0.065, 0.06, 0.07], prior)
        >>> round(after.typical(), 3), round(after.suggested(0.9), 3)
        (0.075, 0.109)
    """
    if measure not in ("loss", "pace", "price"):
        raise InputError(f"nothing is learned of '{measure}'", "choose loss, pace or price")
    if measure == "loss" and not LEAST_LOSS <= prior.typical < 1.0:
        raise InputError(
            f"the shop's typical loss is {prior.typical * 100.0:g} %",
            "give a loss from 0.1 % to below 100 %",
        )
    centre = _scaled(measure, positive(f"the shop's typical {measure}", prior.typical))
    positive("the usual scatter", prior.spread)
    positive("the number of jobs the shop's figure is worth", prior.worth)
    scaled, k = _readings(measure, values), prior.worth
    n = len(scaled)
    mean = math.fsum(scaled) / n if n else centre
    level = (k * centre + n * mean) / (k + n)
    squares = (
        k * prior.spread**2
        + math.fsum((x - mean) ** 2 for x in scaled)
        + k * n / (k + n) * (mean - centre) ** 2
    )
    return _next_job(measure, n, level, math.sqrt(squares / (k + n)), k + n)


def _next_job(measure: Measure, jobs: int, level: float, spread: float, weight: float) -> Learned:
    """Return the distribution of the next job from what so many jobs in all say."""
    width = spread * math.sqrt((weight + 1.0) / weight)
    return Learned(measure, jobs, level, width, weight, spread)


def known_loss(typical: float, spread: float, jobs: float, worth: float) -> Learned:
    """Return the loss of the next job from a level and a scatter that were learned before.

    Args:
        typical: The loss of such jobs, above 0 and below 1.
        spread: How far one job in three lies off it, logit scale, above 0.
        jobs: How many settled jobs both rest on, 0 and more.
        worth: How many jobs the shop's own figure weighs as much as, above 0.

    Raises:
        InputError: A figure is out of range.

    Example:
        >>> few, many = (known_loss(0.1, 0.3, jobs, 4.0) for jobs in (0, 60))
        >>> few.freedom, many.width < few.width
        (4.0, True)
    """
    positive("the spread", spread)
    positive("the number of jobs the shop's figure is worth", worth)
    positive("typical loss", typical)
    positive("what is not lost", 1.0 - typical)
    number("settled jobs", jobs)
    return _next_job("loss", int(jobs), _scaled("loss", typical), spread, jobs + worth)


def shop_prior(measure: Measure, values: Sequence[float], worth: float = 4.0) -> Prior:
    """Return the prior that all the shop's settled jobs make together, whatever their kind.

    Typical is their mean and spread their standard deviation on the logit or log scale. That spread
    also holds how far kinds lie apart, so it is on the wide, cautious side.

    Args:
        measure: ``loss`` or ``pace``.
        values: One figure a settled job of any kind, at least two that differ.
        worth: How many jobs it is to weigh as much as, above 0.

    Raises:
        InputError: Too few jobs, all alike, or a figure out of range.

    Example:
        >>> prior = shop_prior("pace", [0.01, 0.02, 0.04])
        >>> round(prior.typical, 4), round(prior.spread, 4), prior.worth
        (0.02, 0.6931, 4.0)
    """
    positive("the number of jobs the shop's figure is worth", worth)
    scaled = _readings(measure, values)
    if len(scaled) < 2:
        raise InputError("fewer than two jobs are settled", "type the shop's usual figure instead")
    mean = math.fsum(scaled) / len(scaled)
    spread = math.sqrt(math.fsum((x - mean) ** 2 for x in scaled) / (len(scaled) - 1))
    if spread <= 1e-9:
        raise InputError("all settled jobs are alike", "type the shop's usual spread instead")
    return Prior(_back(measure, mean), spread, worth)


@dataclass(frozen=True)
class Settled:
    """What one settled job shows of one product on one kind of surface or layer.

    Attributes:
        product: Name of the product.
        kind: Kind of surface or layer.
        loss: Share lost of what was mixed; None where it is not known.
        pace: Area spread in a time, m²/s; None where it is not known.
    """

    product: str
    kind: str
    loss: float | None = None
    pace: float | None = None
