"""Finds crews that are to be in two places at once.

Contract: pure; times are numbers on one scale, such as days since day 0. Visits that only touch do
not clash, and neither do two of one job.
"""

from __future__ import annotations

from collections.abc import Sequence

from pourbook.records import dataclass

NOISE = 1e-9


@dataclass(frozen=True)
class AtJob:
    """A crew at a job, from when until when."""

    job: str
    crew: str
    begins: float
    ends: float


def clashes(visits: Sequence[AtJob]) -> list[list[int]]:
    """Return for each visit the places of those its crew cannot do as well.

    Example:
        >>> one, two = AtJob("Bar", "North", 1.3, 1.6), AtJob("Hall", "North", 1.5, 1.7)
        >>> clashes([one, two, AtJob("Hall", "South", 1.5, 1.7)])
        [[1], [0], []]
    """
    found: list[list[int]] = [[] for _ in visits]
    order = sorted(range(len(visits)), key=lambda n: (visits[n].crew, visits[n].begins))
    for at, first in enumerate(order):
        one = visits[first]
        for second in order[at + 1 :]:
            other = visits[second]
            if other.crew != one.crew or other.begins >= one.ends - NOISE:
                break
            if other.job != one.job and min(one.ends, other.ends) - other.begins > NOISE:
                found[first].append(second)
                found[second].append(first)
    return [sorted(places) for places in found]
