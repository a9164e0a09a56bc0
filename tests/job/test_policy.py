"""What a job pays for: packs opened or amounts used, and whether what comes back has worth.

By hand, of tests/archive/making: 2 gallons quoted for 100.00, 3 bought at 52.00, 2 of them back.
Pro rata by volume is common practice, no source.
"""

from __future__ import annotations

import shutil
from fractions import Fraction
from pathlib import Path

import pytest
from tests.archive import making
from tests.command_line import run
from tests.conftest import ACCEPTED
from tests.job.settling import receipt

from pourbook.job.accept import accept
from pourbook.job.fill import Entry, fill
from pourbook.workbook.check.check import check_file
from pourbook.workbook.layout.laid_out import Layout
from pourbook.workbook.read.named import NamedCells

pytestmark = pytest.mark.in_turn(2)

USED = {("rates", "charge", 0): "Amounts used"}
LOST = {("rates", "leftovers", 0): "without worth"}


def _cells(path: Path) -> NamedCells:
    checked = check_file(path)
    return NamedCells(checked.plan, checked.book, checked.values)


@pytest.fixture(scope="module")
def used_us(demo_us: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the demo with amounts used charged."""
    path = tmp_path_factory.mktemp("policy") / "used.xlsx"
    fill(demo_us, path, dict(USED), force=False)
    return path


def _exact(cells: NamedCells, block: str, name: str, row: int) -> Fraction:
    """Return a figure as it is written; a size has its unit behind it."""
    return Fraction(str(cells.value(block, name, row) or 0).split()[0])


def test_amounts_used_are_the_share_of_packs_and_stock_that_is_mixed(
    demo_us: Path, used_us: Path
) -> None:
    """Worked out in fractions from the packs and lots that the sheet lists."""
    packs, used = _cells(demo_us), _cells(used_us)
    seen = 0
    for row in packs.rows("buying", "buy_product"):
        if not isinstance(packs.value("buying", "cost_a", row), int | float):
            continue
        name, paid, held = packs.words("buying", "buy_product", row), Fraction(0), Fraction(0)
        for pack in packs.rows("packs", "product"):
            if packs.words("packs", "product", pack) == name:
                count = _exact(packs, "packs", "count", pack)
                paid += count * _exact(packs, "packs", "price", pack)
                held += count * _exact(packs, "packs", "contents", pack)
        for lot in packs.rows("stock", "product"):
            if packs.words("stock", "product", lot) == name:
                taken = _exact(packs, "stock", "used", lot)
                paid += taken * _exact(packs, "stock", "worth", lot)
                held += taken
        need = _exact(packs, "buying", "need_a", row)
        assert need < held
        assert packs.number("buying", "cost_a", row) == pytest.approx(float(paid), abs=0.005)
        assert used.number("buying", "cost_a", row) == round(float(paid * need / held), 2)
        seen += 1
    assert seen == 3
    for name in ("packs", "cost", "from_stock"):
        assert used.number("shopping", name) == packs.number("shopping", name), "same to buy"
    assert used.number("shopping", "to_job") == used.number("price", "material", 0)
    assert used.number("price", "material", 0) < packs.number("price", "material", 0)


def test_each_way_is_told_alike_on_price_buying_and_settle(
    demo_us: Path, used_us: Path, tmp_path: Path
) -> None:
    for start, charges in ((demo_us, "packs opened"), (used_us, "amounts used")):
        for more, worth in (({}, 1.0), (LOST, 0.0)):
            path = tmp_path / f"{charges}-{worth}.xlsx"
            fill(start, path, dict(more), force=False)
            cells = _cells(path)
            assert cells.words("rates", "charge").casefold() in {"", charges}
            assert {cells.words(b, "charges") for b in ("shopping", "settle_state")} == {charges}
            assert cells.number("settle_state", "worth") == worth


def test_what_comes_back_without_worth_stays_with_the_job(
    demo_us: Path, plan_us: Layout, tmp_path: Path
) -> None:
    first = making.make(demo_us, tmp_path / "first.xlsx", plan_us, making.FIRST)
    worth, lost = _cells(first), tmp_path / "lost.xlsx"
    fill(first, lost, dict(LOST), force=False)
    without = _cells(lost)
    paid = 3 * 52.0
    assert worth.number("settle_sums", "actual") == paid - 2 * 52.0
    assert without.number("settle_sums", "actual") == paid
    assert without.number("settle_money", "shelf", 0) == 0.0
    assert without.number("settle_waste", "returned", 0) == 0.0
    assert without.number("settle", "shelved", 0) == 2.0, "it is on the shelf all the same"
    assert without.number("journal_amounts", "stock") == 0.0
    assert without.number("settle_money", "price", 0) == 3 * (52.0 - 50.0)
    for cells in (worth, without):
        assert cells.number("settle_sums", "residual") == 0.0
        assert cells.number("settle_state", "tie") == 0.0


def test_stock_takes_back_what_has_no_worth_at_nothing(
    demo_us: Path, plan_us: Layout, demo_shop: Path, tmp_path: Path
) -> None:
    values = {}
    for name, more in (("worth", {}), ("without", LOST)):
        job = making.make(demo_us, tmp_path / f"{name}.xlsx", plan_us, making.FIRST)
        fill(job, job, dict(more), force=True)
        shelf = tmp_path / f"shop-{name}.xlsx"
        shutil.copy(demo_shop, shelf)
        assert run("stock", shelf, "--from", job) == 0
        cells = _cells(shelf)
        back = [
            cells.number("movements", "value", row)
            for row in cells.rows("movements", "kind")
            if cells.words("movements", "kind", row) == "back on the shelf"
            and cells.words("movements", "job", row) == "First"
        ]
        values[name] = back
    assert values == {"worth": [104.0], "without": [0.0]}


@pytest.mark.parametrize("back", [{}, LOST])
def test_paid_as_quoted_has_no_price_difference_with_amounts_used(
    used_us: Path, tmp_path: Path, back: dict[Entry, object]
) -> None:
    """Every pack bought at its price, every lot taken, and what is not mixed goes back."""
    job = tmp_path / "job.xlsx"
    fill(used_us, job, dict(back), force=False)
    accepted = tmp_path / "accepted.xlsx"
    accept(job, accepted, on=ACCEPTED)
    kept = _cells(accepted)
    quoted = kept.number("quoted_lines", "amount", 0)
    assert quoted == pytest.approx(kept.number("price", "material", 0), abs=1e-9)
    typed: dict[Entry, object] = {}
    held: dict[str, float] = {}
    for row in kept.rows("quoted_packs", "product"):
        product = kept.words("quoted_packs", "product", row)
        contents, price = (kept.number("quoted_packs", n, row) for n in ("contents", "price"))
        lot = kept.words("quoted_packs", "lot", row)
        more = {"kind": "from shelf", "lot": lot} if lot else {}
        count = 1 if lot else int(kept.number("quoted_packs", "count", row))
        typed |= receipt(row, product, count, contents, price, **more)
        held[product] = held.get(product, 0.0) + count * contents
    mixed = {
        kept.words("quoted_products", "product", row): kept.number("quoted_products", "mixed", row)
        for row in kept.rows("quoted_products", "product")
    }
    for row, (product, volume) in enumerate(held.items()):
        typed |= {
            ("left", name, row): value
            for name, value in {
                "product": product, "date": typed["receipts", "date", 0],
                "rest": volume - mixed[product], "goes": "back on the shelf",
            }.items()
        }  # fmt: skip
    fill(accepted, accepted, typed, force=True)
    cells = _cells(accepted)
    assert cells.words("settle_state", "state") == "ok"
    for row in cells.rows("settle", "product"):
        product = cells.words("settle", "product", row)
        assert cells.number("settle", "quoted", row) == pytest.approx(mixed[product])
        difference = cells.number("settle_money", "difference", row)
        if not back:
            assert cells.number("settle_money", "price", row) == pytest.approx(0.0, abs=0.01)
            assert difference == pytest.approx(0.0, abs=0.01)
        else:
            assert difference > 0, "nobody was quoted the rests"


def test_a_job_takes_both_from_the_shop(demo_shop: Path, tmp_path: Path) -> None:
    shop = tmp_path / "shop.xlsx"
    fill(demo_shop, shop, {**USED, **LOST}, force=False)
    assert run("new", tmp_path / "job.xlsx", "--shop", shop) == 0
    cells = _cells(tmp_path / "job.xlsx")
    assert [cells.words("rates", n) for n in ("charge", "leftovers")] == [
        "Amounts used",
        "without worth",
    ]


def test_a_word_of_nobody_is_told(demo_us: Path, tmp_path: Path) -> None:
    path = tmp_path / "job.xlsx"
    fill(demo_us, path, {("rates", "charge", 0): "whole tins"}, force=False)
    found = [f for f in check_file(path).findings if f.id == "entry.choice"]
    assert [("whole tins" in f.what, f.cell) for f in found] == [(True, "B17")], found


def test_explain_tells_the_share(used_us: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """By hand: 2.56728 of 3.4 gallons, which cost 228.00 and 31.60: 196.02."""
    plan = check_file(used_us).plan
    cell = plan.cell("buying", "cost_a", 0)
    assert run("explain", used_us, f"{cell.sheet}!{cell.address}") == 0
    assert "Option A, amounts used = 196.02" in capsys.readouterr().out


def test_calls_of_the_shop_go_by_it(demo_shop: Path, tmp_path: Path) -> None:
    used = tmp_path / "used.xlsx"
    fill(demo_shop, used, dict(USED), force=False)
    packs, amounts = (_cells(path).number("calls", "price_from", 0) for path in (demo_shop, used))
    assert 0.8 * packs < amounts < packs
