"""The window under a virtual screen, with real clicks; and what its buttons run.

Needs a tkinter, Xvfb and xdotool, and for a drop tkdnd: ``.ci/run`` installs them.
"""

from __future__ import annotations

import os
import shlex
import shutil
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from configparser import ConfigParser
from pathlib import Path
from typing import Any

import pytest
from click import Context
from click.testing import CliRunner
from tests.command_line import run

from pourbook.cli import cli
from pourbook.commands.desk.desk_link import desktop_entry, windows_link
from pourbook.commands.desk.desk_steps import STEPS, Ask, commands_of, outcome, usual_of, written
from pourbook.errors import UsageError
from pourbook.job.fill import fill
from pourbook.workbook.check.closed import closings
from pourbook.workbook.layout.laid_out import Layout
from pourbook.workbook.read.read import read_book

BY_NAME = {step.name: step for step in STEPS}
PATIENCE = 90.0


def test_every_button_runs_a_command_there_is_with_options_it_has() -> None:
    context = Context(cli)
    for step in STEPS:
        answers = {ask.name: "yes" if ask.kind == "yes" else f"x-{ask.name}" for ask in step.asks}
        for words in commands_of(step, "job.xlsx", answers):
            command = cli.get_command(context, words[0])
            assert command is not None, words
            days = ("x-on", "x-first", "x-last")
            given = ["2027-01-04" if word in days else word for word in words]
            parsed = command.make_context(given[0], given[1:])
            assert parsed.params


def test_what_is_missing_is_said() -> None:
    with pytest.raises(UsageError, match="no job is chosen"):
        commands_of(BY_NAME["check"], " ", {})
    with pytest.raises(UsageError, match="it is blank") as refused:
        commands_of(BY_NAME["close"], "job.xlsx", {"by": " "})
    assert refused.value.where == "Who"


def test_words_are_those_of_a_terminal(tmp_path: Path) -> None:
    there = tmp_path / "m.xlsx"
    there.write_text("")
    answers = {"jobs": "j", "target": str(there), "first": "2027-01-01"}
    month = BY_NAME["month"]
    assert written(month, answers) == [there]
    assert commands_of(month, "", answers, replace=True) == [
        ["month", "j", str(there), "--from", "2027-01-01", "--force"]
    ]
    papers = commands_of(BY_NAME["papers"], "a b.xlsx", {"target": "p", "force": "yes"})
    assert papers == [["papers", "a b.xlsx", "p", "--force"]]
    assert commands_of(BY_NAME["check"], "j", {}) == [["recompute", "j"], ["check", "j"]]
    assert usual_of(Ask("x", "X", usual="{folder}/m.xlsx"), str(tmp_path / "j.xlsx")) == str(
        tmp_path / "m.xlsx"
    )
    assert len({outcome(code) for code in (0, 1, 2, 3, 4, -9)}) == 6


def test_without_a_screen_it_says_so() -> None:
    pytest.importorskip("tkinter")
    result = CliRunner(env={"DISPLAY": "", "WAYLAND_DISPLAY": ""}).invoke(cli, ["desk"])
    assert isinstance(result.exception, UsageError)
    assert "no window can be opened" in result.exception.what


