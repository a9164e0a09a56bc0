"""The command line as a person and a script meet it: exit codes, words, JSON, pipes."""

from __future__ import annotations

import datetime as dt
import hashlib
import json
import os
import subprocess
import sys
import zipfile
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import pytest
from click import Context
from oletools.olevba import VBA_Parser
from tests.command_line import run

from pourbook import __version__
from pourbook.cli import cli
from pourbook.commands import tell_job
from pourbook.functions.catalogue import catalogue
from pourbook.job import macros, make
from pourbook.job.make import Scenario
from pourbook.workbook.check.findings import IDS
from pourbook.workbook.layout.laid_out import Layout
from pourbook.workbook.read.read import read_book

ESCAPE = "\x1b"
Printed = pytest.CaptureFixture[str]


def _json(capsys: Printed) -> Any:
    printed = capsys.readouterr()
    assert printed.err == ""
    return json.loads(printed.out)


def _process(
    *arguments: str | Path, environment: Mapping[str, str] | None = None
) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "pourbook", *map(str, arguments)],
        capture_output=True,
        text=True,
        encoding="utf-8",
        env={**os.environ, "PYTHONIOENCODING": "utf-8", **(environment or {})},
        errors="replace",
        timeout=120,
        check=False,
    )


def _hashes(folder: Path) -> dict[str, str]:
    return {p.name: hashlib.sha256(p.read_bytes()).hexdigest() for p in folder.iterdir()}


@pytest.fixture(scope="module")
def faulty(tmp_path_factory: pytest.TempPathFactory, scenario_us: Scenario, pieces: int) -> Path:
    """The demo with a product that is not on the Products sheet."""
    target = tmp_path_factory.mktemp("faulty") / "faulty.xlsx"
    entries = {**scenario_us.entries, ("layers", "product", 1): "Mystery"}
    make.make(target, "us", entries, pieces=pieces)
    return target


@pytest.fixture
def broken(tmp_path: Path) -> Path:
    path = tmp_path / "broken.xlsx"
    path.write_bytes(b"no workbook")
    return path


# --- demo


def test_demo_leaves_clean_files_and_replaces_them_only_when_told(
    tmp_path: Path, capsys: Printed
) -> None:
    folder = tmp_path / "shop" / "demo"
    assert run("demo", folder) == 0
    shown = capsys.readouterr()
    assert shown.err == ""
    assert ESCAPE not in shown.out
    for words in ("Do this next", "Options side by side", "Price with tax"):
        assert words in shown.out
    made = _hashes(folder)
    named = ["demo-books.xlsx", "demo-metric.xlsx", "demo.xlsm", "demo.xlsx", "shop.xlsx"]
    assert sorted(made) == named
    lines = shown.out.splitlines()
    for name, whom in (
        ("demo.xlsm", "Excel on Windows"),
        ("demo.xlsx", "LibreOffice Calc"),
        ("demo-metric.xlsx", "metric units"),
        ("demo-books.xlsx", "bookkeeper"),
        ("shop.xlsx", "shop"),
    ):
        (line,) = [one for one in lines if one.startswith(f"{folder / name}: ")]
        assert whom in line
    plain, macro = (read_book(folder / name).sheets for name in ("demo.xlsx", "demo.xlsm"))
    assert {n: s.cells for n, s in macro.items()} == {n: s.cells for n, s in plain.items()}
    assert {n: s.look for n, s in macro.items()} == {n: s.look for n, s in plain.items()}
    with zipfile.ZipFile(folder / "demo.xlsm") as package:
        project = package.read(macros.PROJECT)
    macro_text = "".join(
        text for *_, text in VBA_Parser("vbaProject.bin", data=project).extract_macros()
    )
    assert all(f"Function {name}(" in macro_text for name in catalogue())

    assert run("demo", folder) == 2
    refused = capsys.readouterr()
    assert refused.out == ""
    assert "exists already" in refused.err
    assert "--force" in refused.err
    assert _hashes(folder) == made

    assert run("demo", folder, "--force", "--json") == 0
    answer = _json(capsys)
    assert answer["status"] == "ok"
    assert answer["findings"] == []
    assert answer["files"] == [
        str(folder / f) for f in ("demo.xlsx", "demo-metric.xlsx", "demo.xlsm")
    ]
    assert answer["books"] == str(folder / "demo-books.xlsx")
    assert answer["job"]
    assert sorted(_hashes(folder)) == sorted(made)
    assert run("check", *answer["files"], folder / "shop.xlsx") == 0


