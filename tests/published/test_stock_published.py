"""Published stock ledgers: first in first out as a quote takes its stock, the mean as Settle does.

Status beside each figure: read (in the source itself), computed (from figures read).
"""

from __future__ import annotations

import datetime as dt
import math
from pathlib import Path

import pytest
from tests.archive import making

from pourbook import units
from pourbook.functions.buy.purchase import purchase
from pourbook.job.fill import Entry
from pourbook.tables.buy.packs import OnHand
from pourbook.trade.buying import Lot
from pourbook.workbook.check.check import check_file
from pourbook.workbook.layout.laid_out import Layout
from pourbook.workbook.read.named import NamedCells

# 50 at 124, 50 at 134, 30 at 142 and 70 at 146; 80 are left at the end of the year. First in first
# out: 15,740 is used and 11,640 is left; solutioninn.com 11819525, a textbook exercise; read
LAYERS = ((50, 124.0), (50, 134.0), (30, 142.0), (70, 146.0))
USED, USED_COST, LEFT_COST = 120, 15_740.0, 11_640.0

# 107 at 10, 107 at 26, 57 at 25 and 50 at 20; 154 are used and 167 left. Weighted average: 3,265.60
# is left and 3,011.40 used; wizedu.com 341507, its second solution; read
AVERAGED = ((107, 10.0), (107, 26.0), (57, 25.0), (50, 20.0))
REST, SHELF, CHARGED = 167.0, 3_265.60, 3_011.40


@pytest.mark.parametrize("turned", [False, True])
def test_what_a_quote_takes_from_the_shelf_is_first_in_first_out(turned: bool) -> None:
    """Lots bought one after the other keep as long as each other: the oldest is used up first."""
    litre = units.to_si(1.0, "L")
    lots = [
        OnHand(
            row=at,
            holds="kit",
            lot=Lot(f"lot {at}", (count * litre,), dt.date(2027, 1 + at, 1)),
            worth=price / litre,
        )
        for at, (count, price) in enumerate(LAYERS)
    ]
    system = units.SYSTEMS["metric"]
    taken = purchase(
        (USED * litre,), (), lots[::-1] if turned else lots, dt.date(2026, 12, 1), system
    )
    assert taken.stock_cost == USED_COST
    whole = math.fsum(count * price for count, price in LAYERS)
    assert whole - taken.stock_cost == LEFT_COST


def test_settle_values_the_shelf_at_the_weighted_average(
    demo_us: Path, plan_us: Layout, tmp_path: Path
) -> None:
    more: dict[Entry, object] = {("left", "rest", 0): REST}
    for row, (count, price) in enumerate(AVERAGED):
        more |= {
            ("receipts", name, row): value
            for name, value in {
                "supplier": "Supplier", "document": f"INV-{row}", "kind": "bought",
                "date": making.FIRST.day - dt.timedelta(days=9 - row), "product": making.PRODUCT,
                "holds": "kit", "lot": f"L-{row}", "packs": count, "contents": 1.0, "price": price,
            }.items()
        }  # fmt: skip
    more["left", "lot", 0] = "L-0"
    made = making.Made("Averaged", lot="L-0", extra=more)
    checked = check_file(making.make(demo_us, tmp_path / "job.xlsx", plan_us, made))
    cells = NamedCells(checked.plan, checked.book, checked.values)
    assert cells.words("settle_state", "state") == "ok"
    assert cells.number("settle_money", "shelf", 0) == SHELF
    assert cells.number("settle_money", "actual", 0) == CHARGED
