"""What a sheet hides by rules, merged cells and what lies over it, and guards it has lost."""

from __future__ import annotations

import io
from collections.abc import Callable
from copy import copy
from itertools import product
from pathlib import Path

import openpyxl
import pytest
from lxml import etree
from openpyxl.cell.rich_text import CellRichText, TextBlock
from openpyxl.cell.text import InlineFont
from openpyxl.drawing.image import Image
from openpyxl.formatting.formatting import ConditionalFormattingList
from openpyxl.formatting.rule import (
    ColorScaleRule,
    DataBarRule,
    FormulaRule,
    IconSetRule,
    Rule,
)
from openpyxl.formula.translate import Translator
from openpyxl.styles import Alignment, Font, PatternFill
from openpyxl.styles.differential import DifferentialStyle
from openpyxl.styles.numbers import NumberFormat
from openpyxl.workbook import Workbook
from openpyxl.worksheet.cell_range import CellRange
from openpyxl.worksheet.worksheet import Worksheet
from PIL import Image as Picture

from pourbook.job.fill import fill
from pourbook.workbook.check.appearance import check_appearance
from pourbook.workbook.check.check import check_file
from pourbook.workbook.check.findings import Finding
from pourbook.workbook.layout.laid_out import Layout
from pourbook.workbook.read.read import read_book
from pourbook.workbook.read.sheet_look import sheet_look
from pourbook.workbook.read.visible import Marked

pytestmark = pytest.mark.in_turn(2)
LIES, LOOK = "appearance.lies", "appearance.look"
Tampered = Callable[[Callable[[Workbook], None]], list[Finding]]
MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"


def told(file: Path) -> list[Finding]:
    """Return what is said of the looks of a workbook."""
    book = read_book(file)
    return list(check_appearance(book.plan(), book))


