"""LibreOffice as an outside oracle: it works out every native formula of the demo as we do.

The oracle gets a copy in which Pourbook's functions are values and every other formula has lost
its stored value, so that nothing of ours can be echoed back. It runs with a private profile.
"""

from __future__ import annotations

import math
import os
import shutil
import subprocess
import zipfile
from pathlib import Path

import openpyxl
import pandas as pd
import pytest
from lxml import etree
from tests.office import native, saved_by_office, values, without_values

from pourbook.job import books
from pourbook.workbook.layout.laid_out import Layout, PlannedCell

pytestmark = pytest.mark.libreoffice

_Q = "{http://schemas.openxmlformats.org/spreadsheetml/2006/main}"
ENOUGH = {"job": 250, "shop": 100}


@pytest.fixture(scope="module", params=["us", "metric", "shop"])
def kind(request: pytest.FixtureRequest) -> str:
    """Which workbook LibreOffice works out: the demo job, its metric twin, or its shop."""
    return str(request.param)


@pytest.fixture(scope="module")
def layout(kind: str, plan_us: Layout, plan_metric: Layout, plan_shop: Layout) -> Layout:
    return {"us": plan_us, "metric": plan_metric, "shop": plan_shop}[kind]


@pytest.fixture(scope="module")
def path(kind: str, demo_us: Path, demo_metric: Path, demo_shop: Path) -> Path:
    return {"us": demo_us, "metric": demo_metric, "shop": demo_shop}[kind]


def test_libreoffice_agrees(path: Path, layout: Layout, tmp_path: Path) -> None:
    plain = tmp_path / "books.xlsx"
    assert books.without_functions(path, plain) >= (4 if layout.book.book == "job" else 1)
    formulas = native(plain)
    bare = tmp_path / "bare.xlsx"
    assert without_values(plain, bare) == len(formulas)
    emptied = values(bare, formulas)
    assert set(emptied.values()) == {""}, "a value of ours is left for LibreOffice to echo"

    ours = values(path, formulas)
    theirs = values(saved_by_office(bare, tmp_path), formulas)
    apart = {}
    numbers = texts = money = 0
    for where, value in ours.items():
        other = theirs[where]
        field = layout.by_address[where].field
        if isinstance(value, int | float) and isinstance(other, int | float):
            numbers += 1
            same = abs(value - other) <= 1e-9 * max(abs(value), abs(other))
            if field is not None and field.unit.startswith("@money"):
                money += 1
                same = same and round(value * 100) == round(other * 100)
        else:
            texts += 1
            same = value == other
        if not same:
            apart[f"{where[0]}!{where[1]} {formulas[where]}"] = (value, other)
    assert not apart, f"{len(apart)} of {len(ours)} formulas differ (ours, LibreOffice): {apart}"
    assert len(ours) > ENOUGH[layout.book.book]
    assert numbers > 100
    assert texts > 30
    assert money > (30 if layout.book.book == "job" else 10)


def test_libreoffice_notices_a_change(demo_us: Path, plan_us: Layout, tmp_path: Path) -> None:
    """The comparison is no echo: with another rate LibreOffice comes to another price."""
    changed = tmp_path / "changed.xlsx"
    books.without_functions(demo_us, changed)
    book = openpyxl.load_workbook(changed)
    rate, price = plan_us.cell("rates", "trip"), plan_us.cell("price", "travel", 0)
    before = book[rate.sheet][rate.address].value
    book[rate.sheet][rate.address] = before * 2
    book.save(changed)
    wanted = {(price.sheet, price.address): ""}
    ours = values(demo_us, wanted)[price.sheet, price.address]
    theirs = values(saved_by_office(changed, tmp_path), wanted)[price.sheet, price.address]
    assert isinstance(ours, int | float)
    assert theirs == pytest.approx(ours * 2)


def test_program_without_the_functions_says_so(
    demo_us: Path, plan_us: Layout, tmp_path: Path
) -> None:
    """The planted fault is the program: LibreOffice opens the job without the add-in."""
    shown = openpyxl.load_workbook(saved_by_office(demo_us, tmp_path), data_only=True)

    def value(cell: PlannedCell) -> object:
        return shown[cell.sheet][cell.address].value

    block = plan_us.block("checks")
    at = [check.id for check in block.checks].index("live")
    assert value(plan_us.cell("overall", "live")) == "not live"
    assert value(plan_us.cell("checks", "result", at)) == "CHECK"
    assert "books copy" in str(value(plan_us.cell("checks", "mend", at)))
    tops = [c for c in plan_us.cells if c.role == "check" and not c.block]
    said = {value(c) for c in [*tops, plan_us.cell("overall", "overall")]}
    assert said == {"CHECK: functions are not live"}
    assert len(tops) == len(plan_us.book.sheets)
    broken = [
        c.coordinate
        for row in shown["Checks"].iter_rows(max_row=plan_us.places["words"].top - 1)
        for c in row
        if c.data_type == "e"
    ]
    assert not broken, "an error on Checks in place of words"
    rooms = plan_us.cell("rooms", "top", 0)
    assert value(rooms) == "#NAME?", "the add-in is there: the test proves nothing"


