"""Draws the charts a sheet declares.

Contract: a chart takes its numbers from named cells of the book, carries a title, named axes with
units and a legend, and is made so that Excel and LibreOffice both draw it (no theme-only colours).
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial

from openpyxl.chart import BarChart, Reference
from openpyxl.chart import Series as ChartSeries
from openpyxl.chart.label import DataLabelList
from openpyxl.chart.series import SeriesLabel
from openpyxl.worksheet.worksheet import Worksheet

from pourbook.errors import TemplateError
from pourbook.formats.ooxml.addresses import a1, down
from pourbook.workbook.build import calendar_chart, drawing_chart
from pourbook.workbook.build.chart_titles import untitled
from pourbook.workbook.layout.laid_out import Layout, PlannedCell
from pourbook.workbook.layout.references import resolve
from pourbook.workbook.template.template import Sheet

# Dark to light, so that the parts stay apart on a black and white printer too.
COLOURS = ("1B3A4B", "C8553D", "588157", "F2B134", "6D597A", "9DB4C0", "E8D8C3", "3D5A80")
PATTERN_LINE = "303030"
CALENDAR = "calendar"
WATERFALL = "waterfall"
DRAWING = "drawing"
# In all, up, down; light enough to print a number on.
STEP_COLOURS = ("9DB4C0", "E6A08F", "A9C99B")


def add(plan: Layout, sheet: Sheet, page: Worksheet) -> None:
    """Add the charts of one sheet where the plan has their places."""
    for block in sheet.blocks:
        if block.kind == "chart":
            place = plan.places[block.id]
            if block.chart == DRAWING:
                cells = partial(_cells, plan, block.series[0].values)
                page.add_chart(drawing_chart.drawn(cells), a1(place.first, place.left))
                continue
            if block.chart == CALENDAR:
                cells = partial(_cells, plan, block.series[0].values)
                bars = [(one.values.rpartition(".")[2][:-1], one.name) for one in block.series]
                page.add_chart(calendar_chart.drawn(cells, bars), a1(place.first, place.left))
                continue
            at = PlannedCell.at(sheet.sheet, 1, 1, "chart", block=block.id)
            series = [
                (_reference(plan, one.values, at), plan.text(one.name)) for one in block.series
            ]
            categories = _reference(plan, block.categories, at)
            chart = stacked(block.chart, plan.text(block.axis), categories, series)
            page.add_chart(chart, a1(place.first, place.left))


def stacked(
    kind: str, axis: str, categories: Reference, series: Sequence[tuple[Reference, str]]
) -> BarChart:
    """Return a chart of stacked columns or bars.

    Args:
        kind: ``stacked columns``, ``stacked bars`` or ``waterfall``.
        axis: What the numbers are.
        categories: The cells that name the columns.
        series: The cells of each series, and its name.

    Raises:
        TemplateError: There is no such kind.
    """
    if kind not in {"stacked columns", "stacked bars", WATERFALL}:
        raise TemplateError(f"unknown chart '{kind}'")
    chart = BarChart()
    untitled(chart)
    chart.roundedCorners = False
    chart.type = "bar" if kind == "stacked bars" else "col"
    chart.grouping, chart.overlap, chart.gapWidth = "stacked", 100, 60
    chart.title = None
    chart.width, chart.height = 17.0, 8.0
    chart.y_axis.title = axis
    chart.y_axis.delete = chart.x_axis.delete = False
    chart.y_axis.number_format = "#,##0"
    chart.y_axis.majorGridlines = chart.y_axis.majorGridlines
    chart.y_axis.title.overlay = False
    chart.legend.position = "r"
    chart.legend.overlay = False
    for number, (values, name) in enumerate(series):
        made = ChartSeries(values, title=None)
        made.tx = SeriesLabel(v=name)
        colour = COLOURS[number % len(COLOURS)]
        made.graphicalProperties.solidFill = colour
        made.graphicalProperties.line.solidFill = PATTERN_LINE
        chart.append(made)
    chart.set_categories(categories)
    labels = DataLabelList()
    labels.showVal = labels.showSerName = labels.showCatName = False
    labels.showLegendKey = labels.showPercent = False
    chart.dataLabels = labels
    if kind == WATERFALL:
        _as_waterfall(chart)
    return chart


def _as_waterfall(chart: BarChart) -> None:
    """Make steps of stacked columns: the first series, not to be seen, carries each step.

    The numbers stand in the columns as the sheet shows them. Below the axis columns would lie, as
    the one that is not seen begins at it: the sheet gives no numbers where a step falls below 0.
    """
    chart.width, chart.height, chart.gapWidth = 25.0, 7.4, 25
    _hide_first(chart)
    for series, colour in zip(chart.series[1:], STEP_COLOURS, strict=True):
        series.graphicalProperties.solidFill = colour
        series.graphicalProperties.line.solidFill = colour  # a dark one would strike its number out
        series.dLbls = DataLabelList()
        series.dLbls.showVal = True
        series.dLbls.showSerName = series.dLbls.showCatName = False
        series.dLbls.showLegendKey = series.dLbls.showPercent = False
    chart.legend.position = "b"
    chart.y_axis.scaling.min = 0
    chart.y_axis.majorGridlines = None


def _hide_first(chart: BarChart) -> None:
    """Take fill and line off the first series."""
    lead = chart.series[0].graphicalProperties
    lead.noFill, lead.solidFill = True, None
    lead.line.noFill, lead.line.solidFill = True, None


def _reference(plan: Layout, named: str, at: PlannedCell) -> Reference:
    """Return the chart's way of naming a range, always with its sheet."""
    text = resolve(plan, named, at)[1:]
    if "!" not in text:
        text = f"'{at.sheet}'!{text}"
    return Reference(range_string=text)


def _cells(plan: Layout, named: str, column: str, first: int, last: int) -> str:
    """Return the cells of a column of a table, from one of its rows to another, from 0."""
    place = plan.places[named.strip("{}").partition(".")[0]]
    return down(place.sheet, place.columns[column], place.first + first, place.first + last)
