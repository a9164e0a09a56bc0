"""Learning from a folder of made jobs, to figures by hand; and from thousands that never were.

By hand: losses 1 - 0.9/1.0 = 10 % (its films were read at 125 % on 90 % of the area: 0.8 x 0.9 x
1.25 = 0.9), 1 - 1.6/2.2 = 27.27 % and 1 - 4/5 = 20 %. On the logit scale -2.197225, -0.980829 and
-1.386294, mean -1.521449. The shop reckons with 10 %, spread 0.3, worth 4 jobs:
level = (4 x -2.197225 + 3 x -1.521449) / 7 = -1.907607
variance = (4 x 0.09 + 0.767210 + 12/7 x 0.675776²) / 7 = 0.272868
width = sqrt(0.272868 x 8/7) = 0.558434, 7 degrees of freedom
"""

from __future__ import annotations

import json
import math
import random
import shutil
from dataclasses import replace
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from scipy import stats
from tests.archive import making
from tests.command_line import run

from pourbook.archive.folder import Found, look
from pourbook.archive.layer_record import LayerRecord
from pourbook.archive.learn import LearnedKind, lessons, usual_prior
from pourbook.archive.learned_sheet import entries, read
from pourbook.archive.record import JobRecord
from pourbook.errors import InputError
from pourbook.job import make
from pourbook.job.fill import fill
from pourbook.trade.learning import Prior
from pourbook.units import SYSTEMS
from pourbook.workbook.layout.laid_out import Layout
from pourbook.workbook.layout.lay_out import lay_out

Printed = pytest.CaptureFixture[str]
LEVEL, SPREAD, WIDTH, FREEDOM = -1.907607, math.sqrt(0.272868), 0.558434, 7
FOOT_M = 0.3048  # by definition


def share(logit: float) -> float:
    return 1.0 / (1.0 + math.exp(-logit))


@pytest.fixture(scope="module")
def told(settled_folder: Path) -> Any:
    """What the command says of the folder, for a machine."""
    import contextlib
    import io

    words = io.StringIO()
    with contextlib.redirect_stdout(words):
        assert run("learn", settled_folder, "--json") == 0
    return json.loads(words.getvalue())


def test_loss_by_hand(told: Any) -> None:
    assert told["jobs"] == 3
    (kind,) = told["kinds"]
    names = (kind["product"], kind["layer"], kind["surface"])
    assert names == (making.PRODUCT, making.LAYER, making.SURFACES)
    assert (kind["jobs"], kind["film_read"]) == (3, 1)
    assert kind["loss"] == pytest.approx(share(LEVEL), abs=1e-6)
    assert kind["spread"] == pytest.approx(SPREAD, abs=1e-6)
    bound = LEVEL + WIDTH * float(stats.t.ppf(0.9, FREEDOM))
    assert kind["suggested"] == pytest.approx(share(bound), abs=1e-6)


def test_pace_by_hand(told: Any) -> None:
    """60 square feet in 20 and in 30 minutes: 180 and 120 an hour, their mean ratio's middle."""
    (kind,) = told["kinds"]
    assert kind["pace_jobs"] == 2
    assert kind["pace_unit"] == "ft²/h"
    assert kind["pace"] == pytest.approx(math.sqrt(180.0 * 120.0), rel=1e-6)
    assert kind["suggested_pace"] < 120.0


def test_more_confidence_plans_with_more(settled_folder: Path, capsys: Printed) -> None:
    suggested = []
    for confidence in ("0.5", "0.9", "0.99"):
        run("learn", settled_folder, "--json", "--confidence", confidence)
        suggested.append(json.loads(capsys.readouterr().out)["kinds"][0]["suggested"])
    assert suggested == sorted(suggested)
    assert suggested[0] == pytest.approx(share(LEVEL), abs=1e-6), "the middle is the level"


def test_a_person_reads_what_was_left_out(mixed_folder: Path, capsys: Printed) -> None:
    assert run("learn", mixed_folder) == 1
    words = capsys.readouterr().out
    assert "broken.xlsx: left out" in words
    assert "asked.xlsx: not accepted" in words
    assert "Clear flood coat" in words


def test_a_negative_loss_is_left_out_and_said(
    demo_us: Path, plan_us: Layout, tmp_path: Path, capsys: Printed
) -> None:
    # 1.25 x 0.9 x 0.8 = 0.9 on the surface, 3 less 2.2 = 0.8 mixed: -12.5 %
    made = replace(making.FIRST, left=2.2)
    making.make(demo_us, tmp_path / "odd.xlsx", plan_us, made)
    assert run("learn", tmp_path, "--json") == 1
    told = json.loads(capsys.readouterr().out)
    (skipped,) = told["skipped"]
    assert "-12.5 %" in skipped["why"]
    (kind,) = told["kinds"]
    assert kind["jobs"] == 0, "its pace is still worth something"
    assert kind["pace"] == pytest.approx(180.0)


