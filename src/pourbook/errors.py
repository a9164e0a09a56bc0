"""The one small tree of errors: what is wrong, where, and how to mend it.

Contract: every refusal Pourbook makes is a :class:`PourbookError` worded for the estimator:
``what`` says what is wrong, ``mend`` how to put it right, ``where`` (when known) is a sheet and
cell, a column, a file and line, or a file. A column is a :class:`EntryLabel`, which knows its table
and field; what a cell shows of a refusal is a :class:`CellText`, which knows the refusal. So nobody
has to read either back out of the words. The exit code of the command line hangs on the class.
Nothing here imports anything else of Pourbook.
"""

from __future__ import annotations

from typing import Self

from pourbook.records import dataclass

LONGEST_CELL_TEXT = 250
FAILED = "!"
WAITS = "waits:"
"""Marks a status begins with: refused; held up by another sheet, which says itself why."""


@dataclass(frozen=True)
class EntryAt:
    """Which entry a refusal speaks of, by ids: its table, its column and its row.

    The row is known by its place in the table, counted from 0, or by the name that stands in it;
    where neither is said, it is the row that shows the refusal.
    """

    table: str
    field: str
    index: int | None = None
    named: str = ""


class EntryLabel(str):
    """What a person calls an entry, with the :class:`EntryAt` it stands for.

    Example:
        >>> heading = EntryLabel("Pot life", EntryAt("working", "pot_life")).of("Clear flood")
        >>> print(heading, heading.place.field, heading.place.named, sep=", ")
        Pot life of Clear flood, pot_life, Clear flood
    """

    place: EntryAt | None

    def __new__(cls, words: str, place: EntryAt | None = None) -> EntryLabel:
        """Return the heading of an entry."""
        made = super().__new__(cls, words)
        made.place = place
        return made

    def of(self, name: str) -> EntryLabel:
        """Return it as the heading of the row of some name."""
        at = self.place and EntryAt(self.place.table, self.place.field, None, name)
        return EntryLabel(f"{self} of {name}", at)

    def told(self, more: str) -> EntryLabel:
        """Return it with more said of the entry in brackets."""
        return EntryLabel(f"{self} ({more})", self.place)

    def row(self, index: int, lead: str) -> EntryLabel:
        """Return it as the heading of a row by its place, counted from 0, after some words."""
        at = self.place and EntryAt(self.place.table, self.place.field, index)
        return EntryLabel(f"{lead}, row {index + 1}, {self}", at)


class CellText(str):
    """What a cell shows of a refusal, and the refusal."""

    refusal: PourbookError

    def __new__(cls, words: str, refusal: PourbookError) -> CellText:
        """Return the text of a refusal."""
        made = super().__new__(cls, words)
        made.refusal = refusal
        return made


class PourbookError(Exception):
    """A refusal in the estimator's words.

    Args:
        what: What is wrong, without a full stop.
        mend: How to mend it, as an instruction, without a full stop. May be empty.
        where: Sheet and cell, file and line, or file. May be empty.

    Example:
        >>> print(InputError("'30 oz' may be fluid or weight", "type 'US fl oz' or 'oz wt'"))
        '30 oz' may be fluid or weight: type 'US fl oz' or 'oz wt'
    """

    exit_code = 1
    mark = FAILED
    kind = ""
    """Which refusal it is, for scripts: these ids are stable, the words are not."""

    def __init__(self, what: str, mend: str = "", where: str = "") -> None:
        self.what = " ".join(what.split()) if "\n" in what else what  # a library's words, or typed
        self.mend = mend
        self.where = where
        super().__init__(what, mend, where)

    def __str__(self) -> str:
        """Return ``where: what: mend``, leaving out what is empty."""
        return ": ".join(part for part in (self.where, self.what, self.mend) if part)

    @property
    def place(self) -> EntryAt | None:
        """Return which entry it speaks of, where that is known."""
        return self.where.place if isinstance(self.where, EntryLabel) else None

    def at(self, where: str) -> PourbookError:
        """Return the same refusal with its place filled in."""
        return type(self)(self.what, self.mend, where)

    def again(self) -> PourbookError:
        """Return the same refusal to be raised: one that is kept gathers no steps of its own."""
        return self.at(self.where)

    def of(self, name: str) -> PourbookError:
        """Return the same refusal, its place in the row of some name."""
        return self.at(self._label().of(name))

    def in_row(self, index: int, table: str) -> PourbookError:
        """Return the same refusal, its place in a row of a table, counted from 0."""
        return self.at(self._label().row(index, table))

    def _label(self) -> EntryLabel:
        return self.where if isinstance(self.where, EntryLabel) else EntryLabel(self.where)

    def under(self, lead: str) -> PourbookError:
        """Return the same refusal, its place after some words, such as ``Option A``."""
        words = f"{lead}, {self.where}" if self.where else lead
        return self.at(EntryLabel(words, self.place))

    def said(self) -> str:
        """Return it short enough for a cell, without a mark."""
        text, most = str(self), LONGEST_CELL_TEXT - 2
        if len(text) <= most:
            return text
        # What was typed may be long; how to mend it stays whole.
        tail = ": " + self.mend if self.mend else ""
        return text[: max(most - len(tail) - 4, 0)] + " ..." + tail[:LONGEST_CELL_TEXT]

    def cell_text(self) -> CellText:
        """Return the short text a worksheet cell shows; it begins with the mark of its kind.

        Example:
            >>> InputError("it is 0", "type a number above 0", "Ratio B").cell_text()
            '! Ratio B: it is 0: type a number above 0'
        """
        return CellText(f"{self.mark} {self.said()}", self.let_go())

    def let_go(self) -> Self:
        """Return it without the steps that led to it, which hold all that was read on the way.

        What is kept of a refusal, or shown, is kept as long as what it stands in.
        """
        self.__traceback__ = self.__context__ = self.__cause__ = None
        return self


class InputError(PourbookError):
    """Something typed cannot be used as it stands, or not with what else is typed."""

    kind = "input"


class BlankError(InputError):
    """A needed entry is blank."""

    kind = "blank"


class MisreadError(InputError):
    """It cannot be read as what belongs there: a number, a date, a ratio, a unit."""

    kind = "misread"


class RangeError(InputError):
    """It is a number, and outside what it may be."""

    kind = "range"


class UnknownError(InputError):
    """It names what is nowhere: a product, a layer, a room, a word of a list."""

    kind = "unknown"


class TwiceError(InputError):
    """A name that has to stand once stands twice."""

    kind = "twice"


class WaitsError(InputError):
    """What cannot be worked out as long as another row is refused, which says itself why."""

    kind = "waits"
    mark = WAITS


class UsageError(PourbookError):
    """The command was called in a way it cannot serve, such as onto an existing file."""

    kind = "usage"
    exit_code = 2


class FileUnreadableError(PourbookError):
    """A file is no workbook, is damaged, is locked, or is too large to open safely."""

    kind = "file"
    exit_code = 3


class TemplateError(PourbookError):
    """A sheet template breaks the template language; only a developer meets this."""

    kind = "template"
    exit_code = 4
