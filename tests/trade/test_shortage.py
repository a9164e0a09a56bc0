"""The chance of running short: against scipy, and against drawn jobs.

The jobs are drawn as :mod:`pourbook.trade.learning` says jobs fall: a scatter of their own from an
inverse gamma, a level about the shop's, a loss about the level.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.stats import t

from pourbook.errors import InputError
from pourbook.trade.learning import Prior, known_loss, learn
from pourbook.trade.shortage import chance_short, student_below

DRAWN = 20_000


@given(x=st.floats(-50, 50), freedom=st.floats(1, 500))
def test_students_distribution_is_that_of_scipy(x: float, freedom: float) -> None:
    assert student_below(x, freedom) == pytest.approx(float(t.cdf(x, freedom)), abs=1e-9)


@pytest.mark.parametrize("freedom", [1.0, 3.0, 4.0, 30.0])
def test_students_distribution_is_its_density_integrated(freedom: float) -> None:
    area, _ = quad(lambda x: t.pdf(x, freedom), 0.0, 1.7)
    assert student_below(1.7, freedom) - 0.5 == pytest.approx(area, abs=1e-9)


@pytest.mark.parametrize("typical", [0.08, 0.2])
@pytest.mark.parametrize("have", [10.4, 11.2, 12.0, 13.5])
@pytest.mark.parametrize("losses", [(), (0.11, 0.16, 0.09)])
def test_chance_is_that_of_drawn_jobs(
    typical: float, have: float, losses: tuple[float, ...]
) -> None:
    """10 L stay; the share of 20,000 drawn jobs that need more than there is, within 4 sigma."""
    prior = Prior(typical=typical, spread=0.3, worth=4.0)
    known = learn("loss", losses, prior)
    stated = chance_short(10.0, have, known)
    dice = np.random.default_rng(20261128)
    half = known.freedom / 2
    variance = known.spread**2 * half / dice.gamma(half, 1.0, DRAWN)
    level = dice.normal(known.level, np.sqrt(variance / known.freedom))
    loss = 1 / (1 + np.exp(-dice.normal(level, np.sqrt(variance))))
    short = float(np.mean(10.0 / (1 - loss) > have))
    sigma = math.sqrt(max(stated * (1 - stated), 1 / DRAWN) / DRAWN)
    assert short == pytest.approx(stated, abs=4 * sigma)


@pytest.mark.parametrize("jobs", [0, 3, 25])
def test_what_was_learned_is_found_again(jobs: int) -> None:
    """Level, scatter and number of jobs, as Learned shows them, give the distribution back."""
    losses = [0.08 + 0.004 * (at % 7) for at in range(jobs)]
    prior = Prior(typical=0.1, spread=0.3, worth=4.0)
    learned = learn("loss", losses, prior)
    again = known_loss(learned.typical(), learned.spread, jobs, prior.worth)
    assert again.level == pytest.approx(learned.level)
    assert again.width == pytest.approx(learned.width)
    assert again.freedom == learned.freedom


@given(
    kept=st.floats(0.1, 100),
    have=st.floats(0, 200),
    more=st.floats(0, 50),
    typical=st.floats(0.01, 0.6),
    jobs=st.integers(0, 40),
)
def test_more_never_raises_the_chance(
    kept: float, have: float, more: float, typical: float, jobs: int
) -> None:
    known = known_loss(typical, 0.3, jobs, 4.0)
    chance, then = (chance_short(kept, volume, known) for volume in (have, have + more))
    assert 0.0 <= then <= chance + 1e-12 <= 1.0 + 1e-12
    assert chance == 1.0 or have > kept


@pytest.mark.parametrize(
    "figures", [(0.0, 0.3, 1, 4.0), (1.0, 0.3, 1, 4.0), (0.1, 0.0, 1, 4.0), (0.1, 0.3, -1, 4.0)]
)
def test_impossible_figures_are_refused(figures: tuple[float, float, float, float]) -> None:
    with pytest.raises(InputError):
        known_loss(*figures)


def test_kept_and_freedom_are_checked() -> None:
    known = known_loss(0.1, 0.3, 0, 4.0)
    for kept, have in ((0.0, 1.0), (1.0, -1.0)):
        with pytest.raises(InputError):
            chance_short(kept, have, known)
    with pytest.raises(InputError):
        student_below(1.0, 0.5)
