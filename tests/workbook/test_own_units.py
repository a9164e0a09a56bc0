"""The estimator's own formulas: two units put together are told, the rest is left alone."""

from __future__ import annotations

from pathlib import Path

import openpyxl
import pytest

from pourbook.workbook.audit.own_units import own_units
from pourbook.workbook.layout.laid_out import Layout
from pourbook.workbook.layout.lay_out import lay_out
from pourbook.workbook.read.read import RawBook, RawSheet, read_book
from pourbook.workbook.read.sheet_lines import RawCell

CELLS = {
    "area": ("amounts", "area", 0),
    "mixed": ("amounts", "mixed", 0),
    "film": ("amounts", "wet", 0),
    "weighed": ("batches", "mass_a", 0),
    "starts": ("days", "starts", 0),
    "ends": ("days", "ends", 0),
    "air": ("site", "temperature", 0),
    "wage": ("rates", "labour", 0),
    "trip": ("rates", "trip", 0),
    "hours": ("price", "hours", 0),
    "net": ("price", "net", 0),
    "tax": ("money", "tax", 0),
    "layer": ("layers", "layer", 0),
    "each": ("price", "per_area", 0),
    "packs": ("packs", "count", 0),
}
"""Short names for labelled cells of a US job."""

WRONG = {
    "{area}+{mixed}": "ft² and US gal are added",
    "{mixed}-{weighed}": "US gal and g are taken away",
    "{net}+{hours}": "money and h are added",
    "{net}+{wage}": "money and money/h are added",
    "{net}+{each}*{mixed}": "money and money·US gal/ft² are added",
    "{starts}+{hours}": "a date and h are added",
    "{starts}+{ends}": "a date is added to a date",
    "{starts}*{wage}": "a date is multiplied or divided",
    "{net}*{layer}": "a text is multiplied or divided",
    "{tax}+{net}": "a share and money are added",
    "IF({net}>{hours},1,0)": "money and h are compared",
    "MAX({hours},{trip})": "h and money/day are put together",
    "SUMIFS({area},{mixed},{hours})": "US gal and h are compared",
    "{air}+{film}": "°F and mil are added",
    'PB_CONVERT({mixed},"L","US gal")': "US gal and L are taken for one another",
    'PB_READ("3 L","L")+{mixed}': "L and US gal are added",
    "{hours}/{wage}+{hours}": "h²/money and h are added",
    "IF({layer}<>\"\",{area},{mixed})": "ft² and US gal are shown in one cell",
    "INDEX({area},{hours})": "h is taken for the number of a row",
}  # fmt: skip

RIGHT = (
    "{area}*{each}+{net}",
    "{hours}*{wage}+{trip}*({ends}-{starts})",
    "{net}*(1+{tax})",
    "{mixed}*3.785+5",
    "{area}+10",
    "SUM({area},{area})*2",
    "{packs}*{net}",
    "{starts}+7",
    "({starts}-TODAY())*24",
    "({ends}-H1)*{hours}",
    'PB_CONVERT({mixed},"US gal","L")+PB_READ("3 L","L")',
    "IFERROR({net}/{area},0)-{each}",
    "LAMBDA(x,x)({net})",
    "{layer}&{net}",
    "MYOWN({net})+{hours}",
    "SUM(Amounts!A1:XFD1048576)+{net}",
    "A1 B2",
)


@pytest.fixture(scope="module")
def job(demo_us: Path) -> tuple[Layout, dict[str, str]]:
    plan = read_book(demo_us).plan("job")
    cells = {name: plan.cell(*where) for name, where in CELLS.items()}
    return plan, {name: f"'{c.sheet}'!{c.address}" for name, c in cells.items()}


def typed(source: Path, target: Path, formulas: dict[tuple[str, str], str]) -> RawBook:
    """Return the demo with own formulas."""
    book = openpyxl.load_workbook(source)
    for (sheet, address), formula in formulas.items():
        page = book[sheet] if sheet in book.sheetnames else book.create_sheet(sheet)
        page[address] = "=" + formula
    book.save(target)
    return read_book(target)


def test_what_does_not_fit_is_told_where_it_stands(
    job: tuple[Layout, dict[str, str]], demo_us: Path, tmp_path: Path
) -> None:
    plan, names = job
    formulas = {("Scratch", f"F{n}"): f for n, f in enumerate(WRONG, 60)}
    formulas |= {("Mine", f"B{n}"): f for n, f in enumerate(WRONG, 1)}
    written = {at: f.format(**names) for at, f in formulas.items()}
    found = dict(own_units(plan, typed(demo_us, tmp_path / "own.xlsx", written)))
    assert found == {at: WRONG[f] for at, f in formulas.items()}


def test_what_fits_or_is_not_known_is_left_alone(
    job: tuple[Layout, dict[str, str]], demo_us: Path, tmp_path: Path
) -> None:
    plan, names = job
    written = {("Scratch", f"F{n}"): f.format(**names) for n, f in enumerate(RIGHT, 60)}
    assert own_units(plan, typed(demo_us, tmp_path / "own.xlsx", written)) == []


def test_a_slip_behind_another_cell_is_told_once(
    job: tuple[Layout, dict[str, str]], demo_us: Path, tmp_path: Path
) -> None:
    plan, names = job
    written = {
        ("Mine", "A1"): "{area}*2/2+0".format(**names),
        ("Mine", "A2"): "{area}".format(**names),
        ("Mine", "A3"): "A2*{each}".format(**names),
        ("Mine", "A4"): "A3+{hours}".format(**names),
        ("Mine", "A5"): "A4+{net}".format(**names),
        ("Mine", "A6"): "A6+1",
    }
    found = own_units(plan, typed(demo_us, tmp_path / "own.xlsx", written))
    assert found == [(("Mine", "A4"), "money and h are added")]


ODD = (
    "SUM()", "MAX()", "ROUND()", "IF()", "IF(1)", "INDEX()", "MATCH(1)", "COUNTIF(A1)", "SUMIFS()",
    "SUMPRODUCT()", "IFERROR()", "PB_READ(1)", "PB_CONVERT(1,2)", "OF(1)", "OPERATION(1)",
    "LITERAL()", "PAIRS(1)", "1" + "+1" * 4000, "-" * 4000 + "1", "1" + "%" * 4000,
)  # fmt: skip
"""No formulas a program would take, found by fuzzing: those without arguments ended a check."""


def test_what_is_no_formula_is_left_to_the_engines(
    job: tuple[Layout, dict[str, str]], demo_us: Path, tmp_path: Path
) -> None:
    plan, _ = job
    written = {("Mine", f"A{n}"): formula for n, formula in enumerate(ODD, 1)}
    assert own_units(plan, typed(demo_us, tmp_path / "own.xlsx", written)) == []


@pytest.mark.parametrize("version", ["1", "2"])
def test_no_label_of_any_templates_is_a_fault_of_its_own(version: str) -> None:
    plan = lay_out("job", "us", 3, version)
    cells = {
        f"A{n}": RawCell(1.0, f"='{c.sheet}'!{c.address}") for n, c in enumerate(plan.cells, 1)
    }
    own = RawBook(Path("job.xlsx"), {"Mine": RawSheet("Mine", False, cells)})
    assert own_units(plan, own) == []
