"""Published figures for what was used against what was quoted, and for the margin left.

Status beside each figure: read (in the source itself), read second-hand, computed (from figures
read). F favourable is a difference below 0 here, U unfavourable one above.

Which row is tested by what: C1, C2, C3, C5, C16 by ``split_difference``; C8 by the same, its normal
spoilage being the loss a quote allows and its abnormal spoilage the waste; C9's figure for
spoilage not counted as output by ``allowed_amount``, which is a loss that divides (its other
figure, spoilage counted as output, belongs to a way of costing we do not have); C10 and C11 here
by ``margin_earned``, and the formulas of both, with C7 (overhead as a share of labour), in
``test_pricing_published``; C13 to C15 by *Settle* itself, with the oracle beside it; C12, an
identity, on random jobs.
"""

from __future__ import annotations

import math
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.archive import making
from tests.oracles.variance import (
    Difference,
    Quoted,
    Used,
    allowed_amount,
    margin_earned,
    purchase_difference,
    residual,
    split_difference,
    to_the_cent,
)

from pourbook.trade.price.build_up import price_from_markup, round_money
from pourbook.workbook.check.check import check_file
from pourbook.workbook.layout.laid_out import Layout
from pourbook.workbook.read.named import NamedCells


def textbook(standard: float, quoted: float, amount: float, paid: float) -> Difference:
    """Return the difference of an exercise: the standard for what was made is the allowance."""
    return split_difference(Quoted(standard, 1.0, 0.0, quoted), Used(standard, amount, paid))


SETTLED = [
    # C13: 27,500 at 6.85 used, 27,400 allowed at 6.90: price 1,375 F, quantity 690 U, total 685 F;
    # ya.guru/questions/1292046, a textbook exercise; read
    pytest.param(27_400, 6.90, 27_500, 6.85, -1_375, 690, -685, id="C13"),
    # C14: 15,000 lb at 2.90 used, 5,070 units of 3 lb allowed at 2.75: quantity 577.50 F;
    # answer.ya.guru/questions/4280972; read. Price and total are computed.
    pytest.param(15_210, 2.75, 15_000, 2.90, 2_250, -577.50, 1_672.50, id="C14"),
    # C15: 1,200 inches at 3.90 used, 1,100 allowed at 4.00: price 120 F, quantity 400 U;
    # quizplus.com quiz 157989; read, the 1,200 and 1,100 computed from them.
    pytest.param(1_100, 4.00, 1_200, 3.90, -120, 400, 280, id="C15"),
]


@pytest.mark.parametrize(
    ("standard", "quoted", "amount", "paid", "price", "usage", "total"), SETTLED
)
def test_settle_itself_gives_them(
    standard: float,
    quoted: float,
    amount: float,
    paid: float,
    price: float,
    usage: float,
    total: float,
    demo_us: Path,
    plan_us: Layout,
    tmp_path: Path,
) -> None:
    """As gallons: the packs quoted are the allowance, what was used beyond them is waste."""
    made = making.Made(
        "Textbook", net=0.8 * standard, bought=standard, cost=round(standard * quoted, 2),
        packs=100, pack_price=paid * amount / 100, left=0.0,
        extra={("receipts", "contents", 0): amount / 100},
    )  # fmt: skip
    checked = check_file(making.make(demo_us, tmp_path / "job.xlsx", plan_us, made))
    cells = NamedCells(checked.plan, checked.book, checked.values)
    assert cells.words("settle_state", "state") == "ok"
    assert cells.number("settle_money", "price", 0) == price
    assert cells.number("settle_money", "waste", 0) == usage
    assert cells.number("settle_money", "difference", 0) == total
    assert [cells.number("settle_money", n, 0) for n in ("area", "rate")] == [0.0, 0.0]


def test_c16_bought_is_not_used() -> None:
    # C16: 10,800 lb bought at 2.90, 1,080 units of 5.6 lb allowed at 3.00, 9,720 used: price
    # 1,080 F on what was bought, quantity 11,016 U; indextestingapp.uonbi.ac.ke 16729740; read
    assert purchase_difference(10_800, 2.90, 3.00) == pytest.approx(-1_080, abs=1e-9)
    assert textbook(1_080 * 5.6, 3.00, 9_720, 2.90).usage == pytest.approx(11_016, abs=1e-9)


@pytest.mark.parametrize(
    ("standard", "quoted", "amount", "paid", "price", "usage", "total"),
    [
        # C1: 185,000 lb at 6.00 allowed, 183,200 at 5.80 used: price 36,640 F, quantity 10,800 F,
        # total 47,440 F; qammunity.org/8059627, a textbook exercise; read
        pytest.param(185_000, 6.00, 183_200, 5.80, -36_640, -10_800, -47_440, id="C1"),
        # C2: 450 used for 2,925, 430 allowed at 6.90: price 180 F, quantity 138 U, total 42 F;
        # accountingqa.blogspot.com/2018/11/ex-23-5; read
        pytest.param(430, 6.90, 450, 2_925 / 450, -180, 138, -42, id="C2"),
        # C3: 4,500 lb at 6.00, 4,600 allowed at 5.50: price 2,250 U, quantity 550 F, total
        # 1,700 U; transtutors 436825, among the options of the question; read
        pytest.param(4_600, 5.50, 4_500, 6.00, 2_250, -550, 1_700, id="C3"),
        # C5: 129,000 at 2.80, 126,000 allowed at 3.00: price 25,800 F, quantity 9,000 U;
        # alumnos.planeaciondidactica.cucea.udg.mx/expertos/13092069; read. The total is computed.
        pytest.param(126_000, 3.00, 129_000, 2.80, -25_800, 9_000, -16_800, id="C5"),
        *SETTLED,
    ],
)
def test_price_and_quantity_differences(
    standard: float,
    quoted: float,
    amount: float,
    paid: float,
    price: float,
    usage: float,
    total: float,
) -> None:
    split = textbook(standard, quoted, amount, paid)
    assert split.price == pytest.approx(price, abs=1e-6)
    assert split.usage == pytest.approx(usage, abs=1e-6)
    assert split.total == pytest.approx(total, abs=1e-6)
    assert split.area == 0.0
    rounded = to_the_cent(split)
    assert (rounded.price, rounded.usage, rounded.total) == (price, usage, total)


