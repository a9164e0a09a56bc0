"""Margin, markup, rounding and the price build-up: behaviour, refusals and properties."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.oracles.pricing import (
    margin_from_markup,
    markup_from_margin,
    per_area,
    replacement_range,
)

from pourbook.errors import InputError
from pourbook.trade.price.build_up import (
    PriceBuildUp,
    build_up,
    price_from_margin,
    price_from_markup,
    round_money,
    tax,
)

money = st.floats(0.0, 1e5)
margins = st.floats(0.0, 0.95)

JOB: dict[str, Any] = {
    "material": 300.0,
    "sundries": 50.0,
    "labour": 400.0,
    "travel": 50.0,
    "overhead_rate": 0.5,
    "overhead_on": "labour",
    "uplift": "margin",
    "uplift_rate": 0.2,
    "minimum": 0.0,
    "tax_rate": 0.08,
}


def job(**changes: Any) -> PriceBuildUp:
    """Build up the plain job with some figures changed."""
    return build_up(**(JOB | changes))


@given(margins)
def test_margin_and_markup_are_inverse(margin: float) -> None:
    assert margin_from_markup(markup_from_margin(margin)) == pytest.approx(margin, abs=1e-12)


@given(money, margins)
def test_price_by_margin_is_price_by_its_markup(cost: float, margin: float) -> None:
    price = price_from_margin(cost, margin)
    assert price == pytest.approx(price_from_markup(cost, markup_from_margin(margin)))
    assert price - cost == pytest.approx(margin * price, abs=1e-9)


@given(st.integers(-(10**10), 10**10))
def test_rounding_is_exact_on_every_tenth_of_a_cent(tenths: int) -> None:
    whole, tenth = divmod(abs(tenths), 10)
    cents = whole + (tenth >= 5)
    assert round_money(tenths / 1000) == math.copysign(cents, tenths) / 100


@given(st.integers(0, 10**6), st.integers(1, 99))
def test_rounding_survives_the_noise_of_arithmetic(half_cents: int, n: int) -> None:
    exact = half_cents / 200
    noisy = math.fsum([exact / n] * n)
    assert round_money(noisy) == round_money(exact)


@pytest.mark.parametrize(
    ("amount", "rounded"),
    [
        (1.005, 1.01),
        (2.675, 2.68),
        (1.115, 1.12),
        (0.285, 0.29),
        (1.00499, 1.0),
        (-1.005, -1.01),
        (-1.00499, -1.0),
        (1.1 * 1.1 * 100, 121.0),
        (0.0049999, 0.0),
    ],
)
def test_halves_go_away_from_zero(amount: float, rounded: float) -> None:
    assert round_money(amount) == rounded


def test_nothing_is_never_shown_as_minus_nothing() -> None:
    assert math.copysign(1, round_money(-0.001)) == 1


def test_build_up_line_by_line() -> None:
    built = job()
    assert built.direct == pytest.approx(800.0)
    assert built.overhead == pytest.approx(200.0)
    assert built.cost == pytest.approx(1000.0)
    assert built.price_before_tax == 1250.0
    assert built.profit == pytest.approx(250.0)
    assert built.minimum_top_up == 0.0
    assert built.tax == 100.0
    assert built.price == 1350.0


def test_overhead_may_lie_on_all_direct_cost() -> None:
    assert job(overhead_on="direct cost").overhead == pytest.approx(400.0)


def test_markup_and_margin_are_not_the_same() -> None:
    assert job(uplift="markup").price_before_tax == 1200.0


def test_minimum_charge_tops_up_the_price_and_the_profit() -> None:
    built = job(minimum=1400.0)
    assert built.price_before_tax == 1400.0
    assert built.minimum_top_up == 150.0
    assert built.profit == pytest.approx(400.0)
    assert built.tax == 112.0


def test_minimum_below_the_price_changes_nothing() -> None:
    assert job(minimum=1249.99) == job()


def test_rounding_falls_into_the_profit() -> None:
    built = job(material=100.004, uplift_rate=0.0)
    assert built.cost == pytest.approx(800.004)
    assert built.price_before_tax == 800.0
    assert built.profit == pytest.approx(-0.004)


jobs = st.fixed_dictionaries(
    {
        "material": money,
        "sundries": money,
        "labour": money,
        "travel": money,
        "overhead_rate": st.floats(0.0, 2.0),
        "overhead_on": st.sampled_from(["labour", "direct cost"]),
        "uplift": st.sampled_from(["margin", "markup"]),
        "uplift_rate": margins,
        "minimum": money,
        "tax_rate": st.floats(0.0, 0.3),
    }
)


@given(jobs)
def test_build_up_adds_up_to_the_cent(figures: dict[str, Any]) -> None:
    built = build_up(**figures)
    costs = (figures["material"], figures["sundries"], figures["labour"], figures["travel"])
    assert built.cost == pytest.approx(math.fsum([*costs, built.overhead]))
    assert round_money(built.cost + built.profit) == built.price_before_tax
    assert round_money(built.price_before_tax + built.tax) == built.price
    for amount in (built.price_before_tax, built.minimum_top_up, built.tax, built.price):
        assert amount * 100 == pytest.approx(round(amount * 100), abs=1e-6)


@given(jobs)
def test_price_is_the_uplifted_cost_or_the_minimum(figures: dict[str, Any]) -> None:
    built, rate = build_up(**figures), figures["uplift_rate"]
    uplifted = built.cost / (1 - rate) if figures["uplift"] == "margin" else built.cost * (1 + rate)
    expected = max(uplifted, figures["minimum"])
    assert built.price_before_tax == pytest.approx(expected, abs=0.005001)
    top_up = max(0.0, figures["minimum"] - uplifted)
    assert built.minimum_top_up == pytest.approx(top_up, abs=0.010001)


@given(money, st.floats(0.1, 1000.0))
def test_price_per_area_spreads_the_price(price: float, area: float) -> None:
    assert per_area(price, area) * area == pytest.approx(price)


def test_tax_and_replacement() -> None:
    assert tax(250.0, 0.08) == pytest.approx(20.0)
    assert replacement_range(4.0, 400.0, 900.0) == pytest.approx((1600.0, 3600.0))
    assert replacement_range(4.0, 400.0, 400.0) == pytest.approx((1600.0, 1600.0))


@pytest.mark.parametrize(
    "refused",
    [
        lambda: margin_from_markup(-0.1),
        lambda: markup_from_margin(1.0),
        lambda: markup_from_margin(-0.1),
        lambda: price_from_margin(100.0, 1.0),
        lambda: price_from_margin(-1.0, 0.3),
        lambda: price_from_markup(100.0, -0.1),
        lambda: price_from_markup(-1.0, 0.1),
        lambda: tax(-1.0, 0.1),
        lambda: tax(1.0, -0.1),
        lambda: round_money(math.nan),
        lambda: round_money(math.inf),
        lambda: round_money(1e300),
        lambda: per_area(100.0, 0.0),
        lambda: per_area(-1.0, 1.0),
        lambda: replacement_range(0.0, 1.0, 2.0),
        lambda: replacement_range(1.0, -1.0, 2.0),
        lambda: replacement_range(1.0, 3.0, 2.0),
        lambda: job(uplift_rate=1.0),
        lambda: job(overhead_on="nothing"),
        lambda: job(uplift="both"),
        *(
            lambda name=name: job(**{name: -1.0})
            for name, figure in JOB.items()
            if isinstance(figure, float)
        ),
    ],
)
def test_bad_figures_are_refused(refused: Callable[[], object]) -> None:
    with pytest.raises(InputError):
        refused()
