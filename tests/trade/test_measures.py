"""Rounding a mix to what can be weighed or read, judged by ratios worked here by hand."""

from __future__ import annotations

import math
from typing import Literal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pourbook.errors import InputError
from pourbook.trade import mixing, weighing

OUNCE = 29.5735295625e-6
PARTS = st.lists(st.floats(0.05, 20), min_size=1, max_size=3)
BASIS: st.SearchStrategy[Literal["volume", "mass"]] = st.sampled_from(["volume", "mass"])


@pytest.mark.parametrize(
    ("grams", "step"), [(2310, 5), (100, 5), (99.9, 1), (10, 1), (9.9, 0.1), (0, 0.1)]
)
def test_step_of_a_scale(grams: float, step: float) -> None:
    assert weighing.mass_step(grams / 1000) == pytest.approx(step / 1000)


@pytest.mark.parametrize(
    ("ounces", "step"), [(200, 4), (80, 4), (79.9, 2), (32, 2), (31.9, 1), (8, 1), (7.9, 0.5)]
)
def test_marks_of_a_bucket_in_ounces(ounces: float, step: float) -> None:
    assert weighing.volume_step(ounces * OUNCE, OUNCE) == pytest.approx(step * OUNCE)


@pytest.mark.parametrize(("litres", "step"), [(3, 100), (2.4, 50), (1, 50), (0.99, 25), (0.09, 5)])
def test_marks_of_a_bucket_in_millilitres(litres: float, step: float) -> None:
    assert weighing.volume_step(litres / 1000, None) == pytest.approx(step * 1e-6)


@pytest.mark.parametrize(("ounces", "step"), [(78.4, 0.5), (16, 0.5), (15.9, 0.25), (0, 0.25)])
def test_step_of_a_dose_in_ounces(ounces: float, step: float) -> None:
    assert weighing.dose_step(ounces * OUNCE, OUNCE) == pytest.approx(step * OUNCE)


def test_halves_round_up() -> None:
    assert [weighing.steps(x, 1.0) for x in (0.5, 1.5, 2.5, 2.4999)] == [1, 2, 3, 2]


@given(st.floats(0, 1e3), st.floats(1e-4, 10))
def test_nearest_is_within_half_a_step(amount: float, step: float) -> None:
    found = weighing.nearest(amount, step)
    assert abs(found - amount) <= step / 2 * (1 + 1e-6)


@given(PARTS, BASIS, st.floats(1e-3, 0.05), st.data())
def test_weighing_stays_within_what_is_allowed(
    ratio: list[float], basis: Literal["volume", "mass"], allowed: float, data: st.DataObject
) -> None:
    densities = [data.draw(st.floats(700, 2500)) for _ in ratio]
    volume = data.draw(st.floats(1e-4, 0.02))
    masses = [s.mass for s in mixing.split(volume, ratio, densities, basis)]
    try:
        found = weighing.weighed(masses, ratio, densities, basis, allowed)
    except InputError:
        # Half of 0.1 g on every part cannot have been within what is allowed for all of them.
        assert 1e-4 / min(masses) > allowed / 2
        return
    called = [found.amounts[0] * mass / masses[0] for mass in masses]
    for got, wanted in zip(found.amounts, called, strict=True):
        assert abs(got / wanted - 1) <= allowed * (1 + 1e-9)
    for got, exact in zip(found.amounts, masses, strict=True):
        assert abs(got - exact) <= 0.005 * (1 + 1e-6)  # to either side, so that none is missing
    made = sum(got / density for got, density in zip(found.amounts, densities, strict=True))
    assert made >= volume * (1 - 1e-9)


def test_finer_weighing_where_five_grams_are_too_coarse() -> None:
    """102.4 : 3 by mass: 3 g of B to the usual 0.1 g, A to 5 g; at 0.5 % A must be finer.

    A at 105 g calls for 3.08 g of B, which 3 g misses by 2.5 %; at 103 g by 0.6 %. 100 g or 102 g
    of A would make less than planned.
    """
    masses = [0.1024, 0.0030]
    loose = weighing.weighed(masses, [102.4, 3], [1e3, 1e3], "mass", 0.03)
    assert loose.amounts == pytest.approx([0.105, 0.003])
    close = weighing.weighed(masses, [102.4, 3], [1e3, 1e3], "mass", 0.005)
    assert close.amounts == pytest.approx([0.1024, 0.003])


def test_too_small_a_mix_is_refused_with_what_to_do() -> None:
    with pytest.raises(InputError, match="mix more at once"):
        weighing.weighed([0.0102, 0.00014], [10.2, 0.14], [1e3, 1e3], "mass", 0.01)


@given(PARTS, st.floats(1e-4, 0.02), st.sampled_from([None, OUNCE]))
def test_the_last_mark_is_never_below_the_mix(
    ratio: list[float], volume: float, ounce: float | None
) -> None:
    densities = [1000.0 + 100 * n for n in range(len(ratio))]
    volumes = [s.volume for s in mixing.split(volume, ratio, densities, "volume")]
    found = weighing.marks(volumes, range(len(ratio)), ounce, ratio, densities, "volume")
    assert found.amounts[-1] >= volume * (1 - 1e-9)
    assert found.amounts[-1] <= volume + weighing.volume_step(volume, ounce)


def test_marks_add_up_in_one_bucket() -> None:
    """2 : 1, B first, 30 fl oz in all: B to 10, then A to 30."""
    volumes = [20 * OUNCE, 10 * OUNCE]
    found = weighing.marks(volumes, [1, 0], OUNCE, [2, 1], [1e3, 1e3], "volume")
    assert [m / OUNCE for m in found.amounts] == pytest.approx([10, 30])
    assert found.off == pytest.approx(0, abs=1e-9)


def test_reading_the_bucket_can_spoil_the_ratio() -> None:
    """10.1 fl oz A reads 10, 1.1 fl oz B on top reads 12: B is 2 where 1.0891 is called for."""
    volumes = [10.1 * OUNCE, 1.1 * OUNCE]
    found = weighing.marks(volumes, [0, 1], OUNCE, [10.1, 1.1], [1e3, 1e3], "volume")
    assert found.off == pytest.approx(2 / (10 * 1.1 / 10.1) - 1)


def test_part_that_reads_nothing_is_off_beyond_measure() -> None:
    found = weighing.marks([6e-6, 1e-3], [0, 1], None, [6, 1000], [1e3, 1e3], "volume")
    assert found.off < math.inf
    assert weighing.worst_off([0.0, 1.0], [1, 1], [1e3, 1e3], "mass") == math.inf


@given(
    st.floats(0, 50),
    st.lists(st.floats(0, 100), min_size=1, max_size=12).filter(lambda s: sum(s) > 1e-6),
    st.sampled_from([1e-4, 1e-3, 5e-3]),
)
def test_sharing_out_loses_nothing(amount: float, shares: list[float], step: float) -> None:
    found = weighing.share_out(amount, shares, step)
    assert sum(found) == weighing.steps(amount, step)
    assert min(found) >= 0
    for got, share in zip(found, shares, strict=True):
        exact = sum(found) * share / math.fsum(shares)
        assert abs(got - exact) <= 1 + 1e-6


def test_nothing_to_share_by_is_refused() -> None:
    with pytest.raises(InputError, match="shares"):
        weighing.share_out(1.0, [0.0, 0.0], 0.001)
