"""The steps of a job: prepare, then each layer sanded, cleaned, poured and heated, then the rest.

Contract: plain data in, :class:`pourbook.trade.days.schedule.Step` out, ready for
:func:`pourbook.trade.days.schedule.schedule`; nothing is placed here and no time of cure is built
in. Common practice, without a source, for what a user may type: a flood coat is touch dry in 24 h
and ready for light use in 72 h; a rolled top coat is touch dry in 6 to 8 h and in light use the
next day; hard use waits about a week. The product's own sheet decides.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from pourbook.errors import InputError
from pourbook.records import dataclass
from pourbook.trade.days.beside import Beside, before, return_visit
from pourbook.trade.days.coat import Heat, coat_times
from pourbook.trade.days.schedule import LATE, MILESTONE, WORK, Deed, Need, Step


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
        heat_passes: Number of passes with the flame or the heat gun after the last batch, over all
            of them; three is usual.
        pass_seconds: Length of one pass, s.
        pass_gap: Wait before each pass, s; a minute or two is usual.
        ready_seconds: The part of each batch before spreading, s: mixing and carrying.
        mixers: How many mix; two or more mix the next batch while one is spread.
        heat: How each batch is heated for itself, instead of ``heat_passes`` at the end.
        clean_up_seconds: Time to clean tools and site after this layer, the same day, s.
        drip_seconds: Time to sand off the drips under its edges, once dry, s.
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
    ready_seconds: float = 0.0
    mixers: int = 1
    heat: Heat | None = None
    clean_up_seconds: float = 0.0
    drip_seconds: float = 0.0

    def batch(self, index: int) -> str:
        """Return the name of a batch's step, ``index`` from 0."""
        return f"{self.name}: batch {index + 1} of {len(self.batch_seconds)}"

    def sanding_need(self) -> Need:
        """Return what sanding this layer waits for: its recoat time, and touch dry if stated.

        Common practice, no source: what is still tacky clogs the paper, whatever its recoat time.
        """
        age = max(self.recoat_from, self.touch_dry or 0.0)
        return self.need(len(self.batch_seconds) - 1, age)

    def used_need(self) -> Need:
        """Return what light use of this layer waits for, or the last time that is stated."""
        age = max(self.light_use or 0.0, self.touch_dry or 0.0, self.recoat_from)
        return self.need(len(self.batch_seconds) - 1, age)

    def need(self, index: int, from_age: float, until_age: float | None = None) -> Need:
        """Return what waits for the batch at ``index`` to cure."""
        return Need(self.batch(index), from_age, until_age, self.energy, self.reference)


def _coat(
    at: int, layer: CoatTimes, below: CoatTimes | None, needs: tuple[Need, ...]
) -> list[Step]:
    """Return the crew steps of one layer over the layer below; ``at`` counts it from 0.

    ``needs`` is what the first layer waits for.
    """
    steps: list[Step] = []
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
            steps += _drips(at - 1, below)
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
    group = _together(at, layer)
    group[0] = group[0]._replace(needs=needs, sand_seconds=sand, sand_needs=sand_needs)
    return steps + group


def _drips(at: int, layer: CoatTimes) -> list[Step]:
    """Return the sanding of a layer's drips, once they are dry."""
    if not layer.drip_seconds:
        return []
    need = layer.sanding_need()
    if not need.from_age:
        what = f"nothing says when the drips of layer '{layer.name}' are dry"
        raise InputError(what, "type Touch dry on Products, or 0 at Sand drips on Days")
    name = f"{layer.name}: sand drips"
    return [Step(name, WORK, layer.drip_seconds, (need,), deed=Deed.DRIPS, coat=at)]


def _together(at: int, layer: CoatTimes) -> list[Step]:
    """Return what is done to a coat in one go: cleaning, the batches, the heat passes."""

    def step(name: str, deed: Deed, turn: int, start: float, end: float, late: float = 0.0) -> Step:
        minutes = math.ceil(late / 60.0)
        note = f"{LATE}: {minutes} min too late: more hands, or smaller batches" if late else ""
        return Step(
            name,
            WORK,
            end - start,
            together=layer.name,
            deed=deed,
            coat=at,
            turn=turn,
            begins=start,
            note=note,
        )

    clean = layer.clean_seconds
    found = []
    if clean > 0.0:
        found.append(step(f"{layer.name}: clean", Deed.CLEAN, 1, 0.0, clean))
    end = clean
    for done in coat_times(layer.batch_seconds, layer.ready_seconds, layer.mixers, layer.heat):
        name = (
            f"{layer.name}: heat batch {done.turn + 1}" if done.heated else layer.batch(done.turn)
        )
        deed = Deed.HEAT if done.heated else Deed.BATCH
        start, end = clean + done.start, max(end, clean + done.end)
        found.append(step(name, deed, done.turn + 1, start, clean + done.end, done.late))
    for turn in range(1, layer.heat_passes + 1):
        start = end + layer.pass_gap
        end = start + layer.pass_seconds
        found.append(step(f"{layer.name}: heat pass {turn}", Deed.HEAT, turn, start, end))
    if layer.clean_up_seconds:
        over = end + layer.clean_up_seconds
        found.append(step(f"{layer.name}: clean up", Deed.CLEAN_UP, 1, end, over))
    return found


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


def job_steps(
    prepare_seconds: Sequence[float], layers: Sequence[CoatTimes], beside: Beside | None = None
) -> list[Step]:
    """Return the steps of a job in the order the crew does them.

    Preparing may be cut into parts, each no longer than a working day. A layer whose window is
    missed is sanded if its ``sand_seconds`` says how long that takes, else the calendar is refused.

    Args:
        prepare_seconds: Length of each part of the preparation, s.
        layers: The layers from the bottom up.
        beside: What else is done; nothing if left out. Drips of a layer are sanded with it where it
            is sanded in any case, else after the last layer.

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
    beside = beside or Beside()
    steps, needs = before(prepare_seconds, beside)
    below: CoatTimes | None = None
    for at, layer in enumerate(layers):
        if not layer.batch_seconds:
            raise InputError(f"layer '{layer.name}' has no batches", "give it at least one")
        steps += _coat(at, layer, below, needs if at == 0 else ())
        steps += _milestones(at, layer)
        below = layer
    for at, layer in enumerate(layers):
        steps += [] if layer.sand_always else _drips(at, layer)
    return steps + return_visit([layer.used_need() for layer in layers], beside)
