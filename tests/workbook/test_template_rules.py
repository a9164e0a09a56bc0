"""Every book keeps the rules of published modelling standards, in the file as it is written.

Most rules are looked up in the finished demo workbook through openpyxl, not in our own plan, so
that a slip of the builder shows as well as a slip of a template. The helpers that judge a formula
are tried on formulas that break the rule, so that a rule cannot pass by never firing.
"""

from __future__ import annotations

import re
import zipfile
from collections.abc import Callable, Iterator
from dataclasses import asdict, replace
from graphlib import CycleError, TopologicalSorter
from itertools import pairwise
from pathlib import Path

import openpyxl
import pytest
from lxml import etree
from openpyxl import Workbook
from openpyxl.formula import Tokenizer
from openpyxl.formula.tokenizer import Token
from openpyxl.styles.builtins import styles as excel_styles
from openpyxl.worksheet.datavalidation import DataValidation
from openpyxl.worksheet.formula import ArrayFormula

from pourbook.cells import CHECK
from pourbook.errors import FAILED, WAITS, TemplateError
from pourbook.formats.ooxml.addresses import letters
from pourbook.formats.ooxml.palette import contrast
from pourbook.functions.batch import bucket_heat
from pourbook.functions.catalogue import catalogue
from pourbook.functions.days import calendar, spans
from pourbook.functions.site import damp, proof_tests, survey
from pourbook.tables import layers, measured, products, rooms, site
from pourbook.tables.buy import packs
from pourbook.tables.used import log_rows, lots
from pourbook.trade import edges, filling, measuring
from pourbook.trade.days.schedule import ADDED
from pourbook.units import SYSTEMS
from pourbook.workbook.layout.laid_out import Layout, PlannedCell
from pourbook.workbook.layout.lay_out import lay_out, plan_book
from pourbook.workbook.layout.references import expand
from pourbook.workbook.template import styles
from pourbook.workbook.template.template import Block, Field, Sheet, load_book, read_book

Cell = tuple[str, str]

VOLATILE = {
    "NOW",
    "TODAY",
    "RAND",
    "RANDBETWEEN",
    "RANDARRAY",
    "OFFSET",
    "INDIRECT",
    "INFO",
    "CELL",
}
LONGEST_LIST = 255
LONGEST_MESSAGE = 225
LONGEST_TITLE = 32
READABLE = 4.5

_SHEET_PART = re.compile(r"^xl/worksheets/sheet\d+\.xml$")
_REFERENCE = re.compile(
    r"^(?:(?P<sheet>'(?:[^']|'')+'|[A-Za-z_]\w*)!)?"
    r"(?P<a>\$?[A-Z]{1,3}\$?\d+)(?::(?P<b>\$?[A-Z]{1,3}\$?\d+))?$"
)
_NAMED = re.compile(r"\{[^{}]*\}")


def _split(address: str) -> tuple[int, int, bool, bool]:
    """Return row, column, and whether each is fixed with a dollar sign."""
    match = re.match(r"^(\$?)([A-Z]+)(\$?)(\d+)$", address)
    assert match, address
    column = 0
    for letter in match[2]:
        column = column * 26 + ord(letter) - 64
    return int(match[4]), column, bool(match[3]), bool(match[1])


def _name(row: int, column: int) -> str:
    name = ""
    while column:
        column, rest = divmod(column - 1, 26)
        name = chr(65 + rest) + name
    return f"{name}{row}"


def _tokens(formula: str) -> list[Token]:
    return list(Tokenizer(formula).items)


def _ranges(formula: str) -> list[str]:
    """Return the references of a formula."""
    return [
        t.value for t in _tokens(formula) if t.type == Token.OPERAND and t.subtype == Token.RANGE
    ]


def _called(formula: str) -> list[str]:
    """Return the functions a formula calls."""
    return [
        t.value[:-1].upper()
        for t in _tokens(formula)
        if t.type == Token.FUNC and t.subtype == Token.OPEN
    ]


def _r1c1(formula: str, at: str) -> str:
    """Return a formula with its references as offsets from the cell it stands in."""
    row, column, _, _ = _split(at)

    def offset(address: str) -> str:
        r, c, fixed_row, fixed_column = _split(address)
        return (f"R{r}" if fixed_row else f"R[{r - row}]") + (
            f"C{c}" if fixed_column else f"C[{c - column}]"
        )

    parts = []
    for token in _tokens(formula):
        match = _REFERENCE.match(token.value) if token.subtype == Token.RANGE else None
        if match is None:
            parts.append(token.value)
            continue
        ends = [offset(match[group]) for group in ("a", "b") if match[group]]
        parts.append((f"{match['sheet']}!" if match["sheet"] else "") + ":".join(ends))
    return "".join(parts)


def _without_columns(formula: str) -> tuple[str, list[int]]:
    """Return an R1C1 formula with its fixed columns taken out, and those columns."""
    columns = [int(c) for c in re.findall(r"(?<=[\]\d])C(\d+)", formula)]
    return re.sub(r"(?<=[\]\d])C\d+", "C#", formula), columns


def _constants(named: str) -> list[str]:
    """Return the numbers other than 0 and 1 a template formula holds itself."""
    bare = "=" + _NAMED.sub("A1", named)
    return [
        t.value
        for t in _tokens(bare)
        if t.type == Token.OPERAND and t.subtype == Token.NUMBER and float(t.value) not in {0, 1}
    ]


def _nesting(formula: str) -> int:
    """Return how deep IF stands inside IF: 0 for one IF alone or none."""
    depth = deepest = 0
    open_calls: list[bool] = []
    for token in _tokens(formula):
        if token.type == Token.FUNC and token.subtype == Token.OPEN:
            open_calls.append(token.value.upper() == "IF(")
            depth += open_calls[-1]
            deepest = max(deepest, depth)
        elif token.type == Token.FUNC and token.subtype == Token.CLOSE:
            depth -= open_calls.pop()
    return max(deepest - 1, 0)


