"""Speed of the LibreOffice Calc add-in, measured in one run.

Run by hand with ``python tests/bench/bench_calc.py``, with LibreOffice and python3-uno installed.
It prints what it measured and asserts nothing.
"""

from __future__ import annotations

import json
import os
import subprocess
import tempfile
import time
from pathlib import Path
from typing import Any

from pourbook import resources
from pourbook.functions.catalogue import evaluate
from pourbook.hosts.calc import install, package
from pourbook.workbook import job

DRIVER = Path(__file__).resolve().parents[1] / "hosts" / "calc_driver.py"
PROGRAM = "/usr/lib/libreoffice/program/soffice.bin"
CELLS = 1000
STARTS = 3


def run(folder: Path, name: str, tasks: list[dict[str, Any]], oxt: Path | None) -> dict[str, Any]:
    """Have LibreOffice do some tasks in a profile of its own, with the add-in or without."""
    order = folder / f"{name}.json"
    given = {
        "program": PROGRAM,
        "profile": str(folder / name),
        "package": str(oxt or ""),
        "tasks": tasks,
    }
    order.write_text(json.dumps(given))
    home = {**install.environment(os.environ), "HOME": str(folder)}
    command = ["/usr/bin/python3", str(DRIVER), str(order)]
    done = subprocess.run(command, env=home, capture_output=True, text=True, check=True)
    answer: dict[str, Any] = json.loads(done.stdout)
    return answer


def main() -> None:
    """Measure and print."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        oxt = folder / "pourbook.oxt"
        package.build(oxt)
        scenario = job.read_scenario(resources.folder("shared") / "demo" / "us.toml")
        demo = folder / "demo.xlsx"
        job.make(demo, scenario.system, scenario.entries)
        one: dict[str, Any] = {"formulas": [["A1", '=PB_READ("1 ft";"in")']]}
        texts = [f"{n} ft" for n in range(1, CELLS + 1)]
        differing = [f'=PB_READ("{text}";"in")' for text in texts]
        alike = ['=PB_READ("1 ft";"in")'] * CELLS
        native = [f'=CONVERT({n};"ft";"in")' for n in range(1, CELLS + 1)]
        tasks = [
            one,
            *({"formulas": column(formulas)} for formulas in (differing, alike, native)),
            {"open": str(demo)},
            {"open": str(demo)},
        ]
        run(folder, "bare", [], None)  # a new profile's first start takes longer
        live = run(folder, "live", tasks, oxt)
        starts = {
            name: min(run(folder, name, [], None)["start"] for _ in range(STARTS))
            for name in ("bare", "live")
        }
        print(f"package: {oxt.stat().st_size / 1000:.0f} kB")
        ratio = starts["live"] / starts["bare"]
        print(
            f"start with the add-in {starts['live']:.2f} s, without {starts['bare']:.2f} s,", end=""
        )
        print(f" ratio {ratio:.2f}")
        first, new, known, plain, opened, warm = live["tasks"]
        print(f"first function of a session: {(first['entered'] + first['calculated']):.2f} s")
        each = [1000 * (t["calculated"] - plain["calculated"]) / CELLS for t in (new, known)]
        began = time.perf_counter()
        for text in texts:
            evaluate("PB_READ", [text, "in"])
        bare = 1000 * (time.perf_counter() - began) / CELLS
        print(f"a scalar cell: {each[0]:.3f} ms, in Python alone {bare:.3f} ms,", end=" ")
        print(f"ratio {each[0] / bare:.1f}; with arguments met before {each[1]:.3f} ms")
        print(f"demo opened live: first {opened['opened']:.2f} s, again {warm['opened']:.2f} s")


def column(formulas: list[str]) -> list[list[str]]:
    """Put formulas under each other."""
    return [[f"A{row}", formula] for row, formula in enumerate(formulas, 1)]


if __name__ == "__main__":
    main()
