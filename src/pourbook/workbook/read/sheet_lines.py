"""Reads the rows of a sheet from its part, the quick way or as XML.

Contract: :func:`sheet_lines` gives the same either way. A row that holds the same as one before is
the same object.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from contextlib import suppress
from functools import lru_cache
from itertools import groupby
from operator import attrgetter
from typing import NamedTuple

from lxml import etree

from pourbook.cells import Value
from pourbook.errors import FileUnreadableError
from pourbook.formats.ooxml import package
from pourbook.formats.ooxml.addresses import a1, split
from pourbook.formats.ooxml.lines import LineShape, SheetLine
from pourbook.workbook.read.cell_parts import (
    COUNT,
    MOST_CELLS,
    TOO_MANY,
    SharedFormulas,
    area_of,
    formula_of,
    meaning,
    value_of,
)
from pourbook.workbook.read.plain_cells import (
    NAMED,
    PlainLine,
    RowForm,
    WrittenCell,
    new_tuple,
    plain_cells,
)
from pourbook.workbook.read.sheet_look import SheetLook, sheet_look

_Q = "{http://schemas.openxmlformats.org/spreadsheetml/2006/main}"
_FORMULA, _SHOWN, _INLINE = _Q + "f", _Q + "v", _Q + "is"
_PARTS, _LATER = {_FORMULA, _SHOWN, _INLINE}, _Q + "extLst"
_TEXT, _RUN = _Q + "t", _Q + "r"
_HELD = {_TEXT, _RUN, _Q + "rPh", _Q + "phoneticPr", _LATER}
_IN_RUN = {_TEXT, _Q + "rPr"}
"""What a text and a part of it may hold."""
_ROW = re.compile(r"^[0-9]{1,7}$")
_EVERY_CELL = etree.XPath("count(//*[local-name()='c'])")
_ANEW = package.SAVE_ANEW


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


def sheet_lines(content: bytes, texts: list[str]) -> tuple[SheetLook, list[SheetLine[RawCell]]]:
    """Return how a sheet looks, and its rows.

    Args:
        content: The part that holds the sheet.
        texts: The texts of all sheets, which cells name by number.

    Raises:
        FileUnreadableError: The sheet is damaged or far too large; the file is not named.
    """
    look, lines = _either_way(content, texts)
    found, left = [], MOST_CELLS
    for line in lines:
        found.append(line)
        left -= len(line.cells)
        if left < 0:
            raise FileUnreadableError(TOO_MANY)
    return look, found


def _either_way(content: bytes, texts: list[str]) -> tuple[SheetLook, Iterator[SheetLine[RawCell]]]:
    """Return how a sheet looks, and give its rows: quickly where it is written plainly."""
    plain = plain_cells(content)
    look = None if plain is None else _look_of_rest(plain.left)
    if plain is not None and look is not None:
        return look, (_known_line(line, texts) for line in plain.lines if line.form.cells)
    root = package.parse(content, "", _Q + "worksheet")
    shared = SharedFormulas()
    rows = groupby(_cells(root), key=attrgetter("row"))
    return sheet_look(root), (
        _line(cells := tuple(row), [value_of(one, texts) for one in cells], shared)
        for _, row in rows
    )


@lru_cache(maxsize=128)
def _look_of_rest(content: bytes) -> SheetLook | None:
    """Return how a sheet looks by all of it but its cells; nothing if more is left than that."""
    with suppress(FileUnreadableError):  # the whole part tells better where it is damaged
        root = package.parse(content, "")
        if len(root.findall(_Q + "sheetData")) == 1 and _EVERY_CELL(root) == 0:
            return sheet_look(root)
    return None


def _known_line(line: PlainLine, texts: list[str]) -> SheetLine[RawCell]:
    """Return a row of cells; one that holds the same as one before is the same object."""
    form = line.form
    if form.open:
        names = _read(form).named
        named = tuple([meaning(NAMED, line.values[at], None, texts) for at in names])
    else:
        named = tuple([value_of(form.cells[at], texts) for at in form.named])
    if line.made is None or line.made[0] != named:
        line.made = named, _made(line, named)
    made: SheetLine[RawCell] = line.made[1]
    return made


def _made(line: PlainLine, named: Sequence[Value]) -> SheetLine[RawCell]:
    """Return a row of cells, some of which name texts."""
    form = line.form
    if form.open:
        return _read(form).filled(line.values, named)
    left = iter(named)
    values = (next(left) if one.kind == NAMED else value_of(one, []) for one in form.cells)
    return _line(form.cells, values, SharedFormulas())


class _Form:
    """What rows of one form are made from: each cell without its value, and how to read that."""

    def __init__(self, form: RowForm) -> None:
        """Read a form.

        Raises:
            FileUnreadableError: A formula of it is none that a job holds.
        """
        self.number = form.cells[0].row
        held = _line(form.cells, [""] * len(form.cells), SharedFormulas())
        self.shape = LineShape(held.cells)
        told = list(zip(form.cells, form.open, strict=True))
        kinds = [one.kind for one, own in told if own]
        self.named = [at for at, kind in enumerate(kinds) if kind == NAMED]
        self.told = [
            (address, *bare[1:], one.kind if own else "", None if own else value_of(one, []))
            for (one, own), (address, bare) in zip(told, self.shape.cells.items(), strict=True)
        ]

    def filled(self, values: Sequence[str], named: Sequence[Value]) -> SheetLine[RawCell]:
        """Return a row of the form, by the values of its own and the texts some of them name."""
        found: dict[str, RawCell] = {}
        left, texts = iter(values), iter(named)
        for address, formula, array, style, own, fixed in self.told:
            value = fixed
            if own:
                shown = next(left)
                value = next(texts) if own == NAMED else meaning(own, shown, None, ())
            if value is not None or formula:
                found[address] = new_tuple(RawCell, (value, formula, array, style))
        return SheetLine(self.number, found, self.shape)


def _read(form: RowForm) -> _Form:
    """Return what rows of a form are made from; it is read once."""
    if form.made is None:
        form.made = _Form(form)
    made: _Form = form.made
    return made


def _line(
    cells: Sequence[WrittenCell], values: Iterable[Value], shared: SharedFormulas
) -> SheetLine[RawCell]:
    """Return a row of cells, of which at least one is there.

    Raises:
        FileUnreadableError: A formula is none that a job holds, or a cell is there twice.
    """
    found: dict[str, RawCell] = {}
    for one, value in zip(cells, values, strict=True):
        address, style, written = one[1], one[2], one[4]
        formula = array = ""
        if written is not None:
            formula = formula_of(one, shared)
            array = area_of(one.area) if one.how == "array" else ""
        if value is None and not formula:
            continue
        if address in found:
            raise FileUnreadableError(f"the cell {address} stands in it twice", _ANEW)
        found[address] = new_tuple(RawCell, (value, formula, array, _number(style)))
    return SheetLine(cells[0].row, found)


@lru_cache(maxsize=1024)
def _number(style: str) -> int:
    """Return the number of a style.

    Raises:
        FileUnreadableError: It is none.
    """
    if not COUNT.fullmatch(style):
        raise FileUnreadableError("a cell of it names its look as no program does", _ANEW)
    return int(style)


def _cells(root: etree._Element) -> Iterator[WrittenCell]:
    """Give every cell that holds something: one without an address comes after the last.

    Raises:
        FileUnreadableError: The cells are not where a sheet has them.
    """
    data = root.findall(_Q + "sheetData")
    cells = 0
    row = column = 0
    for line in data[0].iterchildren(_Q + "row") if len(data) == 1 else ():
        said = line.get("r")
        if said is not None and not _ROW.fullmatch(said):
            raise FileUnreadableError(f"it is damaged ('{said}' is no row)", _ANEW)
        row, column = row + 1 if said is None else int(said), 0
        for cell in line.iterchildren(_Q + "c"):
            cells += 1
            address = cell.get("r", a1(row, column + 1))
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
        if tag == _LATER or not isinstance(tag, str):
            continue
        if tag not in _PARTS or tag in parts or (len(child) and tag != _INLINE):
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
        text=None if inline is None else "".join(texts_of(inline)),
    )
    if entry is None:
        return held
    how, area, group = entry.get("t", ""), entry.get("ref", ""), entry.get("si", "None")
    return held._replace(formula=entry.text or "", how=how, area=area, group=group)


def texts_of(item: etree._Element) -> list[str]:
    """Return the runs of a text, leaving out the phonetic ones.

    Raises:
        FileUnreadableError: It is not written as a text is.
    """
    held = [one for one in item if isinstance(one.tag, str)]
    parted = [run for one in held if one.tag == _RUN for run in one if isinstance(run.tag, str)]
    runs = [one for one in (*held, *parted) if one.tag == _TEXT]
    owners = {run.getparent() for run in runs}
    if (
        not {one.tag for one in held} <= _HELD
        or not {one.tag for one in parted} <= _IN_RUN
        or len(owners) < len(runs)
        or (item in owners and len(runs) > 1)
        or any(len(run) for run in runs)
    ):
        raise FileUnreadableError("a text of it holds what programs read differently", _ANEW)
    return [run.text or "" for run in runs]
