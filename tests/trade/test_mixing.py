"""Splits, ratios, doses and stoichiometry: behaviour, refusals and properties."""

from __future__ import annotations

import math
from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.oracles.mixes import eew_of_mix, ratio_by_mass

from pourbook.errors import InputError
from pourbook.trade.mixing import (
    Basis,
    ahew,
    dose_per_area,
    dose_per_batch,
    dose_share,
    eew,
    mixed_density,
    off_ratio,
    phr,
    ratio_by_volume,
    split,
    thinner_fraction,
)

parts = st.lists(st.tuples(st.floats(0.1, 100.0), st.floats(700.0, 2500.0)), min_size=1, max_size=3)
bases = st.sampled_from(["volume", "mass"])
volumes = st.floats(1e-4, 1.0)


def test_a_mix_by_volume_is_split_by_its_ratio() -> None:
    base, hardener = split(0.003, [2.0, 1.0], [1150.0, 1000.0], "volume")
    assert (base.volume, hardener.volume) == pytest.approx((0.002, 0.001))
    assert (base.mass, hardener.mass) == pytest.approx((2.3, 1.0))


def test_split_by_mass_goes_through_the_densities() -> None:
    # 100 : 45 by mass, 1200 and 900 kg/m³: 100/1200 to 45/900 is 5 to 3 by volume
    base, hardener = split(0.008, [100.0, 45.0], [1200.0, 900.0], "mass")
    assert (base.volume, hardener.volume) == pytest.approx((0.005, 0.003))
    assert (base.mass, hardener.mass) == pytest.approx((6.0, 2.7))


@given(volumes, parts, bases)
def test_parts_add_up_to_the_mix(
    volume: float, mix: list[tuple[float, float]], basis: Basis
) -> None:
    ratio, densities = [p for p, _ in mix], [d for _, d in mix]
    shares = split(volume, ratio, densities, basis)
    assert math.fsum(s.volume for s in shares) == pytest.approx(volume, rel=1e-12)
    whole = math.fsum(s.mass for s in shares)
    assert whole == pytest.approx(volume * mixed_density(ratio, densities, basis), rel=1e-12)
    for share, part, density in zip(shares, ratio, densities, strict=True):
        assert share.mass == pytest.approx(share.volume * density)
        poured, first = (
            (share.volume, shares[0].volume) if basis == "volume" else (share.mass, shares[0].mass)
        )
        assert poured / first == pytest.approx(part / ratio[0])


@given(parts)
def test_volume_and_mass_ratio_round_trip(mix: list[tuple[float, float]]) -> None:
    ratio, densities = [p for p, _ in mix], [d for _, d in mix]
    by_mass = ratio_by_mass(ratio, densities)
    assert ratio_by_volume(by_mass, densities) == pytest.approx(ratio)
    stated_by_volume = split(1.0, ratio, densities, "volume")
    stated_by_mass = split(1.0, by_mass, densities, "mass")
    for one, other in zip(stated_by_volume, stated_by_mass, strict=True):
        assert one.volume == pytest.approx(other.volume)


@given(volumes, parts, bases, st.floats(0.1, 10.0))
def test_amounts_scale_with_the_volume_and_not_with_the_ratio(
    volume: float, mix: list[tuple[float, float]], basis: Basis, scale: float
) -> None:
    ratio, densities = [p for p, _ in mix], [d for _, d in mix]
    once = split(volume, ratio, densities, basis)
    grown = split(scale * volume, ratio, densities, basis)
    restated = split(volume, [scale * p for p in ratio], densities, basis)
    for one, more, same in zip(once, grown, restated, strict=True):
        assert more.mass == pytest.approx(scale * one.mass)
        assert same.mass == pytest.approx(one.mass)


def test_mixed_density_lies_where_the_basis_puts_it() -> None:
    assert mixed_density([1.0, 1.0], [1200.0, 800.0], "volume") == pytest.approx(1000.0)
    # by mass the lighter part takes more room: 2 / (1/1200 + 1/800)
    assert mixed_density([1.0, 1.0], [1200.0, 800.0], "mass") == pytest.approx(960.0)


def test_off_ratio_by_part() -> None:
    off = off_ratio([10.0, 4.4, 0.0], [100.0, 40.0, 5.0], [1200.0, 1000.0, 900.0], "mass")
    assert off == pytest.approx([0.1, -1.0])


def test_off_ratio_by_volume_weighs_through_the_densities() -> None:
    # 2 : 1 by volume at 1200 and 900 is 8 : 3 by mass
    off = off_ratio([8.0, 2.7], [2.0, 1.0], [1200.0, 900.0], "volume")
    assert off == pytest.approx([-0.1])


