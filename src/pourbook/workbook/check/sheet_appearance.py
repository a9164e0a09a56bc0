"""What a sheet as a whole hides or lacks: rules, merged cells, what lies over cells, its guards.

Contract: pure; gives cell, what is wrong and how to mend it. What the template itself makes, and
what the programs do to it on saving, is never found.
"""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterable, Iterator
from operator import attrgetter

from pourbook.formats.ooxml.addresses import LAST_COLUMN, LAST_ROW, a1, areas_named
from pourbook.formats.ooxml.palette import BLACK, WHITE
from pourbook.workbook.build.guards import Rule, SheetGuards, guards
from pourbook.workbook.check.number_shown import hides
from pourbook.workbook.check.seen import (
    SMALLEST,
    Area,
    held,
    is_faint,
    lies_in,
    planned_format,
    seen_in,
)
from pourbook.workbook.layout.laid_out import Layout, PlannedCell
from pourbook.workbook.layout.shown import WITHHELD
from pourbook.workbook.read.drawings import OnSheet
from pourbook.workbook.read.read import RawBook, RawSheet
from pourbook.workbook.read.sheet_lines import RawCell
from pourbook.workbook.read.sheet_look import MarkRule
from pourbook.workbook.read.visible import Marked
from pourbook.workbook.template import released
from pourbook.workbook.template.template import Sheet

Said = tuple[str, str, str]
SMALLEST_PRINT = 0.4
_CELL = re.compile(r"\$?[A-Z]{1,3}\$?[0-9]+")
_ALL = (1, 1, LAST_ROW, LAST_COLUMN)
_ANEW = "copy the entries over: pourbook new JOB.xlsx --from"
_LIKE_OTHERS = "copy the cell above it and paste the look alone, or " + _ANEW


def of_the_whole(plan: Layout, book: RawBook, declared: Sheet, sheet: RawSheet) -> Iterator[Said]:
    """Give what a sheet hides or lacks.

    Args:
        plan: The layout of the book.
        book: The workbook.
        declared: The sheet as the template has it.
        sheet: The sheet as it is.
    """
    look = sheet.look
    if not look.guarded:
        yield "", "the sheet is not protected any more", "protect it, without a password"
    if not look.zeros:
        yield "", "it shows nothing where a 0 stands", "show zeros again, in the program's options"
    if look.formulas:
        yield "", "it shows formulas in place of what they give", "show values again"
    if look.frozen:
        what = f"nothing above or left of {look.frozen} can be scrolled to"
        yield "", what, "unfreeze its panes, go to A1, and freeze them again"
    if look.scale < SMALLEST_PRINT and declared.kind == "print":
        yield "", f"it prints at {look.scale:.0%}, too small to read", "print it at 100 %"
    made = guards(plan).get(sheet.name, SheetGuards())
    yield from _merged(plan, sheet)
    yield from _parts_unseen(plan, book, sheet)
    yield from _covered(plan, book, sheet)
    yield from _rules(plan, book, sheet, made)
    yield from _guards_gone(plan, book, sheet, made)


def _merged(plan: Layout, sheet: RawSheet) -> Iterator[Said]:
    """Give the first cell that a merged one hides: of merged cells only the first shows."""
    for area in areas_of(" ".join(sheet.look.merged)):
        top, left, bottom, right = area
        first = plan.by_address.get((sheet.name, a1(top, left)))
        if first is not None and top == bottom and right - left < first.spans:
            continue
        for cell, _ in seen_in(plan, sheet, [area]):
            if (cell.row, cell.column) != (top, left):
                yield cell.address, "merged cells hide what it holds", "unmerge them"
                return


def _parts_unseen(plan: Layout, book: RawBook, sheet: RawSheet) -> Iterator[Said]:
    """Give the first cell part of whose words cannot be read."""
    own = defaultdict(list)
    for run in (*book.runs, *sheet.look.runs):
        own[run.text].append(run)
    for cell, raw in seen_in(plan, sheet, [_ALL]) if own else ():
        style = book.style(raw.style)
        for run in own.get(raw.value, ()) if isinstance(raw.value, str) else ():
            unread = run.size < SMALLEST or is_faint(run.ink or style.ink, style.papers)
            if unread or run.odd:
                what = "part of its words looks otherwise, or cannot be seen"
                yield cell.address, what, "type it again, in one look"
                return


def _covered(plan: Layout, book: RawBook, sheet: RawSheet) -> Iterator[Said]:
    for one in book.drawn.get(sheet.name, OnSheet()).over:
        area = (one.top, one.left, one.bottom, one.right)
        for cell, _ in seen_in(plan, sheet, [area]):
            yield cell.address, f"{one.what} and can hide or replace it", "move it aside"
            return


def _rules(plan: Layout, book: RawBook, sheet: RawSheet, made: SheetGuards) -> Iterator[Said]:
    """Give the first cell whose value a rule that is not ours may hide or replace."""
    current, mend = plan.version == released.CURRENT, "take that rule away"
    known = made.marks | made.withhold
    for rule in sheet.look.rules:
        look = mark_of(book, rule)
        ours = (rule.areas, rule.formula) in known
        if ours or look == Marked() or (look.format == WITHHELD and not current):
            if rule.alone and not ours and current:
                what = "a rule that is not ours keeps others from marking what is wrong"
                yield areas_first(rule), what, mend
                return
            continue
        for cell, raw in seen_in(plan, sheet, areas_of(rule.areas)):
            if rule.alone or _hides(book, look, cell, raw):
                what = "a rule that is not ours can hide it, or what marks a fault in it"
                yield cell.address, what, mend
                return


