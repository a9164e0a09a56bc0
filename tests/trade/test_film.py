"""Films, notches and losses: behaviour, refusals and properties."""

from __future__ import annotations

import math
from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.oracles.films import film_from_volume

from pourbook.errors import InputError
from pourbook.trade.film import (
    dry_from_wet,
    film_from_mass,
    mixed_volume,
    notch_film_square,
    notch_film_u,
    notch_film_v,
    practical_spread,
    theoretical_spread,
    wet_from_dry,
)

films = st.floats(1e-5, 0.05)
solids = st.floats(0.05, 1.0)
losses = st.floats(0.0, 0.9)
amounts = st.floats(0.0, 10.0)

IN, MIL, FT2 = 0.0254, 2.54e-5, 0.3048**2
US_FL_OZ = 231 * IN**3 / 128


def test_common_practice_of_a_clear_flood_coat() -> None:
    """Common practice, no source: a flood coat takes about 3 US fl oz of mix a square foot."""
    film = film_from_volume(3 * US_FL_OZ, FT2)
    assert film == pytest.approx(0.955e-3, abs=0.5e-6)
    assert film / MIL == pytest.approx(37.6, abs=0.05)


def test_common_practice_notch_for_a_flood_coat_is_an_upper_bound() -> None:
    """Common practice, no source: a 1/8 by 1/8 in square notch spreads a flood coat."""
    notch = notch_film_square(IN / 8, IN / 8, IN / 8)
    assert notch / MIL == pytest.approx(62.5)
    assert notch > film_from_volume(3 * US_FL_OZ, FT2)


@given(films, solids, st.floats(0.0, 0.5))
def test_wet_and_dry_film_are_inverse(wet: float, vs: float, thinner: float) -> None:
    assert wet_from_dry(dry_from_wet(wet, vs, thinner), vs, thinner) == pytest.approx(wet)


@given(films, solids, st.floats(0.0, 0.5), st.floats(0.1, 100.0))
def test_a_volume_spread_thinned_leaves_the_same_solids(
    wet: float, vs: float, thinner: float, area: float
) -> None:
    thinned = wet * area  # the paint in it is thinned / (1 + thinner), and vs of that stays
    assert dry_from_wet(wet, vs, thinner) * area == pytest.approx(thinned / (1 + thinner) * vs)


@given(films, solids, st.floats(0.1, 100.0))
def test_spread_is_area_over_volume(dry: float, vs: float, area: float) -> None:
    volume = area / theoretical_spread(vs, dry)
    assert film_from_volume(volume, area) == pytest.approx(wet_from_dry(dry, vs))


@given(films, st.floats(500.0, 3000.0), st.floats(0.1, 100.0))
def test_film_by_mass_is_film_by_volume(film: float, density: float, area: float) -> None:
    mass = film * area * density
    assert film_from_mass(mass / area, density) == pytest.approx(
        film_from_volume(film * area, area)
    )


@given(films, st.floats(0.1, 3.0), st.floats(0.1, 3.0), st.floats(0.01, 1.0))
def test_square_notch_over_one_pitch_holds_the_film(
    width: float, deep: float, tooth: float, transfer: float
) -> None:
    depth, gap = width * deep, width * tooth
    film = notch_film_square(width, depth, gap, transfer)
    assert film * (width + gap) == pytest.approx(width * depth * transfer)


def test_v_notch_is_half_the_square_one_of_its_size() -> None:
    assert notch_film_v(0.004, 0.005, 0.008) == pytest.approx(
        notch_film_square(0.004, 0.005, 0.004) / 2
    )


def test_u_notch_section_is_a_slot_and_half_a_disc() -> None:
    slot, half_disc = 0.004 * 0.003, math.pi * 0.002**2 / 2
    assert notch_film_u(0.004, 0.005, 0.01) == pytest.approx((slot + half_disc) / 0.01)


def test_u_notch_may_be_a_bare_half_circle() -> None:
    assert notch_film_u(0.004, 0.002, 0.008) == pytest.approx(math.pi * 0.002**2 / 2 / 0.008)


@pytest.mark.parametrize("notch", [notch_film_square, notch_film_v, notch_film_u])
def test_leaning_and_transfer_thin_every_notch(notch: Callable[..., float]) -> None:
    upright = notch(0.004, 0.005, 0.008)
    assert notch(0.004, 0.005, 0.008, 1.0, math.pi / 6) == pytest.approx(upright / 2)
    assert notch(0.004, 0.005, 0.008, 0.8) == pytest.approx(0.8 * upright)
    assert notch(0.004, 0.005, 0.008, 1.0, math.radians(90)) == pytest.approx(upright)


@pytest.mark.parametrize("notch", [notch_film_square, notch_film_v, notch_film_u])
@pytest.mark.parametrize(
    "bad",
    [
        (0.0, 0.005, 0.008),
        (0.004, 0.0, 0.008),
        (0.004, 0.005, 0.0),
        (0.004, 0.005, 0.008, 0.0),
        (0.004, 0.005, 0.008, 1.1),
        (0.004, 0.005, 0.008, 1.0, 0.0),
        (0.004, 0.005, 0.008, 1.0, 1.6),
    ],
)
def test_bad_notches_are_refused(notch: Callable[..., float], bad: tuple[float, ...]) -> None:
    with pytest.raises(InputError):
        notch(*bad)


