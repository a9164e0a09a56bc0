"""The chart of the calendar: a bar a row in parts, its name above it, dates along the axis.

Contract: :func:`drawn` takes every date, length and height from the columns of a table; a row whose
lengths are 0 and whose name is empty shows nothing. The axis of dates follows the bars by itself:
a stacked bar would begin it at the year 1900, so parts are error bars of points that are not seen.
"""

from __future__ import annotations

from collections.abc import Sequence

from openpyxl.chart import Reference, ScatterChart
from openpyxl.chart import Series as ChartSeries
from openpyxl.chart.data_source import NumDataSource, NumRef
from openpyxl.chart.error_bar import ErrorBars
from openpyxl.chart.legend import LegendEntry
from openpyxl.chart.marker import Marker
from openpyxl.chart.series import SeriesLabel, StrRef
from openpyxl.chart.shapes import GraphicalProperties
from openpyxl.drawing.line import LineProperties

from pourbook.workbook.build.chart_titles import untitled
from pourbook.workbook.build.drawing_chart import Range, name_first

COLOURS = ("1B3A4B", "C8553D", "F2B134", "9DB4C0")
"""One a part, dark to light as they follow each other; where a part stands tells them apart too."""
ROWS = 8
_THICK = 9 * 12700
_HIGH = ROWS + 1


def drawn(cells: Range, parts: Sequence[tuple[str, str]]) -> ScatterChart:
    """Return the chart.

    Args:
        cells: Names the cells of a column, from one of the :data:`ROWS` rows to another, from 0.
        parts: The column of lengths of each part, in days, and what it is. A part begins at the
            date in the column ``from`` of that name, the first at ``from``; heights stand in
            ``up``, names in ``bar``, at the heights in ``over``, and where a row ends in ``end``.
    """
    chart = ScatterChart()
    untitled(chart)
    chart.style, chart.roundedCorners = None, False
    chart.scatterStyle = "lineMarker"
    chart.title = None
    chart.width, chart.height = 27.0, 8.6
    chart.visible_cells_only = False
    chart.y_axis.scaling.min, chart.y_axis.scaling.max = 0, _HIGH
    chart.y_axis.delete, chart.y_axis.majorGridlines = True, None
    chart.x_axis.delete = False
    chart.x_axis.number_format = "d mmm"
    chart.legend.position, chart.legend.overlay = "b", False
    for (_, name), colour in zip(parts, COLOURS, strict=True):
        chart.series.append(_key(cells, name, colour))
    for number, (column, _) in enumerate(parts):
        begins = f"{column}_from" if number else "from"
        chart.series.append(_bars(cells, begins, column, COLOURS[number]))
    chart.series.append(_series(cells, "end", "up", 0, ROWS - 1))
    for row in range(ROWS):
        chart.series.append(_name(cells, row))
    kept = len(parts)
    chart.legend.legendEntry = [
        LegendEntry(idx=number, delete=True) for number in range(kept, len(chart.series))
    ]
    return chart


def _series(cells: Range, across: str, up: str, first: int, last: int) -> ChartSeries:
    x, y = (Reference(range_string=cells(column, first, last)) for column in (across, up))
    made = ChartSeries(y, xvalues=x)
    made.graphicalProperties = GraphicalProperties(ln=LineProperties(noFill=True))
    made.marker = Marker(symbol="none")
    made.smooth = False
    return made


def _key(cells: Range, name: str, colour: str) -> ChartSeries:
    """Return a line of one point, which shows in the legend alone."""
    made = _series(cells, "from", "up", 0, 0)
    made.graphicalProperties = GraphicalProperties(ln=_line(colour))
    made.tx = SeriesLabel(v=name)
    return made


def _bars(cells: Range, begins: str, lengths: str, colour: str) -> ChartSeries:
    made = _series(cells, begins, "up", 0, ROWS - 1)
    size = NumDataSource(numRef=NumRef(f=cells(lengths, 0, ROWS - 1)))
    bars = ErrorBars(errDir="x", errBarType="plus", errValType="cust")
    bars.noEndCap, bars.plus = True, size
    bars.spPr = GraphicalProperties(ln=_line(colour))
    made.errBars = bars
    return made


def _line(colour: str) -> LineProperties:
    return LineProperties(solidFill=colour, w=_THICK, cap="flat")


def _name(cells: Range, row: int) -> ChartSeries:
    made = _series(cells, "from", "over", row, row)
    made.tx = SeriesLabel(strRef=StrRef(f=cells("bar", row, row)))
    name_first(made, "r")
    return made
