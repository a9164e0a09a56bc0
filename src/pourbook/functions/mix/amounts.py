"""PB_AMOUNTS: film, losses and mixed volume of every layer, one call for the whole table.

Contract: one result row for each row of the Layers table, in the units of the job's system; a row
that cannot be worked out gives ``!`` in every number and the refusal in its last column.
"""

from __future__ import annotations

from collections.abc import Mapping

from pourbook import units
from pourbook.cells import (
    OK,
    Rows,
    Value,
    as_mapping,
    is_refused,
    number,
    refuse_errors,
    row_of,
    same_length,
    text,
    unmarked,
)
from pourbook.errors import InputError, PourbookError, RangeError
from pourbook.functions.declare import Argument, Example, Function, Result
from pourbook.tables import products as product_table
from pourbook.tables import rooms
from pourbook.tables import works as working_table
from pourbook.tables.declared import Column
from pourbook.tables.layers import COLUMNS, Layer, in_batches, work_out_all
from pourbook.tables.measured import ROOM_COLUMNS
from pourbook.tables.row_loop import next_each, shown_each

PLAN_COLUMNS = (
    "plan_option",
    "plan_number",
    "plan_layer",
    "plan_status",
    "pot",
    "limit",
    "binds",
    "batches",
    "bound",
    "proved",
    "largest",
    "splits",
    "left",
)
RESULTS = (
    Column("option", "The finish option the layer belongs to"),
    Column("number", "Which layer of its option it is, counted from below"),
    Column("layer", "The layer"),
    Column("product", "The product"),
    Column("area", "Area coated", "area"),
    Column("coated", "Area times passes", "area"),
    Column("wet", "Wet film of one pass, as it goes on", "film"),
    Column("dry", "Dry film of all passes", "film"),
    Column("net", "Mix that stays as film", "volume"),
    Column("take_up", "Mix that a porous surface drinks", "volume"),
    Column("edge_loss", "Mix that runs off along the exposed edges", "volume"),
    Column("loss", "Mix lost as a percentage of what is mixed", "volume"),
    Column("batch_loss", "Mix held back in buckets and tools, all batches together", "volume"),
    Column("mixed", "Mix to make, all batches together", "volume"),
    Column("batches", "Batches as planned"),
    Column("status", "ok, or what to fix in this layer"),
)


_IDS = [column.id for column in RESULTS]
KNOWN = slice(_IDS.index("area"), _IDS.index("loss"))
"""What is known of a layer whose batches are not: all but what is lost by the batch."""


def named(layers: Rows) -> list[list[Value]]:
    """Return option, number within the option, layer and product of every row."""
    counted: dict[str, int] = {}
    found: list[list[Value]] = []
    for cells in layers:
        row = as_mapping(cells, COLUMNS)
        option = text(row["option"])
        counted[option] = counted.get(option, 0) + 1
        found.append([option, counted[option], text(row["layer"]), text(row["product"])])
    return found


def compute(
    layers: Rows,
    products: Rows,
    room_rows: Rows,
    plans: Rows,
    system_name: str,
    works: Rows = (),
) -> Result:
    """Return the result rows of PB_AMOUNTS."""
    system = rooms.system_of(system_name)
    worked = with_batches(layers, products, room_rows, plans, system, works)
    rows = shown_each(worked, len(RESULTS), lambda layer: _shown(layer, system), named(layers))
    alone = work_out_all(layers, products, room_rows, system, works)
    for row, settled, layer in zip(rows, worked, alone, strict=True):
        if isinstance(settled, PourbookError) and not isinstance(layer, PourbookError | None):
            row[KNOWN] = [*row[: KNOWN.start], *_shown(layer, system)][KNOWN]
    return rows


def with_batches(
    layers: Rows,
    products: Rows,
    room_rows: Rows,
    plans: Rows,
    system: units.System,
    works: Rows = (),
) -> list[Layer | PourbookError | None]:
    """Work out every layer with the batches planned for it; one without a plan is refused."""
    same_length(layers, plans)
    rows = [as_mapping(cells, PLAN_COLUMNS) for cells in plans]
    worked = work_out_all(layers, products, room_rows, system, works)
    return next_each(worked, lambda at, layer: in_batches(layer, *_batches_of(rows[at], system)))


