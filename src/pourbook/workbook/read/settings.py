"""Settings of a workbook, and its names, that would change what its cells say or reach outside.

Contract: pure; :func:`odd` reads the part of the workbook alone. :func:`reaches_out` says the same
of a formula in a cell.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from typing import NamedTuple

from lxml import etree

from pourbook.errors import FileUnreadableError
from pourbook.formats.ooxml.attributes import listed, whole
from pourbook.formats.ooxml.contents import Odd
from pourbook.formats.ooxml.package import SAVE_ANEW

_Q = "{http://schemas.openxmlformats.org/spreadsheetml/2006/main}"
_RELATION = "{http://schemas.openxmlformats.org/officeDocument/2006/relationships}id"
_TEXT = re.compile(r'"[^"]*"')
_AUTO = re.compile(r"^(_xlnm\.)?auto_?(open|close|activate|deactivate)", re.IGNORECASE)
_OUTSIDE = re.compile(
    r"\b(CALL|REGISTER|REGISTER\.ID|EXEC|WEBSERVICE|FILTERXML|RTD|SQL\.REQUEST|DDE|IMAGE|ENCODEURL"
    r"|STOCKHISTORY|CUBE[A-Z]+)\s*\(",
    re.IGNORECASE,
)
_DDE = re.compile(r"[\w.]+\s*\|")
_OTHER_BOOK = re.compile(r"(?<![\w\]])'?\[[^\[\]]+\]|'(?:[^']|'')*\[[^\]]+\][^']*'\s*!")
OURS = "PB_"
"""How the names of Pourbook's functions begin."""
_YES, _NO = {"1", "true", "on"}, {"0", "false", "off"}


class SheetEntry(NamedTuple):
    """A sheet as the workbook lists it: its name, what leads to its part, whether it is hidden."""

    name: str
    led: str
    hidden: bool


def listed_sheets(book: etree._Element) -> list[SheetEntry]:
    """Return the sheets of a workbook, in order.

    Args:
        book: The part ``xl/workbook.xml``.

    Raises:
        FileUnreadableError: Programs would not find the same sheets; the file is not named.
    """
    found = [
        SheetEntry(
            one.get("name", ""), one.get(_RELATION, ""), one.get("state", "visible") != "visible"
        )
        for one in listed(book, "sheets", "sheet")
    ]
    names, led = {one.name.casefold() for one in found}, {one.led for one in found}
    everywhere = sum(1 for _ in book.iter("{*}sheet", "{*}sheets"))
    if not len(names) == len(led) == len(found) == everywhere - 1:
        raise FileUnreadableError("it lists a sheet twice, or where no workbook does", SAVE_ANEW)
    if any(
        not name.get("name") or not _is_of(name.get("localSheetId"), len(found))
        for name in book.iter(_Q + "definedName")
    ):
        raise FileUnreadableError("it names cells of sheets that are not there", SAVE_ANEW)
    return found


def _is_of(place: str | None, sheets: int) -> bool:
    """Return whether a name is one of a sheet that is there, or of the whole workbook."""
    return place is None or 0 <= whole(place) < sheets


def odd(book: etree._Element) -> Iterator[Odd]:
    """Give what of the settings and names of a workbook is not as ours are.

    Args:
        book: The part ``xl/workbook.xml``.
    """
    for settings in book.iter(_Q + "workbookPr"):
        if settings.get("date1904", "0").casefold() in _YES:
            yield Odd("dates", "its days count from 1904: every date is four years off")
    for settings in book.iter(_Q + "calcPr"):
        if settings.get("fullPrecision", "1").casefold() in _NO:
            yield Odd("settings", "it works with figures as they are shown, not as they are")
        if settings.get("calcMode", "auto").casefold() not in {"auto", ""}:
            yield Odd("settings", "it does not work itself out as one types")
        if settings.get("iterate", "0").casefold() in _YES:
            yield Odd("settings", "it lets formulas rest on themselves")
    for name in book.iter(_Q + "definedName"):
        called, text = name.get("name", ""), "".join(str(t) for t in name.itertext())
        if _AUTO.match(called):
            yield Odd("parts", f"the name '{called}' starts something by itself")
        elif any(name.get(mark, "0").casefold() in _YES for mark in ("function", "vbProcedure")):
            yield Odd("parts", f"the name '{called}' stands for a macro")
        elif called.upper().startswith(OURS):
            yield Odd("parts", f"the name '{called}' stands in for a function of Pourbook")
        elif reaches_out(text):
            yield Odd("links", f"the name '{called}' reaches outside")


def print_ranges(book: etree._Element, sheets: Sequence[SheetEntry]) -> dict[str, str]:
    """Return the print range of every sheet that has one, by the sheet's name.

    Args:
        book: The part ``xl/workbook.xml``.
        sheets: Its sheets, in order.
    """
    found = {}
    for name in book.iter(_Q + "definedName"):
        place = name.get("localSheetId", "")
        number = int(place) if place.isdecimal() and len(place) < 5 else len(sheets)
        if name.get("name") == "_xlnm.Print_Area" and number < len(sheets):
            found[sheets[number].name] = name.text or ""
    return found


def reaches_out(formula: str) -> bool:
    """Return whether a formula asks another file, another program or the network.

    Example:
        >>> reaches_out("=cmd|'/c calc'!A1"), reaches_out('=WEBSERVICE("http://x")')
        (True, True)
        >>> reaches_out("='[prices.xlsx]Sheet 1'!A1"), reaches_out('=SUM(A1:A9)&"a|b [1]"')
        (True, False)
    """
    bare = _TEXT.sub('""', formula)
    return bool(_OUTSIDE.search(bare) or _DDE.search(bare) or _OTHER_BOOK.search(bare))
