"""Writes computed values beside the formulas of a finished .xlsx: the last write of every build.

Contract: :func:`inject` copies a workbook and puts the given values next to their formulas, so that
previews, phones, pandas and the bookkeeper see numbers without recalculating. Nothing else of the
package changes but the calculation mark, which says that the values are current, and the mark on
the one cell that finds out on opening whether Pourbook's functions are live.
"""

from __future__ import annotations

import math
import posixpath
import re
import zipfile
from collections.abc import Mapping
from pathlib import Path
from typing import IO

from lxml import etree

from pourbook.cells import Address, CellError, Value
from pourbook.formats.ooxml.addresses import cells, split
from pourbook.formats.ooxml.copying import copied

BOOK, RELATIONS = "xl/workbook.xml", "xl/_rels/workbook.xml.rels"
_MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
_Q = f"{{{_MAIN}}}"
_VALUE, _INLINE, _FORMULA = _Q + "v", _Q + "is", _Q + "f"
_RELATION = "{http://schemas.openxmlformats.org/officeDocument/2006/relationships}id"
_SPACE = "{http://www.w3.org/XML/1998/namespace}space"
_UNSAFE = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\ufffe\uffff]")
_CALC_ID = "191029"
_ON_LOAD = "PB_LIVE("  # worked out when a file is opened, while all else keeps its stored value
_BEFORE_CALC = {"sheets", "functionGroups", "externalReferences", "definedNames"}


def inject(source: Path, target: Path, values: Mapping[Address, Value]) -> list[Address]:
    """Copy a workbook with values beside its formulas.

    Args:
        source: A workbook without cached values.
        target: Where to write the copy.
        values: The values by sheet and address.

    Returns:
        The formula cells no value was given for; an empty list means the file is complete.
    """
    missing: list[Address] = []
    by_sheet: dict[str, dict[str, Value]] = {}
    for (sheet, address), value in values.items():
        by_sheet.setdefault(sheet, {})[address] = value
    parts = sheet_parts(source)

    def edit(part: str, content: bytes) -> bytes:
        name = parts.get(part)
        if name is not None:
            content, left = _fill(content, by_sheet.get(name, {}))
            missing.extend((name, address) for address in left)
        elif part == BOOK:
            book = etree.fromstring(content)
            _mark_current(book)
            content = written(book)
        return content

    copied(source, target, edit)
    return missing


def written(root: etree._Element) -> bytes:
    """Return a part as the package stores it."""
    return etree.tostring(root, xml_declaration=True, encoding="UTF-8", standalone=True)


def sheet_parts(source: Path | IO[bytes]) -> dict[str, str]:
    """Return the name of every sheet by the part of the package that holds it."""
    with zipfile.ZipFile(source) as package:
        book = etree.fromstring(package.read(BOOK))
        relations = etree.fromstring(package.read(RELATIONS))
    targets = {
        r.get("Id"): posixpath.normpath(posixpath.join("/xl", r.get("Target", ""))).lstrip("/")
        for r in relations.iter("{*}Relationship")
    }
    sheets = book.find(_Q + "sheets")
    assert sheets is not None
    return {targets[s.get(_RELATION)]: str(s.get("name")) for s in sheets}


def _mark_current(book: etree._Element) -> None:
    """Say that the values are current, so that opening the file does not recalculate it."""
    mark = book.find(_Q + "calcPr")
    if mark is None:
        mark = etree.Element(_Q + "calcPr")
        last = [e for e in book if etree.QName(e).localname in _BEFORE_CALC][-1]
        last.addnext(mark)
    mark.set("calcId", _CALC_ID)
    mark.set("fullCalcOnLoad", "0")


def _fill(content: bytes, values: Mapping[str, Value]) -> tuple[bytes, list[str]]:
    root = etree.fromstring(content)
    data = root.find(_Q + "sheetData")
    assert data is not None
    found = {str(c.get("r")): c for row in data for c in row}
    missing: list[str] = []
    for address, cell in list(found.items()):
        formula = cell.find(_FORMULA) if len(cell) else None
        if formula is None:
            continue
        if _ON_LOAD in (formula.text or "").upper():
            formula.set("ca", "1")
        block = [address]
        if formula.get("t") == "array":
            block = cells(str(formula.get("ref")))
        for one in block:
            target = found.get(one)
            if target is None:
                target = _new_cell(data, one)
                found[one] = target
            if one in values:
                _put(target, values[one])
            else:
                missing.append(one)
    return written(root), missing


def _new_cell(data: etree._Element, address: str) -> etree._Element:
    row_number, column = split(address)
    row = next((r for r in data if int(r.get("r", "0")) == row_number), None)
    if row is None:
        row = etree.Element(_Q + "row", r=str(row_number))
        data.insert(sum(int(r.get("r", "0")) < row_number for r in data), row)
    cell = etree.Element(_Q + "c", r=address)
    row.insert(sum(split(str(c.get("r")))[1] < column for c in row), cell)
    return cell


def put(root: etree._Element, values: Mapping[str, Value]) -> None:
    """Put values into cells of a sheet by address, making a cell if need be; None blanks it.

    A cell keeps its looks, and holds a value alone: a formula in it goes.
    """
    data = root.find(_Q + "sheetData")
    assert data is not None
    found = {str(c.get("r")): c for row in data for c in row}
    for address, value in values.items():
        cell = found.get(address)
        if cell is None:
            cell = _new_cell(data, address)
        for formula in cell.findall(_FORMULA):
            cell.remove(formula)
        _put(cell, value)


def with_values(content: bytes, values: Mapping[str, Value]) -> bytes:
    """Return the part of a sheet with values put into cells; see :func:`put`."""
    root = etree.fromstring(content)
    put(root, values)
    return written(root)


def _put(cell: etree._Element, value: Value) -> None:
    if len(cell):
        for old in [*cell.findall(_VALUE), *cell.findall(_INLINE)]:
            cell.remove(old)
    cell.attrib.pop("t", "")
    if value is None:
        return
    if isinstance(value, bool):
        kind, text = "b", "1" if value else "0"
    elif isinstance(value, CellError):
        kind, text = "e", str(value)
    elif isinstance(value, str):
        kind, text = "str", _UNSAFE.sub(lambda m: f"_x{ord(m[0]):04X}_", value)
    else:
        kind, text = "", _number(float(value))
    if kind:
        cell.set("t", kind)
    entry = etree.SubElement(cell, _VALUE)
    entry.text = text
    if text != text.strip() or "\n" in text:
        entry.set(_SPACE, "preserve")


def _number(value: float) -> str:
    if not math.isfinite(value):
        raise ValueError("a cell cannot hold a number that is not finite")
    return repr(int(value)) if value == int(value) and abs(value) < 1e15 else repr(value)
