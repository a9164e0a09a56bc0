"""A file that costs far more than any job ends the program, which says which file it was."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest

from pourbook.formats import bounded

WASTE = {
    "time": ("MOST_SECONDS = 0.2", "while True: pass", "takes far longer"),
    "memory": ("MOST_MEMORY = 30_000_000", "a = bytearray(200_000_000); time.sleep(30)", "memory"),
    "memory, where no file of the system tells it": (
        "MOST_MEMORY, bounded._PAGES = 30_000_000, Path('nothing')",
        "a = bytearray(200_000_000); time.sleep(30)",
        "memory",
    ),
}
PROGRAM = """
import sys, time
from pathlib import Path
from pourbook.formats import bounded
bounded.{most}
bounded.watch(lambda told: print(told, file=sys.stderr))
with bounded.bounded(Path("first.xlsx")):
    pass
with bounded.bounded(Path("bad.xlsx")), bounded.bounded(Path("bad.xlsx")):
    {waste}
"""
COMMAND = """
import sys
from pourbook.formats import bounded
bounded.MOST_SECONDS, bounded._PAUSE = 0.0, 0.001
from pourbook.cli import main
main()
"""


def ended(program: str, *words: object) -> subprocess.CompletedProcess[str]:
    run = [sys.executable, "-c", program, *map(str, words)]
    return subprocess.run(run, capture_output=True, text=True, timeout=60, check=False)


@pytest.mark.parametrize("what", WASTE)
def test_what_costs_too_much_ends_the_program(what: str) -> None:
    most, waste, said = WASTE[what]
    done = ended(PROGRAM.format(most=most, waste=waste))
    assert done.returncode == 3
    assert done.stderr.startswith("bad.xlsx: it ")
    assert said in done.stderr


@pytest.mark.parametrize("command", ["check", "show", "recompute"])
def test_a_command_that_is_ended_names_the_file(command: str, demo_us: Path) -> None:
    done = ended(COMMAND, command, demo_us)
    assert done.returncode == 3, done.stderr
    assert done.stderr.startswith(f"pourbook: {demo_us}: it takes far longer than any job")


def test_for_a_machine_it_says_so_in_json(demo_us: Path) -> None:
    done = ended(COMMAND, "check", "--json", demo_us)
    assert (done.returncode, json.loads(done.stdout)["status"]) == (3, "unreadable")


def test_a_command_looks_for_rubbish_seldom_and_a_program_that_only_imports_does_not() -> None:
    often = "gc.get_threshold()[0]"
    told = ended(f"import gc, pourbook.cli as c; print({often}); c.bounded.begin(); print({often})")
    before, after = map(int, told.stdout.split())
    assert before < after


def test_nothing_is_watched_until_it_is_asked_for() -> None:
    with bounded.bounded(Path("a.xlsx")):
        assert bounded._work == []
