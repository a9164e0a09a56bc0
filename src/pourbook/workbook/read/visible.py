"""How the cells of a workbook look, as far as looks can hide what they say.

Contract: pure; reads the part of the styles, and judges nothing. A colour nobody can know is None,
a paper nobody can know holds no colour.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache
from typing import TypeVar

from lxml import etree

from pourbook.compiled import kept
from pourbook.errors import FileUnreadableError
from pourbook.formats.ooxml.attributes import is_on, listed, number_of, whole
from pourbook.formats.ooxml.package import SAVE_ANEW
from pourbook.formats.ooxml.palette import BLACK, WHITE, Palette, colour, palette
from pourbook.records import dataclass

T = TypeVar("T")
_Q = "{http://schemas.openxmlformats.org/spreadsheetml/2006/main}"
_LATER = _Q + "extLst"
_SIGNS = ("dings", "symbol", "dingbat", "barcode", "code 39", "code39", "code128", "code 128",
          "marlett", "icon", "emoji", "mt extra")  # fmt: skip
"""What the names of fonts hold that show signs, or bars, in place of letters and figures."""
_SYMBOLS = "2"
"""The set of signs of such a font."""
_RAISED = 0.6
"""How large letters are that stand higher or lower than the line."""
_DEEPEST = 15


@dataclass(frozen=True)
class Style:
    """Number format, size of letters in points, colours of ink and paper, and what is odd.

    A paper of more than one colour is a pattern, or one colour that goes over into another.
    """

    format: str = "General"
    size: float = 11.0
    ink: str | None = BLACK
    papers: tuple[str, ...] = (WHITE,)
    odd: str = ""


@dataclass(frozen=True)
class Marked:
    """What a rule changes of the look of a cell where it holds; None and nothing where it is not.

    ``nothing`` says that it hides the value by itself, as a bar or a sign in its place does.
    """

    format: str | None = None
    ink: str | None = None
    papers: tuple[str, ...] = ()
    struck: bool = False
    nothing: bool = False


@dataclass(frozen=True)
class TextRun:
    """Part of a text in a look of its own: the whole text, and of the part what it says itself."""

    text: str
    size: float
    ink: str | None
    odd: str


@dataclass(frozen=True)
class Looks:
    """The looks of a workbook in the order cells and rules name them, and its colours."""

    styles: tuple[Style, ...] = ()
    marks: tuple[Marked, ...] = ()
    palette: Palette = Palette()


@cache
def _built_in() -> dict[int, str]:
    """Return the number formats every spreadsheet program knows by number."""

    def listed() -> dict[int, str]:
        from openpyxl.styles.numbers import BUILTIN_FORMATS  # noqa: PLC0415 - 0.1 s, wanted once

        return dict(BUILTIN_FORMATS)

    return kept("number formats", listed)


def looks(root: etree._Element, theme: etree._Element | None = None) -> Looks:
    """Return the looks of a workbook.

    Args:
        root: The part ``xl/styles.xml``.
        theme: Its theme, if it has one.

    Raises:
        FileUnreadableError: Something stands in it that some programs read and others do not.
    """
    for one in root.iter():
        other = isinstance(one.tag, str) and not one.tag.startswith(_Q)
        if other and next(one.iterancestors(_LATER), None) is None:
            raise FileUnreadableError("its looks hold what programs read differently", SAVE_ANEW)
    known = palette(root, theme)
    formats = {
        one.get("numFmtId", ""): one.get("formatCode", "")
        for one in listed(root, "numFmts", "numFmt")
    }
    fonts = [_font(one, known) for one in listed(root, "fonts", "font")]
    papers = [_papers(one, known) for one in listed(root, "fills", "fill")]
    styles = []
    for one in listed(root, "cellXfs", "xf"):
        number = one.get("numFmtId", "0")
        size, ink, odd = _at(fonts, one.get("fontId", "0"), (11.0, BLACK, ""))
        paper = _at(papers, one.get("fillId", "0"), (WHITE,))
        code = formats.get(number, _built_in().get(whole(number), "General"))
        styles.append(Style(code, size, ink, paper, odd or _placed(one)))
    marks = tuple(marked(one, known) for one in listed(root, "dxfs", "dxf"))
    return Looks(tuple(styles), marks, known)


def runs(root: etree._Element, known: Palette | None = None) -> Iterator[TextRun]:
    """Give the parts of texts that have a look of their own.

    Args:
        root: What holds the texts: a sheet, or the texts of all sheets.
        known: The colours that have numbers; the usual ones if left out.
    """
    for own in root.iter(_Q + "rPr"):
        run = own.getparent()
        item = None if run is None else run.getparent()
        if run is None or item is None or not (run.findtext(_Q + "t") or "").strip():
            continue
        text = (item.findtext(_Q + "t"), *(one.findtext(_Q + "t") for one in item.iter(_Q + "r")))
        yield TextRun("".join(part or "" for part in text), *_font(own, known or Palette(), None))


def marked(dxf: etree._Element, known: Palette) -> Marked:
    """Return what a rule changes of a look."""
    code, font, fill = (dxf.find(_Q + name) for name in ("numFmt", "font", "fill"))
    strike = None if font is None else font.find(_Q + "strike")
    ink = None if font is None else colour(font.find(_Q + "color"), known)
    return Marked(
        None if code is None else code.get("formatCode", ""),
        ink,
        () if fill is None else _papers_of_rule(fill, known),
        strike is not None and is_on(strike.get("val", "1")),
    )


def _font(
    font: etree._Element, known: Palette, usual: str | None = BLACK
) -> tuple[float, str | None, str]:
    """Return how large letters are, their colour (the usual one if none is named), what is odd."""
    said = {etree.QName(one).localname: one for one in font}
    points = number_of(said["sz"].get("val"), 11.0) if "sz" in said else 11.0
    if "vertAlign" in said and said["vertAlign"].get("val") != "baseline":
        points *= _RAISED
    ink = colour(said["color"], known) if "color" in said else usual
    if "color" in said and is_on(said["color"].get("auto")):
        ink = BLACK
    odd = ""
    called = said.get("name", said.get("rFont"))
    name = "" if called is None else called.get("val", "").casefold()
    signs = "charset" in said and said["charset"].get("val") == _SYMBOLS
    if signs or any(word in name for word in _SIGNS):
        odd = "its font shows signs for letters and figures"
    elif "strike" in said and is_on(said["strike"].get("val", "1")):
        odd = "it is struck through, and counts all the same"
    return points, ink, odd


def _placed(look: etree._Element) -> str:
    """Return what is odd about where a cell shows what it holds."""
    placed = look.find(_Q + "alignment")
    if placed is None:
        return ""
    if placed.get("horizontal") == "fill":
        return "it shows what it holds again and again, as far as it is wide"
    if whole(placed.get("indent", "0")) > _DEEPEST:
        return "what it holds is moved out of sight"
    return ""


def _papers(fill: etree._Element, known: Palette) -> tuple[str, ...]:
    pattern = fill.find(_Q + "patternFill")
    if pattern is None:
        stops = (colour(one, known) for one in fill.iter(_Q + "color"))
        return tuple(dict.fromkeys(one for one in stops if one))
    kind = pattern.get("patternType", "none")
    if kind == "none":
        return (WHITE,)
    named = [colour(pattern.find(_Q + "fgColor"), known)]
    if kind != "solid":
        named += [colour(pattern.find(_Q + "bgColor"), known) or WHITE]
    return tuple(dict.fromkeys(one for one in named if one))


def _papers_of_rule(fill: etree._Element, known: Palette) -> tuple[str, ...]:
    """Return the papers a rule gives: its plain fill has the colour behind, where others have not.

    Source: what Excel and LibreOffice write, seen.
    """
    pattern = fill.find(_Q + "patternFill")
    if pattern is None or pattern.get("patternType", "solid") != "solid":
        return _papers(fill, known)
    behind = colour(pattern.find(_Q + "bgColor"), known)
    front = colour(pattern.find(_Q + "fgColor"), known)
    return tuple(one for one in (behind or front,) if one)


def _at(found: list[T], number: str, usual: T) -> T:
    place = whole(number)
    return found[place] if 0 <= place < len(found) else usual