@given(volumes, parts, bases)
def test_a_mix_as_split_is_on_ratio(
    volume: float, mix: list[tuple[float, float]], basis: Basis
) -> None:
    ratio, densities = [p for p, _ in mix], [d for _, d in mix]
    masses = [share.mass for share in split(volume, ratio, densities, basis)]
    off = off_ratio(masses, ratio, densities, basis)
    assert off == pytest.approx([0.0] * (len(mix) - 1), abs=1e-12)


def test_additions_are_dosed_by_share_batch_or_area() -> None:
    assert dose_share(4.0, 0.06) == pytest.approx(0.24)
    assert dose_share(4.0, 2.5) == pytest.approx(10.0)  # a filled trowel mix
    assert dose_per_batch(0.02, 3) == pytest.approx(0.06)
    assert dose_per_area(0.5, 12.0) == pytest.approx(6.0)
    assert thinner_fraction(0.1, 0.8) == pytest.approx(0.125)


def test_blend_of_resins_weighs_reacting_groups_not_weights() -> None:
    # one equivalent of each: 200 + 300 weight holds 2 equivalents
    assert eew_of_mix([200.0, 300.0], [200.0, 300.0]) == pytest.approx(250.0)
    assert eew_of_mix([200.0, 300.0, 100.0], [200.0, 300.0, None]) == pytest.approx(300.0)


def test_equivalent_weights() -> None:
    assert ahew(103.2, 5) == pytest.approx(20.64)
    assert eew(340.0, 2) == pytest.approx(170.0)


@given(st.floats(10.0, 500.0), st.floats(100.0, 1000.0))
def test_phr_brings_one_hydrogen_an_epoxide(hardener: float, resin: float) -> None:
    assert phr(hardener, resin) / hardener == pytest.approx(100.0 / resin)


@pytest.mark.parametrize(
    ("ratio", "densities", "what"),
    [
        ([], [], "0 parts"),
        ([1.0] * 4, [1000.0] * 4, "4 parts"),
        ([1.0, 1.0], [1000.0], "density"),
        ([1.0, 0.0], [1000.0, 1000.0], "ratio B is not above 0"),
        ([-1.0, 1.0], [1000.0, 1000.0], "ratio A is not above 0"),
        ([1.0, 1.0, 1.0], [1000.0, 1000.0, 0.0], "density C is not above 0"),
        ([1.0, 1.0], [1000.0, -1.0], "density B is not above 0"),
        ([1.0, math.nan], [1000.0, 1000.0], "ratio B"),
    ],
)
def test_ratios_that_are_none_are_refused(
    ratio: list[float], densities: list[float], what: str
) -> None:
    refusers: list[Callable[[], object]] = [
        lambda: split(1.0, ratio, densities, "volume"),
        lambda: split(1.0, ratio, densities, "mass"),
        lambda: ratio_by_mass(ratio, densities),
        lambda: ratio_by_volume(ratio, densities),
        lambda: mixed_density(ratio, densities, "mass"),
        lambda: off_ratio(ratio, ratio, densities, "mass"),
    ]
    for refused in refusers:
        with pytest.raises(InputError, match=what):
            refused()


@pytest.mark.parametrize(
    "refused",
    [
        lambda: split(0.0, [1.0], [1000.0], "volume"),
        lambda: split(1.0, [1.0], [1000.0], "weight"),  # type: ignore[arg-type]
        lambda: off_ratio([1.0], [1.0, 1.0], [1000.0, 1000.0], "mass"),
        lambda: off_ratio([0.0, 1.0], [1.0, 1.0], [1000.0, 1000.0], "mass"),
        lambda: off_ratio([1.0, -1.0], [1.0, 1.0], [1000.0, 1000.0], "mass"),
        lambda: dose_share(-1.0, 0.1),
        lambda: dose_share(1.0, -0.1),
        lambda: dose_per_batch(-1.0, 1),
        lambda: dose_per_batch(1.0, -1),
        lambda: dose_per_area(-1.0, 1.0),
        lambda: dose_per_area(1.0, -1.0),
        lambda: thinner_fraction(-1.0, 1.0),
        lambda: thinner_fraction(1.0, 0.0),
        lambda: ahew(0.0, 4),
        lambda: ahew(100.0, 0),
        lambda: eew(0.0, 2),
        lambda: eew(380.0, 0),
        lambda: phr(0.0, 190.0),
        lambda: phr(50.0, 0.0),
        lambda: phr(50.0, -190.0),
        lambda: eew_of_mix([], []),
        lambda: eew_of_mix([100.0], [190.0, None]),
        lambda: eew_of_mix([100.0], [None]),
        lambda: eew_of_mix([100.0, 0.0], [190.0, None]),
        lambda: eew_of_mix([100.0], [0.0]),
    ],
)
def test_bad_figures_are_refused(refused: Callable[[], object]) -> None:
    with pytest.raises(InputError):
        refused()
