"""The one small tree of errors: what is wrong, where, and how to mend it.

Contract: every refusal Pourbook makes is a :class:`PourbookError` worded for the estimator:
``what`` says what is wrong, ``mend`` how to put it right, ``where`` (when known) is a sheet and
cell, a column, a file and line, or a file. The exit code of the command line hangs on the class.
Nothing here imports anything else of Pourbook.
"""

from __future__ import annotations

LONGEST_CELL_TEXT = 250


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

    def __init__(self, what: str, mend: str = "", where: str = "") -> None:
        self.what = what
        self.mend = mend
        self.where = where
        super().__init__(what, mend, where)

    def __str__(self) -> str:
        """Return ``where: what: mend``, leaving out what is empty."""
        return ": ".join(part for part in (self.where, self.what, self.mend) if part)

    def at(self, where: str) -> PourbookError:
        """Return the same refusal with its place filled in."""
        return type(self)(self.what, self.mend, where)

    def cell_text(self) -> str:
        """Return the short text a worksheet cell shows; it always begins with ``!``.

        Example:
            >>> InputError("it is 0", "type a number above 0", "Ratio B").cell_text()
            '! Ratio B: it is 0: type a number above 0'
        """
        text = "! " + str(self)
        if len(text) <= LONGEST_CELL_TEXT:
            return text
        # What was typed may be long; how to mend it stays whole.
        tail = ": " + self.mend if self.mend else ""
        return text[: max(LONGEST_CELL_TEXT - len(tail) - 4, 2)] + " ..." + tail[:LONGEST_CELL_TEXT]


class InputError(PourbookError):
    """Something typed cannot be used as it stands: a length, a unit, a ratio, a name."""


class UsageError(PourbookError):
    """The command was called in a way it cannot serve, such as onto an existing file."""

    exit_code = 2


class FileUnreadableError(PourbookError):
    """A file is no workbook, is damaged, is locked, or is too large to open safely."""

    exit_code = 3


class TemplateError(PourbookError):
    """A sheet template breaks the template language; only a developer meets this."""

    exit_code = 4
