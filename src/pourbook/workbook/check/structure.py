"""Compares a workbook with the template it was made from: sheets, headings, formulas, strays.

Contract: formulas are compared by their meaning-bearing tokens, so a spreadsheet program may
respace or recase them; a formula that was typed over is named with its cell.
"""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterator
from functools import lru_cache

from pourbook import __version__
from pourbook.cells import Value, is_blank, text
from pourbook.errors import FileUnreadableError
from pourbook.formats.ooxml.addresses import split
from pourbook.formats.ooxml.lines import SheetLine, lines_of
from pourbook.workbook.check.findings import Finding
from pourbook.workbook.check.planned_rows import as_planned, odd_lines
from pourbook.workbook.layout import marks
from pourbook.workbook.layout.laid_out import SAID, Layout, PlannedCell
from pourbook.workbook.read.copy_note import is_copy_note
from pourbook.workbook.read.read import RawBook, RawSheet
from pourbook.workbook.read.settings import reaches_out
from pourbook.workbook.read.sheet_lines import RawCell

MOVED = 12
MOST_SAID = 80
_KINDS = {"fixed": "fixed cell"} | dict.fromkeys(SAID, "text")
OURS = re.compile(r"\bPB_[A-Z]+\(", re.IGNORECASE)
"""A call of one of Pourbook's functions."""
_COPY = "and copy the entries over"
_REFRESH = f"make a new job with: pourbook new, {_COPY}"


_ODD_MENDS = {
    "macros": "save it without macros, unless you know who wrote them",
    "macros.old": "renew them: pourbook addin excel refresh {file}",
    "macros.compiled": "only their text was read; to have no more: pourbook addin excel refresh "
    "{file}",
    "links": "break the links under Data, Edit links, or take it out",
    "parts": "take it out, unless you know what it is, or copy the entries over: pourbook new",
    "dates": "copy the entries over: pourbook new, and type the dates anew",
    "settings": "put the options for calculation back, then save it",
}
"""How what no workbook of ours holds is mended, by its kind."""


def check_structure(plan: Layout, book: RawBook) -> Iterator[Finding]:
    """Report where a workbook no longer is what its template makes."""
    file = book.path.name
    version = version_finding(plan, book)
    if version is not None:
        yield version
    for one in book.odd:
        mend = _ODD_MENDS[one.kind].format(file=file)
        yield Finding(f"package.{one.kind}", file, "", "", one.what, mend)
    odd = {name: odd_lines(plan, sheet) for name, sheet in book.sheets.items()}
    for name, lines in odd.items():
        yield from _reaching(plan, book, name, lines)
    if has_other_layout(plan, book):
        return
    yield from _sheets(plan, book)
    for declared in plan.book.sheets:
        sheet = book.sheets.get(declared.sheet)
        if sheet is None:
            continue
        yield from _one_sheet(plan, book, sheet, odd[declared.sheet])
        if declared.kind != "open":
            yield from _strays(plan, book, sheet, odd[declared.sheet])


def has_other_layout(plan: Layout, book: RawBook) -> bool:
    """Return whether the cells of a workbook stand elsewhere than its templates have them."""
    return book.marks.get(marks.LAYOUT) != plan.fingerprint


def version_finding(plan: Layout, book: RawBook) -> Finding | None:
    """Return what to do with a workbook that no templates known here made; None for any other."""
    version, file = book.marks.get("pourbook version", ""), book.path.name
    if not has_other_layout(plan, book):
        return None
    what = f"made by Pourbook {version or '?'}, this is {__version__}"
    what += "; its cells stand elsewhere, so nothing more of it was read"
    mend = f"carry it over: pourbook upgrade {file}; the original is kept beside it"
    if not any(name.startswith(marks.AT) for name in book.marks):
        mend = f"make a new job with: pourbook new NEW{book.path.suffix}, {_COPY}"
    return Finding("structure.version", file, "", "", what, mend)