def _batches_of(row: Mapping[str, Value], system: units.System) -> tuple[int, float]:
    """Return the batches of a row of PB_PLAN, and what stays in each bucket, m³.

    Raises:
        InputError: The layer is not planned, or a figure cannot be.
    """
    status = text(row["plan_status"])
    if is_refused(status) and unmarked(status):
        raise InputError(unmarked(status))  # the refusal of its plan, passed on
    if status != OK:
        raise InputError("its batches are not planned", "fix it on Layers", "Batches")
    refuse_errors(row, {"batches": "Batches", "left": "Bucket hold-back"})
    batches, left = number(row["batches"], "Batches"), number(row["left"], "Bucket hold-back")
    if batches < 1 or batches != int(batches):
        raise RangeError(f"it is {batches:g}", "type 1, 2, 3 ...", "Batches")
    if left < 0:
        raise RangeError(f"it is {left:g}", "type 0 or more", "Bucket hold-back")
    return int(batches), units.to_si(left, system.volume)


def _shown(layer: Layer, system: units.System) -> list[Value]:
    volume = layer.volume
    parts = (volume.net, volume.take_up, volume.edge_loss, volume.percent_loss, volume.batch_loss)
    return [
        units.express(layer.area, system.area),
        units.express(layer.area * layer.passes, system.area),
        units.express(layer.wet, system.film),
        units.express(layer.dry, system.film),
        *(units.express(part, system.volume) for part in (*parts, volume.mixed)),
        layer.batches,
    ]


EXAMPLE_PLAN = ("A", 1, "Flood", "ok", 40.0, 1.2, "bucket", 2, 2, "fewest", 1.1, 1, 0.1)
EXAMPLE_LAYER = row_of(
    COLUMNS,
    option="A",
    layer="Flood",
    product="Clear",
    method="pour",
    surfaces="top",
    spread="1 mm",
)
EXAMPLE_PRODUCT = row_of(
    product_table.COLUMNS,
    product="Clear",
    parts=2,
    basis="volume",
    ratio="1:1",
    first="A",
    density_a=1.1,
    density_b=1.0,
    solids=1.0,
)
_ROOM: dict[str, Value] = {
    "room": "Bar",
    "piece": "Top",
    "shape": "rectangle",
    "a": "4 m",
    "b": "500 mm",
    "top": 2.0,
    "edge": 0.0,
    "splash": 0.0,
    "total": 2.0,
    "run": 0.0,
    "status": "ok",
}
EXAMPLE_ROOM = row_of(ROOM_COLUMNS, **_ROOM)
EXAMPLE_ROOM_SPLIT = row_of(ROOM_COLUMNS, **_ROOM, may_split="yes")

PB_AMOUNTS = Function(
    name="PB_AMOUNTS",
    summary="Area, film, losses and mixed volume of every layer.",
    arguments=(
        Argument("layers", "rows", "the entry columns of the Layers table", columns=COLUMNS),
        Argument(
            "products",
            "rows",
            "the entry columns of the Products table",
            columns=product_table.COLUMNS,
        ),
        Argument("rooms", "rows", "the whole Rooms table with its results", columns=ROOM_COLUMNS),
        Argument("plan", "rows", "the plan of batches on the Batches sheet", columns=PLAN_COLUMNS),
        Argument("system", "text", "the unit system on the Start sheet"),
        Argument(
            "working",
            "rows",
            "the Working and curing table, for layers given as a depth",
            columns=working_table.COLUMNS,
            optional=True,
        ),
    ),
    result="one row a layer, in the job's units, and a status",
    valid="losses of 0 to below 100 %; spreads above 0; whole passes and batches from 1",
    source="film = volume / area; losses divide: mixed = needed / (1 - loss)",
    examples=(
        Example(
            ((EXAMPLE_LAYER,), (EXAMPLE_PRODUCT,), (EXAMPLE_ROOM,), (EXAMPLE_PLAN,), "metric"),
            (
                (
                    "A",
                    1,
                    "Flood",
                    "Clear",
                    2.0,
                    2.0,
                    1.0,
                    1.0,
                    2.0,
                    0.0,
                    0.0,
                    0.0,
                    0.2,
                    2.2,
                    2,
                    "ok",
                ),
            ),
        ),
    ),
    compute=compute,
    columns=RESULTS,
)
