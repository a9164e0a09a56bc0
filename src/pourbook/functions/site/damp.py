"""PB_AIR: dew point, margin and verdict for readings of air and surface on site.

Contract: one result row a reading. :func:`limits_by_product` gathers what each product states about
temperature, humidity and the distance from the dew point; what it does not state limits nothing.
Below the frost point no dew point is given: the row is refused.
"""

from __future__ import annotations

from collections.abc import Mapping

from pourbook import units
from pourbook.cells import Rows, Value, is_blank, number, refuse_errors, text
from pourbook.errors import BlankError, PourbookError
from pourbook.functions.batch.plans import EXAMPLE_WORKING
from pourbook.functions.declare import Argument, Example, Function, Result
from pourbook.functions.mix.amounts import EXAMPLE_PRODUCT
from pourbook.records import dataclass
from pourbook.tables import products as product_table
from pourbook.tables import works as working_table
from pourbook.tables.declared import Column, declared
from pourbook.tables.limits import humidity, limits_by_product, limits_of
from pourbook.tables.rooms import system_of
from pourbook.tables.row_loop import read_each, shown_each
from pourbook.trade import air
from pourbook.trade.air import AirLimits

TABLE = declared("onsite")
COLUMNS, LABELS = TABLE.columns, TABLE.labels
RESULTS = (
    Column("dew", "Dew point", "temperature"),
    Column("dew_margin", "How far the surface is above it, in degrees", "temperature"),
    Column("air_verdict", "go, wait or don't"),
    Column("air_reason", "Why it is so"),
    Column("air_status", "ok, or what to fix in this row"),
)


@dataclass(frozen=True)
class AirReading:
    """What was read on site, K and a fraction, and what the coating that goes on allows."""

    air: float
    surface: float
    humidity: float
    limits: AirLimits


def read_air(
    row: dict[str, Value], known: Mapping[str, AirLimits | PourbookError], system: units.System
) -> AirReading:
    """Read one row of the readings.

    Raises:
        InputError: A cell is missing or out of range.
    """
    refuse_errors(row, LABELS)

    def kelvin(name: str) -> float:
        return units.to_si(number(row[name], LABELS[name]), system.temperature)

    warm, top = kelvin("air"), kelvin("surface")
    damp = humidity(row["air_humidity"], LABELS["air_humidity"])
    if is_blank(row["air_product"]):
        raise BlankError("it is blank", "choose the coating that goes on", LABELS["air_product"])
    limits = limits_of(known, text(row["air_product"]), LABELS["air_product"])
    return AirReading(warm, top, damp, limits)


def judge(read: AirReading, system: units.System) -> list[Value]:
    """Judge one reading: dew point, margin, verdict and reason.

    Raises:
        InputError: The dew point is below freezing, or a figure is out of range.
    """
    dew = air.dew_point(read.air, read.humidity)
    verdict = air.judge_air(read.surface, read.air, read.humidity, read.limits)
    return [
        units.express(dew, system.temperature),
        units.express(read.surface - dew, "Δ" + system.temperature),
        verdict.state,
        "; ".join(verdict.reasons),
    ]


def compute(readings: Rows, products: Rows, working: Rows, system_name: str) -> Result:
    """Return the result rows of PB_AIR."""
    system = system_of(system_name)
    known = limits_by_product(products, working, system)
    read = read_each(readings, COLUMNS, lambda _, row: read_air(row, known, system))
    return shown_each(read, len(RESULTS), lambda one: judge(one, system))


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