@pytest.mark.parametrize("name", ["demo-metric.xlsx", "demo.xlsm", "demo-books.xlsx"])
def test_demo_does_not_stop_halfway_when_one_file_is_there(
    tmp_path: Path, capsys: Printed, name: str
) -> None:
    (tmp_path / name).write_bytes(b"mine")
    assert run("demo", tmp_path) == 2
    assert name in capsys.readouterr().err
    assert [p.name for p in tmp_path.iterdir()] == [name]
    assert (tmp_path / name).read_bytes() == b"mine"


def test_demo_onto_a_file(tmp_path: Path, capsys: Printed) -> None:
    (tmp_path / "taken").write_text("x")
    assert run("demo", tmp_path / "taken") == 2
    assert "this is a file: name a folder" in capsys.readouterr().err


# --- new


@pytest.mark.parametrize("system", ["us", "metric", "imperial"])
def test_new_writes_a_job_in_each_system_and_never_over_another(
    tmp_path: Path, capsys: Printed, system: str
) -> None:
    target = tmp_path / "job.xlsx"
    assert run("new", target, "--units", system, "--pieces", "4") == 0
    assert f"Written: {target}" in capsys.readouterr().out
    made = _hashes(tmp_path)
    assert list(made) == ["job.xlsx"]
    assert run("new", target, "--pieces", "4") == 2
    assert "--force" in capsys.readouterr().err
    assert _hashes(tmp_path) == made
    assert run("check", target, "--json") == 1
    kinds = {f["id"] for f in _json(capsys)["findings"]}
    assert kinds == {"entry.missing", "job.check"}


def test_new_job_from_rooms(tmp_path: Path, capsys: Printed) -> None:
    rooms = tmp_path / "rooms.csv"
    rooms.write_text("Room,Piece,Shape,Size A,Size B\nBar,Top,rectangle,98,25\n")
    assert run("new", tmp_path / "job.xlsx", "--from", rooms, "--pieces", "4") == 0
    assert "1 row" in capsys.readouterr().out
    assert run("show", tmp_path / "job.xlsx") == 0
    assert "17.01" in capsys.readouterr().out  # 98 x 25 / 144 square feet


@pytest.mark.parametrize("name", ["job", "job.xls", "job.xlsb", "job.ods", "job.csv", ".xlsx"])
def test_new_job_of_another_kind_is_refused(tmp_path: Path, capsys: Printed, name: str) -> None:
    assert run("new", tmp_path / name) == 2
    assert ".xlsx" in capsys.readouterr().err
    assert list(tmp_path.iterdir()) == []


def test_new_job_from_bad_rooms(tmp_path: Path, capsys: Printed) -> None:
    rooms = tmp_path / "rooms.csv"
    rooms.write_text("Room,Piece,Shape,Size A\nBar,Top,rectangle,98\n")
    assert run("new", tmp_path / "job.xlsx", "--from", rooms) == 1
    assert "rooms.csv, line 2: Size B" in capsys.readouterr().err
    assert run("new", tmp_path / "job.xlsx", "--from", tmp_path / "none.csv") == 3
    assert run("new", tmp_path / "none" / "job.xlsx") == 2
    assert [p.name for p in tmp_path.iterdir()] == ["rooms.csv"]


def test_new_job_from_the_shop(tmp_path: Path, demo_shop: Path, capsys: Printed) -> None:
    rooms = tmp_path / "rooms.csv"
    rooms.write_text("Room,Piece,Shape,Size A,Size B\nBar,Top,rectangle,98,25\n")
    target = tmp_path / "job.xlsx"
    given = ("--from", rooms, "--shop", demo_shop, "--on", "2026-11-24", "--pieces", "4")
    assert run("new", target, *given) == 0
    said = capsys.readouterr().out
    assert "9 packs at the prices of 2026-11-24" in said
    assert "3 lots from stock" in said
    assert run("check", target, "--json") == 1
    named = {(f["sheet"], f["cell"]) for f in _json(capsys)["findings"] if f["id"][:5] == "entry"}
    assert {sheet for sheet, _ in named} == {"Start"}, "the shop fills all other sheets"
    before = _hashes(tmp_path)
    assert run("new", tmp_path / "none.xlsx", "--on", "2026-11-24") == 2
    assert "--shop" in capsys.readouterr().err
    assert run("new", tmp_path / "none.xlsx", "--shop", target) == 2
    assert "no shop workbook" in capsys.readouterr().err
    assert run("new", tmp_path / "none.xlsx", "--shop", tmp_path / "gone.xlsx") == 3
    assert _hashes(tmp_path) == before


