"""PB_BOARD: of all jobs together, who is in two places at once and whose the stock is.

Contract: one call for the board. Its ranges stand side by side, and so does the result: in the row
of a visit stands what it clashes with, in that of a need what it takes, of a can what is left of
it, and of a day who is where. What is blank gives blanks.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import TypeVar

from pourbook import units
from pourbook.cells import OK, Rows, Value, as_mapping, is_blank, number, refuse_errors, text, word
from pourbook.dates import day_number, from_serial, read_date
from pourbook.errors import BlankError, InputError, RangeError
from pourbook.functions.declare import Argument, Example, Function, Result
from pourbook.tables.declared import Column
from pourbook.tables.rooms import system_of
from pourbook.tables.row_loop import read_each, rows_each
from pourbook.trade.board.clashes import AtJob, clashes
from pourbook.trade.board.reserve import Can, Claim, reserve

DAYS = ("row", "day")
VISITS = ("visit_job", "visit_crew", "visit_from", "visit_until")
NEEDS = ("need_job", "need_firm", "need_product", "need_amount", "need_day")
CANS = ("can_product", "can_lot", "can_here", "can_use_by", "can_amount")
CREWS = 8
"""How many crews a board has columns for."""
NAMES = tuple(f"name_{n}" for n in range(1, CREWS + 1))
ON_ORDER = "on order"
"""The lot of what has not come yet."""
RESULTS = (
    Column("clash", "The jobs where the crew is to be at the same time"),
    Column("need_shelf", "What the job takes from the shelf", "volume"),
    Column("need_lots", "From which lots, earliest expiry first"),
    Column("need_order", "What it takes of what is on order", "volume"),
    Column("need_short", "What is still to be bought for it", "volume"),
    Column("can_taken", "What jobs take of it", "volume"),
    Column("can_free", "What no job takes", "volume"),
    Column("can_fits", "A job not accepted yet that what accepted jobs leave of it would do"),
    *(Column(f"crew_{n}", f"Where crew {n} of the list is on that day") for n in range(1, 9)),
    Column("board_status", "ok, or what to fix"),
)
_AFTER = 3
"""Decimals of an amount beside a lot: a thousandth of the unit of volume."""
_LAST_DAY, _MOST = 2_958_466.0, 1e9
"""The day after the last a spreadsheet knows; more than any shop holds, in any unit."""
LABELS = {
    "visit_job": "Job", "visit_crew": "Crew", "visit_from": "From", "visit_until": "Until",
    "need_job": "Job", "need_firm": "Accepted", "need_product": "Product",
    "need_amount": "Still needs", "need_day": "On", "can_product": "Product", "can_lot": "Lot",
    "can_here": "Comes on", "can_use_by": "Use by", "can_amount": "There is",
    "row": "Row", "day": "Day", **dict.fromkeys(NAMES, "Crews"),
}  # fmt: skip
_One = TypeVar("_One")


def compute(
    days: Rows, visits: Rows, needs: Rows, cans: Rows, crews: Rows, system_name: str
) -> Result:
    """Return the rows of PB_BOARD."""
    system = system_of(system_name)
    most = len(days)
    placed = _each(visits, VISITS, _visit, most)
    wanted = _each(needs, NEEDS, lambda row: _need(row, system), most)
    held = _each(cans, CANS, lambda row: _can(row, system), most)
    names = [text(name) for row in crews[:1] for name in _checked(row, NAMES).values()]
    table: list[dict[str, Value]] = [{c.id: "" for c in RESULTS} for _ in range(most)]
    for row in table:
        row["board_status"] = OK
    _show_clashes(table, placed, visits)
    _show_stock(table, wanted, held, (needs, cans), system)
    where = _where(placed, visits, names)

    def dated(at: int, row: Mapping[str, Value]) -> list[Value]:
        refuse_errors(row, LABELS)
        number(row["row"], LABELS["row"])
        day = None if is_blank(row["day"]) else _day(row["day"], LABELS["day"])
        for n in range(1, CREWS + 1):
            table[at][f"crew_{n}"] = "" if day is None else "; ".join(where.get((day, n), []))
        return [table[at][c.id] for c in RESULTS]

    return rows_each(read_each(days, DAYS, dated), len(RESULTS), lambda row: row)


def _each(
    rows: Rows,
    columns: tuple[str, ...],
    read: Callable[[Mapping[str, Value]], _One | None],
    most: int,
) -> list[_One | None]:
    """Read every row of a range; rows beyond those of the board are blank, or refused."""
    found = [read(_checked(row, columns)) for row in rows]
    if any(one is not None for one in found[most:]):
        what = f"the range has more rows than the {most} of the board"
        raise InputError(what, "give ranges of the same rows", LABELS[columns[0]])
    return found[:most]


def _checked(row: Sequence[Value], columns: tuple[str, ...]) -> dict[str, Value]:
    found = as_mapping(row, columns)
    refuse_errors(found, LABELS)
    return found


def _visit(row: Mapping[str, Value]) -> AtJob | None:
    if is_blank(row["visit_job"]):
        return None
    begins, ends = (number(row[n], LABELS[n]) for n in ("visit_from", "visit_until"))
    if not 1.0 <= begins <= ends < _LAST_DAY:
        raise RangeError("it is no day and time, or ends before it begins", "type both", "From")
    return AtJob(word(row["visit_job"]), word(row["visit_crew"]), begins, ends)


def _need(row: Mapping[str, Value], system: units.System) -> Claim | None:
    if is_blank(row["need_product"]):
        return None
    amount = units.to_si(_amount(row["need_amount"], LABELS["need_amount"]), system.volume)
    firm = word(row["need_firm"]) == "yes"
    return Claim(word(row["need_product"]), amount, _day(row["need_day"], "On"), firm)


def _can(row: Mapping[str, Value], system: units.System) -> Can | None:
    if is_blank(row["can_product"]):
        return None
    here, use_by = (
        None if is_blank(row[name]) else _day(row[name], LABELS[name])
        for name in ("can_here", "can_use_by")
    )
    amount = units.to_si(_amount(row["can_amount"], LABELS["can_amount"]), system.volume)
    return Can(word(row["can_product"]), amount, here, use_by)


def _amount(value: Value, label: str) -> float:
    amount = number(value, label)
    if not 0.0 <= amount <= _MOST:
        raise RangeError(f"it is {amount:g}", "type 0 or more", label)
    return amount


def _day(value: Value, label: str) -> int:
    if is_blank(value):
        raise BlankError("it is blank", "type a date", label)
    return day_number(read_date(value, label))


def _show_clashes(
    table: Sequence[dict[str, Value]], placed: Sequence[AtJob | None], rows: Rows
) -> None:
    there = [at for at, one in enumerate(placed) if one is not None]
    for at, others in zip(there, clashes([v for v in placed if v is not None]), strict=True):
        said = [text(rows[there[other]][0]) for other in others]
        table[at]["clash"] = f"CHECK: {', '.join(dict.fromkeys(said))}" if said else "ok"


def _show_stock(
    table: Sequence[dict[str, Value]],
    wanted: Sequence[Claim | None],
    held: Sequence[Can | None],
    rows: tuple[Rows, Rows],
    system: units.System,
) -> None:
    needs, cans = rows
    asked = [at for at, one in enumerate(wanted) if one is not None]
    there = [at for at, one in enumerate(held) if one is not None]
    listed = [one for one in wanted if one is not None]
    stock = [one for one in held if one is not None]
    taken = reserve(listed, stock)
    left = [can.amount for can in stock]
    rest = [can.amount for can in stock]
    for at, need, takes in zip(asked, listed, taken, strict=True):
        shelf = order = 0.0
        lots = []
        for place, amount in takes.items():
            left[place] -= amount
            rest[place] -= amount * need.firm
            lot = text(cans[there[place]][1])
            if word(lot) == ON_ORDER:
                order += amount
                continue
            shelf += amount
            lots.append(f"{lot}: {round(units.express(amount, system.volume), _AFTER):g}")
        table[at] |= {
            "need_shelf": units.express(shelf, system.volume),
            "need_lots": ", ".join(lots),
            "need_order": units.express(order, system.volume),
            "need_short": units.express(max(need.amount - shelf - order, 0.0), system.volume),
        }
    for place, at in enumerate(there):
        free = max(left[place], 0.0)
        table[at] |= {
            "can_taken": units.express(stock[place].amount - free, system.volume),
            "can_free": units.express(free, system.volume),
            "can_fits": _fits(stock[place], rest[place], asked, listed, needs),
        }


def _fits(can: Can, rest: float, asked: Sequence[int], listed: Sequence[Claim], needs: Rows) -> str:
    """Return the largest job, not accepted yet, that the rest of a can would do whole."""
    fitting = [
        (need.amount, text(needs[at][0]))
        for at, need in zip(asked, listed, strict=True)
        if not need.firm
        and need.product == can.product
        and need.amount <= rest
        and (can.here is None or can.here <= need.day)
        and (can.use_by is None or need.day <= can.use_by)
    ]
    return max(fitting, default=(0.0, ""))[1]


def _where(
    placed: Sequence[AtJob | None], rows: Rows, crews: Sequence[str]
) -> dict[tuple[int, int], list[str]]:
    """Return the jobs of a day, by the day and the number of the crew, with the hour they begin."""
    numbers = {word(name): n for n, name in enumerate(crews, start=1) if name}
    found: dict[tuple[int, int], list[str]] = {}
    for at, one in enumerate(placed):
        if one is not None and one.crew in numbers:
            said = f"{text(rows[at][0])} {from_serial(one.begins):%H:%M}"
            found.setdefault((int(one.begins), numbers[one.crew]), []).append(said)
    return found


_BLANKS = ("",) * 8
PB_BOARD = Function(
    name="PB_BOARD",
    summary="Of all jobs together: crews in two places at once, stock by job, who is where.",
    arguments=(
        Argument("days", "rows", "number and day of each row of the board", columns=DAYS),
        Argument("visits", "rows", "job, crew, from and until of each visit", columns=VISITS),
        Argument(
            "needs",
            "rows",
            "job, yes if it was accepted, product, amount and day",
            columns=NEEDS,
        ),
        Argument(
            "cans",
            "rows",
            "product, lot ('on order' for what is to come), since when, use-by day, amount",
            columns=CANS,
        ),
        Argument("crews", "rows", "the names of the crews, in one row", columns=NAMES),
        Argument("system", "text", "the unit system of the board"),
    ),
    result="a row for each row of the board: clash, what a need takes, "
    "what is left of a can, and where each crew is on a day",
    valid="amounts of 0 and more; at most eight crews",
    source="Pourbook itself: earliest expiry first; best for cans that serve a run of days, "
    "Glover 1967, from memory",
    examples=(
        Example(
            (
                ((1, 46400.0),),
                (("Bar", "North", 46400.375, 46400.625),),
                (("Bar", "yes", "Clear", 3.0, 46400.0),),
                (("Clear", "C-1", None, 46500.0, 2.0),),
                (("North", *(None,) * 7),),
                "metric",
            ),
            (("ok", 2.0, "C-1: 2", 0.0, 1.0, 2.0, 0.0, "", "Bar 09:00", *_BLANKS[1:], OK),),
        ),
    ),
    compute=compute,
    columns=RESULTS,
)
