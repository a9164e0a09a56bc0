"""The board of a folder of made jobs: crews, promises, stock and files, by hand."""

from __future__ import annotations

import datetime as dt
import random
import shutil
from dataclasses import replace
from pathlib import Path

import icalendar
import pytest
from tests.command_line import run

from pourbook.archive.board import BOOK, Held, board_of
from pourbook.archive.folder import JOB, Found
from pourbook.archive.planned import Ahead, Stay, Wanted
from pourbook.archive.record import JobRecord
from pourbook.archive.still_open import ACCEPTED, QUOTED, Stand
from pourbook.dates import day_number
from pourbook.errors import InputError, UsageError
from pourbook.job import make
from pourbook.job.accept import accept
from pourbook.job.make import Scenario
from pourbook.trade.board.clashes import AtJob, clashes
from pourbook.workbook.check.check import Checked, check_file
from pourbook.workbook.check.reader import Reader

Printed = pytest.CaptureFixture[str]
TODAY = dt.date(2026, 11, 29)
MONDAY = dt.date(2027, 1, 11)
LITRE = 0.001  # m³


def _stay(day: dt.date, begins: float = 8.0, ends: float = 16.0) -> Stay:
    number = day_number(day)
    return Stay(number + begins / 24, number + ends / 24, 2.0)


def _found(name: str, ahead: Ahead | None, phase: str = ACCEPTED) -> Found:
    record = JobRecord(
        name, "", "not settled", "", "A", "USD", "metric", name, "", None, None, 0, 0
    )
    stand = Stand(phase, ())
    return Found(f"{name}.xlsx", JOB, "", 0.0, replace(record, stand=stand, planned=ahead))


def _ahead(
    crew: str,
    *stays: Stay,
    wanted: tuple[Wanted, ...] = (),
    promised: float | None = None,
    in_use: float | None = None,
) -> Ahead:
    return Ahead(crew, promised, in_use, stays, wanted)


def _made(tmp_path: Path, found: list[Found], stock: list[Held] | None = None) -> Checked:
    board = board_of(found, "jobs", stock or [], made=TODAY)
    target = tmp_path / "board.xlsx"
    make.make(
        target,
        board.system,
        board.entries,
        book=BOOK,
        pieces=board.pieces,
        force=True,
        made=dt.datetime(2026, 11, 29, 9),
    )
    return check_file(target)


def _failing(checked: Checked) -> set[str]:
    reader = Reader(checked)
    checks = checked.plan.block("checks").checks
    return {
        check.id for n, check in enumerate(checks) if reader.value("checks", "result", n) == "CHECK"
    }


def test_two_jobs_of_one_crew_on_one_day_are_a_check(tmp_path: Path) -> None:
    jobs = [
        _found("Bar", _ahead("North", _stay(MONDAY))),
        _found("Hall", _ahead("north", _stay(MONDAY, 12, 18))),
        _found("Loft", _ahead("South", _stay(MONDAY))),
    ]
    checked = _made(tmp_path, jobs)
    assert _failing(checked) == {"clashes"}
    reader = Reader(checked)
    assert [reader.text("visits", "clash", n) for n in range(3)] == [
        "CHECK: Hall", "CHECK: Bar", "ok",
    ]  # fmt: skip
    assert reader.text("calendar", "crew_1", 0) == "Bar 08:00; Hall 12:00"
    assert reader.text("calendar", "crew_2", 0) == "Loft 08:00"
    apart = [jobs[0], _found("Hall", _ahead("north", _stay(MONDAY, 16, 18)))]
    assert _failing(_made(tmp_path, apart)) == set(), "one after the other is no clash"


def test_a_promise_holds_until_its_day_ends(tmp_path: Path) -> None:
    promised = float(day_number(MONDAY))
    kept = [_found("Bar", _ahead("", _stay(TODAY), promised=promised, in_use=promised + 0.99))]
    assert _failing(_made(tmp_path, kept)) == set()
    late = [_found("Bar", _ahead("", _stay(TODAY), promised=promised, in_use=promised + 1.01))]
    checked = _made(tmp_path, late)
    assert _failing(checked) == {"promised"}


def test_what_is_to_be_bought_this_week_and_later(tmp_path: Path) -> None:
    """By hand: 2 of 3 L stand on the shelf, so 1 L is to be bought; the Hall's 5 L next month."""
    far = MONDAY + dt.timedelta(days=30)
    jobs = [
        _found(
            "Bar",
            _ahead("", _stay(MONDAY), wanted=(Wanted("Clear", 3 * LITRE, day_number(MONDAY)),)),
        ),
        _found(
            "Hall", _ahead("", _stay(far), wanted=(Wanted("clear", 5 * LITRE, day_number(far)),))
        ),
        _found(
            "Loft",
            _ahead("", _stay(far), wanted=(Wanted("Tint", 4 * LITRE, day_number(far)),)),
            phase=QUOTED,
        ),
    ]
    checked = _made(tmp_path, jobs, [Held("Clear", "C-1", 2 * LITRE)])
    assert "week" in _failing(checked)
    reader = Reader(checked)
    rows = {reader.text("buy", "product", n): n for n in range(2)}
    names = ("firm", "shelf", "short", "this_week", "pencilled")
    clear = [reader.number("buy", name, rows["Clear"]) for name in names]
    assert clear == pytest.approx([8.0, 2.0, 6.0, 1.0, 0.0])
    tint = [reader.number("buy", name, rows["Tint"]) for name in names]
    assert tint == pytest.approx([0.0, 0.0, 0.0, 0.0, 4.0])
    ordered = [Held("Clear", "C-1", 2 * LITRE), Held("Clear", "on order", LITRE, here=MONDAY)]
    assert "week" not in _failing(_made(tmp_path, jobs, ordered))


