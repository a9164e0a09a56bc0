"""Drives one LibreOffice over UNO for test_calc.py; runs under the Python that has ``uno``.

``python3 calc_driver.py JOB.json``: the job names a profile, a package to install, and documents
to open, change, read and save; the answer is printed as JSON. ``manual`` enters formulas without
working them out, ``again`` works everything out a second time, and ``ranges`` of the first sheet
are read instead of every cell. A task with ``answer`` has its own written to that file as soon as
it is done.
"""

from __future__ import annotations

import contextlib
import json
import os
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import uno
import unohelper
from com.sun.star.beans import NamedValue, PropertyValue
from com.sun.star.task import XInteractionHandler
from com.sun.star.ucb import XCommandEnvironment

FIRST_START = 81
APPROVE = "com.sun.star.task.XInteractionApprove"
XLSX = "Calc MS Excel 2007 XML"


class Yes(unohelper.Base, XCommandEnvironment, XInteractionHandler):  # type: ignore[misc]
    """Says yes to whatever the installation asks."""

    def getInteractionHandler(self) -> Any:  # noqa: N802 - LibreOffice's name
        return self

    def getProgressHandler(self) -> None:  # noqa: N802 - LibreOffice's name
        return None

    def handle(self, request: Any) -> None:
        for way in request.getContinuations():
            if way.queryInterface(uno.getTypeByName(APPROVE)):
                way.select()
                return


class Office:
    """One LibreOffice with a private profile."""

    def __init__(self, program: str, profile: str) -> None:
        pipe = f"pourbook{os.getpid()}"
        command = [
            program,
            "--headless",
            "--norestore",
            "--nologo",
            "--nodefault",
            f"-env:UserInstallation={Path(profile).as_uri()}",
            f"--accept=pipe,name={pipe};urp;",
        ]
        local = uno.getComponentContext()
        resolver = local.ServiceManager.createInstanceWithContext(
            "com.sun.star.bridge.UnoUrlResolver", local
        )
        self.process = self._start(command)
        end = time.monotonic() + 120
        while True:
            try:
                self.context = resolver.resolve(
                    f"uno:pipe,name={pipe};urp;StarOffice.ComponentContext"
                )
                break
            except Exception:  # noqa: BLE001 - it is not up yet, or never will be
                code = self.process.poll()
                if code == FIRST_START:
                    self.process = self._start(command)
                elif code is not None or time.monotonic() > end:
                    sys.exit(f"LibreOffice did not start ({code})")
                time.sleep(0.05)
        self.desktop = self.context.ServiceManager.createInstanceWithContext(
            "com.sun.star.frame.Desktop", self.context
        )

    @staticmethod
    def _start(command: list[str]) -> subprocess.Popen[bytes]:
        return subprocess.Popen(
            command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, stdin=subprocess.DEVNULL
        )

    def install(self, package: str) -> None:
        manager = self.context.getValueByName(
            "/singletons/com.sun.star.deployment.ExtensionManager"
        )
        quiet = (NamedValue("SUPPRESS_LICENSE", "1"),)
        manager.addExtension(Path(package).as_uri(), quiet, "user", None, Yes())

    def open(self, path: str) -> Any:
        url = Path(path).as_uri() if path else "private:factory/scalc"
        found = self.desktop.loadComponentFromURL(url, "_blank", 0, (_property("Hidden", True),))
        if found is None:
            sys.exit(f"LibreOffice cannot open {path}")
        return found

    def close(self) -> None:
        with contextlib.suppress(Exception):  # the connection goes with the program
            self.desktop.terminate()
        try:
            self.process.wait(20)
        except subprocess.TimeoutExpired:
            self.process.kill()
            self.process.wait()


def _property(name: str, value: Any) -> Any:
    made = PropertyValue()
    made.Name, made.Value = name, value
    return made


def _column(index: int) -> str:
    letters = ""
    while index >= 0:
        letters, index = chr(65 + index % 26) + letters, index // 26 - 1
    return letters


