"""PB_CALLS: of every call a price from-to, visits and back in use by, one call for the table.

Contract: a result row for each row of the table. The range is where the quote of such a call lies
as often as *The range holds for* says, by how far the quotes typed under *Came to* lie off their
first figures; the shop's own figure counts as four quotes. It is rounded outwards to tens.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from functools import lru_cache

from pourbook.cells import OK, Rows, Value, as_mapping, row_of
from pourbook.dates import day_number
from pourbook.errors import PourbookError, WaitsError
from pourbook.functions.batch.plans import EXAMPLE_WORKING
from pourbook.functions.calls import call_rows, first_figure
from pourbook.functions.calls.call_rows import COLUMNS, Call, read_call, read_settings
from pourbook.functions.calls.first_figure import ShopTables
from pourbook.functions.days.whole_price import LABOUR, RATES, SUNDRIES, FirstFigure
from pourbook.functions.declare import Argument, Example, Function, Result
from pourbook.functions.mix.amounts import EXAMPLE_PRODUCT
from pourbook.once import once
from pourbook.tables import products as product_table
from pourbook.tables import works as work_table
from pourbook.tables.declared import Column
from pourbook.tables.rooms import system_of
from pourbook.tables.row_loop import next_each, read_each, rows_each
from pourbook.trade.learning import Learned, Prior, learn
from pourbook.trade.price.call_range import quote_range

WORTH = 4.0
"""How many quotes the shop's own figure counts as."""
STEP = 10.0
"""What a range is rounded outwards to, in the shop's currency."""
RESULTS = (
    Column("price_from", "The price before tax, from"),
    Column("price_to", "The price before tax, to"),
    Column("call_visits", "Dates on site"),
    Column("back_by", "The day it may be used lightly again"),
    Column("rests_on", "What the width of the range rests on"),
    Column("call_status", "ok, or what to ask or mend"),
)


@once
def _reckoner(shop: ShopTables) -> Callable[[Call], FirstFigure]:
    """Return what works out a call of this shop, each once: one typed leaves the others."""
    return lru_cache(maxsize=256)(lambda call: first_figure.first_figure(call, shop))


def figures(
    calls: Rows, shop: ShopTables
) -> Sequence[tuple[Call, FirstFigure] | PourbookError | None]:
    """Return every call with what it would come to, in its row.

    What is wrong in the shop's own tables is said there: a call waits for it.
    """

    def read(row: dict[str, Value]) -> Call:
        return read_call(row, shop.settings, shop.system)

    found = read_each(calls, COLUMNS, lambda _, row: read(row))
    reckon = _reckoner(shop)

    def worked(call: Call) -> tuple[Call, FirstFigure]:
        try:
            return call, reckon(call)
        except PourbookError as error:
            if error.where == call_rows.LABELS["finish"]:
                raise
            raise WaitsError(error.what, error.mend, error.where) from None

    return next_each(found, lambda _, call: worked(call))


def learned(
    found: Sequence[tuple[Call, FirstFigure] | PourbookError | None], off: float
) -> Learned:
    """Return how far the next quote lies off its first figure, as a ratio.

    Args:
        found: The calls, those that came to a quote among them.
        off: How far one quote in three lies off, as a fraction, before any is typed.
    """
    known = (one for one in found if isinstance(one, tuple))
    ratios = [call.came_to / first.net for call, first in known if call.came_to and first.net > 0]
    return learn("price", ratios, Prior(1.0, math.log1p(off), WORTH))