def _cells(formula: str, sheet: str) -> Iterator[Cell]:
    """Return every cell a formula reads."""
    for reference in _ranges(formula):
        match = _REFERENCE.match(reference)
        assert match, f"{reference} in {formula} is no plain reference"
        where = (match["sheet"] or sheet).strip("'")
        row_1, column_1, _, _ = _split(match["a"])
        row_2, column_2, _, _ = _split(match["b"] or match["a"])
        for row in range(row_1, row_2 + 1):
            for column in range(column_1, column_2 + 1):
                yield where, _name(row, column)


def _circle(formulas: dict[Cell, str], filled: dict[Cell, Cell]) -> list[Cell]:
    """Return a circle of formulas that wait for each other, or nothing.

    ``filled`` says for every cell of an array which cell carries its formula.
    """
    graph = {}
    for (sheet, address), formula in formulas.items():
        read = {filled.get(cell, cell) for cell in _cells(formula, sheet)}
        graph[sheet, address] = {cell for cell in read if cell in formulas}
    try:
        TopologicalSorter(graph).prepare()
    except CycleError as error:
        circle: list[Cell] = error.args[1]
        return circle
    return []


class TestJudges:
    """The helpers above, on formulas that break the rule they look for."""

    def test_offsets(self) -> None:
        assert _r1c1("=$A7+B$2+Rooms!C7:$D$9", "C7") == "R[0]C1+R2C[-1]+Rooms!R[0]C[0]:R9C4"
        assert _r1c1("=$A8*2", "C8") == _r1c1("=$A7*2", "C7")
        assert _r1c1("=$A8*2", "C8") != _r1c1("=$A8*2", "C7")

    def test_fixed_columns(self) -> None:
        assert _without_columns("R[0]C1+Price!R9C4") == ("R[0]C#+Price!R9C#", [1, 4])

    def test_constants(self) -> None:
        assert _constants('{a.b}*1.0825+INDEX({c.d},1,0)&"12"') == ["1.0825"]

    @pytest.mark.parametrize(
        ("formula", "depth"),
        [
            ("=SUM(A1)", 0),
            ("=IF(A1,IF(B1,1,0),IF(C1,1,0))", 1),
            ("=IF(1,IFERROR(IF(1,IF(1,IF(1,1)))),2)", 3),
        ],
    )
    def test_nesting(self, formula: str, depth: int) -> None:
        assert _nesting(formula) == depth

    def test_circle(self) -> None:
        formulas = {("S", "A1"): "=SUM(B1:B9)", ("S", "B4"): "=T!C3", ("T", "C3"): "=S!$A$1+1"}
        assert set(_circle(formulas, {})) == set(formulas)
        array = {("S", "A1"): "=PB_ROOMS(C1:C3)", ("S", "C2"): "=A3"}
        assert _circle(array, {("S", "A3"): ("S", "A1")})
        assert not _circle(array, {})


@pytest.fixture(scope="module", params=["us", "metric", "shop"])
def kind(request: pytest.FixtureRequest) -> str:
    """Which book is looked at: the demo job, its metric twin, or the demo's shop."""
    return str(request.param)


@pytest.fixture(scope="module")
def layout(kind: str, plan_us: Layout, plan_metric: Layout, plan_shop: Layout) -> Layout:
    return {"us": plan_us, "metric": plan_metric, "shop": plan_shop}[kind]


@pytest.fixture(scope="module")
def path(kind: str, demo_us: Path, demo_metric: Path, demo_shop: Path) -> Path:
    return {"us": demo_us, "metric": demo_metric, "shop": demo_shop}[kind]


def _least(layout: Layout, job: int, other: int) -> int:
    """Return how many a test must at least have looked at: a shop is smaller than a job."""
    return job if layout.book.book == "job" else other


@pytest.fixture(scope="module")
def book(path: Path) -> Workbook:
    return openpyxl.load_workbook(path)


@pytest.fixture(scope="module")
def shown(path: Path) -> Workbook:
    """What a person sees: the values beside the formulas."""
    return openpyxl.load_workbook(path, data_only=True)


@pytest.fixture(scope="module")
def formulas(book: Workbook) -> dict[Cell, str]:
    """Every formula of the file, arrays at their first cell."""
    found = {}
    for page in book.worksheets:
        for row in page.iter_rows():
            for cell in row:
                value = cell.value
                if isinstance(value, ArrayFormula):
                    value = value.text
                elif cell.data_type != "f":
                    continue
                found[page.title, cell.coordinate] = str(value)
    assert len(found) > 300
    return found


@pytest.fixture(scope="module")
def arrays(book: Workbook) -> dict[Cell, str]:
    """The range of every array formula, by the cell that carries it."""
    return {
        (page.title, cell.coordinate): str(cell.value.ref)
        for page in book.worksheets
        for row in page.iter_rows()
        for cell in row
        if isinstance(cell.value, ArrayFormula)
    }


def _fields(layout: Layout) -> Iterator[tuple[Sheet, Block, Field]]:
    for sheet in layout.book.sheets:
        for block in sheet.blocks:
            for item in block.all_fields():
                yield sheet, block, item


# Formulas

TAKES_RANGES = {
    *("AND", "OR", "COUNT", "COUNTA", "COUNTIF", "COUNTIFS", "INDEX", "MATCH", "MAX", "MIN"),
    *("ROWS", "SUM", "SUMIFS", "SUMPRODUCT"),
}


def _loose_ranges(formula: str) -> list[str]:
    """Return the ranges of a formula that stand where one value belongs.

    Excel 365 lets such a formula spill, and puts an @ before it when an older one saved it.
    """
    found, open_calls = [], [""]
    tokens = [t for t in Tokenizer(formula).items if t.type != "WHITE-SPACE"]
    for place, token in enumerate(tokens):
        if token.subtype == "OPEN":
            open_calls.append(token.value.rstrip("(").upper() or open_calls[-1])
        elif token.subtype == "CLOSE":
            open_calls.pop()
        elif token.subtype == "RANGE" and ":" in token.value:
            beside = {
                t.type for t in (*tokens[max(place - 1, 0) : place], *tokens[place + 1 :][:1])
            }
            reckoned = any(kind.startswith("OPERATOR") for kind in beside)
            call = open_calls[-1]
            if call not in TAKES_RANGES or (reckoned and call != "SUMPRODUCT"):
                found.append(token.value)
    return found


