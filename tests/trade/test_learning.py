"""Learning from settled jobs, against scipy's distributions, integrals, and simulated shops."""

from __future__ import annotations

import math
import random
from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import integrate, stats
from tests.oracles.learned import learn_by_kind

from pourbook.errors import InputError
from pourbook.trade.learning import LEAST_LOSS, Learned, Prior, Settled, learn, shop_prior

PRIOR = Prior(typical=0.10, spread=0.3, worth=4.0)
HISTORIES = {
    0: [],
    1: [0.2],
    2: [0.05, 0.3],
    5: [0.12, 0.15, 0.11, 0.18, 0.14],
}


def logit(share: float) -> float:
    """Return the logit of a share."""
    return math.log(share / (1 - share))


def chance_below(x: float, data: list[float], prior: Prior) -> float:
    """Return the chance that the next job lies below x on the logit scale, by brute integration.

    Bayes' rule as it stands: likelihood times prior over a grid of level and spread, scipy's
    densities, no conjugate algebra.
    """
    k, m0, s0 = prior.worth, logit(prior.typical), prior.spread

    levels = np.linspace(m0 - 3, m0 + 3, 241)
    logs = np.linspace(math.log(s0) - 2.5, math.log(s0) + 3.5, 121)[:, None]
    s = np.exp(logs)
    density = stats.invgamma.logpdf(s**2, k / 2, scale=k * s0 * s0 / 2) + np.log(2 * s**2)
    density = density + stats.norm.logpdf(levels, m0, s / math.sqrt(k))
    for seen in data:
        density = density + stats.norm.logpdf(seen, levels, s)
    weight = np.exp(density)
    tail = weight * stats.norm.cdf(x, levels, s)
    below, whole = (
        integrate.simpson(integrate.simpson(grid, x=levels), x=logs[:, 0])
        for grid in (tail, weight)
    )
    return float(below / whole)


@pytest.mark.parametrize("jobs", [1, 5])
def test_the_next_job_is_bayes_rule_worked_by_integration(jobs: int) -> None:
    data = [logit(loss) for loss in HISTORIES[jobs]]
    bound = learn("loss", HISTORIES[jobs], PRIOR).suggested(0.9)
    assert chance_below(logit(bound), data, PRIOR) == pytest.approx(0.9, abs=1e-3)


@pytest.mark.parametrize("jobs", HISTORIES)
@pytest.mark.parametrize("share", [0.001, 0.1, 0.5, 0.9, 0.99])
def test_quantiles_are_those_of_scipys_student_t(jobs: int, share: float) -> None:
    known = learn("loss", HISTORIES[jobs], PRIOR)
    expected = stats.t.ppf(share, known.freedom, loc=known.level, scale=known.width)
    assert logit(known.quantile(share)) == pytest.approx(float(expected), rel=1e-9, abs=1e-9)


def test_one_job_by_hand() -> None:
    # prior 10 % worth 4 jobs with spread 0.3, one job of 20 %: logits -2.197225 and -1.386294
    # level = (4 x -2.197225 - 1.386294) / 5 = -2.035038
    # variance = (4 x 0.09 + 0 + 4 x 1 / 5 x 0.810930²) / 5 = (0.36 + 0.526086) / 5 = 0.177217
    # width = sqrt(0.177217 x 6 / 5) = 0.461151; 5 degrees of freedom
    known = learn("loss", [0.2], PRIOR)
    assert known.level == pytest.approx(-2.035038, abs=1e-6)
    assert known.spread**2 == pytest.approx(0.177217, abs=1e-6)
    assert known.width == pytest.approx(0.461151, abs=1e-6)
    assert known.freedom == 5.0
    # Student's t for 0.95 and 5 degrees of freedom is 2.015 in any printed table (from memory)
    bound = -2.035038 + 2.015 * 0.461151
    assert known.suggested(0.95) == pytest.approx(1 / (1 + math.exp(-bound)), abs=1e-4)


SHOPS = 20_000


