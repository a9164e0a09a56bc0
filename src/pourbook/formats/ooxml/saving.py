"""Turns an openpyxl workbook into the bytes of its file.

Contract: :func:`saved` keeps every part in memory. openpyxl's own ``save`` writes each sheet to a
temporary file first, and on a full disk leaves it, and what it was doing, half done.
"""

from __future__ import annotations

import io
import zipfile

from openpyxl.drawing.spreadsheet_drawing import SpreadsheetDrawing
from openpyxl.workbook import Workbook
from openpyxl.worksheet._writer import WorksheetWriter
from openpyxl.worksheet.worksheet import Worksheet
from openpyxl.writer.excel import ExcelWriter


def saved(book: Workbook) -> bytes:
    """Return the file of a workbook.

    Example:
        >>> saved(Workbook())[:2]
        b'PK'
    """
    content = io.BytesIO()
    with zipfile.ZipFile(content, "w", zipfile.ZIP_DEFLATED) as package:
        _InMemory(book, package).save()
    return content.getvalue()


class _InMemory(ExcelWriter):  # type: ignore[misc]  # openpyxl has no types
    def write_worksheet(self, ws: Worksheet) -> None:
        """Write a sheet as openpyxl does, but into memory."""
        ws._drawing = SpreadsheetDrawing()
        ws._drawing.charts = ws._charts
        writer = WorksheetWriter(ws, out=io.BytesIO())
        writer.write()
        ws._rels = writer._rels
        self._archive.writestr(ws.path[1:], writer.read())
        self.manifest.append(ws)
