"""PB_BUY, PB_PACKS and PB_STOCK: what to buy for each option, pack by pack and lot by lot.

Contract: one result row for each row of Products, Packs or Stock, in the job's units. PB_BUY shows
all options side by side, and refuses an option's purchase without holding up the others; the other
two show the option to offer. The plan itself is :mod:`pourbook.functions.buy.purchase`.
"""

from __future__ import annotations

import math
from typing import TypeVar

from pourbook import units
from pourbook.cells import OK, Rows, Value, choice, text
from pourbook.errors import FAILED, PourbookError
from pourbook.functions.buy import running_short
from pourbook.functions.buy.purchase import (
    PART_COLUMNS,
    Bought,
    Job,
    from_stock,
    left_over,
    read_job,
    to_buy,
)
from pourbook.functions.declare import Argument, Example, Function, Result
from pourbook.functions.mix.amounts import EXAMPLE_PRODUCT
from pourbook.tables import products as product_table
from pourbook.tables.buy.packs import PACKS, PACKS_OPENED, STOCK, OnHand, OnSale, charge_of
from pourbook.tables.buy.settled_losses import COLUMNS as SETTLED_LOSSES
from pourbook.tables.declared import Column
from pourbook.tables.layers import OPTIONS
from pourbook.tables.rooms import system_of
from pourbook.tables.row_loop import filled, rows_each

T = TypeVar("T")

BUY_RESULTS = (
    Column("buy_product", "The product of the same row of Products"),
    Column("need_a", "What option A mixes of it", "volume"),
    Column("need_b", "What option B mixes of it", "volume"),
    Column("need_c", "What option C mixes of it", "volume"),
    Column("cost_a", "What is charged for its packs and its stock for option A"),
    Column("cost_b", "What is charged for its packs and its stock for option B"),
    Column("cost_c", "What is charged for its packs and its stock for option C"),
    Column("spare", "Bought and from stock less needed, of the part there is least of", "volume"),
    Column("proof", "cheapest, or how far the purchase may be from it"),
    Column("buy_a", "What to buy for option A: how many, kit or part, and its size", "volume"),
    Column("buy_b", "What to buy for option B: how many, kit or part, and its size", "volume"),
    Column("buy_c", "What to buy for option C: how many, kit or part, and its size", "volume"),
    Column("left_over", "What is left of the packs, and until when it keeps", "volume"),
    Column("from_stock", "What is taken from which lot, and what is past its day", "volume"),
    Column("buy_status", "ok, or what to fix"),
    *running_short.RESULTS,
)
PACK_RESULTS = (
    Column("count", "How many to buy for the option to offer"),
    Column("pack_cost", "What they cost"),
    Column("pack_left", "What is left over of what the pack holds", "volume"),
    Column("pack_status", "ok, or what to fix in this row"),
)
STOCK_RESULTS = (
    Column("used", "What the option to offer takes from it", "volume"),
    Column("rest", "What stays on the shelf", "volume"),
    Column("stock_status", "ok, expired, or what to fix in this row"),
)
_CENT = 0.005


def compute_buy(
    parts: Rows,
    products: Rows,
    packs: Rows,
    stock: Rows,
    system_name: str,
    serial: float | None = None,
    amount_rows: Rows = (),
    settled: Rows = (),
    option: str | None = None,
    trip: Value = None,
    charge: Value = None,
) -> Result:
    """Return the result rows of PB_BUY."""
    system = system_of(system_name)
    job = read_job(parts, products, packs, stock, system, serial)
    wanted = _option(option)
    charged = charge_of(charge)
    risk = running_short.read_risk(amount_rows, settled, wanted, trip, system)
    result: list[list[Value]] = [[""] * len(BUY_RESULTS) for _ in products]
    for index, row in filled(products, product_table.COLUMNS):
        name = text(row["product"])
        short = running_short.told(job.purchase(wanted, name), name, risk)
        result[index] = [name, *_bought(job, name, charged), *short]
    return result


def _bought(job: Job, name: str, charge: str) -> list[Value]:
    found = {option: job.purchase(option, name) for option in OPTIONS}
    good = {o: b for o, b in found.items() if isinstance(b, Bought)}
    refused = {str(b): b for b in found.values() if isinstance(b, PourbookError)}
    failed = bool(refused)
    system, on_date = job.system, job.on_date

    def each(shown: dict[str, Value]) -> list[Value]:
        return [
            FAILED if isinstance(b, PourbookError) else shown.get(o, "") for o, b in found.items()
        ]

    def spoken(words: dict[str, str]) -> Value:
        return FAILED if failed else _by_option(words)

    least = min((b.spare for b in good.values()), default=0.0)
    status = OK
    if failed:
        said, error = next(iter(refused.items()))
        hit = " and ".join(
            o for o, b in found.items() if isinstance(b, PourbookError) and str(b) == said
        )
        status = error.under(f"Option {hit}").cell_text()
    spare: Value = units.express(least, system.volume) if good else ""
    return [
        *(_needed(job.need.get((o, name.casefold())), system) for o in OPTIONS),
        *each({o: b.cost(charge) for o, b in good.items()}),
        FAILED if failed else spare,
        FAILED if failed else _proof(list(good.values())),
        *each({o: to_buy(b) for o, b in good.items()}),
        spoken({o: left_over(b, on_date, system) for o, b in good.items()}),
        spoken({o: from_stock(b, on_date, system) for o, b in good.items()}),
        status,
    ]


