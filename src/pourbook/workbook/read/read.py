"""Reads every formula and stored value of a workbook in one pass over its XML.

Contract: :func:`read_book` gives the cells of every sheet as they stand in the file, and the marks
Pourbook left in it. It computes nothing and changes nothing.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import field
from functools import lru_cache
from pathlib import Path

from pourbook.cells import Value
from pourbook.errors import FileUnreadableError
from pourbook.formats.bounded import bounded
from pourbook.formats.held import WORK, unfinished
from pourbook.formats.ooxml import contents, package
from pourbook.formats.ooxml.addresses import cells as range_cells
from pourbook.formats.ooxml.contents import Odd
from pourbook.formats.ooxml.lines import SheetCells
from pourbook.hosts.excel import basic, ribbon
from pourbook.records import dataclass
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
)
from pourbook.workbook.read.copy_note import job_named
from pourbook.workbook.read.drawings import OnSheet, charts_of, overlays
from pourbook.workbook.read.settings import SheetEntry
from pourbook.workbook.read.sheet_lines import RawCell, sheet_lines, texts_of
from pourbook.workbook.read.sheet_look import SheetLook
from pourbook.workbook.read.visible import Looks, Style, TextRun
from pourbook.workbook.template import released

_Q = "{http://schemas.openxmlformats.org/spreadsheetml/2006/main}"
_PROPERTY = "{http://schemas.openxmlformats.org/officeDocument/2006/custom-properties}property"
_NO_STYLES = f'<styleSheet xmlns="{_Q[1:-1]}"/>'.encode()
MOST_PIECES = 5_000
SHEETS_KEPT = 64
"""Sheets remembered as they were read: those of two workbooks."""
_ANEW = package.SAVE_ANEW
_TEXTS = "xl/sharedStrings.xml"

COPY_MARK = "pourbook copy"
KINDS = {name: f"a {name} workbook" for name in ("job", "shop")}
KINDS |= {"month": "a month's workbook", "board": "a board"}


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

    ``odd`` is what no workbook of ours holds, ``runs`` are parts of texts in a look of their own;
    by the name of a sheet, ``prints`` is its print range and ``drawn`` what is drawn on it.
    """

    path: Path
    sheets: Mapping[str, RawSheet]
    marks: Mapping[str, str] = field(default_factory=dict)
    odd: tuple[Odd, ...] = ()
    looks: Looks = field(default_factory=Looks)
    prints: Mapping[str, str] = field(default_factory=dict)
    drawn: Mapping[str, OnSheet] = field(default_factory=dict)
    runs: tuple[TextRun, ...] = ()

    def style(self, number: int) -> Style:
        """Return a style by its number; a plain one where there is none."""
        styles = self.looks.styles
        return styles[number] if number < len(styles) else Style()

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
    book = package.parse(parts[contents.WORKBOOK], where, _Q + "workbook")
    targets = {
        one.name: one.target
        for one in contents.relations(parts, contents.WORKBOOK, where)
        if one.kind == "worksheet" and not one.outside
    }
    try:
        listed = settings.listed_sheets(book)
        sheets = _sheets(listed, parts, targets)
        looks = _looks(parts.get("xl/styles.xml", _NO_STYLES), parts.get(_theme(parts, where)))
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
        looks,
        settings.print_ranges(book, listed),
        _drawn(listed, parts, targets, sheets, where),
        _runs(parts.get(_TEXTS, b"")),
    )


def _sheets(
    listed: Sequence[SheetEntry], parts: Mapping[str, bytes], targets: Mapping[str, str]
) -> dict[str, RawSheet]:
    """Return the sheets of a workbook by their names, in order.

    Raises:
        FileUnreadableError: One is missing, damaged or far too large; the file is not named.
    """
    shared = parts.get(_TEXTS, b"")
    found: dict[str, RawSheet] = {}
    left = MOST_CELLS
    for one in listed:
        content = parts.get(targets.get(one.led, ""))
        if content is None:
            raise FileUnreadableError(f"the sheet '{one.name}' is missing inside it")
        found[one.name] = _sheet(one.name, one.hidden, content, shared)
        left -= len(found[one.name].cells)
        if left < 0:
            raise FileUnreadableError(TOO_MANY)
    return found


def _drawn(
    listed: Sequence[SheetEntry],
    parts: Mapping[str, bytes],
    targets: Mapping[str, str],
    sheets: Mapping[str, RawSheet],
    where: str,
) -> dict[str, OnSheet]:
    """Return what is drawn on each sheet."""
    found = {}
    for one in listed:
        part, sheet = targets[one.led], sheets[one.name]
        over = overlays(parts, part, sheet.look.sizes, where)
        found[sheet.name] = OnSheet(over, charts_of(parts, part, where))
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
    root = package.parse(content, "", _Q + "sst")
    items = root.findall(_Q + "si")
    if len(items) < sum(1 for _ in root.iter("{*}si")):
        raise FileUnreadableError("texts stand in it where no workbook has them", _ANEW)
    return ["".join(texts_of(item)) for item in items]


@lru_cache(maxsize=4)
def _runs(texts: bytes) -> tuple[TextRun, ...]:
    return tuple(visible.runs(package.parse(texts, ""))) if b"rPr" in texts else ()


@lru_cache(maxsize=4)
def _looks(styles: bytes, theme: bytes | None) -> Looks:
    root = package.parse(styles, "", _Q + "styleSheet")
    return visible.looks(root, package.parse(theme, "") if theme else None)


def _theme(parts: Mapping[str, bytes], where: str) -> str:
    """Return the part that holds the theme, nothing where there is none."""
    led = contents.relations(parts, contents.WORKBOOK, where)
    return next((one.target for one in led if one.kind == "theme"), "")


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
    look, lines = sheet_lines(content, _shared_strings(strings))
    cells = SheetCells(lines)
    if len(cells) < sum(len(line.cells) for line in lines):
        addresses = (address for line in lines for address in line.cells)
        twice = Counter(addresses).most_common(1)[0][0]
        raise FileUnreadableError(f"the cell {twice} stands in it twice", _ANEW)
    return RawSheet(name, hidden, cells, look)


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