@pytest.mark.parametrize(
    ("formula", "count"),
    [
        ("=SUM(A1:A9)", 0),
        ("=A1:A9", 1),
        ("=IF(A1:A9>0,1,0)", 1),
        ("=SUM(A1:A9*2)", 1),
        ("=SUMPRODUCT((A1:A9<=B1)*C1:C9)", 0),
        ("=INDEX(A1:B9,2,1)*2", 0),
    ],
)
def test_a_loose_range_is_seen(formula: str, count: int) -> None:
    assert len(_loose_ranges(formula)) == count


@pytest.mark.parametrize("name", ["job", "shop", "month", "board"])
def test_no_formula_spills_or_gets_an_at(name: str) -> None:
    """Read alike by Excel 2016 and 365: blocks are array formulas, all else gives one value."""
    cells = [c for c in lay_out(name, "us", 16).cells if c.formula and not c.array]
    assert len(cells) > 50
    loose = {f"{c.sheet}!{c.address}": found for c in cells if (found := _loose_ranges(c.formula))}
    assert not loose
    assert not [c.address for c in cells if "@" in c.formula.replace('"@"', "")]


_PLACED = re.compile(r"(INDEX\([^(),]*\$[0-9]+,)([0-9]+)(,[0-9]+\))")


def _same_row(index: int) -> Callable[[re.Match[str]], str]:
    """Write the number of a formula's own row in a table of typed cells as a word."""
    return lambda m: m[1] + ("row" if int(m[2]) == index + 1 else m[2]) + m[3]


def test_one_formula_per_column(layout: Layout, formulas: dict[Cell, str]) -> None:
    seen = 0
    for sheet, block, item in _fields(layout):
        if block.kind != "table" or item.kind != "formula":
            continue
        kinds: dict[str, str] = {}
        for index in range(block.rows):
            at = layout.cell(block.id, item.id, index).address
            formula = _PLACED.sub(_same_row(index), formulas[sheet.sheet, at])
            kinds.setdefault(_r1c1(formula, at), at)
        assert len(kinds) == 1, f"{sheet.sheet}!{list(kinds.values())} differ: {list(kinds)}"
        seen += 1
    assert seen > 15


def test_one_formula_per_row_of_options(layout: Layout, formulas: dict[Cell, str]) -> None:
    """Across options a formula moves with its option: its fixed columns step evenly, if at all."""
    seen = 0
    for sheet, block, item in _fields(layout):
        if block.kind != "lines":
            continue
        texts, steps = set(), []
        for index in range(len(block.instances)):
            at = layout.cell(block.id, item.id, index).address
            text, columns = _without_columns(_r1c1(formulas[sheet.sheet, at], at))
            texts.add(text)
            steps.append(columns)
        where = f"{sheet.sheet}, {block.id}.{item.id}"
        assert len(texts) == 1, f"{where}: formulas differ: {texts}"
        for same in zip(*steps, strict=True):
            strides = {b - a for a, b in pairwise(same)}
            assert len(strides) == 1, f"{where}: columns {same} do not step evenly"
            if strides != {0}:
                assert "@i" in item.formula, f"{where}: columns {same} move unasked"
        seen += 1
    assert seen > _least(layout, 25, 5)


def test_no_unexplained_constant(layout: Layout) -> None:
    seen = 0
    for cell in layout.cells:
        if cell.named and cell.role != "unit":
            found = _constants(cell.named)
            assert not found, f"{cell.sheet}!{cell.address} holds {found}: {cell.named}"
            seen += 1
    assert seen > 300


def test_every_macro_is_explained(layout: Layout) -> None:
    for macro in layout.book.macros:
        assert "{x}" in macro.text
        assert len(macro.help) > 20, f"macro '{macro.name}' says nothing of itself"


def test_no_nested_if_beyond_two(layout: Layout) -> None:
    for cell in layout.cells:
        if cell.named:
            written = _nesting("=" + _NAMED.sub("A1", cell.named))
            whole = _nesting("=" + _NAMED.sub("A1", expand(layout.book, cell.named)))
            where = f"{cell.sheet}!{cell.address}: {cell.named}"
            assert written <= 2, f"{where} nests {written} deep as written"
            assert whole <= 2, f"{where} nests {whole} deep once its macros are written out"


def test_only_allowed_functions(layout: Layout, formulas: dict[Cell, str]) -> None:
    allowed = set(layout.book.functions) | set(catalogue())
    used = set()
    for where, formula in formulas.items():
        strange = set(_called(formula)) - allowed
        assert not strange, f"{where[0]}!{where[1]} uses {strange}"
        used |= set(_called(formula))
    expected = {
        "job": {"PB_ROOMS", "PB_PLANS", "PB_AMOUNTS", "PB_PURCHASE", "PB_BATCHES"},
        "shop": {"PB_PRODUCTS", "MATCH", "SUMIFS", "COUNTIFS"},
    }
    assert {"IF", "SUM"} | expected[layout.book.book] <= used


def test_no_volatile_function(layout: Layout, formulas: dict[Cell, str]) -> None:
    for where, formula in formulas.items():
        found = set(_called(formula)) & VOLATILE
        assert not found, f"{where[0]}!{where[1]} is worked out again and again: {found}"
    assert not VOLATILE & set(layout.book.functions)


def test_no_circular_reference(
    layout: Layout, formulas: dict[Cell, str], arrays: dict[Cell, str]
) -> None:
    filled = {}
    for lead, area in arrays.items():
        for cell in _cells(f"={area}", lead[0]):
            filled[cell] = lead
    assert len(filled) > _least(layout, 300, 30)
    circle = _circle(formulas, filled)
    assert not circle, " -> ".join(f"{s}!{a}" for s, a in circle)


def test_references_stay_on_cells_that_hold_something(
    layout: Layout, formulas: dict[Cell, str]
) -> None:
    """A formula that reads an empty, unplanned cell has slipped off its table."""
    known = {(c.sheet, c.address) for c in layout.cells}
    for (sheet, address), formula in formulas.items():
        for cell in _cells(formula, sheet):
            assert cell in known, f"{sheet}!{address} reads {cell[0]}!{cell[1]}, which is nothing"


