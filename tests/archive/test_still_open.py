"""Where a job stands and what it lacks: each thing taken away from a job that is done is asked for.

What is expected is written by hand from what was taken away; no sentence of the product is used to
find it.
"""

from __future__ import annotations

import json
import shutil
from collections.abc import Mapping
from pathlib import Path

import openpyxl
import pytest
from tests.command_line import run

from pourbook.archive.layer_record import JobReader
from pourbook.archive.still_open import Missing, Stand, stand_of
from pourbook.job.fill import Entry, fill
from pourbook.workbook.check.check import check_file
from pourbook.workbook.layout.laid_out import Layout
from pourbook.workbook.read.read import read_book

Printed = pytest.CaptureFixture[str]
LAST = 16  # the last row of the log: 17 batches
LOG = ("layer", "started", "ended", "batch", "lot_a", "lot_b", "mass_a", "mass_b", "air", "wet")


def _stand(path: Path) -> Stand:
    return stand_of(JobReader(check_file(path)))


def _without(source: Path, target: Path, entries: Mapping[Entry, object]) -> Stand:
    fill(source, target, entries, force=True)
    return _stand(target)


def _needed(stand: Stand) -> list[Missing]:
    return [one for one in stand.missing if one.needed]


def _row(plan: Layout, block: str, index: int) -> dict[Entry, object]:
    keys = [key for key in plan.entry_at if key[0] == block and key[2] == index]
    return dict.fromkeys(keys)


def test_a_job_that_is_done_lacks_nothing(settled_us: Path) -> None:
    stand = _stand(settled_us)
    assert stand.phase == "ready to settle"
    assert _needed(stand) == []
    told = " ".join(one.what for one in stand.missing)
    assert "Days on site" in told
    assert "Hours of labour" not in told  # settling.py notes them
    assert not any("wet film" in one.what for one in stand.missing)


def test_a_quote_waits_for_the_client(demo_us: Path, tmp_path: Path) -> None:
    stand = _stand(demo_us)
    assert (stand.phase, [one.ask for one in stand.missing]) == ("quoted", ["client"])
    stand = _without(demo_us, tmp_path / "a.xlsx", {("packs", "price", 0): None})
    assert (stand.phase, [one.ask for one in stand.missing]) == ("being priced", ["office"])
    assert stand.missing[0].sheet == "Price"


def test_an_accepted_job_waits_for_the_crew(accepted_us: Path) -> None:
    stand = _stand(accepted_us)
    assert (stand.phase, [one.ask for one in stand.missing]) == ("accepted", ["crew"])
    assert (stand.missing[0].sheet, stand.missing[0].cell) == ("Used", "A9")


def test_batches_that_are_not_logged(settled_us: Path, plan_us: Layout, tmp_path: Path) -> None:
    last = read_book(settled_us).sheets["Used"].value(plan_us.cell("log", "layer", LAST).address)
    stand = _without(settled_us, tmp_path / "a.xlsx", _row(plan_us, "log", LAST))
    assert stand.phase == "under way"
    assert [one.what for one in _needed(stand)] == [f"{last}: batch 17 not logged"]
    both = {**_row(plan_us, "log", LAST), **_row(plan_us, "log", LAST - 1)}
    (one,) = _needed(_without(settled_us, tmp_path / "a.xlsx", both))
    assert one.what == f"{last}: batches 16, 17 not logged"
    assert one.cell == plan_us.cell("log", "layer", LAST - 1).address


def test_a_row_without_a_number_stands_for_one_batch(
    settled_us: Path, plan_us: Layout, tmp_path: Path
) -> None:
    stand = _without(settled_us, tmp_path / "a.xlsx", {("log", "batch", LAST): None})
    assert stand.phase == "ready to settle"
    more = {("log", "batch", LAST): None, **_row(plan_us, "log", LAST - 1)}
    (one,) = _needed(_without(settled_us, tmp_path / "a.xlsx", more))
    assert one.what.endswith(": 1 of batches 16, 17 not logged")


