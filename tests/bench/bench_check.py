"""Speed of checks: one from a cold start, one in a warm process, many jobs that differ.

Run by hand with ``python tests/bench/bench_check.py [JOBS]``; it prints what it measured and
asserts nothing: a timed assertion would fail on a busy machine. The floor is what cannot be left
out: unpacking the file, reading its XML, and having the engine work its formulas out once.
"""

from __future__ import annotations

import os
import resource
import subprocess
import sys
import tempfile
import time
import zipfile
from collections.abc import Callable
from pathlib import Path

import formualizer
from lxml import etree

from pourbook import resources
from pourbook.archive import processes
from pourbook.formats import bounded
from pourbook.hosts.headless import stored
from pourbook.job import make
from pourbook.workbook.check.check import check_file
from pourbook.workbook.read.read import read_book

RUNS = 5
CHECK = (sys.executable, "-m", "pourbook", "check")


def spent(run: Callable[[], object]) -> float:
    """Return the processor time of a run, the best of some, seconds."""
    found = []
    for _ in range(RUNS):
        start = time.process_time()
        run()
        found.append(time.process_time() - start)
    return min(found)


def cold(path: Path) -> float:
    """Return the processor time of the command from nothing, the best of some, seconds."""
    told = {k: v for k, v in os.environ.items() if k != "PYTHONDONTWRITEBYTECODE"}
    found = []
    for _ in range(RUNS):
        before = resource.getrusage(resource.RUSAGE_CHILDREN)
        subprocess.run([*CHECK, path], check=False, capture_output=True, env=told)
        after = resource.getrusage(resource.RUSAGE_CHILDREN)
        found.append(after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime)
    return min(found)


def floor(path: Path) -> tuple[float, float, float]:
    """Return the processor time of unpacking, of reading XML, and of the engine without calls."""

    def unpacked() -> list[bytes]:
        with zipfile.ZipFile(path) as package:
            return [package.read(name) for name in package.namelist()]

    parts = [part for part in unpacked() if part.startswith(b"<")]
    cells = {name: sheet.cells for name, sheet in read_book(path).sheets.items()}
    formulas = [c.formula for sheet in cells.values() for c in sheet.values() if c.formula]
    return (
        spent(unpacked),
        spent(lambda: [etree.fromstring(part) for part in parts]),
        spent(lambda: [formualizer.parse(formula) for formula in formulas]),
    )


def several(folder: Path, scenario: make.Scenario, jobs: int) -> list[Path]:
    """Make jobs that differ in their first piece."""
    found = []
    for number in range(jobs):
        path = folder / f"{number:04}.xlsx"
        entries = {**scenario.entries, ("rooms", "a", 0): 98.0 + number / 16}
        make.make(path, scenario.system, entries, pieces=scenario.pieces)
        found.append(path)
    return found


def main(jobs: int) -> None:
    """Measure and print."""
    scenario = make.read_scenario(resources.folder("shared") / "demo" / "us.toml")
    with tempfile.TemporaryDirectory() as name:
        paths = several(Path(name), scenario, jobs)
        path = paths[0]
        book = read_book(path)
        raw = {n: sheet.cells for n, sheet in book.sheets.items()}
        program = book.plan().program
        print(f"cold, the whole command: {cold(path):.2f} s of processor time")
        warm = spent(lambda: check_file(path))
        print(f"warm, the same job again: {warm:.3f} s")
        confirmed = spent(lambda: stored.as_stored(raw, program))
        unzip, parse, taken_apart = floor(path)
        print(f"  of it the engine: {confirmed:.3f} s")
        print(
            f"floor: unpack {unzip:.3f}, XML {parse:.3f}, formulas taken apart {taken_apart:.3f} s"
        )
        bounded.begin()
        start = time.process_time()
        for one in paths:
            check_file(one)
        each = (time.process_time() - start) / jobs
        print(f"{jobs} jobs that differ, one process: {each:.3f} s each")
        many = min(os.cpu_count() or 1, processes.MOST_PROCESSES)
        few = Path(name) / "few"
        few.mkdir()
        for one in paths[: jobs // 3]:
            one.rename(few / one.name)
        short, long = folder_seconds(few), folder_seconds(Path(name))
        print(
            f"as a folder, {many} processes: {jobs / long:.1f} jobs a second, the start of them "
            f"included; {(jobs - jobs // 3) / (long - short):.1f} once they run"
        )


def folder_seconds(folder: Path) -> float:
    """Return how long the command takes for a folder, seconds by the clock."""
    began = time.perf_counter()
    subprocess.run([*CHECK, folder], check=False, capture_output=True)
    return time.perf_counter() - began


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 40)
