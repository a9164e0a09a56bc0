"""How many batches every layer takes, and what sets their size.

Contract: :func:`plan_all` gives a plan for each row of the Layers table. A batch is no larger than
the smallest of the bucket, the largest safe mix, the most area of a batch by the least mix a piece
takes of a pass, and what the crew can spread within a share of the pot life at the site's
temperature, less the time to mix and carry. It is the one plan behind batches, cards and days.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Sequence
from functools import cached_property, lru_cache
from typing import NoReturn

from pourbook import units
from pourbook.cells import Rows, Value, as_mapping, word
from pourbook.errors import InputError, PourbookError
from pourbook.functions.declare import Argument
from pourbook.once import once
from pourbook.records import dataclass
from pourbook.tables import layers as layer_table
from pourbook.tables import products as product_table
from pourbook.tables import works as working_table
from pourbook.tables.declared import Column
from pourbook.tables.doing import DOING, DOING_LABELS, Doing, read_doing
from pourbook.tables.job_tables import JobTables
from pourbook.tables.layers import LABELS, Layer
from pourbook.tables.measured import ROOM_COLUMNS
from pourbook.tables.row_loop import next_each
from pourbook.tables.works import MINUTE, Working
from pourbook.trade.batch import bound, plan
from pourbook.trade.batch.pieces import Going, Join, Piece
from pourbook.trade.batch.plan import Plan

RESULTS = (
    Column("plan_option", "The finish option the layer belongs to"),
    Column("plan_number", "Which layer of its option it is, counted from below"),
    Column("plan_layer", "The layer"),
    Column("plan_status", "ok, or what to fix in this layer"),
    Column("pot", "Pot life of the largest batch at the day temperature, minutes"),
    Column("limit", "Largest batch", "volume"),
    Column("binds", "What sets it: bucket, safe mix, area or pot life"),
    Column("batches", "Batches of all passes"),
    Column("bound", "No plan can do with fewer"),
    Column("proved", "fewest, or how far the plan may be from it"),
    Column("largest", "The largest batch planned", "volume"),
    Column("splits", "How many times a piece is poured from two batches"),
    Column("left", "What stays in bucket and tools of each batch", "volume"),
)
MOST_BATCHES = 999
_HALVINGS = 60
_SLACK = 1e-9
_SMALLEST = 1e-12
_MENDS = {
    "bucket": "a bigger bucket on Layers, or let it be split on Rooms",
    "safe mix": "more is not safe to mix at once: let it be split on Rooms",
    "area": "raise Most area a batch on Layers, or let it be split on Rooms",
    "pot life": "more hands, a cooler hour or a slower product, or let it be split on Rooms",
}
"""What makes a batch larger, by what sets its size; see :mod:`pourbook.trade.batch.bound`."""


@dataclass(frozen=True)
class Planned:
    """A layer planned in batches: one plan a pass, and what sets the size of a batch."""

    layer: Layer
    doing: Doing
    working: Working
    limit: float
    binds: str
    passes: tuple[Plan, ...]
    pot_life: float

    @cached_property
    def batches(self) -> int:
        """The batches of all passes."""
        return sum(len(p.batches) for p in self.passes)

    @cached_property
    def share_seconds(self) -> tuple[list[list[float]], ...]:
        """How long each share of each batch of each pass takes to spread, s."""
        layer, pace = self.layer, self.doing.pace * self.doing.hands
        found = []
        for index, one_pass in enumerate(self.passes):
            needs = layer.needs(first=index == 0)
            sizes = [(p.area, need.volume) for p, need in zip(layer.pieces, needs, strict=True)]
            shares = [[(*sizes[s.piece], s.volume) for s in b.shares] for b in one_pass.batches]
            found.append([[area * v / need / pace for area, need, v in one] for one in shares])
        return tuple(found)

    @cached_property
    def poured(self) -> tuple[list[float], ...]:
        """What each piece gets in each pass, m³."""
        found = tuple([0.0] * len(self.layer.pieces) for _ in self.passes)
        for poured, one_pass in zip(found, self.passes, strict=True):
            for share in (share for batch in one_pass.batches for share in batch.shares):
                poured[share.piece] += share.volume
        return found

    @property
    def bound(self) -> int:
        """Return the number of batches no plan can do without."""
        return sum(p.bound for p in self.passes)


def ready_seconds(layer: Layer, doing: Doing) -> float:
    """Return the time from the start of mixing a batch until it is spread, s."""
    return layer.product.minutes * MINUTE + doing.carrying


def plan_layer(
    layer: Layer,
    doing: Doing,
    working: Working,
    kelvin: float,
    system: units.System,
    going: Going = Going.LOOSE,
) -> Planned:
    """Plan the batches of one layer.

    Args:
        layer: The layer, worked out without batch losses.
        doing: How it is mixed and put on.
        working: How its product works.
        kelvin: Temperature of the mix, K.
        system: The job's units, for the words of a refusal.
        going: How batches go over the pieces; a layer that keeps the order goes as ordered.

    Raises:
        InputError: The pot life leaves no time to spread, or a piece fits into no batch.
    """
    if doing.cups and layer.pigment.amount:
        mend = "clear it: each colour cup has its own"
        raise InputError("the layer has colour cups", mend, LABELS["pigment"])
    limits: list[bound.BatchLimit] = []
    passes: list[Plan] = []
    whole = 0.0
    loose = going is Going.LOOSE  # jobs of templates 1: no rooms, no joins
    joins = () if loose else layer.joins
    goes = Going.ORDERED if doing.keep_order else going
    for number_of_pass in range(layer.passes):
        pieces = layer.needs(first=number_of_pass == 0)
        used = least_film(layer, pieces, loose=loose)
        found = _limit(layer, doing, working, kelvin, used)
        limits.append(found)
        _refuse_oversize(pieces, found, doing.batch_loss, system)
        whole += math.fsum(piece.volume for piece in pieces)
        _refuse_too_many(whole / max(found.volume - doing.batch_loss, _SMALLEST))
        if loose:
            pieces = tuple(piece._replace(room="") for piece in pieces)
        passes.append(_plan(pieces, found.volume, doing.batch_loss, goes, joins))
        _refuse_too_many(sum(len(p.batches) for p in passes))
    mass = max(b.mixed for p in passes for b in p.batches) * layer.product.density
    return Planned(
        layer=layer,
        doing=doing,
        working=working,
        limit=limits[0].volume,
        binds=limits[0].binds,
        passes=tuple(passes),
        pot_life=working.pot_life_at(kelvin, mass),
    )


def least_film(layer: Layer, pieces: Sequence[Piece], *, loose: bool = False) -> float:
    """Return the least mix an area takes in a pass, losses, take-up and run-off in it, m³/m².

    A batch of such pieces takes the longest to spread: no batch is planned past its time by it.
    Jobs of templates 1, where batches go loosely, went by the mean.

    Args:
        layer: The layer.
        pieces: What each of its pieces needs in the pass.
        loose: Whether the mean is taken.
    """
    if loose:
        return math.fsum(piece.volume for piece in pieces) / layer.area
    sizes = (piece.area for piece in layer.pieces)
    return min(piece.volume / area for piece, area in zip(pieces, sizes, strict=True))


def _refuse_oversize(
    pieces: tuple[Piece, ...], found: bound.BatchLimit, left: float, system: units.System
) -> None:
    """Refuse a piece that fits into no batch, in the job's own units."""
    for piece in pieces:
        if not piece.may_split and piece.volume + left > found.volume * (1 + _SLACK):
            need = units.show(piece.volume + left, system.volume, 2)
            most = units.show(found.volume, system.volume, 2)
            what = f"'{piece.name}' needs {need} in one batch, which holds {most} ({found.binds})"
            raise InputError(what, _MENDS[found.binds], "Batch")


