"""A call of the shop made a job: on real files, by the command."""

from __future__ import annotations

import datetime as dt
import shutil
from collections.abc import Callable
from pathlib import Path

import pytest
from tests.command_line import run

from pourbook.dates import day_number
from pourbook.errors import InputError
from pourbook.job import fill
from pourbook.job.make import Scenario
from pourbook.shop import call_job
from pourbook.workbook.check.check import check_file
from pourbook.workbook.check.reader import Reader

SAID = "base with flakes, rolled top"


@pytest.fixture(scope="module")
def reader(demo_shop: Path) -> Reader:
    return Reader(check_file(demo_shop))


@pytest.fixture
def changed(tmp_path: Path, demo_shop: Path) -> Callable[..., Reader]:
    """The demo's shop with some cells of Calls typed anew, read again."""

    def change(**entries: object) -> Reader:
        target = tmp_path / "shop.xlsx"
        shutil.copy(demo_shop, target)
        typed = {("calls", name, 1): value for name, value in entries.items()}
        fill.fill(target, target, typed, force=True)
        return Reader(check_file(target))

    return change


def test_the_shop_says_what_to_say_on_the_phone(reader: Reader) -> None:
    low, high = (reader.number("calls", name, 1) for name in ("price_from", "price_to"))
    assert 0 < low < high < 2 * low
    assert (
        reader.value("calls", "call_status", 0) == reader.value("calls", "call_status", 1) == "ok"
    )
    assert str(reader.value("calls", "call_status", 2)).startswith("waits: Tops: it is blank")
    assert not reader.checked.findings


def test_a_call_becomes_a_job(reader: Reader) -> None:
    """Gull House: 70 square feet and 52 feet of edge in two rooms, from 1 February."""
    entries = call_job.entries_of(reader, 2, "us").entries
    assert entries["start", "job", 0] == "Gull House, Sandbar"
    assert entries["start", "client", 0] == "Gull House, 555-0112"
    assert entries["start", "start_date", 0] == dt.date(2027, 2, 1)
    assert entries["chosen", "finish_a", 0] == SAID
    assert entries["site", "temperature", 0] == 70
    for row in (0, 1):
        assert entries["rooms", "shape", row] == "area given"
        assert entries["rooms", "a", row] == "35 ft²"
        assert entries["rooms", "edge_run", row] == 26
        assert entries["rooms", "edge_height", row] == "1.5 in"
        assert entries["survey", "substrate", row] == "tile"
    assert ("rooms", "a", 2) not in entries


def test_in_other_units_it_is_as_large(reader: Reader) -> None:
    """70 square feet are 6.503 m², 52 feet 15.85 m, 70 degrees 21.1."""
    entries = call_job.entries_of(reader, 2, "metric").entries
    assert entries["rooms", "a", 0] == "3.25161 m²"
    assert entries["rooms", "edge_run", 0] == pytest.approx(52 * 0.3048 / 2)
    assert entries["rooms", "edge_height", 0] == "38.1 mm"
    assert entries["site", "temperature", 0] == pytest.approx(21.11, abs=0.005)


@pytest.mark.parametrize("call", [0, -1, 4, 61])
def test_a_call_there_is_not_is_refused(reader: Reader, call: int) -> None:
    with pytest.raises(InputError, match=f"there is no call {call}: see No. on the sheet Calls"):
        call_job.entries_of(reader, call, "us")


def test_a_call_still_being_asked_is_refused_at_its_cell(reader: Reader) -> None:
    with pytest.raises(InputError, match=r"shop.xlsx, Calls!E\d+: Tops of call 3 is blank: ask"):
        call_job.entries_of(reader, 3, "us")


def test_a_call_that_is_wrong_shows_on_every_sheet_of_the_shop(
    changed: Callable[..., Reader],
) -> None:
    shop = changed(area=-4)
    assert any(f.sheet == "Calls" for f in shop.checked.findings)
    with pytest.raises(InputError, match="Tops"):
        call_job.entries_of(shop, 2, "us")


@pytest.mark.parametrize(
    ("call", "name", "area", "start"),
    [(1, "Heron Court", 46, dt.date(2026, 11, 16)), (2, "Gull House", 70, dt.date(2027, 2, 1))],
)
def test_by_command(
    call: int,
    name: str,
    area: float,
    start: dt.date,
    tmp_path: Path,
    demo_shop: Path,
    reader: Reader,
    scenario_us: Scenario,
    capsys: pytest.CaptureFixture[str],
) -> None:
    """Heron Court called on 2 November, and may be begun 14 days after; Gull House says when."""
    job = tmp_path / "job.xlsx"
    assert run("new", job, "--shop", demo_shop, "--call", call) == 0
    assert f"call {call}, {name}, told" in capsys.readouterr().out
    additives = {k: v for k, v in scenario_us.entries.items() if k[0] == "additives"}
    fill.fill(job, job, additives, force=True)  # a shop has no prices of pigments and flakes
    checked = Reader(check_file(job))
    assert checked.number("measured", "top") == pytest.approx(area)
    assert checked.value("start", "start_date", 0) == day_number(start)
    low, high = (reader.number("calls", name, call - 1) for name in ("price_from", "price_to"))
    assert low <= checked.number("price", "net", 0) <= high, "the job costs what the phone said"
    assert not [f for f in checked.checked.findings if f.sheet == "Layers"]


@pytest.mark.parametrize(
    ("call", "more", "said"),
    [
        (2, [], "name the shop too"),
        (0, [], "name the shop too"),
        (2, ["--shop", "SHOP", "--from", "ROOMS"], "leave --from out"),
    ],
)
def test_a_call_goes_with_its_shop_alone(
    tmp_path: Path,
    demo_shop: Path,
    capsys: pytest.CaptureFixture[str],
    call: int,
    more: list[str],
    said: str,
) -> None:
    rooms = tmp_path / "rooms.csv"
    rooms.write_text("Room,Piece,Shape,Size A\n")
    named = {"SHOP": str(demo_shop), "ROOMS": str(rooms)}
    words = (named.get(one, one) for one in more)
    assert run("new", tmp_path / "j.xlsx", "--call", call, *words) == 2
    assert said in " ".join(capsys.readouterr().err.split())
    assert not (tmp_path / "j.xlsx").exists()
