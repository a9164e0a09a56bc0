"""Finishes that take what was learned, and what they say of where it comes from.

The bound is that of :mod:`tests.archive.test_learn`, by hand: three jobs, and a usual loss of 10 %
worth four.
"""

from __future__ import annotations

import json
import shutil
from pathlib import Path
from typing import Any

import pytest
from scipy import stats
from tests.archive import making
from tests.archive.test_learn import FREEDOM, LEVEL, WIDTH, share
from tests.command_line import run

from pourbook.job import make
from pourbook.job.fill import Entry, fill
from pourbook.workbook.check.check import check_file
from pourbook.workbook.check.reader import Reader

pytestmark = pytest.mark.in_turn(2)

Printed = pytest.CaptureFixture[str]
SUGGESTED = round(share(LEVEL + WIDTH * float(stats.t.ppf(0.9, FREEDOM))), 3)
ROWS: tuple[dict[str, object], ...] = (
    {
        "finish": "Clear", "layer": making.LAYER, "product": making.PRODUCT,
        "surfaces": making.SURFACES, "loss": 0.08, "edge_loss": "0.5 US fl oz/ft", "hands": 2,
        "pace": 100.0,
    },
    {"finish": "Clear", "layer": "Elsewhere", "product": "Never used", "loss": 0.07},
)  # fmt: skip


@pytest.fixture
def shop(tmp_path: Path) -> Path:
    target = tmp_path / "shop.xlsx"
    make.make(target, "us", {}, book="shop", pieces=8)
    typed: dict[Entry, object] = {("finishes", "finish", 0): "Clear"}
    typed |= {("finish_layers", n, i): v for i, row in enumerate(ROWS) for n, v in row.items()}
    fill(target, target, typed, force=True)
    return target


def _row(path: Path, index: int = 0) -> dict[str, Any]:
    reader = Reader(check_file(path))
    names = ("loss", "edge_loss", "batch_loss", "pace", "learned")
    return {name: reader.value("finish_layers", name, index) for name in names}


def test_they_take_it_when_told_and_say_since_when(
    settled_folder: Path, shop: Path, capsys: Printed
) -> None:
    other = _row(shop, 1)
    assert run("learn", settled_folder, "--shop", shop, "--finishes", "--json") == 0
    (told,) = json.loads(capsys.readouterr().out)["finishes"]
    (kind,) = [told]
    row = _row(shop)
    assert row["loss"] == kind["loss"] == SUGGESTED
    assert row["edge_loss"] is row["batch_loss"] is None, "the learned loss holds both"
    assert row["pace"] == kind["pace"] < 60.0, "half of less than 120 an hour, for two"
    day, words = row["learned"].split(", ", 1)
    assert len(day) == len("2026-11-29")
    before = "3 jobs; before: loss 8.0%, edge run-off 0.5 US fl oz/ft, pace of one 100"
    assert words == before
    assert _row(shop, 1) == other, "nothing was learned of it"


def test_untold_they_stay_as_they_are(settled_folder: Path, shop: Path, capsys: Printed) -> None:
    """Three jobs weigh less than a figure worth four."""
    before = _row(shop)
    assert run("learn", settled_folder, "--shop", shop) == 0
    assert _row(shop) == before
    assert "Surer" not in capsys.readouterr().out


def test_jobs_that_weigh_more_than_a_typed_figure_say_so(
    settled_folder: Path, shop: Path, capsys: Printed
) -> None:
    fill(shop, shop, {("learning", "prior_jobs", 0): 2.5}, force=True)
    before = _row(shop)
    assert run("learn", settled_folder, "--shop", shop) == 0
    said = capsys.readouterr().out
    assert "Surer by now than what is typed on Finishes:" in said
    assert "--finishes" in said
    assert _row(shop) == before
    reader = Reader(check_file(shop))
    assert reader.value("learned", "surer", 0) == "surer than yours"
    run("learn", settled_folder, "--shop", shop, "--finishes")
    capsys.readouterr()
    run("learn", settled_folder, "--shop", shop)
    assert "Surer" not in capsys.readouterr().out, "they plan so already"


def test_taking_it_twice_changes_nothing_more(settled_folder: Path, shop: Path) -> None:
    run("learn", settled_folder, "--shop", shop, "--finishes")
    first = _row(shop)
    run("learn", settled_folder, "--shop", shop, "--finishes")
    assert _row(shop) == first


def test_without_a_shop_it_is_refused(settled_folder: Path, capsys: Printed) -> None:
    assert run("learn", settled_folder, "--finishes") == 2
    assert "--shop" in capsys.readouterr().err


def test_a_new_job_of_the_shop_says_where_its_loss_comes_from(
    demo_shop: Path, tmp_path: Path
) -> None:
    shop, job = Path(shutil.copy(demo_shop, tmp_path / "shop.xlsx")), tmp_path / "job.xlsx"
    said = "2026-11-29, 3 jobs; before: loss 8.0%"
    fill(
        shop,
        shop,
        {("finish_layers", "loss", 0): 0.123, ("finish_layers", "learned", 0): said},
        force=True,
    )
    assert run("new", job, "--shop", shop) == 0
    row = _row(job)
    assert (row["loss"], row["learned"]) == (0.123, said)
