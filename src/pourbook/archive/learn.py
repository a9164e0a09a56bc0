"""What settled jobs teach, kind by kind: losses and pace of the next job, for the sheet Learned.

Contract: a kind is a product, a layer and the surfaces it goes on; blank layer or surfaces mean all
of them. One settled job gives one loss and one pace a kind:

    loss = 1 - film / mixed        pace = area spread / time from mixing to all spread

Film is what stayed on the surface, as read, or as quoted for the area where nobody read it. Mixed
is what the count says was used of the product. Where a product went into several layers, its mix is
shared out by the log; where no batch of it was logged, by the film of the layers, so that they show
one loss. The loss holds all that did not stay: bucket, tools, run-off, spills. A loss below 0 is
left out and said. The mathematics is :mod:`pourbook.trade.learning`; nothing is written here.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence

from pourbook.archive.folder import JOB, Found
from pourbook.archive.layer_record import LayerRecord
from pourbook.archive.record import SETTLED
from pourbook.errors import InputError
from pourbook.records import dataclass
from pourbook.tables.measured import todays_surfaces
from pourbook.trade.learning import Learned, Prior, learn, shop_prior
from pourbook.workbook.template.template import load_book

PACE_WORTH = 4.0
CONFIDENCE = 0.9


@dataclass(frozen=True, order=True)
class LearnedKind:
    """A kind of work; a blank layer or surface means all."""

    product: str
    layer: str = ""
    surface: str = ""

    @property
    def key(self) -> tuple[str, str, str]:
        """Return the kind as it is compared: capitals do not matter."""
        return (
            self.product.casefold(),
            self.layer.casefold(),
            todays_surfaces(self.surface).casefold(),
        )

    def holds(self, layer: LayerRecord) -> bool:
        """Return whether a layer of a job is of this kind."""
        product, name, surface = self.key
        return (
            layer.product.casefold() == product
            and name in {"", layer.layer.casefold()}
            and surface in {"", layer.surfaces.casefold()}
        )


@dataclass(frozen=True)
class Lesson:
    """What is known of the next job of a kind.

    Attributes:
        kind: Product, layer and surfaces.
        jobs: Settled jobs the loss rests on; 0 is the shop's own figure alone.
        read: How many of them had wet film readings.
        loss: Loss of such jobs, a fraction.
        suggested: Loss to plan with, so that the mix is enough with the confidence asked for.
        spread: How far one job in three lies off, logit scale.
        pace_jobs: Jobs the pace rests on.
        pace: Area spread in a second, m²/s; None where it was never noted.
        slow_pace: Pace the next job reaches with that confidence, m²/s; None where fewer than two
            jobs of the folder noted theirs.
        pace_spread: As ``spread``, log scale.
    """

    kind: LearnedKind
    jobs: int
    read: int
    loss: float
    suggested: float
    spread: float
    pace_jobs: int = 0
    pace: float | None = None
    slow_pace: float | None = None
    pace_spread: float | None = None


@dataclass(frozen=True)
class Skipped:
    """A layer of a settled job nothing was learned from, and why."""

    file: str
    kind: LearnedKind
    why: str


def usual_prior() -> Prior:
    """Return what a new shop workbook reckons with.

    Example:
        >>> usual_prior()
        Prior(typical=0.1, spread=0.3, worth=4.0)
    """
    form = load_book("shop").block("learning")
    names = ("prior_loss", "prior_spread", "prior_jobs")
    figures = [form.field(name).default for name in names]
    typical, spread, worth = (float(f) for f in figures if isinstance(f, int | float))
    return Prior(typical, spread, worth)


def lessons(
    found: Sequence[Found],
    prior: Prior,
    confidence: float = CONFIDENCE,
    own: Mapping[LearnedKind, Prior] | None = None,
) -> tuple[list[Lesson], list[Skipped]]:
    """Return what the settled jobs of a folder teach.

    Args:
        found: The files that were found; only settled jobs count.
        prior: What the shop reckons with for every kind.
        confidence: Chance that the suggested loss is enough, from 0.001 to 0.999.
        own: Kinds the shop has rows for, with what it reckons with for each.

    Returns:
        A lesson for every kind that was settled, in order, and what was left out.

    Raises:
        InputError: A prior or the confidence is out of range.
    """
    settled = [f for f in found if f.kind == JOB and f.job and f.job.state == SETTLED]
    own = own or {}
    kinds = {kind.key: kind for kind in own}
    skipped: list[Skipped] = []
    jobs: list[list[LayerRecord]] = []
    for one in settled:
        assert one.job is not None
        sound = []
        for layer in one.job.layers:
            kind = LearnedKind(layer.product, layer.layer, layer.surfaces)
            why = _fault(layer)
            if why:
                skipped.append(Skipped(one.file, kind, why))
            else:
                sound.append(layer)
            if not why or layer.seconds > 0.0:
                kinds.setdefault(kind.key, kind)
        jobs.append([*sound, *(_pace_alone(x) for x in one.job.layers if x not in sound)])
    pace_prior = _pace_prior(jobs)
    given = {kind.key: figure for kind, figure in own.items()}
    learned = [
        _lesson(kind, jobs, given.get(key, prior), pace_prior, confidence)
        for key, kind in sorted(kinds.items())
    ]
    return [x for x in learned if x.jobs or x.pace_jobs], skipped


def _fault(layer: LayerRecord) -> str:
    """Return why no loss can be learned from a layer, nothing where it can."""
    if layer.loss is not None:
        return ""
    if layer.mixed is None:
        return layer.how
    if layer.mixed <= 0.0 or layer.film <= 0.0:
        return "nothing was mixed, or nothing stayed on the surface"
    share = 1.0 - layer.film / layer.mixed
    words = f"its loss would be {share * 100.0:.1f} %: more film than mix"
    return f"{words}; check its film readings and its count"


def _pace_alone(layer: LayerRecord) -> LayerRecord:
    """Return a layer whose loss is not to be used, but whose pace may be."""
    return LayerRecord(
        layer.product,
        layer.layer,
        layer.surfaces,
        0.0,
        None,
        0,
        layer.spread,
        layer.seconds,
        layer.how,
    )


def _pace(layers: Iterable[LayerRecord]) -> float | None:
    timed = [x for x in layers if x.seconds > 0.0 and x.spread > 0.0]
    if not timed:
        return None
    return math.fsum(x.spread for x in timed) / math.fsum(x.seconds for x in timed)


def _pace_prior(jobs: Sequence[Sequence[LayerRecord]]) -> Prior | None:
    """Return the pace all jobs make together, None where they are too few to say."""
    paces = [pace for job in jobs for layer in job if (pace := _pace([layer])) is not None]
    try:
        return shop_prior("pace", paces, PACE_WORTH)
    except InputError:
        return None


def _lesson(
    kind: LearnedKind,
    jobs: Sequence[Sequence[LayerRecord]],
    prior: Prior,
    pace_prior: Prior | None,
    confidence: float,
) -> Lesson:
    losses: list[float] = []
    paces: list[float] = []
    read = 0
    for job in jobs:
        layers = [layer for layer in job if kind.holds(layer)]
        known = [(x.film, x.mixed, x.readings) for x in layers if x.mixed is not None]
        if known:
            stayed = math.fsum(film for film, _, _ in known)
            losses.append(1.0 - stayed / math.fsum(mixed for _, mixed, _ in known))
            read += all(readings > 0 for _, _, readings in known)
        pace = _pace(layers)
        if pace is not None:
            paces.append(pace)
    known_loss = learn("loss", losses, prior)
    pace, slow, spread = _learned_pace(paces, pace_prior, confidence)
    return Lesson(
        kind,
        len(losses),
        read,
        known_loss.typical(),
        known_loss.suggested(confidence),
        known_loss.spread,
        len(paces),
        pace,
        slow,
        spread,
    )


def _learned_pace(
    paces: Sequence[float], prior: Prior | None, confidence: float
) -> tuple[float | None, float | None, float | None]:
    if not paces:
        return None, None, None
    if prior is None:  # one pace, or all alike: what was noted, without a bound
        return math.exp(math.fsum(math.log(p) for p in paces) / len(paces)), None, None
    known: Learned = learn("pace", paces, prior)
    return known.typical(), known.suggested(confidence), known.spread
