"""Settle in three programs: both engines and LibreOffice, which gets the books copy alone."""

from __future__ import annotations

import datetime as dt
import random
from decimal import ROUND_HALF_UP, Decimal
from pathlib import Path

import openpyxl
import pytest
from openpyxl import Workbook
from openpyxl.utils.datetime import to_excel
from tests.job.settling import Bench
from tests.office import Cell, native, saved_by_office, values, without_values

from pourbook.cells import Value
from pourbook.hosts import headless
from pourbook.job import books, fill
from pourbook.workbook.layout.laid_out import Layout
from pourbook.workbook.layout.references import expand
from pourbook.workbook.read.read import read_book
from pourbook.workbook.template.template import load_book

NOISE = 1e-12
NUMBERS = (
    0.0, -0.0, 1e-17, -1e-17, 0.004, -0.004, 0.005, -0.005, 0.015, -0.015, 1.005, -1.005, 2.675,
    -2.675, 0.1 + 0.2, -0.1 - 0.2, 8.345, -8.345, 1234567.895, -1234567.895, 3, -3,
)  # fmt: skip


def _amounts() -> list[float]:
    dice = random.Random(5)
    return [*NUMBERS, *(round(dice.uniform(-5000, 5000), dice.randint(0, 5)) for _ in range(150))]


def _cents(number: float) -> float:
    """Return money to the cent as the decimal module rounds what a person would read."""
    read = Decimal(repr(number)).quantize(Decimal("0.000001"))
    return float(read.quantize(Decimal("0.01"), ROUND_HALF_UP))


@pytest.fixture(scope="module")
def sums(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A sheet of amounts, their signs, and their cents by the macro."""
    book = Workbook()
    page = book.active
    assert page is not None
    page.title = "S"
    formula = expand(load_book("job"), "cents({x})").replace("{x}", "A{row}")
    for row, number in enumerate(_amounts(), start=1):
        page.cell(row, 1, number)
        page.cell(row, 2, f"=SIGN(A{row})")
        page.cell(row, 3, "=" + formula.replace("{row}", str(row)))
    path = tmp_path_factory.mktemp("cents") / "cents.xlsx"
    book.save(path)
    return path


def _judge(found: dict[Cell, object], exact: bool) -> None:
    for row, number in enumerate(_amounts(), start=1):
        sign, cents = found["S", f"B{row}"], found["S", f"C{row}"]
        if not 0 < abs(number) < NOISE:  # the plain engine takes such a number for 0
            assert sign == (number > 0) - (number < 0), number
        assert isinstance(cents, int | float), (number, cents)
        assert abs(cents - _cents(number)) < 1e-9, number
        if exact:
            assert not str(cents).startswith("-0.0") or cents < 0, "minus nothing"


@pytest.mark.plain
@pytest.mark.parametrize("engine", ["fast", "plain"])
def test_engines_agree_on_cents(sums: Path, engine: str) -> None:
    wanted = [("S", f"{c}{r}") for r in range(1, len(_amounts()) + 1) for c in "BC"]
    done = headless.engine(engine).recompute(sums, wanted)
    assert not done.reasons
    found: dict[Cell, object] = dict(done.values)
    _judge(found, exact=True)


@pytest.mark.libreoffice
def test_libreoffice_agrees_on_cents(sums: Path, tmp_path: Path) -> None:
    theirs = values(saved_by_office(sums, tmp_path), native(sums))
    assert len(theirs) == 2 * len(_amounts())
    _judge(theirs, exact=False)


def _same(ours: Value | object, theirs: object) -> bool:
    if isinstance(ours, int | float) and isinstance(theirs, int | float):
        return abs(ours - theirs) <= 1e-9 * max(1.0, abs(ours))
    return (ours or "") == (theirs or "")


@pytest.mark.plain
def test_plain_engine_agrees_on_a_settled_job(
    settled_us: Path, plan_us: Layout, tmp_path: Path
) -> None:
    bench = Bench(settled_us, plan_us, tmp_path)
    fast = bench.run({})
    plain = headless.engine("plain").recompute(bench.target, bench.wanted)
    assert not plain.reasons
    apart = {
        k: (v, plain.values[k]) for k, v in fast.values.items() if not _same(v, plain.values[k])
    }
    assert not apart
    assert len(fast.values) > 500


@pytest.mark.libreoffice
def test_books_copy_settles_anew_in_libreoffice(
    settled_us: Path, plan_us: Layout, tmp_path: Path
) -> None:
    """The bookkeeper corrects a price and a count in the copy; Settle follows, to its journal."""
    copy = tmp_path / "books.xlsx"
    books.books_copy(settled_us, copy, force=False, made=dt.datetime(2027, 2, 1))
    changes = {("receipts", "price", 0): 71.25, ("left", "rest", 2): 0.9}
    corrected = tmp_path / "corrected.xlsx"
    book = openpyxl.load_workbook(copy)
    for key, value in changes.items():
        cell = plan_us.entry_at[key]
        book[cell.sheet][cell.address] = value
    book.save(corrected)
    formulas = {k: v for k, v in native(corrected).items() if k[0] in Bench.SHEETS}
    bare = tmp_path / "bare.xlsx"
    without_values(corrected, bare)
    shown = values(saved_by_office(bare, tmp_path), formulas)
    theirs = {k: to_excel(v) if isinstance(v, dt.datetime) else v for k, v in shown.items()}
    ours = fill.fill(settled_us, tmp_path / "job.xlsx", changes, force=False)
    apart = {k: (ours[k], v) for k, v in theirs.items() if not _same(ours[k], v)}
    assert not apart, f"{len(apart)} of {len(theirs)} differ (ours, LibreOffice): {apart}"
    before = read_book(settled_us)
    for block, name in (("settle_sums", "price"), ("settle_sums", "waste"), ("margin", "margin")):
        cell = plan_us.cell(block, name, int(block == "margin"))
        at = (cell.sheet, cell.address)
        assert theirs[at] != before.sheets[cell.sheet].value(cell.address), f"{at} stood still"
    residual = plan_us.cell("settle_sums", "residual")
    assert theirs[residual.sheet, residual.address] == 0