@pytest.fixture(scope="module")
def few_sheets(demo_us: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return some sheets of the demo: what looks otherwise than it is, is told sheet by sheet."""
    book = openpyxl.load_workbook(demo_us)
    for name in set(book.sheetnames) - {"Rooms", "Price", "Quote", "Mix cards"}:
        del book[name]
    book.save(target := tmp_path_factory.mktemp("few") / "few.xlsx")
    return target


@pytest.fixture
def tampered(few_sheets: Path, tmp_path: Path) -> Tampered:
    """Return what is said of those sheets after something was done to them."""

    def said(tamper: Callable[[Workbook], None]) -> list[Finding]:
        book = openpyxl.load_workbook(few_sheets)
        tamper(book)
        book.save(tmp_path / "job.xlsx")
        return told(tmp_path / "job.xlsx")

    return said


@pytest.fixture
def gross(plan_us: Layout) -> str:
    """Return the cell of the price with tax on the quote."""
    cell = plan_us.cell("quote_price", "gross")
    assert cell.sheet == "Quote"
    return cell.address


def _shown_as(code: str) -> Rule:
    style = DifferentialStyle(numFmt=NumberFormat(numFmtId=199, formatCode=code))
    return Rule(type="expression", formula=["TRUE"], dxf=style)


HIDING = {
    "nothing": _shown_as(";;;"),
    "another price": _shown_as('"9,000.00"'),
    "white": FormulaRule(["TRUE"], font=Font(color="FFFFFF")),
    "nearly white": FormulaRule(["TRUE"], font=Font(color="FDFDFD")),
    "black on black": FormulaRule(["TRUE"], fill=PatternFill("solid", bgColor="050505")),
    "struck": FormulaRule(["TRUE"], font=Font(strike=True)),
    "a bar alone": DataBarRule("min", None, "max", None, "638EC6", showValue=False),
    "a sign alone": IconSetRule("3Arrows", "percent", [0, 33, 67], showValue=False),
    "a scale to black": ColorScaleRule("min", None, "FFFFFF", end_type="max", end_color="000000"),
    "the last rule": Rule(type="expression", formula=["TRUE"], stopIfTrue=True),
}


@pytest.mark.parametrize("named", HIDING)
def test_a_rule_that_can_hide_a_value_is_told(tampered: Tampered, gross: str, named: str) -> None:
    (found,) = tampered(lambda b: b["Quote"].conditional_formatting.add(gross, HIDING[named]))
    assert (found.id, found.sheet, found.cell) == (LIES, "Quote", gross)
    assert "rule" in found.what


CALM = {
    "green": FormulaRule(["TRUE"], font=Font(color="006100"), fill=PatternFill(bgColor="C6EFCE")),
    "a bar": DataBarRule("min", None, "max", None, "638EC6"),
    "a scale": ColorScaleRule("min", None, "FFFFFF", end_type="max", end_color="63BE7B"),
    "more places": _shown_as("#,##0.000"),
}


@pytest.mark.parametrize("named", CALM)
def test_a_rule_that_hides_nothing_is_nobody_s_business(
    tampered: Tampered, gross: str, named: str
) -> None:
    assert tampered(lambda b: b["Quote"].conditional_formatting.add(gross, CALM[named])) == []


def test_a_rule_over_cells_that_hold_nothing_hides_nothing(tampered: Tampered) -> None:
    rule = HIDING["nothing"]
    assert tampered(lambda b: b["Quote"].conditional_formatting.add("Z90:AB99", rule)) == []


def _without(page: Worksheet, gone: Callable[[str], bool]) -> None:
    """Take the rules away whose formula is one of those."""
    held = page.conditional_formatting
    page.conditional_formatting = ConditionalFormattingList()
    for areas in held:
        for rule in areas.rules:
            if not gone(rule.formula[0]):
                page.conditional_formatting.add(str(areas.sqref), rule)


def test_cards_that_do_not_wait_for_the_checks_any_more_are_a_fault(tampered: Tampered) -> None:
    (found,) = tampered(lambda b: _without(b["Mix cards"], lambda f: '<>"ok",LEN(' in f))
    assert (found.id, found.sheet, found.cell) == (LIES, "Mix cards", "A3")
    assert "even where Checks says" in found.what


def test_a_rule_that_withholds_by_a_format_of_no_words_is_gone(tampered: Tampered) -> None:
    def tamper(book: Workbook) -> None:
        for areas in book["Mix cards"].conditional_formatting:
            for rule in areas.rules:
                if rule.dxf.numFmt:
                    rule.dxf.numFmt.formatCode = "0.00"

    assert (LIES, "Mix cards") in {(f.id, f.sheet) for f in tampered(tamper)}


def test_a_status_that_is_not_coloured_any_more_is_to_be_looked_at(
    tampered: Tampered, plan_us: Layout
) -> None:
    status = next(c for c in plan_us.cells if c.sheet == "Rooms" and c.role == "fill")
    gone = f'OR(LEFT({status.address},1)="!",LEFT({status.address},5)="CHECK")'
    (found,) = tampered(lambda b: _without(b["Rooms"], lambda f: f == gone))
    assert (found.id, found.sheet, found.cell) == (LOOK, "Rooms", status.address)
    assert "coloured" in found.what


def test_a_rule_that_never_holds_colours_nothing(tampered: Tampered) -> None:
    def tamper(book: Workbook) -> None:
        for areas in book["Price"].conditional_formatting:
            for rule in areas.rules:
                rule.formula = ["FALSE"]

    assert [(f.id, f.sheet) for f in tampered(tamper)] == [(LOOK, "Price")]


def test_cards_that_are_only_coloured_do_not_wait(tampered: Tampered) -> None:
    def tamper(book: Workbook) -> None:
        for areas in book["Mix cards"].conditional_formatting:
            for rule in areas.rules:
                if rule.dxf.numFmt:
                    rule.dxf = DifferentialStyle(font=Font(color="7A0000"))

    assert [(f.id, f.sheet) for f in tampered(tamper)] == [(LIES, "Mix cards")]


def test_a_rule_in_two_parts_is_the_same_rule(tampered: Tampered) -> None:
    """As programs part it where one of its cells was pasted over by another of them."""

    def tamper(book: Workbook) -> None:
        page = book["Rooms"]
        held, page.conditional_formatting = page.conditional_formatting, ConditionalFormattingList()
        for areas in held:
            first, *others = (cell for area in areas.sqref for cell in _cells(area))
            for rule, cells in product(areas.rules, filter(None, ([first], others))):
                moved = Translator("=" + rule.formula[0], first).translate_formula(cells[0])
                part = copy(rule)
                part.formula = [moved[1:]]
                page.conditional_formatting.add(" ".join(cells), part)

    assert tampered(tamper) == []


def test_marks_nobody_sees_are_gone(tampered: Tampered) -> None:
    def tamper(book: Workbook) -> None:
        for page in book:
            for areas in page.conditional_formatting:
                for rule in areas.rules:
                    if rule.dxf.fill is not None:
                        rule.dxf.fill, rule.dxf.font = None, Font(bold=True)

    found = tampered(tamper)
    assert {"Rooms", "Price"} <= {f.sheet for f in found if "coloured" in f.what}


def _one_out(page: Worksheet, address: str) -> None:
    """Take one cell out of the limits of its column, and leave the others."""
    for rule in page.data_validations.dataValidation:
        if address in rule.sqref:
            rule.sqref = rule.sqref.__class__(
                " ".join(c for area in rule.sqref for c in _cells(area) if c != address)
            )


def _cells(area: CellRange) -> list[str]:
    return [f"{openpyxl.utils.get_column_letter(c)}{r}" for row in area.rows for r, c in row]


def test_an_entry_whose_limits_are_gone_is_told_and_no_other(
    tampered: Tampered, plan_us: Layout
) -> None:
    cell = plan_us.cell("rooms", "shape", 3)
    (found,) = tampered(lambda b: _one_out(b[cell.sheet], cell.address))
    assert (found.id, found.sheet, found.cell) == (LOOK, cell.sheet, cell.address)
    assert "limits" in found.what


def _other_list(book: Workbook) -> None:
    rule = next(r for r in book["Rooms"].data_validations.dataValidation if r.type == "list")
    rule.formula1 = '"a,b"'


def _wider(book: Workbook) -> None:
    rule = next(r for r in book["Price"].data_validations.dataValidation if r.type == "decimal")
    rule.formula2 = "1e30"


def _only_warned(book: Workbook) -> None:
    for rule in book["Rooms"].data_validations.dataValidation:
        rule.errorStyle = "warning"


def _silenced(book: Workbook) -> None:
    for rule in book["Rooms"].data_validations.dataValidation:
        rule.showErrorMessage = False


@pytest.mark.parametrize("tamper", [_other_list, _wider, _only_warned, _silenced])
def test_a_limit_that_lets_more_through_is_told(
    tampered: Tampered, tamper: Callable[[Workbook], None]
) -> None:
    (found,) = tampered(tamper)
    assert found.id == LOOK
    assert "limits" in found.what


def test_a_limit_in_two_parts_is_the_same_limit(tampered: Tampered) -> None:
    """A column is parted so where one of its cells is pasted over by another of them."""

    def tamper(book: Workbook) -> None:
        for rule in book["Rooms"].data_validations.dataValidation:
            cells = [cell for area in rule.sqref for cell in _cells(area)]
            rule.sqref = rule.sqref.__class__(f"{cells[0]} {cells[1]}:{cells[-1]}")

    assert tampered(tamper) == []


def test_part_of_an_entry_that_cannot_be_seen_is_told(
    tampered: Tampered, plan_us: Layout, monkeypatch: pytest.MonkeyPatch
) -> None:
    """It shows 28 ft and holds 280 ft."""
    cell = plan_us.cell("rooms", "a", 0)

    def typed(colour: str) -> Callable[[Workbook], None]:
        words = ["28", TextBlock(InlineFont(color=colour), "0"), " ft"]
        return lambda book: setattr(book["Rooms"][cell.address], "value", CellRichText(*words))

    (found,) = tampered(typed("FFF4D6"))
    assert (found.id, found.cell) == (LOOK, cell.address)
    assert "part of its words" in found.what
    assert tampered(typed("FF0000")) == []


def _other_cells(book: Workbook) -> None:
    series = book["Price"]._charts[0].series[0]
    series.val.numRef.f = series.val.numRef.f.replace("$", "$1", 1)


@pytest.mark.parametrize("tamper", [_other_cells, lambda book: book["Price"]._charts.clear()])
def test_a_chart_that_is_gone_or_shows_other_cells_is_told(
    tampered: Tampered, tamper: Callable[[Workbook], None]
) -> None:
    (found,) = tampered(tamper)
    assert (found.id, found.sheet) == (LOOK, "Price")
    assert "chart" in found.what


def _merge(book: Workbook, area: str) -> None:
    book["Quote"].merged_cells.ranges.add(CellRange(area))


def test_merged_cells_hide_all_but_the_first(tampered: Tampered, gross: str) -> None:
    (found,) = tampered(lambda b: _merge(b, f"A{gross[1:]}:{gross}"))
    assert (found.id, found.cell) == (LIES, gross)
    assert tampered(lambda b: _merge(b, "X90:Z95")) == []


def _draw(book: Workbook, at: str) -> None:
    content = io.BytesIO()
    Picture.new("RGB", (60, 15), "white").save(content, "PNG")
    book["Quote"].add_image(Image(content), at)


def test_a_picture_over_a_price_is_told_and_one_aside_is_not(
    tampered: Tampered, gross: str
) -> None:
    (found,) = tampered(lambda b: _draw(b, gross))
    assert (found.id, found.cell) == (LIES, gross)
    assert "picture" in found.what
    assert tampered(lambda b: _draw(b, "P5")) == []


def _as_formulas(book: Workbook) -> None:
    book["Quote"].sheet_view.showFormulas = True


def _no_zeros(book: Workbook) -> None:
    book["Quote"].sheet_view.showZeros = False


def _frozen(book: Workbook) -> None:
    book["Quote"].freeze_panes = "A9"
    book["Quote"].sheet_view.topLeftCell = "A4"


def _tiny(book: Workbook) -> None:
    book["Quote"].sheet_properties.pageSetUpPr.fitToPage = False
    book["Quote"].page_setup.scale = 20


def _no_height(book: Workbook) -> None:
    book["Quote"].sheet_format.defaultRowHeight = 0.5
    for row in book["Quote"].row_dimensions.values():
        row.height = None


def _no_width(book: Workbook) -> None:
    page = book["Quote"]
    page.column_dimensions.clear()
    page.sheet_format.defaultColWidth = 0.1


@pytest.mark.parametrize(
    ("tamper", "word"),
    [
        (_as_formulas, "formulas"),
        (_no_zeros, "where a 0 stands"),
        (_tiny, "too small"),
        (_frozen, "left of A4"),
        (_no_height, "row"),
        (_no_width, "column"),
    ],
)
def test_a_sheet_that_shows_less_than_it_holds_is_told(
    tampered: Tampered, tamper: Callable[[Workbook], None], word: str
) -> None:
    (found,) = tampered(tamper)
    assert (found.id, found.sheet) == (LIES, "Quote")
    assert word in found.what


@pytest.mark.parametrize(
    ("look", "word"),
    [
        ({"font": Font(name="Wingdings")}, "signs"),
        ({"font": Font(name="Any", charset=2)}, "signs"),
        ({"font": Font(strike=True)}, "struck"),
        ({"font": Font(size=6, vertAlign="superscript")}, "small"),
        ({"font": Font(color="FEFEFE")}, "colour"),
        ({"font": Font(color=openpyxl.styles.Color(theme=0))}, "colour"),
        ({"font": Font(color=openpyxl.styles.Color(theme=1, tint=0.99))}, "colour"),
        ({"font": Font(color=openpyxl.styles.Color(indexed=9))}, "colour"),
        (
            {
                "font": Font(color="404040"),
                "fill": PatternFill("darkUp", fgColor="404040", bgColor="404040"),
            },
            "colour",
        ),
        ({"number_format": "[White]#,##0.00"}, "colour"),
        ({"number_format": "[Color 2]#,##0.00"}, "colour"),
        ({"alignment": Alignment(horizontal="fill")}, "again and again"),
        ({"alignment": Alignment(horizontal="right", indent=90)}, "out of sight"),
    ],
)
def test_a_look_that_shows_otherwise_is_told(
    tampered: Tampered, gross: str, look: dict[str, object], word: str
) -> None:
    def tamper(book: Workbook) -> None:
        for name, one in look.items():
            setattr(book["Quote"][gross], name, one)

    (found,) = tampered(tamper)
    assert (found.id, found.cell) == (LIES, gross)
    assert word in found.what


@pytest.mark.parametrize(
    "look",
    [
        {"font": Font(color="00FF00")},
        {"font": Font(color=openpyxl.styles.Color(theme=3))},
        {"number_format": "[Green]#,##0.00"},
        {"alignment": Alignment(horizontal="right", indent=2)},
        {"fill": PatternFill("lightGray", fgColor="000000", bgColor="FFFFFF")},
    ],
)
def test_a_look_of_one_s_own_that_can_be_read_is_not_told(
    tampered: Tampered, gross: str, look: dict[str, object]
) -> None:
    def tamper(book: Workbook) -> None:
        for name, one in look.items():
            setattr(book["Quote"][gross], name, one)

    assert tampered(tamper) == []


def test_a_look_at_an_entry_is_no_cause_of_a_check_that_fails(
    demo_us: Path, tmp_path: Path, plan_us: Layout
) -> None:
    """Failing checks once were said to wait for the first cell that merely looks otherwise."""
    wrong, odd = plan_us.cell("rooms", "a", 0), plan_us.cell("rates", "labour")
    fill(demo_us, tmp_path / "job.xlsx", {("rooms", "a", 0): "28 ftt"}, force=False)
    book = openpyxl.load_workbook(tmp_path / "job.xlsx")
    book[odd.sheet][odd.address].number_format = ";;;"
    book.save(tmp_path / "job.xlsx")
    findings = check_file(tmp_path / "job.xlsx").findings
    assert (LOOK, odd.sheet, odd.address) in {(f.id, f.sheet, f.cell) for f in findings}
    (waiting,) = (f for f in findings if "may only wait" in f.what)
    assert f"wait for {wrong.sheet}!{wrong.address}: " in waiting.what


NEWER = f"""<worksheet xmlns="{MAIN}"
 xmlns:x14="http://schemas.microsoft.com/office/spreadsheetml/2009/9/main"
 xmlns:xm="http://schemas.microsoft.com/office/excel/2006/main"><extLst><ext uri="x">
<x14:conditionalFormattings><x14:conditionalFormatting>
<x14:cfRule type="expression" priority="1" stopIfTrue="1"><xm:f>Checks!$B$1&lt;&gt;"ok"</xm:f>
<x14:dxf><numFmt numFmtId="9" formatCode=";;;"/></x14:dxf></x14:cfRule>
<xm:sqref>B2:C3 E5</xm:sqref></x14:conditionalFormatting></x14:conditionalFormattings>
<x14:dataValidations><x14:dataValidation type="list"><x14:formula1><xm:f>Looks!$A$1:$A$9</xm:f>
</x14:formula1><xm:sqref>D4:D9</xm:sqref></x14:dataValidation></x14:dataValidations>
</ext></extLst></worksheet>"""


def test_rules_a_newer_program_keeps_at_the_end_are_rules() -> None:
    """As Excel keeps those that name another sheet."""
    look = sheet_look(etree.fromstring(NEWER))
    (rule,) = look.rules
    assert (rule.areas, rule.formula, rule.alone) == ("B2:C3 E5", 'Checks!$B$1<>"ok"', True)
    assert rule.look == Marked(";;;")
    (limit,) = look.limits
    assert (limit.areas, limit.kind, limit.first) == ("D4:D9", "list", "Looks!$A$1:$A$9")
