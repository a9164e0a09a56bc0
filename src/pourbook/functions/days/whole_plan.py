"""A job's tables as one plan: its layers in batches, what they buy, and their calendar.

Contract: planned, bought and put on the calendar by the very functions behind Batches, Buying and
Days; what cannot be done is refused. Without a day the work starts there is no calendar. Behind
PB_CASES, which changes one thing of a job, and PB_CALLS, which has no job yet.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from functools import cached_property

from pourbook import units
from pourbook.cells import Rows, Value, is_blank, number, text
from pourbook.errors import InputError, PourbookError
from pourbook.functions.batch.plans import Planned, plan_all, plan_each
from pourbook.functions.buy.purchase import Need, read_sales
from pourbook.functions.days import calendar
from pourbook.functions.days.placing import Calendar
from pourbook.records import dataclass
from pourbook.tables.buy.packs import PACKS_OPENED
from pourbook.tables.job_tables import JobTables
from pourbook.tables.layers import Layer, in_batches
from pourbook.tables.measured import MeasuredPiece
from pourbook.tables.products import PARTS
from pourbook.trade import mixing


def changed(rows: Rows, column: int, change: Callable[[Value], Value]) -> list[list[Value]]:
    """Return the rows with one column changed in those that are filled."""
    return [
        [*row[:column], change(row[column]), *row[column + 1 :]]
        if any(not is_blank(cell) for cell in row)
        else list(row)
        for row in rows
    ]


def _with_pieces(layer: Layer, changing: Callable[[MeasuredPiece], MeasuredPiece]) -> Layer:
    return replace(layer, pieces=tuple(map(changing, layer.pieces)))


@dataclass(frozen=True)
class WholePlan:
    """The tables of a job, and the option that is planned.

    ``hourly`` are the temperatures hour by hour, ``site`` the cells of
    :data:`pourbook.functions.days.calendar.SITE` by name, ``day`` the day of work that stock is
    judged by, or blank, ``charge`` what a quote charges.
    """

    tables: JobTables
    hourly: Rows
    option: str
    site: Mapping[str, Value]
    steps: Rows
    packs: Rows
    stock: Rows
    day: Value
    charge: str = PACKS_OPENED
    lone: bool = False
    """Whether the layers of other options are left out of the planning."""
    changing: Callable[[MeasuredPiece], MeasuredPiece] | None = None
    """What is other of its pieces than Rooms says."""

    @property
    def system(self) -> units.System:
        """Return the job's units."""
        return self.tables.system

    @property
    def kelvin(self) -> float:
        """Return the day temperature, K."""
        return units.to_si(
            number(self.site["temperature"], "Day temperature"), self.system.temperature
        )

    @property
    def crew(self) -> float:
        """Return how many people work."""
        return number(self.site["crew"], "Crew")

    def alone(self) -> WholePlan:
        """Return it with the layers of its option alone: no other is planned for it."""
        return replace(self, lone=True)

    def split(self) -> WholePlan:
        """Return it with all its pieces allowed to be split, no other option planned for it."""
        return self.with_pieces(lambda piece: piece._replace(may_split=True))

    def with_pieces(self, changing: Callable[[MeasuredPiece], MeasuredPiece]) -> WholePlan:
        """Return it with something of its pieces changed, no other option planned for it."""
        return replace(self, lone=True, changing=changing)

    @cached_property
    def planned(self) -> Sequence[Planned | PourbookError | None]:
        """Its layers in batches, each in its row; see :func:`.plans.plan_all`."""
        if not self.lone:
            return plan_all(self.tables, self.kelvin, self.crew)
        rows = zip(self.tables.layers, self.tables.worked, strict=True)
        own = [one if text(row[0]).upper() == self.option else None for row, one in rows]
        if self.changing is not None:
            own = [
                _with_pieces(one, self.changing) if isinstance(one, Layer) else one for one in own
            ]
        return plan_each(self.tables, own, self.kelvin, self.crew)

    def placed(self) -> Calendar | None:
        """Return its calendar; None without a day the work starts."""
        if is_blank(self.site["start"]):
            return None
        given = (self.tables, self.option, self.site, self.hourly, self.steps)
        if not self.lone:
            return calendar.as_typed(*given)
        return calendar.calendar_of(*given, self.planned)

    def chosen(self) -> list[Planned]:
        """Return the layers of the option, in batches.

        Raises:
            PourbookError: One cannot be planned, or there is none.
        """
        found: list[Planned] = []
        for row, one in zip(self.tables.layers, self.planned, strict=True):
            if one is None or text(row[0]).upper() != self.option:
                continue
            if isinstance(one, PourbookError):
                raise one.under(text(row[1]))
            found.append(one)
        if not found:
            raise InputError(f"option {self.option} has no layers", "see Layers", "Option")
        return found

    def bought(self, chosen: Sequence[Planned]) -> tuple[int, float]:
        """Return how many packs the layers take, and what they and what is in stock cost.

        Raises:
            PourbookError: They cannot be bought.
        """
        need: Need = {}
        for one in chosen:
            layer = in_batches(one.layer, one.batches, one.doing.batch_loss)
            product = layer.product
            shares = mixing.split(
                layer.volume.mixed, product.ratio, product.densities, product.basis
            )
            key = self.option, product.name.casefold()
            before = need.get(key, (0.0,) * len(PARTS))
            assert not isinstance(before, PourbookError)
            volumes = [share.volume for share in shares] + [0.0] * (len(PARTS) - len(shares))
            need[key] = tuple(a + b for a, b in zip(before, volumes, strict=True))
        day = self.day if isinstance(self.day, int | float) and not is_blank(self.day) else None
        read = read_sales(self.tables.products, self.packs, self.stock, self.system, day)
        job = replace(read, need=need)
        found = [job.bought(self.option, product) for _, product in need]
        bought = [one for one in found if one is not None]
        counts = (count for one in bought for count in one.made.counts)
        return sum(counts), math.fsum(one.cost(self.charge) for one in bought)
