"""Has the fast engine work a workbook out in two turns: the blocks of functions, then the rest.

formualizer marks everything that rests on a block as changed once for each cell the block fills,
which takes three times as long as the formulas themselves. So the blocks stand first, with only
the formulas that they read, directly or through others, and all other formulas are set when every
block has its values. Which formulas a block reads is told by their references; a block that reads
others all the same would be worked out again in the second turn, which the engine sees.

Contract: :func:`in_turns` reads a file and changes nothing in it. Stored values of blocks and of
the formulas that wait are left out: a block cannot fill a cell that holds a value.
"""

from __future__ import annotations

import io
import zipfile
from collections import defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import field
from pathlib import Path

from lxml import etree

from pourbook.formats.ooxml.addresses import Spot, by_sheet, split, spots_named
from pourbook.formats.ooxml.addresses import cells as block_cells
from pourbook.formats.ooxml.copying import copied
from pourbook.formats.ooxml.rewrite import sheet_parts, written
from pourbook.hosts.headless.handed import BlockCall
from pourbook.hosts.headless.rounds import is_large
from pourbook.records import dataclass

_MAIN = "{http://schemas.openxmlformats.org/spreadsheetml/2006/main}"
_CELL, _FORMULA = _MAIN + "c", _MAIN + "f"


@dataclass(frozen=True)
class Run:
    """Formulas that stand beside each other in one row, with their equals signs."""

    sheet: str
    row: int
    column: int
    formulas: tuple[str, ...]


@dataclass(frozen=True)
class Turns:
    """A workbook without the formulas that wait, and those formulas; ``file`` is as it was read.

    ``large`` says that a block of it is larger than the engine spills.
    """

    file: bytes
    first: bytes
    rest: tuple[Run, ...]
    large: bool = False

    def in_one(self) -> Turns:
        """Return all of the workbook in one turn."""
        roots, _ = _opened(self.file)
        return Turns(self.file, _package(self.file, roots), ())

    def without_blocks(self) -> tuple[bytes, tuple[BlockCall, ...]]:
        """Return the workbook without the formulas of its blocks, and those."""
        roots, found = _opened(self.file)
        for root in roots.values():
            for formula in list(root.iter(_FORMULA)):
                cell = formula.getparent()
                if cell is not None and _is_block(formula, cell):
                    cell.remove(formula)
        return _package(self.file, roots), tuple(found.blocks)


@dataclass
class _Formulas:
    """The formulas of a workbook by where they stand; ``waiting`` are cells that can wait.

    A formula that is odd in any way stays where it is, for the engine to make of it what it does.
    """

    blocks: list[BlockCall] = field(default_factory=list)
    words: dict[Spot, str] = field(default_factory=dict)
    waiting: dict[Spot, etree._Element] = field(default_factory=dict)


def in_turns(path: Path) -> Turns:
    """Return a workbook in two turns; one without a block of functions has no second turn."""
    file = path.read_bytes()
    roots, found = _opened(file)
    read = _read_by_blocks(found)
    waiting = {spot: cell for spot, cell in found.waiting.items() if spot not in read}
    if not found.blocks:
        waiting = {}
    for cell in waiting.values():
        del cell[:]
        cell.attrib.pop("t", "")
    runs = tuple(_runs({spot: found.words[spot] for spot in waiting}))
    large = any(is_large(block) for block in found.blocks)
    return Turns(file, _package(file, roots), runs, large)


def _opened(file: bytes) -> tuple[dict[str, etree._Element], _Formulas]:
    """Return the sheets that hold formulas, their blocks emptied, and the formulas."""
    found = _Formulas()
    roots: dict[str, etree._Element] = {}
    names = sheet_parts(io.BytesIO(file))
    with zipfile.ZipFile(io.BytesIO(file)) as package:
        for part, sheet in names.items():
            content = package.read(part)
            if b"<f" in content or b":f" in content:
                parser = etree.XMLParser(resolve_entities=False, no_network=True)
                roots[part] = etree.fromstring(content, parser)
                _gather(roots[part], sheet, found)
    return roots, found


def _package(file: bytes, roots: Mapping[str, etree._Element]) -> bytes:
    target = io.BytesIO()
    parts = {part: written(root) for part, root in roots.items()}
    copied(io.BytesIO(file), target, lambda part, old: parts.get(part) or old, packed=False)
    return target.getvalue()


def _gather(root: etree._Element, sheet: str, found: _Formulas) -> None:
    """Note the formulas of a sheet, and empty the cells that its blocks fill."""
    cells = {str(cell.get("r")): cell for cell in root.iter(_CELL)}
    for formula in list(root.iter(_FORMULA)):
        cell = formula.getparent()
        address = None if cell is None else cell.get("r")
        if cell is None or address is None:
            continue
        text = formula.text or ""
        kind, area = formula.get("t", ""), formula.get("ref", address)
        if _is_block(formula, cell):
            found.blocks.append(BlockCall(sheet, text, area))
            for one in block_cells(area):
                _emptied(cells.get(one))
            continue
        spot = (sheet, *split(address))
        is_plain = text and kind in {"", "array"} and not len(formula) and spot not in found.words
        found.words[spot] = found.words.get(spot, "") + text
        found.waiting.pop(spot, None)
        if is_plain:
            found.waiting[spot] = cell


def _is_block(formula: etree._Element, cell: etree._Element) -> bool:
    """Return whether a formula fills more than the cell it stands in."""
    address = cell.get("r")
    own = {address, f"{address}:{address}"}  # LibreOffice writes B3:B3
    return formula.get("t") == "array" and formula.get("ref", address) not in own


def _emptied(cell: etree._Element | None) -> None:
    """Take out of a cell what it shows; a formula stays."""
    if cell is None:
        return
    for child in list(cell) if len(cell) else ():
        if child.tag != _FORMULA:
            cell.remove(child)
    cell.attrib.pop("t", "")


def _read_by_blocks(found: _Formulas) -> set[Spot]:
    """Return the formulas that blocks read, directly or through others."""
    spots = by_sheet(found.words)
    read: set[Spot] = set()
    left = [(block.sheet, block.words) for block in found.blocks]
    while left:
        own, words = left.pop()
        for spot in spots_named(words, own, spots):
            if spot not in read:
                read.add(spot)
                left.append((spot[0], found.words[spot]))
    return read


def _runs(formulas: Mapping[Spot, str]) -> Iterator[Run]:
    by_sheet: dict[str, dict[tuple[int, int], str]] = defaultdict(dict)
    for (sheet, row, column), words in formulas.items():
        by_sheet[sheet][row, column] = f"={words}"
    for sheet, held in sorted(by_sheet.items()):
        for row, column, run in _beside(held):
            yield Run(sheet, row, column, tuple(run))


def _beside(held: Mapping[tuple[int, int], str]) -> Iterator[tuple[int, int, list[str]]]:
    """Give what stands beside each other in one row together."""
    run: list[str] = []
    start = (0, 0)
    for row, column in sorted(held):
        if run and (row, column) != (start[0], start[1] + len(run)):
            yield *start, run
            run = []
        if not run:
            start = (row, column)
        run.append(held[row, column])
    if run:
        yield *start, run