def read(document: Any) -> dict[str, dict[str, Any]]:
    """Return what every filled cell shows; an error value as a list of its text."""
    found: dict[str, dict[str, Any]] = {}
    for sheet in document.Sheets:
        cursor = sheet.createCursor()
        cursor.gotoEndOfUsedArea(False)
        end = cursor.RangeAddress
        rows = sheet.getCellRangeByPosition(0, 0, end.EndColumn, end.EndRow).getDataArray()
        found[sheet.Name] = {
            f"{_column(c)}{r + 1}": (
                [sheet.getCellByPosition(c, r).String] if value is None else value
            )
            for r, row in enumerate(rows)
            for c, value in enumerate(row)
            if value != ""
        }
    return found


def _shown(cells: Any) -> list[list[Any]]:
    """Return what the cells of a range show, row by row."""
    return [
        [[cells.getCellByPosition(c, r).String] if v is None else v for c, v in enumerate(row)]
        for r, row in enumerate(cells.getDataArray())
    ]


def enter(document: Any, task: dict[str, Any]) -> None:
    """Put values and formulas into cells, as the task says."""
    for sheet, address, value in task.get("set", []):
        cell = document.Sheets.getByName(sheet).getCellRangeByName(address)
        if isinstance(value, list):  # rows of values
            cell.setDataArray(tuple(map(tuple, value)))
        elif isinstance(value, str):
            cell.String = value
        else:
            cell.Value = value
    for sheet, cells, address in task.get("cut", []):  # and put elsewhere on the same sheet
        page = document.Sheets.getByName(sheet)
        goal = page.getCellRangeByName(address).getCellAddress()
        page.moveRange(goal, page.getCellRangeByName(cells).getRangeAddress())
    first = document.Sheets.getByIndex(0)
    for address, formula in task.get("formulas", []):
        target = first.getCellRangeByName(address)
        if isinstance(formula, list):  # a column of formulas, one a cell
            target.setFormulaArray(tuple((each,) for each in formula))
        elif ":" in address:
            target.setArrayFormula(formula)
        else:
            target.Formula = formula


@contextlib.contextmanager
def _quiet(document: Any) -> Iterator[None]:
    """Keep a document from drawing and from remembering how to undo, while much is entered."""
    undo = document.getUndoManager()
    undo.lock()
    document.addActionLock()
    document.lockControllers()
    try:
        yield
    finally:
        document.unlockControllers()
        document.removeActionLock()
        undo.unlock()


def memory(office: Office) -> int:
    """Return how many bytes of memory LibreOffice holds."""
    status = Path(f"/proc/{office.process.pid}/status").read_text(encoding="ascii")
    line = next(line for line in status.splitlines() if line.startswith("VmRSS:"))
    return 1024 * int(line.split()[1])


