"""PB_LOOKS: what is worked out and may not be meant, and which of it somebody has looked at.

Contract: a look is no fault. It is closed by a row of the table below it that names it and has
initials and a reason, and it is open again as soon as the figure in its name is another. Open looks
stand first; what the sheet has no rows for is counted in the last one.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import zip_longest

from pourbook.cells import (
    OK,
    Rows,
    Value,
    as_mapping,
    refuse_errors,
    row_of,
    same_length,
    text,
    word,
)
from pourbook.functions.declare import Argument, Example, Function, Result
from pourbook.functions.own.look_rules import Look, Seen, is_held_up, seen
from pourbook.records import dataclass
from pourbook.tables import layers, products, rooms, substrates, works
from pourbook.tables.declared import Column, declared
from pourbook.tables.rooms import system_of
from pourbook.tables.used import log_rows

ROWS = 24
OPEN, CLOSED = "open", "closed"
RATES = ("overhead", "overhead_on", "uplift_is", "uplift")
CLOSING, STEPS = declared("closed").columns, declared("labour").columns
ISSUED = ("product", "came")


def _table(rows: Rows, columns: Sequence[str], what: str) -> list[dict[str, Value]]:
    found = []
    labels = dict.fromkeys(columns, what)
    for cells in rows:
        row = as_mapping(cells, columns)
        if not any(map(is_held_up, row.values())):
            refuse_errors(row, labels)
        found.append(row)
    return found


def _list(rows: Rows, what: str) -> list[Value]:
    return [row[what] for row in _table(rows, (what,), what)]


def looks(
    tax: Rows,
    rates: Rows,
    pieces: Rows,
    coats: Rows,
    coatings: Rows,
    cures: Rows,
    surveyed: Rows,
    labour: Rows,
    log: Rows,
    verdicts: Rows,
    reasons: Rows,
    issued: Rows,
    counted: Rows,
    closing: Rows,
    system: str,
) -> Result:
    """Return the looks of a job, open ones first, each with what is usual and who has closed it.

    Raises:
        InputError: A range has the wrong number of columns, or a cell shows an error or a refusal.
    """
    same_length(log, verdicts)
    same_length(log, reasons)
    (charged,) = _table([[row[0] for row in rates if row]], RATES, "Rates")
    job = Seen(
        rooms=_table(pieces, rooms.COLUMNS, "Rooms"),
        layers=_table(coats, layers.COLUMNS, "Layers"),
        products=_table(coatings, products.COLUMNS, "Products"),
        working=_table(cures, works.COLUMNS, "Products"),
        survey=_table(surveyed, substrates.COLUMNS, "Survey"),
        rates=charged,
        labour=_table(labour, STEPS, "Labour"),
        tax=next(iter(_list(tax, "Tax")), None),
        log=_table(log, log_rows.COLUMNS, "Log"),
        verdicts=_list(verdicts, "Verdict"),
        reasons=_list(reasons, "Reason"),
        issued=_table(issued, ISSUED, "Issued"),
        counted=_list(counted, "Counted"),
        system=system_of(system),
    )
    return _listed(seen(job), _closings(closing))


@dataclass(frozen=True)
class Closing:
    """What somebody wrote to close a look; both initials and a reason close it."""

    initials: str
    reason: str


def _closings(rows: Rows) -> dict[str, Closing]:
    """Return who closed which look, by the name of the look as it compares."""
    return {
        word(row["look"]): Closing(text(row["initials"]), text(row["reason"]))
        for row in _table(rows, CLOSING, "Looked at")
        if word(row["look"])
    }


def _listed(found: Sequence[Look], closings: Mapping[str, Closing]) -> list[list[Value]]:
    """Return as many rows as the sheet has: open looks, then closed ones."""
    opened: list[list[Value]] = []
    closed: list[list[Value]] = []
    for look in found:
        by = closings.get(word(look.name))
        shut = by is not None and bool(by.initials and by.reason)
        said = "" if by is None else "initials and reason missing"
        if by is not None and shut:
            said = f"{by.initials}: {by.reason}"
        state = CLOSED if shut else OPEN
        entry = ".".join(str(part) for part in look.entry)
        (closed if shut else opened).append(
            [look.name, look.where, look.usual, look.meant, state, said, OK, entry]
        )
    listed = opened + closed
    if len(listed) > ROWS:
        more = len(listed) - ROWS + 1
        state = OPEN if len(opened) >= ROWS else CLOSED
        last: list[Value] = [f"{more} more", "", "", "close those above first", state, "", OK, ""]
        listed = [*listed[: ROWS - 1], last]
    blank: list[Value] = ["", "", "", "", "", "", OK, ""]
    return [row or blank for row, _ in zip_longest(listed, range(ROWS))]


_COAT = row_of(
    layers.COLUMNS, "", option="A", layer="Base", product="Clear", method="pour", loss=0.0015
)
_PIECE = row_of(rooms.COLUMNS, "", room="Bar", piece="Bar top", shape="rectangle", a=8, b="24 ft")
_EXAMPLE: tuple[Value | tuple[tuple[Value, ...], ...], ...] = (
    *(((0.07,),), ((0.1,), ("labour",), ("margin",), (0.4,)), (_PIECE,), (_COAT,)),
    *(
        (("",) * len(columns),)
        for columns in (products.COLUMNS, works.COLUMNS, substrates.COLUMNS, STEPS)
    ),
    *((("",) * len(log_rows.COLUMNS),), (("",),), (("",),), (("", ""),), (("",),)),
    *((("Loss of base: 0.15 %", "RK", "a level top"),), "us"),
)
_LOOKS = (
    (
        *("Bar, Bar top is 8 in by 24 ft", "Rooms, row 1 of its table"),
        *("no top is more than 5.0 ft deep", "another unit may be meant, inches or mm"),
        *(OPEN, "", OK, "rooms.b.0"),
    ),
    (
        *("Loss of Base: 0.15 %", "Layers, row 1 of its table"),
        *("5 to 12 % poured, 10 to 15 % rolled", "15 % may be meant"),
        *(CLOSED, "RK: a level top", OK, "layers.loss.0"),
    ),
    *(("", "", "", "", "", "", OK, ""),) * (ROWS - 2),
)

PB_LOOKS = Function(
    name="PB_LOOKS",
    summary="What may not be meant as it is typed, what is usual, and who has looked at it.",
    arguments=(
        Argument("tax", "rows", "the tax rate", columns=("tax",)),
        Argument(
            "rates", "rows", "overhead, what it is on, how profit is set, profit", columns=("rate",)
        ),
        Argument("rooms", "rows", "the entry columns of the Rooms table", columns=rooms.COLUMNS),
        Argument("layers", "rows", "the entry columns of Layers", columns=layers.COLUMNS),
        Argument("products", "rows", "the entry columns of Products", columns=products.COLUMNS),
        Argument("working", "rows", "the table Working and curing", columns=works.COLUMNS),
        Argument("survey", "rows", "what is there now", columns=substrates.COLUMNS),
        Argument("labour", "rows", "labour by step", columns=STEPS),
        Argument("log", "rows", "the log of batches", columns=log_rows.COLUMNS),
        Argument("verdicts", "rows", "the verdict on each row of the log", columns=("verdict",)),
        Argument("reasons", "rows", "the reason of each verdict", columns=("reason",)),
        Argument("issued", "rows", "each product, and what was issued of it", columns=ISSUED),
        Argument("counted", "rows", "the products that were counted", columns=("product",)),
        Argument("closing", "rows", "the looks somebody has closed", columns=CLOSING),
        Argument("system", "text", "the measure system of the job"),
    ),
    result="a block: each look, where it is, what is usual or may be meant, whether it is closed",
    valid="always",
    source="bands: common practice, no source",
    examples=(Example(_EXAMPLE, _LOOKS),),
    compute=looks,
    columns=(
        Column("look", "What to look at, with the figure it is about"),
        Column("look_where", "The sheet and row it is about"),
        Column("look_usual", "What is usual (common practice, no source)"),
        Column("look_meant", "What else may be meant"),
        Column("look_state", "open, or closed"),
        Column("look_by", "Initials and reason of who closed it"),
        Column("look_status", "ok, or why it cannot be told"),
        Column("look_entry", "Block, column and row of the entry it is about"),
    ),
    rows=ROWS,
)
