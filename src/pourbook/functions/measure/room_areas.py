"""PB_ROOMS: the areas of every piece of the Rooms sheet, one call for the whole table.

Contract: one result row for each row of the table; a blank row gives blanks, a row that cannot be
measured gives ``!`` in every number and the refusal in its last column. Counts multiply every
result. Areas and runs come back in the units of the job's system.
"""

from __future__ import annotations

from pourbook import units
from pourbook.cells import OK, Rows, Value, row_of, text
from pourbook.functions.declare import Argument, Example, Function, Result
from pourbook.tables import substrates
from pourbook.tables.rooms import (
    COLUMNS,
    RESULTS,
    RoomAreas,
    measure_row,
    refuse_joins,
    system_of,
)
from pourbook.tables.row_loop import filled, read_each, rows_each

_STATUS = [column.id for column in RESULTS].index("status")


def compute(rows: Rows, system_name: str, survey_rows: Rows = ()) -> Result:
    """Return the result rows of PB_ROOMS."""
    system = system_of(system_name)
    others = [row for _, row in filled(rows, COLUMNS)]
    surveyed = substrates.surveyed(survey_rows, system)

    def measured(row: dict[str, Value]) -> tuple[RoomAreas, float]:
        found = measure_row(row, system)
        refuse_joins(row, others)
        return found, substrates.soaks(surveyed, text(row["room"]))

    read = read_each(rows, COLUMNS, lambda _, row: measured(row))
    return rows_each(read, len(RESULTS), lambda one: _shown(*one, system), status=_STATUS)


def _shown(areas: RoomAreas, soak: float, system: units.System) -> list[Value]:
    return [
        *(units.express(one, system.area) for one in (areas.top, areas.edge, areas.splash)),
        units.express(areas.total, system.area),
        units.express(areas.edge_run, system.run),
        OK,
        units.express(soak, system.volume_per_area),
        units.express(areas.fill, system.volume) if areas.fill else "",
        units.express(areas.fill_depth, system.length) if areas.fill else "",
    ]


PB_ROOMS = Function(
    name="PB_ROOMS",
    summary="Areas of top, edges and backsplashes of every piece of the Rooms table.",
    arguments=(
        Argument("rooms", "rows", "the entry columns of the Rooms table", columns=COLUMNS),
        Argument("system", "text", "the unit system on the Start sheet"),
        Argument(
            "survey",
            "rows",
            "the entry columns of the first table of Survey",
            columns=substrates.COLUMNS,
            optional=True,
        ),
    ),
    result="one row a piece: areas in the job's area unit, the edge run, a status, what its "
    "bare surface takes of the first coat, and what of it is filled",
    valid="lengths above 0; cutouts smaller than the piece; counts of 1 and more",
    source="plane geometry; one measure of each edge and splash, as taken on site; what a surface "
    "drinks: common practice, no source",
    examples=(
        Example(
            (
                (
                    row_of(
                        COLUMNS, room="Kitchen", piece="Island", shape="rectangle", a="5'", b="3'"
                    ),
                ),
                "us",
                (row_of(substrates.COLUMNS, survey_room="Kitchen", substrate="plywood or wood"),),
            ),
            ((15.0, 0.0, 0.0, 15.0, 0.0, "ok", 0.5, "", ""),),
        ),
    ),
    compute=compute,
    columns=RESULTS,
)
