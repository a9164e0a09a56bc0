"""A batch or a receipt line stands in one job; a job saved under another name is still one job."""

from __future__ import annotations

import datetime as dt
import json
import os
import re
import shutil
import zipfile
from dataclasses import replace
from pathlib import Path

import pytest
from tests.archive import making

from pourbook.archive.folder import Found, look
from pourbook.commands import check_files
from pourbook.job.fill import fill
from pourbook.workbook.layout.laid_out import Layout
from pourbook.workbook.layout.marks import IDENTITY_MARK

Printed = pytest.CaptureFixture[str]
_MARK = rf'(name="{IDENTITY_MARK}"[^>]*>\s*<vt:lpwstr[^>]*>)[^<]*(</vt:lpwstr>)'.encode()
OWN = replace(making.SECOND, job="Own", day=dt.date(2027, 2, 20), document="INV-9", lot="L-99")


def _told(folder: Path) -> dict[str, Found]:
    return {one.file: one for one in look(folder, processes=1)}


@pytest.fixture(scope="module")
def twice(tmp_path_factory: pytest.TempPathFactory, demo_us: Path, plan_us: Layout) -> Path:
    """The batch of ``a`` stands in ``b``, its receipt in ``c``; ``d`` has its own."""
    folder = tmp_path_factory.mktemp("twice")
    batch = replace(making.FIRST, job="b", document="INV-8")
    receipt = replace(OWN, job="c", document="INV-1", lot="L-77", packs=3)
    for made in (replace(making.FIRST, job="a"), batch, receipt, replace(OWN, job="d")):
        making.make(demo_us, folder / f"{made.job}.xlsx", plan_us, made)
        _mark(folder / f"{made.job}.xlsx", made.job)
    return folder


def test_what_stands_in_two_jobs_counts_in_neither(twice: Path) -> None:
    found = _told(twice)
    states = {name: one.job.state for name, one in found.items() if one.job}
    assert states["a.xlsx"] == states["b.xlsx"] == states["c.xlsx"] == "findings"
    assert states["d.xlsx"] == "settled"
    assert "Used!" in found["b.xlsx"].why
    assert "the batch of Clear flood coat stands in a.xlsx too, at Used!" in found["b.xlsx"].why
    assert "the receipt INV-1, Clear flood stands in a.xlsx too" in found["c.xlsx"].why
    assert found["a.xlsx"].why.endswith("(and 1 more)")


def test_check_names_it_in_both_jobs(twice: Path, capsys: Printed) -> None:
    files = [twice / f"{name}.xlsx" for name in "ab"]
    assert check_files.run_check(files, ("fast",), as_json=True) == 1
    told = [
        f for f in json.loads(capsys.readouterr().out)["findings"] if f["id"] == "archive.twice"
    ]
    assert {f["file"] for f in told} == {"a.xlsx", "b.xlsx"}
    assert all(f["sheet"] == "Used" and f["cell"] for f in told)


def _mark(file: Path, mark: str) -> None:
    """Give a job made from one demo a mark of its own, as two jobs of a shop have."""
    whole = file.with_suffix(".whole")
    file.rename(whole)
    with zipfile.ZipFile(whole) as old, zipfile.ZipFile(file, "w") as new:
        for item in old.infolist():
            content = old.read(item)
            if item.filename == "docProps/custom.xml":
                content, count = re.subn(_MARK, rb"\g<1>" + mark.encode() + rb"\g<2>", content)
                assert count == 1
            new.writestr(item, content)
    whole.unlink()


def test_a_job_saved_under_another_name_counts_once(
    tmp_path: Path, settled_folder: Path, plan_us: Layout
) -> None:
    first, renamed = tmp_path / "first.xlsx", tmp_path / "renamed.xlsx"
    shutil.copy(settled_folder / "first.xlsx", first)
    fill(first, renamed, {("start", "job", 0): "First, floor two"}, force=False)
    os.utime(first, (1.0e9, 1.0e9))
    found = _told(tmp_path)
    assert found["renamed.xlsx"].kind == "job"
    assert found["first.xlsx"].why == "the same job as renamed.xlsx, which was changed later"
