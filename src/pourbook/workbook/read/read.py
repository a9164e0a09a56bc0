"""Reads every formula and stored value of a workbook in one pass over its XML.

Contract: :func:`read_book` gives the cells of every sheet as they stand in the file, and the marks
Pourbook left in it. It computes nothing and changes nothing.
"""

from __future__ import annotations

import posixpath
import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import lru_cache
from pathlib import Path

from lxml import etree
from openpyxl.formula.translate import Translator

from pourbook.cells import CellError, Value
from pourbook.errors import FileUnreadableError
from pourbook.formats.held import WORK, unfinished
from pourbook.formats.ooxml import package
from pourbook.formats.ooxml.addresses import cells as range_cells
from pourbook.formats.ooxml.addresses import split
from pourbook.hosts.excel import basic
from pourbook.units import SYSTEMS
from pourbook.workbook.layout.laid_out import Layout
from pourbook.workbook.layout.lay_out import lay_out
from pourbook.workbook.layout.marks import TEMPLATE
from pourbook.workbook.read.calc_copy import is_calc_copy
from pourbook.workbook.template import released

_Q = "{http://schemas.openxmlformats.org/spreadsheetml/2006/main}"
_RELATION = "{http://schemas.openxmlformats.org/officeDocument/2006/relationships}id"
_PROPERTY = "{http://schemas.openxmlformats.org/officeDocument/2006/custom-properties}property"
_COUNT = re.compile(r"^[0-9]{1,6}$")
MOST_CELLS = 1_000_000
MOST_PIECES = 5_000
SHEETS_KEPT = 64
"""Sheets remembered as they were read: those of two workbooks."""
_TOO_MANY = "it has far more cells than a job workbook"
COPY_MARK = "pourbook copy"
KINDS = {"job": "a job workbook", "shop": "a shop workbook", "month": "a month's workbook"}


@dataclass(frozen=True)
class RawCell:
    """A cell as it stands in the file: its stored value, and its formula if it has one."""

    value: Value
    formula: str = ""
    array: str = ""


@dataclass(frozen=True)
class RawSheet:
    """A sheet as it stands in the file."""

    name: str
    hidden: bool
    cells: Mapping[str, RawCell]

    def value(self, address: str) -> Value:
        """Return the stored value of a cell, None if it is not there."""
        cell = self.cells.get(address)
        return None if cell is None else cell.value


@dataclass(frozen=True)
class RawBook:
    """A workbook as it stands in the file.

    ``has_macros``: macros that are not Pourbook's. ``has_old_macros``: Pourbook's, but not the ones
    of this version.
    """

    path: Path
    sheets: Mapping[str, RawSheet]
    marks: Mapping[str, str] = field(default_factory=dict)
    has_macros: bool = False
    has_old_macros: bool = False
    has_links: bool = False

    def plan(self, *kinds: str) -> Layout:
        """Return the layout this workbook was made from, by the templates of its version.

        Args:
            kinds: The books that will do, of :data:`KINDS`; a job unless named.

        Raises:
            FileUnreadableError: Pourbook's marks are missing or make no sense, a newer Pourbook
                made it, or it is another kind of workbook.
        """
        book, system = self.marks.get("pourbook book", ""), self.marks.get("pourbook system", "")
        pieces = self.marks.get("pourbook pieces", "")
        known = book in KINDS and system in SYSTEMS and _COUNT.match(pieces)
        if COPY_MARK in self.marks:
            mend = "take the job it was made from; its first sheet says which"
            raise FileUnreadableError("this is a books copy, not a job", mend, str(self.path))
        if not known or not 1 <= int(pieces) <= MOST_PIECES:
            mend = "make one with: pourbook new JOB.xlsx"
            raise FileUnreadableError("Pourbook did not make this workbook", mend, str(self.path))
        if book not in (kinds or ("job",)):
            wanted = " or ".join(KINDS[kind] for kind in kinds or ["job"])
            mend = f"name {wanted}"
            raise FileUnreadableError(f"this is {KINDS[book]}", mend, str(self.path))
        version = self.marks.get(TEMPLATE, released.FIRST)
        if not released.is_known(version):
            mend = "install the newest Pourbook on this PC, then try again"
            what = "a newer Pourbook made this workbook"
            raise FileUnreadableError(what, mend, str(self.path))
        return lay_out(book, system, int(pieces), version)