def refuse_other_layout(plan: Layout, book: RawBook) -> None:
    """Refuse to read or change a workbook whose cells stand elsewhere than this version has them.

    Raises:
        FileUnreadableError: It comes from such a version; says which, and what to do.
    """
    found = version_finding(plan, book) if has_other_layout(plan, book) else None
    if found is not None:
        raise FileUnreadableError(found.what, found.mend, str(book.path))


def refuse_dead_tables(plan: Layout, book: RawBook) -> None:
    """Refuse a workbook in which a table is no longer filled by Pourbook's function.

    Numbers another program left there look like any others, and would be taken for worked out.

    Raises:
        FileUnreadableError: Says how many tables, where the first stands, and what to do.
    """
    leads = [c for c in plan.cells if c.array and c.fill]
    dead = []
    for cell in leads:
        sheet = book.sheets.get(cell.sheet)
        raw = sheet.cells.get(cell.address) if sheet else None
        if raw is None or not same_formula(raw.formula, cell.formula) or raw.array != cell.array:
            dead.append(cell)
    if not dead:
        return
    first, file = dead[0], book.path.name
    others = f", and {len(dead) - 1} more tables" if len(dead) > 1 else ""
    title = plan.text(plan.block(first.block).title) or first.sheet
    what = (
        f"{first.sheet}!{first.address}: '{title}' is not filled by Pourbook's function{others}; "
        "another program may have left only values there"
    )
    mend = (
        f"take the file as it was before, or a new job with its entries: "
        f"pourbook new NEW{book.path.suffix} --from {file}"
    )
    raise FileUnreadableError(what, mend, str(book.path))


def refuse_unlike(plan: Layout, book: RawBook) -> None:
    """Refuse a workbook whose cells or functions are not those of its templates.

    Raises:
        FileUnreadableError: See :func:`refuse_other_layout` and :func:`refuse_dead_tables`.
    """
    refuse_other_layout(plan, book)
    refuse_dead_tables(plan, book)


def _reaching(
    plan: Layout, book: RawBook, sheet: str, odd: list[SheetLine[RawCell]]
) -> Iterator[Finding]:
    """Report formulas of one's own that ask another file, another program or the network."""
    for address, cell in (one for line in odd for one in line.cells.items()):
        if not cell.formula:
            continue
        planned = plan.by_address.get((sheet, address))
        ours = planned is not None and (planned.formula or planned.fill)
        if not ours and reaches_out(cell.formula):
            what = f"its formula reaches outside the workbook: {cell.formula[:60]}"
            mend = "type what it gives instead"
            yield Finding("package.links", book.path.name, sheet, address, what, mend)


def _sheets(plan: Layout, book: RawBook) -> Iterator[Finding]:
    names = [s.sheet for s in plan.book.sheets]
    extra = [n for n in book.sheets if n not in names]
    for name in names:
        sheet = book.sheets.get(name)
        if sheet is None:
            mend = f"a deleted sheet does not come back: make the job anew, {_COPY}"
            if extra:
                mend = f"if '{extra[0]}' is it, name it '{name}' again; else {_REFRESH}"
            yield Finding(
                "structure.sheet",
                book.path.name,
                name,
                "",
                f"the sheet '{name}' is not there",
                mend,
            )
        elif sheet.hidden:
            mend = "unhide it: nothing in a job is hidden"
            yield Finding("structure.hidden", book.path.name, name, "", "it is hidden", mend)


def _one_sheet(
    plan: Layout, book: RawBook, sheet: RawSheet, odd: list[SheetLine[RawCell]]
) -> Iterator[Finding]:
    rows = plan.in_row[sheet.name]
    doubtful = {line.number for line in odd} & rows.keys()
    doubtful |= plan.never_blank[sheet.name] - {line.number for line in lines_of(sheet.cells)}
    unlike = [
        cell
        for number, planned in rows.items()
        if number in doubtful
        for cell in planned.values()
        if not as_planned(sheet.cells.get(cell.address), cell)
    ]
    found = [f for cell in unlike for f in _one_cell(plan, book, sheet, cell)]
    headings = sum(f.id == "structure.heading" for f in found)
    if headings >= MOVED:
        what = f"{len(found)} cells are not where they belong"
        mend = "rows or columns were inserted or deleted here: undo it, or make the job anew"
        yield Finding("structure.moved", book.path.name, sheet.name, "", what, mend)
        return
    yield from found


