"""What each product states about the air: temperature, humidity, distance from the dew point.

Contract: :func:`limits_by_product` gathers it; what a product does not state limits nothing.
"""

from __future__ import annotations

from collections.abc import Mapping

from pourbook import units
from pourbook.cells import Rows, Value, is_blank, number, text
from pourbook.errors import PourbookError, RangeError, UnknownError
from pourbook.once import once
from pourbook.tables import products as product_table
from pourbook.tables import works as working_table
from pourbook.tables.row_loop import by_name, one_of_name
from pourbook.tables.works import Working
from pourbook.trade.air import AirLimits

LEAST_BARE = 5.0
"""From here a humidity is per cent: no air is as dry as that, and none as damp as 500 %."""


def humidity(value: Value, label: str) -> float:
    """Return a relative humidity as a fraction; a bare 52 is 52 %, as it is pasted or sent.

    Raises:
        InputError: It is blank, 0, above 100 %, or from 1 to 5, which may be a share or per cent.

    Example:
        >>> humidity(0.45, "Humidity"), humidity(52, "Humidity")
        (0.45, 0.52)
    """
    share = number(value, label)
    if LEAST_BARE <= share <= 100:
        return share / 100
    if not 0 < share <= 1:
        what = f"it is {share * 100:g} %"
        raise RangeError(what, "type above 0 % and up to 100 %, such as 45 %", label)
    return share


@once
def limits_by_product(
    products: Rows, working: Rows, system: units.System
) -> Mapping[str, AirLimits | PourbookError]:
    """Return what each product states, by its name in small letters; a bad row as its refusal."""
    known = working_table.working_by_name(working, system)

    def read(row: dict[str, Value]) -> AirLimits:
        return _limits(row, known.get(text(row["product"]).casefold()), system)

    return by_name(products, product_table.COLUMNS, "product", read)


def _limits(
    row: dict[str, Value], how: Working | PourbookError | None, system: units.System
) -> AirLimits:
    def kelvin(name: str) -> float | None:
        if is_blank(row[name]):
            return None
        label = product_table.LABELS[name]
        return units.to_si(number(row[name], label), system.temperature)

    label = product_table.LABELS["dampest"]
    dampest = None if is_blank(row["dampest"]) else humidity(row["dampest"], label)
    if isinstance(how, PourbookError):
        raise how.again()
    margin = how.margin if how else working_table.USUAL_MARGIN
    low, high = kelvin("coldest"), kelvin("warmest")
    return AirLimits(low, high, low, high, dampest, margin)


def limits_of(known: Mapping[str, AirLimits | PourbookError], name: str, label: str) -> AirLimits:
    """Return the limits of a product.

    Raises:
        InputError: It is not on the Products sheet, or its row cannot be read.
    """
    what = f"'{name}' is not on the Products sheet"
    return one_of_name(known, name, UnknownError(what, "choose from the list", label))
