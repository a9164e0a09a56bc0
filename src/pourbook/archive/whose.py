"""Whose loss: what settled jobs lost, by who mixed it, lot, product, surfaces and what lies below.

Contract: one loss a job and layer, as :mod:`pourbook.archive.learn` has it. It counts for a mixer,
or a lot, that made more than half of the layer's mix by the log, and for a substrate that the whole
job stands on. Whether a group differs from all others by more than chance is a permutation test of
the difference of the means (scipy), for callbacks Fisher's exact test of jobs; nothing is written
here.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from typing import Any

import numpy as np
from scipy.stats import fisher_exact, permutation_test

from pourbook.archive.layer_record import LayerRecord
from pourbook.cells import word
from pourbook.records import dataclass

MIXER, LOT, PRODUCT, SURFACES, SUBSTRATE = "mixed by", "lot", "product", "surfaces", "substrate"
TOO_FEW, CHANCE, MORE, LESS = "too few to say", "could be chance", "loses more", "loses less"
FEWEST = 3
"""Jobs a group and all others must have before anything is said of them."""
SURE = 0.05
"""A difference that comes by chance once in twenty times, or less, is taken for one (usual)."""
RESAMPLES, SEED = 1999, 20261129


@dataclass(frozen=True)
class Group:
    """Losses that have something in common, against all others.

    Attributes:
        by: What they have in common: mixed by, lot, product, surfaces or substrate.
        name: Which.
        jobs: How many jobs stand behind it.
        layers: How many layers of them.
        loss: Their mean loss, a fraction.
        others: The mean loss of all others; None where there are none.
        chance: How often chance alone makes such a difference; None where they are too few.
        says: In words.
    """

    by: str
    name: str
    jobs: int
    layers: int
    loss: float
    others: float | None
    chance: float | None
    says: str


@dataclass(frozen=True)
class Called:
    """A lot and the jobs it was used in, those that were called back for it, and all others."""

    lot: str
    jobs: int
    called: int
    chance: float | None
    says: str


def groups_of(jobs: Sequence[Sequence[LayerRecord]]) -> list[Group]:
    """Return every group of the settled jobs, by what they have in common, the largest first.

    Args:
        jobs: The layers of each job; one whose loss cannot be told is left out.
    """
    kinds: tuple[tuple[str, Callable[[LayerRecord], str]], ...] = (
        (MIXER, lambda one: one.mixer),
        (LOT, lambda one: one.lot),
        (PRODUCT, lambda one: one.product),
        (SURFACES, lambda one: one.surfaces),
        (SUBSTRATE, lambda one: one.substrate),
    )
    return [group for by, name in kinds for group in _groups(jobs, by, name)]


def _groups(
    jobs: Sequence[Sequence[LayerRecord]], by: str, name: Callable[[LayerRecord], str]
) -> Iterator[Group]:
    listed = [
        (number, name(one), one.loss)
        for number, job in enumerate(jobs)
        for one in job
        if one.loss is not None
    ]
    spelled: dict[str, str] = {}
    for _, shown, _ in listed:
        if shown:
            spelled.setdefault(word(shown), shown)
    found = []
    for key, shown in spelled.items():
        mine = [(n, loss) for n, which, loss in listed if word(which) == key]
        others = [(n, loss) for n, which, loss in listed if word(which) != key]
        found.append(_group(by, shown, mine, others))
    yield from sorted(found, key=lambda group: (-group.jobs, group.name.casefold()))


def _group(
    by: str, name: str, mine: Sequence[tuple[int, float]], others: Sequence[tuple[int, float]]
) -> Group:
    losses, rest = [loss for _, loss in mine], [loss for _, loss in others]
    loss = sum(losses) / len(losses)
    against = sum(rest) / len(rest) if rest else None
    jobs = len({n for n, _ in mine})
    chance = None
    if min(jobs, len({n for n, _ in others})) >= FEWEST:
        chance = by_chance(losses, rest)
    says = TOO_FEW
    if chance is not None and against is not None:
        says = CHANCE if chance > SURE else MORE if loss > against else LESS
    return Group(by, name, jobs, len(losses), loss, against, chance, says)


def by_chance(one: Sequence[float], two: Sequence[float]) -> float:
    """Return how often chance alone parts two groups' means as far, by permuting them.

    Example:
        >>> by_chance([0.1, 0.1, 0.1], [0.1, 0.1, 0.1])
        1.0
    """

    def apart(a: Any, b: Any, axis: int) -> Any:
        return np.mean(a, axis=axis) - np.mean(b, axis=axis)

    found = permutation_test(
        (np.asarray(one), np.asarray(two)),
        apart,
        vectorized=True,
        n_resamples=RESAMPLES,
        random_state=np.random.default_rng(SEED),
    )
    return float(found.pvalue)


def called_of(jobs: Sequence[tuple[set[str], set[str]]]) -> list[Called]:
    """Return every lot a job was called back for, against the jobs without that lot.

    Args:
        jobs: Of each job the lots it used and those it was called back for, as compared.
    """
    lots = dict.fromkeys(lot for _, called in jobs for lot in sorted(called))
    found = []
    for lot in lots:
        used = [called for lots_used, called in jobs if lot in lots_used or lot in called]
        others = [called for lots_used, called in jobs if lot not in lots_used | called]
        hit = sum(lot in called for called in used)
        elsewhere = sum(bool(called) for called in others)
        chance = None
        if min(len(used), len(others)) >= FEWEST:
            table = [[hit, len(used) - hit], [elsewhere, len(others) - elsewhere]]
            chance = float(fisher_exact(table, alternative="greater").pvalue)
        says = TOO_FEW if chance is None else CHANCE if chance > SURE else "called back more"
        found.append(Called(lot, len(used), hit, chance, says))
    return sorted(found, key=lambda one: (-one.called, one.lot))