def _one_cell(plan: Layout, book: RawBook, sheet: RawSheet, cell: PlannedCell) -> Iterator[Finding]:
    """Report a cell that is not as planned to the letter, unless it says the same."""
    raw = sheet.cells.get(cell.address)
    file = book.path.name
    if cell.formula:
        formula = raw.formula if raw else ""
        if not formula and book.copy_of and OURS.search(cell.formula):
            return  # a books copy holds what the function gave
        if same_formula(formula, cell.formula) and (raw is None or _same_array(raw, cell)):
            return
        label = describe(plan, cell)
        if not formula:
            shown = text(raw.value) if raw else ""
            what = f"the formula of {label} was typed over" + (f" with '{shown}'" if shown else "")
        else:
            what = f"the formula of {label} was changed to {formula[:80]}"
        alone = cell.array in {"", cell.address}
        mend = f"type it again: {cell.formula}" if alone else _array_mend(cell)
        yield Finding("structure.formula", file, sheet.name, cell.address, what, mend)
    elif cell.fill:
        what = f"{describe(plan, cell)} was typed over with {raw.formula[:80] if raw else ''}"
        lead = next(c for c in plan.cells if c.array and c.block == cell.block)
        yield Finding("structure.formula", file, sheet.name, cell.address, what, _array_mend(lead))
    else:
        now: Value = raw.value if raw else None
        made_by = book.marks.get("pourbook version", __version__)
        was = text(cell.value).replace(__version__, made_by)
        if made_by != __version__ and text(now) == was != text(cell.value):
            return  # a job of another version says so itself; that is a finding of its own
        kind = _KINDS.get(cell.role, "heading")
        what = f"the {kind} '{_short(cell.value)}' was changed to '{_short(now)}'"
        if text(now) == text(cell.value) or _same_number(now, cell.value):
            if isinstance(now, str) == isinstance(cell.value, str):
                return
            what = f"the {kind} '{_short(cell.value)}' is stored as {_kind(now)}"
        mend = f"type it again: {text(cell.value)}"
        prints = any(s.sheet == sheet.name and s.kind == "print" for s in plan.book.sheets)
        told = "structure.words" if cell.role in SAID and not prints else "structure.heading"
        yield Finding(told, file, sheet.name, cell.address, what, mend)


def _short(value: Value) -> str:
    """Return the words of a cell, the beginning of long ones."""
    words = text(value)
    return words if len(words) <= MOST_SAID else f"{words[:MOST_SAID]}..."


def _same_array(raw: RawCell, cell: PlannedCell) -> bool:
    """Return whether a formula fills the cells it should; an array of one cell may be none."""
    return raw.array == cell.array or (not raw.array and cell.array == cell.address)


def _same_number(one: Value, two: Value) -> bool:
    numbers = isinstance(one, int | float) and isinstance(two, int | float)
    return numbers and one == two


def _kind(value: Value) -> str:
    return "text, which sums leave out" if isinstance(value, str) else "a number"


def _array_mend(cell: PlannedCell) -> str:
    return f"clear {cell.array} and type {cell.formula} into it as one array formula"


def describe(plan: Layout, cell: PlannedCell) -> str:
    """Return what a cell holds, in the words of the sheet.

    Example:
        >>> from pourbook.workbook.layout.lay_out import lay_out
        >>> job = lay_out("job", "us", 20)
        >>> describe(job, job.cell("rooms", "top", 2))
        "'Top' in row 3 of Pieces"
    """
    block = plan.block(cell.block) if cell.block else None
    name = plan.text(cell.field.header) if cell.field else ""
    if block is None:
        return "the overall check" if cell.role == "check" else f"the {cell.role} of the sheet"
    if block.kind == "checks":
        return f"the check '{block.checks[cell.index].label}'"
    title = plan.text(block.title) or cell.sheet
    if not name:
        return f"the {cell.role} of {title}"
    if block.kind == "cards":
        return f"'{name}' on card {cell.index + 1}"
    if block.kind == "table":
        return f"'{name}' in row {cell.index + 1} of {title}"
    if block.kind == "lines":
        return f"'{name}', {block.instances[cell.index]}, of {title}"
    return f"'{name}' of {title}"


