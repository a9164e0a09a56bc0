"""Reads every formula and stored value of a workbook in one pass over its XML.

Contract: :func:`read_book` gives the cells of every sheet as they stand in the file, and the marks
Pourbook left in it. It computes nothing and changes nothing.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from functools import lru_cache
from itertools import groupby, repeat
from operator import attrgetter
from pathlib import Path
from typing import NamedTuple, cast

from lxml import etree

from pourbook.cells import Value
from pourbook.errors import FileUnreadableError
from pourbook.formats.bounded import bounded
from pourbook.formats.held import WORK, unfinished
from pourbook.formats.ooxml import contents, package
from pourbook.formats.ooxml.addresses import a1, split
from pourbook.formats.ooxml.addresses import cells as range_cells
from pourbook.formats.ooxml.contents import Odd
from pourbook.formats.ooxml.lines import SheetCells, SheetLine
from pourbook.hosts.excel import basic, ribbon
from pourbook.units import SYSTEMS
from pourbook.workbook.layout.laid_out import Layout
from pourbook.workbook.layout.lay_out import lay_out
from pourbook.workbook.layout.marks import TEMPLATE
from pourbook.workbook.read import settings, visible
from pourbook.workbook.read.calc_copy import is_calc_copy
from pourbook.workbook.read.cell_parts import (
    COUNT,
    MOST_CELLS,
    TOO_MANY,
    SharedFormulas,
    area_of,
    formula_of,
    value_of,
)
from pourbook.workbook.read.copy_note import job_named
from pourbook.workbook.read.plain_cells import (
    LINES_KEPT,
    NAMED,
    PlainLine,
    WrittenCell,
    plain_cells,
)
from pourbook.workbook.read.visible import SheetLook, Style, sheet_look
from pourbook.workbook.template import released

_Q = "{http://schemas.openxmlformats.org/spreadsheetml/2006/main}"
_FORMULA, _SHOWN, _INLINE = _Q + "f", _Q + "v", _Q + "is"
_PARTS = {_FORMULA, _SHOWN, _INLINE}
_RELATION = "{http://schemas.openxmlformats.org/officeDocument/2006/relationships}id"
_PROPERTY = "{http://schemas.openxmlformats.org/officeDocument/2006/custom-properties}property"
_ROW = re.compile(r"^[0-9]{1,7}$")
MOST_PIECES = 5_000
SHEETS_KEPT = 64
"""Sheets remembered as they were read: those of two workbooks."""
_EVERY_CELL = etree.XPath("count(//*[local-name()='c'])")
_ANEW = package.SAVE_ANEW

COPY_MARK = "pourbook copy"
KINDS = {name: f"a {name} workbook" for name in ("job", "shop")}
KINDS |= {"month": "a month's workbook", "board": "a board"}


class RawCell(NamedTuple):
    """A cell as it stands in the file: its stored value, and its formula if it has one.

    Two that differ in style alone are the same.
    """

    value: Value
    formula: str = ""
    array: str = ""
    style: int = 0

    def __eq__(self, other: object) -> bool:
        """Return whether another cell holds the same."""
        return isinstance(other, RawCell) and self[:3] == other[:3]

    def __hash__(self) -> int:
        """Return the same for two that are the same."""
        return hash(self[:3])


@dataclass(frozen=True, eq=False)
class RawSheet:
    """A sheet as it stands in the file; one that was read before is the same object."""

    name: str
    hidden: bool
    cells: Mapping[str, RawCell]
    look: SheetLook = field(default_factory=SheetLook)

    def value(self, address: str) -> Value:
        """Return the stored value of a cell, None if it is not there."""
        cell = self.cells.get(address)
        return None if cell is None else cell.value


@dataclass(frozen=True)
class RawBook:
    """A workbook as it stands in the file.

    ``odd`` is what no workbook of ours holds, ``prints`` the print range of a sheet by its name.
    """

    path: Path
    sheets: Mapping[str, RawSheet]
    marks: Mapping[str, str] = field(default_factory=dict)
    odd: tuple[Odd, ...] = ()
    styles: tuple[Style, ...] = ()
    prints: Mapping[str, str] = field(default_factory=dict)

    def style(self, number: int) -> Style:
        """Return a style by its number; a plain one where there is none."""
        return self.styles[number] if number < len(self.styles) else Style()

    @property
    def copy_of(self) -> str:
        """Return the name of the job a books copy was made from; nothing for what is no copy."""
        if COPY_MARK not in self.marks:
            return ""
        first = next(iter(self.sheets.values()), None)
        return job_named(cell.value for cell in first.cells.values()) if first else "the job"

    def plan(self, *kinds: str, copy: bool = False) -> Layout:
        """Return the layout this workbook was made from, by the templates of its version.

        Args:
            kinds: The books that will do, of :data:`KINDS`; a job unless named.
            copy: Whether a books copy will do too.

        Raises:
            FileUnreadableError: Pourbook's marks are missing or make no sense, a newer Pourbook
                made it, or it is another kind of workbook.
        """
        book, system = self.marks.get("pourbook book", ""), self.marks.get("pourbook system", "")
        pieces = self.marks.get("pourbook pieces", "")
        known = book in KINDS and system in SYSTEMS and COUNT.match(pieces)
        if self.copy_of and not copy:
            job, name = self.copy_of, self.path.name
            mend = f"name {job}; what was typed here goes there with: pourbook take {name} {job}"
            what = f"this is the books copy of {job}, which pourbook check alone reads"
            raise FileUnreadableError(what, mend, str(self.path))
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
    with bounded(path):
        return _read(path, where)


def _read(path: Path, where: str) -> RawBook:
    parts = package.open_package(path)
    if is_calc_copy(parts):
        what = "Calc saved it past Pourbook, as by Save a Copy or Export: no other program reads it"
        raise FileUnreadableError(what, f"put it right: pourbook recompute {path.name}", where)
    contents.refuse(parts, where)
    book = package.parse(parts[contents.WORKBOOK], where)
    targets = {
        one.name: one.target
        for one in contents.relations(parts, contents.WORKBOOK, where)
        if one.kind == "worksheet" and not one.outside
    }
    try:
        sheets = _sheets(book, parts, targets)
        styles = _styles(parts.get("xl/styles.xml", b"<styleSheet/>"))
    except FileUnreadableError as error:  # what is read by its content alone knows no file
        raise error.at(where) from error.__cause__
    marks = _marks(parts, where)
    version = marks.get(TEMPLATE, released.FIRST)
    odd = [*_macros(contents.projects(parts, where), version), *settings.odd(book)]
    return RawBook(
        path,
        sheets,
        marks,
        (*contents.odd(parts, where, {ribbon.PART: ribbon.content()}), *odd),
        styles,
        settings.print_ranges(book),
    )


def _sheets(
    book: etree._Element, parts: Mapping[str, bytes], targets: Mapping[str, str]
) -> dict[str, RawSheet]:
    """Return the sheets of a workbook by their names, in order.

    Raises:
        FileUnreadableError: One is missing, damaged or far too large; the file is not named.
    """
    shared = parts.get("xl/sharedStrings.xml", b"")
    found: dict[str, RawSheet] = {}
    left = MOST_CELLS
    for entry in book.iter(_Q + "sheet"):
        name = str(entry.get("name"))
        content = parts.get(targets.get(str(entry.get(_RELATION)), ""))
        if content is None:
            raise FileUnreadableError(f"the sheet '{name}' is missing inside it")
        hidden = entry.get("state", "visible") != "visible"
        found[name] = _sheet(name, hidden, content, shared)
        left -= len(found[name].cells)
        if left < 0:
            raise FileUnreadableError(TOO_MANY)
    return found


def _macros(projects: list[bytes], version: str) -> Iterator[Odd]:
    """Give what is odd about the macros of a workbook."""
    for project in projects:
        if len(projects) > 1 or not basic.are_pourbooks(project):
            yield Odd("macros", "the file carries macros")
        elif not basic.are_current(project, version):
            yield Odd("macros.old", "its macros are not those of this Pourbook")
        elif basic.are_compiled(project):
            yield Odd("macros.compiled", "its macros carry code as Excel compiled it")


@lru_cache(maxsize=4)
def _shared_strings(content: bytes) -> list[str]:
    if not content:
        return []
    return ["".join(_texts(item)) for item in package.parse(content, "").findall(_Q + "si")]


def _texts(item: etree._Element) -> list[str]:
    """Return the runs of a text, leaving out the phonetic ones."""
    runs = [item.find(_Q + "t"), *(r.find(_Q + "t") for r in item.findall(_Q + "r"))]
    if any(run is not None and len(run) for run in runs):
        raise FileUnreadableError("a text of it holds what programs read differently", _ANEW)
    return [r.text or "" for r in runs if r is not None]


@lru_cache(maxsize=4)
def _styles(content: bytes) -> tuple[Style, ...]:
    return visible.styles(package.parse(content, ""))


@lru_cache(maxsize=SHEETS_KEPT)
def _sheet(name: str, hidden: bool, content: bytes, strings: bytes) -> RawSheet:
    """Return a sheet: a command reads a file often, and few of its sheets change.

    Args:
        name: Its name.
        hidden: Whether it is hidden.
        content: The part that holds the sheet.
        strings: The part that holds the texts of all sheets.

    Raises:
        FileUnreadableError: The sheet is damaged or far too large; the file is not named.
    """
    root, lines = _held(content, _shared_strings(strings))
    cells = SheetCells(lines)
    if len(cells) < sum(len(line.cells) for line in lines):
        addresses = (address for line in lines for address in line.cells)
        twice = Counter(addresses).most_common(1)[0][0]
        raise FileUnreadableError(f"the cell {twice} stands in it twice", _ANEW)
    return RawSheet(name, hidden, cells, sheet_look(root))


def _held(content: bytes, texts: list[str]) -> tuple[etree._Element, list[SheetLine[RawCell]]]:
    """Return a sheet, as XML, and its rows: the quick way where it is written in the plain way."""
    plain = plain_cells(content)
    if plain is not None:
        if sum(len(line.cells) for line in plain.lines) > MOST_CELLS:
            raise FileUnreadableError(TOO_MANY)
        with suppress(FileUnreadableError):  # the whole part tells better where it is damaged
            root = package.parse(plain.left, "")
            if len(root.findall(_Q + "sheetData")) == 1 and _EVERY_CELL(root) == 0:
                return root, [_known_line(line, texts) for line in plain.lines if line.cells]
    root = package.parse(content, "")
    shared = SharedFormulas()
    rows = groupby(_cells(root), key=attrgetter("row"))
    return root, [
        _line(cells := tuple(row), [value_of(one, texts) for one in cells], shared)
        for _, row in rows
    ]


def _known_line(line: PlainLine, texts: list[str]) -> SheetLine[RawCell]:
    """Return a row of cells; one that holds the same as one before is the same object."""
    if line.named:
        return _same_line(line, tuple([value_of(one, texts) for one in line.named]))
    if line.made is None:
        line.made = _line(line.cells, map(value_of, line.cells, repeat([])), SharedFormulas())
    return cast(SheetLine[RawCell], line.made)


@lru_cache(maxsize=LINES_KEPT)
def _same_line(line: PlainLine, named: tuple[Value, ...]) -> SheetLine[RawCell]:
    """Return a row in which cells name their texts.

    Args:
        line: What is written.
        named: The texts of those cells that name theirs.
    """
    left = iter(named)
    values = [next(left) if one.kind == NAMED else value_of(one, []) for one in line.cells]
    return _line(line.cells, values, SharedFormulas())


def _line(
    cells: Sequence[WrittenCell], values: Iterable[Value], shared: SharedFormulas
) -> SheetLine[RawCell]:
    """Return a row of cells, of which at least one is there.

    Raises:
        FileUnreadableError: A formula is none that a job holds, or a cell is there twice.
    """
    found: dict[str, RawCell] = {}
    for one, value in zip(cells, values, strict=True):
        _, address, style, _, written, *_ = one
        formula = array = ""
        if written is not None:
            formula = formula_of(one, shared)
            array = area_of(one.area) if one.how == "array" else ""
        if value is None and not formula:
            continue
        if address in found:
            raise FileUnreadableError(f"the cell {address} stands in it twice", _ANEW)
        found[address] = RawCell(value, formula, array, _number(style))
    return SheetLine(cells[0].row, found)


@lru_cache(maxsize=1024)
def _number(style: str) -> int:
    """Return the number of a style; that of a plain one for what is none."""
    return int(style) if COUNT.match(style) else 0


def _cells(root: etree._Element) -> Iterator[WrittenCell]:
    """Give every cell that holds something: one without an address comes after the last.

    Raises:
        FileUnreadableError: The cells are not where a sheet has them.
    """
    data = root.findall(_Q + "sheetData")
    cells = 0
    row = column = 0
    for line in data[0].iterchildren(_Q + "row") if len(data) == 1 else ():
        said = line.get("r", "")
        row, column = int(said) if _ROW.match(said) else row + 1, 0
        for cell in line.iterchildren(_Q + "c"):
            cells += 1
            if cells > MOST_CELLS:
                raise FileUnreadableError(TOO_MANY)
            address = cell.get("r") or a1(row, column + 1)
            try:
                at, column = split(address)
            except ValueError as error:
                raise FileUnreadableError(f"it is damaged ({error})") from error
            if at != row:
                raise FileUnreadableError(f"the cell {address} stands in row {row}", _ANEW)
            if len(cell):
                yield _one_cell(cell, row, address)
    if len(data) != 1 or _EVERY_CELL(root) != cells:
        raise FileUnreadableError("cells stand in it where no sheet has them", _ANEW)


def _one_cell(cell: etree._Element, row: int, address: str) -> WrittenCell:
    """Return a cell: its formula, value and own text, each a bare text, as all programs read it.

    Raises:
        FileUnreadableError: One is there twice, or something else stands inside it.
    """
    parts: dict[str, etree._Element] = {}
    for child in cell:
        tag = child.tag
        if tag not in _PARTS:
            continue
        if tag in parts or (len(child) and tag != _INLINE):
            what = f"the cell {cell.get('r')} holds what programs read differently"
            raise FileUnreadableError(what, _ANEW)
        parts[tag] = child
    entry, shown, inline = (parts.get(tag) for tag in (_FORMULA, _SHOWN, _INLINE))
    held = WrittenCell(
        row,
        address,
        cell.get("s", "0"),
        cell.get("t", "n"),
        value=None if shown is None else shown.text or "",
        text=None if inline is None else "".join(_texts(inline)),
    )
    if entry is None:
        return held
    how, area, group = entry.get("t", ""), entry.get("ref", ""), entry.get("si", "None")
    return held._replace(formula=entry.text or "", how=how, area=area, group=group)


def _marks(parts: Mapping[str, bytes], where: str) -> dict[str, str]:
    content = parts.get("docProps/custom.xml")
    if content is None:
        return {}
    root = package.parse(content, where)
    return {
        str(p.get("name")): "".join(str(t) for t in p.itertext()).strip()
        for p in root.iter(_PROPERTY)
    }


def formula_cells(book: RawBook) -> Iterator[tuple[str, str]]:
    """Give every cell a formula fills, array blocks included, by sheet and address."""
    for sheet in book.sheets.values():
        found: dict[str, None] = {}
        for address, cell in sheet.cells.items():
            if cell.formula:
                found.update(dict.fromkeys(range_cells(cell.array or address)))
        yield from ((sheet.name, address) for address in found)
