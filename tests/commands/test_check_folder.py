"""``pourbook check FOLDER``: every workbook of it, in processes, with a report to go on from."""

from __future__ import annotations

import csv
import json
import os
import shutil
import signal
import subprocess
import sys
import time
from pathlib import Path

import openpyxl
import pytest
from lxml import etree
from tests.command_line import run

from pourbook.archive import processes, told
from pourbook.archive.told import OneFile

Printed = pytest.CaptureFixture[str]


@pytest.fixture
def jobs(tmp_path: Path, demo_us: Path, demo_metric: Path, settled_us: Path) -> Path:
    """A folder with two clean jobs, one below it with a fault, and what is no job."""
    folder = tmp_path / "jobs"
    (folder / "late").mkdir(parents=True)
    shutil.copy(demo_us, folder / "one.xlsx")
    shutil.copy(demo_metric, folder / "two.xlsx")
    book = openpyxl.load_workbook(settled_us)
    book["Price"].cell(36, 2).value = 12.5
    book.save(folder / "late" / "bad.xlsx")
    openpyxl.Workbook().save(folder / "prices.xlsx")
    (folder / "notes.txt").write_text("none")
    (folder / "broken.xlsx").write_bytes(b"PK\x03\x04")
    (folder / "~$one.xlsx").write_bytes(b"lock")
    return folder


def _status(report: Path) -> dict[str, str]:
    content = json.loads(report.read_text(encoding="utf-8"))
    return {Path(one["file"]).name: one["status"] for one in content["files"]}


def test_every_workbook_below_is_checked_and_one_bad_one_silences_none(
    jobs: Path, tmp_path: Path, capsys: Printed
) -> None:
    report = tmp_path / "report.json"
    assert run("check", jobs, "--report", report) == 3
    shown = capsys.readouterr().out
    assert _status(report) == {
        "one.xlsx": told.OK,
        "two.xlsx": told.OK,
        "bad.xlsx": told.FINDINGS,
        "prices.xlsx": told.PASSED,
        "broken.xlsx": told.UNREADABLE,
    }
    assert f"{jobs / 'one.xlsx'}: OK" in shown
    assert "passed over: Pourbook did not make this workbook" in shown
    assert "5 files: " in shown


def test_several_processes_say_what_one_says(jobs: Path) -> None:
    paths = sorted(jobs.rglob("*.xlsx"))
    alone = {one.file: one for one in processes.each(told.tell, paths, 1, told.ended)}
    several = {one.file: one for one in processes.each(told.tell, paths, 2, told.ended)}
    assert alone == several


def _ends_itself(path: Path) -> OneFile:
    if "bad" in path.name:
        os._exit(9)
    return OneFile(str(path), told.OK)


def test_a_process_that_ends_takes_no_other_file_with_it(tmp_path: Path) -> None:
    names = [*(f"job{n}.xlsx" for n in range(12)), "bad.xlsx"]
    paths = [tmp_path / name for name in names]
    found = {one.file: one for one in processes.each(_ends_itself, paths, 2, told.ended)}
    assert found.keys() == {str(path) for path in paths}
    lost = [one for one in found.values() if one.status == told.UNREADABLE]
    assert [Path(one.file).name for one in lost] == ["bad.xlsx"]
    assert "ended the program" in lost[0].message