def _needed(need: tuple[float, ...] | PourbookError | None, system: units.System) -> Value:
    if isinstance(need, PourbookError):
        return FAILED
    return "" if need is None else units.express(math.fsum(need), system.volume)


def _proof(bought: list[Bought]) -> str:
    if not bought:
        return "not needed"
    gap = max(b.made.cost - b.made.bound for b in bought)
    if all(b.made.proved for b in bought) or gap < _CENT:
        return "cheapest"
    return f"at most {gap:,.2f} too dear"


def _by_option(words: dict[str, str]) -> str:
    """Return what is said of each option; what is the same of several stands once.

    Example:
        >>> _by_option({"A": "1 L", "B": "1 L", "C": ""})
        'A, B: 1 L'
    """
    grouped: dict[str, list[str]] = {}
    for option, said in words.items():
        if said:
            grouped.setdefault(said, []).append(option)
    return "; ".join(f"{', '.join(options)}: {said}" for said, options in grouped.items())


def compute_packs(
    packs: Rows,
    parts: Rows,
    products: Rows,
    stock: Rows,
    system_name: str,
    serial: float | None = None,
    option: str | None = None,
) -> Result:
    """Return the result rows of PB_PACKS."""
    job = read_job(parts, products, packs, stock, system_of(system_name), serial)
    wanted = _option(option)

    def shown(item: OnSale) -> list[Value]:
        return _counted(item, job.bought(wanted, job.pack_names[item.row]), job.system)

    return rows_each(job.packs, len(PACK_RESULTS), shown)


def _counted(item: OnSale, bought: Bought | None, system: units.System) -> list[Value]:
    if bought is None:
        return [0, 0.0, 0.0, OK]
    place = next(at for at, sale in enumerate(bought.sales) if sale.row == item.row)
    count = bought.made.counts[place]
    held = [at for at, amount in enumerate(item.pack.contents) if amount > 0]
    left = math.fsum(bought.made.left_over[at] for at in held) if count else 0.0
    return [count, count * item.pack.price, units.express(left, system.volume), OK]


def compute_stock(
    stock: Rows,
    parts: Rows,
    products: Rows,
    packs: Rows,
    system_name: str,
    serial: float | None = None,
    option: str | None = None,
) -> Result:
    """Return the result rows of PB_STOCK."""
    job = read_job(parts, products, packs, stock, system_of(system_name), serial)
    wanted = _option(option)

    def shown(item: OnHand) -> list[Value]:
        return _taken(item, job.bought(wanted, job.lot_names[item.row]), job)

    return rows_each(job.stock, len(STOCK_RESULTS), shown)


def _taken(item: OnHand, bought: Bought | None, job: Job) -> list[Value]:
    taken = 0.0
    if bought is not None:
        place = next(at for at, lot in enumerate(bought.lots) if lot.row == item.row)
        taken = math.fsum(bought.use.taken[place])
    whole = math.fsum(item.lot.contents)
    return [
        units.express(taken, job.system.volume),
        units.express(max(0.0, whole - taken), job.system.volume),
        _shelf(item, job),
    ]


def _shelf(item: OnHand, job: Job) -> str:
    if item.lot.expiry is None or (job.on_date and item.lot.expiry >= job.on_date):
        return OK
    if job.on_date is None:
        return "not used: no day of work to hold its expiry to"
    return "expired, not used: dispose of it as its safety data sheet says"


def _option(option: str | None) -> str:
    return choice(option, "Option to offer", OPTIONS) if option else ""


_PARTS = Argument("parts", "rows", "the parts of each layer on Amounts", columns=PART_COLUMNS)
_PRODUCTS = Argument(
    "products", "rows", "the entry columns of the Products table", columns=product_table.COLUMNS
)
_PACKS = Argument("packs", "rows", "the entry columns of the Packs table", columns=PACKS)
_STOCK = Argument("stock", "rows", "the entry columns of the Stock table", columns=STOCK)
_SYSTEM = Argument("system", "text", "the unit system on the Start sheet")
_DATE = Argument("date", "number", "the day of work, if it is known", optional=True)
_OPTION = Argument("option", "text", "the option to offer on the Price sheet", optional=True)
_VALID = "whole packs; prices of 0 and more; contents above 0; stock used up to its last day"
_SOURCE = "covering knapsack by exact search (Martello and Toth 1990, from memory)"

