"""What a job takes from the shelf is charged at what the shop paid, in the quote and in the end.

By hand: the demo takes 0.4 gallons of T-0412, for which the shop paid 79.00 a gallon: 31.60. On it
come 18 % overhead, and margin 30 %: 31.60 x 1.18 / 0.70 = 53.27 more before tax.
"""

from __future__ import annotations

from pathlib import Path

import pytest
from tests.job.settling import receipt

from pourbook.job.fill import Entry, fill
from pourbook.job.settle import settled
from pourbook.workbook.check import quoted
from pourbook.workbook.check.check import check_file
from pourbook.workbook.layout.laid_out import Layout
from pourbook.workbook.read.named import NamedCells
from pourbook.workbook.read.read import read_book

TAKEN, PAID = 0.4, 79.0


def _cells(path: Path) -> NamedCells:
    checked = check_file(path)
    return NamedCells(checked.plan, checked.book, checked.values)


def test_a_quote_charges_what_it_takes_from_the_shelf(demo_us: Path, tmp_path: Path) -> None:
    path = tmp_path / "job.xlsx"
    fill(demo_us, path, {("stock", "worth", 0): None}, force=False)
    free, paid = _cells(path), _cells(demo_us)
    assert paid.number("shopping", "from_stock") == pytest.approx(TAKEN * PAID)
    assert free.number("shopping", "from_stock") == 0.0
    assert paid.number("shopping", "cost") == free.number("shopping", "cost"), "nothing to buy"
    more = paid.number("price", "material", 0) - free.number("price", "material", 0)
    assert more == pytest.approx(31.60)
    net = paid.number("price", "net", 0) - free.number("price", "net", 0)
    assert net == pytest.approx(31.60 * 1.18 / 0.70, abs=0.005)
    other = paid.number("price", "material", 1) - free.number("price", "material", 1)
    assert other == pytest.approx(31.60), "options are alternatives: each may use the stock"


def test_what_was_accepted_says_what_the_lot_costs(accepted_us: Path, plan_us: Layout) -> None:
    kept = quoted.kept(plan_us, read_book(accepted_us))
    rows = [key[2] for key, value in kept.items() if key[:2] == ("quoted_packs", "lot") and value]
    assert [kept["quoted_packs", "lot", row] for row in rows] == ["T-0412"]
    assert kept["quoted_packs", "price", rows[0]] == pytest.approx(31.60)
    product = next(k[2] for k, v in kept.items() if k[1] == "product" and v == "Tint base")
    assert kept["quoted_products", "cost", product] == pytest.approx(228.0 + 31.60)


def test_a_job_that_paid_what_was_quoted_has_no_price_difference(
    accepted_us: Path, plan_us: Layout, tmp_path: Path
) -> None:
    """Bought pack by pack as quoted, at the prices quoted, and the lot taken from the shelf."""
    kept = quoted.kept(plan_us, read_book(accepted_us))
    typed: dict[Entry, object] = {}
    products = set()
    for row in range(24):
        if ("quoted_packs", "product", row) not in kept:
            continue
        product = str(kept["quoted_packs", "product", row])
        products.add(product)
        contents = float(str(kept["quoted_packs", "contents", row]))
        price = float(str(kept["quoted_packs", "price", row]))
        if ("quoted_packs", "lot", row) in kept:  # its price is that of all that is taken
            more = {"kind": "from shelf", "lot": kept["quoted_packs", "lot", row]}
            typed |= receipt(row, product, 1, contents, price, **more)
        else:
            count = int(float(str(kept["quoted_packs", "count", row])))
            typed |= receipt(row, product, count, contents, price)
    for row, product in enumerate(sorted(products)):
        typed |= {
            ("left", name, row): value
            for name, value in {
                "product": product, "date": typed["receipts", "date", 0], "rest": 0.0,
                "goes": "thrown away",
            }.items()
        }  # fmt: skip
    path = tmp_path / "job.xlsx"
    fill(accepted_us, path, typed, force=False)
    cells = _cells(path)
    assert cells.words("settle_state", "state") == "ok"
    for row in cells.rows("settle", "product"):
        assert cells.number("settle_money", "price", row) == 0.0
        assert cells.number("settle_money", "difference", row) == 0.0
    assert cells.number("settle_sums", "actual") == cells.number("settle_sums", "quoted")
    lines = settled.transactions(check_file(path))
    assert [p.cents for p in lines[-1].postings][-1] == -round(
        cells.number("settle_sums", "quoted") * 100
    )


@pytest.mark.parametrize(("worth", "said"), [(-1, "out of range"), ("cheap", "is no number")])
def test_what_cannot_be_paid_is_told(
    demo_us: Path, tmp_path: Path, worth: object, said: str
) -> None:
    path = tmp_path / "job.xlsx"
    fill(demo_us, path, {("stock", "worth", 0): worth}, force=False)
    found = [f for f in check_file(path).findings if f.id == "entry.number"]
    assert [said in f.what for f in found] == [True]
