"""A folder of jobs as a shop has it: settled ones, others, and all that should not be there."""

from __future__ import annotations

import datetime as dt
import os
import shutil
from dataclasses import replace
from pathlib import Path

import openpyxl
import pytest
from lxml import etree
from tests.archive import making
from tests.made_once import made_once

from pourbook.formats.ooxml import rewrite
from pourbook.formats.ooxml.copying import copied
from pourbook.job import books, macros
from pourbook.workbook.layout.laid_out import Layout

_MAIN = "{http://schemas.openxmlformats.org/spreadsheetml/2006/main}"


def type_over(source: Path, target: Path, sheet: str, address: str, number: float) -> None:
    """Copy a workbook with a number in place of a formula."""
    parts = rewrite.sheet_parts(source)

    def edit(part: str, content: bytes) -> bytes:
        if parts.get(part) != sheet:
            return content
        root = etree.fromstring(content)
        cell = next(c for c in root.iter(_MAIN + "c") if c.get("r") == address)
        for child in list(cell):
            cell.remove(child)
        cell.attrib.pop("t", "")
        etree.SubElement(cell, _MAIN + "v").text = str(number)
        return etree.tostring(root)

    copied(source, target, edit)


@pytest.fixture(scope="session")
def settled_folder(
    tmp_path_factory: pytest.TempPathFactory,
    demo_us: Path,
    demo_metric: Path,
    plan_us: Layout,
    plan_metric: Layout,
) -> Path:
    """Three settled jobs, one of them metric and in a folder below; not to be written to."""

    def fill(folder: Path) -> None:
        (folder / "later").mkdir()
        making.make(demo_us, folder / "first.xlsx", plan_us, making.FIRST)
        making.make(demo_us, folder / "second.xlsx", plan_us, making.SECOND)
        making.make(demo_metric, folder / "later" / "third.xlsx", plan_metric, making.METRIC)

    return made_once(tmp_path_factory, "settled-jobs", fill)


@pytest.fixture(scope="session")
def mixed_folder(
    tmp_path_factory: pytest.TempPathFactory, settled_folder: Path, demo_us: Path, plan_us: Layout
) -> Path:
    """The first two settled jobs, and every kind of file that is not simply one more."""

    def fill(folder: Path) -> None:
        first, second = folder / "first.xlsx", folder / "second.xlsx"
        shutil.copy(settled_folder / "first.xlsx", first)
        cell = plan_us.cell("settle_sums", "actual")
        rewrite.inject(
            settled_folder / "second.xlsx", second, {(cell.sheet, cell.address): 12345.0}
        )
        shutil.copy(first, folder / "first backup.xlsx")
        os.utime(folder / "first backup.xlsx", (1.0e9, 1.0e9))
        other = replace(making.FIRST, job="Other money", currency="CAD", lot="C-1")
        making.make(demo_us, folder / "cad.xlsx", plan_us, other)
        shutil.copy(demo_us, folder / "asked.xlsx")
        cell = plan_us.cell("settle_money", "waste")
        spoiled = folder / "typed over.xlsx"
        for job, day in (("Spoiled", dt.date(2027, 2, 11)), ("Live", dt.date(2027, 2, 12))):
            own = replace(making.SECOND, job=job, day=day, document=f"INV-{job}")
            making.make(demo_us, folder / f"{job}.xlsx", plan_us, own)
        type_over(folder / "Spoiled.xlsx", spoiled, cell.sheet, cell.address, -9.0)
        macros.enable(folder / "Live.xlsx", folder / "live.xlsm")
        for job in ("Spoiled", "Live"):
            (folder / f"{job}.xlsx").unlink()
        books.books_copy(
            first, folder / "first books.xlsx", force=False, made=dt.datetime(2027, 2, 1, 9)
        )
        (folder / "broken.xlsx").write_bytes(b"PK\x03\x04 no more")
        (folder / "~$second.xlsx").write_bytes(b"somebody")
        (folder / "old.ods").write_bytes(b"nothing")
        (folder / "notes.txt").write_text("no workbook", encoding="utf-8")
        openpyxl.Workbook().save(folder / "prices.xlsx")

    return made_once(tmp_path_factory, "mixed-jobs", fill)
