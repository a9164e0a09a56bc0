"""What looks otherwise than it is: formats that hide a value, hidden rows, white on white.

Contract: pure; one finding a sheet and kind, at the first cell. On a sheet to hand over it is a
fault, for a person reads what is printed; elsewhere it is to be looked at. What the template itself
makes is never found.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence

from pourbook.cells import Value
from pourbook.formats.ooxml.addresses import areas_named
from pourbook.formats.ooxml.lines import lines_not, lines_of, resting_on, told
from pourbook.workbook.check.findings import Finding
from pourbook.workbook.layout.laid_out import Layout, PlannedCell
from pourbook.workbook.layout.references import quoted
from pourbook.workbook.layout.shown import number_format, print_areas
from pourbook.workbook.read.read import RawBook, RawSheet
from pourbook.workbook.read.sheet_lines import RawCell
from pourbook.workbook.read.visible import Style
from pourbook.workbook.template.template import Sheet

SMALLEST = 4.0
_LITERAL = re.compile(r'"([^"]*)"|\\(.)|[_*].')
_BRACKETS = re.compile(r"\[[^\]]*\]")
_SCALED = re.compile(r"[0#?],+(?![0#?,])")
_SHOWS = re.compile(r"[0#?@ymdhs]|general", re.IGNORECASE)
_DAY = re.compile(r"[ymd]", re.IGNORECASE)


def check_appearance(plan: Layout, book: RawBook) -> Iterator[Finding]:
    """Report what of a workbook looks otherwise than it is.

    Args:
        plan: Its layout.
        book: The workbook as read.
    """
    for declared in plan.book.sheets:
        sheet = book.sheets.get(declared.sheet)
        if sheet is None or declared.kind == "open":
            continue
        kind = "appearance.lies" if declared.kind == "print" else "appearance.look"
        for address, what, mend in _of_sheet(plan, book, declared, sheet):
            yield Finding(kind, book.path.name, sheet.name, address, what, mend)


def _of_sheet(
    plan: Layout, book: RawBook, declared: Sheet, sheet: RawSheet
) -> Iterator[tuple[str, str, str]]:
    first: dict[str, tuple[str, str, str]] = {}
    rows = plan.in_row[sheet.name]
    look, by = f"looks as planned {sheet.name}", resting_on(plan.mark, book.styles)
    folds = bool(sheet.look.rows or sheet.look.columns)
    plain: set[tuple[int, int]] = set()
    for line in lines_of(sheet.cells) if folds else lines_not(sheet.cells, look, by):
        planned = rows.get(line.number, {})
        if not folds and told(line, look, by, _is_calm, planned, book, plain):
            line.known[look] = by
            continue
        calm = True
        for cell in planned.values():
            raw = line.cells.get(cell.address)
            if raw is None or not _shows(cell, raw):
                continue
            said = _hidden(cell, _held(raw), book.style(raw.style)) or _folded(cell, sheet)
            if said:
                calm = False
                first.setdefault(said[0], (cell.address, *said))
        if calm and not folds:
            line.known[look] = by
    yield from first.values()
    yield from _left_out(plan, book, declared, sheet)
    if not sheet.look.guarded:
        yield "", "the sheet is not protected any more", "protect it, without a password"
    if not sheet.look.validated and declared.sheet in plan.limited:
        mend = "copy the entries over: pourbook new JOB.xlsx --from"
        yield "", "its lists to choose from and limits are gone", mend
    if not sheet.look.conditioned:
        yield "", "it does not colour what is wrong any more", "carry it over: pourbook upgrade"


def _is_calm(
    held: Mapping[str, RawCell],
    planned: Mapping[str, PlannedCell],
    book: RawBook,
    plain: set[tuple[int, int]],
) -> bool:
    """Return whether the looks of a row hide no value, whatever its cells hold.

    Args:
        held: Its cells.
        planned: The cells of the template in it.
        book: The workbook, for its styles.
        plain: The looks that were found so, with the field each was for; it is added to.
    """
    for address, raw in held.items():
        cell = planned.get(address)
        if cell is None or cell.role == "unit":
            continue
        seen = (raw.style, id(cell.field))
        if seen not in plain:
            if not _is_plain(cell, book.style(raw.style)):
                return False
            plain.add(seen)
    return True


def _shows(cell: PlannedCell, raw: RawCell) -> bool:
    """Return whether a cell holds what a person is to see."""
    return cell.role != "unit" and _held(raw) not in {None, ""}


def _held(raw: RawCell) -> Value:
    """Return what a cell holds; of a formula that was never worked out, that it will be a number.

    Some programs store no values.
    """
    return 1.0 if raw.value is None and raw.formula else raw.value


def _planned(cell: PlannedCell) -> str:
    return number_format(cell.field) if cell.field is not None else "General"


def _is_plain(cell: PlannedCell, style: Style) -> bool:
    """Return whether a look hides no value, whatever it is."""
    return style.format in {"General", _planned(cell)} and _hidden(cell, None, style) is None


def _hidden(cell: PlannedCell, value: Value, style: Style) -> tuple[str, str] | None:
    mend = "give the cell back the look of those beside it"
    planned = _planned(cell)
    if style.format != planned and hides(style.format, value, planned):
        return f"its number format '{style.format}' shows another value than it holds", mend
    if style.ink is not None and style.ink == style.paper:
        return "its words have the colour of what they stand on", mend
    if style.size < SMALLEST:
        return "its letters are too small to read", mend
    return None


def _folded(cell: PlannedCell, sheet: RawSheet) -> tuple[str, str] | None:
    if cell.row in sheet.look.rows:
        return "a row that holds something is hidden", "show the row"
    if any(first <= cell.column <= last for first, last in sheet.look.columns):
        return "a column that holds something is hidden", "show the column"
    return None


def _left_out(
    plan: Layout, book: RawBook, declared: Sheet, sheet: RawSheet
) -> Iterator[tuple[str, str, str]]:
    """Give the first cell that should print and does not; only of a sheet to hand over."""
    said = book.prints.get(declared.sheet, "")
    if declared.kind != "print" or not said:
        return
    name = quoted(declared.sheet)
    should = areas_named("=" + ",".join(f"{name}!{area}" for area in print_areas(plan, declared)))
    does = areas_named("=" + said)
    for cell in plan.on_sheet[declared.sheet] if should != does else ():
        raw = sheet.cells.get(cell.address)
        if raw is None or not _shows(cell, raw) or not _within(cell, should):
            continue
        if not _within(cell, does):
            mend = "set the print range back to all of the sheet's pages"
            yield cell.address, "the print range leaves something out", mend
            return


def _within(cell: PlannedCell, areas: Sequence[tuple[str, int, int, int, int]]) -> bool:
    return any(
        top <= cell.row <= bottom and left <= cell.column <= right
        for _, top, left, bottom, right in areas
    )


def hides(code: str, value: Value, planned: str = "General") -> bool:
    """Return whether a number format shows another value than a cell holds, or none.

    Args:
        code: The format.
        value: What the cell holds.
        planned: The format the template gives it.

    Example:
        >>> [hides(code, 7136.66) for code in (";;;", '"12.50"', "0,", '0"0"', "#,##0.00;-0")]
        [True, True, True, True, False]
        >>> hides("0%", 2.0), hides("0%", 0.2, "0.0%"), hides("yyyy", 5.0, "0")
        (True, False, True)
    """
    if isinstance(value, bool):
        return False
    section = _section(code, value)
    if section is None:
        return False
    literals = "".join(a or b for a, b in _LITERAL.findall(section))
    bare = _BRACKETS.sub("", _LITERAL.sub("", section))
    if not _SHOWS.search(bare):
        return True
    if isinstance(value, str):
        return False
    if any(letter.isdigit() for letter in literals) or _SCALED.search(bare):
        return True
    calm = "general" not in planned.casefold()
    if ("%" in bare) and "%" not in planned:
        return True
    return calm and bool(_DAY.search(bare)) and not _DAY.search(planned) and planned != "@"


def _section(code: str, value: str | float | None) -> str | None:
    """Return the part of a format that a value is shown by; None where it is shown as it is."""
    sections = _sections(code)
    if isinstance(value, str):
        return sections[3] if len(sections) > 3 else None
    number = float(value or 0)
    if len(sections) > 2 and number == 0:
        return sections[2]
    return sections[1] if len(sections) > 1 and number < 0 else sections[0]


def _sections(code: str) -> list[str]:
    found, quote, escaped = [""], False, False
    for letter in code:
        if letter == ";" and not quote and not escaped:
            found.append("")
            continue
        quote = quote != (letter == '"' and not escaped)
        escaped = letter == "\\" and not escaped
        found[-1] += letter
    return found
