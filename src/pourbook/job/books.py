"""Stores computed values in a person's own workbook, and makes the bookkeeper's copy of it.

Contract: both change single parts of the package and nothing a person typed. :func:`store` puts
fresh values beside every formula. :func:`books_copy` then leaves only values where Pourbook's
functions stood, and no macros; the cell that tells whether functions are live says that there are
values only; every other formula stays live, so that a spreadsheet program
without Pourbook can recompute the copy from end to end. The copy says on its first sheet what it
is.
"""

from __future__ import annotations

import datetime as dt
import re
from pathlib import Path

from lxml import etree

from pourbook import __version__
from pourbook.cells import Address, Value
from pourbook.errors import UsageError
from pourbook.formats import files
from pourbook.formats.held import held
from pourbook.formats.ooxml import calc_chain, rewrite
from pourbook.formats.ooxml.copying import copied
from pourbook.hosts import headless
from pourbook.job import macros
from pourbook.workbook.build import print_ends
from pourbook.workbook.check.structure import OURS, refuse_unlike
from pourbook.workbook.layout.laid_out import Layout
from pourbook.workbook.read.calc_copy import as_ours
from pourbook.workbook.read.own_formulas import left_alone
from pourbook.workbook.read.read import COPY_MARK, KINDS, RawBook, formula_cells, read_book

_Q = "{http://schemas.openxmlformats.org/spreadsheetml/2006/main}"
_PROPERTIES = "docProps/custom.xml"
_CUSTOM = "{http://schemas.openxmlformats.org/officeDocument/2006/custom-properties}property"
_TEXT = "{http://schemas.openxmlformats.org/officeDocument/2006/docPropsVTypes}lpwstr"
_FORMAT_ID = "{D5CDD505-2E9C-101B-9397-08002B2CF9AE}"
_LIVE = re.compile(r"\bPB_LIVE\(", re.IGNORECASE)
VALUES_ONLY = "values only"
"""What a copy says in place of the version of its functions; the Checks sheet takes it for well."""
BLANK_ROWS = 5
"""How many blank rows of a table a copy shows below its last used one."""
NOTE_CELL = "D1"


def store(path: Path, target: Path, *, force: bool) -> int:
    """Recompute a job and put the values beside its formulas; names of Calc's become plain again.

    Args:
        path: The job workbook.
        target: The file to write; the job itself, if its values are to be renewed in place.
        force: Whether an existing file may be replaced.

    Returns:
        How many formula cells got a value.

    Raises:
        FileUnreadableError: The job cannot be read, or a file is open elsewhere.
        UsageError: The target exists, or ends otherwise than the job.
    """
    if target.suffix.lower() != path.suffix.lower():
        mend = f"name it {target.stem}{path.suffix}"
        raise UsageError(f"the job ends in {path.suffix}, its copy does not", mend, str(target))
    with held(target), as_ours(path) as source:
        book = read_book(source)
        layout = book.plan(*KINDS)
        refuse_unlike(layout, book)
        values = _worked_out(source, layout, book)

        def write(new: Path) -> None:
            rewrite.inject(source, new, values)

        files.replace_file(target, write, force=force)
    return len(values)


def _worked_out(path: Path, layout: Layout, book: RawBook) -> dict[Address, Value]:
    """Return what every formula gives but the estimator's own that are not ours to work out."""
    values = headless.engine("fast").recompute(path, formula_cells(book)).values
    alone = left_alone(layout, book, values)
    return {at: value for at, value in values.items() if at not in alone}


def books_copy(path: Path, target: Path, *, force: bool, made: dt.datetime) -> int:
    """Write the bookkeeper's copy of a job.

    Args:
        path: The job workbook.
        target: The copy to write, ending in ``.xlsx``.
        force: Whether an existing file may be replaced.
        made: Date and time the copy says it was made.

    Returns:
        How many functions became values.

    Raises:
        FileUnreadableError: The job cannot be read, or a file is open elsewhere.
        UsageError: The target exists or is the job itself.
    """
    if target.exists() and target.samefile(path):
        raise UsageError("the copy would replace the job", "give it another name", str(target))
    book = read_book(path)
    layout = book.plan(*KINDS)
    refuse_unlike(layout, book)
    first = layout.book.sheets[0].sheet
    values = _worked_out(path, layout, book)
    note = (
        f"Books copy of {path.name}, made {made:%Y-%m-%d %H:%M} by Pourbook {__version__}: what "
        "its functions gave are values here, every other formula is live. Change the job itself."
    )

    def shown(sheet: str, at: str) -> object:
        return values.get((sheet, at)) or book.sheets[sheet].value(at)

    ends = print_ends.print_ends(layout, shown)
    empty = print_ends.empty_tails(layout, shown, BLANK_ROWS)
    changed = 0

    def write(new: Path) -> None:
        nonlocal changed
        filled = new.with_name(new.stem + "-filled.xlsx")
        try:
            rewrite.inject(path, filled, values)
            changed = without_functions(filled, new, notes={first: note}, ends=ends, empty=empty)
        finally:
            filled.unlink(missing_ok=True)

    files.replace_file(target, write, force=force)
    return changed


def without_functions(
    source: Path,
    target: Path,
    notes: dict[str, str] | None = None,
    ends: dict[str, int] | None = None,
    empty: dict[str, set[int]] | None = None,
) -> int:
    """Copy a workbook, leaving values where Pourbook's functions stood.

    Args:
        source: A workbook with cached values.
        target: Where to write the copy.
        notes: A text for the note cell of a sheet, by its name.
        ends: The last row to print of a sheet, by its name; else all its print area.
        empty: The rows of a sheet to hide, by its name.

    Returns:
        How many formulas became values.
    """
    changed = 0
    parts = rewrite.sheet_parts(source)

    def edit(part: str, content: bytes) -> bytes | None:
        nonlocal changed
        plain = macros.without(part, content)
        kept = None if plain is None else calc_chain.without(part, plain)
        if kept is None:
            return None
        if part in parts:
            root = etree.fromstring(kept)
            changed += _take_out(root)
            note = (notes or {}).get(parts[part])
            if note:
                rewrite.put(root, {NOTE_CELL: note})
            print_ends.hidden(root, (empty or {}).get(parts[part], set()))
            return rewrite.written(root)
        if part == rewrite.BOOK and ends:
            root = etree.fromstring(kept)
            print_ends.shorten(root, ends)
            return rewrite.written(root)
        return _marked(kept) if part == _PROPERTIES and notes else kept

    copied(source, target, edit)
    return changed


def _take_out(root: etree._Element) -> int:
    changed = 0
    for cell in list(root.iter(_Q + "c")):
        formula = cell.find(_Q + "f")
        if formula is not None and OURS.search(formula.text or ""):
            cell.remove(formula)
            changed += 1
            if _LIVE.search(formula.text or ""):
                rewrite.put(root, {str(cell.get("r")): VALUES_ONLY})
    return changed


def _marked(content: bytes) -> bytes:
    """Mark the file as a copy, so that nobody checks or quotes from it by mistake."""
    root = etree.fromstring(content)
    numbers = [int(p.get("pid", "1")) for p in root.iter(_CUSTOM)]
    mark = etree.SubElement(root, _CUSTOM, fmtid=_FORMAT_ID, name=COPY_MARK)
    mark.set("pid", str(max(numbers, default=1) + 1))
    etree.SubElement(mark, _TEXT).text = "books"
    return rewrite.written(root)
