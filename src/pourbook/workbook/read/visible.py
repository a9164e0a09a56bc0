"""How the cells and sheets of a workbook look, as far as looks can hide what they say.

Contract: pure; reads the part of the styles and the part of a sheet, and judges nothing. Colours
that go by the theme are known where they are its black and white; others are None.
"""

from __future__ import annotations

from functools import cache
from typing import TypeVar

from lxml import etree

from pourbook.compiled import kept
from pourbook.records import dataclass

T = TypeVar("T")
_Q = "{http://schemas.openxmlformats.org/spreadsheetml/2006/main}"
_WHITE, _BLACK = "FFFFFF", "000000"
_THEME = {"0": _WHITE, "1": _BLACK}
_INDEXED = {"0": _BLACK, "1": _WHITE, "8": _BLACK, "9": _WHITE, "64": _BLACK, "65": _WHITE}
_OFF = {"0", "false"}
NARROW, LOW = 0.5, 2.0
"""Below this width, in letters, and this height, in points, a column or row shows nothing."""


@dataclass(frozen=True)
class Style:
    """Number format, size of letters in points, and colours of ink and paper as RRGGBB."""

    format: str = "General"
    size: float = 11.0
    ink: str | None = _BLACK
    paper: str | None = _WHITE


@dataclass(frozen=True)
class SheetLook:
    """Columns and rows that show nothing, and what guards a sheet."""

    columns: tuple[tuple[int, int], ...] = ()
    rows: frozenset[int] = frozenset()
    guarded: bool = True
    validated: bool = True
    conditioned: bool = True


@cache
def _built_in() -> dict[int, str]:
    """Return the number formats every spreadsheet program knows by number."""

    def listed() -> dict[int, str]:
        from openpyxl.styles.numbers import BUILTIN_FORMATS  # noqa: PLC0415 - 0.1 s, wanted once

        return dict(BUILTIN_FORMATS)

    return kept("number formats", listed)


def styles(root: etree._Element) -> tuple[Style, ...]:
    """Return the styles of a workbook in the order cells name them.

    Args:
        root: The part ``xl/styles.xml``.
    """
    formats = {
        one.get("numFmtId", ""): one.get("formatCode", "") for one in root.iter(_Q + "numFmt")
    }
    fonts = [_font(one) for one in _in(root, "fonts", "font")]
    papers = [_paper(one) for one in _in(root, "fills", "fill")]
    return tuple(
        Style(
            formats.get(number, _built_in().get(_whole(number), "General")),
            *_at(fonts, one.get("fontId", "0"), (11.0, _BLACK)),
            _at(papers, one.get("fillId", "0"), _WHITE),
        )
        for one in _in(root, "cellXfs", "xf")
        for number in (one.get("numFmtId", "0"),)
    )


def sheet_look(root: etree._Element) -> SheetLook:
    """Return how a sheet looks.

    Args:
        root: The part that holds it.
    """
    columns = tuple(
        (_whole(one.get("min", "0")), _whole(one.get("max", "0")))
        for one in _in(root, "cols", "col")
        if _is_on(one.get("hidden")) or _number(one.get("width"), 9.0) < NARROW
    )
    rows = frozenset(
        _whole(one.get("r", "0"))
        for one in _in(root, "sheetData", "row")
        if _is_on(one.get("hidden")) or _number(one.get("ht"), 15.0) < LOW
    )
    guard = root.find(_Q + "sheetProtection")
    return SheetLook(
        columns,
        rows,
        guarded=guard is not None and _is_on(guard.get("sheet")),
        validated=root.find(_Q + "dataValidations") is not None,
        conditioned=root.find(_Q + "conditionalFormatting") is not None,
    )


def _in(root: etree._Element, held: str, name: str) -> list[etree._Element]:
    found = root.find(_Q + held)
    return [] if found is None else found.findall(_Q + name)


def _font(font: etree._Element) -> tuple[float, str | None]:
    size, colour = font.find(_Q + "sz"), font.find(_Q + "color")
    points = 11.0 if size is None else _number(size.get("val"), 11.0)
    return points, _BLACK if colour is None else _colour(colour)


def _paper(fill: etree._Element) -> str | None:
    pattern = fill.find(_Q + "patternFill")
    if pattern is None:
        return None  # one colour into another
    kind = pattern.get("patternType", "none")
    colour = pattern.find(_Q + "fgColor")
    if kind == "none":
        return _WHITE
    return _colour(colour) if kind == "solid" and colour is not None else None


def _colour(said: etree._Element) -> str | None:
    rgb = said.get("rgb")
    if rgb:
        return rgb[-6:].upper()
    if said.get("tint", "0") not in {"0", "0.0"}:
        return None
    return _THEME.get(said.get("theme", "")) or _INDEXED.get(said.get("indexed", ""))


def _at(found: list[T], number: str, usual: T) -> T:
    place = _whole(number)
    return found[place] if 0 <= place < len(found) else usual


def _is_on(said: str | None) -> bool:
    return said is not None and said.casefold() not in _OFF


def _whole(said: str) -> int:
    return int(said) if said.isascii() and said.isdecimal() and len(said) < 8 else -1


def _number(said: str | None, usual: float) -> float:
    try:
        return usual if said is None else float(said)
    except ValueError:
        return usual
