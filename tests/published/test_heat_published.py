"""Heat of a batch: checks X1, X2 and X4 to X6."""

from __future__ import annotations

import pytest

from pourbook.trade.cure.heat import (
    Bucket,
    adiabatic_rise,
    bucket_history,
    hottest,
    pot_life_of_batch,
)
from pourbook.trade.cure.kinetics import Kinetics
from pourbook.trade.mixing import ahew, phr


def test_x1_adiabatic_rise() -> None:
    """350 J/g and 1.6 J/(g·K): 218.75 K (read, parameters of an open frontal-cure solver)."""
    assert adiabatic_rise(350e3, 1600.0) == 218.75


def test_x2_epoxide_opening() -> None:
    """About 100 kJ/eq (from memory), EEW 190 with 12.83 phr of TETA, 2.0 J/(g·K): 233 K.

    The phr is that of production, from the molar mass; the rise is 100 kJ / (190 g x 1.1283) / cp,
    computed outside.
    """
    per_gram = 1.0 + phr(ahew(146.238, 6), 190) / 100.0
    rise = adiabatic_rise(100e3 / 0.190 / per_gram, 2000.0)
    assert rise == pytest.approx(233.24, abs=0.02)


def test_x4_x5_the_mass_is_part_of_the_answer() -> None:
    """ASTM D2471-99: gel time varies with the volume mixed, so it must be stated (read).

    ISO 9514: the pot life is that of a mass standing nearly adiabatic (read). So the answer falls
    with the mass and names the mass it was stated for.
    """
    sheet = {"stated": 2400.0, "stated_mass": 0.1, "reference": 296.15, "energy": 55e3}
    answers = [pot_life_of_batch(mass, 296.15, **sheet) for mass in (0.1, 0.5, 1.0)]
    assert answers[0].value > answers[1].value > answers[2].value
    assert all("0.1 kg" in " ".join(answer.assumptions) for answer in answers)
    assert all("safety data sheet" in " ".join(answer.assumptions) for answer in answers)


def test_x6_invariants() -> None:
    """Physics: T <= Ta + H/cp; an unlimited surface keeps the batch at the air's temperature."""
    mix = Kinetics(4e5, 60e3, 4e6, 60e3, 1.0, 1.5)
    small = Bucket(1.0, 0.05, 8.0, 4e5, 2000.0, 298.15, 298.15)
    wide = Bucket(0.1, 10.0, 8.0, 4e5, 2000.0, 298.15, 298.15)
    sealed = Bucket(0.1, 0.012, 0.0, 4e5, 2000.0, 298.15, 298.15)
    assert 300.0 < hottest(mix, small, 2e5).temperature < 298.15 + 200.0
    assert hottest(mix, wide, 2e4).temperature == pytest.approx(298.15, abs=0.05)
    end = bucket_history(mix, sealed, [2e6])[0]
    assert end.temperature == pytest.approx(298.15 + 200.0 * end.conversion, abs=1e-5)
