"""From planned layers to placed steps: every coat with its times, then the calendar.

Contract: :func:`place` returns a :class:`Calendar` of one option in plain local datetimes, or
refuses it in the estimator's words. The job's clock begins at midnight of the first day; crew steps
are rounded up to whole minutes. Every pass of a layer is a coat of its own. Nothing is assumed of a
product's curing: a time its data sheet does not state leaves its line out, and a coat that goes
over another needs the other's earliest recoat time.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import datetime, timedelta

from pourbook.cells import ranges_are_of
from pourbook.errors import BlankError, InputError, PourbookError
from pourbook.functions.batch.plans import Planned, ready_seconds
from pourbook.records import dataclass
from pourbook.tables import limits, works
from pourbook.tables.layers import LABELS, NOTHING, POURED, SANDING
from pourbook.tables.site import OtherSteps, Pace, Site, minutes_up
from pourbook.tables.works import Working
from pourbook.trade.air import AirLimits
from pourbook.trade.cure.history import Temperatures
from pourbook.trade.days.beside import Beside
from pourbook.trade.days.coat import Heat
from pourbook.trade.days.schedule import MILESTONE, Deed, Placed, Step, schedule
from pourbook.trade.days.sequence import CoatTimes as Coat
from pourbook.trade.days.sequence import job_steps

CANS = "cans in the warm"
_SLACK = 1e-6


@dataclass(frozen=True)
class Coated:
    """One coat of the calendar."""

    coat: Coat
    plan: Planned
    limits: AirLimits


@dataclass(frozen=True)
class Calendar:
    """A placed job."""

    site: Site
    history: Temperatures
    coats: tuple[Coated, ...]
    lines: tuple[Placed, ...]

    def coat_of(self, step: Step) -> Coated | None:
        """Return the coat a step belongs to; None for the preparation of the bare surface."""
        return None if step.coat is None else self.coats[step.coat]

    def seconds(self, moment: datetime) -> float:
        """Return the time of the job's clock, s."""
        return (moment - self.site.start).total_seconds()


def _batches(plan: Planned, index: int) -> tuple[float, ...]:
    """Return how long each batch of a pass takes, s: mixing and carrying, then spreading."""
    ready = ready_seconds(plan.layer, plan.doing)
    spread = plan.share_seconds[index]
    return tuple(minutes_up(ready + math.fsum(shares)) for shares in spread)


def _heat(plan: Planned, pace: Pace, site: Site) -> Heat | None:
    """Return how each batch is heated; jobs of templates 1 heat the whole coat after its last."""
    doing, working = plan.doing, plan.working
    if not doing.heat_passes or ranges_are_of() == 1:
        return None
    return Heat(
        passes=doing.heat_passes,
        seconds=pace.heat_pass,
        gap=pace.gap,
        since=working.heat_from,
        until=working.heat_until,
        free_hand=site.crew > doing.hands,
    )


def _coat(name: str, plan: Planned, index: int, pace: Pace, site: Site, others: OtherSteps) -> Coat:
    """Return one pass of a layer as the sequence takes it; sanding is set by what comes over it."""
    how = plan.working
    stated = (how.touch, how.recoat_from, how.recoat_until, how.light, how.full)
    reference = how.cure_temp
    if reference is None:
        if any(stated):
            mend = "type the temperature the times of cure are stated at, on Products"
            raise BlankError("it is blank", mend, works.LABELS["cure_temp"].of(how.name))
        reference = site.day
    before = plan.layer.before if index == 0 else NOTHING
    clean = 0.0
    if before != NOTHING:
        if pace.clean is None:
            mend = "type how much one person cleans in an hour, on Days"
            raise BlankError("it is blank", mend, "Cleaning pace")
        clean = minutes_up(plan.layer.area / (pace.clean * site.crew))
    heat = _heat(plan, pace, site)
    return Coat(
        name=name,
        batch_seconds=_batches(plan, index),
        energy=how.energy_at(reference),
        reference=reference,
        recoat_from=how.recoat_from or 0.0,
        recoat_until=how.recoat_until,
        touch_dry=how.touch,
        light_use=how.light,
        full_service=how.full,
        clean_seconds=clean,
        heat_passes=0 if heat else plan.doing.heat_passes,
        pass_seconds=pace.heat_pass,
        pass_gap=pace.gap,
        ready_seconds=ready_seconds(plan.layer, plan.doing),
        mixers=plan.doing.mixers,
        heat=heat,
        clean_up_seconds=minutes_up(others.clean_up / site.crew),
        drip_seconds=minutes_up(others.drips / site.crew) if plan.layer.method == POURED else 0.0,
    )