def test_new_shop_and_its_stock(tmp_path: Path, demo_us: Path, capsys: Printed) -> None:
    target = tmp_path / "shop.xlsx"
    assert run("new-shop", target, "--units", "metric", "--rows", "5") == 0
    assert "room for 5 movements" in capsys.readouterr().out
    assert run("new-shop", target) == 2
    assert run("new-shop", tmp_path / "shop.csv") == 2
    capsys.readouterr()
    assert run("check", target, "--json") == 1
    assert {f["id"] for f in _json(capsys)["findings"]} == {"entry.missing", "job.check"}
    before = _hashes(tmp_path)
    assert run("stock", target, "--from", demo_us) == 1  # the shop has no currency yet
    assert "Start!" in capsys.readouterr().err
    assert run("stock", tmp_path / "gone.xlsx", "--from", demo_us) == 3
    assert run("stock", target) == 2
    assert _hashes(tmp_path) == before


def test_stock_tells_what_it_booked(
    tmp_path: Path, demo_shop: Path, scenario_us: Scenario, capsys: Printed
) -> None:
    shop, source = tmp_path / "shop.xlsx", tmp_path / "job.xlsx"
    shop.write_bytes(demo_shop.read_bytes())
    kept = {"start", "money", "products"}
    entries: make.Entries = {k: v for k, v in scenario_us.entries.items() if k[0] in kept}
    row = {"document": "slip 14", "line": 1, "kind": "from shelf", "product": "Tint base"}
    more = {"holds": "kit", "lot": "T-0412", "packs": 1, "contents": 0.4, "price": 31.6}
    day = {"date": dt.date(2027, 1, 6)}
    make.make(source, "us", {**entries, **make.flatten({"receipts": [day | row | more]})}, pieces=1)
    assert run("stock", shop, "--from", source, "--dry-run") == 0
    assert "1 movements would be booked" in capsys.readouterr().out
    assert shop.read_bytes() == demo_shop.read_bytes()
    assert run("stock", shop, "--from", source, "--json") == 0
    answer = _json(capsys)
    assert [(m["kind"], m["lot"], m["value"]) for m in answer["booked"]] == [
        ("issued", "T-0412", 31.6)
    ]
    assert run("stock", shop, "--from", source) == 0
    assert "0 movements booked" in capsys.readouterr().out
    assert run("check", shop) == 0
    capsys.readouterr()
    assert run("show", shop) == 0
    assert "used up" in capsys.readouterr().out
    assert run("books", shop, tmp_path / "books.xlsx") == 0


# --- check


@pytest.mark.plain
def test_check_of_a_clean_job(demo_us: Path, capsys: Printed) -> None:
    assert run("check", demo_us) == 0
    assert capsys.readouterr().out == f"{demo_us}: OK\n"
    assert run("check", demo_us, "--engine", "both", "--json") == 0
    answer = _json(capsys)
    assert set(answer) == {"status", "findings", "notes", "files"}
    assert answer["status"] == "ok"
    assert answer["findings"] == []
    assert answer["files"] == [{"file": str(demo_us), "status": "ok", "findings": 0, "said": ""}]


def test_check_of_a_faulty_job(faulty: Path, capsys: Printed) -> None:
    before = _hashes(faulty.parent)
    assert run("check", faulty) == 1
    shown = capsys.readouterr().out
    assert "CHECK  faulty.xlsx, Layers!D10: Product: 'Mystery' is not in the list" in shown
    assert "[entry.choice]" in shown
    assert run("check", faulty, "--json") == 1
    answer = _json(capsys)
    assert set(answer) == {"status", "findings", "notes", "files"}
    assert answer["status"] == "findings"
    for finding in answer["findings"]:
        assert set(finding) == {
            *("id", "file", "sheet", "cell", "what", "mend", "refusal", "entry")
        }
        assert finding["id"] in IDS
    assert answer["files"][0]["findings"] == len(answer["findings"])
    assert _hashes(faulty.parent) == before