EXAMPLE_PARTS: tuple[Value, ...] = (
    *("A", 1, "Flood", "Clear"),
    *(1.1, 1.1, 0.0, 1210.0, 1100.0, 0.0, 0.0, 0.0, 0.0),
    "ok",
)
EXAMPLE_PACKS = (("Clear", "kit", "2 L", 60.0, 180, None), ("Clear", "B", "0.5 L", 14.0, None, 4))
EXAMPLE_STOCK = ("Clear", "7", "A", "0.1 L", 46400.0, 30.0)
EXAMPLE_DAY = 46350.0

_EXAMPLE_AMOUNTS = ("A", 1, "Flood", "Clear", 2.0, 2.0, 1.0, 1.0, 2.0, 0, 0, 0, 0.2, 2.2, 2, "ok")
# 2.2 L are there and 2.0 stay: short beyond a loss of 1/11, logit -2.3026, as is 10 % less 0.1054.
# Student's t of 4 degrees by scipy 1.17, stdtr, for both chances.
_EXAMPLE_SHORT = (0.6154361872939066, "1 x kit 2", 60.0, 0.001198385860470603, "one more", "ok")

PB_BUY = Function(
    name="PB_BUY",
    summary="The cheapest whole packs of every product for each option, after stock on hand.",
    arguments=(
        *(_PARTS, _PRODUCTS, _PACKS, _STOCK, _SYSTEM, _DATE),
        Argument(
            "amounts",
            "rows",
            "the results of Amounts, for the chance of running short",
            columns=running_short.AMOUNT_COLUMNS,
            optional=True,
        ),
        Argument(
            "settled",
            "rows",
            "the table on what settled jobs say, on Buying",
            columns=SETTLED_LOSSES,
            optional=True,
        ),
        _OPTION,
        Argument("trip", "measure", "what a second trip costs, on Start", optional=True),
        Argument("charge", "text", "what a quote charges, on Price", optional=True),
    ),
    result="one row a product: need, cost and packs of each option, left over, stock, a status; "
    "for the option to offer the chance of running short and what one more pack does to it",
    valid=_VALID,
    source=_SOURCE,
    examples=(
        Example(
            (
                (EXAMPLE_PARTS,),
                (EXAMPLE_PRODUCT,),
                EXAMPLE_PACKS,
                (EXAMPLE_STOCK,),
                "metric",
                EXAMPLE_DAY,
                (_EXAMPLE_AMOUNTS,),
                (("Clear", 0.1, 0.3, 0),),
                "A",
                400.0,
                PACKS_OPENED,
            ),
            (
                (
                    "Clear",
                    2.2,
                    "",
                    "",
                    77.0,
                    "",
                    "",
                    0.0,
                    "cheapest",
                    "1 x kit 2; 1 x B 0.5",
                    "",
                    "",
                    "A: 0.4 part B until 2027-05-23",
                    "A: 0.1 part A of 7",
                    "ok",
                    *_EXAMPLE_SHORT,
                ),
            ),
        ),
    ),
    compute=compute_buy,
    columns=BUY_RESULTS,
)

PB_PACKS = Function(
    name="PB_PACKS",
    summary="How many of each pack to buy for the option to offer.",
    arguments=(_PACKS, _PARTS, _PRODUCTS, _STOCK, _SYSTEM, _DATE, _OPTION),
    result="one row a pack: how many, what they cost, what is left over, and a status",
    valid=_VALID,
    source=_SOURCE,
    examples=(
        Example(
            (
                EXAMPLE_PACKS,
                (EXAMPLE_PARTS,),
                (EXAMPLE_PRODUCT,),
                (EXAMPLE_STOCK,),
                "metric",
                EXAMPLE_DAY,
                "A",
            ),
            ((1, 60.0, 0.4, "ok"), (1, 14.0, 0.4, "ok")),
        ),
    ),
    compute=compute_packs,
    columns=PACK_RESULTS,
)

PB_STOCK = Function(
    name="PB_STOCK",
    summary="What the option to offer takes from each lot in stock, and which lots are expired.",
    arguments=(_STOCK, _PARTS, _PRODUCTS, _PACKS, _SYSTEM, _DATE, _OPTION),
    result="one row a lot: what is taken, what stays, and a status",
    valid=_VALID,
    source="earliest expiry first, the usual store rule",
    examples=(
        Example(
            (
                (EXAMPLE_STOCK,),
                (EXAMPLE_PARTS,),
                (EXAMPLE_PRODUCT,),
                EXAMPLE_PACKS,
                "metric",
                EXAMPLE_DAY,
                "A",
            ),
            ((0.1, 0.0, "ok"),),
        ),
    ),
    compute=compute_stock,
    columns=STOCK_RESULTS,
)

FUNCTIONS = (PB_BUY, PB_PACKS, PB_STOCK)