def _refuse_too_many(batches: float) -> None:
    """Refuse a layer of more batches than anyone mixes, before their plan fills the memory."""
    if batches > MOST_BATCHES:
        what = f"it takes more than {MOST_BATCHES} batches"
        raise InputError(what, "check coverage, passes, bucket and pace on Layers", "Batch")


def _limit(
    layer: Layer, doing: Doing, working: Working, kelvin: float, used: float
) -> bound.BatchLimit:
    """Return the largest batch whose own pot life leaves time to spread it.

    Args:
        layer: The layer.
        doing: How it is mixed and put on.
        working: How its product works.
        kelvin: Temperature of the mix, K.
        used: The least mix an area takes in this pass, m³/m²; see :func:`least_film`.
    """
    left = doing.batch_loss
    most = min(doing.bucket, working.safe_mix or doing.bucket)
    if left >= most:
        raise InputError(
            "it is all the bucket holds", "type what really stays", DOING_LABELS["batch_loss"]
        )

    def at(volume: float) -> bound.BatchLimit:
        found = bound.batch_limit(
            doing.bucket - left,
            working.safe_mix - left if working.safe_mix else None,
            doing.pace,
            used,
            pot_life=working.pot_life_at(kelvin, volume * layer.product.density),
            mixing_time=ready_seconds(layer, doing),
            hands=doing.hands,
            most_area=doing.most_area,
            share=doing.share,
        )
        # What stays in the bucket is mixed too, but takes no time to spread.
        spreadable = found.spreadable + left
        return bound.BatchLimit(found.volume + left, found.binds, spreadable)

    def fits(volume: float) -> bool:
        """Return whether a batch can be spread in time; one that sets while mixing cannot."""
        try:
            return at(volume).volume >= volume
        except PourbookError:
            return False

    smallest = working.pot_mass or 0.0
    low = smallest / layer.product.density  # a smaller batch gets no more time than this one
    found = at(low)
    if found.volume <= low or fits(found.volume):
        return found
    high = found.volume
    for _ in range(_HALVINGS):
        middle = (low + high) / 2
        low, high = (middle, high) if fits(middle) else (low, middle)
    return bound.BatchLimit(low, "pot life", low)


