"""What a check reports: one finding a fault, in the estimator's words.

Contract: the ids in :data:`IDS` are stable, and so are the ids of tables, fields and refusals:
scripts may rely on them, never on the words.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict

from pourbook.errors import EntryAt
from pourbook.records import dataclass

IDS = {
    "package.macros": "macros that are not Pourbook's",
    "package.macros.old": "macros of another Pourbook, or changed ones",
    "package.macros.compiled": "Pourbook's macros, with code that a program compiled from them",
    "package.links": "what reaches other workbooks, other programs or the network",
    "package.parts": "something inside that no workbook of Pourbook holds",
    "package.dates": "days that count from 1904",
    "package.settings": "options by which it shows other figures than it should",
    "structure.version": "made by another version of Pourbook",
    "structure.sheet": "a sheet is missing or renamed",
    "structure.hidden": "a sheet is hidden",
    "structure.moved": "rows or columns were inserted or deleted",
    "structure.formula": "a formula was typed over or changed",
    "structure.heading": "a heading or a fixed cell was changed",
    "structure.words": "words that explain or warn were changed",
    "structure.below": "entries below the last row of a table",
    "structure.stray": "something typed where nothing belongs",
    "appearance.lies": "what prints, and looks otherwise than it is",
    "appearance.look": "what looks otherwise than it is, or lacks what guards it",
    "own.units": "an own formula that puts two units together",
    "entry.missing": "a needed entry is blank",
    "entry.text": "text that is too long or begins with !",
    "entry.number": "no number, or one out of range",
    "entry.measure": "a measure that cannot be read",
    "entry.ratio": "a ratio that cannot be read",
    "entry.choice": "a word that is not in the list",
    "entry.date": "no date",
    "entry.error": "an error value in an entry",
    "recompute.novalue": "a formula without a stored value",
    "recompute.differs": "a stored value that is not what the formula gives",
    "engines.disagree": "the two engines give different values",
    "function.failed": "a worksheet function failed inside",
    "job.row": "a row that cannot be worked out",
    "job.error": "a formula that gives an error value",
    "job.look": "what can be worked out and may not be meant, and nobody has looked at yet",
    "job.proof": "a test that fails, or that was made too early",
    "job.check": "a check of the job says CHECK",
    "quoted.changed": "entries changed since the quote was accepted",
    "quoted.sealed": "a figure of the accepted quote was changed by hand",
    "closed.sealed": "a figure of a closed settlement was changed by hand",
    "settle.state": "a job that cannot be settled yet",
    "archive.twice": "a batch or receipt line that stands in two jobs",
    "archive.left": "a file left out of a roll-up",
    "archive.unsettled": "a job in a roll-up that is not settled",
    "look.closed": "a look that was closed with initials and a reason",
    "entry.worked": "a formula in a cell for typing: it counts by what it gives",
}
LOOK = "job.look"
LOOKS = {LOOK, "appearance.look", "structure.words", "own.units"}
"""What is to be looked at, and need not be mended."""
NOTES = {"look.closed", "entry.worked", "package.macros.compiled"}
"""What is said, and is neither to mend nor to look at."""


@dataclass(frozen=True)
class Finding:
    """One fault: which kind, where, what, and how to mend it.

    ``refusal`` is the kind of the refusal behind it (``PourbookError.kind``), ``entry`` the entry
    it stands at, where it stands at one.
    """

    id: str
    file: str
    sheet: str
    cell: str
    what: str
    mend: str
    refusal: str = ""
    entry: EntryAt | None = None

    @property
    def place(self) -> str:
        """Return sheet and cell as a person reads them."""
        return f"{self.sheet}!{self.cell}" if self.cell else self.sheet

    def as_json(self) -> dict[str, object]:
        """Return the finding for ``--json``; a row of a table is counted from 1.

        Example:
            >>> Finding("job.row", "", "", "", "", "", "range", EntryAt("rooms", "a", 2)).as_json()[
            ...     "entry"
            ... ]
            {'table': 'rooms', 'field': 'a', 'row': 3}
        """
        at = self.entry and {
            "table": self.entry.table,
            "field": self.entry.field,
            "row": (self.entry.index or 0) + 1,
        }
        return {**asdict(self), "entry": at}


def counted(findings: Sequence[Finding]) -> str:
    """Return how many are to fix, and apart from them how many only to look at.

    Example:
        >>> counted([Finding("job.look", "", "", "", "", ""), Finding("job.row", *[""] * 5)])
        '1 to fix, 1 to look at'
    """
    looks = sum(f.id in LOOKS for f in findings)
    faults = len(findings) - looks
    said = [f"{faults} to fix"] if faults else []
    return ", ".join([*said, f"{looks} to look at"] if looks else said)
