"""What lies over the cells of a sheet: pictures, shapes, charts, buttons and notes that stay open.

Contract: pure; gives the cells each of them covers, and judges nothing. Sizes in points and letters
are taken as programs do without the fonts at hand: a letter is seven pixels, a pixel 9525 units.
Source: ECMA-376 part 1, 20.5 (spreadsheet drawings) and 18.3.1.13 (widths), from memory.
"""

from __future__ import annotations

import re
from bisect import bisect_left
from collections.abc import Iterator, Mapping
from functools import lru_cache
from itertools import accumulate
from math import ceil

from lxml import etree

from pourbook.formats.ooxml import contents, package
from pourbook.formats.ooxml.addresses import LAST_COLUMN, LAST_ROW, areas_named
from pourbook.formats.ooxml.attributes import is_on, whole
from pourbook.records import dataclass
from pourbook.workbook.read.sheet_look import Sizes

_Q = "{http://schemas.openxmlformats.org/drawingml/2006/spreadsheetDrawing}"
_WHAT = {"pic": "a picture lies over it", "graphicFrame": "a chart lies over it"}
_SHOWN = {"pic", "graphicFrame", "sp", "cxnSp", "grpSp", "contentPart"}
_POINT, _PIXEL, _LETTER, _MARGIN = 12_700, 9_525, 7, 5
_CONTROL = re.compile(rb"ClientData\b[^>]*ObjectType\s*=\s*[\"'](\w+)[\"'](.*?)ClientData>", re.S)
_SHOWN_CELLS = re.compile(rb"<(?:\w+:)?f>([^<]*)<")
_ANCHOR = re.compile(rb"Anchor>([\d\s,]+)<")


Charted = tuple[str, int, int, int, int]


@dataclass(frozen=True)
class Overlay:
    """Something that lies over cells, and which: rows and columns from 1, both ends."""

    what: str
    top: int
    left: int
    bottom: int
    right: int


@dataclass(frozen=True)
class OnSheet:
    """What is drawn on a sheet: what lies over its cells, and the cells its charts show."""

    over: tuple[Overlay, ...] = ()
    charted: frozenset[Charted] = frozenset()


def overlays(
    parts: Mapping[str, bytes], sheet: str, sizes: Sizes, where: str
) -> tuple[Overlay, ...]:
    """Return what lies over the cells of a sheet.

    Args:
        parts: The package.
        sheet: The part that holds the sheet.
        sizes: Its columns and rows.
        where: What the file is called.

    Raises:
        FileUnreadableError: A drawing cannot be read.
    """
    found: list[Overlay] = []
    for one in contents.relations(parts, sheet, where):
        content = parts.get(one.target, b"")
        if one.kind == "drawing" and content:
            found += _drawn(package.parse(content, where), sizes)
        elif one.kind == "vmldrawing":
            found += _controls(content)
        elif one.kind == "image":  # not on the sheet: behind all of it
            found.append(Overlay("a picture stands behind it", 1, 1, LAST_ROW, LAST_COLUMN))
    return tuple(found)


def charts_of(parts: Mapping[str, bytes], sheet: str, where: str) -> frozenset[Charted]:
    """Return the cells that the charts of a sheet show.

    Args:
        parts: The package.
        sheet: The part that holds the sheet.
        where: What the file is called.
    """
    found: set[Charted] = set()
    for drawing in contents.relations(parts, sheet, where):
        if drawing.kind == "drawing":
            for one in contents.relations(parts, drawing.target, where):
                if one.kind == "chart":
                    found |= charted(parts.get(one.target, b""))
    return frozenset(found)


@lru_cache(maxsize=64)
def charted(content: bytes) -> frozenset[Charted]:
    """Return the cells a chart shows, as areas with their sheets in small letters."""
    named = (one.decode(errors="replace") for one in _SHOWN_CELLS.findall(content))
    return frozenset(
        area for one in named for area in areas_named("=" + one.replace("&apos;", "'"))
    )


