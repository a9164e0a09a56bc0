"""Reads every formula and stored value of a workbook in one pass over its XML.

Contract: :func:`read_book` gives the cells of every sheet as they stand in the file, and the marks
Pourbook left in it. It computes nothing and changes nothing.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from functools import lru_cache
from pathlib import Path

from lxml import etree

from pourbook.cells import CellError, Value
from pourbook.errors import FileUnreadableError
from pourbook.formats.bounded import bounded
from pourbook.formats.held import WORK, unfinished
from pourbook.formats.ooxml import contents, package
from pourbook.formats.ooxml.addresses import a1, split
from pourbook.formats.ooxml.addresses import cells as range_cells
from pourbook.formats.ooxml.contents import Odd
from pourbook.hosts.excel import basic, ribbon
from pourbook.units import SYSTEMS
from pourbook.workbook.layout.laid_out import Layout
from pourbook.workbook.layout.lay_out import lay_out
from pourbook.workbook.layout.marks import TEMPLATE
from pourbook.workbook.read import settings, visible
from pourbook.workbook.read.calc_copy import is_calc_copy
from pourbook.workbook.read.copy_note import job_named
from pourbook.workbook.read.visible import SheetLook, Style, sheet_look
from pourbook.workbook.template import released

_Q = "{http://schemas.openxmlformats.org/spreadsheetml/2006/main}"
_FORMULA, _SHOWN, _INLINE = _Q + "f", _Q + "v", _Q + "is"
_RELATION = "{http://schemas.openxmlformats.org/officeDocument/2006/relationships}id"
_PROPERTY = "{http://schemas.openxmlformats.org/officeDocument/2006/custom-properties}property"
_COUNT = re.compile(r"^[0-9]{1,6}$")
_ROW = re.compile(r"^[0-9]{1,7}$")
MOST_CELLS = 1_000_000
MOST_PIECES = 5_000
MOST_SHARED = 5_000_000
LONGEST_FORMULA, DEEPEST = 8_192, 64
"""What spreadsheet programs allow: letters, brackets in brackets; all letters of shared ones."""
SHEETS_KEPT = 64
"""Sheets remembered as they were read: those of two workbooks."""
_EVERY_CELL = etree.XPath("count(//*[local-name()='c'])")
_QUOTED = re.compile(r'"[^"]*"')
_ANEW = package.SAVE_ANEW
_TOO_MANY = "it has far more cells than a job workbook"
COPY_MARK = "pourbook copy"
KINDS = {name: f"a {name} workbook" for name in ("job", "shop")}
KINDS |= {"month": "a month's workbook", "board": "a board"}


@dataclass(frozen=True)
class RawCell:
    """A cell as it stands in the file: its stored value, and its formula if it has one."""

    value: Value
    formula: str = ""
    array: str = ""
    style: int = field(default=0, compare=False)


@dataclass(frozen=True)
class RawSheet:
    """A sheet as it stands in the file."""

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
        known = book in KINDS and system in SYSTEMS and _COUNT.match(pieces)
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
    shared = parts.get("xl/sharedStrings.xml", b"")
    sheets: dict[str, RawSheet] = {}
    left = MOST_CELLS
    for entry in book.iter(_Q + "sheet"):
        name = str(entry.get("name"))
        content = parts.get(targets.get(str(entry.get(_RELATION)), ""))
        if content is None:
            raise FileUnreadableError(f"the sheet '{name}' is missing inside it", "", where)
        try:
            found, look = _cells(content, shared)
        except FileUnreadableError as error:
            raise error.at(where) from error.__cause__
        left -= len(found)
        if left < 0:
            raise FileUnreadableError(_TOO_MANY, "", where)
        hidden = entry.get("state", "visible") != "visible"
        sheets[name] = RawSheet(name, hidden, found, look)
    marks = _marks(parts, where)
    version = marks.get(TEMPLATE, released.FIRST)
    odd = [*_macros(contents.projects(parts, where), version), *settings.odd(book)]
    return RawBook(
        path,
        sheets,
        marks,
        (*contents.odd(parts, where, {ribbon.PART: ribbon.content()}), *odd),
        _styles(parts.get("xl/styles.xml", b"<styleSheet/>"), where),
        settings.print_ranges(book),
    )


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
def _styles(content: bytes, where: str) -> tuple[Style, ...]:
    return visible.styles(package.parse(content, where))


@lru_cache(maxsize=SHEETS_KEPT)
def _cells(content: bytes, strings: bytes) -> tuple[Mapping[str, RawCell], SheetLook]:
    """Return the cells of a sheet, and its look: a command reads a file often, and few change.

    Args:
        content: The part that holds the sheet.
        strings: The part that holds the texts of all sheets.

    Raises:
        FileUnreadableError: The sheet is damaged or far too large; the file is not named.
    """
    shared = _shared_strings(strings)
    found: dict[str, RawCell] = {}
    masters = _Shared()
    styles: dict[str, int] = {}
    root = package.parse(content, "")
    for address, cell in _places(root):
        entry, shown, inline = _held(cell)
        formula, array = ("", "") if entry is None else _formula(entry, address, masters)
        value = _value(cell.get("t", "n"), shown, inline, shared)
        if value is None and not formula:
            continue
        if address in found:
            raise FileUnreadableError(f"the cell {address} stands in it twice", package.SAVE_ANEW)
        style = cell.get("s", "0")
        if style not in styles:
            styles[style] = int(style) if _COUNT.match(style) else 0
        found[address] = RawCell(value, formula, array and _checked_area(array), styles[style])
        if len(found) > MOST_CELLS:
            raise FileUnreadableError(_TOO_MANY)
    return found, sheet_look(root)


def _places(root: etree._Element) -> Iterator[tuple[str, etree._Element]]:
    """Give every cell that holds something, with its address: one without comes after the last.

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
            address = cell.get("r")
            try:
                at = (row, column + 1) if address is None else split(address)
            except ValueError as error:
                raise FileUnreadableError(f"it is damaged ({error})") from error
            column = at[1]
            if at[0] != row:
                raise FileUnreadableError(f"the cell {address} stands in row {row}", _ANEW)
            if len(cell):
                yield address or a1(*at), cell
    if len(data) != 1 or _EVERY_CELL(root) != cells:
        raise FileUnreadableError("cells stand in it where no sheet has them", _ANEW)


