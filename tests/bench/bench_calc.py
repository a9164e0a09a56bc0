"""Speed of the LibreOffice Calc add-in, measured in one run.

Run by hand with ``python tests/bench/bench_calc.py``, with LibreOffice and python3-uno installed.
It prints what it measured and asserts nothing. A trivial add-in function of its own measures what
LibreOffice's bridge to Python takes by itself: no function of ours can be faster.
"""

from __future__ import annotations

import json
import os
import subprocess
import tempfile
import time
import zipfile
from pathlib import Path
from typing import Any

from pourbook import resources
from pourbook.functions.catalogue import evaluate
from pourbook.hosts.calc import add_to_calc, bundle
from pourbook.hosts.calc.typelib import Method, Parameter, interface_library
from pourbook.job import make

DRIVER = Path(__file__).resolve().parents[1] / "hosts" / "calc_driver.py"
PROGRAM = "/usr/lib/libreoffice/program/soffice.bin"
CELLS = 10000
STARTS = 3
ROUNDS = 7

TRIVIAL = """\
import uno, unohelper
from com.sun.star.lang import XServiceInfo, XServiceName

SERVICE = "org.trivial.Functions"
SERVICES = (SERVICE, "com.sun.star.sheet.AddIn")


def functions(_context, *_given):
    members = {
        "one": lambda _self, *_given: 1.0,
        "getServiceName": lambda _self: SERVICE,
        "getImplementationName": lambda _self: SERVICE,
        "supportsService": lambda _self, service: service in SERVICES,
        "getSupportedServiceNames": lambda _self: SERVICES,
    }
    bases = (unohelper.Base, uno.getClass("org.trivial.XFunctions"), XServiceInfo, XServiceName)
    return type("Trivial", bases, members)()


g_ImplementationHelper = unohelper.ImplementationHelper()
g_ImplementationHelper.addImplementation(functions, SERVICE, SERVICES)
"""
REGISTRY = """\
<?xml version="1.0" encoding="UTF-8"?>
<oor:component-data xmlns:oor="http://openoffice.org/2001/registry"
 xmlns:xs="http://www.w3.org/2001/XMLSchema" oor:package="org.openoffice.Office"
 oor:name="CalcAddIns">
<node oor:name="AddInInfo"><node oor:name="org.trivial.Functions" oor:op="replace">
<node oor:name="AddInFunctions"><node oor:name="one" oor:op="replace">
<prop oor:name="DisplayName"><value xml:lang="en-US">TRIVIAL</value></prop>
</node></node></node></node></oor:component-data>
"""
# What a new cell holds, by the name of what is measured; {n} differs in every cell.
FORMULAS = {
    "native": '=CONVERT({n};"ft";"in")',
    "trivial": '=TRIVIAL("{n} ft";"in")',
    "PB_READ": '=PB_READ("{n} ft";"in")',
    "PB_READ, feet and inches": '=PB_READ("{n}\' 6 1/2""";"in")',
    "PB_CONVERT": '=PB_CONVERT({n};"US gal";"L")',
    "PB_AREA": '=PB_AREA("ft²";"rectangle";"{n} in";"{n} ft")',
    "PB_NEED": '=PB_NEED("{n} US gal";"L";"25 %")',
}


def trivial(target: Path) -> None:
    """Write an add-in whose one function does nothing."""
    method = Method("one", "any", (Parameter("a", "any"), Parameter("b", "any")))
    kinds = {
        "trivial.rdb": "uno-typelibrary;type=RDB",
        "trivial.py": "uno-component;type=Python",
        "CalcAddIn.xcu": "configuration-data",
    }
    entries = "".join(
        f'<m:file-entry m:full-path="{name}" m:media-type="application/vnd.sun.star.{kind}"/>'
        for name, kind in kinds.items()
    )
    manifest = f'<m:manifest xmlns:m="http://openoffice.org/2001/manifest">{entries}</m:manifest>'
    with zipfile.ZipFile(target, "w") as made:
        made.writestr("META-INF/manifest.xml", manifest)
        made.writestr("trivial.rdb", interface_library("org.trivial.XFunctions", [method]))
        made.writestr("trivial.py", TRIVIAL)
        made.writestr("CalcAddIn.xcu", REGISTRY)


