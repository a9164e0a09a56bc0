"""The steps of a job: prepare, then each layer sanded, cleaned, poured batch by batch and heated.

Contract: plain data in, :class:`pourbook.trade.days.schedule.Step` out, ready for
:func:`pourbook.trade.days.schedule.schedule`; nothing is placed here and no time of cure is built
in. Common practice, without a source, for what a user may type: a flood coat is touch dry in 24 h
and ready for light use in 72 h; a rolled top coat is touch dry in 6 to 8 h and in light use the
next day; hard use waits about a week. The product's own sheet decides.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from pourbook.errors import InputError
from pourbook.trade.days.schedule import MILESTONE, WORK, Deed, Need, Step


@dataclass(frozen=True)
class CoatTimes:
    """One layer; ages are equivalent seconds at ``reference``, ``None`` where not stated.

    Attributes:
        name: Its name, unlike every other layer's.
        batch_seconds: Time to mix and spread each batch, s; one entry a batch.
        energy: Activation energy of the cure, J/mol.
        reference: Temperature the product states its times at, K.
        recoat_from: Age from which the next layer may go on, s.
        recoat_until: Age by which the next layer must be on without sanding, s.
        touch_dry: Age at touch dry, s.
        light_use: Age at light use, s.
        full_service: Age at full service, s.
        sand_seconds: Time to sand it 220 before the next layer, s.
        sand_always: Whether that sanding is done in any case, not only in a missed window.
        clean_seconds: Time to clean the surface just before this layer, s.
        heat_passes: Number of passes with the flame or the heat gun; three is usual.
        pass_seconds: Length of one pass, s.
        pass_gap: Wait before each pass, s; a minute or two is usual.
    """

    name: str
    batch_seconds: tuple[float, ...]
    energy: float
    reference: float
    recoat_from: float = 0.0
    recoat_until: float | None = None
    touch_dry: float | None = None
    light_use: float | None = None
    full_service: float | None = None
    sand_seconds: float | None = None
    sand_always: bool = False
    clean_seconds: float = 0.0
    heat_passes: int = 0
    pass_seconds: float = 0.0
    pass_gap: float = 0.0

    def batch(self, index: int) -> str:
        """Return the name of a batch's step, ``index`` from 0."""
        return f"{self.name}: batch {index + 1} of {len(self.batch_seconds)}"

    def sanding_need(self) -> Need:
        """Return what sanding this layer waits for: its recoat time, and touch dry if stated.

        Common practice, no source: what is still tacky clogs the paper, whatever its recoat time.
        """
        age = max(self.recoat_from, self.touch_dry or 0.0)
        return self.need(len(self.batch_seconds) - 1, age)

    def need(self, index: int, from_age: float, until_age: float | None = None) -> Need:
        """Return what waits for the batch at ``index`` to cure."""
        return Need(self.batch(index), from_age, until_age, self.energy, self.reference)


