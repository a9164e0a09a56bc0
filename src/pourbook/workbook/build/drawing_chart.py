"""The chart of the drawing: outlines, lines of each batch, numbers, seams and joins.

Contract: :func:`drawn` gives a chart that takes every point from the columns PB_DRAWING fills, each
in its block of rows; what stands off the page is not seen. Axes are fixed and of one scale.
"""

from __future__ import annotations

from collections.abc import Callable

from openpyxl.chart import Reference, ScatterChart
from openpyxl.chart import Series as ChartSeries
from openpyxl.chart.data_source import NumDataSource, NumRef, StrRef
from openpyxl.chart.error_bar import ErrorBars
from openpyxl.chart.label import DataLabel, DataLabelList
from openpyxl.chart.layout import Layout as Spot
from openpyxl.chart.layout import ManualLayout
from openpyxl.chart.marker import Marker
from openpyxl.chart.series import SeriesLabel
from openpyxl.chart.shapes import GraphicalProperties
from openpyxl.chart.text import RichText
from openpyxl.drawing.line import LineProperties
from openpyxl.drawing.text import CharacterProperties, Paragraph, ParagraphProperties

from pourbook.functions.draw.drawing import LINES, NUMBERS, PIECES, POINTS, SLOT, SLOTS
from pourbook.trade.drawing.on_page import HIGH, WIDE
from pourbook.workbook.build.chart_titles import untitled

COLOURS = (
    *("1F77B4", "D95F02", "2CA02C", "C21E7A", "7B4FB5"),
    *("8C6D1F", "C8553D", "0E8A8A", "6B6B6B", "B5A000"),
)
"""One a batch, of like darkness; the numbers tell them apart on a black and white print."""
INK = "303030"
WIDE_CM = 33.0
_MARGIN = 1.0
_EMU = 12700

Range = Callable[[str, int, int], str]
"""Names the cells of a column of the points, from one row of theirs to another, from 0."""


def drawn(cells: Range, wide: float = WIDE_CM) -> ScatterChart:
    """Return the chart.

    Args:
        cells: Names the cells of a column of the points.
        wide: How wide the chart is, in cm.
    """
    chart = ScatterChart()
    untitled(chart)
    chart.style, chart.roundedCorners = None, False
    chart.scatterStyle = "lineMarker"
    chart.title, chart.legend = None, None
    chart.width, chart.height = wide, wide * (HIGH + 2 * _MARGIN) / (WIDE + 2 * _MARGIN)
    for axis, most in ((chart.x_axis, WIDE), (chart.y_axis, HIGH)):
        axis.scaling.min, axis.scaling.max = -_MARGIN, most + _MARGIN
        axis.delete, axis.majorGridlines = True, None
    chart.visible_cells_only = False  # the points may stand where nobody looks
    whole = ManualLayout(layoutTarget="inner", xMode="edge", yMode="edge", x=0, y=0, w=1, h=1)
    chart.layout = Spot(manualLayout=whole)
    for slot in range(SLOTS):
        chart.series.append(_hatch(cells, slot, COLOURS[slot], 2.5))
    for piece in range(PIECES):
        chart.series.append(_outline(cells, piece))
    chart.series.append(_hatch(cells, SLOTS, INK, 2.25, dash="dash", most=SLOT))
    chart.series.append(_hatch(cells, SLOTS + 1, INK, 1.75, dash="sysDot", level=True, most=SLOT))
    for slot in range(SLOTS):
        chart.series.append(_numbers(cells, slot))
    return chart


def _series(cells: Range, kind: str, first: int, count: int) -> ChartSeries:
    across, up = (
        Reference(range_string=cells(f"{kind}_{axis}", first, first + count - 1)) for axis in "xy"
    )
    made = ChartSeries(up, xvalues=across)
    made.graphicalProperties = GraphicalProperties(ln=LineProperties(noFill=True))
    made.marker = Marker(symbol="none")
    made.smooth = False
    return made


def _line(colour: str, points: float, dash: str = "") -> LineProperties:
    return LineProperties(solidFill=colour, w=int(points * _EMU), prstDash=dash or None)


def _named(made: ChartSeries, cell: str) -> None:
    made.tx = SeriesLabel(strRef=StrRef(f=cell))


def letters(size: float, *, bold: bool = False) -> RichText:
    """Return the look of a label.

    Args:
        size: Of its letters, in points.
        bold: Whether they are.
    """
    letters = CharacterProperties(sz=int(size * 100), b=bold, solidFill=INK)
    return RichText(p=[Paragraph(pPr=ParagraphProperties(defRPr=letters), endParaRPr=letters)])


def told(label: DataLabel | DataLabelList, place: str) -> None:
    """Let a label say the name of its series, and nothing else.

    Args:
        label: Of one point or of all.
        place: Where it stands, as charts say it: ``t`` above, ``r`` to the right, ``ctr`` on it.
    """
    label.showSerName, label.dLblPos = True, place
    label.showVal = label.showCatName = label.showLegendKey = label.showPercent = False
    label.showBubbleSize = False


def name_first(made: ChartSeries, place: str) -> None:
    """Let the first point of a series say its name.

    Args:
        made: The series.
        place: As of :func:`told`.
    """
    name = DataLabel(idx=0)
    told(name, place)
    name.txPr = letters(9)
    made.dLbls = DataLabelList(dLbl=[name])
    made.dLbls.showVal = made.dLbls.showSerName = made.dLbls.showCatName = False
    made.dLbls.showLegendKey = made.dLbls.showPercent = False


def _outline(cells: Range, piece: int) -> ChartSeries:
    """Return the line round a piece, with its name above the first point."""
    first = piece * POINTS
    made = _series(cells, "outline", first, POINTS)
    made.graphicalProperties = GraphicalProperties(ln=_line(INK, 1.25))
    _named(made, cells("label", first, first))
    name_first(made, "t")
    return made


def _hatch(
    cells: Range,
    slot: int,
    colour: str,
    width: float,
    *,
    dash: str = "",
    level: bool = False,
    most: int = LINES,
) -> ChartSeries:
    """Return lines that begin at points and are as long as the column of sizes says."""
    first = slot * SLOT
    made = _series(cells, "line", first, most)
    size = NumDataSource(numRef=NumRef(f=cells("line_size", first, first + most - 1)))
    bars = ErrorBars(errDir="x" if level else "y", errBarType="plus", errValType="cust")
    bars.noEndCap, bars.plus = True, size
    bars.spPr = GraphicalProperties(ln=_line(colour, width, dash))
    made.errBars = bars
    return made


def _numbers(cells: Range, slot: int) -> ChartSeries:
    """Return the numbers of a batch, each framed in its colour."""
    first = slot * SLOT
    made = _series(cells, "line", first + LINES, NUMBERS)
    frame = GraphicalProperties(solidFill="FFFFFF", ln=_line(COLOURS[slot], 2.0))
    made.marker = Marker(symbol="circle", size=6, spPr=frame)
    _named(made, cells("label", first + 1, first + 1))
    made.dLbls = DataLabelList()
    told(made.dLbls, "ctr")
    made.dLbls.txPr = letters(9, bold=True)
    made.dLbls.spPr = frame
    return made
