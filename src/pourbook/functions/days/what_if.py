"""PB_CASES: the option to offer as it is planned, and six cases beside it, each a full plan.

Contract: :data:`ROWS` rows, the plan as it is first. Every case changes one thing of the job and is
planned, bought and put on the calendar by the very functions behind Batches, Buying and Days; what
cannot be done says why in place of its figures. Without a day the work starts there is no calendar,
and visits and last date are blank. A blank entry of the sheet means what its help says.
"""

from __future__ import annotations

import math
from dataclasses import replace

from pourbook import units
from pourbook.cells import CHECK, OK, Rows, Value, as_mapping, choice, is_blank, number, text
from pourbook.dates import serial
from pourbook.errors import BlankError, InputError, PourbookError, RangeError, UnknownError
from pourbook.functions.batch import mixes, pass_film, seams
from pourbook.functions.batch.mixes import Refused
from pourbook.functions.days import calendar
from pourbook.functions.days.whole_plan import WholePlan, changed
from pourbook.functions.days.whole_price import RATES, rates_of
from pourbook.functions.declare import Argument, Example, Function, Result
from pourbook.tables import layers as layer_table
from pourbook.tables import reading, rooms
from pourbook.tables.buy.packs import PACKS, STOCK, charge_of
from pourbook.tables.declared import Column
from pourbook.tables.doing import DOING
from pourbook.tables.job_tables import JobTables, going_of
from pourbook.tables.layers import OPTIONS
from pourbook.tables.measured import ROOM_COLUMNS, MeasuredPiece
from pourbook.trade.days.schedule import LATE
from pourbook.trade.days.visits import visits

ROWS = 7
WARMER = 5.0
"""What a blank *Warmer by* means, K."""
LAST = 999
CASES = ("warmer", "helpers", "last", "option", "bucket")
LABELS = {
    "warmer": "Warmer by",
    "helpers": "More helpers",
    "last": "Poured last",
    "option": "Other option",
    "bucket": "Buckets of",
}
RESULTS = (
    Column("case", "What is other than planned"),
    Column("case_batches", "Batches of all its layers"),
    Column("case_worst", "The most of its pot life any batch takes, as a share"),
    Column("case_packs", "Packs to buy of all coatings"),
    Column("case_cost", "What they cost"),
    Column("case_visits", "Dates on site"),
    Column("case_last", "The last of them"),
    Column("case_status", "ok, CHECK with what comes too late, or why it cannot be done"),
)


def _warmer(plan: WholePlan, cell: Value) -> tuple[str, WholePlan]:
    degree = units.to_si(1.0, plan.system.temperature) - units.to_si(0.0, plan.system.temperature)
    more = WARMER / degree if is_blank(cell) else number(cell, LABELS["warmer"])
    if not -100 <= more <= 100:
        raise RangeError(f"it is {more:g}", "type -100 to 100", LABELS["warmer"])

    def add(value: Value) -> Value:
        return value + more if isinstance(value, int | float) and not is_blank(value) else value

    named = ("temperature", "night", "surface")
    site = {n: add(v) if n in named else v for n, v in plan.site.items()}
    warm = replace(plan, hourly=changed(plan.hourly, 0, add), site=site)
    word = "warmer" if more >= 0 else "colder"
    return f"Site {abs(more):g} {plan.system.temperature} {word}", warm


def _helpers(plan: WholePlan, cell: Value) -> tuple[str, WholePlan]:
    more = 1.0 if is_blank(cell) else number(cell, LABELS["helpers"])
    crew = number(plan.site["crew"], "Crew") + more
    if more != int(more) or crew < 1:
        mend = "type a whole number that leaves one person and more"
        raise RangeError(f"it is {more:g}", mend, LABELS["helpers"])
    who = "helper" if abs(more) == 1 else "helpers"
    what = f"{abs(more):g} {who} {'more' if more >= 0 else 'less'}"
    return what, replace(plan, site={**plan.site, "crew": crew})


