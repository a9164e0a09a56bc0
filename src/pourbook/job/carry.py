"""Carries the entries of a job into a new one, whatever version of Pourbook made it.

Contract: :func:`read_entries` finds them by the marks the file itself carries, never by where this
version would put them, and refuses a file whose headings are no longer where its marks say. The
old file is only read. What has no place in the new job is named, not dropped in silence.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from pourbook.cells import Value, is_blank, text
from pourbook.errors import FileUnreadableError
from pourbook.job.retired import RETIRED, keyed, renewed, reworded
from pourbook.workbook.check.structure import as_offered, check_structure, has_other_layout
from pourbook.workbook.layout import marks
from pourbook.workbook.layout.laid_out import PlannedCell
from pourbook.workbook.layout.lay_out import lay_out
from pourbook.workbook.layout.marks import IDENTITY_MARK
from pourbook.workbook.read.read import RawBook, read_book
from pourbook.workbook.read.sheet_lines import RawCell

Entries = dict[tuple[str, str, int], object]
_BY_HAND = "make a new job with: pourbook new, and type the entries over"


@dataclass
class Carried:
    """The entries of a job.

    Attributes:
        system: The measure system of the job; a bare number means nothing without it.
        rows: How many rows of pieces the job has.
        identity: The mark that tells it from every other job; blank in an old one.
        entries: What is typed where, by the ids of this version; a blank is None.
        lost: What has no place in this version, as ``Sheet!A1: 'what stands there'``.
        worked: Entries that were formulas; their values are carried.
    """

    system: str
    rows: int
    identity: str = ""
    entries: Entries = field(default_factory=dict)
    lost: list[str] = field(default_factory=list)
    worked: list[str] = field(default_factory=list)

    @property
    def filled(self) -> int:
        """Return how many entries hold something."""
        return sum(value is not None for value in self.entries.values())


def read_entries(path: Path, pieces: int | None = None, kinds: Sequence[str] = ("job",)) -> Carried:
    """Read the entries of a workbook of any version.

    Args:
        path: The job.
        pieces: Rows of pieces the new one is to have; those of the old one if left out.
        kinds: The books that will do; a job unless named.

    Raises:
        FileUnreadableError: It is no job, carries no marks, or rows or columns were moved in it.
    """
    book = read_book(path)
    old = book.plan(*kinds)  # refuses what is none
    blocks = _places(book)
    found = Carried(old.system.name, old.pieces, book.marks.get(IDENTITY_MARK, ""))
    layout = lay_out(old.book.book, found.system, pieces or found.rows)
    at_home = {} if has_other_layout(old, book) else old.by_address
    known = layout.entry_at.keys() | layout.kept_at.keys()
    retired: dict[tuple[str, str, int], Value] = {}
    for block in blocks:
        for place in block.places:
            for index in range(place.count):
                cell = place.cell(index)
                raw = book.sheets[place.sheet].cells.get(cell)
                value: Value = raw.value if raw else None
                key = (place.block, place.field, index)
                if _left_to_offer(at_home.get((place.sheet, cell)), raw, layout.entry_at.get(key)):
                    continue
                if key in known:
                    found.entries[key] = None if is_blank(value) else reworded(key[:2], value)
                elif (place.block, place.field) in RETIRED:
                    retired[key] = value
                elif not is_blank(value):
                    found.lost.append(f"{place.sheet}!{cell}: '{text(value)}'")
                if raw and raw.formula:
                    found.worked.append(f"{place.sheet}!{cell}")
    found.entries |= renewed(retired)
    found.entries |= keyed(found.entries)
    if not has_other_layout(old, book):
        outside = {"structure.below", "structure.stray"}
        found.lost += [
            f"{f.place}: {f.what}" for f in check_structure(old, book) if f.id in outside
        ]
    return found


def _left_to_offer(old: PlannedCell | None, raw: RawCell | None, new: PlannedCell | None) -> bool:
    """Return whether nobody decided on a cell: it holds what is offered, or was offered nothing."""
    if old is not None and old.offer:
        return as_offered(old, raw)
    return (raw is None or is_blank(raw.value)) and new is not None and bool(new.offer)


def _places(book: RawBook) -> list[marks.MarkedBlock]:
    where = str(book.path)
    try:
        blocks = marks.places(book.marks)
    except ValueError as error:
        raise FileUnreadableError(f"its marks are damaged ({error})", _BY_HAND, where) from error
    if not blocks:
        raise FileUnreadableError("it does not say where its entries stand", _BY_HAND, where)
    for sheet in _moved(book, blocks):
        what = f"the headings of the sheet '{sheet}' are not where Pourbook put them"
        mend = "undo what was inserted, deleted or renamed there and save it, then try again"
        raise FileUnreadableError(what, mend, where)
    return blocks


def _moved(book: RawBook, blocks: list[marks.MarkedBlock]) -> Iterator[str]:
    for block in blocks:
        sheet = book.sheets.get(block.sheet)
        if sheet is None or block.checksum != marks.checksum(
            sheet.value(place.heading) for place in block.places
        ):
            yield block.sheet
