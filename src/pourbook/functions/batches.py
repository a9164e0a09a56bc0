"""PB_BATCHES: what goes into every batch of the option that is offered, in the order of the work.

Contract: always :data:`ROWS` result rows, blank beyond the last batch; what does not fit them is
said in the last row. A layer that cannot be planned takes one row with its refusal. The batches of
a layer add up to its row of PB_PARTS. :func:`mixes` is the one list behind batches and cards.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import groupby

from pourbook import units
from pourbook.errors import InputError, PourbookError
from pourbook.functions import colours, parts, plans, rooms
from pourbook.functions.amounts import EXAMPLE_LAYER, EXAMPLE_PRODUCT, EXAMPLE_ROOM, named
from pourbook.functions.catalogue import Argument, Column, Example, Function, Result
from pourbook.functions.colours import Divided
from pourbook.functions.layers import OPTIONS
from pourbook.functions.plans import Planned
from pourbook.functions.products import PARTS
from pourbook.functions.values import FAILED, OK, Rows, Step, Value, choice
from pourbook.functions.working import MINUTE
from pourbook.trade import measures, mixing
from pourbook.trade.batch_plan import Batch

ROWS = 60
MEND_MANY = "use bigger buckets, or make two jobs of it"
RESULTS = (
    Column("batch", "Which batch of the job it is"),
    Column("layer_number", "Which layer it belongs to, counted from below"),
    Column("layer", "The layer"),
    Column("pieces", "The pieces it coats"),
    Column("in_layer", "Which batch of its layer it is, and of which pass"),
    Column("mixed", "Mix in the bucket, pigment and thinner aside", "volume"),
    Column("volume_a", "Part A by volume", "small_volume"),
    Column("volume_b", "Part B by volume", "small_volume"),
    Column("volume_c", "Part C by volume", "small_volume"),
    Column("mass_a", "Part A by weight", "small_mass"),
    Column("mass_b", "Part B by weight", "small_mass"),
    Column("mass_c", "Part C by weight", "small_mass"),
    Column("pigment_mass", "Pigment by weight", "small_mass"),
    Column("thinner_volume", "Water or thinner by volume", "small_volume"),
    Column("broadcast_mass", "Broadcast media by weight", "small_mass"),
    Column("cup_pigment", "Pigment of all colour cups by weight", "small_mass"),
    Column("cups", "Each colour cup: mix and pigment"),
    Column("minutes", "Minutes of mixing"),
    Column("use_by", "Minutes from first contact of the parts until the mix must be spread"),
    Column("status", "ok, or what to mend"),
)
_NUMBERED = re.compile(r"^(.*\S) (\d+)$")


@dataclass(frozen=True)
class Mix:
    """One batch worked out, SI: kg, m³, s. ``shares`` are its parts in the order A, B, C."""

    number: int
    layer_number: int
    in_layer: str
    planned: Planned
    batch: Batch
    pieces: str
    shares: tuple[mixing.Share, ...]
    pigment: float
    thinner: float
    broadcast: float
    cups: tuple[Divided, ...]
    use_by: float


@dataclass(frozen=True)
class Refused:
    """A layer whose batches cannot be worked out."""

    layer_number: int
    layer: str
    error: PourbookError


def mixes(
    layers: Rows,
    doing: Rows,
    products: Rows,
    working: Rows,
    room_rows: Rows,
    temperature: float,
    crew: float,
    option: str,
    system: units.System,
) -> list[Mix | Refused]:
    """Return every batch of an option in the order of the work.

    Args:
        layers: The entry columns of the Layers table.
        doing: The table on how layers are mixed and put on.
        products: The entry columns of the Products table.
        working: The Working and curing table.
        room_rows: The whole Rooms table.
        temperature: The day temperature in the system's unit.
        crew: How many people there are.
        option: ``A``, ``B`` or ``C``.
        system: The job's units.

    Raises:
        InputError: There is no such option.
    """
    chosen = choice(option, "Option to offer", OPTIONS)
    planned = plans.plan_all(layers, doing, products, working, room_rows, temperature, crew, system)
    kelvin = units.to_si(temperature, system.temperature)
    found: list[Mix | Refused] = []
    count = 0
    for names, plan in zip(named(layers), planned, strict=True):
        if plan is None or str(names[0]).casefold() != chosen.casefold():
            continue
        number, layer = int(str(names[1])), str(names[2])
        if isinstance(plan, PourbookError):
            found.append(Refused(number, layer, plan))
            continue
        for mix in _of_layer(plan, number, count, kelvin):
            count += 1
            found.append(mix)
    return found


def _of_layer(plan: Planned, layer_number: int, done: int, kelvin: float) -> Iterator[Mix]:
    layer, product = plan.layer, plan.layer.product
    at = 0
    for turn, one_pass in enumerate(plan.passes, start=1):
        needs = [0.0] * len(layer.pieces)
        for batch in one_pass.batches:
            for share in batch.shares:
                needs[share.piece] += share.volume
        for batch in one_pass.batches:
            at += 1
            area = sum(layer.pieces[s.piece].area * s.volume / needs[s.piece] for s in batch.shares)
            doses = parts.doses(layer, batch.mixed, 1, area / layer.passes)
            turns = f", pass {turn} of {layer.passes}" if layer.passes > 1 else ""
            yield Mix(
                number=done + at,
                layer_number=layer_number,
                in_layer=f"{at} of {plan.batches}{turns}",
                planned=plan,
                batch=batch,
                pieces=_pieces(plan, batch),
                shares=tuple(
                    mixing.split(batch.mixed, product.ratio, product.densities, product.basis)
                ),
                pigment=doses[0],
                thinner=doses[1],
                broadcast=doses[2],
                cups=colours.divide(batch.mixed, product.density, plan.doing.cups),
                use_by=plan.working.pot_life_at(kelvin, batch.mixed * product.density),
            )


def _pieces(plan: Planned, batch: Batch) -> str:
    """Return the pieces of a batch in a line; a run of numbered ones is drawn together."""
    listed: list[tuple[str, int, str]] = []
    for share in batch.shares:
        name = plan.layer.pieces[share.piece].name
        split = f", part {share.part} of {share.parts}, wet into wet" if share.parts > 1 else ""
        match = None if split else _NUMBERED.match(name)
        listed.append((match[1], int(match[2]), "") if match else (name, 0, split))
    found = []
    ranked = enumerate(listed)
    for (name, _, split), group in groupby(ranked, lambda x: (x[1][0], x[1][1] - x[0], x[1][2])):
        numbers = [number for _, (_, number, _) in group]
        if not numbers[0]:
            found.append(name + split)
        elif len(numbers) == 1:
            found.append(f"{name} {numbers[0]}")
        else:
            found.append(f"{name} {numbers[0]} to {numbers[-1]}")
    return "; ".join(found)


def compute(
    layers: Rows,
    doing: Rows,
    products: Rows,
    working: Rows,
    room_rows: Rows,
    temperature: float,
    crew: float,
    option: str,
    system_name: str,
) -> Result:
    """Return the result rows of PB_BATCHES."""
    system = rooms.system_of(system_name)
    listed = mixes(layers, doing, products, working, room_rows, temperature, crew, option, system)
    rows: list[list[Value]] = []
    for mix in listed:
        if isinstance(mix, Refused):
            names: list[Value] = [FAILED, mix.layer_number, mix.layer, FAILED, FAILED]
            blank = [FAILED] * (len(RESULTS) - len(names) - 1)
            rows.append([*names, *blank, mix.error.cell_text()])
        else:
            rows.append(_shown(mix, system))
    return padded(rows, len(RESULTS))


def padded(rows: list[list[Value]], width: int) -> list[list[Value]]:
    """Return exactly :data:`ROWS` rows: blank ones added, or the last one saying what is left out.

    Example:
        >>> len(padded([[1.0, "ok"]], 2))
        60
    """
    if len(rows) <= ROWS:
        blank: list[Value] = [""] * width
        return rows + [list(blank) for _ in range(ROWS - len(rows))]
    what = f"there are {len(rows)} batches and room for {ROWS}"
    refusal = InputError(what, MEND_MANY, "Batches").cell_text()
    failed: list[Value] = [FAILED] * (width - 1)
    return [*rows[: ROWS - 1], [*failed, refusal]]


def _shown(mix: Mix, system: units.System) -> list[Value]:
    layer = mix.planned.layer
    missing: list[Value] = [0.0] * (len(PARTS) - len(mix.shares))
    small, mass = system.small_volume, system.small_mass
    return [
        mix.number,
        mix.layer_number,
        layer.name,
        mix.pieces,
        mix.in_layer,
        units.express(mix.batch.mixed, system.volume),
        *(units.express(s.volume, small) for s in mix.shares),
        *missing,
        *(units.express(s.mass, mass) for s in mix.shares),
        *missing,
        units.express(mix.pigment, mass),
        units.express(mix.thinner, small),
        units.express(mix.broadcast, mass),
        units.express(sum(cup.pigment for cup in mix.cups), mass),
        cups_text(mix, system),
        layer.product.minutes,
        mix.use_by / MINUTE,
        OK,
    ]


def cups_text(mix: Mix, system: units.System) -> str:
    """Return the cups of a batch in a line, rounded so that they still add up to it."""
    if not mix.cups:
        return ""
    metric = not system.fluids
    step = measures.MILLILITRE if metric else units.to_si(1.0, system.small_volume) / 10
    counts = measures.share_out(mix.batch.mixed, [cup.volume for cup in mix.cups], step)
    found = []
    for cup, count in zip(mix.cups, counts, strict=True):
        amount = (
            f"{count:,} {system.small_volume}"
            if metric
            else (f"{count / 10:,.1f} {system.small_volume}")
        )
        pigment = units.express(cup.pigment, system.small_mass)
        added = f" + {pigment:,.1f} {system.small_mass} pigment" if cup.pigment else ""
        found.append(f"{cup.cup.name} {cup.cup.share * 100:.4g} %: {amount}{added}")
    return "; ".join(found)


def steps(mix: Mix, system: units.System) -> list[Step]:
    """Return the working of a batch for ``explain``."""
    layer = mix.planned.layer
    left = mix.planned.doing.batch_loss
    spread = units.express(mix.batch.spread, system.volume)
    mixed = units.express(mix.batch.mixed, system.volume)
    found = [
        Step("Spread", f"what {mix.pieces} takes", spread, system.volume),
        Step("Left in bucket", "of each batch", units.express(left, system.volume), system.volume),
        Step("Mixed", "the sum of both", mixed, system.volume),
    ]
    for part, share in zip(PARTS, mix.shares, strict=False):
        mass = units.express(share.mass, system.small_mass)
        found.append(Step(f"Part {part} weighs", "its share of the mix", mass, system.small_mass))
    weight = units.express(mix.batch.mixed * layer.product.density, system.small_mass)
    found.append(Step("Mix weighs", "the parts together", weight, system.small_mass))
    how = "pot life of this mass at the day temperature"
    found.append(Step("Use by", how, mix.use_by / MINUTE, "min"))
    return found


ARGUMENTS = (
    *plans.ARGUMENTS[:-1],
    Argument("option", "text", "the option to offer on the Price sheet"),
    plans.ARGUMENTS[-1],
)
EXAMPLE_ARGUMENTS = (
    (EXAMPLE_LAYER,),
    (plans.EXAMPLE_DOING,),
    (EXAMPLE_PRODUCT,),
    (plans.EXAMPLE_WORKING,),
    (tuple("yes" if i == 14 else v for i, v in enumerate(EXAMPLE_ROOM)),),
    20.0,
    2.0,
    "A",
    "metric",
)


def _example() -> tuple[tuple[Value, ...], ...]:
    parts_and_doses: tuple[Value, ...] = (
        550.0,
        550.0,
        0.0,
        605.0,
        550.0,
        *[0.0] * 5,
        "",
        2.0,
        40.0,
        "ok",
    )
    first: tuple[tuple[Value, ...], ...] = tuple(
        (n, 1, "Flood", f"Top, part {n} of 2, wet into wet", f"{n} of 2", 1.1, *parts_and_doses)
        for n in (1, 2)
    )
    blank: tuple[Value, ...] = ("",) * len(RESULTS)
    return first + (blank,) * (ROWS - 2)


PB_BATCHES = Function(
    name="PB_BATCHES",
    summary="What goes into every batch of the option offered, in the order of the work.",
    arguments=ARGUMENTS,
    result=f"{ROWS} rows, one a batch: parts, additions, mixing and use-by minutes, and a status",
    valid=f"as for PB_PLAN; up to {ROWS} batches",
    source="mass balance; a batch's share of a dose per area is its share of the area",
    examples=(Example(EXAMPLE_ARGUMENTS, _example()),),
    compute=compute,
    columns=RESULTS,
    rows=ROWS,
)
