"""PB_AIR: dew point, margin and verdict for readings of air and surface on site.

Contract: one result row a reading. :func:`limits_by_product` gathers what each product states about
temperature, humidity and the distance from the dew point; what it does not state limits nothing.
Below the frost point no dew point is given: the row is refused.
"""

from __future__ import annotations

from pourbook import units
from pourbook.errors import InputError, PourbookError
from pourbook.functions import products as product_table
from pourbook.functions import working as working_table
from pourbook.functions.amounts import EXAMPLE_PRODUCT
from pourbook.functions.catalogue import Argument, Column, Example, Function, Result
from pourbook.functions.plans import EXAMPLE_WORKING
from pourbook.functions.rooms import system_of
from pourbook.functions.values import (
    FAILED,
    OK,
    Rows,
    Value,
    as_mapping,
    is_blank,
    number,
    refuse_errors,
    text,
)
from pourbook.functions.working import Working
from pourbook.trade import air
from pourbook.trade.air import AirLimits

LEAST_BARE = 5.0
"""From here a humidity is per cent: no air is as dry as that, and none as damp as 500 %."""
COLUMNS = ("air_product", "air", "surface", "air_humidity")
LABELS = {
    "air_product": "Product",
    "air": "Air",
    "surface": "Surface",
    "air_humidity": "Humidity",
}
RESULTS = (
    Column("dew", "Dew point", "temperature"),
    Column("dew_margin", "How far the surface is above it, in degrees", "temperature"),
    Column("air_verdict", "go, wait or don't"),
    Column("air_reason", "Why it is so"),
    Column("air_status", "ok, or what to mend in this row"),
)


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
        raise InputError(what, "type above 0 % and up to 100 %, such as 45 %", label)
    return share


def limits_by_product(
    products: Rows, working: Rows, system: units.System
) -> dict[str, AirLimits | PourbookError]:
    """Return what each product states, by its name in small letters; a bad row as its refusal."""
    known = working_table.working_by_name(working, system)
    found: dict[str, AirLimits | PourbookError] = {}
    for cells in products:
        row = as_mapping(cells, product_table.COLUMNS)
        name = text(row["product"]).casefold()
        if name:
            try:
                found[name] = _limits(row, known.get(name), system)
            except PourbookError as error:
                found[name] = error
    return found


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
        raise how
    margin = how.margin if how else working_table.USUAL_MARGIN
    low, high = kelvin("coldest"), kelvin("warmest")
    return AirLimits(low, high, low, high, dampest, margin)


def limits_of(known: dict[str, AirLimits | PourbookError], name: str) -> AirLimits:
    """Return the limits of a product.

    Raises:
        InputError: It is not on the Products sheet, or its row cannot be read.
    """
    found = known.get(name.casefold())
    if found is None:
        raise InputError(
            f"'{name}' is not on the Products sheet", "choose from the list", "Product"
        )
    if isinstance(found, PourbookError):
        raise found
    return found


def judge(
    row: dict[str, Value], known: dict[str, AirLimits | PourbookError], system: units.System
) -> list[Value]:
    """Judge one reading: dew point, margin, verdict and reason.

    Raises:
        InputError: A cell is missing or out of range, or the dew point is below freezing.
    """
    refuse_errors(row, LABELS)

    def kelvin(name: str) -> float:
        return units.to_si(number(row[name], LABELS[name]), system.temperature)

    warm, top = kelvin("air"), kelvin("surface")
    damp = humidity(row["air_humidity"], LABELS["air_humidity"])
    if is_blank(row["air_product"]):
        raise InputError("it is blank", "choose the coating that goes on", LABELS["air_product"])
    limits = limits_of(known, text(row["air_product"]))
    dew = air.dew_point(warm, damp)
    verdict = air.judge_air(top, warm, damp, limits)
    return [
        units.express(dew, system.temperature),
        units.express(top - dew, "Δ" + system.temperature),
        verdict.state,
        "; ".join(verdict.reasons),
    ]


def compute(readings: Rows, products: Rows, working: Rows, system_name: str) -> Result:
    """Return the result rows of PB_AIR."""
    system = system_of(system_name)
    known = limits_by_product(products, working, system)
    result: list[list[Value]] = []
    for cells in readings:
        row = as_mapping(cells, COLUMNS)
        if all(is_blank(v) for v in row.values()):
            result.append([""] * len(RESULTS))
            continue
        try:
            result.append([*judge(row, known, system), OK])
        except PourbookError as error:
            result.append([*[FAILED] * (len(RESULTS) - 1), error.cell_text()])
    return result


PB_AIR = Function(
    name="PB_AIR",
    summary="Dew point, its distance from the surface, and whether air and surface allow coating.",
    arguments=(
        Argument("readings", "rows", "the entry columns of the air on site", columns=COLUMNS),
        Argument(
            "products",
            "rows",
            "the entry columns of the Products table",
            columns=product_table.COLUMNS,
        ),
        Argument("working", "rows", "the Working and curing table", columns=working_table.COLUMNS),
        Argument("system", "text", "the unit system on the Start sheet"),
    ),
    result="one row a reading: dew point, distance, go, wait or don't, the reason, and a status",
    valid="air -45 to 60 °C, humidity above 0 to 100 %, dew point at 0 °C and above",
    source="Magnus over water, WMO No. 8; 3 K above the dew point, ISO 8502-4 (second-hand)",
    examples=(
        Example(
            (
                (("Clear", 20.0, 20.0, 1.0),),
                (EXAMPLE_PRODUCT,),
                (EXAMPLE_WORKING,),
                "metric",
            ),
            (
                (
                    20.0,
                    0.0,
                    "don't",
                    "dew point is 20 °C (68 °F), so water condenses on the surface",
                    "ok",
                ),
            ),
        ),
    ),
    compute=compute,
    columns=RESULTS,
)