def test_no_external_link(path: Path, formulas: dict[Cell, str]) -> None:
    with zipfile.ZipFile(path) as package:
        names = package.namelist()
        assert any(_SHEET_PART.match(n) for n in names)
        assert not [n for n in names if "externalLink" in n or "connections" in n]
        for name in names:
            if name.endswith(".rels"):
                assert b'TargetMode="External"' not in package.read(name), name
    for where, formula in formulas.items():
        for reference in _ranges(formula):
            assert "[" not in reference, f"{where[0]}!{where[1]} links to another file"


# Protection and looks


def test_entries_are_open_and_all_else_is_locked(layout: Layout, book: Workbook) -> None:
    entries = {(c.sheet, c.address) for c in layout.entries}
    assert len(entries) > 500
    for sheet in layout.book.sheets:
        if sheet.kind == "open":
            continue
        for row in book[sheet.sheet].iter_rows():
            for cell in row:
                where = f"{sheet.sheet}!{cell.coordinate}"
                entry = (sheet.sheet, cell.coordinate) in entries
                assert cell.protection.locked is not entry, f"{where} locked: {not entry}?"
                assert (cell.style in {"Input", "Needed"}) is entry, (
                    f"{where} has the style {cell.style}"
                )


def test_sheets_are_protected_without_a_password(layout: Layout, book: Workbook) -> None:
    for sheet in layout.book.sheets:
        guard = book[sheet.sheet].protection
        assert guard.sheet is (sheet.kind != "open"), sheet.sheet
        assert not guard.password, f"{sheet.sheet} has a password"
        assert not guard.hashValue, f"{sheet.sheet} has a password"


def test_nothing_is_hidden(book: Workbook) -> None:
    for page in book.worksheets:
        assert page.sheet_state == "visible", page.title
        assert not [n for n, d in page.row_dimensions.items() if d.hidden], page.title
        assert not [n for n, d in page.column_dimensions.items() if d.hidden], page.title


def test_no_merged_cells_in_tables(layout: Layout, book: Workbook) -> None:
    merged = 0
    for page in book.worksheets:
        for area in page.merged_cells.ranges:
            merged += 1
            for block, place in layout.places.items():
                if place.sheet != page.title or not (place.columns or place.rows):
                    continue
                apart = area.min_row > place.last or area.max_row < place.first - 2
                assert apart, f"{page.title}!{area.coord} is merged inside '{block}'"
    assert merged, "texts are merged across the sheet; the test looks at nothing"


def _numeric(item: Field) -> bool:
    if item.kind in {"number", "measure", "date", "index"}:
        return True
    if item.kind == "fixed":
        return not isinstance(item.default, str)
    if item.format.startswith("yyyy"):
        return False  # a date says its own year, month and day
    return item.kind == "formula" and item.format != "text"


def test_every_number_has_a_visible_unit(layout: Layout, shown: Workbook) -> None:
    seen = 0
    for sheet, block, item in _fields(layout):
        if not _numeric(item) or sheet.kind == "open":
            continue  # on the open sheet a person types the unit beside the number
        first = layout.cell(block.id, item.id)
        if block.kind == "table":
            at = _name(layout.places[block.id].first - 1, first.column)
        else:
            at = _name(first.row, first.column + max(len(block.instances), 1))
        unit = shown[sheet.sheet][at].value
        where = f"{block.id}.{item.id}: no unit at {sheet.sheet}!{at}"
        assert isinstance(unit, str), where
        assert unit.strip(), where
        assert "@" not in unit, where
        assert "{" not in unit, where
        seen += 1
    assert seen > _least(layout, 100, 60)


@pytest.mark.parametrize("look", styles.LOOKS, ids=lambda look: look.name)
def test_contrast(look: styles.CellLook) -> None:
    assert contrast(look.ink, look.paper) >= READABLE


def test_contrast_of_the_alarm() -> None:
    assert contrast(styles.ALARM_INK, styles.ALARM_PAPER) >= READABLE


def test_contrast_of_what_is_typed_over() -> None:
    papers = [look.paper for look in styles.LOOKS if look.name in {"Input", "Needed"}]
    assert len(papers) == 2
    assert all(contrast(styles.OWN_INK, paper) >= READABLE for paper in papers)


def test_needed_cells_look_otherwise_than_optional_ones(layout: Layout, book: Workbook) -> None:
    for cell in layout.entries:
        assert cell.field is not None
        found = book[cell.sheet][cell.address]
        assert found.style == ("Needed" if cell.field.required else "Input"), cell.address
        assert (found.border.left.style == "medium") is cell.field.required


def test_contrast_is_the_one_of_wcag() -> None:
    """Known from outside: black on white is 21, and #767676 is the lightest grey that passes."""
    assert contrast("000000", "FFFFFF") == pytest.approx(21)
    assert contrast("767676", "FFFFFF") >= READABLE > contrast("777777", "FFFFFF")


def test_builtin_style_names_are_kept(path: Path) -> None:
    """The names and numbers are those of openpyxl's own copy of Excel's styles."""
    known = {n.replace("Headline", "Heading"): s.builtinId for n, s in excel_styles.items()}
    with zipfile.ZipFile(path) as package:
        root = etree.fromstring(package.read("xl/styles.xml"))
    found = {
        str(e.get("name")): int(str(e.get("builtinId")))
        for e in root.iter("{*}cellStyle")
        if e.get("builtinId") is not None
    }
    assert {"Input", "Calculation", "Output", "Check Cell", "Note"} <= set(found)
    for name, number in found.items():
        assert known.get(name) == number, f"{name} is not Excel's style number {number}"


# Checks


def test_every_check_feeds_the_overall_one(layout: Layout, formulas: dict[Cell, str]) -> None:
    cell = layout.cell("overall", "overall")
    read = set(_cells(formulas[cell.sheet, cell.address], cell.sheet))
    checks = layout.block("checks").checks
    rows = {layout.cell("checks", "result", i).address for i in range(len(checks))}
    assert len(rows) == len(checks) >= _least(layout, 40, 10)
    rows |= {layout.cell("checks", "sheet", i).address for i in range(len(checks))}
    if layout.book.book == "job":  # a shop tells not whether functions are live
        rows |= {layout.cell("overall", name).address for name in ("live", "open")}
    wanted = {(cell.sheet, address) for address in rows}
    if layout.book.book == "job":  # which says whether anything is typed at all
        for name in ("piece", "a"):
            for row in range(layout.block("rooms").rows):
                begun = layout.cell("rooms", name, row)
                wanted.add((begun.sheet, begun.address))
    assert read == wanted


