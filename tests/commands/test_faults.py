"""Whatever fails at whatever step of a command, files are as they were or as they should be.

Each command that writes is ended at a step, and run with a full disk, a share that can only be read
or a drive that was taken away from a step on; then it is run once more. In between no file is half
written, and in the end all is as if nothing had happened: nothing lost, nothing twice. A quarter of
an hour is what that takes for all, so that a test run tries a few steps of a few; every command,
every step and every way of failing are tried with ``POURBOOK_ALL_FAULTS=1`` in the environment.
"""

from __future__ import annotations

import json
import os
import re
import shutil
import subprocess
import sys
from collections import Counter
from pathlib import Path
from typing import Any

import pytest
from tests import faults

from pourbook.cells import Value
from pourbook.formats.held import WORK
from pourbook.formats.ooxml import rewrite
from pourbook.shop import stock_job
from pourbook.workbook.check.check import check_file
from pourbook.workbook.check.reader import Reader
from pourbook.workbook.read.read import read_book

pytestmark = [
    pytest.mark.in_turn,
    pytest.mark.skipif(not hasattr(os, "fork"), reason="processes are forked here"),
]

ALL = bool(os.environ.get("POURBOOK_ALL_FAULTS"))
MOST = 0 if ALL else 1
AT_ONCE = 20 if ALL else 6
BATCHES = "Layer,Mixing began,Lot A,Part A weighed\nRolled top coat,2027-01-18 10:00,R-0119,100\n"
BILL = (
    "Date,From,Invoice or slip,Line,Kind,Product,Holds,Packs,Contents of one,Price of one\n"
    "2027-01-20,Depot,Q-9,1,bought,Clear flood,kit,1,2,152\n"
)
ROOMS = "Room,Piece,Shape,A,B\nKitchen,Island,rectangle,60 in,36 in\n"
COMMANDS: dict[str, list[str]] = {
    "new": ["new", "fresh.xlsx", "--from", "rooms.csv"],
    "new of a shop": ["new", "fresh.xlsm", "--shop", "shop.xlsx", "--on", "2027-01-04"],
    "recompute": ["recompute", "stale.xlsx"],
    "accept": ["accept", "quoted.xlsx", "--on", "2026-11-20"],
    "log": ["log", "job.xlsx", "--from", "batches.csv"],
    "receipts": ["receipts", "job.xlsx", "--from", "bill.csv"],
    "remember": [
        *("receipts", "job.xlsx", "--from", "bill.csv", "--shop", "shop.xlsx"),
        *("--supplier", "Depot", "--remember"),
    ],
    "settle": ["settle", "job.xlsx", "--journal", "lines.csv"],
    "close": ["settle", "job.xlsx", "--close", "--on", "2027-03-01"],
    "books": ["books", "job.xlsx", "copy.xlsx"],
    "stock": ["stock", "shop.xlsx", "--from", "job.xlsx"],
    "month": ["month", ".", "month.xlsx"],
    "learn": ["learn", ".", "--shop", "shop.xlsx"],
    "board": ["board", ".", "board.xlsx", "--shop", "shop.xlsx"],
    "export": ["export", "job.xlsx", "--ics", "job.ics"],
}
TRIED = [(name, how) for name in COMMANDS for how in ("killed", *faults.ERRORS)]
FEW = [("log", "killed"), ("new", "full")]
STAMPS = re.compile(r"DTSTAMP:\w+|UID:\S+")
NOTE = re.compile(r"(?<=, made )\d{4}-\d\d-\d\d \d\d:\d\d")  # on the first sheet of a books copy


@pytest.fixture(scope="module")
def before(settled_us: Path, demo_us: Path, demo_shop: Path, tmp_path_factory: Any) -> Path:
    """A folder with a job, a settled one, a shop, and what is to be brought in."""
    folder = Path(tmp_path_factory.mktemp("before")) / "desk"
    folder.mkdir()
    shutil.copy(settled_us, folder / "job.xlsx")
    shutil.copy(demo_us, folder / "quoted.xlsx")
    # a figure that somebody changed by hand
    rewrite.inject(demo_us, folder / "stale.xlsx", {("Amounts", "N8"): 1.0})
    shutil.copy(demo_shop, folder / "shop.xlsx")
    for name, text in (("batches", BATCHES), ("bill", BILL), ("rooms", ROOMS)):
        (folder / f"{name}.csv").write_text(text, encoding="utf-8")
    return folder