def edit(
    office: Office, document: Any, cells: list[Any], times: int, watch: list[str]
) -> dict[str, Any]:
    """Type into cells in turn, many times over; return seconds and memory as it went.

    A cell is read after each, for Calc works out what is looked at alone.
    """
    held, spent = [memory(office)], []
    watched = document.Sheets.getByName(watch[0]).getCellRangeByName(watch[1])
    seen = set()
    for quarter in range(4):
        start = time.perf_counter()
        for number in range(times // 4):
            sheet, address, values = cells[number % len(cells)]
            cell = document.Sheets.getByName(sheet).getCellRangeByName(address)
            value = values[(quarter + number // len(cells)) % len(values)]
            if isinstance(value, str):
                cell.String = value
            else:
                cell.Value = value
            seen.add(watched.String)
        spent.append(time.perf_counter() - start)
        held.append(memory(office))
    return {"memory": held, "seconds": spent, "seen": sorted(seen)}


def work(office: Office, task: dict[str, Any]) -> dict[str, Any]:
    """Open a document, change it, read it, save it, as the task says."""
    start = time.perf_counter()
    document = office.open(task.get("open", ""))
    answer: dict[str, Any] = {"opened": time.perf_counter() - start}
    answer["modified"] = document.isModified()
    document.enableAutomaticCalculation(not task.get("manual", False))
    start = time.perf_counter()
    with _quiet(document):
        enter(document, task)
    answer["entered"] = time.perf_counter() - start
    start = time.perf_counter()
    document.calculateAll() if task.get("hard", True) else document.calculate()
    answer["calculated"] = time.perf_counter() - start
    if task.get("again"):
        start = time.perf_counter()
        document.calculateAll()
        answer["again"] = time.perf_counter() - start
    if task.get("edits"):
        answer["edits"] = edit(office, document, **task["edits"])
    if task.get("copy"):
        kind = "calc8" if task["copy"].endswith(".ods") else XLSX
        document.storeToURL(Path(task["copy"]).as_uri(), (_property("FilterName", kind),))
    if task.get("save"):
        document.storeAsURL(Path(task["save"]).as_uri(), (_property("FilterName", XLSX),))
    first = document.Sheets.getByIndex(0)
    if "ranges" in task:
        answer["ranges"] = [_shown(first.getCellRangeByName(a)) for a in task["ranges"]]
    else:
        answer["sheets"] = read(document)
    document.close(True)
    if task.get("answer"):
        kept = Path(task["answer"])
        kept.with_suffix(".part").write_text(json.dumps(answer), encoding="utf-8")
        kept.with_suffix(".part").replace(kept)
        return {}
    return answer


def descriptions(office: Office, prefix: str) -> dict[str, Any]:
    """Return what the function wizard shows of the functions whose name begins so."""
    known = office.context.ServiceManager.createInstanceWithContext(
        "com.sun.star.sheet.FunctionDescriptions", office.context
    )
    found = {}
    for index in range(known.Count):
        told = {p.Name: p.Value for p in known.getByIndex(index)}
        if told["Name"].startswith(prefix):
            arguments = [[a.Name, a.Description] for a in told["Arguments"] or ()]
            found[told["Name"]] = {"description": told["Description"], "arguments": arguments}
    return found


def menu(office: Office, asked: dict[str, Any]) -> dict[str, Any]:
    """Return the lines of a menu as LibreOffice has read them; open a workbook and press one."""
    manager = office.context.ServiceManager
    provider = manager.createInstanceWithContext(
        "com.sun.star.configuration.ConfigurationProvider", office.context
    )
    path = f"/org.openoffice.Office.Addons/AddonUI/OfficeMenuBar/{asked['node']}"
    read = provider.createInstanceWithArguments(
        "com.sun.star.configuration.ConfigurationAccess", (_property("nodepath", path),)
    )
    lines = read.getByName("Submenu")
    found = [lines.getByName(name) for name in sorted(lines.ElementNames)]
    document = office.open(asked["open"])
    document.CurrentController.Frame.activate()
    service, _, step = asked["press"].partition("?")
    executor = manager.createInstanceWithContext(service.partition(":")[2], office.context)
    executor.trigger(step)
    told = {
        "title": read.getByName("Title"),
        "lines": [[one.getByName("Title"), one.getByName("URL")] for one in found],
    }
    document.close(True)
    return told


def main() -> None:
    """Do the job."""
    job = json.loads(Path(sys.argv[1]).read_text(encoding="utf-8"))
    answers: dict[str, Any] = {}
    packages = [job["package"]] if job.get("package") else job.get("packages", [])
    if packages:
        office = Office(job["program"], job["profile"])
        for package in packages:
            office.install(package)
        office.close()
    start = time.perf_counter()
    office = Office(job["program"], job["profile"])
    answers["start"] = time.perf_counter() - start
    try:
        answers["tasks"] = [work(office, task) for task in job["tasks"]]
        if job.get("describe"):
            answers["described"] = descriptions(office, job["describe"])
        if job.get("menu"):
            answers["menu"] = menu(office, job["menu"])
    finally:
        office.close()
    print(json.dumps(answers))


if __name__ == "__main__":
    main()
