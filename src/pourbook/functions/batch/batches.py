"""PB_BATCHES: what goes into every batch of the option that is offered, in the order of the work.

Contract: always :data:`ROWS` result rows, blank beyond the last batch; what does not fit them is
said in the last row. A layer that cannot be planned takes one row with its refusal. The batches of
a layer add up to its row of PB_PARTS. After the status stand the texts of the mix card; a batch too
small to be weighed keeps its amounts, has no card, and its status begins with ``CHECK``.
"""

from __future__ import annotations

from collections.abc import Sequence

from pourbook import units
from pourbook.cells import CHECK, OK, Rows, Value, as_mapping, is_blank, refuse_errors
from pourbook.errors import FAILED, InputError, PourbookError
from pourbook.functions import day_columns
from pourbook.functions.batch import mix_cards, mixes, plans
from pourbook.functions.batch.mixes import Mix, Refused
from pourbook.functions.declare import Argument, Example, Function, Result
from pourbook.functions.mix.amounts import EXAMPLE_LAYER, EXAMPLE_PRODUCT, EXAMPLE_ROOM_SPLIT
from pourbook.tables import rooms
from pourbook.tables.buy import additives
from pourbook.tables.declared import Column
from pourbook.tables.job_tables import JobTables, going_of
from pourbook.tables.products import PARTS
from pourbook.tables.works import MINUTE
from pourbook.trade import weighing

DAYS = tuple(column.id for column in day_columns.RESULTS)
WARMTH = "batch_warmth"
ROWS = 60
MEND_MANY = "use bigger buckets, or make two jobs of it"
RESULTS = (
    Column("batch", "Which batch of the job it is"),
    Column("layer_number", "Which layer it belongs to, counted from below"),
    Column("layer", "The layer"),
    Column("pieces", "The pieces it coats"),
    Column("in_layer", "Which batch of its layer it is, and of which pass"),
    Column("mixed", "Mix in the bucket, pigment and thinner aside", "volume"),
    Column("volume_a", "Part A by volume", "small_volume"),
    Column("volume_b", "Part B by volume", "small_volume"),
    Column("volume_c", "Part C by volume", "small_volume"),
    Column("mass_a", "Part A by weight", "small_mass"),
    Column("mass_b", "Part B by weight", "small_mass"),
    Column("mass_c", "Part C by weight", "small_mass"),
    Column("pigment_mass", "Pigment by weight", "small_mass"),
    Column("thinner_volume", "Water or thinner by volume", "small_volume"),
    Column("broadcast_mass", "Broadcast media by weight", "small_mass"),
    Column("cup_pigment", "Pigment of all colour cups by weight", "small_mass"),
    Column("cups", "Each colour cup: mix and pigment"),
    Column("minutes", "Minutes of mixing"),
    Column("use_by", "Minutes from the start of mixing until the mix must be spread"),
    Column("status", "ok, CHECK with why it cannot be weighed, or what to fix"),
    *mix_cards.RESULTS,
)
STATUS = len(RESULTS) - len(mix_cards.RESULTS) - 1


def compute(
    layers: Rows,
    doing: Rows,
    products: Rows,
    working: Rows,
    room_rows: Rows,
    temperature: float,
    crew: float,
    option: str,
    system_name: str,
    going: Value = None,
    additive_rows: Rows = (),
    days: Rows = (),
) -> Result:
    """Return the result rows of PB_BATCHES."""
    system = rooms.system_of(system_name)
    tables = JobTables(layers, doing, products, working, room_rows, system, going_of(going))
    kelvin = units.to_si(temperature, system.temperature)
    hours = hours_of(days, system)
    return padded([row for row, _ in _rows(tables, kelvin, crew, option, additive_rows, hours)])


