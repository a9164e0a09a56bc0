"""What the texts of a cell mean: its formula, the area that fills, and its value.

Contract: pure; what no job holds, or programs read differently, is refused without naming the file.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from math import isfinite

from pourbook.cells import CellError, Value
from pourbook.errors import FileUnreadableError
from pourbook.formats.ooxml import package
from pourbook.formats.ooxml.addresses import split
from pourbook.workbook.read.plain_cells import WrittenCell

MOST_CELLS = 1_000_000
MOST_SHARED = 5_000_000
LONGEST_FORMULA, DEEPEST = 8_192, 64
"""What spreadsheet programs allow: letters, brackets in brackets; all letters of shared ones."""
TOO_MANY = "it has far more cells than a job workbook"
COUNT = re.compile(r"^[0-9]{1,6}$")
"""A number of something: of a text, a style or pieces."""
_NUMBER = re.compile(r"\s*[+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][+-]?[0-9]{1,3})?\s*", re.ASCII)
"""A number as programs write it, and no text that Python alone reads as one."""
_KINDS = {"n", "s", "str", "b", "e"}
_TRIED = "dataTable"
"""What Excel fills with what a formula would give for other values: it has no text."""
_FILLED = {"", "normal", "array", "shared"}
"""What a formula fills: its cell, an area, or what others share with it."""
_SWITCHES = {"0", "1"}
_QUOTED = re.compile(r'"[^"]*"')
_ANEW = package.SAVE_ANEW


def area_of(area: str) -> str:
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
class SharedFormulas:
    """Formulas many cells share: the first cell of each, and how much was written out."""

    masters: dict[str, tuple[str, str]] = field(default_factory=dict)
    letters: int = 0


def formula_of(one: WrittenCell, shared: SharedFormulas) -> str:
    """Return the formula of a cell, with its equals sign, written out where many share it."""
    if one.how == _TRIED and not one.formula:
        return ""  # its values alone are there
    text = f"={one.formula}" if one.formula else ""
    if one.how == "shared":
        if text:
            shared.masters[one.group] = (text, one.address)
        elif one.group in shared.masters:
            master, origin = shared.masters[one.group]
            shared.letters += len(master)
            if shared.letters > MOST_SHARED:
                raise FileUnreadableError(TOO_MANY)
            _refuse_deep(master, one.address)
            from openpyxl.formula.translate import Translator  # noqa: PLC0415 - 0.1 s, seldom wanted

            try:
                text = Translator(master, origin=origin).translate_formula(one.address)
            except Exception as error:
                what = f"the formula of {one.address} cannot be read"
                raise FileUnreadableError(what, _ANEW) from error
    if not text or one.how not in _FILLED or (one.how == "array" and not one.area):
        raise FileUnreadableError(f"the formula of {one.address} cannot be read", _ANEW)
    _refuse_deep(text, one.address)
    return text


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


def value_of(one: WrittenCell, shared: list[str]) -> Value:
    """Return the stored value of a cell; ``shared`` are the texts that cells name by number."""
    return meaning(one.kind, one.value, one.text, shared)


def meaning(kind: str, shown: str | None, said: str | None, shared: Sequence[str]) -> Value:
    """Return what a cell of some kind means by its value, or by the text that stands in it.

    Raises:
        FileUnreadableError: Programs would not read the same.
    """
    if kind == "inlineStr":
        return said
    if kind in _KINDS and not shown:
        return "" if kind == "str" and shown is not None else None
    shown = shown or ""
    if kind == "n" and _NUMBER.fullmatch(shown) and isfinite(number := float(shown)):
        return number
    if kind == "str":
        return shown
    if kind == "s" and COUNT.fullmatch(shown) and int(shown) < len(shared):
        return shared[int(shown)]
    if kind == "b" and shown in _SWITCHES:
        return shown == "1"
    if kind == "e":
        return CellError(shown)
    raise FileUnreadableError(f"a cell of it holds '{shown:.20}' in a way no program writes", _ANEW)