def _coat(at: int, layer: CoatTimes, below: CoatTimes | None) -> list[Step]:
    """Return the crew steps of one layer over the layer below; ``at`` counts it from 0."""
    steps: list[Step] = []
    needs: tuple[Need, ...] = ()
    sand: float | None = None
    sand_needs: tuple[Need, ...] = ()
    if below is not None:
        last = len(below.batch_seconds) - 1
        needs = (below.need(last, below.recoat_from),)
        if below.sand_always:
            if below.sand_seconds is None:
                raise InputError(
                    f"layer '{below.name}' is always sanded but no time is given for it",
                    "type how long the sanding takes",
                )
            dry = (below.sanding_need(),)
            name = f"{below.name}: sand 220"
            sanding = Step(name, WORK, below.sand_seconds, dry, deed=Deed.SAND, coat=at - 1)
            steps.append(sanding)
        elif below.recoat_until is not None:
            if below.recoat_until <= below.recoat_from:
                raise InputError(
                    f"the recoat window of layer '{below.name}' closes before it opens",
                    "make the latest recoat time longer than the earliest",
                )
            needs = (*needs, below.need(0, 0.0, below.recoat_until))
            sand = below.sand_seconds
            sand_needs = (below.sanding_need(),)
    group: list[tuple[str, Deed, int, float, float]] = []
    if layer.clean_seconds > 0.0:
        group.append((f"{layer.name}: clean", Deed.CLEAN, 1, layer.clean_seconds, 0.0))
    for i, seconds in enumerate(layer.batch_seconds):
        group.append((layer.batch(i), Deed.BATCH, i + 1, seconds, 0.0))
    for turn in range(1, layer.heat_passes + 1):
        name = f"{layer.name}: heat pass {turn}"
        group.append((name, Deed.HEAT, turn, layer.pass_seconds, layer.pass_gap))
    for i, (name, deed, turn, seconds, pause) in enumerate(group):
        first = i == 0
        steps.append(
            Step(
                name,
                WORK,
                seconds,
                needs if first else (),
                together=layer.name,
                pause_seconds=pause,
                sand_seconds=sand if first else None,
                sand_needs=sand_needs if first else (),
                deed=deed,
                coat=at,
                turn=turn,
            )
        )
    return steps


def _milestones(at: int, layer: CoatTimes) -> list[Step]:
    """Return the events of one layer's cure, counted from its last batch.

    The recoat window closes by the first batch, which is the oldest film.
    """
    last = len(layer.batch_seconds) - 1
    steps = [
        Step(
            f"{layer.name}: {label}", MILESTONE, needs=(layer.need(last, age),), deed=deed, coat=at
        )
        for label, deed, age in (
            ("touch dry", Deed.TOUCH_DRY, layer.touch_dry),
            ("recoat from", Deed.RECOAT_FROM, layer.recoat_from),
            ("light use", Deed.LIGHT_USE, layer.light_use),
            ("full service", Deed.FULL_SERVICE, layer.full_service),
        )
        if age
    ]
    if layer.recoat_until is not None:
        need = layer.need(0, layer.recoat_until)
        name = f"{layer.name}: recoat until"
        closes = Step(name, MILESTONE, needs=(need,), latest=True, deed=Deed.RECOAT_UNTIL, coat=at)
        steps.append(closes)
    return steps


def job_steps(prepare_seconds: Sequence[float], layers: Sequence[CoatTimes]) -> list[Step]:
    """Return the steps of a job in the order the crew does them.

    Preparing may be cut into parts, each no longer than a working day. A layer whose window is
    missed is sanded if its ``sand_seconds`` says how long that takes, else the calendar is refused.

    Args:
        prepare_seconds: Length of each part of the preparation, s.
        layers: The layers from the bottom up.

    Returns:
        Steps for :func:`pourbook.trade.days.schedule.schedule`.

    Raises:
        InputError: No layers, a layer without batches, or a window that closes before it opens.

    Example:
        >>> layer = CoatTimes("flood", (1800.0, 1800.0), 55000.0, 296.15, touch_dry=86400.0)
        >>> [step.name for step in job_steps([7200.0], [layer])]
        ['prepare', 'flood: batch 1 of 2', 'flood: batch 2 of 2', 'flood: touch dry']
    """
    if not layers:
        raise InputError("the job has no layers", "list at least one")
    parts = len(prepare_seconds)
    steps = [
        Step(
            "prepare" if parts == 1 else f"prepare, part {i + 1}",
            WORK,
            seconds,
            deed=Deed.PREPARE,
            turn=i + 1,
        )
        for i, seconds in enumerate(prepare_seconds)
    ]
    below: CoatTimes | None = None
    for at, layer in enumerate(layers):
        if not layer.batch_seconds:
            raise InputError(f"layer '{layer.name}' has no batches", "give it at least one")
        steps += _coat(at, layer, below)
        steps += _milestones(at, layer)
        below = layer
    return steps
