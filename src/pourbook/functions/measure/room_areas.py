"""PB_ROOMS: the areas of every piece of the Rooms sheet, one call for the whole table.

Contract: one result row for each row of the table; a blank row gives blanks, a row that cannot be
measured gives ``!`` in every number and the refusal in its last column. Counts multiply every
result. Areas and runs come back in the units of the job's system.
"""

from __future__ import annotations

from pourbook import units
from pourbook.cells import FAILED, OK, Rows, Value, as_mapping, is_blank
from pourbook.errors import PourbookError
from pourbook.functions.declare import Argument, Example, Function, Result
from pourbook.tables.rooms import COLUMNS, RESULTS, measure_row, system_of


def compute(rows: Rows, system_name: str) -> Result:
    """Return the result rows of PB_ROOMS."""
    system = system_of(system_name)
    result: list[list[Value]] = []
    for cells in rows:
        row = as_mapping(cells, COLUMNS)
        if all(is_blank(v) for v in row.values()):
            result.append([""] * len(RESULTS))
            continue
        try:
            areas = measure_row(row, system)
        except PourbookError as error:
            result.append([*[FAILED] * (len(RESULTS) - 1), error.cell_text()])
            continue
        result.append(
            [
                units.express(areas.top, system.area),
                units.express(areas.edge, system.area),
                units.express(areas.splash, system.area),
                units.express(areas.total, system.area),
                units.express(areas.edge_run, system.run),
                OK,
            ]
        )
    return result


PB_ROOMS = Function(
    name="PB_ROOMS",
    summary="Areas of top, edges and splashes of every piece of the Rooms table.",
    arguments=(
        Argument("rooms", "rows", "the entry columns of the Rooms table", columns=COLUMNS),
        Argument("system", "text", "the unit system on the Start sheet"),
    ),
    result="one row a piece: areas in the job's area unit, the edge run, and a status",
    valid="lengths above 0; cutouts smaller than the piece; counts of 1 and more",
    source="plane geometry; one measure of each edge and splash, as taken on site",
    examples=(
        Example(
            (
                (("Kitchen", "Island", "rectangle", "5'", "3'", *[None] * 11),),
                "us",
            ),
            ((15.0, 0.0, 0.0, 15.0, 0.0, "ok"),),
        ),
    ),
    compute=compute,
    columns=RESULTS,
)
