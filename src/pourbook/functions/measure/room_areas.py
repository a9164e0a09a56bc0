"""PB_ROOMS: the areas of every piece of the Rooms sheet, one call for the whole table.

Contract: one result row for each row of the table; a blank row gives blanks, a row that cannot be
measured gives ``!`` in every number and the refusal in its last column. Counts multiply every
result. Areas and runs come back in the units of the job's system.
"""

from __future__ import annotations

from pourbook import units
from pourbook.cells import Rows, Value, row_of
from pourbook.functions.declare import Argument, Example, Function, Result
from pourbook.tables.rooms import (
    COLUMNS,
    RESULTS,
    RoomAreas,
    measure_row,
    refuse_joins,
    system_of,
)
from pourbook.tables.row_loop import filled, read_each, shown_each


def compute(rows: Rows, system_name: str) -> Result:
    """Return the result rows of PB_ROOMS."""
    system = system_of(system_name)
    others = [row for _, row in filled(rows, COLUMNS)]

    def measured(row: dict[str, Value]) -> RoomAreas:
        found = measure_row(row, system)
        refuse_joins(row, others)
        return found

    read = read_each(rows, COLUMNS, lambda _, row: measured(row))
    return shown_each(read, len(RESULTS), lambda areas: _shown(areas, system))


def _shown(areas: RoomAreas, system: units.System) -> list[Value]:
    return [
        *(units.express(one, system.area) for one in (areas.top, areas.edge, areas.splash)),
        units.express(areas.total, system.area),
        units.express(areas.edge_run, system.run),
    ]


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
                (
                    row_of(
                        COLUMNS, room="Kitchen", piece="Island", shape="rectangle", a="5'", b="3'"
                    ),
                ),
                "us",
            ),
            ((15.0, 0.0, 0.0, 15.0, 0.0, "ok"),),
        ),
    ),
    compute=compute,
    columns=RESULTS,
)