def _drawn(root: etree._Element, sizes: Sizes) -> Iterator[Overlay]:
    columns, rows = _columns(sizes), _rows(sizes)
    for anchor in root:
        kind = etree.QName(anchor).localname if isinstance(anchor.tag, str) else ""
        if not kind.endswith("Anchor"):
            continue
        names = [one for one in anchor.iter() if isinstance(one.tag, str)]
        shown = [n for one in names if (n := etree.QName(one).localname) in _SHOWN]
        if not shown or all(is_on(one.get("hidden")) for one in names if _is_named(one)):
            continue
        what = _WHAT.get(shown[0], "a shape lies over it")
        start, end, size = (anchor.find(_Q + name) for name in ("from", "to", "ext"))
        left, x = (1, 0) if start is None else _spot(start, "col")
        top, y = (1, 0) if start is None else _spot(start, "row")
        place = anchor.find(_Q + "pos")
        if place is not None:
            x, y = whole(place.get("x")), whole(place.get("y"))
        if end is not None:
            (right, over), (bottom, under) = _spot(end, "col"), _spot(end, "row")
            yield Overlay(what, top, left, bottom - (under <= 0), right - (over <= 0))
        elif size is not None:
            wide, high = max(whole(size.get("cx")), 0), max(whole(size.get("cy")), 0)
            right, bottom = columns.reach(left, x + wide), rows.reach(top, y + high)
            yield Overlay(what, top, left, bottom, right)


def _is_named(one: etree._Element) -> bool:
    return etree.QName(one).localname == "cNvPr"


def _spot(corner: etree._Element, name: str) -> tuple[int, int]:
    """Return the row or column, from 1, of a corner, and how far within it the corner lies."""
    number = max(whole(corner.findtext(_Q + name)), 0) + 1
    return number, max(whole(corner.findtext(f"{_Q}{name}Off")), 0)


def _letters(width: float) -> float:
    return (width * _LETTER + _MARGIN) * _PIXEL


class _Edges:
    """Where columns or rows end, from the first on."""

    def __init__(self, said: Mapping[int, float], usual: float, most: int) -> None:
        """Add up what some of them say, by their number, and what is usual."""
        many = min(max(said, default=0), most)
        sizes = (said.get(number, usual) for number in range(1, many + 1))
        self.ends, self.usual, self.most = [0.0, *accumulate(sizes)], max(usual, 1.0), most

    def reach(self, first: int, far: float) -> int:
        """Return in which one something ends that begins in another and is so long."""
        known = len(self.ends) - 1
        beyond = max(first - 1 - known, 0) * self.usual
        end = self.ends[min(first - 1, known)] + beyond + far
        if end <= self.ends[-1]:
            return max(first, bisect_left(self.ends, end))
        return min(max(first, known + ceil((end - self.ends[-1]) / self.usual)), self.most)


def _columns(sizes: Sizes) -> _Edges:
    said = {
        column: _letters(width)
        for first, last, width in sizes.widths
        for column in range(first, min(last, LAST_COLUMN) + 1)
    }
    return _Edges(said, _letters(sizes.width), LAST_COLUMN)


def _rows(sizes: Sizes) -> _Edges:
    said = {row: height * _POINT for row, height in sizes.heights}
    return _Edges(said, sizes.height * _POINT, LAST_ROW)


def _controls(content: bytes) -> Iterator[Overlay]:
    """Give buttons, boxes and notes that stay open, of a drawing of old."""
    for kind, said in _CONTROL.findall(content):
        anchor = _ANCHOR.search(said)
        if anchor is None or (kind == b"Note" and b"Visible" not in said):
            continue
        numbers = [int(one) for one in anchor[1].split(b",") if one.strip().isdigit()]
        if len(numbers) == 8:
            left, _, top, _, right, _, bottom, _ = numbers
            what = (
                "an open note lies over it" if kind == b"Note" else "a button or box lies over it"
            )
            yield Overlay(what, top + 1, left + 1, bottom + 1, right + 1)