def _last(plan: WholePlan, cell: Value) -> tuple[str, WholePlan]:
    piece, order = (ROOM_COLUMNS.index(name) for name in ("piece", "order"))
    rows = [row for row in plan.tables.rooms if not is_blank(row[piece])]
    orders = ((row[order], row) for row in rows)
    ranked = [(at, row) for at, row in orders if isinstance(at, int | float) and at]
    if is_blank(cell) and not ranked:
        raise BlankError("no piece of Rooms has a Pour order", "type a piece", LABELS["last"])
    name = text(cell) or text(min(ranked, key=lambda one: one[0])[1][piece])
    if name.casefold() not in {text(row[piece]).casefold() for row in rows}:
        raise UnknownError(f"there is no piece '{name}'", "see the Rooms sheet", LABELS["last"])
    key = name.casefold()

    def later(one: MeasuredPiece) -> MeasuredPiece:
        return one._replace(order=LAST) if one.named.casefold() == key else one

    return f"{name} last", plan.with_pieces(later)


def _split(plan: WholePlan, _cell: Value) -> tuple[str, WholePlan]:
    return "All pieces may be split", plan.split()


def _option(plan: WholePlan, cell: Value) -> tuple[str, WholePlan]:
    column = layer_table.COLUMNS.index("option")
    used = {text(row[column]).upper() for row in plan.tables.layers}
    known = [option for option in OPTIONS if option in used and option != plan.option]
    if is_blank(cell) and not known:
        raise InputError("no other option has layers", "see Layers", LABELS["option"])
    other = known[0] if is_blank(cell) else choice(cell, LABELS["option"], OPTIONS)
    return f"Option {other}", replace(plan, option=other)


def _bucket(plan: WholePlan, cell: Value) -> tuple[str, WholePlan]:
    column, unit, fluids = DOING.index("bucket"), plan.system.volume, plan.system.fluids
    doing = plan.tables.doing

    def size(value: Value) -> float:
        return reading.labelled(value, "volume", LABELS["bucket"], unit, fluids)

    if is_blank(cell):
        twice = changed(
            doing,
            column,
            lambda value: value if is_blank(value) else 2 * units.express(size(value), unit),
        )
        return "Buckets twice as large", replace(plan, tables=replace(plan.tables, doing=twice))
    volume = size(cell)
    if volume <= 0:
        raise RangeError("it is 0", "type what a bucket holds", LABELS["bucket"])
    same = changed(doing, column, lambda _: units.express(volume, unit))
    what = f"Buckets of {units.show(volume, unit, 2)}"
    return what, replace(plan, tables=replace(plan.tables, doing=same))


_CHANGES = (
    ("warmer", _warmer),
    ("helpers", _helpers),
    ("last", _last),
    ("", _split),
    ("option", _option),
    ("bucket", _bucket),
)


def _figures(plan: WholePlan) -> list[Value]:
    """Return the figures of one case, and its status.

    Raises:
        PourbookError: It cannot be done.
    """
    chosen, placed = plan.chosen(), plan.placed()
    warmth = calendar.warmths(placed) if placed else []
    worst = 0.0
    given = (plan.tables, plan.kelvin, plan.crew, plan.option)
    for mix in mixes.mixes(*given, warmth=warmth, planned=plan.planned):
        if isinstance(mix, Refused):
            raise mix.error.again()
        mix.refuse_late(plan.system)
        worst = max(worst, mix.takes / mix.use_by)
    packs, cost = plan.bought(chosen)
    on_site = visits(placed.lines) if placed else []
    said = [*map(seams.told, chosen), *(pass_film.told(one, plan.system) for one in chosen)]
    if placed:
        said += [line.note for line in placed.lines if line.note.startswith(LATE)]
    return [
        sum(one.batches for one in chosen),
        worst,
        packs,
        cost,
        len(on_site) if placed else "",
        math.floor(serial(on_site[-1].start)) if on_site else "",
        next((word for word in said if word.startswith(CHECK)), OK),
    ]