def held(path: Path) -> dict[tuple[str, str], tuple[Value, str]] | str:
    """Return what a file holds, without the moment it was made."""
    if path.suffix in {".xlsx", ".xlsm"}:
        sheets = read_book(path).sheets
        return {
            (n, a): (NOTE.sub("", c.value) if isinstance(c.value, str) else c.value, c.formula)
            for n, s in sheets.items()
            for a, c in s.cells.items()
        }
    return STAMPS.sub("", path.read_bytes().decode())


def desk(folder: Path) -> dict[str, Any]:
    """Return all files of a folder but those that are not finished."""
    return {p.name: held(p) for p in folder.iterdir() if p.name != WORK}


def run(before: Path, work: Path, words: list[str], how: str) -> list[dict[str, Any]]:
    asked = {"before": str(before), "work": str(work), "words": words, "how": how, "most": MOST}
    done = subprocess.run(
        [sys.executable, "-m", "tests.faults", json.dumps(asked)],
        cwd=Path(faults.__file__).parents[1], capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr + done.stdout
    found: list[dict[str, Any]] = json.loads(done.stdout)
    return found


@pytest.mark.parametrize(("name", "how"), TRIED if ALL else FEW)
def test_a_step_that_fails_loses_nothing(name: str, how: str, before: Path, tmp_path: Path) -> None:
    old = desk(before)
    runs = run(before, tmp_path, COMMANDS[name], how)
    new = desk(tmp_path / "well")
    assert runs
    assert old != new
    for one in runs:
        what = f"{how} at step {one['at']}, {one['step']}"
        between = desk(tmp_path / f"{one['at']}-after")
        for file in between.keys() | old.keys():
            assert file in between, f"{what}: {file} is gone"
            assert between[file] in (old.get(file), new.get(file)), f"{what}: {file} is neither"
        if how == "killed":
            assert one["code"] in {faults.KILLED, 0, 1}, f"{what}: {one['said']}"
        else:
            assert one["code"] in {0, 1, 3}, f"{what}: {one['code']} {one['said']}"
            assert one["code"] or between == new, f"{what}: it says all is well"
        assert "Traceback" not in one["said"] + one["more"], f"{what}: {one['said']} {one['more']}"
        assert desk(tmp_path / f"{one['at']}") == new, f"{what}, then again: {one['more']}"
        leftovers = (tmp_path / f"{one['at']}" / WORK).exists()
        assert one["again"] or not leftovers, f"{what}: leftovers"


def test_programs_at_once_on_a_shop_lose_nothing_and_book_nothing_twice(
    before: Path, tmp_path: Path
) -> None:
    """Two jobs, booked by many programs at the same time; whoever is sent away says so."""
    folder = tmp_path / "desk"
    shutil.copytree(before, folder)
    words = []
    for number in range(2):
        shutil.copy(folder / "job.xlsx", folder / f"job-{number}.xlsx")
        stock_job.remark(folder / f"job-{number}.xlsx", f"job {number}")
        words.append(["stock", "shop.xlsx", "--from", f"job-{number}.xlsx"])
    asked = {"work": str(folder), "words": words * (AT_ONCE // 2), "how": "at once"}
    done = subprocess.run(
        [sys.executable, "-m", "tests.faults", json.dumps(asked)],
        cwd=Path(faults.__file__).parents[1], capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    for number, (code, said) in enumerate(json.loads(done.stdout)):
        assert code in {0, 3}, said
        assert code == 0 or "another command has it" in said, said
        if code:  # sent away: comes again
            stock_job.book(folder / "shop.xlsx", folder / f"job-{number % 2}.xlsx", dry_run=False)
    shelf = stock_job.shelf_of(Reader(check_file(folder / "shop.xlsx")))
    booked = [one.key for one in shelf.movements if one.key.startswith("job ")]
    each = Counter(key.partition(" | ")[0] for key in booked)
    assert len(each) == 2
    assert len(set(each.values())) == 1
    assert len(set(booked)) == len(booked)
    assert not (folder / WORK).exists()