def _strays(
    plan: Layout, book: RawBook, sheet: RawSheet, odd: list[SheetLine[RawCell]]
) -> Iterator[Finding]:
    """Report content the template knows nothing of, and entries below a table's last row."""
    file = book.path.name
    below: dict[str, list[str]] = defaultdict(list)
    rows = plan.in_row[sheet.name]
    for number, address, raw in ((line.number, *one) for line in odd for one in line.cells.items()):
        if address in rows.get(number, ()) or (is_blank(raw.value) and not raw.formula):
            continue
        if book.copy_of and is_copy_note(raw.value):
            continue
        row, column = split(address)
        table = _table_above(plan, sheet.name, row, column)
        if table:
            below[table].append(address)
        else:
            mend = "move it to the Scratch sheet, or delete it"
            shown = text(raw.value) or raw.formula
            what = f"'{shown[:40]}' is read by nothing"
            yield Finding("structure.stray", file, sheet.name, address, what, mend)
    for name, addresses in below.items():
        block = plan.block(name)
        long = {split(a)[0] for a in addresses}
        stand = f"{len(long)} rows stand" if len(long) > 1 else "1 row stands"
        table = f"the {block.rows} rows of {plan.text(block.title)}"
        what = f"{stand} below {table} and will count for nothing"
        mend = "shorten the list"
        if block.grows:
            wanted = block.rows + len(long)
            mend = f"make a larger job: pourbook new JOB.xlsx --pieces {wanted}"
            if plan.book.book == "shop":
                mend = f"make a larger shop workbook: pourbook new-shop SHOP.xlsx --rows {wanted}"
        first = min(addresses, key=split)
        yield Finding("structure.below", file, sheet.name, first, what, mend)


def _table_above(plan: Layout, sheet: str, row: int, column: int) -> str:
    """Return the last table of a sheet that ends above a cell and is as wide, or nothing."""
    found = ""
    for block in plan.book.sheets[[s.sheet for s in plan.book.sheets].index(sheet)].blocks:
        place = plan.places[block.id]
        entries = len(block.columns)
        if block.kind == "table" and place.last < row and 0 <= column - place.left < entries:
            found = block.id
    return found


def as_offered(cell: PlannedCell, raw: RawCell | None) -> bool:
    """Return whether an entry still holds the formula the template offers."""
    return bool(cell.offer) and raw is not None and same_formula(raw.formula, cell.offer)


def same_formula(one: str, other: str) -> bool:
    """Return whether two formulas say the same: as texts first, for most are as we wrote them."""
    return one == other or tokens(one) == tokens(other)


@lru_cache(maxsize=8192)
def tokens(formula: str) -> tuple[str, ...]:
    """Return what a formula says, whatever its spaces, capitals and quotes around sheet names.

    Example:
        >>> tokens("=sum( Rooms!A1 , 2)") == tokens("=SUM('Rooms'!A1,2)")
        True
    """
    if not formula:
        return ()
    from openpyxl.formula.tokenizer import Tokenizer, TokenizerError  # noqa: PLC0415 - 0.1 s, seldom

    found = []
    try:
        items = Tokenizer(formula).items
    except (TokenizerError, IndexError):
        return (formula,)
    for token in items:
        if token.type == "WHITE-SPACE":
            continue
        value = token.value
        if token.subtype != "TEXT":
            value = value.upper().replace("_XLFN.", "").replace("_XLL.", "").replace("'", "")
        found.append(value)
    # LibreOffice writes the words TRUE and FALSE as functions.
    text = "\0".join(found)
    for word in ("TRUE", "FALSE"):
        text = text.replace(f"{word}(\0)", word)
    return tuple(text.split("\0"))
