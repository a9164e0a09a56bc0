"""The steps by which a row of a block function came about, told by the function's own module.

Contract: :func:`steps` reads the arguments as the worksheet hands them over and gives the steps of
one row; a function that tells nothing gives none. It is the one list of who tells what.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import cast

from pourbook import units
from pourbook.cells import Rows, Told, Value, as_mapping, is_blank, number, text
from pourbook.errors import PourbookError
from pourbook.functions.batch import batches, mixes, plans
from pourbook.functions.batch.mixes import Mix, Refused
from pourbook.functions.buy import purchase
from pourbook.functions.catalogue import catalogue
from pourbook.functions.days import calendar, spans
from pourbook.functions.mix import amounts, parts
from pourbook.tables import products, rooms
from pourbook.tables.buy.packs import charge_of
from pourbook.tables.job_tables import JobTables, going_of
from pourbook.workbook.tell import days_told, layer_told, plans_told

# Their rows show reason or figures one by one.
_TOLD_BY_THEIR_REASON = {"PB_SURVEY", "PB_AIR"}
# Functions that tell of a purchase, and which argument's first column names the product.
_BUYING = {"PB_BUY": 1, "PB_PACKS": 0, "PB_STOCK": 0}


def steps(
    function: str,
    given: Sequence[Rows | Value],
    index: int,
    system: units.System,
    column: str = "",
) -> list[Told]:
    """Return the steps of row ``index`` of a block function.

    Args:
        function: Its name.
        given: Its arguments, tables as rows.
        index: The row, from 0.
        system: The job's units.
        column: The result column, where rows of several kinds stand beside each other.

    Raises:
        PourbookError: The row cannot be worked out.
    """
    first = cast(Rows, given[0])
    if function == "PB_BATCHES":
        return _batch(given, index, system)
    if function == "PB_DAYS":
        found_days = calendar.calendar(*given)  # type: ignore[arg-type]
        line = spans.line_behind(found_days, index, column)
        return days_told.steps(found_days, index if line is None else line, system)
    if function in _TOLD_BY_THEIR_REASON:
        return []
    if function in _BUYING:
        return _bought(function, given, index, system)
    if all(is_blank(v) for v in first[index]):
        return []
    found: list[Told] = []
    if function == "PB_ROOMS":
        rooms.measure_row(as_mapping(first[index], rooms.COLUMNS), system, found)
    elif function == "PB_PRODUCTS":
        row = as_mapping(first[index], products.COLUMNS)
        found = products.steps(products.read_product(row, system), system)
    elif function == "PB_PLAN":
        found = _plan(given, index, system)
    elif function in {"PB_AMOUNTS", "PB_PARTS"}:
        found = _layer(function, given, index, system)
    return found


def _layer(
    function: str, given: Sequence[Rows | Value], index: int, system: units.System
) -> list[Told]:
    layer_rows, product_rows, room_rows, plan_rows = (cast(Rows, v) for v in given[:4])
    works = cast(Rows, given[5]) if len(given) > 5 else ()
    found = amounts.with_batches(layer_rows, product_rows, room_rows, plan_rows, system, works)
    worked = found[index]
    if isinstance(worked, PourbookError):
        raise worked.again()
    assert worked is not None  # its row is not blank
    if function == "PB_PARTS":
        return parts.steps(worked, system)
    return layer_told.steps(worked, system)


def _planned_from(
    function: str, given: Sequence[Rows | Value], system: units.System
) -> tuple[JobTables, float, float]:
    """Return the tables, the temperature in K and the crew a plan begins from."""
    layer_rows, doing, coatings, works, room_rows = (cast(Rows, v) for v in given[:5])
    temperature, crew = (number(cast(Value, value), "Start") for value in given[5:7])
    names = [argument.name for argument in catalogue()[function].arguments]
    handed = dict(zip(names, given, strict=False))
    going = going_of(cast(Value, handed.get("going")))
    tables = JobTables(layer_rows, doing, coatings, works, room_rows, system, going)
    return tables, units.to_si(temperature, system.temperature), crew


def _plan(given: Sequence[Rows | Value], index: int, system: units.System) -> list[Told]:
    tables, kelvin, crew = _planned_from("PB_PLAN", given, system)
    plan = plans.plan_all(tables, kelvin, crew)[index]
    if isinstance(plan, PourbookError):
        raise plan.again()
    assert plan is not None  # its row is not blank
    return plans_told.steps(plan, system)


def _batch(given: Sequence[Rows | Value], index: int, system: units.System) -> list[Told]:
    tables, kelvin, crew = _planned_from("PB_BATCHES", given, system)
    option = text(cast(Value, given[7]))
    warmth = cast(Rows, given[11]) if len(given) > 11 else ()
    hours = batches.hours_of(warmth, system)
    listed: list[Mix | Refused] = mixes.mixes(tables, kelvin, crew, option, warmth=hours)
    if index >= len(listed):
        return []
    mix = listed[index]
    if isinstance(mix, Refused):
        raise mix.error
    return mixes.steps(mix, system)


def _bought(
    function: str, given: Sequence[Rows | Value], index: int, system: units.System
) -> list[Told]:
    names = [argument.name for argument in catalogue()[function].arguments]
    handed = dict(zip(names, given, strict=True))
    product = text(cast(Rows, given[_BUYING[function]])[index][0])
    part_rows, product_rows, pack_rows, stock_rows = (
        cast(Rows, handed[name]) for name in ("parts", "products", "packs", "stock")
    )
    day = handed["date"]
    serial = float(day) if isinstance(day, int | float) else None
    job = purchase.read_job(part_rows, product_rows, pack_rows, stock_rows, system, serial)
    charge = charge_of(cast(Value, handed.get("charge")))
    return purchase.steps(job, product, charge) if product else []
