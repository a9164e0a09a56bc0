"""What a workbook carries so that any later Pourbook can tell its layout and find its entries.

Contract: :func:`marks` gives short texts for the document properties, which spreadsheet programs
keep: a fingerprint of where everything stands, and for every block the cells of its entries, and of
what commands wrote, by the ids of their fields, with a checksum of their headings. :func:`places`
reads them back.
"""

from __future__ import annotations

import zlib
from collections.abc import Iterable, Mapping

from pourbook.cells import Value, text
from pourbook.formats.ooxml.addresses import a1, split
from pourbook.records import dataclass
from pourbook.workbook.layout.laid_out import Layout, PlannedCell

TEMPLATE = "pourbook template"
LAYOUT = "pourbook layout"
AT = "pourbook at "
IDENTITY_MARK = "pourbook id"
"""The property that tells a workbook from every other, whatever its file is called."""
_LONGEST = 250  # Excel takes texts of 255 letters as document properties


@dataclass(frozen=True)
class MarkedPlace:
    """Where the entries of one field stand in a file, and where its heading."""

    sheet: str
    block: str
    field: str
    first: str
    count: int
    across: bool
    heading: str

    def cell(self, index: int) -> str:
        """Return the address of row or instance ``index``."""
        row, column = split(self.first)
        return a1(row, column + index) if self.across else a1(row + index, column)


@dataclass(frozen=True)
class MarkedBlock:
    """The entries of one block, and the checksum of their headings."""

    sheet: str
    places: tuple[MarkedPlace, ...]
    checksum: str


def checksum(headings: Iterable[Value]) -> str:
    """Return the checksum of some headings, as a person reads them."""
    return f"{zlib.crc32(chr(10).join(map(text, headings)).encode()):08x}"


def marks(plan: Layout) -> dict[str, str]:
    """Return the document properties of a workbook, by name."""
    found = {LAYOUT: plan.fingerprint}
    for block, cells in _by_block(plan).items():
        for number, part in enumerate(_parts(_written(plan, block, cells)), 1):
            found[f"{AT}{block} {number}"] = part
    return found


def places(given: Mapping[str, str]) -> list[MarkedBlock]:
    """Return what :func:`marks` wrote; nothing for a file without it.

    Raises:
        ValueError: The marks make no sense.
    """
    joined: dict[str, dict[int, str]] = {}
    for name, value in given.items():
        if name.startswith(AT):
            block, _, number = name.removeprefix(AT).rpartition(" ")
            joined.setdefault(block, {})[int(number)] = value
    return [
        _read(block, "".join(parts[n] for n in sorted(parts))) for block, parts in joined.items()
    ]


def _by_block(plan: Layout) -> dict[str, dict[str, list[PlannedCell]]]:
    found: dict[str, dict[str, list[PlannedCell]]] = {}
    for cell in (*plan.entries, *plan.kept_at.values()):
        assert cell.field is not None
        found.setdefault(cell.block, {}).setdefault(cell.field.id, []).append(cell)
    return found


def _written(plan: Layout, block: str, fields: Mapping[str, list[PlannedCell]]) -> str:
    """Return one block: sheet, how many, which way, checksum, and each field's cell and heading."""
    headings = {c.field.id: c for c in plan.in_block[block] if c.field and c.role in _HEADINGS}
    words = [f"{n}={cells[0].address},{headings[n].address}" for n, cells in fields.items()]
    first = next(iter(fields.values()))
    way = "across" if plan.block(block).kind == "lines" else "down"
    summed = checksum(headings[name].value for name in fields)
    return "|".join((first[0].sheet, str(len(first)), way, summed, *words))


_HEADINGS = {"header", "label"}


def _parts(whole: str) -> list[str]:
    return [whole[i : i + _LONGEST] for i in range(0, len(whole), _LONGEST)]


def _read(block: str, whole: str) -> MarkedBlock:
    sheet, count, way, summed, *words = whole.split("|")
    found = []
    for word in words:
        name, _, addresses = word.partition("=")
        first, _, heading = addresses.partition(",")
        split(first), split(heading)
        found.append(MarkedPlace(sheet, block, name, first, int(count), way == "across", heading))
    return MarkedBlock(sheet, tuple(found), summed)