def test_c8_normal_loss_is_allowed_and_abnormal_loss_is_waste() -> None:
    # 550 units cost 2,200 (4.00 each); 500 good, 30 normally and 20 abnormally spoiled: 2,120 go
    # to the good stock and 80 to loss; gaodun.com/q/306i75, an examination item; read. 4.24 for
    # each good unit is computed.
    split = split_difference(Quoted(500.0, 1.0, 30 / 530, 4.0), Used(500.0, 550.0, 4.0, 1.0))
    assert split.quoted == pytest.approx(2_120, abs=1e-9)
    assert split.waste == pytest.approx(80, abs=1e-9)
    assert split.actual == pytest.approx(2_200, abs=1e-9)
    assert split.quoted / 500 == pytest.approx(4.24, abs=1e-9)


def test_c9_a_loss_divides() -> None:
    # 6,000 units started for 150,000, 200 of them normally spoiled, 3,800 out; 150,000 / 5,800 is
    # 25.862 for a unit and 98,275.86 goes out. The exercise is of dummies.com, cost accounting,
    # spoilage; its inputs read, these two figures computed.
    started_each, share = 150_000 / 6_000, 200 / 6_000
    assert allowed_amount(1.0, 1.0, share) * started_each == pytest.approx(25.862, abs=5e-4)
    out = allowed_amount(3_800.0, 1.0, share) * started_each
    assert round_money(out) == 98_275.86


def test_c10_margin_left_of_a_marked_up_price() -> None:
    # cost 40 with 50 % markup sells at 60, a margin of 33.33 %;
    # calcreal.com/math/markup-calculator; read
    assert margin_earned(60.0, 40.0) == pytest.approx(0.3333, abs=5e-5)


def test_c11_margin_of_the_markup_that_makes_it() -> None:
    # 30 % margin is 42.857 % markup; computed
    assert margin_earned(price_from_markup(100.0, 0.42857), 100.0) == pytest.approx(0.30, abs=5e-6)


quoted_products = st.builds(
    Quoted,
    area=st.floats(0.0, 500.0),
    rate=st.floats(1e-5, 0.05),
    loss=st.floats(0.0, 0.9),
    price=st.floats(0.0, 1e5),
)
used_products = st.builds(
    Used,
    area=st.floats(0.0, 500.0),
    amount=st.floats(0.0, 50.0),
    price=st.floats(0.0, 1e5),
    rate=st.none() | st.floats(1e-5, 0.05),
    logged=st.none() | st.floats(0.0, 50.0),
)


def parts(split: Difference) -> list[float]:
    """Return the parts that add up to the total."""
    usage = [split.usage] if split.rate is None else [split.rate, split.waste or 0.0]
    return [split.area, *usage, split.unexplained, split.price]


@given(quoted_products, used_products)
def test_c12_the_parts_add_up(quoted: Quoted, used: Used) -> None:
    # C12: price and usage difference add up to the total when what was bought was used; the key
    # terms of an open textbook of managerial accounting (openstax.org, 8 key terms); read
    split = split_difference(quoted, used)
    # the costs anew, so that the identity is not held against its own sum
    actual = used.amount * used.price
    before = quoted.area * quoted.rate / (1 - quoted.loss) * quoted.price
    largest = max([actual, before, *map(abs, parts(split))])
    assert math.fsum(parts(split)) == pytest.approx(actual - before, abs=1e-9 * largest + 1e-12)
    if split.rate is not None and split.waste is not None:
        assert split.rate + split.waste == pytest.approx(split.usage, abs=1e-9 * largest + 1e-12)


@given(quoted_products, used_products)
def test_c12_to_the_cent_nothing_is_left_over(quoted: Quoted, used: Used) -> None:
    exact = split_difference(quoted, used)
    cents = to_the_cent(exact)
    whole = [round(100 * part) for part in parts(cents)]
    assert sum(whole) == round(100 * cents.total)
    assert round(100 * cents.total) == round(100 * cents.actual) - round(100 * cents.quoted)
    assert residual(cents) == 0.0
    for part, own in zip(parts(cents), parts(exact), strict=True):
        assert part == pytest.approx(own, abs=0.0301)  # the part that takes the cents
        assert part * 100 == pytest.approx(round(part * 100), abs=1e-5)
    for name in ("area", "unexplained", "price"):
        assert getattr(cents, name) == round_money(getattr(exact, name))


@given(st.floats(0.0, 50.0), st.floats(0.0, 50.0), st.floats(0.0, 200.0), st.floats(0.0, 200.0))
def test_c12_price_is_on_what_was_bought_where_that_was_not_used(
    used: float, spare: float, paid: float, quoted: float
) -> None:
    # C12, its second half: otherwise the price difference takes the quantity bought; read
    bought = purchase_difference(used + spare, paid, quoted)
    in_the_job = textbook(1.0, quoted, used, paid).price
    assert bought - in_the_job == pytest.approx(spare * (paid - quoted), abs=1e-8)