def test_overall_check_stands_at_the_top_of_every_sheet(
    layout: Layout, formulas: dict[Cell, str], shown: Workbook
) -> None:
    names = [name for name in ("at", "overall") if name in layout.places["overall"].rows]
    told = [layout.cell("overall", name) for name in names]  # a month leads nowhere
    for page in shown.worksheets:
        tops = [
            a
            for (s, a), f in formulas.items()
            if s == page.title
            and _split(a)[0] <= 3
            and list(_cells(f, s)) == [(c.sheet, c.address) for c in told]
        ]
        assert len(tops) == 1, f"{page.title} shows the overall check at {tops}"
        assert page[tops[0]].value == "OK", page.title
        row, column, _, _ = _split(tops[0])
        assert "checks" in str(page[_name(row, column - 1)].value).lower(), page.title


MARKS = {f"{mark}*" for mark in (FAILED, WAITS, CHECK, ADDED)} | {"'!*"}
"""What a formula may ask of a text: the mark it begins with, never the words behind it; of the
address of a cell, its sheet."""


def test_no_formula_asks_for_words_of_a_text(formulas: dict[Cell, str]) -> None:
    asked = {
        words
        for formula in formulas.values()
        for words in re.findall(r'"([^"]*)"', formula)
        if re.fullmatch(r"[*?].*|\S+[*?]", words)
    }
    assert asked <= MARKS


def blanks_looked_up(named: str) -> set[str]:
    """Return the words a formula judges by their count in a list, without asking for blank ones.

    A blank equals every blank of the list: it stands in it where one row is left, and twice where
    two are.
    """
    counted = re.findall(r"COUNTIFS?\([^()]*,\{([\w.]+?)(?:\.word)?\.@\}[^()]*\)[=<>]", named)
    asked = re.findall(r'\{@?([\w.]+?)(?:\.word)?(?:\.@)?\}(?:<>|=)""', named)
    return {one for one in counted if one not in asked and one.rpartition(".")[2] not in asked}


@pytest.mark.parametrize(
    ("formula", "looked_up"),
    [
        ('IF(COUNTIF({a.b.word},{c.d.word.@})=1,"ok","")', {"c.d"}),
        ('IF(AND({c.d.word.@}<>"",COUNTIF({a.b.word},{c.d.word.@})=1),"ok","")', set()),
        ('IF({@d}="","",COUNTIF({a.b.word},{c.d.word.@})>0)', set()),
        ('IF({c.e.@}<>"",COUNTIFS({a.b.word},{c.d.word.@},{a.f},">0")>1,0)', {"c.d"}),
        ("{c.d.@}&COUNTIF({a.b.word},{c.d.word.@})", set()),
    ],
)
def test_a_blank_that_is_looked_up_is_seen(formula: str, looked_up: set[str]) -> None:
    assert blanks_looked_up(formula) == looked_up


def test_no_formula_looks_up_a_blank(layout: Layout) -> None:
    found = {f"{c.sheet}!{c.address}": blanks_looked_up(c.named) for c in layout.cells if c.formula}
    assert {at: words for at, words in found.items() if words} == {}


def test_a_row_names_its_columns_as_their_headings_do(layout: Layout) -> None:
    """Whoever words a heading anew words the refusal with it, and check still finds the cell."""
    for cell in layout.cells:
        if not cell.block or layout.block(cell.block).kind != "table":
            continue
        told = set(re.findall(r'"(?:! )?([A-Z][^"{}:]*): ', cell.named))
        assert told <= {CHECK}, f"{cell.sheet}!{cell.address} names {told}: use .heading"


def test_checks_say_ok_or_check(layout: Layout, formulas: dict[Cell, str], shown: Workbook) -> None:
    for index, check in enumerate(layout.block("checks").checks):
        cell = layout.cell("checks", "result", index)
        assert '"OK","CHECK"' in formulas[cell.sheet, cell.address]
        assert shown[cell.sheet][cell.address].value == "OK", check.id
        assert shown[cell.sheet][_name(cell.row, 4)].value, f"{check.id} says not how to fix"
        assert check.sheet in shown.sheetnames, f"{check.id} points at no sheet"


# Validation


@pytest.fixture(scope="module")
def rules(layout: Layout, book: Workbook) -> dict[Cell, DataValidation]:
    """The validation of every cell that has one."""
    found: dict[Cell, DataValidation] = {}
    for page in book.worksheets:
        for rule in page.data_validations.dataValidation:
            for area in rule.sqref.ranges:
                for row, column in area.cells:
                    at = (page.title, _name(row, column))
                    assert at not in found, f"{at[0]}!{at[1]} has two validations"
                    found[at] = rule
    return found


def _entry_fields(layout: Layout) -> list[PlannedCell]:
    """Return the first entry cell of every field."""
    return [c for c in layout.entries if c.index == 0]


def test_every_entry_has_a_validation(layout: Layout, rules: dict[Cell, DataValidation]) -> None:
    assert len(layout.entries) > 500
    for cell in layout.entries:
        assert (cell.sheet, cell.address) in rules, f"{cell.sheet}!{cell.address} takes anything"
    assert set(rules) == {(c.sheet, c.address) for c in layout.entries}


def test_prompts_and_errors_say_how_to_mend(
    layout: Layout, rules: dict[Cell, DataValidation]
) -> None:
    for cell in _entry_fields(layout):
        rule = rules[cell.sheet, cell.address]
        assert cell.field is not None
        where = f"{cell.sheet}!{cell.address} ({cell.block}.{cell.field.id})"
        assert rule.showInputMessage, where
        assert rule.showErrorMessage, where
        offers = cell.field.kind == "text" and cell.field.choices_from  # a list, and other words
        assert rule.errorStyle in ({"information"} if offers else {None, "stop"}), where
        for text in (rule.prompt, rule.error):
            assert text, where
            assert len(text) <= LONGEST_MESSAGE, where
        for title in (rule.promptTitle, rule.errorTitle):
            assert title, where
            assert len(title) <= LONGEST_TITLE, where
        assert re.match(r"(Type|Choose) ", str(rule.error)), f"{where}: {rule.error}"


