"""Whose loss: groups by hand, chance by hand and against another test of scipy's, in the month."""

from __future__ import annotations

import datetime as dt
import shutil
from fractions import Fraction
from itertools import combinations
from pathlib import Path
from statistics import mean

import pytest
from scipy import stats
from tests.archive import making
from tests.command_line import run

from pourbook.archive.layer_record import LayerRecord
from pourbook.archive.whose import CHANCE, LESS, MORE, TOO_FEW, by_chance, called_of, groups_of
from pourbook.job.fill import Entry, fill
from pourbook.workbook.check.check import check_file
from pourbook.workbook.check.reader import Reader


def _loss(loss: float, **more: str) -> LayerRecord:
    return LayerRecord("Clear", "Flood", "top", 1.0 - loss, 1.0, 0, 0.0, 0.0, "by log", **more)


def _exact(one: list[float], two: list[float]) -> float:
    """Return the share of all ways to part the losses that part the means at least as far."""
    every, size = [*one, *two], len(one)
    seen = abs(mean(one) - mean(two)) - 1e-12
    ways = [
        abs(
            mean(every[n] for n in chosen) - mean(x for n, x in enumerate(every) if n not in chosen)
        )
        >= seen
        for chosen in combinations(range(len(every)), size)
    ]
    return float(Fraction(sum(ways), len(ways)))


@pytest.mark.parametrize(
    ("one", "two"),
    [
        ([0.21, 0.22, 0.25, 0.2], [0.1, 0.12, 0.11, 0.09, 0.1]),
        ([0.1, 0.14, 0.12], [0.11, 0.13, 0.1, 0.12]),
    ],
)
def test_chance_is_that_of_every_way_to_part_them(one: list[float], two: list[float]) -> None:
    """By trying every way; scipy doubles the smaller side: it may say up to twice as much."""
    found, exact = by_chance(one, two), _exact(one, two)
    assert exact - 1e-9 <= found <= 2 * exact + 1e-9
    other = float(stats.mannwhitneyu(one, two, method="exact").pvalue)
    assert (found <= 0.05) == (other <= 0.05)


def test_a_mixer_who_loses_more_is_told_and_one_job_is_too_few() -> None:
    """Bo lost a fifth in each of four jobs, the others a tenth in five."""
    jobs = [[_loss(0.2 + n / 100, mixer="Bo", lot="L-1")] for n in range(4)]
    jobs += [[_loss(0.1 + n / 100, mixer=["Ann", "ann "][n % 2])] for n in range(5)]
    jobs += [[_loss(0.3, mixer="Cy", substrate="tile")]]
    found = {(group.by, group.name): group for group in groups_of(jobs)}
    bo, ann, one = (found["mixed by", name] for name in ("Bo", "Ann", "Cy"))
    assert (bo.jobs, bo.layers) == (4, 4)
    assert bo.loss == pytest.approx(0.215)
    assert bo.others == pytest.approx((0.1 + 0.11 + 0.12 + 0.13 + 0.14 + 0.3) / 6)
    assert (ann.jobs, ann.says) == (5, LESS), "capitals and blanks make no other mixer"
    assert (one.jobs, one.chance, one.says) == (1, None, TOO_FEW)
    assert found["lot", "L-1"].jobs == 4
    assert found["product", "Clear"].says == TOO_FEW, "there is no other to hold it against"
    assert found["substrate", "tile"].jobs == 1
    assert bo.says in {MORE, CHANCE}
    assert (bo.says == MORE) == (bo.chance is not None and bo.chance <= 0.05)


def test_two_layers_of_one_job_are_one_job() -> None:
    jobs = [[_loss(0.1, mixer="Bo"), _loss(0.3, mixer="Bo")], [_loss(0.2, mixer="Ann")]]
    bo = next(group for group in groups_of(jobs) if group.name == "Bo")
    assert (bo.jobs, bo.layers) == (1, 2)
    assert bo.loss == pytest.approx(0.2)


def test_a_bad_lot_is_told_from_chance() -> None:
    """Five of five jobs with the lot, one of ten without: by hand 15 x 14 ... as hypergeometric."""
    jobs = [({"bad"}, {"bad"}) for _ in range(5)]
    jobs += [({"good"}, {"good"} if n == 0 else set()) for n in range(10)]
    found = {one.lot: one for one in called_of(jobs)}
    bad = found["bad"]
    assert (bad.jobs, bad.called, bad.says) == (5, 5, "called back more")
    assert bad.chance == pytest.approx(float(stats.hypergeom(15, 6, 5).sf(4)), rel=1e-9)
    assert found["good"].says == CHANCE
    assert called_of([({"x"}, {"x"}), (set(), set())])[0].says == TOO_FEW


def test_the_month_says_it(settled_folder: Path, tmp_path: Path) -> None:
    """Three settled jobs of one product and layer, one of them called back for its lot."""
    folder = Path(shutil.copytree(settled_folder, tmp_path / "jobs"))
    job = folder / "first.xlsx"
    typed: dict[Entry, object] = {
        ("log", "mixed_by", 0): "Bo",
        ("callbacks", "called_on", 0): dt.date(2027, 2, 1),
        ("callbacks", "called_lot", 0): "X-9",
        ("callbacks", "called_what", 0): "soft",
    }
    fill(job, job, typed, force=True)
    target = tmp_path / "month.xlsx"
    assert run("month", folder, target) == 0
    reader = Reader(check_file(target))
    rows = {
        (reader.text("whose", "by", n), reader.text("whose", "name", n)): n
        for n in reader.rows("whose", "by")
    }
    product = rows["product", making.PRODUCT]
    assert reader.number("whose", "jobs", product) == 3
    losses = (0.1, 1 - 1.6 / 2.2, 0.2)  # by hand, in test_learn
    assert reader.number("whose", "loss", product) == pytest.approx(mean(losses), abs=1e-6)
    assert reader.text("whose", "says", product) == TOO_FEW
    assert reader.text("called", "lot", 0) == "X-9"
    assert reader.number("called", "called", 0) == 1
    mixer = rows.get(("mixed by", "Bo"))
    assert mixer is not None
    assert reader.number("whose", "jobs", mixer) == 1
