"""Jobs of every released version stay fully usable: they are read by the templates they came from.

The workbooks beside this file were made, accepted and settled by the version their folder names,
and are never made anew.
"""

from __future__ import annotations

import json
import re
import shutil
import zipfile
from pathlib import Path

import pytest
from tests.command_line import run

from pourbook.tables.used import lots
from pourbook.tables.used.lots import Scanned
from pourbook.workbook.check.check import check_file
from pourbook.workbook.layout.lay_out import lay_out
from pourbook.workbook.read.read import read_book
from pourbook.workbook.template import released
from pourbook.workbook.template.template import load_book

HERE = Path(__file__).parent
JOBS = sorted(HERE.glob("*/*.xls?"))
SAID = {"us.xlsx": (), "metric.xlsx": (), "imperial.xlsm": ("job.check",)}
"""What the version that made it found in each: an option beside the accepted one does not fit."""
Printed = pytest.CaptureFixture[str]


@pytest.fixture(params=JOBS, ids=lambda p: f"{p.parent.name}-{p.name}")
def old(request: pytest.FixtureRequest, tmp_path: Path) -> Path:
    """A copy of a job of a released version."""
    return Path(shutil.copy(request.param, tmp_path / request.param.name))


def test_there_are_jobs_of_the_first_version() -> None:
    assert {p.name for p in JOBS if p.parent.name == "0.1.0"} == SAID.keys()


@pytest.mark.parametrize("path", sorted(released.archive("1").parent.glob("*.zip")), ids=str)
def test_released_templates_are_as_they_were(path: Path) -> None:
    with zipfile.ZipFile(path) as kept:
        content = {name: kept.read(name) for name in kept.namelist()}
    if path.stem == released.CURRENT:
        assert content == released.frozen(), "templates changed: raise CURRENT in released.py"
    for book in released.BOOKS:
        assert load_book(book, path.stem).book == book


def test_words_that_formulas_of_older_templates_count_are_still_said() -> None:
    counted = set()
    for book in released.BOOKS:
        for cell in lay_out(book, "us", 16, version="1").cells:
            counted |= set(re.findall(r'"(\*[^"]+\*)"', cell.formula or ""))
    assert counted == {
        "*is not worked out*",  # beside '!*', which a status that waits does not begin with
        "*used before it was bought*",  # said by tables/used/lots.py, and tested there
        "*use-by*",  # said by the same templates
        "*worth*",
    }
    late = {("x", "l"): lots.KnownLot(46400, None, {"kit"})}
    (said,) = lots.judge("X", [("A", Scanned("L"))], 46399, late).wrong
    assert "used before it was bought" in said


def test_it_is_found_as_the_version_that_made_it_found_it(old: Path) -> None:
    assert tuple(f.id for f in check_file(old).findings) == SAID[old.name]


def test_its_settlement_is_the_one_it_was_settled_with(old: Path, capsys: Printed) -> None:
    book = read_book(old)
    cell = book.plan().cell("settle_sums", "actual")
    stored = book.sheets[cell.sheet].value(cell.address)
    assert isinstance(stored, float)
    assert run("settle", old, "--json") == 0
    assert f"{stored:,.2f}" in json.dumps(json.loads(capsys.readouterr().out))


@pytest.mark.parametrize(
    "command",
    [
        ["show", "{job}"],
        ["explain", "{job}", "Price!B30"],
        ["export", "{job}", "--ics", "{folder}/job.ics"],
        ["books", "{job}", "{folder}/copy.xlsx"],
        ["recompute", "{job}"],
        ["settle", "{job}", "--journal", "{folder}/job.csv"],
    ],
    ids=lambda command: command[0],
)
def test_every_command_takes_it(old: Path, command: list[str], capsys: Printed) -> None:
    given = [part.format(job=old, folder=old.parent) for part in command]
    assert run(*given) == 0
    assert "Traceback" not in capsys.readouterr().err


def test_it_goes_into_the_month(old: Path, capsys: Printed) -> None:
    month = old.parent / "month.xlsx"
    assert run("month", old.parent, month, "--json") == 0
    assert old.name in {cell for row in _files(month) for cell in row}


def _files(month: Path) -> list[list[object]]:
    sheet = read_book(month).sheets["Files"]
    return [[raw.value for raw in sheet.cells.values()]]


def test_an_upgrade_keeps_every_entry_and_the_original(old: Path, capsys: Printed) -> None:
    before = old.read_bytes()
    stale = read_book(old).plan().version != released.CURRENT
    assert run("upgrade", old) == 0
    told = capsys.readouterr().out
    kept = old.with_name(f"{old.stem} (before upgrade){old.suffix}")
    assert kept.exists() == stale
    if not stale:
        assert "nothing was changed" in told
        assert old.read_bytes() == before
        return
    assert kept.read_bytes() == before
    assert "no place" not in told
    assert read_book(old).plan().version == released.CURRENT
    said = sorted([*SAID[old.name], "job.check"])  # the gates of Survey, which nobody answered yet
    assert sorted(f.id for f in check_file(old).findings) == said
