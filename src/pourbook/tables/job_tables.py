"""The tables a job is planned from, as a worksheet hands them over, each read once.

Contract: raw rows in, typed rows in SI units out, in the rows' places or by name; what cannot be
read is kept as its refusal. What follows the door passes a :class:`JobTables`, not its tables.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import cached_property

from pourbook import units
from pourbook.cells import Rows, Value, choice, ranges_are_of
from pourbook.errors import PourbookError
from pourbook.once import Kept
from pourbook.records import dataclass
from pourbook.tables.layers import Layer, work_out_all
from pourbook.tables.limits import limits_by_product
from pourbook.tables.works import Working, working_by_name
from pourbook.trade.air import AirLimits
from pourbook.trade.batch.pieces import Going

GOINGS = tuple(going.value for going in (Going.ROOMS, Going.ORDERED, Going.FEWEST))


def going_of(value: Value) -> Going:
    """Return how batches go from the cell of Start; jobs of templates 1 have none.

    Raises:
        InputError: It is none of the ways.

    Example:
        >>> going_of("fewest"), going_of(None)
        (<Going.FEWEST: 'fewest'>, <Going.ROOMS: 'room by room'>)
    """
    if ranges_are_of() == 1:
        return Going.LOOSE
    return Going(choice(value, "Batches go", GOINGS, Going.ROOMS.value))


@dataclass(frozen=True)
class JobTables(Kept):
    """The tables on layers, how they are put on, products, how they work, and measured rooms.

    ``layers``, ``doing``, ``products`` and ``works`` are the entry columns of their tables,
    ``rooms`` is the whole Rooms table with its results, ``going`` how batches go over the pieces.
    """

    layers: Rows
    doing: Rows
    products: Rows
    works: Rows
    rooms: Rows
    system: units.System
    going: Going = Going.LOOSE

    @cached_property
    def worked(self) -> Sequence[Layer | PourbookError | None]:
        """Return every layer in its row, worked out without batches."""
        return work_out_all(self.layers, self.products, self.rooms, self.system, self.works)

    @cached_property
    def working(self) -> Mapping[str, Working | PourbookError]:
        """Return how each product works, by its name in small letters."""
        return working_by_name(self.works, self.system)

    @cached_property
    def limits(self) -> Mapping[str, AirLimits | PourbookError]:
        """Return what each product states about the air, by its name in small letters."""
        return limits_by_product(self.products, self.works, self.system)