@lru_cache(maxsize=512)
def _plan(
    pieces: tuple[Piece, ...], capacity: float, left: float, going: Going, joins: tuple[Join, ...]
) -> Plan:
    return plan.plan(pieces, capacity, loss_per_batch=left, going=going, joins=joins)


@once
def plan_all(
    tables: JobTables, kelvin: float, crew: float
) -> Sequence[Planned | PourbookError | None]:
    """Plan every row of the Layers table: a plan, its refusal, or None for a blank row.

    Args:
        tables: The tables of the job.
        kelvin: Temperature of the mix, K.
        crew: How many people there are.
    """
    return plan_each(tables, tables.worked, kelvin, crew)


def plan_each(
    tables: JobTables,
    worked: Sequence[Layer | PourbookError | None],
    kelvin: float,
    crew: float,
) -> Sequence[Planned | PourbookError | None]:
    """Plan layers that may be other than the tables have them; see :func:`plan_all`.

    Args:
        tables: The tables of the job.
        worked: A layer, its refusal, or None for each row of the Layers table.
        kelvin: Temperature of the mix, K.
        crew: How many people there are.
    """
    known, how_rows = tables.working, _how_rows(tables)

    def planned(index: int, layer: Layer) -> Planned:
        how = read_doing(how_rows[index] or _nowhere(layer), crew, tables.system)
        working = working_table.find(known, layer.product.name, LABELS["product"])
        working = working.of(layer.product.density)
        return plan_layer(layer, how, working, kelvin, tables.system, tables.going)

    return next_each(worked, planned)


@once
def _how_rows(tables: JobTables) -> list[dict[str, Value] | None]:
    """Return the row that says how it is mixed and put on, for each row of the Layers table."""
    rows, found = by_layer(tables.doing), list[dict[str, Value] | None]()
    for cells in tables.layers:
        own = as_mapping(cells, layer_table.COLUMNS)
        mine = rows[word(own["option"]), word(own["layer"])]
        found.append(mine.pop(0) if mine else None)
    return found


_DoingRows = dict[tuple[str, str], list[dict[str, Value]]]


def by_layer(doing: Rows) -> _DoingRows:
    """Return the rows of the table by the words of option and layer, in the table's order.

    Layers of one option with one name take theirs in turn.
    """
    found: _DoingRows = defaultdict(list)
    for cells in doing:
        row = as_mapping(cells, DOING)
        found[word(row["name"]), word(row["layer_name"])].append(row)
    return found


def _nowhere(layer: Layer) -> NoReturn:
    what = f"no row says how '{layer.name}' of option {layer.option} is mixed and put on"
    mend = "add its row under How each layer is mixed and put on, on Layers"
    raise InputError(what, mend, LABELS["layer"])


def shown(plan: Planned, system: units.System) -> list[Value]:
    """Return the cells of a plan behind its status, in the order of :data:`RESULTS`."""
    gap = plan.batches - plan.bound
    proved = all(p.proved for p in plan.passes)
    return [
        plan.pot_life / MINUTE,
        units.express(plan.limit, system.volume),
        plan.binds,
        plan.batches,
        plan.bound,
        "fewest" if proved else f"at most {gap} too many",
        units.express(max(b.mixed for p in plan.passes for b in p.batches), system.volume),
        sum(p.splits for p in plan.passes),
        units.express(plan.doing.batch_loss, system.volume),
    ]


ARGUMENTS = (
    Argument(
        "layers", "rows", "the entry columns of the Layers table", columns=layer_table.COLUMNS
    ),
    Argument("doing", "rows", "the table on how layers are mixed and put on", columns=DOING),
    Argument(
        "products",
        "rows",
        "the entry columns of the Products table",
        columns=product_table.COLUMNS,
    ),
    Argument("working", "rows", "the Working and curing table", columns=working_table.COLUMNS),
    Argument("rooms", "rows", "the whole Rooms table with its results", columns=ROOM_COLUMNS),
    Argument("temperature", "number", "the day temperature on the Start sheet"),
    Argument("crew", "number", "the crew on the Start sheet"),
    Argument("system", "text", "the unit system on the Start sheet"),
)
GOING = Argument(
    "going", "text", "how batches go over the pieces, on the Start sheet", optional=True
)
EXAMPLE_DOING = ("A", "Flood", "1.2 L", 1, 10.0, "100 mL", *[None] * 6, 0.0, *[None] * 3)
EXAMPLE_WORKING = ("Clear", 40, None, 20, None, None, 20, 24, 8, 24, 72, 168, 55, *[None] * 5)
