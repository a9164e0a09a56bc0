"""Puts data validation with helpful messages, and alarm colours, on the cells of a sheet.

Contract: every entry gets a rule made from its declaration, with a prompt that says what belongs in
the cell and an error that says how to mend it. The headless check in
:mod:`pourbook.workbook.check.entries` reads the same declarations.
"""

from __future__ import annotations

from openpyxl.formatting.rule import FormulaRule, Rule
from openpyxl.formula.translate import Translator
from openpyxl.styles import Font, PatternFill
from openpyxl.styles.differential import DifferentialStyle
from openpyxl.styles.numbers import NumberFormat
from openpyxl.worksheet.datavalidation import DataValidation
from openpyxl.worksheet.worksheet import Worksheet

from pourbook.dates import FIRST_DAY
from pourbook.formats.ooxml.addresses import a1
from pourbook.tables.limits import LEAST_BARE
from pourbook.workbook.layout.laid_out import Layout, PlannedCell
from pourbook.workbook.layout.mending import LONGEST_MESSAGE, LONGEST_TEXT, mend
from pourbook.workbook.layout.references import resolve
from pourbook.workbook.layout.shown import WITHHELD
from pourbook.workbook.template import styles
from pourbook.workbook.template.template import LEAST_SHARE, Block, Field, Sheet

_TOLD_ID = 190  # of our own: a workbook's own number formats begin at 164


def add(plan: Layout, sheet: Sheet, page: Worksheet) -> None:
    """Add the rules of one sheet."""
    for block in sheet.blocks:
        for item in block.all_fields():
            if not item.is_typed:
                continue
            first = plan.cell(block.id, item.id)
            if first.role != "entry":
                continue
            area = _area(plan, block, first)
            rule = _rule(plan, item, first)
            rule.sqref = area
            page.add_data_validation(rule)
            for where, cell in _offered(plan, block, first, area):
                page.conditional_formatting.add(where, _typed_over(plan, block, cell))
        if block.withheld:
            _withhold(page, plan, block)
        if block.kind in {"table", "lines", "checks", "form"}:
            _alarm(page, plan, block)
    _mark(page, "B3")


def _offered(
    plan: Layout, block: Block, first: PlannedCell, area: str
) -> list[tuple[str, PlannedCell]]:
    """Return what one rule fits: a column whose formulas are alike row by row, else each cell."""
    if not first.offer or first.field is None:
        return []
    cells = [plan.cell(block.id, first.field.id, row) for row in range(block.rows)]
    moved = (Translator(first.offer, first.address).translate_formula(c.address) for c in cells)
    if all(one == cell.offer for one, cell in zip(moved, cells, strict=True)):
        return [(area, first)]
    return [(cell.address, cell) for cell in cells]


def _typed_over(plan: Layout, block: Block, cell: PlannedCell) -> Rule:
    """Mark a cell that differs from what its sheet offers, in rows that are offered at all."""
    lead = next(item for item in block.all_fields() if item.offers)
    row = plan.cell(block.id, lead.id, cell.index).offer[1:]
    told = f'AND({row}&""<>"",{cell.address}&""<>{cell.offer[1:]}&"")'
    return FormulaRule(formula=[told], font=Font(bold=True, italic=True, color=styles.OWN_INK))


def _area(plan: Layout, block: Block, first: PlannedCell) -> str:
    place = plan.places[block.id]
    if block.kind == "table":
        return f"{first.address}:{a1(place.last, first.column)}"
    if block.kind == "lines":
        return f"{first.address}:{a1(first.row, first.column - 1 + len(block.instances))}"
    return first.address


def _withhold(page: Worksheet, plan: Layout, block: Block) -> None:
    """Show ``see Checks`` in every cell a function fills, or of a card, unless all below is ok.

    A number format does it: the cell keeps its value, and every program shows the words.
    """
    cells = [c for c in plan.cells if c.block == block.id and (c.fill or block.kind == "cards")]
    stands = resolve(plan, block.withheld, cells[0])[1:]
    where = cells[0].address
    told = NumberFormat(numFmtId=_TOLD_ID, formatCode=WITHHELD)
    rule = Rule(
        type="expression",
        dxf=DifferentialStyle(numFmt=told),
        formula=[f'AND({stands}<>"ok",LEN({where})>0)'],
        stopIfTrue=True,
    )
    corners = [(min if n == 0 else max) for n in range(2)]
    first, last = (a1(f(c.row for c in cells), f(c.column for c in cells)) for f in corners)
    page.conditional_formatting.add(f"{first}:{last}", rule)


