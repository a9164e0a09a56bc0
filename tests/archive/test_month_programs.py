"""LibreOffice and pandas work the roll-up out as we do: outside oracles for its native sums."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import openpyxl
import pandas as pd
import pytest
from tests.archive.test_month import SPLIT, records
from tests.office import saved_by_office, without_values

from pourbook.archive.month import BOOK, roll_up, write
from pourbook.job.fill import fill
from pourbook.workbook.layout.laid_out import Layout
from pourbook.workbook.layout.lay_out import lay_out


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("programs")
    roll = roll_up(records(12), "f", made=dt.date(2027, 3, 1))
    write(roll, folder / "plain.xlsx", force=False, made=dt.datetime(2027, 3, 1))
    fill(folder / "plain.xlsx", folder / "month.xlsx", {("trace", "lot", 0): "l3"}, force=False)
    return folder / "month.xlsx"


@pytest.fixture(scope="module")
def layout() -> Layout:
    return lay_out(BOOK, "us", 12)


def _frame(path: Path, layout: Layout, block: str) -> pd.DataFrame:
    """Return the values of a table as pandas reads them."""
    place = layout.places[block]
    names = [f.id for f in layout.block(block).all_fields()]
    read = pd.read_excel(
        path, sheet_name=place.sheet, header=None, skiprows=place.first - 1,
        nrows=layout.block(block).rows, usecols=range(len(names)),
    )  # fmt: skip
    return read.set_axis(names, axis="columns")


def test_sums_are_those_of_pandas(made: Path, layout: Layout) -> None:
    page = openpyxl.load_workbook(made, data_only=True)
    detail = _frame(made, layout, "detail").dropna(subset="product")
    jobs = _frame(made, layout, "job_coatings")
    for name in SPLIT:
        cell = layout.cell("sums", name)
        assert page[cell.sheet][cell.address].value == round(detail[name].sum(), 2)
        assert page[cell.sheet][cell.address].value == round(
            pd.to_numeric(jobs[name], errors="coerce").sum(), 2
        )
    grouped = detail.groupby(detail["product"].str.casefold())["used"].sum()
    shown = _frame(made, layout, "by_product").dropna(subset="product")
    assert len(grouped) == len(shown) == 3
    for _, row in shown.iterrows():
        assert row["used"] == pytest.approx(grouped[str(row["product"]).casefold()], abs=1e-9)


@pytest.mark.libreoffice
def test_libreoffice_works_it_out_the_same(made: Path, layout: Layout, tmp_path: Path) -> None:
    bare = tmp_path / "month.xlsx"
    taken = without_values(made, bare)
    assert taken > 500
    theirs = openpyxl.load_workbook(saved_by_office(bare, tmp_path), data_only=True)
    ours = openpyxl.load_workbook(made, data_only=True)
    compared = 0
    for cell in layout.cells:
        if not cell.formula:
            continue
        a, b = (book[cell.sheet][cell.address].value for book in (ours, theirs))
        where = f"{cell.sheet}!{cell.address}: {a!r} and {b!r}"
        if isinstance(a, int | float) and not isinstance(a, bool):
            assert isinstance(b, int | float), where
            assert a == pytest.approx(b, rel=1e-9, abs=1e-9), where
        else:
            assert (a or "") == (b or ""), where
        compared += 1
    assert compared > 500