def _sanded(plan: Planned, pace: Pace, site: Site) -> float | None:
    """Return how long the crew sands the area of a layer, s; None without a pace."""
    if pace.sand is None:
        return None
    return minutes_up(plan.layer.area / (pace.sand * site.crew))


def _must_sand(plan: Planned, pace: Pace, site: Site) -> float:
    """Return how long the crew sands the area of a layer, s, or ask for the pace."""
    sanding = _sanded(plan, pace, site)
    if sanding is None:
        mend = "type how much one person sands in an hour, on Days"
        raise BlankError("it is blank", mend, "Sanding pace")
    return sanding


def _under(coat: Coat, how: Working, over: Planned, index: int, pace: Pace, site: Site) -> Coat:
    """Return a coat with what the next one asks of it."""
    if how.recoat_from is None:
        mend = "type the earliest time from its data sheet, on Products"
        raise BlankError("it is blank", mend, works.LABELS["recoat_from"].of(how.name))
    always = index == 0 and over.layer.before == SANDING
    sanding = _must_sand(over, pace, site) if always else _sanded(over, pace, site)
    return replace(coat, sand_always=always, sand_seconds=sanding)


def _names(chosen: list[Planned]) -> list[tuple[str, Planned, int]]:
    """Return every pass with a name unlike the others."""
    found = []
    used: dict[str, int] = {}
    for plan in chosen:
        base = plan.layer.name
        used[base.casefold()] = used.get(base.casefold(), 0) + 1
        again = used[base.casefold()]
        name = f"{base} ({again})" if again > 1 else base
        passes = plan.layer.passes
        found += [(f"{name}, pass {i + 1}" if passes > 1 else name, plan, i) for i in range(passes)]
    return found


def _prepare(pace: Pace, site: Site) -> list[float]:
    """Return the preparation in parts that each fit a working day, s."""
    longest = site.hours.length().total_seconds()
    whole = minutes_up(pace.prepare / site.crew)
    parts = max(1, math.ceil(whole / longest - _SLACK))
    return [min(longest, whole - i * longest) for i in range(parts)] if whole else []


def _with_cans(lines: Sequence[Placed], before: float) -> list[Placed]:
    """Return the lines with the hour by which the cans stand in the warm, nobody's work."""
    if not before:
        return list(lines)
    at = min(p.start for p in lines if p.step.deed is Deed.BATCH) - timedelta(seconds=before)
    note = f"{before / works.HOUR:g} h before the first batch (common practice, no source)"
    cans = Placed(Step(CANS, MILESTONE, deed=Deed.CANS), at, at, note)
    return sorted([cans, *lines], key=lambda line: (line.start, line.end))


def place(
    planned: Sequence[Planned | PourbookError | None],
    stated: Mapping[str, AirLimits | PourbookError],
    site: Site,
    pace: Pace,
    history: Temperatures,
    others: OtherSteps | None = None,
) -> Calendar:
    """Place one option's steps on the calendar.

    Args:
        planned: The layers of the option, as :func:`.plans.plan_all` gives.
        stated: What each product states of the air.
        site: When and in what air the crew works.
        pace: How fast it prepares.
        history: Temperatures from midnight of the first day.
        others: What else is done; nothing if left out.

    Returns:
        The calendar. Source: common practice, no source, for the order of the steps; curing by
        :mod:`pourbook.trade.cure.curing`.

    Raises:
        InputError: A layer is not in order, a figure is missing, or a step finds no place.
    """
    chosen: list[Planned] = []
    for plan in planned:
        if isinstance(plan, PourbookError):
            raise InputError(str(plan), "fix Layers first; see Batches")
        if plan is not None:
            chosen.append(plan)
    if not chosen:
        raise InputError("the option to offer has no layers", "choose another on Price", "Option")
    others = others or OtherSteps()
    listed = _names(chosen)
    coats = [_coat(name, plan, index, pace, site, others) for name, plan, index in listed]
    for i in range(len(coats) - 1):
        _, over, index = listed[i + 1]
        coats[i] = _under(coats[i], listed[i][1].working, over, index, pace, site)
    first = chosen[0]
    beside = Beside(
        lift_out=minutes_up(others.lift_out / site.crew),
        mask=minutes_up(others.mask / site.crew),
        filler=others.filler,
        bare=_must_sand(first, pace, site) if first.layer.before == SANDING else None,
        dams=minutes_up(others.dams / site.crew),
        back=minutes_up(others.back),
    )
    steps = job_steps(_prepare(pace, site), coats, beside)
    lines = _with_cans(schedule(steps, site.start, site.hours, history), others.cans)
    coated = tuple(
        Coated(coat, plan, limits.limits_of(stated, plan.layer.product.name, LABELS["product"]))
        for coat, (_, plan, _) in zip(coats, listed, strict=True)
    )
    return Calendar(site, history, coated, tuple(lines))
