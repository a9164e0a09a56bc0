"""PB_PLAN: the batches of every layer, what sets their size, and how warm the largest gets.

Contract: one result row for each row of the Layers table. What is wrong with the heat of a batch
stands in its verdict alone: the plan of a layer never hangs on it.
"""

from __future__ import annotations

from pourbook import units
from pourbook.cells import OK, Rows, Value
from pourbook.functions.batch import bucket_heat, pass_film, plans, seams
from pourbook.functions.batch.plans import EXAMPLE_DOING, EXAMPLE_WORKING, Planned
from pourbook.functions.declare import Argument, Example, Function, Result
from pourbook.functions.mix.amounts import EXAMPLE_LAYER, EXAMPLE_PRODUCT, EXAMPLE_ROOM_SPLIT, named
from pourbook.tables import rooms
from pourbook.tables.job_tables import JobTables, going_of
from pourbook.tables.row_loop import rows_each

RESULTS = (*plans.RESULTS, *bucket_heat.RESULTS, *seams.RESULTS, *pass_film.RESULTS)
_STATUS = [column.id for column in RESULTS].index("plan_status")


def compute(
    layers: Rows,
    doing: Rows,
    products: Rows,
    working: Rows,
    room_rows: Rows,
    temperature: float,
    crew: float,
    system_name: str,
    kinetics: Rows = (),
    going: Value = None,
) -> Result:
    """Return the result rows of PB_PLAN."""
    system = rooms.system_of(system_name)
    known = bucket_heat.heat_by_name(kinetics, system)
    kelvin = units.to_si(temperature, system.temperature)
    tables = JobTables(layers, doing, products, working, room_rows, system, going_of(going))

    def shown(plan: Planned) -> list[Value]:
        heat = bucket_heat.told(plan, known, kelvin, system)
        return [
            OK,
            *plans.shown(plan, system),
            *heat,
            seams.told(plan),
            pass_film.told(plan, system),
        ]

    planned = plans.plan_all(tables, kelvin, crew)
    lead = [names[:_STATUS] for names in named(layers)]
    return rows_each(planned, len(RESULTS), shown, lead, status=_STATUS)


PB_PLAN = Function(
    name="PB_PLAN",
    summary="How many batches every layer takes, what sets their size, and how warm they get.",
    arguments=(
        *plans.ARGUMENTS,
        Argument(
            "kinetics",
            "rows",
            "the table on bucket heat on Products",
            optional=True,
            columns=bucket_heat.COLUMNS,
        ),
        plans.GOING,
    ),
    result="one row a layer: pot life, largest batch, batches, the proven bound, status, heat",
    valid="pot life longer than mixing; pieces that fit a batch or may be split; for the heat "
    "kinetics of the product itself and one temperature throughout; see the safety data sheet",
    source="bin packing with a proven lower bound (Martello and Toth 1990, from memory); "
    "Arrhenius; lumped heat balance; Semenov number, critical at 1/e (Combustion Theory, app. B.2)",
    examples=(
        Example(
            (
                (EXAMPLE_LAYER,),
                (EXAMPLE_DOING,),
                (EXAMPLE_PRODUCT,),
                (EXAMPLE_WORKING,),
                (EXAMPLE_ROOM_SPLIT,),
                20.0,
                2.0,
                "metric",
                (tuple([None] * len(bucket_heat.COLUMNS)),),
                "room by room",
            ),
            (
                (
                    *("A", 1, "Flood", "ok", 40.0, 1.2, "bucket", 2, 2, "fewest", 1.1, 1, 0.1),
                    *("ok", 1.155, "", "", "", "", "", "", ""),
                    "no kinetics, and the stated pot life names no weight: a large batch may have "
                    "less",
                    "ok",
                    "ok",
                ),
            ),
        ),
    ),
    compute=compute,
    columns=RESULTS,
)
