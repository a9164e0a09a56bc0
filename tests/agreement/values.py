"""What every worked-out cell of many random jobs says, kept in a file and held against another.

Run by hand: ``python tests/agreement/values.py VALUES.json --jobs 200 --seed 1`` writes the file,
``--against OLD.json`` also compares cell by cell and ends with 1 when anything differs. Cells go by
block, field and row, not by address, so that a file stays comparable when a column is added.
"""

from __future__ import annotations

import argparse
import json
import sys
import tempfile
from collections.abc import Mapping
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

sys.path[:0] = [str(Path(__file__).resolve().parents[2])]  # run as a script

from tests.agreement import hosts, jobs  # noqa: E402

Said = dict[str, object]


def said(seed: int) -> tuple[int, Said]:
    """Return what the fast engine says of a job, by block, field and row."""
    sample = jobs.make(seed)
    found: Said = {}
    with tempfile.TemporaryDirectory() as folder:
        book = Path(folder) / "job.xlsx"
        hosts.write(sample, book)
        values = hosts.engine("fast", book, sample.system)
    count: dict[tuple[str, str], int] = {}
    for cell in hosts.computed(sample.system):
        name = cell.field.id if cell.field else cell.role
        at = count[cell.block, name] = count.get((cell.block, name), -1) + 1
        value = values[cell.sheet, cell.address]
        plain = isinstance(value, str | int | float | bool)
        found[f"{cell.block}.{name}.{at}"] = value if plain else repr(value)
    return seed, found


def differences(old: Mapping[str, Said], new: Mapping[str, Said]) -> list[str]:
    """Return every cell that says something else, is gone or is new; a new job counts once."""
    listed = []
    for seed, before in old.items():
        after = new.get(seed, {})
        listed += [
            f"job {seed}, {place}: {before.get(place)!r} became {after.get(place)!r}"
            for place in sorted({*before, *after})
            if before.get(place) != after.get(place)
        ]
    return listed


def main() -> int:
    """Run from the command line."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("file", type=Path)
    parser.add_argument("--jobs", type=int, default=200)
    parser.add_argument("--seed", type=int, default=1, help="the seed of the first job")
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--against", type=Path)
    given = parser.parse_args()
    with ProcessPoolExecutor(given.workers) as pool:
        seeds = range(given.seed, given.seed + given.jobs)
        made = {str(seed): found for seed, found in pool.map(said, seeds)}
    given.file.write_text(json.dumps(made), encoding="utf-8")
    print(f"{len(made)} jobs, {sum(map(len, made.values()))} cells in {given.file}")
    if not given.against:
        return 0
    apart = differences(json.loads(given.against.read_text(encoding="utf-8")), made)
    for line in apart[:50]:
        print(line)
    print(f"{len(apart)} cells differ from {given.against}")
    return 1 if apart else 0


if __name__ == "__main__":
    sys.exit(main())
