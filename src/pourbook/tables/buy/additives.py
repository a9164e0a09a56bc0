"""The Additives table of Buying: pigments, thinners, what is strewn in, and their packs.

Contract: rows become records in SI units (a weight in kg or a volume in m³) or are refused by
column. An additive serves the layer it names, or each layer where it names none. A colour cup is
served by the pigment of its name. Water is not bought: a thinner without a row counts as water.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from pourbook import units
from pourbook.cells import Rows, Value, choice, is_blank, number, refuse_errors, text
from pourbook.errors import BlankError, InputError, PourbookError, RangeError
from pourbook.once import once
from pourbook.records import dataclass
from pourbook.tables import reading
from pourbook.tables.buy.packs import MOST_MONEY
from pourbook.tables.declared import declared
from pourbook.tables.row_loop import read_each

TABLE = declared("additives")
COLUMNS, LABELS = TABLE.columns, TABLE.labels
PIGMENT, THINNER, BROADCAST = KINDS = TABLE.choices["serves"]
LEAST, MOST = 1e-9, 1e5
"""What a pack may hold, kg or m³: a typing error is beyond it."""


@dataclass(frozen=True)
class Additive:
    """One additive, SI: ``by`` says whether ``holds`` and ``left`` are a mass or a volume."""

    name: str
    serves: str
    layer: str
    by: str
    holds: float
    price: float
    left: float

    def is_for(self, serves: str, layer: str, colour: str = "") -> bool:
        """Return whether it is what a layer, or one of its colour cups, takes."""
        if self.serves != serves or self.layer.casefold() not in ("", layer.casefold()):
            return False
        return not colour or self.name.casefold() == colour.casefold()


def read_additive(row: Mapping[str, Value], system: units.System) -> Additive:
    """Read one row.

    Raises:
        InputError: A cell is missing or impossible; the place is its column.
    """
    refuse_errors(row, LABELS)
    name = text(row["additive"])
    if not name:
        raise BlankError("it is blank", "name the additive, such as 'flakes'", LABELS["additive"])
    serves = choice(row["serves"], LABELS["serves"], KINDS)
    if is_blank(row["pack"]):
        mend = "type what a pack holds, such as 2 lb or 500 mL"
        raise BlankError("it is blank", mend, LABELS["pack"])
    by, holds = _amount(row["pack"], "pack", system)
    if not LEAST <= holds <= MOST:
        what = f"a pack holds {text(row['pack'])}"
        raise RangeError(what, "type what it really holds", LABELS["pack"])
    if is_blank(row["pack_price"]):
        raise BlankError("it is blank", "type what a pack costs", LABELS["pack_price"])
    price = number(row["pack_price"], LABELS["pack_price"])
    if not 0 <= price <= MOST_MONEY:
        raise RangeError(f"it is {price:g}", "type what a pack costs", LABELS["pack_price"])
    left = 0.0
    if not is_blank(row["left"]):
        other, left = _amount(row["left"], "left", system)
        if other != by:
            what = f"a pack is sold by {by}, what is left is a {other}"
            raise InputError(what, "type both as weights or both as volumes", LABELS["left"])
    return Additive(name, serves, text(row["for_layer"]), by, holds, price, left)


def _amount(value: Value, name: str, system: units.System) -> tuple[str, float]:
    """Return whether a cell holds a mass or a volume, and how much; a bare number is a mass."""
    label = LABELS[name]
    try:
        return "weight", reading.labelled(value, "mass", label, system.mass, system.fluids)
    except PourbookError:
        if isinstance(value, int | float):
            raise
    try:
        return "volume", reading.labelled(value, "volume", label, system.volume, system.fluids)
    except PourbookError:
        what = f"'{text(value)}' is no weight and no volume"
        raise InputError(what, "type it with its unit, such as 2 lb or 500 mL", label) from None


Read = Sequence[Additive | PourbookError | None]


@once
def additives(rows: Rows, system: units.System) -> Read:
    """Return every row of the table: an additive, its refusal, or None for a blank row."""
    return read_each(rows, COLUMNS, lambda _, row: read_additive(row, system))


def named(rows: Read, serves: str, layer: str, colour: str = "") -> Additive | None:
    """Return the first additive that is for a layer: one that names the layer goes before."""
    fits = [r for r in rows if isinstance(r, Additive) and r.is_for(serves, layer, colour)]
    return next((one for one in fits if one.layer), fits[0] if fits else None)