def test_unreadable_file_does_not_stop_the_others(
    broken: Path, faulty: Path, demo_us: Path, capsys: Printed
) -> None:
    assert run("check", broken, faulty, demo_us, "--json") == 3
    answer = _json(capsys)
    assert answer["status"] == "unreadable"
    assert [f["status"] for f in answer["files"]] == ["unreadable", "findings", "ok"]
    assert "no workbook" in answer["files"][0]["message"]
    assert run("check", broken, demo_us) == 3
    shown = capsys.readouterr().out
    assert f"{demo_us}: OK" in shown
    assert shown.count(str(broken)) == 1, "the name of the file is there twice"


def test_a_file_with_overwritten_bytes_is_refused(
    tmp_path: Path, demo_us: Path, capsys: Printed
) -> None:
    content = bytearray(demo_us.read_bytes())
    middle = len(content) // 2
    content[middle : middle + 64] = bytes(64)
    path = tmp_path / "tampered.xlsx"
    path.write_bytes(content)
    for command, place in (("check", []), ("show", []), ("explain", ["Price!B30"])):
        assert run(command, path, *place) == 3
        printed = capsys.readouterr()
        assert "Traceback" not in printed.err
        assert "tampered.xlsx" in printed.out + printed.err


def test_fault_of_a_function_is_exit_code_4(
    demo_us: Path, capsys: Printed, monkeypatch: pytest.MonkeyPatch
) -> None:
    import dataclasses

    from pourbook.functions import catalogue as module

    known = dict(catalogue())

    def planted(*_: object) -> None:
        raise ZeroDivisionError("planted")

    known["PB_PARTS"] = dataclasses.replace(known["PB_PARTS"], compute=planted)
    monkeypatch.setattr(module, "catalogue", lambda: known)
    assert run("check", demo_us) == 4
    assert "function.failed" in capsys.readouterr().out


# --- show, explain, functions


def test_show_prints_the_price_or_what_stands_in_its_way(
    demo_us: Path, faulty: Path, capsys: Printed
) -> None:
    assert run("show", demo_us) == 0
    shown = capsys.readouterr().out
    assert "CHECK" not in shown
    assert "Price with tax" in shown
    assert run("show", faulty) == 0
    assert "pourbook check" in capsys.readouterr().out
    assert run("show", demo_us, "--json") == 0
    tables = _json(capsys)
    assert tables[0]["title"] == "Pieces"
    for table in tables:
        assert set(table) == {"title", "headings", "rows", "sides"}
        assert {len(r) for r in table["rows"]} <= {len(table["headings"])}
    assert len(tables[0]["rows"]) == 17


def test_explain_begins_with_the_place_and_its_figure(
    demo_us: Path, plan_us: Layout, capsys: Printed
) -> None:
    cell = plan_us.cell("price", "net")
    place = f"{cell.sheet}!{cell.address}"
    assert run("explain", demo_us, place) == 0
    assert capsys.readouterr().out.startswith(f"{place}, 'Price before tax', A")
    assert run("explain", demo_us, place, "--json") == 0
    lines = _json(capsys)
    assert {frozenset(line) for line in lines} == {frozenset(("depth", "what", "value", "how"))}
    assert lines[0]["value"].endswith(" USD")
    assert run("explain", demo_us, "B30") == 1
    assert "is no cell" in capsys.readouterr().err
    assert run("explain", demo_us, "Attic!B30") == 1
    assert "the sheets are Start" in capsys.readouterr().err


def test_functions_lists_all_and_explains_one(capsys: Printed) -> None:
    assert run("functions") == 0
    shown = capsys.readouterr().out
    assert all(name in shown for name in catalogue())
    assert run("functions", "pb_rooms") == 0
    assert "PB_ROOMS:" in capsys.readouterr().out
    assert run("functions", "--json") == 0
    listed = _json(capsys)
    assert [f["name"] for f in listed] == list(catalogue())
    assert run("functions", "PB_NONE") == 2
    assert "there is no function 'PB_NONE'" in capsys.readouterr().err


# --- what all commands share


def test_every_command_is_tried_here() -> None:
    assert set(cli.list_commands(Context(cli))) == {
        "addin", "demo", "new", "check", "recompute", "books", "show", "explain", "functions",
        "completion", "export", "accept", "upgrade", "log", "receipts", "settle", "new-shop",
        "stock", "month", "learn", "papers", "open", "reopen", "take", "desk", "board",
    }  # fmt: skip