def simulated(jobs: int, seed: int) -> int:
    """Return how many of SHOPS next jobs stay under the 90 % bound learned from earlier ones."""
    rng = random.Random(seed)
    k, m0, s0 = PRIOR.worth, logit(PRIOR.typical), PRIOR.spread
    covered = 0
    for _ in range(SHOPS):
        s = math.sqrt(k * s0 * s0 / 2 / rng.gammavariate(k / 2, 1.0))
        m = rng.gauss(m0, s / math.sqrt(k))
        *past, following = (1 / (1 + math.exp(-rng.gauss(m, s))) for _ in range(jobs + 1))
        covered += following <= learn("loss", past, PRIOR).suggested(0.9)
    return covered


@pytest.mark.parametrize("jobs", [0, 1, 2, 5, 20])
def test_ninety_per_cent_bound_covers_ninety_per_cent_of_next_jobs(jobs: int) -> None:
    # each shop draws its own level and spread; the span is what a binomial of 0.9 gives in all
    # but one of ten thousand seeds
    low, high = stats.binom.interval(0.9999, SHOPS, 0.9)
    assert low <= simulated(jobs, 2026 + jobs) <= high


@pytest.mark.parametrize("jobs", [0, 1, 2, 5, 20])
def test_the_bound_is_not_too_low_where_every_kind_scatters_alike(jobs: int) -> None:
    # another shop than the model's: every kind has the spread the shop says, levels lie half of
    # that apart; the bound may be on the dear side, not under 90 %
    rng, shops = random.Random(40 + jobs), 4_000
    covered = 0
    for _ in range(shops):
        m = rng.gauss(logit(PRIOR.typical), PRIOR.spread / 2)
        draws = (rng.gauss(m, PRIOR.spread) for _ in range(jobs + 1))
        *past, following = (1 / (1 + math.exp(-x)) for x in draws)
        covered += following <= learn("loss", past, PRIOR).suggested(0.9)
    assert covered >= stats.binom.interval(0.9999, shops, 0.9)[0]


def test_a_normal_bound_in_place_of_students_would_fail_that_test() -> None:
    # the same history with a normal quantile promises too little where jobs are few
    known = learn("loss", [0.1], PRIOR)
    chance = stats.t.cdf(stats.norm.ppf(0.9), known.freedom)
    assert chance * SHOPS < stats.binom.interval(0.9999, SHOPS, 0.9)[0]


def test_no_job_gives_the_shops_figure() -> None:
    for measure, typical in (("loss", 0.1), ("pace", 0.02)):
        known = learn(measure, [], Prior(typical, 0.3, 4.0))  # type: ignore[arg-type]
        assert known.typical() == pytest.approx(typical)
        assert known.spread == pytest.approx(0.3)
        assert known.jobs == 0


def test_many_jobs_give_their_own_mean_and_spread() -> None:
    rng = random.Random(5)
    losses = [1 / (1 + math.exp(-rng.gauss(-1.0, 0.5))) for _ in range(20_000)]
    scaled = [logit(loss) for loss in losses]
    known = learn("loss", losses, PRIOR)
    assert known.level == pytest.approx(stats.tmean(scaled), abs=1e-3)
    assert known.width == pytest.approx(stats.tstd(scaled), rel=1e-3)
    normal = stats.norm.ppf(0.9, stats.tmean(scaled), stats.tstd(scaled))
    assert logit(known.suggested(0.9)) == pytest.approx(normal, abs=2e-3)


losses = st.lists(st.floats(0.01, 0.6), max_size=12)


@given(losses, st.floats(0.02, 0.5), st.floats(0.1, 1.0), st.floats(1.0, 20.0))
def test_the_level_lies_between_the_shop_and_the_jobs(
    values: list[float], typical: float, spread: float, worth: float
) -> None:
    known = learn("loss", values, Prior(typical, spread, worth))
    ends = [logit(typical)]
    if values:
        ends.append(math.fsum(map(logit, values)) / len(values))
    assert min(ends) - 1e-9 <= known.level <= max(ends) + 1e-9
    assert 0.0 <= known.suggested(0.5) <= known.suggested(0.9) <= known.suggested(0.99) <= 1.0


