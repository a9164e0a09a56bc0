"""How a sheet looks, as far as its look can hide what its cells say, and the rules on it.

Contract: pure; reads what stands in the part of a sheet beside its cells, and judges nothing. What
newer programs keep at the end of the part (rules that name other sheets) is read like the rest.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from math import isnan, nan

from lxml import etree

from pourbook.formats.ooxml.addresses import LAST_COLUMN
from pourbook.formats.ooxml.attributes import is_on, listed, number_of, whole
from pourbook.formats.ooxml.palette import Palette, colour
from pourbook.records import dataclass
from pourbook.workbook.read.visible import Marked, TextRun, marked, runs

_Q = "{http://schemas.openxmlformats.org/spreadsheetml/2006/main}"
_NEWER = "{http://schemas.microsoft.com/office/spreadsheetml/2009/9/main}"
_NAMED = "{http://schemas.microsoft.com/office/excel/2006/main}"
NARROW, LOW = 1.0, 6.0
"""Below this width, in letters, and this height, in points, a column or row shows nothing."""
_WIDE, _HIGH = 9.0, 15.0
_WIDEST, _HIGHEST = 255.0, 409.5
"""What is usual, and the most there is, in letters and points."""
_DRAWN = ("dataBar", "iconSet")
_BETWEEN, _NOT_COMPARED = "between", {"none", "list", "custom"}


@dataclass(frozen=True)
class EntryLimit:
    """What the entries of some areas are limited to, and whether another one is refused."""

    areas: str
    kind: str
    how: str
    first: str
    last: str
    stops: bool

    @classmethod
    def of(
        cls, areas: str, kind: str, how: str | None, told: Sequence[str | None], stops: bool
    ) -> EntryLimit:
        """Return a limit as programs mean it, whatever they write where they mean the usual.

        Args:
            areas: Where it holds.
            kind: What it compares, or a list.
            how: How it compares.
            told: With what, one or two formulas.
            stops: Whether what is not within it is refused.
        """
        compared = kind not in _NOT_COMPARED
        between = compared and (how or _BETWEEN) in {_BETWEEN, "notBetween"}
        how = (how or _BETWEEN) if compared else ""
        first, last = map(_formula, told)
        return cls(areas, kind, how, first, last if between else "", stops)


@dataclass(frozen=True)
class MarkRule:
    """A rule that marks cells: where, by which formula, and how (the number of a look, or one).

    ``alone`` says that no rule after it marks a cell that it does.
    """

    areas: str
    formula: str
    look: int | Marked
    alone: bool = False


@dataclass(frozen=True)
class Sizes:
    """How wide columns and how high rows are: those that say it by number, and what is usual."""

    widths: tuple[tuple[int, int, float], ...] = ()
    heights: tuple[tuple[int, float], ...] = ()
    width: float = _WIDE
    height: float = _HIGH


@dataclass(frozen=True)
class SheetLook:
    """Columns and rows that show nothing, and all else of a sheet that hides or guards a value.

    ``limits`` are what entries are limited to, ``merged`` the areas of which one cell shows;
    ``zeros`` says whether a nothing shows, ``scale`` how large the sheet prints, of one. ``runs``
    are parts of texts in a look of their own, ``frozen`` is the first cell one can scroll to.
    """

    columns: tuple[tuple[int, int], ...] = ()
    rows: frozenset[int] = frozenset()
    guarded: bool = True
    limits: frozenset[EntryLimit] = frozenset()
    rules: tuple[MarkRule, ...] = ()
    merged: tuple[str, ...] = ()
    zeros: bool = True
    formulas: bool = False
    frozen: str = ""
    scale: float = 1.0
    sizes: Sizes = Sizes()
    runs: tuple[TextRun, ...] = ()


def sheet_look(root: etree._Element) -> SheetLook:
    """Return how a sheet looks.

    Args:
        root: The part that holds it.
    """
    sizes, lines = _sizes(root), listed(root, "sheetData", "row")
    low = {row for row, height in sizes.heights if height < LOW}
    if sizes.height < LOW:
        low |= {whole(one.get("r")) for one in lines if one.get("ht") is None}
    rows = low | {whole(one.get("r")) for one in lines if is_on(one.get("hidden"))}
    guard = root.find(_Q + "sheetProtection")
    views = listed(root, "sheetViews", "sheetView")
    return SheetLook(
        tuple(_columns(root, sizes)),
        frozenset(rows),
        guarded=guard is not None and is_on(guard.get("sheet")),
        limits=frozenset(_limits(root)),
        rules=tuple(_rules(root)),
        merged=tuple(one.get("ref", "") for one in listed(root, "mergeCells", "mergeCell")),
        zeros=all(is_on(one.get("showZeros", "1")) for one in views),
        formulas=any(is_on(one.get("showFormulas")) for one in views),
        frozen=next(filter(None, map(_frozen, views)), ""),
        scale=_scale(root),
        sizes=sizes,
        runs=tuple(runs(root)),
    )


def _frozen(view: etree._Element) -> str:
    """Return the first cell in sight where panes are frozen: none before it can be reached."""
    pane = view.find(_Q + "pane")
    first = view.get("topLeftCell", "A1")
    still = pane is not None and pane.get("state", "").startswith("frozen")
    return first if still and first != "A1" else ""


def _sizes(root: etree._Element) -> Sizes:
    held = root.find(_Q + "sheetFormatPr")
    usual: Mapping[str, str] = {} if held is None else {str(n): str(v) for n, v in held.items()}
    width = _within(number_of(usual.get("defaultColWidth"), _WIDE), _WIDEST)
    columns = tuple(
        (
            whole(one.get("min")),
            whole(one.get("max")),
            _within(number_of(one.get("width"), width), _WIDEST),
        )
        for one in listed(root, "cols", "col")
    )
    rows = tuple(
        (whole(one.get("r")), _within(number_of(said, _HIGH), _HIGHEST))
        for one in listed(root, "sheetData", "row")
        if (said := one.get("ht")) is not None
    )
    height = number_of(usual.get("defaultRowHeight"), _HIGH)
    return Sizes(columns, rows, width, _within(height, _HIGHEST))


def _within(size: float, most: float) -> float:
    return min(max(size, 0.0), most)


def _columns(root: etree._Element, sizes: Sizes) -> Iterator[tuple[int, int]]:
    """Give the columns that show nothing, from and to."""
    for one, (first, last, width) in zip(listed(root, "cols", "col"), sizes.widths, strict=True):
        if is_on(one.get("hidden")) or width < NARROW:
            yield first, last
    if sizes.width < NARROW:
        said = sorted((first, last) for first, last, _ in sizes.widths)
        after = [*(first for first, _ in said), LAST_COLUMN + 1]
        for last, first in zip([0, *(last for _, last in said)], after, strict=True):
            yield last + 1, first - 1


def _limits(root: etree._Element) -> Iterator[EntryLimit]:
    for one in listed(root, "dataValidations", "dataValidation"):
        told = [_text(one, f"{_Q}formula{number}") for number in (1, 2)]
        yield _limit(one, one.get("sqref", ""), told)
    for one in root.iter(_NEWER + "dataValidation"):
        inner = [one.find(f"{_NEWER}formula{number}") for number in (1, 2)]
        told = ["" if held is None else _text(held, _NAMED + "f") for held in inner]
        yield _limit(one, _text(one, _NAMED + "sqref"), told)


def _limit(one: etree._Element, areas: str, told: Sequence[str]) -> EntryLimit:
    stops = is_on(one.get("showErrorMessage")) and one.get("errorStyle", "stop") == "stop"
    return EntryLimit.of(areas, one.get("type", "none"), one.get("operator"), told, stops)


def _rules(root: etree._Element) -> Iterator[MarkRule]:
    for area in root.iterfind(_Q + "conditionalFormatting"):
        for one in area.iterfind(_Q + "cfRule"):
            formula = _text(one, _Q + "formula")
            yield from _rules_of(one, area.get("sqref", ""), formula)
    for area in root.iter(_NEWER + "conditionalFormatting"):
        where = _text(area, _NAMED + "sqref")
        for one in area.iterfind(_NEWER + "cfRule"):
            yield from _rules_of(one, where, _text(one, _NAMED + "f"))


def _rules_of(one: etree._Element, areas: str, formula: str) -> Iterator[MarkRule]:
    """Give a rule; of one that goes from colour to colour a rule for each."""
    inner, alone = one.find(_NEWER + "dxf"), is_on(one.get("stopIfTrue"))
    look: int | Marked = whole(one.get("dxfId")) if inner is None else marked(inner, Palette())
    drawn = [held for name in _DRAWN for held in one.iterfind("{*}" + name)]
    if drawn:
        look = Marked(nothing=any(not is_on(held.get("showValue", "1")) for held in drawn))
    yield MarkRule(areas, formula, look, alone)
    for step in one.iterfind("{*}colorScale/{*}color"):
        paper = colour(step, Palette())
        yield MarkRule(areas, "", Marked(papers=(paper,) if paper else ()))


def _formula(said: str | None) -> str:
    """Return a formula of a limit; a number as all programs write it alike."""
    text = (said or "").strip()
    number = number_of(text, nan)
    return text if isnan(number) else f"{number:.12g}"


def _text(root: etree._Element, name: str) -> str:
    """Return the text of the elements of a name below another."""
    return "".join(str(one) for one in root.itertext(name)).strip()


def _scale(root: etree._Element) -> float:
    """Return how large a sheet prints; one that fits its pages finds its own size."""
    page, fits = root.find(_Q + "pageSetup"), root.find(f"{_Q}sheetPr/{_Q}pageSetUpPr")
    if page is None or (fits is not None and is_on(fits.get("fitToPage"))):
        return 1.0
    return number_of(page.get("scale"), 100.0) / 100
