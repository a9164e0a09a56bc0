"""What a worksheet hands to a function, and what a function hands back.

Contract: in come ``None`` (a blank cell), ``bool``, ``int``, ``float``, ``str`` and
:class:`CellError`; ranges are lists of rows of these. Out goes a number or text, or a list of rows
of them. A text that begins with ``!`` is an earlier refusal and is passed on unread.
"""

from __future__ import annotations

import math
import re
import unicodedata
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from contextvars import ContextVar
from typing import NamedTuple, TypeGuard

from pourbook.errors import FAILED, BlankError, InputError, MisreadError, UnknownError

Value = None | bool | int | float | str
Rows = Sequence[Sequence[Value]]
Address = tuple[str, str]  # sheet name and A1 address
_NUMBER = re.compile(r"[+-]?(\d{1,15}(\.\d*)?|\.\d+)")
_BLANKS = re.compile(r"[^\S\x1c-\x1f]+")  # what a scanner puts between codes is no blank
_ITSELF = str.maketrans('*?~<>="', "\uff0a\uff1f\uff5e\uff1c\uff1e\uff1d\uff02")
_PLAIN = re.compile(r"(?!(true|false)$|[^\W\d_]+\.? ?[0-9]{1,4}(,? ?[0-9]{1,4})?$)[^\W\d_].*")
OK, CHECK = "ok", "CHECK"
"""Marks a status begins with, beside those of a refusal (:mod:`pourbook.errors`)."""


class CellError(str):
    """An error value of the spreadsheet, such as ``#N/A``."""

    __slots__ = ()


class Told(NamedTuple):
    """One step of a working shown by ``pourbook explain``: what, how, and the number in a unit."""

    label: str
    working: str
    value: float
    unit: str


def is_blank(value: Value) -> bool:
    """Return whether a cell holds nothing a person would see.

    Example:
        >>> is_blank(None), is_blank("  "), is_blank(0)
        (True, True, False)
    """
    if not isinstance(value, str):
        return value is None
    return not value or (not "!" <= value[0] <= "~" and not clean(value))


def clean(typed: str) -> str:
    r"""Return a text without blanks nobody sees: at its ends, doubled, odd ones, of no width.

    Example:
        >>> clean(" sand\u00a0220  and\u200b clean ")
        'sand 220 and clean'
    """
    if typed.isascii():
        if typed.isprintable() and "  " not in typed:
            return typed.strip()  # by far the most: the only blank is a space
    else:
        shown = "".join(c for c in typed if unicodedata.category(c) != "Cf")
        typed = unicodedata.normalize("NFC", shown)
    return _BLANKS.sub(" ", typed).strip()


def text(value: Value) -> str:
    """Return a cell's content as :func:`clean` text; a whole number loses its ``.0``.

    Example:
        >>> text(12.0), text(" Bar "), text(None)
        ('12', 'Bar', '')
    """
    if value is None:
        return ""
    if isinstance(value, float) and value.is_integer():
        return str(int(value))
    return clean(str(value))


def word(value: Value) -> str:
    r"""Return the form in which words are compared.

    Example:
        >>> word(" Sand\u00a0220 and clean"), word("A "), word("<1 mm base"), word(12.0)
        ('sand 220 and clean', 'a', '·＜1 mm base', '·12')
    """
    found = text(value).casefold().translate(_ITSELF)
    return found if not found or _PLAIN.fullmatch(found) else f"·{found}"


def is_refused(value: object) -> TypeGuard[str]:
    """Return whether a cell shows a refusal, or only its mark.

    Example:
        >>> is_refused("! it is blank"), is_refused("!"), is_refused("ok")
        (True, True, False)
    """
    return isinstance(value, str) and value.startswith(FAILED)


def unmarked(value: Value) -> str:
    """Return what a cell says without the mark of a refusal.

    Example:
        >>> unmarked("! it is blank"), unmarked("!")
        ('it is blank', '')
    """
    return text(value).removeprefix(FAILED).strip()


def number(value: Value, label: str, default: float | None = None) -> float:
    """Return a cell's content as a number.

    Args:
        value: The cell.
        label: What the number is, for the refusal.
        default: What a blank cell means; without it a blank cell is refused.

    Raises:
        InputError: The cell is blank without a default, or holds no number.
    """
    if is_blank(value):
        if default is None:
            raise BlankError("it is blank", "type a number", label)
        return default
    if isinstance(value, bool):
        raise MisreadError(f"'{value}' is no number", "type a number", label)
    if isinstance(value, int | float) and math.isfinite(value):
        return float(value)
    typed = text(value)
    if isinstance(value, str) and _NUMBER.fullmatch(typed):
        return float(typed)
    raise MisreadError(f"'{typed}' is no number", "type a number", label)


LONGEST_LIST = 180
"""Letters up to which a refusal says all words of a list; longer, a cell would cut its end off."""


def choice(value: Value, label: str, allowed: Sequence[str], default: str = "") -> str:
    """Return a cell's content as one of a list of words, whatever its capitals.

    Raises:
        InputError: The word is not in the list, or the cell is blank without a default.
    """
    word = text(value)
    if not word and default:
        return default
    for candidate in allowed:
        if candidate.casefold() == word.casefold():
            return candidate
    listed = ", ".join(allowed)
    mend = f"choose {listed}" if len(listed) <= LONGEST_LIST else "choose one from its list"
    if not word:
        raise BlankError("it is blank", mend, label)
    raise UnknownError(f"'{word}' is not in the list", mend, label)