def hours_of(days: Rows, system: units.System) -> list[float | None]:
    """Return the temperature of each batch's hour, K; None where Days has none.

    Raises:
        InputError: A cell shows an error, or a refusal that is not the calendar's.

    Example:
        >>> days = [[*[""] * (len(DAYS) - 1), warm] for warm in (20.0, "", "!")]
        >>> hours_of(days, units.SYSTEMS["metric"])
        [293.15, None, None]
    """
    cells = [as_mapping(row, DAYS)[WARMTH] for row in days]
    for cell in cells:
        if cell != FAILED:  # the calendar's own refusal: the day's temperature holds
            refuse_errors({WARMTH: cell}, {WARMTH: "Warmest of a batch"})
    return [
        units.to_si(cell, system.temperature)
        if isinstance(cell, int | float) and not is_blank(cell)
        else None
        for cell in cells
    ]


def fault(tables: JobTables, kelvin: float, crew: float, option: str) -> PourbookError | None:
    """Return the first reason why a batch of an option cannot be mixed; None if all can.

    What else its card says refuses nothing, and is not written for it.
    """
    found = mixes.mixes(tables, kelvin, crew, option)
    for mix in found[: ROWS if len(found) <= ROWS else ROWS - 1]:
        if isinstance(mix, Refused):
            return mix.error
        try:
            mix.refuse_late(tables.system)
            mix_cards.measured(mix, tables.system)
            mix.doses  # noqa: B018  # they may be far too large
        except PourbookError as error:
            return error.let_go()
    return _too_many(len(found)) if len(found) > ROWS else None


def _rows(
    tables: JobTables,
    kelvin: float,
    crew: float,
    option: str,
    additive_rows: Rows = (),
    hours: Sequence[float | None] = (),
) -> list[tuple[list[Value], PourbookError | None]]:
    """Return a result row for every batch, and why it cannot be mixed."""
    system = tables.system
    found = mixes.mixes(tables, kelvin, crew, option, additive_rows, hours)
    last = sum(isinstance(mix, Mix) for mix in found)
    rows: list[tuple[list[Value], PourbookError | None]] = []
    for mix in found:
        if isinstance(mix, Refused):
            row: list[Value] = [FAILED] * len(RESULTS)
            row[1:3] = [mix.layer_number, mix.layer]
            row[STATUS] = mix.error.cell_text()
            rows.append((row, mix.error))
            continue
        try:
            mix.refuse_late(system)
            row = [*_shown(mix, system), OK, *mix_cards.texts(mix, last, system)]
            rows.append((row, None))
        except PourbookError as error:
            why = f"{CHECK}: {error.said()}"
            rows.append(([*_shown(mix, system), why, *[FAILED] * len(mix_cards.RESULTS)], error))
    return rows


def padded(rows: list[list[Value]]) -> list[list[Value]]:
    """Return exactly :data:`ROWS` rows: blank ones added, or the last one saying what is left out.

    Example:
        >>> len(padded([]))
        60
    """
    if len(rows) <= ROWS:
        return rows + [[""] * len(RESULTS) for _ in range(ROWS - len(rows))]
    failed: list[Value] = [FAILED] * len(RESULTS)
    failed[STATUS] = _too_many(len(rows)).cell_text()
    return [*rows[: ROWS - 1], failed]


def _too_many(count: int) -> InputError:
    return InputError(f"there are {count} batches and room for {ROWS}", MEND_MANY, "Batches")


def _shown(mix: Mix, system: units.System) -> list[Value]:
    layer = mix.planned.layer
    missing: list[Value] = [0.0] * (len(PARTS) - len(mix.shares))
    small, mass = system.small_volume, system.small_mass
    return [
        mix.number,
        mix.layer_number,
        layer.name,
        mix.pieces,
        mix.in_layer,
        units.express(mix.batch.mixed, system.volume),
        *(units.express(s.volume, small) for s in mix.shares),
        *missing,
        *(units.express(s.mass, mass) for s in mix.shares),
        *missing,
        units.express(mix.pigment, mass),
        units.express(mix.thinner, small),
        units.express(mix.broadcast, mass),
        units.express(sum(cup.pigment for cup in mix.cups), mass),
        cups_text(mix, system),
        layer.product.minutes,
        mix.use_by / MINUTE,
    ]