def test_program_without_the_functions_shows_no_price_amount_or_card(
    demo_us: Path, plan_us: Layout, tmp_path: Path
) -> None:
    """What it shows, cell by cell: the values it keeps in tables and cards are not seen."""
    stored = openpyxl.load_workbook(demo_us, data_only=True)
    kept = [
        c
        for c in plan_us.cells
        if c.block
        and plan_us.block(c.block).withheld
        and (c.fill or c.formula)
        and stored[c.sheet][c.address].value not in {None, ""}
    ]
    assert {c.block for c in kept} == {"packs", "stock", "buying", "additives", "mix_cards"}
    net = plan_us.cell("quote_price", "net")
    price = f"{stored[net.sheet][net.address].value:,.2f}"
    assert price == "6,770.13"
    paper = saved_by_office(demo_us, tmp_path, "pdf")
    reader = shutil.which("pdftotext")
    if reader is None:
        if os.environ.get("CI"):
            pytest.fail("CI needs pdftotext (poppler-utils), and it is not installed")
        pytest.skip("pdftotext (poppler-utils) is not installed")
    done = subprocess.run([reader, "-layout", paper, "-"], capture_output=True, check=True)
    printed = done.stdout.decode()
    assert price not in printed
    own = {(c.sheet, c.address) for c in kept}
    others = " ".join(
        str(cell.value)
        for page in stored
        for row in page.iter_rows()
        for cell in row
        if (page.title, cell.coordinate) not in own
    )
    texts = {str(stored[sheet][cell].value) for sheet, cell in own}
    alone = {text for text in texts if len(text) > 5 and text not in others}
    assert len(alone) > 20
    assert not {text for text in alone if text in printed}
    assert printed.count("see Checks") > 150


class TestPreviews:
    """A reader that works out nothing still sees every value."""

    def test_openpyxl_sees_a_value_beside_every_formula(self, path: Path, layout: Layout) -> None:
        book = openpyxl.load_workbook(path, data_only=True)
        seen = 0
        for cell in layout.cells:
            if not (cell.formula or cell.fill):
                continue
            kept = book[cell.sheet][cell.address]
            if kept.value is None:  # an empty text is stored as such, and read as nothing
                assert kept.data_type in {"s", "str"}, f"{cell.sheet}!{cell.address} has no value"
            else:
                seen += 1
        assert seen > ENOUGH[layout.book.book]

    def test_every_formula_cell_stores_a_value(self, path: Path) -> None:
        stored = 0
        with zipfile.ZipFile(path) as package:
            for name in package.namelist():
                if name.startswith("xl/worksheets/sheet"):
                    root = etree.fromstring(package.read(name))
                    for cell in root.iter(_Q + "c"):
                        if cell.find(_Q + "f") is not None:
                            assert cell.find(_Q + "v") is not None, f"{name} {cell.get('r')}"
                            stored += 1
        assert stored > ENOUGH["job"]

    def test_pandas_sees_numbers(self, path: Path, layout: Layout) -> None:
        frames = pd.read_excel(path, sheet_name=None, header=None, keep_default_na=False)
        assert list(frames) == [s.sheet for s in layout.book.sheets]
        numbers = 0
        below = []  # pandas leaves out rows of nothing but empty texts at the end of a sheet
        for cell in layout.cells:
            if not (cell.formula or cell.fill):
                continue
            frame = frames[cell.sheet]
            if cell.row > len(frame):
                below.append(cell)
                continue
            value = frame.iat[cell.row - 1, cell.column - 1]
            assert value is not None, f"{cell.sheet}!{cell.address}"
            assert not (isinstance(value, float) and math.isnan(value)), cell.address
            numbers += isinstance(value, int | float)
        assert numbers > ENOUGH[layout.book.book]
        stored = values(path, {(c.sheet, c.address): "" for c in below})
        assert set(stored.values()) <= {""}
        money = {"job": ("price", "gross"), "shop": ("lots", "on_value")}
        price = layout.cell(*money[layout.book.book], 0)
        assert frames[price.sheet].iat[price.row - 1, price.column - 1] > 0