def test_one_product_in_two_layers_is_shared_out_by_the_log(
    demo_us: Path, plan_us: Layout, tmp_path: Path
) -> None:
    """Equal batches in both layers: each took half of the 2.0 gallons counted."""
    tinted = "Tinted base"
    first = {name: value for (_, name, _), value in _log_row(plan_us).items()}
    extra: dict[tuple[str, str, int], object] = {
        ("layers", "product", 0): making.PRODUCT,
        **{("log", name, 1): value for name, value in first.items()},
        ("log", "layer", 1): tinted,
        ("coated", "done", 1): 100.0,  # its bucket went over 60, as the log copied here says
    }
    kept: dict[tuple[str, str, int], str | float] = {
        ("quoted_products", "net", 0): 1.2,
        ("quoted_layers", "layer", 1): tinted,
        ("quoted_layers", "product", 1): making.PRODUCT,
        ("quoted_layers", "coated", 1): 100.0,
        ("quoted_layers", "wet", 1): 40.0,
        ("quoted_layers", "net", 1): 0.4,
        ("quoted_layers", "mixed", 1): 0.5,
    }
    made = replace(making.SECOND, net=0.8, left=1.0, extra=extra)
    target = making.make(demo_us, tmp_path / "two.xlsx", plan_us, made, kept)
    (found,) = look(tmp_path, processes=1)
    assert found.job is not None, target
    gallon = SYSTEMS["us"].volume
    assert gallon == "US gal"
    by_layer = {x.layer: x for x in found.job.layers}
    assert set(by_layer) == {making.LAYER, tinted}, found.job.why
    for layer in by_layer.values():
        assert layer.how == "by log"
        assert layer.mixed == pytest.approx(0.003785411784)  # one US gallon, NIST Handbook 44
    learned, _ = lessons([found], Prior(0.1, 0.3, 1e-9), 0.5)
    losses = {x.kind.layer: x.loss for x in learned}
    assert losses[making.LAYER] == pytest.approx(0.2, abs=1e-6)
    assert losses[tinted] == pytest.approx(0.6, abs=1e-6)


def _log_row(layout: Layout) -> dict[tuple[str, str, int], object]:
    typed = making.typed(making.SECOND)
    return {key: value for key, value in typed.items() if key[0] == "log" and key[1] != "layer"}


def test_two_surfaces_of_one_layer_are_two_kinds() -> None:
    layers = [_layer(0.9, surfaces="top"), _layer(0.8, surfaces="edge")]
    learned, skipped = lessons([_found([x]) for x in layers], usual_prior())
    assert [(x.kind.surface, x.jobs) for x in learned] == [("edge", 1), ("top", 1)]
    assert not skipped


def test_a_blank_layer_takes_all_layers_of_the_product_job_by_job() -> None:
    """0.9 of 1.0 and 0.5 of 1.0 in one job: 1 - 1.4 / 2.0 = 30 %."""
    one = _found([_layer(0.9, layer="Base"), _layer(0.5, layer="Top")])
    own = {LearnedKind("flood"): Prior(0.3, 0.3, 1e9)}
    learned, _ = lessons([one], Prior(0.1, 0.3, 1e-9), 0.5, own)
    whole = next(x for x in learned if not x.kind.layer)
    assert (whole.jobs, whole.kind) == (1, LearnedKind("flood"))
    assert whole.loss == pytest.approx(0.3)
    assert {x.kind.layer: round(x.loss, 6) for x in learned if x.kind.layer} == {
        "Base": 0.1,
        "Top": 0.5,
    }


def test_nothing_is_learned_of_a_layer_whose_mix_is_not_known() -> None:
    found = _found([replace(_layer(0.9), mixed=None, how="log and count do not agree")])
    learned, skipped = lessons([found], usual_prior())
    assert not learned
    assert [s.why for s in skipped] == ["log and count do not agree"]


def test_capitals_do_not_make_a_new_kind() -> None:
    jobs = [_found([_layer(0.9, product=p)]) for p in ("Flood", "FLOOD")]
    (only,) = lessons(jobs, usual_prior())[0]
    assert only.jobs == 2


def _layer(film: float, **more: Any) -> LayerRecord:
    plain = LayerRecord("Flood", "Coat", "top", film, 1.0, 1, 0.0, 0.0, "by log")
    return replace(plain, **more)


def _found(layers: list[LayerRecord]) -> Found:
    made = JobRecord(
        "j", "c", "settled", "", "A", "USD", "us", "", "", 1.0, 2.0, 0, 0, layers=tuple(layers)
    )
    return Found("j.xlsx", "job", "", 0.0, made)


SHOPS, JOBS = 4000, 5


def test_the_bound_covers_the_next_job_as_often_as_it_says() -> None:
    """Shops with their own level and spread, through everything but the reading of files.

    The span is what a binomial of 0.9 gives in all but one of ten thousand seeds.
    """
    rng = random.Random(2027)
    prior = usual_prior()
    centre = math.log(prior.typical / (1 - prior.typical))
    covered = 0
    for _ in range(SHOPS):
        k, s0 = prior.worth, prior.spread
        s = math.sqrt(k * s0 * s0 / 2 / rng.gammavariate(k / 2, 1.0))
        m = rng.gauss(centre, s / math.sqrt(k))
        *past, following = (share(rng.gauss(m, s)) for _ in range(JOBS + 1))
        (lesson,), _ = lessons([_found([_layer(1 - loss)]) for loss in past], prior, 0.9)
        covered += following <= lesson.suggested
    low, high = stats.binom.interval(0.9999, SHOPS, 0.9)
    assert low <= covered <= high