def test_forty_jobs_of_a_month_by_brute_force(tmp_path: Path) -> None:
    """Every clash, and every sum of the stock, is what trying all pairs and adding up gives."""
    dice = random.Random(7)
    jobs, visits = [], []
    needed: dict[str, float] = {}
    for n in range(40):
        crew = dice.choice(["North", "South", "East", ""])
        days = [MONDAY + dt.timedelta(days=dice.randint(0, 28)) for _ in range(3)]
        stays = [_stay(day, dice.choice([8, 12]), dice.choice([13, 17])) for day in sorted(days)]
        product = dice.choice(["Clear", "Tint"])
        amount = dice.randint(1, 9) * LITRE
        needed[product] = needed.get(product, 0.0) + amount / LITRE
        first = float(int(stays[0].begins))
        jobs.append(_found(f"J{n}", _ahead(crew, *stays, wanted=(Wanted(product, amount, first),))))
        visits += [AtJob(f"J{n}", crew, s.begins, s.ends) for s in stays]
    stock = [Held(p, f"{p}-{n}", dice.randint(1, 9) * LITRE) for n in range(6) for p in needed]
    checked = _made(tmp_path, jobs, stock)
    reader = Reader(checked)
    pairs = sum(bool(others) for others in clashes(visits))
    brute = sum(
        any(
            a.crew == b.crew and a.job != b.job and max(a.begins, b.begins) < min(a.ends, b.ends)
            for b in visits
        )
        for a in visits
    )
    assert reader.number("counts", "clashes") == pairs == brute > 0
    had = {p: sum(can.amount for can in stock if can.product == p) / LITRE for p in needed}
    for row, product in enumerate(sorted(needed)):
        short = max(needed[product] - had[product], 0.0)
        assert reader.number("buy", "short", row) == pytest.approx(short, abs=1e-9)
    assert "ties" not in _failing(checked)
    assert "covered" not in _failing(checked)


def test_what_is_done_and_what_cannot_be_read_is_on_files(tmp_path: Path) -> None:
    jobs = [
        _found("Bar", _ahead("", _stay(MONDAY))),
        _found("Old", None, phase="closed"),
        Found("broken.xlsx", "left out", "it is no workbook", 0.0),
    ]
    checked = _made(tmp_path, jobs)
    reader = Reader(checked)
    rows = {reader.text("files", "file", n): reader.text("files", "taken", n) for n in range(3)}
    assert rows == {
        "Bar.xlsx": "on the board", "Old.xlsx": "done", "broken.xlsx": "left out",
    }  # fmt: skip
    assert _failing(checked) == {"left_out"}


def test_no_job_and_too_many_crews_are_refused() -> None:
    with pytest.raises(UsageError, match="no job has work before it"):
        board_of([_found("Old", None, phase="closed")], "jobs", [], made=TODAY)
    many = [_found(f"J{n}", _ahead(f"Crew {n}", _stay(MONDAY))) for n in range(9)]
    with pytest.raises(InputError, match="9 crews"):
        board_of(many, "jobs", [], made=TODAY)


def test_a_folder_of_real_jobs(
    scenario_us: Scenario, demo_shop: Path, tmp_path: Path, capsys: Printed
) -> None:
    """Two jobs of one crew two days apart, one of them accepted and promised too early."""
    folder = tmp_path / "jobs"
    folder.mkdir()
    for name, start in (("Heron Court", MONDAY), ("Quay bar", MONDAY + dt.timedelta(days=2))):
        entries: make.Entries = {
            **scenario_us.entries,
            ("start", "job", 0): name,
            ("start", "start_date", 0): start,
            ("site", "team", 0): "North",
            ("site", "promised", 0): MONDAY + dt.timedelta(days=7),
        }
        make.make(folder / f"{name[:4].strip()}.xlsx", "us", entries, pieces=18)
    accept(folder / "Quay.xlsx", on=dt.date(2026, 12, 1))
    before = {path: path.read_bytes() for path in folder.iterdir()}
    shop = Path(shutil.copy(demo_shop, tmp_path / "shop.xlsx"))
    target = tmp_path / "board.xlsx"
    assert run("board", folder, target, "--shop", shop) == 1
    said = capsys.readouterr().out
    for words in ("CHECK: Quay bar", "CHECK: Heron Court", "back in", "Nothing is to be bought"):
        assert words in said
    assert {path: path.read_bytes() for path in folder.iterdir()} == before
    reader = Reader(check_file(target))
    phases = {reader.text("jobs", "job", n): reader.text("jobs", "phase", n) for n in range(2)}
    assert phases == {"Heron Court": "quoted", "Quay bar": "accepted"}
    firm = [reader.text("needs", "need_firm", n) for n in range(6)]
    assert sorted(firm) == ["no"] * 3 + ["yes"] * 3
    assert run("board", folder, target) == 2, "never over a file without being told to"
    assert run("export", target, "--ics", tmp_path / "board.ics") == 0
    events = icalendar.Calendar.from_ical((tmp_path / "board.ics").read_bytes()).walk("VEVENT")
    assert len(events) == len(list(reader.rows("visits", "visit_job"))) > 6
    assert run("show", target) == 0
    assert "Date by date" in capsys.readouterr().out