def test_no_message_is_cut_short(layout: Layout, rules: dict[Cell, DataValidation]) -> None:
    for cell in _entry_fields(layout):
        rule = rules[cell.sheet, cell.address]
        assert cell.field is not None
        where = f"{cell.sheet}!{cell.address} ({cell.block}.{cell.field.id})"
        for text in (str(rule.prompt), str(rule.error)):
            assert text.endswith((".", "...")), f"{where} ends in the middle: {text[-40:]!r}"
        assert rule.promptTitle == layout.text(cell.field.header), where


def test_lists_fit_into_a_validation(layout: Layout, rules: dict[Cell, DataValidation]) -> None:
    seen = 0
    for cell in _entry_fields(layout):
        rule = rules[cell.sheet, cell.address]
        if rule.type != "list":
            continue
        seen += 1
        assert cell.field is not None
        where = f"{cell.sheet}!{cell.address}"
        formula = str(rule.formula1)
        assert len(formula.strip('"')) <= LONGEST_LIST, where
        if formula.startswith('"'):
            assert formula.strip('"').split(",") == list(cell.field.choices), where
            assert not [c for c in cell.field.choices if "," in c or c != c.strip()], where
        else:
            assert _REFERENCE.match(formula), f"{where}: {formula}"
    assert seen > _least(layout, 10, 8)


def test_the_demo_keeps_its_own_lists(layout: Layout, shown: Workbook) -> None:
    """No entry of the demo would be refused by the list of its cell."""
    for cell in layout.entries:
        value = shown[cell.sheet][cell.address].value
        if value is not None and cell.field is not None and cell.field.choices:
            assert value in cell.field.choices, f"{cell.sheet}!{cell.address}: {value}"


# Print


def test_every_sheet_is_ready_to_print(layout: Layout, book: Workbook) -> None:
    for sheet in layout.book.sheets:
        page = book[sheet.sheet]
        assert page.print_area, f"{sheet.sheet} has no print area"
        head = [page.oddHeader.left.text, page.oddHeader.center.text, page.oddHeader.right.text]
        foot = [page.oddFooter.left.text, page.oddFooter.center.text, page.oddFooter.right.text]
        assert any(head), f"{sheet.sheet} has no header"
        assert "&P" in "".join(t or "" for t in foot), f"{sheet.sheet} has no page number"
        if sheet.freeze:
            first = layout.places[sheet.freeze].first
            tables = [b for b in sheet.blocks if b.kind == "table"]
            alone = {layout.places[b.id].first for b in tables} == {first}
            repeated = f"${first - 2}:${first - 1}" if alone else None
            assert page.print_title_rows == repeated, sheet.sheet
            assert page.freeze_panes, sheet.sheet
    frozen = {
        "job": ["Rooms", "Layers", "Hours", "Products"],
        "shop": ["Products", "Prices", "Stock"],
    }
    assert [s.sheet for s in layout.book.sheets if s.freeze] == frozen[layout.book.book]


def test_print_area_covers_all_computed_cells(layout: Layout, book: Workbook) -> None:
    for sheet in layout.book.sheets:
        areas = str(book[sheet.sheet].print_area).replace("$", "").split(",")
        inside = {
            a for area in areas for _, a in _cells(f"={area.rpartition('!')[2]}", sheet.sheet)
        }
        names = [block.id for block in sheet.blocks]
        kept = names[names.index(sheet.prints_to) + 1 :] if sheet.prints_to else []
        for cell in layout.cells:
            if cell.block in kept:
                assert cell.address not in inside, f"{sheet.sheet}!{cell.address} is printed"
            elif cell.sheet == sheet.sheet and cell.block and cell.role not in {"help", "link"}:
                aside = cell.field is not None and cell.field.aside
                where = f"{cell.sheet}!{cell.address}"
                assert (cell.address in inside) != aside, f"{where}: aside {aside}, and printed"


# Templates and catalogue


TABLES = {
    "rooms": ("PB_ROOMS", rooms.LABELS),
    "layers": ("PB_AMOUNTS", layers.LABELS),
    "products": ("PB_PRODUCTS", products.LABELS),
    "readings": ("PB_SURVEY", survey.LABELS),
    "onsite": ("PB_AIR", damp.LABELS),
    "log": ("PB_USED", log_rows.LABELS),
    "tests": ("PB_PROOF", proof_tests.LABELS),
    "packs": ("PB_PACKS", packs.PACK_LABELS),
    "stock": ("PB_STOCK", packs.STOCK_LABELS),
}


@pytest.mark.parametrize("table", TABLES)
def test_entry_columns_are_those_of_the_catalogue(table: str) -> None:
    name, labels = TABLES[table]
    block = load_book("job").block(table)
    assert tuple(f.id for f in block.columns) == catalogue()[name].arguments[0].columns
    assert {f.id: f.header for f in block.columns} == labels, "refusals name the headings"


def test_columns_on_bucket_heat_are_those_of_the_catalogue() -> None:
    block = load_book("job").block("kinetics")
    given = next(a for a in catalogue()["PB_PLAN"].arguments if a.name == "kinetics")
    assert tuple(f.id for f in block.columns) == given.columns
    assert {f.id: f.header for f in block.columns} == bucket_heat.LABELS


def test_receipts_handed_over_are_their_typed_columns() -> None:
    block = load_book("job").block("receipts")
    typed = tuple(f.id for f in block.columns if f.kind != "formula")
    assert typed == lots.RECEIPTS
    assert next(f for f in block.columns if f.id == "kind").choices == lots.KINDS