_Part = etree._Element | None


def _held(cell: etree._Element) -> tuple[_Part, _Part, _Part]:
    """Return the formula of a cell, its value and its own text: each a bare text, as all read it.

    Raises:
        FileUnreadableError: One is there twice, or something else stands inside it.
    """
    formula = shown = inline = None
    for child in cell:
        tag, old = child.tag, None
        if tag == _SHOWN:
            old, shown = shown, child
        elif tag == _FORMULA:
            old, formula = formula, child
        elif tag == _INLINE:
            old, inline = inline, child
        else:
            continue
        if old is not None or (len(child) and tag != _INLINE):
            where = cell.get("r")
            raise FileUnreadableError(
                f"the cell {where} holds what programs read differently", _ANEW
            )
    return formula, shown, inline


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


@dataclass
class _Shared:
    """Formulas many cells share: the first cell of each, and how much was written out."""

    masters: dict[str, tuple[str, str]] = field(default_factory=dict)
    letters: int = 0


def _formula(entry: etree._Element, address: str, shared: _Shared) -> tuple[str, str]:
    text = "=" + entry.text if entry.text else ""
    kind = entry.get("t")
    if kind == "shared":
        group = str(entry.get("si"))
        if text:
            shared.masters[group] = (text, address)
        elif group in shared.masters:
            master, origin = shared.masters[group]
            shared.letters += len(master)
            if shared.letters > MOST_SHARED:
                raise FileUnreadableError(_TOO_MANY)
            _refuse_deep(master, address)
            from openpyxl.formula.translate import Translator  # noqa: PLC0415 - 0.1 s, seldom wanted

            try:
                text = Translator(master, origin=origin).translate_formula(address)
            except Exception as error:
                what = f"the formula of {address} cannot be read"
                raise FileUnreadableError(what, _ANEW) from error
    _refuse_deep(text, address)
    return text, str(entry.get("ref", "")) if kind == "array" else ""


def _refuse_deep(text: str, address: str) -> None:
    """Refuse a formula longer or deeper than spreadsheet programs allow."""
    if len(text) > LONGEST_FORMULA:
        raise FileUnreadableError(f"the formula of {address} is longer than any may be", _ANEW)
    if text.count("(") > DEEPEST:
        deep = deepest = 0
        for letter in _QUOTED.sub("", text):
            deep += (letter in "({") - (letter in ")}")
            deepest = max(deepest, deep)
        if deepest > DEEPEST:
            raise FileUnreadableError(f"the formula of {address} is deeper than any may be", _ANEW)


def _value(kind: str, entry: _Part, inline: _Part, shared: list[str]) -> Value:
    if kind == "inlineStr":
        return "".join(_texts(inline)) if inline is not None else None
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


def formula_cells(book: RawBook) -> Iterator[tuple[str, str]]:
    """Give every cell a formula fills, array blocks included, by sheet and address."""
    for sheet in book.sheets.values():
        found: dict[str, None] = {}
        for address, cell in sheet.cells.items():
            if cell.formula:
                found.update(dict.fromkeys(range_cells(cell.array or address)))
        yield from ((sheet.name, address) for address in found)
