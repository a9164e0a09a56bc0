"""LibreOffice as an outside oracle: loads a workbook, works its native formulas out, saves it.

Contract: one private profile a worker, made once, for its first start takes longer than most of
what is asked; nothing of this Python is in its way. Where it is not installed a test is skipped,
but on the CI machine it has to be there.
"""

from __future__ import annotations

import atexit
import os
import shutil
import subprocess
import tempfile
from functools import cache
from pathlib import Path

import openpyxl
import pytest
from lxml import etree
from openpyxl.worksheet.formula import ArrayFormula

from pourbook.formats.ooxml.copying import copied

Cell = tuple[str, str]
XLSX = "xlsx:Calc MS Excel 2007 XML"
_FIRST_START = 81  # a new profile ends so once, and wants to be started again
_PATH = "/usr/sbin:/usr/bin:/sbin:/bin"
_Q = "{http://schemas.openxmlformats.org/spreadsheetml/2006/main}"


def program() -> str:
    """Return the program, or skip."""
    found = shutil.which("soffice", path="/usr/bin:/usr/local/bin:/opt/libreoffice/program")
    if found is None:
        reason = "LibreOffice (soffice) is not installed: the outside oracle cannot be asked"
        if os.environ.get("CI"):
            pytest.fail(reason)
        pytest.skip(reason)
    return found


@cache
def _home() -> Path:
    folder = Path(tempfile.mkdtemp(prefix="pourbook-office-"))
    atexit.register(shutil.rmtree, folder, ignore_errors=True)
    return folder


def saved_by_office(source: Path, folder: Path, to: str = XLSX) -> Path:
    """Have LibreOffice load, work out and save a workbook; return what it saved.

    Args:
        source: The workbook.
        folder: Where a folder for the answer is made.
        to: What it saves it as.
    """
    found, home = program(), _home()
    outbox, inbox = folder / "out", folder / "in"
    outbox.mkdir(exist_ok=True)
    inbox.mkdir(exist_ok=True)
    asked = shutil.copy(source, inbox / source.name)  # what others look at too stays unlocked
    profile = f"-env:UserInstallation={(home / 'profile').as_uri()}"
    how = ["--headless", "--norestore", "--convert-to", to, "--outdir", str(outbox)]
    for _ in range(3):
        done = subprocess.run(
            [found, profile, *how, str(asked)],
            env={"PATH": _PATH, "HOME": str(home)},
            capture_output=True,
            text=True,
            timeout=180,
            check=False,
        )
        if done.returncode != _FIRST_START:
            break
    result = outbox / f"{source.stem}.{to.partition(':')[0]}"
    assert result.is_file(), f"LibreOffice saved nothing ({done.returncode}): {done.stderr}"
    return result


def without_values(source: Path, target: Path) -> int:
    """Copy a workbook without the stored values of its formulas; return how many there were."""
    taken = 0

    def edit(part: str, content: bytes) -> bytes:
        nonlocal taken
        if not part.startswith("xl/worksheets/sheet"):
            return content
        root = etree.fromstring(content)
        for cell in root.iter(_Q + "c"):
            value = cell.find(_Q + "v")
            if cell.find(_Q + "f") is not None and value is not None:
                cell.remove(value)
                cell.attrib.pop("t", "")
                taken += 1
        return etree.tostring(root, xml_declaration=True, encoding="UTF-8")

    copied(source, target, edit)
    return taken


def native(path: Path) -> dict[Cell, str]:
    """Return every native formula of a file, arrays of one cell among them."""
    return {
        (page.title, cell.coordinate): text
        for page in openpyxl.load_workbook(path).worksheets
        for row in page.iter_rows()
        for cell in row
        if cell.data_type == "f" and "PB_" not in (text := _text(cell.value))
    }


def _text(formula: object) -> str:
    return str(formula.text if isinstance(formula, ArrayFormula) else formula)


def values(path: Path, wanted: dict[Cell, str]) -> dict[Cell, object]:
    """Return the stored values of some cells of a file, a blank one as an empty text."""
    book = openpyxl.load_workbook(path, data_only=True)
    found = {}
    for sheet, address in wanted:
        value = book[sheet][address].value
        found[sheet, address] = "" if value is None else value
    return found
