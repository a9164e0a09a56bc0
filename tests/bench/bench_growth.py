"""How the cost of a job grows with its pieces: made, and checked, each in a process of its own.

Run by hand: ``python tests/bench/bench_growth.py [PIECES ...]``. It prints what it measured and
asserts nothing. Beyond the demo's own pieces they are small shelves of one room: a job has room for
sixty batches. Where a job cannot be priced, it says so.
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
    """Return the demo's entries, cut off or with small shelves of one room more."""
    rows = {row for block, _, row in scenario.entries if block == "rooms"}
    kept = {k: v for k, v in scenario.entries.items() if k[0] != "rooms" or k[2] < pieces}
    for at in range(len(rows), pieces):
        shelf = {"room": "Store", "piece": f"Shelf {at}", "shape": "rectangle", "a": 8.0, "b": 6.0}
        kept |= {("rooms", name, at): value for name, value in shelf.items()}
    return kept


def one(what: str, path: Path, pieces: int) -> None:
    """Do one thing in this process, and print its processor time and the memory it took."""
    worst: list[str] = []
    if what == MAKE:
        scenario = make.read_scenario(resources.folder("shared") / "demo" / "us.toml")
        start = time.process_time()
        make.make(path, "us", entries(scenario, pieces), pieces=pieces)
    else:
        from pourbook.workbook.check.check import check_file

        start = time.process_time()
        told = check_file(path)
        worst = [f.what for f in told.findings][:1]
    spent = time.process_time() - start
    most = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(
        f"{pieces:5} pieces, {what:5}: {spent:7.2f} s, {most:6.0f} MB, {path.stat().st_size:,} B",
        *worst,
    )


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
