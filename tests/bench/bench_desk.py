"""What an entry costs at the desk: typed in LibreOffice Calc until the price is there again.

Run by hand with ``python tests/bench/bench_desk.py``, with LibreOffice and python3-uno installed.
It prints what it measured and asserts nothing. Beside it stands what a program would pay that calls
Pourbook by a bridge, as Excel does: calls of functions, and cells handed over to them.
"""

from __future__ import annotations

import tempfile
from pathlib import Path
from typing import Any

from tests.bench.bench_calc import run
from tests.bench.bench_growth import entries

from pourbook import resources
from pourbook.functions.catalogue import catalogue
from pourbook.hosts.calc import bundle
from pourbook.hosts.headless import fast, handed, turns
from pourbook.hosts.headless.engine import Recomputed
from pourbook.job import make
from pourbook.workbook.layout.laid_out import Layout
from pourbook.workbook.layout.lay_out import lay_out

TIMES = 96
NEW = range(TIMES)
EDITS: dict[str, tuple[tuple[str, str, int], list[float | str]]] = {
    "size of a piece": (("rooms", "a", 0), [120 + n / 16 for n in NEW]),
    "temperature": (("site", "temperature", 0), [66 + n / 20 for n in NEW]),
    "wage": (("rates", "labour", 0), [48 + n / 10 for n in NEW]),
    "client": (("start", "client", 0), [f"Client {n}" for n in NEW]),
}
"""What is typed. The first quarter of the times counts: in it nothing is typed twice."""


def edits(plan: Layout, key: tuple[str, str, int], values: list[float | str]) -> dict[str, Any]:
    """Return the task of typing into one cell many times; the price is looked at after each."""
    cell, price = plan.cell(*key), plan.cell("price", "gross", 0)
    typed = [[cell.sheet, cell.address, values]]
    return {"cells": typed, "times": TIMES, "watch": [price.sheet, price.address]}


def paid(path: Path) -> tuple[int, int]:
    """Return how many calls working a job out anew takes, and how many cells they are handed."""
    cells = calls = 0
    plain = handed.plain_value

    def counted(value: Any) -> Any:
        nonlocal cells
        cells += 1
        return plain(value)

    handed.plain_value = counted
    try:
        record = Recomputed()
        fast.worked_out(turns.in_turns(path), record)
        calls = record.calls
    finally:
        handed.plain_value = plain
    return calls, cells


def main() -> None:
    """Measure and print."""
    scenario = make.read_scenario(resources.folder("shared") / "demo" / "us.toml")
    demo = scenario.entries
    sizes = [(17, demo, scenario.pieces), (17, demo, 120), (120, entries(scenario, 120), 120)]
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        oxt = folder / "pourbook.oxt"
        bundle.build(oxt)
        run(folder, "live", [], [oxt])  # the first start makes the profile
        for pieces, typed, rows in sizes:
            path = folder / f"{pieces}-{rows}.xlsx"
            make.make(path, "us", typed, pieces=rows)
            plan = lay_out("job", "us", rows)
            calls, cells = paid(path)
            what = f"{calls} calls are handed {cells:,} cells"
            print(f"{pieces} pieces in {rows} rows: all anew, {what}")
            for what, (key, values) in EDITS.items():
                task = {"open": str(path), "hard": False, "edits": edits(plan, key, values)}
                (told,) = run(folder, "live", [task], [oxt])["tasks"]
                each = 1000 * told["edits"]["seconds"][0] / (TIMES // 4)
                print(
                    f"  {what:18} {each:6.0f} ms an entry, {told['edits']['seen'][:2]}", flush=True
                )
    print(f"{len(catalogue())} functions")


if __name__ == "__main__":
    main()