def refuse_errors(row: Mapping[str, Value], labels: Mapping[str, str]) -> None:
    """Refuse a row that holds an error value or an earlier refusal.

    Raises:
        InputError: Names the first such cell.
    """
    for name, value in row.items():
        if value is None or value.__class__ is float:
            continue  # by far the most
        if isinstance(value, CellError):
            raise InputError(f"the cell shows {value}", "fix that cell", labels.get(name, name))
        if is_refused(value):
            raise InputError("the cell shows a refusal", "fix that cell", labels.get(name, name))


NEWEST, ANY = 10_000, 0
_SHEETS: ContextVar[int] = ContextVar("sheets", default=NEWEST)
"""Of which templates the ranges are that are read, or of any that has so many columns."""
_SUFFIX = re.compile(r"; sheets (\d{1,4})$")


def sheets_of(system: Value) -> int:
    """Return of which templates a workbook is, by its cell on the system of units.

    The first templates name none; who types a system's short name means the newest.

    Example:
        >>> sheets_of("Metric units: metres; sheets 2"), sheets_of("Metric units: metres")
        (2, 1)
    """
    if not isinstance(system, str) or ":" not in system:
        return NEWEST
    match = _SUFFIX.search(system)
    return int(match[1]) if match else 1


def without_sheets(system: str) -> str:
    """Return the system of units alone."""
    return _SUFFIX.sub("", system)


@contextmanager
def ranges_of(sheets: int) -> Iterator[None]:
    """Read ranges as those of some templates, as long as this lasts."""
    token = _SHEETS.set(sheets)
    try:
        yield
    finally:
        _SHEETS.reset(token)


def ranges_are_of() -> int:
    """Return of which templates the ranges are that are read now."""
    return _SHEETS.get()


class Columns(tuple[str, ...]):
    """The columns of a range by id; ``older`` are those up to some templates, oldest first.

    Example:
        >>> Columns(("room", "colour"), [(1, ("room",))]).beside(["area"]).of(1)
        ('room', 'area')
    """

    older: tuple[tuple[int, tuple[str, ...]], ...]

    def __new__(
        cls, ids: Iterable[str], older: Iterable[tuple[int, tuple[str, ...]]] = ()
    ) -> Columns:
        """Return the columns."""
        made = super().__new__(cls, ids)
        made.older = tuple(older)
        return made

    def beside(self, more: Iterable[str], newest: Iterable[str] = ()) -> Columns:
        """Return the columns with those of a result beside them; the newest came with the last."""
        added = tuple(more)
        older = [(last, (*ids, *added)) for last, ids in self.older]
        return Columns((*self, *added, *newest), older)

    def of(self, sheets: int) -> tuple[str, ...]:
        """Return the columns as some templates have them."""
        return next((ids for last, ids in self.older if sheets <= last), self)


def as_mapping(row: Sequence[Value], columns: Sequence[str]) -> dict[str, Value]:
    """Return a row as a mapping; a column that its templates do not have yet is blank.

    Raises:
        InputError: The range handed over has the wrong number of columns.

    Example:
        >>> with ranges_of(1):
        ...     as_mapping(["Bar"], Columns(("room", "colour"), [(1, ("room",))]))
        {'room': 'Bar', 'colour': None}
    """
    here = columns
    if isinstance(columns, Columns) and columns.older:
        sheets = _SHEETS.get()
        if sheets != ANY:
            here = columns.of(sheets)
        else:
            sets = (columns, *(ids for _, ids in columns.older))
            here = next((ids for ids in sets if len(ids) == len(row)), columns)
    if len(row) != len(here):
        what = f"the range has {len(row)} columns instead of {len(here)}"
        raise InputError(what, "give the whole table without its headers")
    found = dict(zip(here, row, strict=True))
    return found if here is columns else {**dict.fromkeys(columns), **found}


def row_of(columns: Sequence[str], blank: Value = None, **cells: Value) -> tuple[Value, ...]:
    """Return a row of a table with some cells filled, for examples.

    Raises:
        KeyError: There is no such column.

    Example:
        >>> row_of(("room", "piece", "shape"), room="Bar", shape="circle")
        ('Bar', None, 'circle')
    """
    unknown = cells.keys() - set(columns)
    if unknown:
        raise KeyError(unknown.pop())
    return tuple(cells.get(column, blank) for column in columns)


def same_length(rows: Rows, beside: Rows) -> None:
    """Refuse two tables that belong row by row and are not of one length.

    Raises:
        InputError: One has more rows than the other.
    """
    if len(rows) != len(beside):
        mend = "give both with the same rows, the blank ones too"
        raise InputError("the tables have different numbers of rows", mend)


def in_figures(value: float, figures: int) -> str:
    """Return a number that a formula of the sheet gave as text, the same in every program.

    Programs differ in the last digit they hold: what is a half as written is rounded up, whichever
    side of it a program holds it on.

    Args:
        value: Any finite number.
        figures: How many figures count, up to 6.

    Example:
        >>> in_figures(14.715, 4), in_figures(14.714999999999998, 4), in_figures(-0.25, 1)
        ('14.72', '14.72', '-0.3')
    """
    return f"{value * (1 + 1e-12):.{figures}g}"