@pytest.mark.parametrize("system", ["nt", "posix"])
def test_the_icon_runs_this_python_and_is_replaced_only_if_told(
    system: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr("platformdirs.user_desktop_dir", lambda: str(tmp_path / "Desktop"))
    monkeypatch.setattr("pourbook.commands.desk.desk_link.WINDOWS", system == "nt")
    assert run("desk", "--link") == 0
    (icon,) = (tmp_path / "Desktop").iterdir()
    assert str(icon) in capsys.readouterr().out
    assert icon.suffix == {"nt": ".cmd", "posix": ".desktop"}[system]
    first = icon.read_bytes()
    icon.write_bytes(b"mine")
    assert run("desk", "--link") == 2
    assert icon.read_bytes() == b"mine"
    assert run("desk", "--link", "--force") == 0
    assert icon.read_bytes() == first
    assert os.access(icon, os.X_OK)


@pytest.mark.parametrize("name", ["python.exe", "pythonw.exe", "Python.EXE"])
def test_the_icon_takes_the_python_without_a_console(name: str) -> None:
    written = windows_link(f"C:\\100%\\{name}")
    assert written.count('"C:\\100%%\\pythonw.exe"') == 2


# Under a virtual screen


@pytest.fixture(scope="module")
def screen(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    pytest.importorskip("tkinter")
    if not shutil.which("Xvfb") or not shutil.which("xdotool"):
        pytest.skip("needs Xvfb and xdotool")
    told, tell = os.pipe()
    server = subprocess.Popen(
        ["Xvfb", "-displayfd", str(tell), "-screen", "0", "1366x768x24", "-nolisten", "tcp"],
        pass_fds=(tell,),
        stderr=subprocess.DEVNULL,
    )
    os.close(tell)
    with os.fdopen(told) as stream:
        display = f":{stream.readline().strip()}"
    before = os.environ.get("DISPLAY")
    os.environ["DISPLAY"] = display
    yield display
    if before is None:
        del os.environ["DISPLAY"]
    else:
        os.environ["DISPLAY"] = before
    server.terminate()
    server.wait()


@pytest.fixture
def desk(screen: str) -> Iterator[Any]:
    import tkinter as tk

    from pourbook.commands.desk.desk_window import Desk

    root = tk.Tk()
    window = Desk(root)
    root.update()
    yield window
    if root.winfo_exists():
        window.leave()


def _opens(words: list[str], screen: str, title: str) -> None:
    """Start a program, and see that it opens a window of this title and goes on."""
    opened = subprocess.Popen(words, env={**os.environ, "DISPLAY": screen})
    try:
        wanted = ["xdotool", "search", "--sync", "--name", f"^{title}$"]
        told = subprocess.run(wanted, capture_output=True, text=True, timeout=60, check=False)
        assert told.stdout.strip(), f"no window '{title}' opens"
        assert opened.poll() is None
    finally:
        opened.terminate()
        opened.wait()


def _until(desk: Any, wanted: Callable[[], bool], what: str) -> None:
    end = time.monotonic() + PATIENCE
    while not wanted():
        desk.root.update()
        time.sleep(0.02)
        assert time.monotonic() < end, what


def _click(desk: Any, widget: Any) -> None:
    """Move the mouse onto a widget and press its button, as a hand does."""
    desk.root.update()
    x = widget.winfo_rootx() + widget.winfo_width() // 2
    y = widget.winfo_rooty() + widget.winfo_height() // 2
    subprocess.run(["xdotool", "mousemove", str(x), str(y), "click", "1"], check=True)
    for _ in range(10):
        desk.root.update()
        time.sleep(0.02)


def _xdo(desk: Any, *words: str) -> None:
    """Do something with the mouse, and let the window see it."""
    subprocess.run(["xdotool", *words], check=True)
    for _ in range(10):
        desk.root.update()
        time.sleep(0.02)


def _type(desk: Any, widget: Any, words: str) -> None:
    _click(desk, widget)
    subprocess.run(["xdotool", "key", "ctrl+a", "type", "--delay", "1", words], check=True)
    for _ in range(10):
        desk.root.update()
        time.sleep(0.02)


def _told(desk: Any) -> str:
    return str(desk.told.get("1.0", "end"))


def _done(desk: Any) -> None:
    _until(desk, lambda: desk.running is None, f"not done: {_told(desk)}")


@pytest.mark.xdist_group("screen")
def test_a_job_goes_through_the_window(desk: Any, settled_us: Path, tmp_path: Path) -> None:
    job = Path(shutil.copy(settled_us, tmp_path / "job.xlsx"))
    _click(desk, desk.buttons["check"])
    assert desk.status.get() == "Choose a job first."
    desk.file.set(str(job))
    _click(desk, desk.buttons["check"])
    assert desk.running is not None
    assert str(desk.buttons["settle"]["state"]) == "disabled", "one thing at a time"
    _done(desk)
    assert "values stored" in _told(desk)
    assert "job.xlsx: " in _told(desk)
    _click(desk, desk.buttons["close"])
    _click(desk, desk.asked.go_button)
    assert desk.asked.missing.get() == "Fill in: Who"
    assert not closings(read_book(job).plan("job"), read_book(job))
    _type(desk, desk.asked.fields["by"], "Ann")
    _type(desk, desk.asked.fields["on"], "2027-02-27")
    _click(desk, desk.asked.go_button)
    _done(desk)
    (row,) = closings(read_book(job).plan("job"), read_book(job))
    assert (row.what, row.by) == ("closed", "Ann")
    _click(desk, desk.buttons["open"])
    assert desk.asked.answers["jobs"].get() == str(tmp_path)
    _click(desk, desk.asked.go_button)
    _done(desk)
    assert "1 jobs: 1 closed" in _told(desk)


@pytest.mark.xdist_group("screen")
def test_a_path_is_taken_as_a_file_manager_copies_it(desk: Any, tmp_path: Path) -> None:
    job = tmp_path / "our bar.xlsx"
    job.write_text("")
    for copied in (f'"{job}"', job.as_uri()):
        desk.file.set("")
        desk.clipboard_clear()
        desk.clipboard_append(copied)
        _click(desk, desk.file_field)
        subprocess.run(["xdotool", "key", "ctrl+v"], check=True)
        _until(desk, lambda: desk.file.get() == str(job), f"{copied} gives {desk.file.get()}")


SOURCE = """
import sys, tkinter as tk
root = tk.Tk()
root.geometry("200x120+1150+20")
shown = tk.Label(root, text="drag me", bg="white")
shown.pack(fill="both", expand=True)
root.tk.call("package", "require", "tkdnd")
root.tk.call("tkdnd::drag_source", "register", shown, "DND_Files", 1)
root.tk.call("bind", shown, "<<DragInitCmd>>", "list copy DND_Files {%s}" % sys.argv[1])
root.after(300, lambda: print("ready", flush=True))
root.mainloop()
"""
"""A window that a file can be dragged from, as a file manager's."""


@pytest.mark.xdist_group("screen")
@pytest.mark.parametrize("name", ["our bar.xlsm", "notes.txt"])
def test_a_file_is_dropped_into_the_window(desk: Any, tmp_path: Path, name: str) -> None:
    try:
        desk.root.tk.call("package", "require", "tkdnd")
    except Exception as error:
        if os.environ.get("CI"):
            raise
        pytest.skip(f"Tk has no tkdnd here: {error}")
    dragged = tmp_path / name
    dragged.write_text("")
    assert "drop it here" in desk.status.get()
    words = [sys.executable, "-c", SOURCE, f"{{{dragged}}}"]
    with subprocess.Popen(words, stdout=subprocess.PIPE, text=True) as source:
        try:
            assert source.stdout is not None
            assert source.stdout.readline().strip() == "ready"
            x, y = desk.told.winfo_rootx() + 300, desk.told.winfo_rooty() + 300
            moves = [(1250, 80), (1240, 90), (1200, 120), (900, 300), (x + 9, y + 9), (x, y)]
            _xdo(desk, "mousemove", "1250", "80", "mousedown", "1")
            for across, down in moves:
                _xdo(desk, "mousemove", str(across), str(down))
            _xdo(desk, "mouseup", "1")
            if name.endswith(".xlsm"):
                _until(desk, lambda: desk.file.get() == str(dragged), "nothing was dropped")
            else:
                _until(desk, lambda: "Drop a job" in desk.status.get(), "nothing was said")
                assert not desk.file.get()
        finally:
            source.terminate()


@pytest.mark.xdist_group("screen")
def test_a_job_dropped_on_the_icon_opens_in_the_window(
    screen: str, settled_us: Path, tmp_path: Path
) -> None:
    """As a file manager starts it: the words of the entry, the job in place of its mark."""
    job = Path(shutil.copy(settled_us, tmp_path / "our job.xlsx"))
    entry = ConfigParser(interpolation=None)
    entry.read_string(desktop_entry(sys.executable))
    words = [str(job) if w == "%f" else w for w in shlex.split(entry["Desktop Entry"]["Exec"])]
    assert words[-1] == str(job)
    _opens(words, screen, "Pourbook")


@pytest.mark.xdist_group("screen")
@pytest.mark.parametrize("step", ["settle", "close"])
def test_a_step_that_is_named_is_pressed_at_once(
    screen: str, settled_us: Path, tmp_path: Path, step: str
) -> None:
    """As Calc's menu and Excel's tab open the window: it asks at once what the step needs."""
    job = Path(shutil.copy(settled_us, tmp_path / "job.xlsx"))
    words = [sys.executable, "-m", "pourbook", "desk", str(job), "--step", step]
    _opens(words, screen, BY_NAME[step].label)


@pytest.mark.xdist_group("screen")
def test_a_cell_that_is_named_is_a_link(
    desk: Any, demo_us: Path, plan_us: Layout, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:

    job = tmp_path / "job.xlsx"
    fill(demo_us, job, {("layers", "product", 0): "Mystery"}, force=False)
    opened: list[str] = []
    monkeypatch.setattr("click.launch", opened.append)
    desk.file.set(str(job))
    _click(desk, desk.buttons["check"])
    _done(desk)
    assert "something is to fix" in desk.status.get()
    first, last = desk.told.tag_nextrange("cell", "1.0")
    cell = desk.told.get(first, last)
    assert cell == f"Layers!{plan_us.entry_at['layers', 'product', 0].address}"
    desk.told.see(first)
    desk.root.update()
    x, y, width, height = desk.told.bbox(first)
    at = desk.told.winfo_rootx() + x + width // 2, desk.told.winfo_rooty() + y + height // 2
    subprocess.run(["xdotool", "mousemove", *map(str, at), "click", "1"], check=True)
    _until(desk, lambda: bool(opened), "the link does nothing")
    assert opened == [str(job)]
    assert desk.clipboard_get() == cell


@pytest.mark.xdist_group("screen")
def test_what_is_stopped_leaves_the_job_whole(desk: Any, settled_us: Path, tmp_path: Path) -> None:
    job = Path(shutil.copy(settled_us, tmp_path / "job.xlsx"))
    before = job.read_bytes()
    desk.file.set(str(job))
    _click(desk, desk.buttons["check"])
    _click(desk, desk.stop_button)
    _done(desk)
    assert desk.status.get().startswith("Stopped.")
    assert job.read_bytes() == before
    _click(desk, desk.buttons["check"])
    _done(desk)
    assert "values stored" in _told(desk)


@pytest.mark.xdist_group("screen")
def test_a_file_that_is_there_is_replaced_only_if_somebody_says_so(
    desk: Any, settled_us: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    job = Path(shutil.copy(settled_us, tmp_path / "job.xlsx"))
    there = tmp_path / "books copy.xlsx"
    there.write_text("mine")
    asked: list[str] = []
    answer = [False]

    def ask(_: str, words: str, **__: object) -> bool:
        asked.append(words)
        return answer[0]

    monkeypatch.setattr("tkinter.messagebox.askyesno", ask)
    desk.file.set(str(job))
    _click(desk, desk.buttons["books"])
    _click(desk, desk.asked.go_button)
    assert asked == ["books copy.xlsx is there already. Replace it?"]
    assert (desk.running, there.read_text()) == (None, "mine")
    answer[0] = True
    _click(desk, desk.asked.go_button)
    _done(desk)
    assert read_book(there).copy_of == "job.xlsx"
