"""Published figures for markup, margin and overhead.

Status beside each figure: read (in the source itself) or computed (from figures read).
"""

from __future__ import annotations

import pytest
from tests.oracles.pricing import margin_from_markup, markup_from_margin

from pourbook.trade.price.build_up import build_up, price_from_margin, price_from_markup


def test_c10_markup_to_margin() -> None:
    # cost 40 with 50 % markup sells at 60, a margin of 33.33 %;
    # calcreal.com/math/markup-calculator; read. The formulas also stand in
    # libraryguides.centennialcollege.ca, page 5115940; read.
    assert price_from_markup(40, 0.50) == pytest.approx(60, abs=0.005)
    assert margin_from_markup(0.50) == pytest.approx(0.3333, abs=5e-5)
    assert price_from_margin(40, margin_from_markup(0.50)) == pytest.approx(60, abs=0.005)


def test_c11_margin_to_markup() -> None:
    # 30 % margin is 42.857 % markup; computed as the inverse of C10's formula
    assert markup_from_margin(0.30) == pytest.approx(0.42857, abs=5e-6)


def test_c7_overhead_as_a_share_of_labour() -> None:
    # overhead 6,090,200 on labour 8,230,000; a job of 1,422,000 material and 2,469,000
    # labour carries 1,827,060 and costs 5,718,060; a textbook exercise, techwhiff 30389; read
    rate = 6_090_200 / 8_230_000
    built = build_up(
        material=1_422_000,
        sundries=0,
        labour=2_469_000,
        travel=0,
        overhead_rate=rate,
        overhead_on="labour",
        uplift="markup",
        uplift_rate=0,
        minimum=0,
        tax_rate=0,
    )
    assert built.overhead == pytest.approx(1_827_060, abs=0.005)
    assert built.cost == pytest.approx(5_718_060, abs=0.005)
    assert built.price == 5_718_060.00
