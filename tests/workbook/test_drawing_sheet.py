"""The sheet Drawing: its chart takes every point from the cells, and prints on one page.

What is printed is read from LibreOffice's PDF by poppler, an outside reader.
"""

from __future__ import annotations

import shutil
import subprocess
import zipfile
from pathlib import Path

import openpyxl
import pytest
from openpyxl.chart import ScatterChart
from tests import office
from tests.command_line import run

from pourbook.functions.draw.drawing import PIECES, ROWS, SLOTS
from pourbook.workbook.layout.laid_out import Layout


@pytest.mark.plain
def test_the_chart_is_made_of_the_cells(demo_us: Path, plan_us: Layout) -> None:
    (chart,) = openpyxl.load_workbook(demo_us)["Drawing"]._charts
    assert isinstance(chart, ScatterChart)
    assert len(chart.series) == 2 * SLOTS + PIECES + 2
    place = plan_us.places["points"]
    assert place.last - place.first + 1 == ROWS
    for axis in (chart.x_axis, chart.y_axis):
        assert axis.scaling.min is not None
        assert axis.scaling.max is not None
    wide = chart.x_axis.scaling.max - chart.x_axis.scaling.min
    high = chart.y_axis.scaling.max - chart.y_axis.scaling.min
    size = chart.anchor.ext
    assert size.width / size.height == pytest.approx(wide / high, rel=1e-3)  # one scale both ways
    for series in chart.series:
        for source in (series.xVal.numRef.f, series.yVal.numRef.f):
            assert source.startswith("'Chart data'!")


def test_names_and_batches_are_on_the_crew_s_page(settled_us: Path, tmp_path: Path) -> None:
    office.program()
    assert run("papers", settled_us, tmp_path, "--for", "crew") == 0
    (pdf,) = tmp_path.glob("* crew.pdf")
    poppler = shutil.which("pdftotext")
    assert poppler is not None
    done = subprocess.run(
        [poppler, "-layout", str(pdf), "-"], capture_output=True, text=True, check=True
    )
    (page,) = (one for one in done.stdout.split("\f") if one.lstrip().startswith("Drawing:"))
    values = openpyxl.load_workbook(settled_us, data_only=True)
    drawn = [row[0].value for row in values["Chart data"].iter_rows(min_col=2, max_col=2)]
    names = [str(name) for name in drawn if isinstance(name, str) and name.startswith("Island")]
    assert len(names) >= 3
    for name in (*names, "Kitchen: L-run with sink", "Bar: Bar top, bull-nosed"):
        assert " ".join(str(name).split()) in " ".join(page.split())
    for number in range(1, 7):
        assert f" {number} " in page.replace("\n", " ")


def test_error_bars_have_no_ends_and_take_their_length_from_the_sheet(demo_us: Path) -> None:
    with zipfile.ZipFile(demo_us) as package:
        charts = [package.read(n).decode() for n in package.namelist() if "charts/chart" in n]
    (drawing,) = (text for text in charts if "errBars" in text and "<legend>" not in text)
    assert drawing.count("<errBars>") == SLOTS + 2
    assert drawing.count('<noEndCap val="1"') == SLOTS + 2
    assert drawing.count('errValType val="cust"') == SLOTS + 2
