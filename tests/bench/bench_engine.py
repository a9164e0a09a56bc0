"""Speed of the workbook engine, as ratios measured in one run.

Run by hand with ``python tests/bench/bench_engine.py``, or in its short form with ``--short`` (what
``.ci/run`` does). It prints what it measured beside what was aimed at, and asserts nothing: a timed
assertion would fail on a busy machine.
"""

from __future__ import annotations

import datetime as dt
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

from openpyxl import Workbook
from openpyxl.worksheet.formula import ArrayFormula

from pourbook import resources
from pourbook.hosts import headless
from pourbook.job import make
from pourbook.workbook.build import build
from pourbook.workbook.check.check import check_file
from pourbook.workbook.layout import lay_out
from pourbook.workbook.layout.laid_out import Layout
from pourbook.workbook.layout.shown import number_format
from pourbook.workbook.read.read import formula_cells, read_book
from pourbook.workbook.template import styles

MADE = dt.datetime(2026, 1, 1)


def best(run: Callable[[], object], times: int) -> float:
    """Return the shortest of several runs, seconds."""
    taken = []
    for _ in range(times):
        start = time.perf_counter()
        run()
        taken.append(time.perf_counter() - start)
    return min(taken)


def plain_openpyxl(plan: Layout, entries: make.Entries, target: Path) -> None:
    """Write the same cells, with the same styles and formats, by openpyxl and nothing else."""
    book = Workbook()
    for style in styles.named_styles():
        book.add_named_style(style)
    for sheet in plan.book.sheets:
        book.create_sheet(sheet.sheet)
    for planned in plan.cells:
        cell = book[planned.sheet].cell(planned.row, planned.column)
        if planned.array:
            cell.value = ArrayFormula(planned.array, planned.formula)
        elif planned.formula:
            cell.value = planned.formula
        elif planned.role == "entry" and planned.field:
            cell.value = entries.get((planned.block, planned.field.id, planned.index))
        else:
            cell.value = planned.value
        cell.style = styles.ROLE_STYLE[planned.role]
        if planned.field:
            cell.number_format = number_format(planned.field)
    book.save(target)


def main(short: bool) -> None:
    """Measure and print."""
    times = 2 if short else 7
    scenario = make.read_scenario(resources.folder("shared") / "demo" / "us.toml")
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        demo = folder / "demo.xlsx"
        make.make(demo, scenario.system, scenario.entries)
        plan = lay_out.lay_out("job", scenario.system, make.DEFAULT_PIECES)

        ours = best(
            lambda: build.write(plan, scenario.entries, folder / "a.xlsx", made=MADE), times
        )
        theirs = best(lambda: plain_openpyxl(plan, scenario.entries, folder / "b.xlsx"), times)
        print(f"build the demo: {ours:.3f} s, openpyxl alone {theirs:.3f} s,", end=" ")
        print(f"ratio {ours / theirs:.2f} (aim: at most 1.5)")

        check = best(lambda: check_file(demo, ("fast",)), times)
        plainly = best(lambda: check_file(demo, ("plain",)), 1 if short else 3)
        print(
            f"check the demo: fast engine {check:.3f} s, plain formulas {plainly:.3f} s,", end=" "
        )
        print(f"ratio {plainly / check:.1f} (aim: at least 20)")

        wanted = list(formula_cells(read_book(demo)))
        calls = headless.engine("fast").recompute(demo, wanted).calls
        print(f"function calls for a full recalculation: {calls} (at most 20, a test)")

        command = [sys.executable, "-m", "pourbook", "--help"]
        helped = best(lambda: subprocess.run(command, check=True, capture_output=True), times)
        bare = best(lambda: subprocess.run([sys.executable, "-c", "pass"], check=True), times)
        print(f"pourbook --help: {helped:.3f} s, a bare Python {bare:.3f} s (aim: under 0.25 s)")


if __name__ == "__main__":
    main("--short" in sys.argv[1:])