def compute(
    layers: Rows,
    doing: Rows,
    products: Rows,
    working: Rows,
    room_rows: Rows,
    hourly: Rows,
    system_name: str,
    option: Value,
    *given: Value | Rows,
) -> Result:
    """Return the rows of PB_CASES."""
    last = len(calendar.SITE)
    site: dict[str, Value] = dict(zip(calendar.SITE, calendar.parted(given[:last])[0], strict=True))
    steps, packs, stock, day, cases, rates = [*given[last : last + 6], None][:6]
    system = rooms.system_of(system_name)
    rows = (layers, doing, products, working, room_rows)
    tables = JobTables(*rows, system, going_of(site["going"]))
    chosen = choice(option, "Option to offer", OPTIONS)
    charge = charge_of(rates_of(rates)["charge"])
    plan = WholePlan(tables, hourly, chosen, site, steps, packs, stock, day, charge)  # type: ignore[arg-type]
    typed = dict.fromkeys(CASES) | {
        name: as_mapping(row, ("cases",))["cases"]
        for name, row in zip(CASES, cases, strict=False)  # type: ignore[arg-type]
    }
    found = [_row("As planned", plan)]
    for name, change in _CHANGES:
        cell = typed.get(name)
        try:
            what, case = change(plan, cell)
            found.append(_row(what, case.alone()))
        except PourbookError as error:
            why = _not_done(error) if is_blank(cell) else error.cell_text()
            found.append([LABELS[name], *[""] * (len(RESULTS) - 2), why])
    return found


def _row(what: str, plan: WholePlan) -> list[Value]:
    try:
        return [what, *_figures(plan)]
    except PourbookError as error:
        return [what, *[""] * (len(RESULTS) - 2), _not_done(error)]


def _not_done(error: PourbookError) -> str:
    """Return why a case cannot be done: it is an answer, and no fault of the workbook."""
    return f"cannot be done: {error.said()}"


_MORE = (
    Argument(
        "packs", "rows", "the entry columns of Packs, on Buying", columns=PACKS, optional=True
    ),
    Argument(
        "stock", "rows", "the entry columns of Stock, on Buying", columns=STOCK, optional=True
    ),
    Argument("day", "measure", "the day of work, on Buying", optional=True),
    Argument("cases", "rows", "what is typed on What if", columns=("cases",), optional=True),
    Argument("rates", "rows", "the rates, on Price", columns=("rate",), optional=True),
)
_WORST_WARM = 0.42630577489130367  # 8 min of 40 / 1.46², see trade/cure/heat.py
_KIT = ("Clear", "kit", "2 L", 60.0, None, None)

PB_CASES = Function(
    name="PB_CASES",
    summary="The option to offer as planned and six cases beside it, each a full plan.",
    arguments=(*calendar.ARGUMENTS, *_MORE),
    result=f"{ROWS} rows: the case, batches, worst use of pot life, packs, their cost, visits, "
    "the last date, and ok or why it cannot be done",
    valid="as PB_BATCHES, PB_BUY and PB_DAYS",
    source="Pourbook itself",
    examples=(
        Example(
            (
                *calendar.EXAMPLE,
                (_KIT,),
                (tuple([None] * len(STOCK)),),
                None,
                ((None,),) * 5,
                ((None,),) * len(RATES),
            ),
            (
                ("As planned", 2, 0.2, 2, 120.0, 1, 46398, "ok"),
                ("Site 5 °C warmer", 2, _WORST_WARM, 2, 120.0, 1, 46398, "ok"),
                ("1 helper more", 2, 0.2, 2, 120.0, 1, 46398, "ok"),
                (
                    "Poured last",
                    *[""] * 6,
                    "cannot be done: Poured last: no piece of Rooms has a Pour order: type a piece",
                ),
                ("All pieces may be split", 2, 0.2, 2, 120.0, 1, 46398, "ok"),
                (
                    "Other option",
                    *[""] * 6,
                    "cannot be done: Other option: no other option has layers: see Layers",
                ),
                ("Buckets twice as large", 1, 0.35, 2, 120.0, 1, 46398, "ok"),
            ),
        ),
    ),
    compute=compute,
    columns=RESULTS,
    rows=ROWS,
)
