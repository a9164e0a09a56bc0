"""Carries a workbook over to the templates of this version, in its place.

Contract: :func:`upgrade` leaves the original beside the new file, under a name that says so, before
it touches anything. What the new templates have no place for is listed, never dropped in silence.
A workbook of the newest templates stays as it is. Nothing in this project makes it necessary: a
job of any release is checked, shown, settled and rolled up by its own templates.
"""

from __future__ import annotations

import itertools
import shutil
import zipfile
from collections.abc import Callable, Iterator
from pathlib import Path

from pourbook.cells import is_blank, text
from pourbook.formats import files
from pourbook.formats.held import held
from pourbook.functions.own.entered import STEPS_ALONE
from pourbook.functions.site import survey
from pourbook.job import carry, make
from pourbook.records import dataclass
from pourbook.tables.site import OTHER_STEPS
from pourbook.trade.batch.pieces import Going
from pourbook.workbook.check.structure import has_other_layout
from pourbook.workbook.layout.laid_out import Layout
from pourbook.workbook.read.read import RawBook, read_book
from pourbook.workbook.template import released

BOOKS = ("job", "shop")


@dataclass(frozen=True)
class Upgraded:
    """A workbook that was carried over.

    Attributes:
        original: Where the workbook is kept as it was.
        filled: How many entries came over.
        lost: What stays in the original alone, as ``Sheet!A1: 'what stands there'``.
        worked: Entries that were formulas; their values came over.
    """

    original: Path
    filled: int
    lost: tuple[str, ...]
    worked: tuple[str, ...]


def upgrade(path: Path, step: Callable[[str], None] = lambda _: None) -> Upgraded | None:
    """Carry a job or a shop over to the templates of this version.

    Args:
        path: The workbook; it is replaced.
        step: Told of each step, for a progress display.

    Returns:
        What was done, or None if it is of this version already.

    Raises:
        FileUnreadableError: It is no such workbook, is open elsewhere, or rows or columns were
            moved in it.
    """
    with held(path):
        files.refuse_unless_free(path, force=True)
        book = read_book(path)
        layout = book.plan(*BOOKS)
        if layout.version == released.CURRENT and not has_other_layout(layout, book):
            return None
        carried = carry.read_entries(path, kinds=BOOKS)
        lost = (*carried.lost, *_on_open_sheets(layout, book))
        original = _free_name(path)
        files.replace_file(original, lambda new: _copy(path, new), force=False)
        make.make(
            path,
            carried.system,
            _planned_as_before(carried.entries, layout),
            book=layout.book.book,
            pieces=carried.rows,
            force=True,
            identity=carried.identity,
            step=step,
        )
    return Upgraded(original, carried.filled, lost, tuple(carried.worked))


def _planned_as_before(entries: make.Entries, layout: Layout) -> make.Entries:
    """Return the entries with what plans and prices a job of templates 1 as it was."""
    if layout.book.book != "job" or layout.version != released.FIRST:
        return entries
    found = dict(entries) | {
        ("site", "going", 0): Going.FEWEST.value,
        ("rates", "paid_by", 0): STEPS_ALONE,
        ("rates", "least", 0): None,
        ("rates", "charge", 0): None,  # blank is the packs opened, as it always was
        **{("other_steps", name, 0): None for name in OTHER_STEPS},
    }
    tests = {name.rpartition("(")[2].rstrip(")"): name for name in survey.TESTS}
    for block, column, row in entries:
        if (block, column) == ("doing", "name") and entries[block, column, row] is not None:
            found["doing", "share", row] = 1.0
            found["doing", "carrying", row] = 0.0
        if (block, column) == ("survey", "substrate") and entries[block, column, row] is not None:
            found["survey", "soak", row] = "0 mL/m²"  # take-up stood on Layers alone
        if (block, column) == ("readings", "test"):
            typed = entries[block, column, row]
            found[block, column, row] = tests.get(str(typed).strip().upper(), typed)
    return found


def _copy(path: Path, new: Path) -> None:
    shutil.copyfile(path, new)


def _free_name(path: Path) -> Path:
    names = ("before upgrade", *(f"before upgrade {n}" for n in range(2, 1000)))
    found = (path.with_name(f"{path.stem} ({name}){path.suffix}") for name in names)
    return next(itertools.filterfalse(Path.exists, found))


def _on_open_sheets(layout: Layout, book: RawBook) -> Iterator[str]:
    """Give what a person noted on sheets that Pourbook leaves open."""
    for declared in layout.book.sheets:
        sheet = book.sheets.get(declared.sheet)
        if declared.kind != "open" or sheet is None:
            continue
        for address, raw in sheet.cells.items():
            own = (declared.sheet, address) not in layout.by_address
            if own and (raw.formula or not is_blank(raw.value)):
                yield f"{declared.sheet}!{address}: '{raw.formula or text(raw.value)}'"
    with zipfile.ZipFile(book.path) as package:
        pictures = sum(name.startswith("xl/media/") for name in package.namelist())
    if pictures:
        yield f"{pictures} picture{'s' * (pictures > 1)}: copy them over, to the sheet Photos"