def test_recompute_stores_values_in_the_job_and_books_copies_it(
    tmp_path: Path, capsys: Printed
) -> None:
    folder = tmp_path / "demo"
    assert run("demo", folder) == 0
    capsys.readouterr()
    assert run("recompute", folder / "demo.xlsx") == 0
    assert "values stored in" in capsys.readouterr().out
    assert run("check", folder / "demo.xlsx") == 0
    other = tmp_path / "other.xlsx"
    assert run("recompute", folder / "demo.xlsx", "--to", other) == 0
    assert run("recompute", folder / "demo.xlsx", "--to", other) == 2
    assert run("books", folder / "demo.xlsx", tmp_path / "copy.xlsx") == 0
    assert run("books", folder / "demo.xlsx", tmp_path / "copy.xlsx") == 2
    assert run("books", folder / "demo.xlsx", tmp_path / "copy.txt") == 2
    assert run("books", folder / "demo.xlsx", tmp_path / "copy.xlsx", "--force") == 0
    capsys.readouterr()
    assert run("check", tmp_path / "copy.xlsx") == 0
    assert run("show", tmp_path / "copy.xlsx") == 3
    assert "this is the books copy of demo.xlsx" in capsys.readouterr().err


def test_accept_freezes_a_clean_job_and_refuses_a_faulty_one(
    tmp_path: Path, demo_us: Path, faulty: Path, capsys: Printed
) -> None:
    path = tmp_path / "job.xlsx"
    path.write_bytes(demo_us.read_bytes())
    assert run("accept", path, "--by", "A. N. Owner", "--on", "2026-11-25") == 0
    told = capsys.readouterr().out
    assert told.startswith("Revision 1: option A, 6,770.13 USD before tax, 7,193.26 with tax")
    assert "accepted 2026-11-25 by A. N. Owner" in told
    made = _hashes(tmp_path)
    assert list(made) == ["job.xlsx"]
    assert run("accept", path) == 0
    assert "Nothing has changed since revision 1" in capsys.readouterr().out
    assert _hashes(tmp_path) == made
    assert run("check", path) == 0
    assert run("show", path, "--all") == 0
    assert "Quoted: option A, revision 1, accepted 2026-11-25" in capsys.readouterr().out
    assert run("accept", path, "--option", "b", "-o", tmp_path / "other.xlsx") == 0
    assert "Revision 2: option B, 8,459.32 USD" in capsys.readouterr().out
    assert run("accept", path, "--option", "b", "-o", tmp_path / "other.xlsx") == 2
    assert "--force" in capsys.readouterr().err
    assert run("accept", path, "--option", "C") == 1
    assert "option C is not in order: it has no layers" in capsys.readouterr().err
    assert run("accept", path, "--option", "D") == 2
    assert run("accept", path, "--on", "tomorrow") == 2
    assert run("accept", path, "-o", tmp_path / "copy.xlsm") == 2
    assert "name it copy.xlsx" in capsys.readouterr().err
    assert run("accept", tmp_path / "none.xlsx") == 3
    before = _hashes(faulty.parent)
    assert run("accept", faulty) == 1
    assert "faulty.xlsx, Layers!D10: Product: 'Mystery'" in capsys.readouterr().err
    assert _hashes(faulty.parent) == before


@pytest.mark.parametrize("command", [["show"], ["explain"], ["check"]])
@pytest.mark.parametrize("flag", [[], ["--json"]])
def test_unreadable_file_is_exit_code_3(
    broken: Path, capsys: Printed, command: list[str], flag: list[str]
) -> None:
    place = ["A!A1"] if command == ["explain"] else []
    assert run(*command, broken, *place, *flag) == 3
    printed = capsys.readouterr()
    assert "no workbook" in printed.out + printed.err
    if flag:
        answer = json.loads(printed.out)
        assert answer["status"] == "unreadable"
        assert {"status", "findings", "files"} <= set(answer)