def cups_text(mix: Mix, system: units.System) -> str:
    """Return the cups of a batch in a line, rounded so that they still add up to it."""
    if not mix.cups:
        return ""
    metric = not system.fluids
    step = weighing.MILLILITRE if metric else units.to_si(1.0, system.small_volume) / 10
    counts = weighing.share_out(mix.batch.mixed, [cup.volume for cup in mix.cups], step)
    found = []
    for cup, count in zip(mix.cups, counts, strict=True):
        amount = (
            f"{count:,} {system.small_volume}"
            if metric
            else (f"{count / 10:,.1f} {system.small_volume}")
        )
        pigment = units.express(cup.pigment, system.small_mass)
        added = f" + {pigment:,.1f} {system.small_mass} pigment" if cup.pigment else ""
        found.append(f"{cup.cup.name} {cup.cup.share * 100:.4g} %: {amount}{added}")
    return "; ".join(found)


ARGUMENTS = (
    *plans.ARGUMENTS[:-1],
    Argument("option", "text", "the option to offer on the Price sheet"),
    plans.ARGUMENTS[-1],
    plans.GOING,
    Argument(
        "additives",
        "rows",
        "the entry columns of the Additives table, for their names on the cards",
        columns=additives.COLUMNS,
        optional=True,
    ),
    Argument(
        "days",
        "rows",
        "the results of Days, for the temperature of each batch's hour",
        columns=DAYS,
        optional=True,
    ),
)
EXAMPLE_ARGUMENTS = (
    (EXAMPLE_LAYER,),
    (plans.EXAMPLE_DOING,),
    (EXAMPLE_PRODUCT,),
    (plans.EXAMPLE_WORKING,),
    (EXAMPLE_ROOM_SPLIT,),
    20.0,
    2.0,
    "A",
    "metric",
    "room by room",
)


def _example() -> tuple[tuple[Value, ...], ...]:
    parts_and_doses: tuple[Value, ...] = (
        550.0,
        550.0,
        0.0,
        605.0,
        550.0,
        *[0.0] * 5,
        "",
        2.0,
        40.0,
        "ok",
    )
    first: tuple[tuple[Value, ...], ...] = tuple(
        (
            *(n, 1, "Flood", f"Top, part {n} of 2, wet into wet", f"{n} of 2", 1.1),
            *parts_and_doses,
            f"Batch {n} of 2: Flood",
            f"Clear, 1 A : 1 B by volume, A first. Layer 1, batch {n} of 2",
            f"Bar: Top, part {n} of 2, wet into wet. 1.0 m², 1000 µm wet",
            "",
            "1. Pour A: 605 g (to the 550 mL mark)",
            "2. Pour B: 550 g (to the 1,100 mL mark)",
            *("", "", ""),
            "3. Mix 2 min with a paddle, scrape sides and bottom, mix again",
            "",
            "4. Pour out at once; out of the bucket by 28, worked by 40 min after the start of "
            "mixing",
            *("", ""),
            "Weigh it (surer), or read a level bucket. Scale to 0 each time. "
            "Leftover: pour out thin.",
            "Gloves, goggles, respirator as its safety data sheet says: it can sensitise skin and "
            "lungs for life. No draught on the wet coat. Never leave mixed resin in the bucket, it "
            "heats itself. No flame near solvent; an extinguisher by every torch.",
        )
        for n in (1, 2)
    )
    blank: tuple[Value, ...] = ("",) * len(RESULTS)
    return first + (blank,) * (ROWS - 2)


PB_BATCHES = Function(
    name="PB_BATCHES",
    summary="What goes into every batch of the option offered, in the order of the work.",
    arguments=ARGUMENTS,
    result=f"{ROWS} rows, one a batch: parts, additions, minutes, a status, the texts of its card",
    valid=f"as for PB_PLAN; up to {ROWS} batches, each to be weighed to 0.1 g within the tolerance",
    source="mass balance; a batch's share of a dose per area is its share of the area; "
    "steps of scales and bucket marks: common practice, no source",
    examples=(Example(EXAMPLE_ARGUMENTS, _example()),),
    compute=compute,
    columns=RESULTS,
    rows=ROWS,
)