@given(st.lists(st.floats(1e-4, 1.0), max_size=8), st.floats(0.001, 100.0))
def test_pace_does_not_depend_on_its_unit(values: list[float], unit: float) -> None:
    one = learn("pace", values, Prior(0.02, 0.3))
    other = learn("pace", [v * unit for v in values], Prior(0.02 * unit, 0.3))
    assert other.suggested(0.9) == pytest.approx(one.suggested(0.9) * unit, rel=1e-6)
    assert one.suggested(0.9) <= one.typical()


def test_agreeing_jobs_narrow_the_bound() -> None:
    bounds = [learn("loss", [0.1] * n, PRIOR).suggested(0.9) for n in (0, 1, 2, 5, 20)]
    assert bounds == sorted(bounds, reverse=True)
    assert bounds[-1] < 0.12


def test_no_loss_at_all_counts_as_the_least() -> None:
    assert learn("loss", [0.0], PRIOR) == learn("loss", [LEAST_LOSS], PRIOR)


def test_far_tails_do_not_overflow() -> None:
    wide = Learned("pace", 0, 0.0, 300.0, 1.0, 300.0)
    assert wide.quantile(0.999) > 1e300
    assert Learned("loss", 0, 0.0, 300.0, 1.0, 300.0).quantile(0.001) >= 0.0


def test_kinds_are_learned_apart() -> None:
    jobs = [
        Settled("Flood", "counter", 0.10, 0.02),
        Settled("Flood", "floor", None, 0.05),
        Settled("Flood", "counter", 0.12, None),
        Settled("Base", "floor", 0.05, 0.06),
    ]
    found = learn_by_kind("loss", iter(jobs), PRIOR)
    assert list(found) == [("Base", "floor"), ("Flood", "counter")]
    assert found["Flood", "counter"] == learn("loss", [0.10, 0.12], PRIOR)
    paces = learn_by_kind("pace", jobs, Prior(0.03, 0.4))
    assert {key: known.jobs for key, known in paces.items()} == {
        ("Base", "floor"): 1,
        ("Flood", "counter"): 1,
        ("Flood", "floor"): 1,
    }


def test_a_bad_job_is_named_by_its_kind() -> None:
    with pytest.raises(InputError, match=r"^Flood, floor: the loss of job 1 is -5 %"):
        learn_by_kind("loss", [Settled("Flood", "floor", -0.05)], PRIOR)


def test_shop_prior_is_mean_and_spread_of_all_jobs() -> None:
    values = [0.05, 0.1, 0.2, 0.12]
    prior = shop_prior("loss", values, 3.0)
    scaled = [logit(v) for v in values]
    assert logit(prior.typical) == pytest.approx(stats.tmean(scaled))
    assert prior.spread == pytest.approx(stats.tstd(scaled))
    assert prior.worth == 3.0


@pytest.mark.parametrize(
    "refused",
    [
        lambda: learn("loss", [1.0], PRIOR),
        lambda: learn("loss", [math.nan], PRIOR),
        lambda: learn("loss", [], Prior(0.0, 0.3)),
        lambda: learn("loss", [], Prior(1.0, 0.3)),
        lambda: learn("loss", [], Prior(0.1, 0.0)),
        lambda: learn("loss", [], Prior(0.1, 0.3, 0.0)),
        lambda: learn("pace", [0.0], Prior(0.1, 0.3)),
        lambda: learn("pace", [], Prior(0.0, 0.3)),
        lambda: learn("cost", [], PRIOR),  # type: ignore[arg-type]
        lambda: learn("loss", [], PRIOR).suggested(1.0),
        lambda: shop_prior("loss", [0.1]),
        lambda: shop_prior("loss", [0.1, 0.1]),
        lambda: shop_prior("loss", [0.1, 0.2], 0.0),
    ],
)
def test_bad_figures_are_refused(refused: Callable[[], object]) -> None:
    with pytest.raises(InputError):
        refused()
