"""Cuts the printed part of a sheet below its last filled row.

Contract: for copies whose cells hold values, so that what is blank stays blank. Only the defined
names of the print areas change; a sheet that is not named, or holds a chart, keeps its own.
"""

from __future__ import annotations

from collections.abc import Mapping

from lxml import etree
from openpyxl.utils.cell import get_column_letter, range_boundaries

from pourbook.workbook.inject import written

_Q = "{http://schemas.openxmlformats.org/spreadsheetml/2006/main}"
_PRINT_AREA = "_xlnm.Print_Area"


def cut(workbook: bytes, sheets: Mapping[str, etree._Element]) -> bytes:
    """Return a workbook part whose print areas end where their sheets do.

    Args:
        workbook: The part ``xl/workbook.xml``.
        sheets: The sheets to cut, by name; areas of others stay.
    """
    root = etree.fromstring(workbook)
    for name in root.iter(_Q + "definedName"):
        sheet, _, _ = (name.text or "").rpartition("!")
        sheet = sheet.rpartition(",")[2].strip("'").replace("''", "'")
        if name.get("name") != _PRINT_AREA or sheet not in sheets:
            continue
        if sheets[sheet].find(_Q + "drawing") is None:
            areas = (name.text or "").split(",")
            kept = [new for area in areas if (new := _cut(area, sheets[sheet]))]
            name.text = ",".join(kept or areas[:1])
    return written(root)


def _cut(area: str, sheet: etree._Element) -> str:
    """Return a print area without the blank rows at its end; empty if all of it is blank."""
    lead, _, cells = area.rpartition("!")
    left, top, right, bottom = range_boundaries(cells)
    last = 0
    for cell in sheet.iter(_Q + "c"):
        column, row, _, _ = range_boundaries(str(cell.get("r")))
        if left <= column <= right and top <= row <= bottom and _shows(cell):
            last = max(last, row)
    if not last:
        return ""
    return f"{lead}!${get_column_letter(left)}${top}:${get_column_letter(right)}${last}"


def _shows(cell: etree._Element) -> bool:
    return any((part.text or "").strip() for part in (*cell.iter(_Q + "v"), *cell.iter(_Q + "t")))
