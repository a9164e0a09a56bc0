"""Every batch of the option that is offered, worked out: the one list behind batches and cards.

Contract: :func:`mixes` gives the batches in the order of the work, SI; a layer that cannot be
planned stands in the list as its refusal.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Sequence
from functools import cached_property
from itertools import groupby

from pourbook import units
from pourbook.cells import Rows, Told, choice, ranges_are_of
from pourbook.errors import InputError, PourbookError
from pourbook.functions.batch import plans
from pourbook.functions.batch.plans import Planned
from pourbook.functions.mix import parts
from pourbook.functions.mix.amounts import named
from pourbook.records import dataclass
from pourbook.tables import colours
from pourbook.tables.buy import additives
from pourbook.tables.buy.additives import BROADCAST, PIGMENT
from pourbook.tables.colours import Divided
from pourbook.tables.job_tables import JobTables
from pourbook.tables.layers import OPTIONS
from pourbook.tables.products import PARTS
from pourbook.tables.works import MINUTE
from pourbook.trade import mixing
from pourbook.trade.batch.plan import Batch

_SLACK = 1e-9
_NUMBERED = re.compile(r"^(.*\S) (\d+)$")


@dataclass(frozen=True)
class Mix:
    """One batch worked out, SI: kg, m², m³, s. What only a card shows is worked out when asked."""

    number: int
    layer_number: int
    in_layer: str
    planned: Planned
    turn: int
    """Which pass of its layer it is of, from 0."""
    batch: Batch
    use_by: float
    out_by: float
    pigment_name: str = ""
    broadcast_name: str = ""
    kelvin: float = 0.0
    planned_for: float = 0.0
    takes: float = 0.0

    @cached_property
    def area(self) -> float:
        """What it covers."""
        pieces, poured = self.planned.layer.pieces, self.planned.poured[self.turn]
        return sum(pieces[s.piece].area * s.volume / poured[s.piece] for s in self.batch.shares)

    @cached_property
    def doses(self) -> tuple[float, float, float]:
        """Pigment and broadcast media, kg, and between them thinner, m³."""
        layer = self.planned.layer
        return parts.doses(layer, self.batch.mixed, 1, self.area / layer.passes)

    @property
    def pigment(self) -> float:
        """Return its pigment, kg."""
        return self.doses[0]

    @property
    def thinner(self) -> float:
        """Return its thinner, m³."""
        return self.doses[1]

    @property
    def broadcast(self) -> float:
        """Return its broadcast media, kg."""
        return self.doses[2]

    @cached_property
    def pieces(self) -> str:
        """Its pieces, in a line."""
        return _pieces(self.planned, self.batch)

    @cached_property
    def shares(self) -> tuple[mixing.PartShare, ...]:
        """Its parts in the order A, B, C."""
        product = self.planned.layer.product
        given = (product.ratio, product.densities, product.basis)
        return tuple(mixing.split(self.batch.mixed, *given))

    @cached_property
    def cups(self) -> tuple[Divided, ...]:
        """What goes into each cup, where it is divided."""
        density = self.planned.layer.product.density
        return colours.divide(self.batch.mixed, density, self.planned.doing.cups)

    @cached_property
    def worked_by(self) -> float:
        """When it can no longer be worked, from the start of mixing."""
        mass = self.batch.mixed * self.planned.layer.product.density
        return self.planned.working.film_life_at(self.kelvin, mass)

    def refuse_late(self, system: units.System) -> None:
        """Refuse a batch that is in the bucket longer than it may be at the warmth of its hour.

        Raises:
            InputError: It is planned at a cooler temperature.
        """
        warmer = self.kelvin > self.planned_for + _SLACK
        if ranges_are_of() == 1 or not warmer or self.takes <= self.out_by:
            return
        warm = units.show(self.kelvin, system.temperature, 1)
        most, takes = math.floor(self.out_by / MINUTE), math.ceil(self.takes / MINUTE)
        what = f"at {warm} of its hour it is out of the bucket by {most} min, and takes {takes}"
        mend = "type the warmest hour as Day temperature on Start, or work at a cooler one"
        raise InputError(what, mend, "Batch")


@dataclass(frozen=True)
class Refused:
    """A layer whose batches cannot be worked out."""

    layer_number: int
    layer: str
    error: PourbookError


def mixes(
    tables: JobTables,
    kelvin: float,
    crew: float,
    option: str,
    additive_rows: Rows = (),
    warmth: Sequence[float | None] = (),
    planned: Sequence[Planned | PourbookError | None] | None = None,
) -> list[Mix | Refused]:
    """Return every batch of an option in the order of the work.

    Args:
        tables: The tables of the job.
        kelvin: The day temperature, K.
        crew: How many people there are.
        option: ``A``, ``B`` or ``C``.
        additive_rows: The entry columns of the Additives table, for the names on the cards.
        warmth: The temperature of each batch's hour, K; the day's where there is none.
        planned: Its layers in batches, where they are known.

    Raises:
        InputError: There is no such option.
    """
    chosen = choice(option, "Option to offer", OPTIONS)
    planned = plans.plan_all(tables, kelvin, crew) if planned is None else planned
    known = additives.additives(additive_rows, tables.system)
    found: list[Mix | Refused] = []
    count = 0
    for names, plan in zip(named(tables.layers), planned, strict=True):
        if plan is None or str(names[0]).casefold() != chosen.casefold():
            continue
        number, layer = int(str(names[1])), str(names[2])
        if isinstance(plan, PourbookError):
            found.append(Refused(number, layer, plan))
            continue
        hours = [*warmth[count:], *[None] * plan.batches]
        made = _of_layer(plan, number, count, kelvin, hours, known)
        for mix in made:
            count += 1
            found.append(mix)
    return found


def _of_layer(
    plan: Planned,
    layer_number: int,
    done: int,
    day: float,
    hours: Sequence[float | None],
    known: additives.Read,
) -> Iterator[Mix]:
    layer, product = plan.layer, plan.layer.product
    names = [additives.named(known, kind, layer.name) for kind in (PIGMENT, BROADCAST)]
    pigment_name, broadcast_name = (one.name if one else "" for one in names)
    at = 0
    for turn, one_pass in enumerate(plan.passes):
        turns = f", pass {turn + 1} of {layer.passes}" if layer.passes > 1 else ""
        times = plan.share_seconds[turn]
        for batch, spread in zip(one_pass.batches, times, strict=True):
            kelvin = hours[at] or day
            at += 1
            use_by = plan.working.pot_life_at(kelvin, batch.mixed * product.density)
            yield Mix(
                number=done + at,
                layer_number=layer_number,
                in_layer=f"{at} of {plan.batches}{turns}",
                planned=plan,
                turn=turn,
                batch=batch,
                use_by=use_by,
                out_by=use_by * plan.doing.share,
                pigment_name=pigment_name,
                broadcast_name=broadcast_name,
                kelvin=kelvin,
                planned_for=day,
                takes=plans.ready_seconds(layer, plan.doing) + math.fsum(spread),
            )


def _pieces(plan: Planned, batch: Batch) -> str:
    """Return the pieces of a batch in a line; a run of numbered ones is drawn together."""
    listed: list[tuple[str, int, str]] = []
    for share in batch.shares:
        piece = plan.layer.pieces[share.piece]
        more = f" in {piece.colour}" if piece.colour else ""
        split = f", part {share.part} of {share.parts}, wet into wet" if share.parts > 1 else ""
        match = None if split else _NUMBERED.match(piece.name)
        listed.append((match[1], int(match[2]), more) if match else (piece.name, 0, more + split))
    found = []
    ranked = enumerate(listed)
    for (name, _, more), group in groupby(ranked, lambda x: (x[1][0], x[1][1] - x[0], x[1][2])):
        numbers = [number for _, (_, number, _) in group]
        if not numbers[0]:
            found.append(name + more)
        elif len(numbers) == 1:
            found.append(f"{name} {numbers[0]}{more}")
        else:
            found.append(f"{name} {numbers[0]} to {numbers[-1]}{more}")
    return "; ".join(found)


def steps(mix: Mix, system: units.System) -> list[Told]:
    """Return the working of a batch for ``explain``."""
    layer = mix.planned.layer
    left = mix.planned.doing.batch_loss
    spread = units.express(mix.batch.spread, system.volume)
    mixed = units.express(mix.batch.mixed, system.volume)
    found = [
        Told("Coverage", f"what {mix.pieces} takes", spread, system.volume),
        Told(
            "Bucket hold-back", "of each batch", units.express(left, system.volume), system.volume
        ),
        Told("Mixed", "the sum of both", mixed, system.volume),
    ]
    for part, share in zip(PARTS, mix.shares, strict=False):
        mass = units.express(share.mass, system.small_mass)
        found.append(Told(f"Part {part} weighs", "its share of the mix", mass, system.small_mass))
    weight = units.express(mix.batch.mixed * layer.product.density, system.small_mass)
    found.append(Told("Mix weighs", "the parts together", weight, system.small_mass))
    how = "pot life of this mass at the temperature of its hour"
    found.append(Told("Use by", how, mix.use_by / MINUTE, "min"))
    planned = f"{mix.planned.doing.share * 100:g} % of it"
    found.append(Told("Out of the bucket by", planned, mix.out_by / MINUTE, "min"))
    film = "pot life at the temperature of its hour, whatever the mass: a film stays cool"
    found.append(Told("Worked by", film, mix.worked_by / MINUTE, "min"))
    return found