def compute(
    calls: Rows,
    finishes: Rows,
    products: Rows,
    working: Rows,
    prices: Rows,
    sundries: Rows,
    labour: Rows,
    system_name: str,
    site: Rows,
    rates: Rows,
    pace: Rows,
    settings: Rows,
) -> Result:
    """Return the rows of PB_CALLS."""
    system = system_of(system_name)
    tables = (calls, finishes, products, working, prices, sundries, labour)
    for rows, argument in zip(tables, PB_CALLS.arguments, strict=False):
        for row in rows[:1]:
            as_mapping(row, argument.columns)  # a range of the wrong width is no call's fault
    shop = ShopTables(
        finishes,
        products,
        working,
        prices,
        sundries,
        labour,
        system,
        call_rows.column_of(site, first_figure.SITE, "site"),
        call_rows.column_of(rates, RATES, "rates"),
        call_rows.column_of(pace, first_figure.PACE, "pace"),
        read_settings(settings, system),
    )
    found = figures(calls, shop)
    scatter = learned(found, shop.settings.off)
    count = f"{scatter.jobs} quote{'s' * (scatter.jobs > 1)}" if scatter.jobs else "usual figure"

    def shown(one: tuple[Call, FirstFigure]) -> list[Value]:
        first = one[1]
        back = "" if first.back is None else float(day_number(first.back))
        low, high = quote_range(first.net, scatter, shop.settings.sure)
        prices = math.floor(low / STEP) * STEP, math.ceil(high / STEP) * STEP
        return [*prices, first.visits, back, count, OK]

    return rows_each(found, len(RESULTS), shown)


_FINISH = row_of(
    first_figure.FINISH,
    finish="Clear coat",
    layer="Flood",
    product="Clear",
    method="pour",
    surfaces="top",
    spread="1 mm",
    bucket="12 L",
    pace=10.0,
)
_PRICE = row_of(
    first_figure.PRICES, product="Clear", holds="kit", contents=2.0, price=60.0, **{"from": 46300.0}
)
_FORMS = (
    ((2.0,), (8.0,), (16.0,), ("Mon-Fri",)),
    tuple((c,) for c in (50.0, 30.0, 0.2, "direct cost", "margin", 0.25, None, None, None, 4.0)),
    ((10.0,), (20.0,), (2.0,), (2.0,)),
    ((20.0,), (14.0,), (None,), (None,), (None,), (0.12,), (0.8,)),
)

PB_CALLS = Function(
    name="PB_CALLS",
    summary="Of every call a price from-to, dates on site and the day it may be used again.",
    arguments=(
        Argument("calls", "rows", "the entry columns of Calls", columns=COLUMNS),
        Argument(
            "finishes",
            "rows",
            "the layers of each finish, on Finishes",
            columns=first_figure.FINISH,
        ),
        Argument("products", "rows", "the Products table", columns=product_table.COLUMNS),
        Argument("working", "rows", "the second table of Products", columns=work_table.COLUMNS),
        Argument("prices", "rows", "the entry columns of Prices", columns=first_figure.PRICES),
        Argument("sundries", "rows", "the sundries", columns=SUNDRIES),
        Argument("labour", "rows", "the steps of labour", columns=LABOUR),
        Argument("system", "text", "the unit system on the Start sheet"),
        Argument("site", "rows", "crew, working hours and days, on Start", columns=("cell",)),
        Argument("rates", "rows", "the rates on Start", columns=("cell",)),
        Argument("pace", "rows", "how fast the crew prepares, on Start", columns=("cell",)),
        Argument("settings", "rows", "how calls are worked out", columns=("cell",)),
    ),
    result="one row a call: price from, price to, visits, back in use by, what the range rests on, "
    "ok or what to ask or mend",
    valid="as PB_BATCHES, PB_BUY and PB_DAYS; a finish whose layers can be planned",
    source="Pourbook itself; the width of the range: normal-inverse-gamma model, textbook result, "
    "from memory",
    examples=(
        Example(
            (
                (row_of(COLUMNS, call_date=46340.0, finish="Clear coat", area=2.0),),
                (_FINISH,),
                (EXAMPLE_PRODUCT,),
                (EXAMPLE_WORKING,),
                (_PRICE,),
                (row_of(SUNDRIES),),
                (row_of(LABOUR),),
                "metric",
                *_FORMS,
            ),
            ((1510.0, 2240.0, 3, 46359.0, "usual figure", OK),),
        ),
    ),
    compute=compute,
    columns=RESULTS,
)
