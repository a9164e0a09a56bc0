"""What LibreOffice loads: the functions as a Calc add-in, their plain names, and the menu.

Contract: lies at the top of the add-in package, not inside Pourbook. Standard library and ``uno``
at load time; Pourbook is imported when the first function is wanted, so that LibreOffice starts as
fast as without the add-in, and an older Python than Pourbook's can still say what is wrong. No
arithmetic. ``pourbook_names`` is written by the package builder.
"""

from __future__ import annotations

import os
import re
import subprocess
import sys
from functools import cache
from pathlib import Path
from typing import Any

import uno
import unohelper
from com.sun.star.lang import XServiceInfo, XServiceName
from com.sun.star.table import CellAddress
from com.sun.star.task import XJob, XJobExecutor

SERVICE = "org.pourbook.Functions"
INTERFACE = "org.pourbook.XFunctions"
JOB = "org.pourbook.PlainNames"
MENU = "org.pourbook.Menu"
NEEDED = (3, 11)
_PASSING = "pourbook_passing_name"
_FORMULA = 16  # com.sun.star.sheet.CellFlags.FORMULA
_WORKBOOK = re.compile(r"file:.*\.xls[xm]", re.IGNORECASE)
_OWN = ("PYTHON", "URE_", "LD_LIBRARY_PATH", "UNO_")
_SAVED = ("OnSaveDone", "OnSaveAsDone")


def _method(name: str, *, block: bool) -> Any:
    if sys.version_info < NEEDED:
        has = ".".join(str(part) for part in sys.version_info[:2])
        why = f"! this LibreOffice brings Python {has}: Pourbook needs 3.11: renew LibreOffice"
        return lambda *_given: ((why,),) if block else why
    return lambda _self, *given: _answer()(name, given)


@cache
def _answer() -> Any:
    from pourbook.hosts.calc.values import answer  # noqa: PLC0415

    return answer


def _functions(_context: Any, *_given: Any) -> Any:
    """Make the add-in; its interface is unknown until the package is installed."""
    from pourbook_names import BLOCKS, NAMES  # noqa: PLC0415 - see the contract

    services = (SERVICE, "com.sun.star.sheet.AddIn")
    members: dict[str, Any] = {
        method: _method(name, block=name in BLOCKS) for method, name in NAMES.items()
    }
    members["getServiceName"] = lambda _self: SERVICE
    members["getImplementationName"] = lambda _self: SERVICE
    members["supportsService"] = lambda _self, service: service in services
    members["getSupportedServiceNames"] = lambda _self: services
    bases = (unohelper.Base, uno.getClass(INTERFACE), XServiceInfo, XServiceName)
    return type("Functions", bases, members)()


class PlainNames(unohelper.Base, XJob, XServiceInfo):  # type: ignore[misc]  # uno is untyped
    """Makes plain names work after loading, and puts them back into what was saved."""

    def __init__(self, _context: Any) -> None:
        pass

    def execute(self, arguments: Any) -> Any:
        """Run after a document was loaded or saved; other programs' documents are left alone."""
        given = {p.Name: p.Value for a in arguments if a.Name == "Environment" for p in a.Value}
        document, event = given.get("Model"), given.get("EventName")
        if document is None or not document.supportsService(
            "com.sun.star.sheet.SpreadsheetDocument"
        ):
            return ()
        if event == "OnLoadFinished":
            changed = document.isModified()
            _resolve(document)
            _wrap(document)
            if not changed:
                _call_unchanged(document)
        elif event in _SAVED and _WORKBOOK.fullmatch(document.URL):
            from pourbook_names import NAMES  # noqa: PLC0415 - see the contract

            from pourbook.hosts.calc.saved import plain_names  # noqa: PLC0415

            plain_names(Path(uno.fileUrlToSystemPath(document.URL)), SERVICE, NAMES)
        return ()

    def getImplementationName(self) -> str:  # noqa: N802 - LibreOffice's name
        """Return the job's name."""
        return JOB

    def supportsService(self, service: str) -> bool:  # noqa: N802 - LibreOffice's name
        """Return whether this is such a service."""
        return service in self.getSupportedServiceNames()

    def getSupportedServiceNames(self) -> tuple[str, str]:  # noqa: N802 - LibreOffice's name
        """Return what this is."""
        return (JOB, "com.sun.star.task.Job")