def test_receipts_and_counts_are_asked_for(
    settled_us: Path, plan_us: Layout, tmp_path: Path
) -> None:
    book = read_book(settled_us).sheets["Used"]
    product = book.value(plan_us.cell("receipts", "product", 1).address)
    gone = {**_row(plan_us, "receipts", 1), **_row(plan_us, "left", 1)}
    asked = _needed(_without(settled_us, tmp_path / "a.xlsx", gone))
    assert f"{product}: no invoice or slip of the shelf" in [one.what for one in asked]
    stand = _without(settled_us, tmp_path / "a.xlsx", _row(plan_us, "left", 1))
    assert stand.phase == "to be counted"
    (one,) = _needed(stand)
    assert (one.ask, one.what.split(":")[0]) == ("store", product)


def test_a_row_that_is_refused_comes_first(settled_us: Path, tmp_path: Path) -> None:
    stand = _without(settled_us, tmp_path / "a.xlsx", {("receipts", "packs", 0): None})
    first = stand.missing[0]
    assert first.ask == "office"
    assert "type how many" in first.what
    assert first.sheet == "Used"


def test_what_nobody_measured_may_stay_blank(settled_us: Path, tmp_path: Path) -> None:
    wet = {("log", "wet", row): None for row in range(LAST + 1)}
    stand = _without(settled_us, tmp_path / "a.xlsx", wet)
    assert stand.phase == "ready to settle"
    unread = [one for one in stand.missing if "no wet film" in one.what]
    assert unread
    assert not any(one.needed for one in unread)


def test_a_job_without_a_log_is_settled_by_count(
    settled_us: Path, plan_us: Layout, tmp_path: Path
) -> None:
    rows = {key: None for key in plan_us.entry_at if key[0] == "log"}
    stand = _without(settled_us, tmp_path / "a.xlsx", rows)
    assert stand.phase == "ready to settle"
    assert stand.missing[0].what.startswith("no batch is logged")


def test_the_command_lists_a_folder_and_changes_nothing(
    accepted_us: Path, settled_us: Path, demo_metric: Path, tmp_path: Path, capsys: Printed
) -> None:
    for source, name in ((accepted_us, "a"), (settled_us, "b"), (demo_metric, "c")):
        shutil.copy(source, tmp_path / f"{name}.xlsx")
    fill(tmp_path / "b.xlsx", tmp_path / "b.xlsx", {("start", "job", 0): "Second"}, force=True)
    fill(tmp_path / "c.xlsx", tmp_path / "c.xlsx", {("start", "job", 0): "Third"}, force=True)
    before = {path.name: path.read_bytes() for path in tmp_path.iterdir()}
    capsys.readouterr()
    code = run("open", tmp_path, "--json")
    said = json.loads(capsys.readouterr().out)
    assert {one["file"]: one["phase"] for one in said["jobs"]} == {
        "a.xlsx": "accepted",
        "b.xlsx": "ready to settle",
        "c.xlsx": "quoted",
    }
    assert code == 0
    assert run("open", tmp_path, "--phase", "accepted") == 0
    shown = capsys.readouterr().out
    assert "no batch is logged yet" in shown
    assert "Second" not in shown
    assert {path.name: path.read_bytes() for path in tmp_path.iterdir()} == before
    assert run("open", tmp_path / "nowhere") == 2
    assert run("open", tmp_path, "--phase", "done") == 2


def test_the_month_lists_what_is_open(accepted_us: Path, settled_us: Path, tmp_path: Path) -> None:
    shutil.copy(accepted_us, tmp_path / "a.xlsx")
    fill(settled_us, tmp_path / "b.xlsx", {("start", "job", 0): "Second"}, force=False)
    target = tmp_path / "out" / "month.xlsx"
    target.parent.mkdir()
    assert run("month", tmp_path, target) == 1  # one is not settled
    plan = read_book(target).plan("month")
    sheet = openpyxl.load_workbook(target, data_only=True)["Open"]
    cells = {
        name: sheet[plan.cell("open_jobs", name, 0).address].value
        for name in ("phase", "ask", "where", "needed", "file")
    }
    assert cells == {
        "phase": "accepted", "ask": "crew", "where": "Used!A9", "needed": "yes", "file": "a.xlsx",
    }  # fmt: skip
    assert sheet[plan.cell("open_counts", "jobs").address].value == 1
    assert sheet[plan.cell("open_counts", "things").address].value == 1