FILLS = {
    "rooms": "PB_ROOMS",
    "products": "PB_PRODUCTS",
    "amounts": "PB_AMOUNTS",
    "parts": "PB_PARTS",
    "additives": "PB_ADDITIVES",
    "readings": "PB_SITE",
    "onsite": "PB_AIR",
    "days": "PB_DAYS",
    "packs": "PB_PACKS",
    "stock": "PB_STOCK",
    "buying": "PB_PURCHASE",
    "plan": "PB_PLANS",
    "batches": "PB_BATCHES",
    "used": "PB_DONE",
    "proofs": "PB_PROOF",
    "words": "PB_WORDS",
    "entered": "PB_ENTERED",
    "looks": "PB_REVIEW",
    "points": "PB_DRAWING",
    "options": "PB_OPTIONS",
    "what_if": "PB_OUTLOOK",
}


@pytest.mark.parametrize("table", FILLS)
def test_result_columns_are_those_of_the_catalogue(table: str) -> None:
    fill = load_book("job").block(table).fill
    assert fill is not None
    function = catalogue()[FILLS[table]]
    assert fill.function == function.name
    assert len(fill.arguments) == len(function.arguments)
    assert [f.id for f in fill.columns] == [c.id for c in function.columns]
    for shown_column, column in zip(fill.columns, function.columns, strict=True):
        if column.unit:
            assert shown_column.unit == f"@{column.unit}", f"{table}.{column.id}"


def test_calendar_has_as_many_rows_as_its_functions() -> None:
    assert load_book("job").block("days").rows == calendar.MOST_LINES
    assert load_book("job").block("spans").rows == load_book("job").block("bars").rows
    assert load_book("job").block("spans").rows == spans.MOST


def test_every_fill_is_looked_at() -> None:
    found = {b.id for s in load_book("job").sheets for b in s.blocks if b.fill}
    assert found == set(FILLS)


LISTS = {
    ("rooms", "shape"): (
        *measuring.SHAPES,
        rooms.POLYGON,
        rooms.AREA_GIVEN,
        *filling.FILLS,
        filling.MOULD,
    ),
    ("rooms", "edge_profile"): tuple(edges.EDGE_PROFILES),
    ("rooms", "may_split"): ("yes", "no"),
    ("layers", "option"): layers.OPTIONS,
    ("layers", "method"): layers.METHODS,
    ("layers", "before"): layers.BEFORE,
    ("layers", "film"): ("wet", "dry", layers.DEPTH),
    ("products", "first"): products.PARTS,
    ("products", "basis"): ("volume", "mass"),
    ("rates", "option"): layers.OPTIONS,
    ("readings", "test"): survey.TESTS,
    ("site", "weekdays"): tuple(site.WEEK),
    ("packs", "holds"): packs.HOLDS,
    ("stock", "holds"): packs.HOLDS,
}


@pytest.mark.parametrize("where", LISTS, ids=".".join)
def test_choices_are_those_of_the_functions(where: tuple[str, str]) -> None:
    assert load_book("job").block(where[0]).field(where[1]).choices == LISTS[where]


def test_surfaces_can_be_read() -> None:
    choices = load_book("job").block("layers").field("surfaces").choices
    read = [tuple(sorted(layers.read_surfaces(c))) for c in choices]
    assert (
        len(set(read)) == len(choices) == 2 ** (len(measured.SURFACES) - 1)
    )  # fills go with no other


@pytest.mark.parametrize("where", [("labour", "per"), ("sundries", "item_per")], ids=".".join)
def test_drivers_are_the_labels_of_the_quantities(where: tuple[str, str]) -> None:
    labels = [f.header for f in load_book("job").block("quant").columns if f.unit]
    assert list(load_book("job").block(where[0]).field(where[1]).choices) == labels


def test_options_are_those_of_every_side_by_side_block() -> None:
    blocks = [b for s in load_book("job").sheets for b in s.blocks if b.kind == "lines"]
    blocks = [b for b in blocks if b.id != "margin"]  # as quoted and as earned, of one option
    assert len(blocks) >= 3
    for block in blocks:
        assert block.instances == layers.OPTIONS, block.id


@pytest.mark.parametrize("name", ["job", "shop"])
@pytest.mark.parametrize("system", SYSTEMS)
def test_book_lays_out_in_every_system(system: str, name: str) -> None:
    found = lay_out(name, system, 3)
    cells = [(c.sheet, c.address) for c in found.cells]
    assert len(set(cells)) == len(cells), "two things are planned for one cell"


SHARED_SHEETS = {"Products"}
OWN_WORDS = {"help", "required"}


def test_the_shop_asks_for_what_a_job_asks_for() -> None:
    """A field of the shop that a new job takes has the kind, unit and limits it has in the job."""
    job, shop = load_book("job"), load_book("shop")
    seen = 0
    for block in (b for s in shop.sheets if s.sheet not in SHARED_SHEETS for b in s.blocks):
        if block.id not in {"money", "site", "rates", "pace", "sundries", "labour", "units"}:
            continue
        twin = job.block(block.id)
        assert block.rows == twin.rows, block.id
        for item in block.columns:
            ours, theirs = asdict(item), asdict(twin.field(item.id))
            differing = {k for k in ours if ours[k] != theirs[k]} - OWN_WORDS
            assert not differing, f"{block.id}.{item.id}: {differing}"
            seen += 1
    assert seen > 25


def test_a_price_is_a_pack_of_a_job() -> None:
    prices, packs_of_job = load_book("shop").block("prices"), load_book("job").block("packs")
    for name in ("product", "holds", "price", "shelf_life", "most"):
        assert prices.field(name) == packs_of_job.field(name), name


def test_a_sheet_is_taken_from_the_job(tmp_path: Path) -> None:
    """Its own folder comes first; only what it lacks is the job's."""
    shop, job = tmp_path / "shop", tmp_path / "job"
    for folder in (shop, job):
        folder.mkdir()
    (shop / "book.toml").write_text(BOOK, encoding="utf-8")
    (job / "one.toml").write_text(SHEET, encoding="utf-8")
    assert read_book(shop).sheets[0].title == "One"
    (shop / "one.toml").write_text(_swap(SHEET, 'title = "One"', 'title = "Own"'), encoding="utf-8")
    assert read_book(shop).sheets[0].title == "Own"
    assert load_book("shop").block("working") is not load_book("shop").block("products")
    assert load_book("shop").block("working") == load_book("job").block("working")


