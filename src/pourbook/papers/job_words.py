"""What papers take from a checked job: names, money, dates and the option that is offered.

Contract: :class:`JobWords` gives values as they were worked out anew, in words a person reads;
it refuses nothing and works nothing out that the job does not show.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator

from pourbook.cells import is_blank, is_refused, text
from pourbook.dates import from_serial
from pourbook.papers.page import Amount
from pourbook.tables.layers import OPTIONS
from pourbook.workbook.check.check import Checked
from pourbook.workbook.read.named import NamedCells


class JobWords(NamedCells):
    """One job, read for its papers."""

    def __init__(self, checked: Checked) -> None:
        super().__init__(checked.plan, checked.book, checked.values)

    @property
    def name(self) -> str:
        """Return the job's name; that of its file where it has none."""
        return self.words("start", "job") or self.book.path.stem

    @property
    def paper(self) -> str:
        """Return the paper of its measure system."""
        return "letter" if self.plan.system.name == "us" else "A4"

    @property
    def offered(self) -> str:
        """Return the letter of the option to offer."""
        return self.words("rates", "option").upper()

    def unit(self, role: str) -> str:
        """Return a unit of the job's system by its role."""
        return str(getattr(self.plan.system, role))

    def money(self, value: float) -> str:
        """Return an amount with the currency of the job."""
        return f"{value:,.2f} {self.words('money', 'currency')}"

    def amount(self, block: str, name: str, index: int = 0) -> Amount | str:
        """Return a number in the format of its field; what stands there else."""
        item = self.plan.block(block).field(name)
        found = self.number_or_none(block, name, index)
        if found is None:
            said = self.value(block, name, index)
            return "" if is_blank(said) or is_refused(said) else text(said)
        return Amount(found, item.format if item.format not in {"", "text"} else "#,##0.00")

    def day(self, block: str, name: str, index: int = 0) -> dt.datetime | None:
        """Return a day, or a day and time; None where there is none."""
        found = self.number_or_none(block, name, index)
        return None if found is None else from_serial(found)

    def options(self) -> Iterator[tuple[int, str]]:
        """Return place and letter of every option whose price may stand on a quote."""
        for place, letter in enumerate(OPTIONS):
            if self.number_or_none("quote_price", "gross", place) is not None:
                yield place, letter

    def called(self, place: int) -> str:
        """Return what a client reads for an option: the words of its finish, or its name."""
        finish = self.words("chosen", f"finish_{OPTIONS[place].lower()}")
        for row in self.rows("finishes", "finish"):
            if finish and self.words("finishes", "finish", row).casefold() == finish.casefold():
                return self.words("finishes", "reads", row) or finish
        return finish or f"Option {OPTIONS[place]}"

    def layers(self, letter: str) -> Iterator[int]:
        """Return the rows of Layers of an option, from below."""
        for row in self.rows("layers", "layer"):
            if self.words("layers", "option", row).upper() == letter:
                yield row


def on(moment: dt.datetime | None) -> str:
    """Return a day as all papers write it.

    Example:
        >>> on(dt.datetime(2027, 1, 11, 8, 0))
        'Mon 11 Jan 2027'
    """
    return f"{moment:%a} {moment.day} {moment:%b %Y}" if moment else ""


def at(moment: dt.datetime) -> str:
    """Return the time of a day.

    Example:
        >>> at(dt.datetime(2027, 1, 11, 8, 5))
        '08:05'
    """
    return f"{moment:%H:%M}"