# The shop's sheet


@pytest.fixture(scope="module")
def empty_shop(tmp_path_factory: pytest.TempPathFactory) -> Path:
    target = tmp_path_factory.mktemp("learned") / "shop.xlsx"
    make.make(target, "us", {}, book="shop", pieces=8)
    return target


@pytest.fixture
def shop(empty_shop: Path, tmp_path: Path) -> Path:
    target = tmp_path / "shop.xlsx"
    shutil.copy(empty_shop, target)
    return target


def _learned(path: Path) -> list[dict[str, Any]]:
    layout = lay_out("shop", "us", 8)
    page = openpyxl.load_workbook(path, data_only=True)["Learned"]
    names = [f.id for f in layout.block("learned").columns]
    rows = [
        {n: page[layout.cell("learned", n, i).address].value for n in names}
        for i in range(layout.block("learned").rows)
    ]
    return [row for row in rows if row["product"]]


def test_the_shop_gets_what_was_learned(settled_folder: Path, shop: Path) -> None:
    assert run("learn", settled_folder, "--shop", shop) == 0
    (row,) = _learned(shop)
    assert (row["product"], row["layer"]) == (making.PRODUCT, making.LAYER)
    assert row["jobs"] == 3
    assert row["loss"] == pytest.approx(share(LEVEL), abs=1e-6)
    assert row["pace"] == pytest.approx(math.sqrt(180.0 * 120.0), rel=1e-6)
    assert row["day"] is not None


def test_a_row_of_the_shop_keeps_its_place_and_its_figure(settled_folder: Path, shop: Path) -> None:
    """The shop's own 20 %, worth a thousand jobs, outweighs three; its other row stays blank."""
    typed: dict[tuple[str, str, int], object] = {
        ("learned", "product", 2): making.PRODUCT.upper(),
        ("learned", "layer", 2): making.LAYER,
        ("learned", "surface", 2): making.SURFACES,
        ("learned", "prior_loss", 2): 0.2,
        ("learned", "prior_jobs", 2): 100,
        ("learned", "product", 0): "Never used",
    }
    fill(shop, shop, typed, force=True)
    assert run("learn", settled_folder, "--shop", shop) == 0
    never, kept = _learned(shop)
    assert (never["product"], never["jobs"]) == ("Never used", None)
    assert (kept["product"], kept["jobs"], kept["prior_loss"]) == ("CLEAR FLOOD", 3, 0.2)
    assert kept["loss"] == pytest.approx(0.2, abs=0.002)


def test_learning_twice_changes_nothing_more(settled_folder: Path, shop: Path) -> None:
    run("learn", settled_folder, "--shop", shop)
    first = _learned(shop)
    run("learn", settled_folder, "--shop", shop)
    assert _learned(shop) == first


def test_the_shop_says_how_sure(settled_folder: Path, shop: Path, capsys: Printed) -> None:
    fill(shop, shop, {("learning", "confidence", 0): 0.5}, force=True)
    assert run("learn", settled_folder, "--shop", shop, "--json") == 0
    told = json.loads(capsys.readouterr().out)
    assert told["confidence"] == 0.5
    assert told["kinds"][0]["suggested"] == pytest.approx(share(LEVEL), abs=1e-6)


FAULTS: dict[str, tuple[dict[tuple[str, str, int], object], str]] = {
    "no usual loss": ({("learning", "prior_loss", 0): None}, "Learned!B"),
    "a loss of 130 %": ({("learned", "product", 1): "X", ("learned", "prior_loss", 1): 1.3}, "D1"),
    "a kind twice": (
        {("learned", "product", 0): "X", ("learned", "product", 1): "x"},
        "stands at",
    ),
}


@pytest.mark.parametrize("fault", FAULTS)
def test_a_faulty_shop_is_refused_by_its_cell(
    settled_folder: Path, shop: Path, capsys: Printed, fault: str
) -> None:
    typed, words = FAULTS[fault]
    fill(shop, shop, typed, force=True)
    before = shop.read_bytes()
    assert run("learn", settled_folder, "--shop", shop) == 1
    assert words in capsys.readouterr().err
    assert shop.read_bytes() == before


def test_a_job_is_no_shop(settled_folder: Path, capsys: Printed) -> None:
    assert run("learn", settled_folder, "--shop", settled_folder / "first.xlsx") == 3
    assert "shop workbook" in capsys.readouterr().err


def test_a_full_sheet_is_refused(shop: Path) -> None:
    found = [_found([_layer(0.9, product=f"P{n}")]) for n in range(41)]
    learned, _ = lessons(found, usual_prior())
    known = read(shop)
    assert len(entries(known, learned[:40], _day())) > 40
    with pytest.raises(InputError, match="41 new kinds of work, and 40 free rows"):
        entries(known, learned, _day())


def _day() -> Any:
    import datetime as dt

    return dt.date(2027, 3, 1)