def read_book(path: Path) -> RawBook:
    """Read a workbook.

    Raises:
        FileUnreadableError: It is what a command that was ended left, or see
            :func:`pourbook.formats.ooxml.package.open_package`.
    """
    where = str(path)
    if unfinished(path):
        mend = f"take the file beside the folder {WORK}; the next command there removes this one"
        raise FileUnreadableError("a command that was ended left this unfinished", mend, where)
    parts = package.open_package(path)
    if is_calc_copy(parts):
        what = "Calc saved it past Pourbook, as by Save a Copy or Export: no other program reads it"
        raise FileUnreadableError(what, f"put it right: pourbook recompute {path.name}", where)
    book = package.parse(parts["xl/workbook.xml"], where)
    relations = package.parse(parts.get("xl/_rels/workbook.xml.rels", b"<r/>"), where)
    targets = {
        str(r.get("Id")): posixpath.normpath(posixpath.join("/xl", r.get("Target", ""))).lstrip("/")
        for r in relations.iter("{*}Relationship")
    }
    shared = parts.get("xl/sharedStrings.xml", b"")
    sheets: dict[str, RawSheet] = {}
    left = MOST_CELLS
    for entry in book.iter(_Q + "sheet"):
        name = str(entry.get("name"))
        content = parts.get(targets.get(str(entry.get(_RELATION)), ""))
        if content is None:
            raise FileUnreadableError(f"the sheet '{name}' is missing inside it", "", where)
        try:
            found = _cells(content, shared)
        except FileUnreadableError as error:
            raise error.at(where) from error.__cause__
        left -= len(found)
        if left < 0:
            raise FileUnreadableError(_TOO_MANY, "", where)
        hidden = entry.get("state", "visible") != "visible"
        sheets[name] = RawSheet(name, hidden, found)
    projects = [content for name, content in parts.items() if name.endswith("vbaProject.bin")]
    marks = _marks(parts, where)
    version = marks.get(TEMPLATE, released.FIRST)
    return RawBook(
        path,
        sheets,
        marks,
        has_macros=any(not basic.are_pourbooks(p) for p in projects),
        has_old_macros=any(
            basic.are_pourbooks(p) and not basic.are_current(p, version) for p in projects
        ),
        has_links=any(p.startswith("xl/externalLinks/") for p in parts),
    )


@lru_cache(maxsize=4)
def _shared_strings(content: bytes) -> list[str]:
    if not content:
        return []
    return ["".join(_texts(item)) for item in package.parse(content, "").findall(_Q + "si")]


def _texts(item: etree._Element) -> list[str]:
    """Return the runs of a text, leaving out the phonetic ones."""
    runs = [item.find(_Q + "t"), *(r.find(_Q + "t") for r in item.findall(_Q + "r"))]
    return [r.text or "" for r in runs if r is not None]


@lru_cache(maxsize=SHEETS_KEPT)
def _cells(content: bytes, strings: bytes) -> Mapping[str, RawCell]:
    """Return the cells of a sheet: a command reads a file several times, and few sheets change.

    Args:
        content: The part that holds the sheet.
        strings: The part that holds the texts of all sheets.

    Raises:
        FileUnreadableError: The sheet is damaged or far too large; the file is not named.
    """
    shared = _shared_strings(strings)
    found: dict[str, RawCell] = {}
    masters: dict[str, tuple[str, str]] = {}
    for cell in package.parse(content, "").iter(_Q + "c"):
        address = cell.get("r")
        if address is None or not len(cell):
            continue  # it has a style alone
        try:
            split(address)
        except ValueError as error:
            raise FileUnreadableError(f"it is damaged ({error})") from error
        entry = cell.find(_Q + "f")
        formula, array = ("", "") if entry is None else _formula(entry, address, masters)
        value = _value(cell, shared)
        if value is None and not formula:
            continue
        if len(found) >= MOST_CELLS:
            raise FileUnreadableError(_TOO_MANY)
        found[address] = RawCell(value, formula, _checked_area(array))
    return found


def _checked_area(area: str) -> str:
    """Return the range of an array formula; one that no job holds is refused."""
    if not area:
        return ""
    first, _, last = area.partition(":")
    try:
        (row_1, column_1), (row_2, column_2) = split(first), split(last or first)
    except ValueError as error:
        raise FileUnreadableError(f"it is damaged ({error})") from error
    if not 0 < (row_2 - row_1 + 1) * (column_2 - column_1 + 1) <= MOST_CELLS:
        raise FileUnreadableError(f"an array formula fills {area}")
    return first if first == last else area  # LibreOffice writes B3:B3


def _formula(
    entry: etree._Element, address: str, masters: dict[str, tuple[str, str]]
) -> tuple[str, str]:
    text = "=" + entry.text if entry.text else ""
    kind = entry.get("t")
    if kind == "shared":
        group = str(entry.get("si"))
        if text:
            masters[group] = (text, address)
        elif group in masters:
            master, origin = masters[group]
            text = Translator(master, origin=origin).translate_formula(address)
    return text, str(entry.get("ref", "")) if kind == "array" else ""


def _value(cell: etree._Element, shared: list[str]) -> Value:
    kind = cell.get("t", "n")
    if kind == "inlineStr":
        inline = cell.find(_Q + "is")
        return "".join(_texts(inline)) if inline is not None else None
    entry = cell.find(_Q + "v")
    if entry is None or entry.text is None:
        return "" if kind == "str" and entry is not None else None
    text = entry.text
    if kind == "s":
        index = int(text) if _COUNT.match(text) else -1
        return shared[index] if 0 <= index < len(shared) else None
    if kind == "b":
        return text == "1"
    if kind == "e":
        return CellError(text)
    if kind in {"str", "d"}:
        return text
    try:
        return float(text)
    except ValueError:
        return text


def _marks(parts: Mapping[str, bytes], where: str) -> dict[str, str]:
    content = parts.get("docProps/custom.xml")
    if content is None:
        return {}
    root = package.parse(content, where)
    return {
        str(p.get("name")): "".join(str(t) for t in p.itertext()).strip()
        for p in root.iter(_PROPERTY)
    }


def formula_cells(book: RawBook) -> list[tuple[str, str]]:
    """Return every cell a formula fills, array blocks included, by sheet and address."""
    found: list[tuple[str, str]] = []
    for sheet in book.sheets.values():
        for address, cell in sheet.cells.items():
            if not cell.formula:
                continue
            block = range_cells(cell.array) if cell.array else [address]
            found += [(sheet.name, one) for one in block]
    return list(dict.fromkeys(found))
