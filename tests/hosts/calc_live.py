"""What the tests of Calc with the add-in share: the program, the driver, examples on a sheet.

Contract: :func:`laid_out` says what :mod:`tests.hosts.calc_driver` is to enter and where the
answers stand; :func:`same` compares an answer with ours.
"""

from __future__ import annotations

import os
import shutil
import subprocess
from pathlib import Path
from typing import Any

import pytest

from pourbook.cells import CellError
from pourbook.formats.ooxml.addresses import letters
from pourbook.functions.declare import Example

DRIVER = Path(__file__).parent / "calc_driver.py"
PYTHON = "/usr/bin/python3"  # the one LibreOffice's own module is for
RESULTS = 240  # the column of the scratch sheet where results begin


def calc_program() -> tuple[str | None, str]:
    """Return LibreOffice's program, or None and why it cannot be driven."""
    places = "/usr/lib/libreoffice/program:/opt/libreoffice/program"
    found = shutil.which("soffice.bin", path=places)
    if found is None:
        return None, "LibreOffice (soffice) is not installed: the add-in cannot run live"
    if subprocess.run([PYTHON, "-c", "import uno"], capture_output=True, check=False).returncode:
        return None, f"{PYTHON} has no uno module (python3-uno): LibreOffice cannot be driven"
    return found, ""


def program() -> str:
    """Return the program, or skip; on the CI machine it has to be there."""
    found, reason = calc_program()
    if reason and os.environ.get("CI"):
        pytest.fail(reason)
    if reason:
        pytest.skip(reason)
    return str(found)


def laid_out(examples: list[tuple[str, Example]]) -> tuple[list[Any], list[Any], list[int]]:
    """Put the examples of the catalogue on a sheet: what they are given, and beside it the calls.

    Values of one width that stand under each other are entered at once: each entry takes Calc as
    long as hundreds of cells do.
    """
    entered: list[Any] = []
    formulas: list[Any] = []
    tops: list[int] = []
    row = top = 1
    for name, example in examples:
        texts = []
        ranges = [a for a in example.arguments if isinstance(a, tuple)]
        deep = max(map(len, ranges), default=0)
        given: list[list[Any]] = [[] for _ in range(deep)]
        for argument in example.arguments:
            if isinstance(argument, tuple):
                column, width = len(given[0]), len(argument[0])
                end = f"{letters(column + width)}{row + len(argument) - 1}"
                texts.append(f"{letters(column + 1)}{row}:{end}")
                for at, line in enumerate(given):
                    cells = argument[at] if at < len(argument) else ("",) * width
                    line += ["" if value is None else value for value in cells]
            elif isinstance(argument, str):
                texts.append('"' + argument.replace('"', '""') + '"')
            else:
                texts.append("" if argument is None else repr(argument))
        if given:
            assert len(given[0]) < RESULTS
            if not entered or len(entered[-1][2][0]) != len(given[0]):
                entered.append(["Sheet1", f"A{row}", []])
            entered[-1][2] += given
            row += deep
        result = example.result if isinstance(example.result, tuple) else ()
        address = f"{letters(RESULTS + 1)}{top}"
        if result:
            address += f":{letters(RESULTS + len(result[0]))}{top + len(result) - 1}"
        formulas.append([address, f"={name}({';'.join(texts)})"])
        tops.append(top)
        top += max(len(result), 1) + 2
    for one in entered:
        first, rows = int(one[1][1:]), one[2]
        one[1] += f":{letters(len(rows[0]))}{first + len(rows) - 1}"
    return entered, formulas, tops


def same(ours: object, theirs: object) -> bool:
    if isinstance(ours, int | float) and isinstance(theirs, int | float):
        return abs(ours - theirs) <= 1e-9 * max(1.0, abs(ours), abs(theirs))
    if isinstance(ours, CellError):
        return theirs == [str(ours)]
    return ("" if ours is None else ours) == theirs