# The language refuses what it does not know


BOOK = """
book = "mini"
title = "Mini"
sheets = ["One"]
overall = "form.total"
currency = "form.name"
system = "form.name"
functions = ["SUM"]
macros = []
"""
SHEET = """
sheet = "One"
kind = "entry"
title = "One"
purpose = "To be broken."
[[block]]
id = "form"
kind = "form"
[[block.line]]
id = "name"
header = "Name"
kind = "text"
[[block.line]]
id = "total"
header = "Total"
kind = "formula"
unit = "rows"
formula = "SUM({table.number})"
[[block]]
id = "table"
kind = "table"
rows = 3
[[block.column]]
id = "number"
header = "Number"
kind = "number"
unit = "pieces"
minimum = 0
"""


def _plan_text(folder: Path, book: str, sheet: str) -> Layout:
    (folder / "book.toml").write_text(book, encoding="utf-8")
    (folder / "one.toml").write_text(sheet, encoding="utf-8")
    return plan_book(read_book(folder), SYSTEMS["us"], 3)


def test_sound_little_book_is_accepted(tmp_path: Path) -> None:
    found = _plan_text(tmp_path, BOOK, SHEET)
    assert found.cell("form", "total").formula == "=SUM($A$10:$A$12)"


def test_block_stands_beside_another(tmp_path: Path) -> None:
    beside = SHEET.replace("rows = 3", 'rows = 3\nbeside = "form"\nleft = 5')
    found = _plan_text(tmp_path, BOOK, beside)
    assert found.cell("form", "total").formula == "=SUM($E$7:$E$9)"
    assert found.cell("table", "number", 2).address == "E9"
    assert found.cell("form", "name").address == "B5"


def _swap(text: str, old: str, new: str) -> str:
    assert text.count(old) >= 1, old
    return text.replace(old, new, 1)


BROKEN = {
    "unknown key in a sheet": ("", "purpose =", 'colour = "red"\npurpose =', "colour"),
    "unknown key in a block": ("", "rows = 3", "rows = 3\nsorted = true", "sorted"),
    "unknown key in a field": ("", "minimum = 0", "least = 0", "least"),
    "wrong type: text for a number": ("", "minimum = 0", 'minimum = "0"', "minimum"),
    "wrong type: number for a text": ("", 'title = "One"', "title = 1", "title"),
    "wrong type: true for a number": ("", "minimum = 0", "minimum = true", "minimum"),
    "wrong type: fraction of a row": ("", "rows = 3", "rows = 3.5", "rows"),
    "wrong type: text for a list": ("", 'kind = "number"', 'choices = "a"', "choices"),
    "duplicate block id": ("", 'id = "table"', 'id = "form"', "form"),
    "duplicate field id": ("", 'id = "total"', 'id = "name"', "twice"),
    "missing block id": ("", 'id = "table"\n', "", "id"),
    "missing field id": ("", 'id = "number"\n', "", "id"),
    "missing header": ("", 'header = "Number"\n', "", "header"),
    "missing purpose": ("", 'purpose = "To be broken."\n', "", "purpose"),
    "unknown sheet kind": ("", 'kind = "entry"', 'kind = "page"', "page"),
    "unknown block kind": ("", 'kind = "table"', 'kind = "grid"', "grid"),
    "unknown field kind": ("", 'kind = "number"', 'kind = "integer"', "integer"),
    "table without rows": ("", "rows = 3\n", "", "rows"),
    "no TOML": ("", "rows = 3", "rows = = 3", "one.toml"),
    "sheet of another name": ("", 'sheet = "One"', 'sheet = "Two"', "name"),
    "field that is not there": ("", "{table.number}", "{table.amount}", "amount"),
    "block that is not there": ("", "{table.number}", "{tables.number}", "tables"),
    "own field that is not there": ("", "SUM({table.number})", "{@amount}", "amount"),
    "unit that is not there": ("", 'unit = "pieces"', 'unit = "@girth"', "girth"),
    "unknown key in the book": ("book", "macros = []", "makros = []", "makros"),
    "missing list of functions": ("book", 'functions = ["SUM"]\n', "", "functions"),
    "sheet without its file": ("book", '["One"]', '["One", "Two"]', "two.toml"),
    "block beside nothing": ("", "rows = 3", 'rows = 3\nbeside = "later"\nleft = 5', "later"),
    "block beside on top": ("", "rows = 3", 'rows = 3\nbeside = "form"', "beside nothing"),
    "overall check that is not there": ("book", "form.total", "form.sum", "sum"),
}


@pytest.mark.parametrize("case", BROKEN)
def test_broken_book_is_refused(case: str, tmp_path: Path) -> None:
    part, old, new, word = BROKEN[case]
    top = _swap(BOOK, old, new) if part == "book" else BOOK
    sheet = SHEET if part == "book" else _swap(SHEET, old, new)
    with pytest.raises(TemplateError, match=word):
        _plan_text(tmp_path, top, sheet)


def test_macro_that_is_not_closed_is_refused() -> None:
    with pytest.raises(TemplateError, match="not closed"):
        expand(load_book("job"), "money({a.b}")


def test_macro_inside_a_macro_is_written_out() -> None:
    macros = (
        replace(load_book("job").macros[0], name="twice", text="({x})+({x})"),
        replace(load_book("job").macros[0], name="once", text="[{x}]"),
    )
    book = replace(load_book("job"), macros=macros)
    assert expand(book, "twice(once(A(1)))") == "([A(1)])+([A(1)])"


def test_every_date_fits_its_column_with_room_for_another_font(
    layout: Layout, book: Workbook
) -> None:
    """A date too wide for its cell is shown as ####; Excel's own font is wider than ours."""
    dated = [c for c in layout.cells if c.field and "yy" in book[c.sheet][c.address].number_format]
    assert len(dated) >= _least(layout, 100, 5)
    for cell in dated:
        shown = len(book[cell.sheet][cell.address].number_format)
        merged = cell.spans > 1
        wide = book[cell.sheet].column_dimensions[letters(cell.column)].width
        assert merged or wide >= shown + 1, f"{cell.sheet}!{cell.address}: {wide} for {shown}"