def test_notches_that_cannot_be_cut_are_refused() -> None:
    for notch in (notch_film_v, notch_film_u):
        with pytest.raises(InputError, match="overlap"):
            notch(0.008, 0.005, 0.007)
    with pytest.raises(InputError, match="too shallow"):
        notch_film_u(0.004, 0.0019, 0.008)


def test_mixed_volume_part_by_part() -> None:
    volume = mixed_volume(
        6.0,
        area=20.0,
        take_up=0.05,
        edge_run=4.0,
        edge_loss=0.25,
        loss=0.2,
        batches=3,
        batch_loss=0.5,
    )
    assert volume.net == 6.0
    assert volume.take_up == pytest.approx(1.0)
    assert volume.edge_loss == pytest.approx(1.0)
    assert volume.percent_loss == pytest.approx(2.0)  # 20 % of the 10 that 8 needed grow to
    assert volume.batch_loss == pytest.approx(1.5)
    assert volume.mixed == pytest.approx(11.5)


def test_nothing_lost_nothing_added() -> None:
    assert mixed_volume(6.0).mixed == 6.0


@given(amounts, amounts, losses, st.integers(0, 50), st.floats(0.0, 1.0))
def test_parts_add_up_and_loss_is_a_share_of_what_is_mixed(
    net: float, area: float, loss: float, batches: int, per_batch: float
) -> None:
    volume = mixed_volume(
        net, area=area, take_up=0.1, loss=loss, batches=batches, batch_loss=per_batch
    )
    parts = (volume.net, volume.take_up, volume.edge_loss, volume.percent_loss, volume.batch_loss)
    assert volume.mixed == sum(parts)
    before_batches = volume.mixed - volume.batch_loss
    assert volume.percent_loss == pytest.approx(loss * before_batches)
    assert before_batches == pytest.approx((net + 0.1 * area) / (1 - loss))


@given(st.floats(0.001, 10.0), losses, st.floats(0.1, 10.0))
def test_mixed_volume_scales_with_area(net: float, loss: float, scale: float) -> None:
    def mixed(size: float) -> float:
        return mixed_volume(
            net * size,
            area=5 * size,
            take_up=0.1,
            edge_run=2 * size,
            edge_loss=0.05,
            loss=loss,
        ).mixed

    assert mixed(scale) == pytest.approx(scale * mixed(1.0))


@given(st.floats(0.01, 100.0), films, losses)
def test_mixed_volume_agrees_with_practical_spread(area: float, film: float, loss: float) -> None:
    spread = practical_spread(theoretical_spread(1.0, film), loss)
    assert mixed_volume(area * film, loss=loss).mixed == pytest.approx(area / spread)


@pytest.mark.parametrize(
    "refused",
    [
        lambda: theoretical_spread(0.0, 0.001),
        lambda: theoretical_spread(1.01, 0.001),
        lambda: theoretical_spread(0.5, 0.0),
        lambda: practical_spread(0.0, 0.1),
        lambda: practical_spread(1000.0, 1.0),
        lambda: practical_spread(1000.0, -0.1),
        lambda: dry_from_wet(0.0, 0.5),
        lambda: dry_from_wet(0.001, 0.0),
        lambda: dry_from_wet(0.001, 0.5, -0.1),
        lambda: wet_from_dry(0.0, 0.5),
        lambda: wet_from_dry(0.001, 1.5),
        lambda: wet_from_dry(0.001, 0.5, -0.1),
        lambda: film_from_volume(0.0, 1.0),
        lambda: film_from_volume(0.001, 0.0),
        lambda: film_from_mass(0.0, 1000.0),
        lambda: film_from_mass(1.0, 0.0),
        lambda: film_from_mass(1.0, math.nan),
        lambda: mixed_volume(-1.0).mixed,
        lambda: mixed_volume(1.0, area=-1.0).mixed,
        lambda: mixed_volume(1.0, take_up=-1.0).mixed,
        lambda: mixed_volume(1.0, edge_run=-1.0).mixed,
        lambda: mixed_volume(1.0, edge_loss=-1.0).mixed,
        lambda: mixed_volume(1.0, batches=-1).mixed,
        lambda: mixed_volume(1.0, batch_loss=-1.0).mixed,
    ],
)
def test_bad_figures_are_refused(refused: Callable[[], float]) -> None:
    with pytest.raises(InputError):
        refused()


@pytest.mark.parametrize("loss", [1.0, 1.2, -0.01])
def test_losing_all_of_it_is_refused(loss: float) -> None:
    with pytest.raises(InputError, match="loss is not 0 % to below 100 %"):
        mixed_volume(1.0, loss=loss)


def test_what_is_not_given_adds_nothing() -> None:
    """Without an area nothing is drunk, without an edge or batches nothing is lost on them."""
    made = mixed_volume(0.01, take_up=1e-4, edge_loss=1e-5, batch_loss=2e-4)
    assert made.mixed == made.net == 0.01
    assert mixed_volume(0.01, area=2.0, edge_run=3.0, batches=4).mixed == 0.01
    whole = mixed_volume(
        net=0.01,
        area=2.0,
        take_up=1e-3,
        edge_run=3.0,
        edge_loss=1e-4,
        run_off=7e-4,
        loss=0.2,
        batches=4,
        batch_loss=1e-4,
    )
    # 10 L, 2 drunk, 0.3 and 0.7 run off: 13; a fifth of what is mixed is lost: 3.25; 0.4 in buckets
    assert whole.mixed == pytest.approx(0.01665)
