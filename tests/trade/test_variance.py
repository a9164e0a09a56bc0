"""Used against quoted: one job worked by hand, refusals, and how the causes are kept apart."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest
from tests.oracles.variance import (
    Quoted,
    Used,
    allowed_amount,
    loss_fraction,
    margin_earned,
    purchase_difference,
    residual,
    split_difference,
    to_the_cent,
)

from pourbook.errors import InputError

QUOTED = Quoted(area=10.0, rate=0.001, loss=0.2, price=40_000.0)
USED = Used(area=12.0, amount=0.0180, price=41_000.0, rate=0.0011, logged=0.0175)


def test_one_job_by_hand() -> None:
    # quoted: 10 m² x 1 mm / 0.8 = 12.5 L at 40.00 a litre = 500.00
    # area:   2 m² more x 1 mm / 0.8 = 2.5 L = 100.00
    # rate:   0.1 mm more x 12 m² / 0.8 = 1.5 L = 60.00
    # waste:  17.5 L logged less 12 m² x 1.1 mm / 0.8 = 16.5 L, so 1 L = 40.00
    # unexplained: 18.0 L counted less 17.5 L = 0.5 L = 20.00
    # price:  1.00 a litre x 18 L = 18.00; actual: 18 L x 41.00 = 738.00, which is 500 + 238
    split = split_difference(QUOTED, USED)
    assert split.quoted == pytest.approx(500.0)
    assert split.area == pytest.approx(100.0)
    assert split.rate == pytest.approx(60.0)
    assert split.waste == pytest.approx(40.0)
    assert split.usage == pytest.approx(100.0)
    assert split.unexplained == pytest.approx(20.0)
    assert split.price == pytest.approx(18.0)
    assert split.actual == pytest.approx(738.0)
    assert split.total == pytest.approx(238.0)


def test_without_film_readings_rate_and_waste_are_one_usage() -> None:
    known, unknown = (
        split_difference(QUOTED, USED),
        split_difference(QUOTED, replace(USED, rate=None)),
    )
    assert unknown.rate is None
    assert unknown.waste is None
    assert unknown.usage == pytest.approx(known.usage)
    assert residual(unknown) == 0.0


def test_without_a_log_nothing_is_unexplained() -> None:
    split = split_difference(QUOTED, replace(USED, logged=None))
    assert split.unexplained == 0.0
    assert split.waste == pytest.approx(60.0)  # the 0.5 L are waste then
    assert split.total == pytest.approx(238.0)


def test_a_job_as_quoted_has_no_difference() -> None:
    used = Used(10.0, allowed_amount(10.0, 0.001, 0.2), 40_000.0, 0.001)
    cents = to_the_cent(split_difference(QUOTED, used))
    assert cents.total == 0.0
    assert (cents.area, cents.rate, cents.waste, cents.unexplained, cents.price) == (0.0,) * 5


def test_cents_fall_into_waste() -> None:
    # area, rate and price are each 0.004: 0.00 each, but the total of 0.012 is 0.01
    quoted = Quoted(1.0, 1.0, 0.0, 1.0)
    used = Used(1.004, 1.004 + 0.004, 1.0 + 0.004 / 1.008, 1.008 / 1.004)
    exact, cents = split_difference(quoted, used), to_the_cent(split_difference(quoted, used))
    assert exact.waste == pytest.approx(0.0, abs=1e-12)
    assert (cents.area, cents.rate, cents.price, cents.waste, cents.total) == (0, 0, 0, 0.01, 0.01)


def test_a_part_typed_over_shows_in_the_residual() -> None:
    cents = to_the_cent(split_difference(QUOTED, USED))
    assert residual(replace(cents, area=cents.area + 0.01)) == -0.01


def test_the_loss_of_a_settled_job_gives_back_what_was_mixed() -> None:
    loss = loss_fraction(12.0 * 0.0011, 0.0175)
    assert allowed_amount(12.0, 0.0011, loss) == pytest.approx(0.0175)
    assert loss_fraction(1.1, 1.0) == pytest.approx(-0.1)


@pytest.mark.parametrize(
    "refused",
    [
        lambda: allowed_amount(-1.0, 1.0, 0.0),
        lambda: allowed_amount(1.0, 0.0, 0.0),
        lambda: allowed_amount(1.0, 1.0, 1.0),
        lambda: loss_fraction(1.0, 0.0),
        lambda: loss_fraction(-1.0, 1.0),
        lambda: split_difference(replace(QUOTED, price=-1.0), USED),
        lambda: split_difference(replace(QUOTED, area=-1.0), USED),
        lambda: split_difference(replace(QUOTED, loss=1.0), USED),
        lambda: split_difference(QUOTED, replace(USED, area=-1.0)),
        lambda: split_difference(QUOTED, replace(USED, amount=float("nan"))),
        lambda: split_difference(QUOTED, replace(USED, price=-1.0)),
        lambda: split_difference(QUOTED, replace(USED, rate=0.0)),
        lambda: split_difference(QUOTED, replace(USED, logged=-1.0)),
        lambda: residual(replace(split_difference(QUOTED, USED), rate=None)),
        lambda: purchase_difference(-1.0, 1.0, 1.0),
        lambda: margin_earned(0.0, 1.0),
        lambda: margin_earned(1.0, -1.0),
    ],
)
def test_bad_figures_are_refused(refused: Callable[[], object]) -> None:
    with pytest.raises(InputError):
        refused()
