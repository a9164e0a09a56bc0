"""How the cost of a job grows with its pieces: made, and checked, each in a process of its own.

Run by hand: ``python tests/bench/bench_growth.py [PIECES ...]``. It prints what it measured and
asserts nothing. Pieces are those of the demo over and over, each copy in rooms of its own, within
the same finishes.
"""

from __future__ import annotations

import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from pourbook import resources
from pourbook.job import make

MAKE, CHECK = "make", "check"


def entries(scenario: make.Scenario, pieces: int) -> dict[tuple[str, str, int], object]:
    """Return the demo's entries with its pieces over and over."""
    kept = {k: v for k, v in scenario.entries.items() if k[0] != "rooms"}
    rows: dict[int, dict[str, object]] = {}
    for (block, name, row), value in scenario.entries.items():
        if block == "rooms":
            rows.setdefault(row, {})[name] = value
    for at in range(pieces):
        turn, row = divmod(at, len(rows))
        for name, value in rows[row].items():
            if name in {"joins", "order"}:
                continue
            own = f"{value} {turn}" if name == "room" and turn else value
            kept["rooms", name, at] = own
    return kept


def one(what: str, path: Path, pieces: int) -> None:
    """Do one thing in this process, and print its processor time and the memory it took."""
    if what == MAKE:
        scenario = make.read_scenario(resources.folder("shared") / "demo" / "us.toml")
        start = time.process_time()
        make.make(path, "us", entries(scenario, pieces), pieces=pieces)
    else:
        from pourbook.workbook.check.check import check_file

        start = time.process_time()
        check_file(path)
    spent = time.process_time() - start
    most = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"{pieces:5} pieces, {what:5}: {spent:7.2f} s, {most:6.0f} MB, {path.stat().st_size:,} B")


def main(counts: list[int]) -> None:
    """Make and check a job of each size."""
    with tempfile.TemporaryDirectory() as name:
        for pieces in counts:
            path = Path(name) / f"{pieces}.xlsx"
            for what in (MAKE, CHECK):
                subprocess.run([sys.executable, __file__, what, path, str(pieces)], check=True)


if __name__ == "__main__":
    if sys.argv[1:2] and sys.argv[1] in {MAKE, CHECK}:
        one(sys.argv[1], Path(sys.argv[2]), int(sys.argv[3]))
    else:
        main([int(a) for a in sys.argv[1:]] or [12, 120, 1200])
