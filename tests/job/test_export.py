"""pourbook export: the calendar file, read back with the icalendar package."""

from __future__ import annotations

from pathlib import Path

import pytest
from icalendar import Calendar
from tests.command_line import run

from pourbook.dates import from_serial
from pourbook.job import make
from pourbook.job.make import Scenario
from pourbook.workbook.check.check import check_file


def test_every_line_of_the_sheet_is_an_event(demo_us: Path, tmp_path: Path) -> None:
    target = tmp_path / "job.ics"
    assert run("export", demo_us, "--ics", target) == 0
    events = Calendar.from_ical(target.read_bytes()).walk("VEVENT")
    checked = check_file(demo_us)
    starts = []
    for index in range(checked.plan.block("days").rows):
        cell = checked.plan.cell("days", "starts", index)
        value = checked.values[cell.sheet, cell.address]
        if isinstance(value, float):
            starts.append(from_serial(value))
    assert len(starts) > 20
    assert [e.decoded("dtstart") for e in events] == starts
    assert len({str(e["uid"]) for e in events}) == len(events)
    assert str(events[0]["summary"]) == "Tern Cottage: kitchen, bar and bath: lift out"
    assert sum("dtend" in e for e in events) < len(events), "what is reached takes no time"
    assert list(tmp_path.iterdir()) == [target], "nothing is left beside it"


def test_existing_file_is_kept_without_force(demo_us: Path, tmp_path: Path) -> None:
    target = tmp_path / "job.ics"
    target.write_text("mine")
    assert run("export", demo_us, "--ics", target) == 2
    assert target.read_text() == "mine"
    assert run("export", demo_us, "--ics", target, "--force") == 0
    assert target.read_bytes().startswith(b"BEGIN:VCALENDAR\r\n")


def test_calendar_that_is_not_in_order_is_refused_with_its_reason(
    tmp_path: Path, scenario_us: Scenario, pieces: int, capsys: pytest.CaptureFixture[str]
) -> None:
    book, target = tmp_path / "job.xlsx", tmp_path / "job.ics"
    entries = {**scenario_us.entries, ("start", "start_date", 0): None}
    make.make(book, "us", entries, pieces=pieces)
    assert run("export", book, "--ics", target) == 1
    assert "type the day the work starts on Start" in capsys.readouterr().err
    assert not target.exists()


def test_another_ending_is_refused(demo_us: Path, tmp_path: Path) -> None:
    assert run("export", demo_us, "--ics", tmp_path / "job.txt") == 2
    assert not list(tmp_path.iterdir())


def test_air_that_says_wait_stands_in_the_event(
    tmp_path: Path, scenario_us: Scenario, pieces: int
) -> None:
    book, target = tmp_path / "job.xlsx", tmp_path / "job.ics"
    make.make(book, "us", {**scenario_us.entries, ("site", "night", 0): 55.0}, pieces=pieces)
    assert run("export", book, "--ics", target) == 0
    told = [
        str(e.get("description", ""))
        for e in Calendar.from_ical(target.read_bytes()).walk("VEVENT")
        # The rolled coat is dry the same evening; what is trowelled and poured dries over night.
        if any(f"{how} batch " in str(e["summary"]) for how in ("trowel", "pour"))
    ]
    assert len(told) > 5
    assert all(words.startswith("wait: it falls to 12.8 °C (55 °F)") for words in told)