def _alarm(page: Worksheet, plan: Layout, block: Block) -> None:
    place = plan.places[block.id]
    computed = [c.column for c in plan.in_block[block.id] if c.role in {"formula", "fill", "check"}]
    if computed:
        area = f"{a1(place.first, min(computed))}:{a1(place.last, max(computed))}"
        _mark(page, area)


def _mark(page: Worksheet, area: str) -> None:
    """Mark cells that say ``CHECK`` or begin with ``!``; the words themselves are the signal."""
    first = area.partition(":")[0]
    rule = FormulaRule(
        formula=[f'OR(LEFT({first},1)="!",LEFT({first},5)="CHECK")'],
        font=Font(bold=True, color=styles.ALARM_INK),
        fill=PatternFill(bgColor=styles.ALARM_PAPER, fill_type="solid"),
    )
    page.conditional_formatting.add(area, rule)


def _rule(plan: Layout, item: Field, cell: PlannedCell) -> DataValidation:
    rule = _bare_rule(plan, item, cell)
    rule.allow_blank = True
    rule.showInputMessage = rule.showErrorMessage = True
    header = plan.text(item.header)[:32]
    rule.promptTitle, rule.prompt = header, plan.text(item.help)[:LONGEST_MESSAGE]
    rule.errorTitle, rule.error = header, mend(plan, item)[:LONGEST_MESSAGE]
    return rule


def _bare_rule(plan: Layout, item: Field, cell: PlannedCell) -> DataValidation:
    if item.kind == "choice":
        if item.choices_from:
            return DataValidation("list", formula1=resolve(plan, item.choices_from, cell)[1:])
        return DataValidation("list", formula1='"' + ",".join(item.choices) + '"')
    if item.kind == "number":
        kind = "whole" if item.whole else "decimal"
        low = item.minimum if item.minimum is not None else item.above
        high = item.maximum if item.maximum is not None else item.below
        if item.bare_percent:
            at = cell.address
            shares, bare = f"AND({at}>=0,{at}<=1)", f"AND({at}>={LEAST_BARE:g},{at}<=100)"
            least = f"OR({at}=0,ABS({at})>={LEAST_SHARE:g})"
            whole = f"AND(ISNUMBER({at}),{least},OR({shares},{bare}))"
            return DataValidation("custom", formula1=whole)
        if item.above is not None or item.below is not None or item.is_percent:
            at = cell.address
            tests = [f"ISNUMBER({at})"]
            tests += [f"OR({at}=0,ABS({at})>={LEAST_SHARE:g})"] if item.is_percent else []
            tests += [f"{at}>{item.above:g}"] if item.above is not None else []
            tests += [f"{at}<{item.below:g}"] if item.below is not None else []
            tests += [f"{at}>={item.minimum:g}"] if item.minimum is not None else []
            tests += [f"{at}<={item.maximum:g}"] if item.maximum is not None else []
            return DataValidation("custom", formula1=f"AND({','.join(tests)})")
        return DataValidation(
            kind,
            operator="between",
            formula1=f"{-1e12 if low is None else low:g}",
            formula2=f"{1e12 if high is None else high:g}",
        )
    if item.kind == "date":
        return DataValidation("date", operator="greaterThanOrEqual", formula1=str(FIRST_DAY))
    if item.kind == "measure":
        at = cell.address
        return DataValidation("custom", formula1=f"IF(ISNUMBER({at}),{at}>=0,LEN({at})<=100)")
    if item.kind == "ratio":
        return DataValidation("custom", formula1=f'ISNUMBER(FIND(":",{cell.address}))')
    if item.choices_from:  # words to choose from, where others are no fault
        listed = DataValidation("list", formula1=resolve(plan, item.choices_from, cell)[1:])
        listed.errorStyle = "information"
        return listed
    return DataValidation("textLength", operator="lessThanOrEqual", formula1=str(LONGEST_TEXT))