def _hides(book: RawBook, look: Marked, cell: PlannedCell, raw: RawCell) -> bool:
    """Return whether a look that a rule gives hides what a cell holds."""
    style = book.style(raw.style)
    return (
        look.nothing
        or look.struck
        or is_faint(look.ink or style.ink, look.papers or style.papers)
        or (look.format is not None and hides(look.format, held(raw), planned_format(cell)))
    )


def _guards_gone(plan: Layout, book: RawBook, sheet: RawSheet, made: SheetGuards) -> Iterator[Said]:
    """Give what the template guards a sheet by and is not there any more."""
    current = plan.version == released.CURRENT  # else what Pourbook put there is known no more
    bare = _unlimited(plan, sheet, made, current)
    if bare:
        yield bare, "its list to choose from, or its limits, are gone or others", _LIKE_OTHERS
    if not current:
        return
    if made.charted - book.drawn.get(sheet.name, OnSheet()).charted:
        yield "", "a chart of it is gone, or shows other cells", _ANEW
    found = {(one.areas, one.formula): mark_of(book, one) for one in sheet.look.rules}
    withhold = {key for key, look in found.items() if look.format == WITHHELD}
    for areas, _ in sorted(made.withhold - withhold):
        what = "it shows its figures even where Checks says they are not to be used"
        yield areas.partition(":")[0], what, _ANEW
        break
    bare = _unmarked(plan, sheet, made, {key for key, look in found.items() if _marks(look)})
    if bare:
        yield bare, "it is not coloured any more where it is wrong", _LIKE_OTHERS


def _unmarked(plan: Layout, sheet: RawSheet, made: SheetGuards, found: set[Rule]) -> str:
    """Return the first cell that no rule like its own marks any more; or nothing.

    Args:
        plan: The layout.
        sheet: The sheet.
        made: What guards it as the template has it.
        found: The rules on it that mark.
    """
    marked: defaultdict[str, list[Area]] = defaultdict(list)
    for areas, formula in found:
        marked[_CELL.sub("", formula)] += areas_of(areas)
    lost = ((areas, _CELL.sub("", formula)) for areas, formula in sorted(made.marks - found))
    bare = (first_bare(plan, sheet, [areas], marked[shape]) for areas, shape in lost)
    return next(filter(None, bare), "")


def _unlimited(plan: Layout, sheet: RawSheet, made: SheetGuards, current: bool) -> str:
    """Return the first entry that is not limited as the template has it; or nothing."""
    lost = made.limits - sheet.look.limits
    if not current:
        held = [area for one in sheet.look.limits for area in areas_of(one.areas)]
        return first_bare(plan, sheet, (one.areas for one in lost), held)
    for one in sorted(lost, key=attrgetter("areas")):
        alike = (
            other
            for other in sheet.look.limits
            if (other.kind, other.how, other.stops) == (one.kind, one.how, one.stops)
            and (one.kind == "custom" or (other.first, other.last) == (one.first, one.last))
        )
        held = [area for other in alike for area in areas_of(other.areas)]
        bare = first_bare(plan, sheet, [one.areas], held)
        if bare:
            return bare
    return ""


def _marks(look: Marked) -> bool:
    """Return whether a look can be seen."""
    said = look.ink or look.papers
    plain = not (look.format or look.struck or look.nothing)
    return bool(said) and plain and not is_faint(look.ink or BLACK, look.papers or (WHITE,))


def first_bare(plan: Layout, sheet: RawSheet, wanted: Iterable[str], areas: list[Area]) -> str:
    """Return the first cell of the sheet that should lie in some areas and does not; or nothing.

    Args:
        plan: The layout.
        sheet: The sheet.
        wanted: What should be covered, as a rule names it.
        areas: What is.
    """
    missed = [area for said in wanted for area in areas_of(said)]
    if not missed:
        return ""
    for cell in plan.on_sheet[sheet.name]:
        if cell.role in _LOOKED_AT and lies_in(cell, missed) and not lies_in(cell, areas):
            return cell.address
    return ""


_LOOKED_AT = {"entry", "formula", "fill", "check"}


def areas_of(said: str) -> list[Area]:
    """Return the areas a rule names; all of the sheet where they cannot be read.

    Example:
        >>> areas_of("B2:C9 E1")
        [(2, 2, 9, 3), (1, 5, 1, 5)]
    """
    found = [area[1:] for area in areas_named("=" + ",".join(said.split()))]
    return found if len(found) == len(said.split()) else [_ALL]


def areas_first(rule: MarkRule) -> str:
    """Return the first cell a rule names."""
    top, left, _, _ = areas_of(rule.areas)[0]
    return a1(top, left)


def mark_of(book: RawBook, rule: MarkRule) -> Marked:
    """Return the look a rule gives; that of a rule without one changes nothing."""
    if isinstance(rule.look, Marked):
        return rule.look
    marks = book.looks.marks
    return marks[rule.look] if 0 <= rule.look < len(marks) else Marked()
