"""Speed of a month's roll-up over many jobs, as ratios measured in one run.

Run by hand with ``python tests/bench/bench_month.py [JOBS]``; it prints what it measured and
asserts nothing: a timed assertion would fail on a busy machine.
"""

from __future__ import annotations

import datetime as dt
import os
import shutil
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

from pourbook import resources
from pourbook.archive import folder as archive
from pourbook.archive import month, processes
from pourbook.job import accept, make

MADE = dt.datetime(2027, 3, 1)


def taken(run: Callable[[], object]) -> float:
    """Return how long a run takes, seconds."""
    start = time.perf_counter()
    run()
    return time.perf_counter() - start


def main(jobs: int) -> None:
    """Make so many files of the demo and roll them up with one process and with several."""
    with tempfile.TemporaryDirectory() as name:
        base = Path(name)
        scenario = make.read_scenario(resources.folder("shared") / "demo" / "us.toml")
        first = base / "demo.xlsx"
        make.make(first, "us", scenario.entries, pieces=scenario.pieces)
        accept.accept_scenario(first, scenario)
        jobs_folder = base / "jobs"
        jobs_folder.mkdir()
        for number in range(jobs):
            shutil.copy(first, jobs_folder / f"{number:04}.xlsx")
        one = archive.look(jobs_folder, processes=1)
        assert sum(f.job is not None for f in one) == jobs
        alone = taken(lambda: archive.look(jobs_folder, processes=1))
        several = min(os.cpu_count() or 1, processes.MOST_PROCESSES)
        together = taken(lambda: archive.look(jobs_folder, processes=several))
        # copies of one job count once: for the workbook each is told to be another
        apart = [archive.Found(f.file, archive.JOB, "", f.changed, f.job) for f in one]
        roll = month.roll_up(apart, "jobs", made=MADE.date())
        write = taken(lambda: month.write(roll, base / "m.xlsx", force=True, made=MADE))
    print(f"{jobs} jobs, one process: {alone:.1f} s, {alone / jobs:.2f} s a job")
    print(f"{several} processes: {together:.1f} s, {alone / together:.2f} times as fast")
    print(f"the workbook itself: {write:.1f} s, {write / alone:.2f} of reading with one process")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 24)
