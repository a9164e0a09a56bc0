"""The plain engine reads an equal cell of an equal place only once in a test run.

Reading its formulas is most of what the formulas package does with a workbook, and the workbooks
of the tests differ in entries far more than in formulas. Compiled formulas hold the file's name:
every workbook is read under the one name :data:`NAME`. Nothing that is worked out is remembered.
"""

from __future__ import annotations

import shutil
import tempfile
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import formulas
from formulas.cell import Cell
from openpyxl.worksheet.merge import MergedCellRange

from pourbook.cells import Address
from pourbook.errors import FileUnreadableError
from pourbook.hosts.headless.engine import Read, Recomputed
from pourbook.hosts.headless.plain import PlainEngine

NAME = "job.xlsx"
_known: dict[tuple[object, ...], Cell] = {}


@contextmanager
def remembering(without: frozenset[str] = frozenset()) -> Iterator[None]:
    """Have formulas read every formula once; those of the sheets ``without`` stay blank."""
    left_out = {sheet.upper() for sheet in without}
    borders, read = MergedCellRange.format, formulas.ExcelModel._compile_cell
    recompute = PlainEngine.recompute

    def once(crd: Any, val: Any, context: Any, check_formula: bool, references: Any) -> Cell:
        is_formula = check_formula and isinstance(val, str) and val.startswith("=")
        if is_formula and context["sheet"] in left_out:
            val = None
        key = (context["excel"], context["sheet"], crd, val.__class__, val, is_formula)
        if key not in _known:
            _known[key] = read(crd, val, context, check_formula, references)
        return _known[key]

    def under_one_name(
        self: PlainEngine, path: Path, wanted: Iterable[Address], read: Read | None = None
    ) -> Recomputed:
        if not path.is_file():
            return recompute(self, path, wanted)
        with tempfile.TemporaryDirectory() as folder:
            try:
                return recompute(self, Path(shutil.copy(path, Path(folder) / NAME)), wanted)
            except FileUnreadableError as error:
                raise error.at(str(path)) from error.__cause__

    formulas.ExcelModel._compile_cell = staticmethod(once)
    MergedCellRange.format = lambda _: None
    PlainEngine.recompute = under_one_name  # type: ignore[method-assign]
    try:
        yield
    finally:
        PlainEngine.recompute = recompute  # type: ignore[method-assign]
        MergedCellRange.format = borders
        formulas.ExcelModel._compile_cell = staticmethod(read)
