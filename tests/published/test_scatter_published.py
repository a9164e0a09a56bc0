"""Mean and standard deviation of settled jobs: data sets of the NIST StRD, univariate statistics.

Data and certified values are from memory. That both are remembered rightly shows where they meet:
the hundred speeds give the certified mean and scatter to all digits. The sets of seven and eight
digits before the point (NumAcc1, 3 and 4) are left out: a logarithm that large is no pace.
"""

from __future__ import annotations

import math

import pytest

from pourbook.trade.learning import shop_prior

MICHELSON = """
850 740 900 1070 930 850 950 980 980 880 1000 980 930 650 760 810 1000 1000 960 960
960 940 960 940 880 800 850 880 900 840 830 790 810 880 880 830 800 790 760 800
880 880 880 860 720 720 620 860 970 950 880 910 850 870 840 840 850 840 840 840
890 810 810 820 800 770 760 740 750 760 910 920 890 860 880 720 840 850 850 780
890 840 780 810 760 810 790 810 820 850 870 870 810 740 810 940 950 800 810 870
"""
"""Speed of light in air less 299,000 km/s; the set is in thousands of km/s."""


@pytest.mark.parametrize(
    ("name", "data", "mean", "deviation"),
    [
        (
            "Michelso",
            [299.0 + int(speed) / 1000.0 for speed in MICHELSON.split()],
            299.852400000000,
            0.0790105478190518,
        ),
        ("NumAcc2", [1.2, *[1.1, 1.3] * 500], 1.2, 0.1),
    ],
)
def test_certified_mean_and_scatter(
    name: str, data: list[float], mean: float, deviation: float
) -> None:
    """The scale jobs are learned on is a logarithm, so what goes in is the power of each figure."""
    prior = shop_prior("pace", [math.exp(x) for x in data])
    assert math.log(prior.typical) == pytest.approx(mean, rel=1e-13), name
    assert prior.spread == pytest.approx(deviation, rel=1e-11), name