class Menu(unohelper.Base, XJobExecutor, XServiceInfo):  # type: ignore[misc]  # uno is untyped
    """Opens Pourbook's window at a step of the work, with the workbook at hand chosen."""

    def __init__(self, context: Any) -> None:
        self.context = context

    def trigger(self, step: str) -> None:
        """Start the window in Pourbook's own Python; say so if it is not there any more."""
        from pourbook_names import PYTHON  # noqa: PLC0415 - see the contract

        desktop = self.context.ServiceManager.createInstanceWithContext(
            "com.sun.star.frame.Desktop", self.context
        )
        document = desktop.getCurrentComponent()
        url = getattr(document, "URL", "") or ""
        job = [uno.fileUrlToSystemPath(url)] if _WORKBOOK.fullmatch(url) else []
        if job and document.isModified():
            self._say(document, "Save this workbook first: Pourbook reads the saved file.")
            return
        # LibreOffice's own Python is not the one that has Pourbook's commands.
        kept = {k: v for k, v in os.environ.items() if not k.startswith(_OWN)}
        try:
            subprocess.Popen(  # noqa: S603 - Pourbook's own Python, and words without a shell
                [PYTHON, "-m", "pourbook", "desk", *job, "--step", step], env=kept
            )
        except OSError:
            self._say(
                document,
                f"Pourbook was in {PYTHON} and is there no more. In a terminal: "
                "pourbook addin calc install",
            )

    def _say(self, document: Any, words: str) -> None:
        if document is None:
            return
        window = document.CurrentController.Frame.ContainerWindow
        window.getToolkit().createMessageBox(window, 0, 1, "Pourbook", words).execute()

    def getImplementationName(self) -> str:  # noqa: N802 - LibreOffice's name
        """Return the menu's name."""
        return MENU

    def supportsService(self, service: str) -> bool:  # noqa: N802 - LibreOffice's name
        """Return whether this is such a service."""
        return service == MENU

    def getSupportedServiceNames(self) -> tuple[str]:  # noqa: N802 - LibreOffice's name
        """Return what this is."""
        return (MENU,)


def _resolve(document: Any) -> None:
    """Have Calc read the formulas again it could not read while loading.

    LibreOffice 7.4 looks up the plain names of an ``.xlsx`` only when a formula is compiled again;
    a defined name that comes and goes makes it compile those it could not read, and no others.
    """
    names = document.NamedRanges
    names.addNewByName(_PASSING, "$A$1", CellAddress(), 0)
    names.removeByName(_PASSING)


def _call_unchanged(document: Any) -> None:
    """Keep LibreOffice from asking to save; a chart in a changed state would make it ask."""
    for sheet in document.Sheets:
        for index in range(sheet.Charts.Count):
            sheet.Charts.getByIndex(index).EmbeddedObject.setModified(False)
    document.setModified(False)


def _wrap(document: Any) -> None:
    """Give Calc the block formulas in the form it works out rightly; see ``wrapped``."""
    automatic = document.isAutomaticCalculationEnabled()
    document.enableAutomaticCalculation(False)
    document.UndoManager.lock()
    try:
        for sheet in document.Sheets:
            blocks = _blocks(sheet)
            protected = blocks and sheet.isProtected()
            if protected:
                sheet.unprotect("")
            for block, formula in blocks:
                block.setArrayFormula(formula)
            if protected and not sheet.isProtected():
                sheet.protect("")
    finally:
        document.UndoManager.unlock()
        document.enableAutomaticCalculation(automatic)


def _blocks(sheet: Any) -> list[tuple[Any, str]]:
    """Return the blocks of a sheet with the formula each should have."""
    from pourbook.hosts.calc.wrapped import wrapped  # noqa: PLC0415

    found = []
    seen: set[str] = set()
    for place in sheet.queryContentCells(_FORMULA).RangeAddresses:
        cells = sheet.getCellRangeByPosition(
            place.StartColumn, place.StartRow, place.EndColumn, place.EndRow
        )
        for down, row in enumerate(cells.getFormulaArray()):
            for across, formula in enumerate(row):
                if not formula.startswith("{=") or formula in seen:
                    continue
                seen.add(formula)
                better = wrapped(formula)
                if better is not None:
                    block = sheet.createCursorByRange(cells.getCellByPosition(across, down))
                    block.collapseToCurrentArray()
                    found.append((block, better))
    return found


g_ImplementationHelper = unohelper.ImplementationHelper()  # noqa: N816 - LibreOffice's name
g_ImplementationHelper.addImplementation(_functions, SERVICE, (SERVICE, "com.sun.star.sheet.AddIn"))
g_ImplementationHelper.addImplementation(PlainNames, JOB, (JOB, "com.sun.star.task.Job"))
g_ImplementationHelper.addImplementation(Menu, MENU, (MENU,))
