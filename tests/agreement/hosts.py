"""Runs jobs through the hosts and through the pipeline, and hands back their cells.

Contract: :func:`write` makes the workbook of a job without stored values, :func:`engines` and
:func:`expected` give its computed cells by sheet and address, :func:`start_calc` has one
LibreOffice with the add-in answer many workbooks, each into a file of its own.
"""

from __future__ import annotations

import datetime as dt
import io
import json
import os
import subprocess
import tempfile
from collections import defaultdict
from collections.abc import Mapping
from functools import cache
from pathlib import Path
from typing import Any

from openpyxl.utils.datetime import to_excel
from tests.agreement.jobs import Sample, layout
from tests.agreement.pipeline import Pipeline
from tests.hosts.calc_live import DRIVER, PYTHON

from pourbook.cells import Address, CellError, Value
from pourbook.formats.ooxml import rewrite
from pourbook.formats.ooxml.copying import copied
from pourbook.hosts import headless
from pourbook.hosts.calc import add_to_calc, bundle
from pourbook.hosts.headless.stored import as_stored
from pourbook.job import make
from pourbook.workbook.build import build
from pourbook.workbook.layout.laid_out import PlannedCell
from pourbook.workbook.read.read import read_book
from pourbook.workbook.read.sheet_lines import RawCell

HOSTS = ("formualizer", "formulas", "LibreOffice", "code")
MADE = dt.datetime(2026, 11, 24, 9, 30)
Values = Mapping[Address, Value]
Office = subprocess.Popen[str]


@cache
def computed(system: str) -> tuple[PlannedCell, ...]:
    """Return every cell that is worked out."""
    return tuple(c for c in layout(system).cells if c.formula or c.fill or c.offer)


def write(sample: Sample, target: Path) -> None:
    """Write the workbook of a job, formulas without values."""
    made = layout(sample.system)
    build.write(made, {**make.defaults(made), **sample.entries}, target, made=MADE)


@cache
def _empty(system: str) -> bytes:
    """Return the workbook of a job of which nothing is typed."""
    made = layout(system)
    with tempfile.TemporaryDirectory() as folder:
        target = Path(folder) / "empty.xlsx"
        build.write(made, make.defaults(made), target, made=MADE)
        return target.read_bytes()


def write_quickly(sample: Sample, target: Path) -> None:
    """Write the same workbook by typing into one that is there already."""
    made = layout(sample.system)
    typed: dict[str, dict[str, Any]] = defaultdict(dict)
    for key, content in sample.entries.items():
        cell = made.entry_at.get(key) or made.kept_at[key]
        day = isinstance(content, dt.date)
        typed[cell.sheet][cell.address] = float(to_excel(content)) if day else content
    empty = _empty(sample.system)
    sheets = rewrite.sheet_parts(io.BytesIO(empty))

    def edit(part: str, content: bytes) -> bytes:
        own = typed.get(sheets.get(part, ""))
        return rewrite.with_values(content, own) if own else content

    copied(io.BytesIO(empty), target, edit, packed=False)


def expected(sample: Sample) -> dict[Address, Value]:
    """Return what the pipeline says of every cell it covers."""
    found = Pipeline(layout(sample.system), sample.entries)
    return {
        (c.sheet, c.address): found.value(c) for c in computed(sample.system) if found.covers(c)
    }


def engine(
    name: str, path: Path, system: str, without: frozenset[str] = frozenset()
) -> dict[Address, Value]:
    """Return what a headless engine works out; a fault inside a function is an error."""
    wanted = [(c.sheet, c.address) for c in computed(system) if c.sheet not in without]
    done = headless.engine(name).recompute(path, wanted)
    assert not done.reasons, f"{name}: {done.reasons[0]}"
    return done.values


def confirmed(path: Path, system: str, given: Values) -> dict[Address, Value]:
    """Return what the formulas of the templates as code give, from the values another host gave.

    They confirm all values or none: with none, each is told as an error of its own. A workbook in
    which another host shows an error is left to engines, and gives nothing.
    """
    if any(isinstance(value, CellError) for value in given.values()):
        return {}
    wanted = {(c.sheet, c.address) for c in computed(system)}
    sheets = {
        name: {
            address: cell._replace(value=given.get((name, address), cell.value))
            for address, cell in sheet.cells.items()
        }
        for name, sheet in read_book(path).sheets.items()
    }
    for sheet, address in wanted - {(n, a) for n, cells in sheets.items() for a in cells}:
        sheets[sheet][address] = RawCell(given[sheet, address])
    found = as_stored(sheets, layout(system).program)
    return dict.fromkeys(given, CellError("not confirmed")) if found is None else found.values


def start_calc(program: str, folder: Path, books: list[tuple[Path, Path]]) -> Office:
    """Start one LibreOffice with a clean profile and the add-in on workbooks and answer files."""
    oxt = folder / "pourbook.oxt"
    bundle.build(oxt)
    order = folder / "order.json"
    tasks = [{"open": str(book), "answer": str(answer)} for book, answer in books]
    given = {"program": program, "profile": str(folder / "profile"), "package": str(oxt)}
    order.write_text(json.dumps({**given, "tasks": tasks}), encoding="utf-8")
    home = {**add_to_calc.environment(os.environ), "HOME": str(folder)}
    return subprocess.Popen(
        [PYTHON, str(DRIVER), str(order)],
        env=home,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )


def calc_answer(path: Path, system: str) -> dict[Address, Value]:
    """Return what LibreOffice worked out, from its answer file."""
    sheets = json.loads(path.read_text(encoding="utf-8"))["sheets"]

    def one(value: Any) -> Value:
        return CellError(value[0]) if isinstance(value, list) else value

    return {(c.sheet, c.address): one(sheets[c.sheet].get(c.address, "")) for c in computed(system)}
