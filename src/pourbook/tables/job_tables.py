"""The tables a job is planned from, as a worksheet hands them over, each read once.

Contract: raw rows in, typed rows in SI units out, in the rows' places or by name; what cannot be
read is kept as its refusal. What follows the door passes a :class:`JobTables`, not its tables.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from pourbook import units
from pourbook.cells import Rows
from pourbook.errors import PourbookError
from pourbook.tables.layers import Layer, work_out_all
from pourbook.tables.limits import limits_by_product
from pourbook.tables.works import Working, working_by_name
from pourbook.trade.air import AirLimits


@dataclass(frozen=True)
class JobTables:
    """The tables on layers, how they are put on, products, how they work, and measured rooms.

    ``layers``, ``doing``, ``products`` and ``works`` are the entry columns of their tables,
    ``rooms`` is the whole Rooms table with its results.
    """

    layers: Rows
    doing: Rows
    products: Rows
    works: Rows
    rooms: Rows
    system: units.System

    @property
    def worked(self) -> Sequence[Layer | PourbookError | None]:
        """Return every layer in its row, worked out without batches."""
        return work_out_all(self.layers, self.products, self.rooms, self.system)

    @property
    def working(self) -> Mapping[str, Working | PourbookError]:
        """Return how each product works, by its name in small letters."""
        return working_by_name(self.works, self.system)

    @property
    def limits(self) -> Mapping[str, AirLimits | PourbookError]:
        """Return what each product states about the air, by its name in small letters."""
        return limits_by_product(self.products, self.works, self.system)
