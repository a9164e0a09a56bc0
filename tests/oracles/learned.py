"""Learning kind by kind.

Contract: pure functions on SI floats, for tests alone.
"""

from __future__ import annotations

from collections.abc import Iterable

from pourbook.errors import InputError
from pourbook.trade.learning import Learned, Measure, Prior, Settled, learn


def learn_by_kind(
    measure: Measure, jobs: Iterable[Settled], prior: Prior
) -> dict[tuple[str, str], Learned]:
    """Return what is known of the next job for every product and kind that was settled.

    Args:
        measure: ``loss`` or ``pace``; jobs that do not know it are passed over.
        jobs: The settled jobs.
        prior: What the shop reckons with; the same for every kind.

    Returns:
        By product and kind, in order of their names.

    Raises:
        InputError: As :func:`learn`, with product and kind as its place.

    Example:
        >>> jobs = [Settled("Flood", "counter", loss=0.1), Settled("Flood", "floor", pace=0.02)]
        >>> learned = learn_by_kind("loss", jobs, Prior(0.1, 0.3))
        >>> [(key, of.jobs) for key, of in learned.items()]
        [(('Flood', 'counter'), 1)]
    """
    groups: dict[tuple[str, str], list[float]] = {}
    for job in jobs:
        value = job.loss if measure == "loss" else job.pace
        if value is not None:
            groups.setdefault((job.product, job.kind), []).append(value)
    learned = {}
    for key in sorted(groups):
        try:
            learned[key] = learn(measure, groups[key], prior)
        except InputError as refusal:
            raise refusal.at(", ".join(key)) from refusal
    return learned
