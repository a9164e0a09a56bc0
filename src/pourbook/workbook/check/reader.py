"""Reads a checked workbook by block and field, and refuses what a command must not build on.

Contract: :class:`Reader` gives values as recomputed, and entries as they stand in the file.
:meth:`Reader.refuse_faults` names the first fault by sheet and cell; nothing is changed.
"""

from __future__ import annotations

from collections.abc import Iterable

from pourbook.cells import is_refused, text, unmarked
from pourbook.errors import InputError
from pourbook.workbook.check.check import Checked
from pourbook.workbook.read.named import NamedCells

_HARMLESS = ("package.", "recompute.", "structure.stray", "structure.hidden", "job.check")
_ALL = ("structure.sheet", "structure.moved", "structure.version")


class Reader(NamedCells):
    """The values of one checked workbook by block, field and row (0 in a form)."""

    def __init__(self, checked: Checked) -> None:
        super().__init__(checked.plan, checked.book, checked.values)
        self.checked = checked
        self.file = checked.book.path.name

    def text(self, block: str, name: str, index: int = 0) -> str:
        """Return what a cell holds as a text; one of a list of words as the list writes it."""
        return text(self.plan.block(block).field(name).listed(self.value(block, name, index)))

    def refuse_faults(self, blocks: Iterable[str], statuses: Iterable[tuple[str, str]]) -> None:
        """Refuse a workbook with a fault in some blocks.

        Args:
            blocks: The blocks that are about to be read.
            statuses: Block and field of the columns that say what is wrong with a row.

        Raises:
            InputError: Names the first fault, and how many more there are.
        """
        chosen = set(blocks)
        faults: list[InputError] = []
        for finding in self.checked.findings:
            if finding.id.startswith(_HARMLESS):
                continue
            cell = self.plan.by_address.get((finding.sheet, finding.cell))
            here = cell is not None and cell.block in chosen
            if cell is not None and here and finding.id == "entry.missing":
                here = self.plan.block(cell.block).kind == "table"  # a form may be filled in later
            if here or finding.id in _ALL:
                where = ", ".join(part for part in (self.file, finding.place) if part)
                faults.append(InputError(finding.what, finding.mend, where))
        told = {fault.where for fault in faults}
        for block, name in statuses:
            for index in range(self.plan.block(block).rows):
                said = self.value(block, name, index)
                where = self.place(block, name, index)
                if is_refused(said) and where not in told:
                    mend = "fix the row; pourbook check names every fault"
                    faults.append(InputError(unmarked(said), mend, where))
        if faults:
            first, more = faults[0], len(faults) - 1
            mend = f"{first.mend.rstrip('.')} (and {more} more to fix)" if more else first.mend
            raise InputError(first.what, mend, first.where)
