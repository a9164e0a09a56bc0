"""Time of the What if table as a ratio to one plan; run it with Pourbook on the path.

Prints, in one run over the demo job and random ones, how many times longer the seven plans of What
if take than one plan of the job: its batches, amounts, purchase and calendar. Every run has tables
nobody has read before, so that nothing is remembered.
"""

from __future__ import annotations

import statistics
import sys
import time
from collections.abc import Mapping

from tests.agreement import jobs
from tests.agreement.pipeline import Pipeline

from pourbook import resources
from pourbook.job import make
from pourbook.workbook.layout.laid_out import Layout
from pourbook.workbook.layout.lay_out import lay_out

ONE_PLAN = ("plan", "batches", "amounts", "parts", "buying", "packs", "days")
AIM = 8
RUNS = 5


def times(plan: Layout, entries: Mapping[tuple[str, str, int], object], run: str) -> list[float]:
    """Return CPU seconds of one plan, and of What if, each from tables never read before."""
    found = []
    for blocks in (ONE_PLAN, ("what_if",)):
        own = {**entries, ("rooms", "room", 0): f"Room {run} {blocks[0]}"}
        job = Pipeline(plan, own)
        job.get("rooms", "status", 0)  # measured before, for both
        began = time.process_time()
        for block in blocks:
            job.get(block, plan.block(block).fill.columns[0].id, 0)  # type: ignore[union-attr]
        found.append(time.process_time() - began)
    return found


def main() -> None:
    """Print the measurements."""
    out = sys.stdout
    plan = lay_out("job", "us", 18)
    entries = make.read_scenario(resources.folder("shared") / "demo" / "us.toml").entries
    times(plan, entries, "warm-up")
    demo = [times(plan, entries, f"demo {run}") for run in range(RUNS)]
    ratio = statistics.median(cases / one for one, cases in demo)
    out.write(f"What if of the demo: {ratio:.1f} times one plan (at most {AIM})\n")
    ratios = []
    for seed in range(20):
        sample = jobs.make(seed)
        one, cases = times(jobs.layout(sample.system), sample.entries, f"job {seed}")
        ratios.append(cases / one)
    out.write(
        f"What if of 20 random jobs: median {statistics.median(ratios):.1f} times one plan, worst "
        f"{max(ratios):.1f}\n"
    )


if __name__ == "__main__":
    main()