def run(
    folder: Path, name: str, tasks: list[dict[str, Any]], packages: list[Path]
) -> dict[str, Any]:
    """Have LibreOffice do some tasks in a profile of its own, with add-ins or without."""
    order = folder / f"{name}.json"
    given = {
        "program": PROGRAM,
        "profile": str(folder / name),
        "packages": [str(p) for p in packages],
        "tasks": tasks,
    }
    order.write_text(json.dumps(given))
    home = {**add_to_calc.environment(os.environ), "HOME": str(folder)}
    command = ["/usr/bin/python3", str(DRIVER), str(order)]
    done = subprocess.run(command, env=home, capture_output=True, text=True, check=True)
    answer: dict[str, Any] = json.loads(done.stdout)
    return answer


def column(formula: str, first: int) -> dict[str, Any]:
    """Return the task of working out a column of new formulas, and then working it out again."""
    cells = [formula.format(n=first + row) for row in range(1, CELLS + 1)]
    return {"formulas": [[f"A1:A{CELLS}", cells]], "manual": True, "again": True}


def main() -> None:
    """Measure and print."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        oxt, nothing = folder / "pourbook.oxt", folder / "trivial.oxt"
        bundle.build(oxt)
        print(f"package: {oxt.stat().st_size / 1000:.0f} kB")
        trivial(nothing)
        scenario = make.read_scenario(resources.folder("shared") / "demo" / "us.toml")
        demo = folder / "demo.xlsx"
        make.make(demo, scenario.system, scenario.entries)
        rounds = [column(f, r * CELLS) for r in range(ROUNDS) for f in FORMULAS.values()]
        first: dict[str, Any] = {"formulas": [["A1", '=PB_READ("1 ft";"in")']]}
        opening = [{"open": str(demo)}, {"open": str(demo)}]
        run(folder, "bare", [], [])  # a new profile's first start takes longer
        run(folder, "live", [], [oxt])
        starts = {
            name: min(run(folder, name, [], [])["start"] for _ in range(STARTS))
            for name in ("bare", "live")
        }
        tasks = run(folder, "scalars", [first, *rounds, *opening], [oxt, nothing])["tasks"]
    ratio = starts["live"] / starts["bare"]
    print(f"start with the add-in {starts['live']:.2f} s, without {starts['bare']:.2f} s,", end="")
    print(f" ratio {ratio:.2f}")
    began, *columns, opened, warm = tasks
    print(f"first function of a session: {(began['entered'] + began['calculated']):.2f} s")
    print(f"demo opened live: first {opened['opened']:.2f} s, again {warm['opened']:.2f} s")
    tell(columns)


def tell(columns: list[dict[str, Any]]) -> None:
    """Print what a cell of each function took: the least of the rounds."""
    kinds = len(FORMULAS)
    least = {
        name: [
            1000 * min(task[when] for task in columns[at::kinds]) / CELLS
            for when in ("calculated", "again")
        ]
        for at, name in enumerate(FORMULAS)
    }
    print(f"a cell of {CELLS} new ones, ms (remembered), and times a trivial add-in function's:")
    for name, (new, again) in least.items():
        ratio = new / least["trivial"][0]
        print(f"{name:26}{new:.4f} ({again:.4f})  x {ratio:.2f}")
    evaluate("PB_READ", ["1 ft", "in"])
    start = time.perf_counter()
    for n in range(CELLS):
        evaluate("PB_READ", [f"{n} yd", "in"])
    print(f"PB_READ in Python alone   {1000 * (time.perf_counter() - start) / CELLS:.4f}")


if __name__ == "__main__":
    main()