def test_only_what_changed_is_checked_again(
    jobs: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    first, second, third = (tmp_path / f"{n}.json" for n in range(3))
    run("check", jobs, "--report", first)
    asked: list[str] = []
    tell = told.tell

    def noted(
        path: Path, engines: tuple[str, ...] = ("fast",), *, passing: bool = False
    ) -> OneFile:
        asked.append(path.name)
        return tell(path, engines, passing=passing)

    monkeypatch.setattr(told, "tell", noted)
    assert run("check", jobs, "--since", first, "--report", second) == 3
    assert asked == ["broken.xlsx"]  # what could not be read is tried again
    assert second.read_text() == first.read_text()
    shutil.copy(jobs / "two.xlsx", jobs / "one.xlsx")
    asked.clear()
    assert run("check", jobs, "--since", second, "--report", third) == 3
    assert sorted(asked) == ["broken.xlsx", "one.xlsx"]


@pytest.mark.parametrize("content", ["", "{}", "[]", '{"kind": "x", "version": "1", "files": []}'])
def test_what_is_no_report_is_refused(jobs: Path, tmp_path: Path, content: str) -> None:
    report = tmp_path / "report.json"
    report.write_text(content)
    assert run("check", jobs, "--since", report) == 3
    assert run("check", jobs, "--report", tmp_path / "report.txt") == 2


def test_a_report_of_another_version_is_not_gone_by(jobs: Path, tmp_path: Path) -> None:
    report = tmp_path / "report.json"
    run("check", jobs, "--report", report)
    content = json.loads(report.read_text(encoding="utf-8"))
    report.write_text(json.dumps({**content, "version": "0.0.1"}), encoding="utf-8")
    assert told.earlier(report) == {}


def test_reports_for_other_programs(jobs: Path, tmp_path: Path) -> None:
    cells, cases = tmp_path / "report.csv", tmp_path / "report.xml"
    run("check", jobs, "--report", cells)
    run("check", jobs, "--report", cases)
    with cells.open(encoding="utf-8", newline="") as stream:
        rows = list(csv.DictReader(stream))
    assert {Path(row["file"]).name for row in rows} == {
        *("one.xlsx", "two.xlsx", "bad.xlsx", "prices.xlsx", "broken.xlsx")
    }
    assert any(row["kind"] == "structure.formula" and row["sheet"] == "Price" for row in rows)
    root = etree.parse(str(cases)).getroot()
    found = {key: root.get(key) for key in ("tests", "failures", "errors", "skipped")}
    assert found == {"tests": "5", "failures": "1", "errors": "1", "skipped": "1"}


def test_a_batch_in_two_jobs_is_told_even_from_a_report(
    settled_us: Path, tmp_path: Path, capsys: Printed
) -> None:
    folder, report = tmp_path / "jobs", tmp_path / "report.json"
    folder.mkdir()
    for number in (1, 2):
        book = openpyxl.load_workbook(settled_us)
        book.custom_doc_props["pourbook id"].value = f"job {number}"
        book.save(folder / f"{number}.xlsx")
    run("check", folder, "--report", report)
    told_first = capsys.readouterr().out
    assert "stands in" in told_first
    run("check", folder, "--since", report)
    assert "stands in" in capsys.readouterr().out


def test_an_empty_folder_is_refused(tmp_path: Path, capsys: Printed) -> None:
    assert run("check", tmp_path) == 2
    assert "there is no workbook in this folder" in capsys.readouterr().err


def _gone(group: int) -> bool:
    """Return whether no process of a group is left, within ten seconds."""
    for _ in range(100):
        try:
            os.killpg(group, 0)
        except ProcessLookupError:
            return True
        time.sleep(0.1)
    return False


@pytest.mark.skipif(os.name != "posix", reason="the signal is that of POSIX")
def test_ctrl_c_stops_it_and_leaves_no_process_behind(demo_us: Path, tmp_path: Path) -> None:
    folder = tmp_path / "jobs"
    folder.mkdir()
    first = shutil.copy(demo_us, folder / "0.xlsx")
    for number in range(1, 1000):
        (folder / f"{number}.xlsx").hardlink_to(first)
    begun = subprocess.Popen(
        [sys.executable, "-m", "pourbook", "check", str(folder)],
        stdout=subprocess.DEVNULL,
        stderr=subprocess.PIPE,
        text=True,
        start_new_session=True,
    )
    time.sleep(4)
    os.killpg(begun.pid, signal.SIGINT)
    _, said = begun.communicate(timeout=30)
    assert begun.returncode not in {0, 1, 3, 4}
    assert _gone(begun.pid)
    assert "Pourbook failed" not in said
