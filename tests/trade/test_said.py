"""What a refusal or a verdict says in figures is what was given, in the units it says.

A wrong figure in a refusal sends a person to mend what is right. Each expected figure is the one
given, converted by hand (1 L is 0.001 m³, 1 min is 60 s, 1 is 100 %).
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

import pytest

from pourbook.errors import InputError
from pourbook.trade import air, learning, logged, weighing
from pourbook.trade.batch.bound import batch_limit
from pourbook.trade.batch.pieces import Piece
from pourbook.trade.batch.plan import plan
from pourbook.trade.cure.heat import Bucket, largest_tame_batch
from pourbook.trade.cure.kinetics import Kinetics

AIR = air.AirLimits(283.15, 303.15, 283.15, 303.15, 0.85)
TYPICAL = learning.Prior(0.1, 0.3, 4.0)
REFUSED: dict[str, tuple[Callable[[], object], str]] = {
    "damp": (lambda: air.dew_point(293.15, 1.2), "relative humidity is 120 %"),
    "dry": (lambda: air.dew_point(293.15, 0.0), "relative humidity is 0 %"),
    "no room": (
        lambda: plan([Piece("bar", 0.001, True)], 0.004, loss_per_batch=0.005),
        "a batch of 4 L loses 5 L in bucket and tools",
    ),
    "no room at all": (
        lambda: plan([Piece("bar", 0.001, True)], 0.004, loss_per_batch=0.004),
        "a batch of 4 L loses 4 L in bucket and tools",
    ),
    "large": (
        lambda: plan([Piece("bar", 0.0075)], 0.005),
        "bar needs 7.5 L in one batch, and a batch holds 5 L",
    ),
    "large with a loss": (
        lambda: plan([Piece("bar", 0.0045)], 0.005, loss_per_batch=0.001),
        "bar needs 4.5 L in one batch, and a batch holds 5 L, of which 1 L stays in bucket and "
        "tools",
    ),
    "mixed too long": (
        lambda: batch_limit(0.01, None, 0.002, 0.003, pot_life=1200, mixing_time=1500),
        "the pot life of 20 min is over after 25 min of mixing",
    ),
    "mixed too long for its share": (
        lambda: batch_limit(0.01, None, 0.002, 0.003, pot_life=1200, mixing_time=900, share=0.7),
        "70 % of the pot life of 20 min is over after 15 min of mixing",
    ),
    "mixed as long as its share": (
        lambda: batch_limit(0.01, None, 0.002, 0.003, pot_life=1200, mixing_time=600, share=0.5),
        "50 % of the pot life of 20 min is over after 10 min of mixing",
    ),
    "a share above one": (
        lambda: batch_limit(0.01, None, 0.002, 0.003, pot_life=1200, mixing_time=60, share=1.1),
        "the share of the pot life is above 1",
    ),
    "no hands": (
        lambda: batch_limit(0.01, None, 0.002, 0.003, pot_life=1200, mixing_time=60, hands=0),
        "the number of hands is not a whole number from 1",
    ),
    "a loss of all": (
        lambda: learning.learn("loss", [0.1, 1.0], TYPICAL),
        "the loss of job 2 is 100 %",
    ),
    "a loss below none": (
        lambda: learning.learn("loss", [-0.25], TYPICAL),
        "the loss of job 1 is -25 %",
    ),
    "no typical loss": (
        lambda: learning.learn("loss", [], replace(TYPICAL, typical=0.0005)),
        "the shop's typical loss is 0.05 %",
    ),
    "too fine for a scale": (
        # 0.7 and 0.3 g, or 0.4 g: a seventh off 0.35 g either way
        lambda: weighing.weighed([0.00065, 0.000325], [2.0, 1.0], [1e3, 1e3], "mass", 0.1),
        "weighing to 0.1 g would put this small mix 14 % off its ratio",
    ),
}


@pytest.mark.parametrize("case", REFUSED)
def test_a_refusal_says_the_figures_it_was_given(case: str) -> None:
    refused, said = REFUSED[case]
    with pytest.raises(InputError) as caught:
        refused()
    assert caught.value.what.startswith(said)
    assert caught.value.mend


def test_what_is_just_allowed_is_not_refused() -> None:
    """Each bound of the refusals above, at the value that is still right."""
    assert math.isclose(air.dew_point(293.15, 1.0), 293.15, abs_tol=0.01)
    assert batch_limit(0.01, None, 0.002, 0.003, pot_life=1200, mixing_time=0.0, hands=1, share=1.0)
    assert learning.learn("loss", [0.0, 0.99], replace(TYPICAL, typical=0.001))
    assert len(plan([Piece("bar", 0.005)], 0.005).batches) == 1


def test_a_verdict_says_the_humidity_it_was_given() -> None:
    """0.9 of 1 is 90 %, and the most allowed 85 %; exactly at the limit passes."""
    verdict = air.judge_air(293.15, 293.15, 0.9, replace(AIR, min_dew_margin=0.0))
    assert verdict.state == "wait"
    assert verdict.reasons[-1] == "humidity is 90 %, above the most allowed, 85 %"
    assert air.judge_air(293.15, 293.15, 0.85, replace(AIR, min_dew_margin=0.0)).state == "go"


@pytest.mark.parametrize(
    ("read", "said", "held"),
    [
        (0.0011, "the wet film is 10.0 % too thick, 5 % may be", False),
        (0.00095, "the wet film is 5.0 % too thin, 5 % may be", True),
        (0.00105, "the wet film is 5.0 % too thick, 5 % may be", True),
        (0.0010004, "the wet film is as wanted", True),
        (0.0010006, "the wet film is 0.1 % too thick, 5 % may be", True),
    ],
)
def test_a_film_says_how_far_it_is_off(read: float, said: str, held: bool) -> None:
    check = logged.check_wet_film(read, 0.001, 0.05)
    assert (check.words, check.holds) == (said, held)


def test_an_assumption_says_its_minutes() -> None:
    """5,400 s are 90 min."""
    mix = Kinetics(4e5, 60000.0, 4e6, 60000.0, 1.0, 1.0)
    bucket = Bucket(1.0, 0.05, 8.0, 4e5, 2000.0, 298.15, 298.15)
    told = largest_tame_batch(mix, bucket, 313.15, 5400.0, 20.0).assumptions
    assert "all of it is out of the container after 90 minutes" in told


def test_a_survey_says_reading_and_limit_in_the_unit_of_its_test() -> None:
    """1 MPa is 1e6 Pa, 75 % RH is 0.75, 1B is 1."""
    pull = air.judge_survey("ASTM D7234", 1.2e6, 1.5e6)
    assert (pull.state, pull.reasons) == (
        "don't",
        (
            "ASTM D7234 pull-off strength on concrete in MPa is 1.2, less than 1.5: prepare the "
            "surface again",
        ),
    )
    damp = air.judge_survey("ASTM F2170", 0.8, 0.75)
    assert damp.state == "wait"
    assert damp.reasons[0].startswith(
        "ASTM F2170 humidity inside the slab at depth in % RH is 80, more than 75: let it dry"
    )
    moist = air.judge_survey("ASTM F1869", 3 * air.MVER_UNIT, 3 * air.MVER_UNIT)
    assert moist.reasons[0].endswith("is 3, at most 3")
    for designation, value in (("ASTM D3359", 5.1), ("ASTM F2170", 1.01), ("ASTM D4263", 1.1)):
        with pytest.raises(InputError):
            air.judge_survey(designation, value, 1.0)
    for designation, limit in (("ASTM D3359", 5.1), ("ASTM F2170", 1.01), ("ASTM F2170", 0.0)):
        with pytest.raises(InputError, match="limit for"):
            air.judge_survey(designation, 0.5, limit)
