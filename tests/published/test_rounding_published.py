"""Published examples of rounding: money and the cells of a sheet round halves away from zero.

ASTM E29, and Rule A of ISO 80000-1, round a half to the even figure; Rule B, the modified E29 of
road authorities and every spreadsheet's ROUND go to the higher one, and so does Pourbook, for a
client checks an invoice with a calculator. Both agree wherever there is no half. Status beside each
figure: read (in the source itself) or computed (by a library).
"""

from __future__ import annotations

from decimal import ROUND_HALF_EVEN, ROUND_HALF_UP, Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pourbook.hosts.headless.cell_rules import rounded
from pourbook.trade.price.build_up import round_money

# Iowa DOT, IM 202, Procedure for Rounding Data (E29 with halves upward), B.1; read
IOWA = [("1.861", 2, "1.86")]
# Ministry of Transportation, Ontario, LS-100 (1995), 3.3: in one step, never in two; read
ONTARIO = [("1.347", 2, "1.35"), ("1.347", 1, "1.3")]
# CICC data book 2.05, type 1, the higher multiple (as Rule B; it names ISO 31-0); read
HIGHER = [
    ("123.4", 0, "123"),
    ("123.5", 0, "124"),
    ("123.454", 2, "123.45"),
    ("123.455", 2, "123.46"),
]
# IS 2:1960, rules I and II, at concretebasics.org/articlesinfo/roundingoff.php; read
IS_2 = [
    *[("4.36", 0, "4"), ("2.355", 0, "2"), ("15.205", 1, "15.2"), ("9.625", 0, "10")],
    *[("2.651", 1, "2.7"), ("0.3552", 2, "0.36"), ("12.545001", 2, "12.55")],
]
# A field sampling manual after ASTM E29, rules A to C, at info.5y1.org/rules-for-rounding_1_2e6a1e;
# read. Rule C's 45.4500, which goes to the even 45.4 there, stands in TO_EVEN.
E29 = [
    *[(f"45.7{last}", 1, "45.7") for last in "1234"],
    *[(f"45.7{last}", 1, "45.8") for last in "6789"],
    *[("45.7500", 1, "45.8"), ("45.45001", 1, "45.5"), ("45.45105", 1, "45.5")],
    ("45.45099", 1, "45.5"),
]
TO_EVEN = [("45.4500", 1, "45.4", "45.5")]
# hartnell.cc.ca.us, rounding rules, I to III; read. III b 2 (21.45) goes to the even figure there.
HARTNELL = [
    ("56.748", 1, "56.7"),
    ("2.146", 2, "2.15"),
    ("21.4501", 1, "21.5"),
    ("21.350", 1, "21.4"),
]
TO_EVEN += [("21.45", 1, "21.4", "21.5")]
# ASME A112.18.1 / CSA B125.1 (2018), annex A.2 d: 1.655000 is 1.66, 1.625000 is 1.62; read
ASME = [("1.655000", 2, "1.66")]
TO_EVEN += [("1.625000", 2, "1.62", "1.63")]
ALL = [*IOWA, *ONTARIO, *HIGHER, *IS_2, *E29, *HARTNELL, *ASME]


@pytest.mark.parametrize(("typed", "places", "printed"), ALL)
def test_a_printed_example_comes_out(typed: str, places: int, printed: str) -> None:
    assert rounded(float(typed), places) == float(printed)
    assert rounded(-float(typed), places) == -float(printed)
    if places == 2:
        assert round_money(float(typed)) == float(printed)


@pytest.mark.parametrize(("typed", "places", "even", "ours"), TO_EVEN)
def test_a_half_that_goes_to_the_even_figure_in_e29_goes_up_here(
    typed: str, places: int, even: str, ours: str
) -> None:
    step = Decimal(1).scaleb(-places)
    assert Decimal(typed).quantize(step, ROUND_HALF_EVEN) == Decimal(even)
    assert Decimal(typed).quantize(step, ROUND_HALF_UP) == Decimal(ours)
    assert rounded(float(typed), places) == float(ours)
    if places == 2:
        assert round_money(float(typed)) == float(ours)


@given(st.decimals(-9_000_000, 9_000_000, places=4))
def test_money_rounds_as_decimal_does(amount: Decimal) -> None:
    # Python's decimal, ROUND_HALF_UP (halves away from zero); computed
    cents = amount.quantize(Decimal("0.01"), ROUND_HALF_UP)
    assert round_money(float(amount)) == float(cents)


@given(st.decimals(-90_000, 90_000, places=5), st.integers(0, 4))
def test_cells_round_as_decimal_does_away_from_halves(value: Decimal, places: int) -> None:
    step = Decimal(1).scaleb(-places)
    up = value.quantize(step, ROUND_HALF_UP)
    if abs(value - up) * 2 != step:  # a float holds few halves
        assert rounded(float(value), places) == pytest.approx(float(up), rel=1e-15)