@pytest.mark.parametrize(
    "arguments",
    [
        ["nonsense"],
        ["check"],
        ["new"],
        ["explain", "job.xlsx"],
        ["show", "--nonsense", "x"],
        ["new", "job.xlsx", "--pieces", "0"],
        ["new", "job.xlsx", "--pieces", "5001"],
        ["new", "job.xlsx", "--units", "cubits"],
        ["check", "job.xlsx", "--engine", "steam"],
        ["completion", "tcsh"],
    ],
)
def test_wrong_use_is_exit_code_2(
    arguments: list[str], capsys: Printed, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    assert run(*arguments) == 2
    printed = capsys.readouterr()
    assert printed.out == ""
    assert printed.err
    assert list(tmp_path.iterdir()) == []


def test_wrong_use_answers_in_json_when_asked(capsys: Printed) -> None:
    assert run("check", "--json") == 2
    answer = json.loads(capsys.readouterr().out)
    assert answer["status"] == "usage"


@pytest.mark.parametrize("flag", [[], ["--json"]])
def test_fault_of_pourbook_is_exit_code_4(
    capsys: Printed, monkeypatch: pytest.MonkeyPatch, flag: list[str]
) -> None:
    def planted(*_: object, **__: object) -> int:
        raise ZeroDivisionError("planted")

    monkeypatch.setattr(tell_job, "run_show", planted)
    assert run("show", "job.xlsx", *flag) == 4
    printed = capsys.readouterr()
    assert "ZeroDivisionError" in printed.err
    told = json.loads(printed.out)["message"] if flag else printed.err
    assert "Pourbook failed: ZeroDivisionError: planted" in told


def test_stopping_a_command_is_said_in_one_line(
    capsys: Printed, monkeypatch: pytest.MonkeyPatch
) -> None:
    def stopped(*_: object, **__: object) -> int:
        raise KeyboardInterrupt

    monkeypatch.setattr(tell_job, "run_show", stopped)
    assert run("show", "job.xlsx") == 130
    assert "stopped" in capsys.readouterr().err


def test_version_and_help(capsys: Printed) -> None:
    assert run("--version") == 0
    assert __version__ in capsys.readouterr().out
    for command in ([], *([name] for name in cli.list_commands(Context(cli)))):
        assert run(*command, "-h") == 0
        assert "Usage: pourbook" in capsys.readouterr().out


@pytest.mark.parametrize("shell", ["bash", "zsh", "fish"])
def test_completion_prints_a_script_for_each_shell(shell: str, capsys: Printed) -> None:
    assert run("completion", shell) == 0
    script = capsys.readouterr().out
    assert "_POURBOOK_COMPLETE" in script
    assert len(script.splitlines()) > 5


def test_a_command_begun_is_completed() -> None:
    done = _process(
        environment={
            "_POURBOOK_COMPLETE": "bash_complete",
            "COMP_WORDS": "pourbook ex",
            "COMP_CWORD": "1",
        }
    )
    assert done.stdout.split() == ["plain,explain", "plain,export"]


def test_module_runs_as_a_program(demo_us: Path) -> None:
    done = _process("check", demo_us)
    assert (done.returncode, done.stdout, done.stderr) == (0, f"{demo_us}: OK\n", "")


@pytest.mark.parametrize(
    "environment", [{}, {"NO_COLOR": "1"}, {"FORCE_COLOR": "", "TERM": "dumb"}]
)
def test_pipe_gets_no_escape_codes(demo_us: Path, environment: dict[str, str]) -> None:
    done = _process("show", demo_us, environment=environment)
    assert done.returncode == 0
    assert ESCAPE not in done.stdout + done.stderr
    assert "Price with tax" in done.stdout


def test_pipe_that_closes_early_is_no_fault(demo_us: Path) -> None:
    done = subprocess.run(
        ["bash", "-c", f"'{sys.executable}' -m pourbook show '{demo_us}' | true"],
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )
    assert "Traceback" not in done.stderr


def test_output_survives_a_pipe_without_unicode(demo_us: Path) -> None:
    """Pipes on Windows speak cp1252 unless told otherwise."""
    done = _process("show", demo_us, environment={"PYTHONIOENCODING": "cp1252"})
    assert "Traceback" not in done.stderr
    assert done.returncode == 0


def test_name_with_brackets_is_shown_as_it_is(tmp_path: Path, capsys: Printed) -> None:
    target = tmp_path / "bar [red] top.xlsx"
    assert run("new", target, "--pieces", "2") == 0
    assert "bar [red] top.xlsx" in capsys.readouterr().out
    assert run("show", target) == 0
    assert "bar [red] top.xlsx" in capsys.readouterr().out
