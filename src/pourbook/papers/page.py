"""One sheet of a paper: headings, running text and tables, broken into pages where they fit.

Contract: a :class:`Page` writes downwards and knows the height of all it wrote, so that no heading
is left at the foot of a page and no table goes on without its headings. Nothing is smaller than
:data:`SMALLEST`, no text is cut: what is longer than its cell takes more lines. Values are written
as they are given; nothing is worked out here.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from openpyxl import Workbook
from openpyxl.chart._chart import ChartBase
from openpyxl.drawing.image import Image
from openpyxl.drawing.spreadsheet_drawing import AnchorMarker, OneCellAnchor
from openpyxl.drawing.xdr import XDRPositiveSize2D
from openpyxl.styles import Alignment, Border, Font, PatternFill, Side
from openpyxl.utils.units import pixels_to_EMU, pixels_to_points
from openpyxl.worksheet.cell_range import CellRange
from openpyxl.worksheet.pagebreak import Break

from pourbook.cells import Value
from pourbook.records import dataclass
from pourbook.workbook.tell.summary import shown
from pourbook.workbook.template.styles import FONT
from pourbook.workbook.template.template import Field

SMALLEST = 9.0
BODY = 10.0
PAPERS = {"letter": (1, 612.0, 792.0), "A4": (9, 595.0, 842.0)}
"""Code in the file, and width and height in points."""
_SIDE, _TOP = 0.6, 0.7  # inches
POINTS_A_CM = 72 / 2.54
_POINT = 72.0
_WIDTH_POINTS = 5.65  # of one unit of a column's width, in the widest of the usual programs
_BOLD = 1.08
_INDENT = 14.0  # points a cell keeps free beside its text
_LINE = 1.25  # height of a line, in its size
_HEAD = PatternFill("solid", fgColor="37474F")
_LINE_BELOW = Border(bottom=Side("thin", color="B0BEC5"))
_BOX = Border(*(Side("thin", color="37474F"),) * 4)


_WIDE = {" ": 0.23, **dict.fromkeys("fijlt.,;:'!()[]|-/", 0.31), **dict.fromkeys("mwMW@%", 0.86)}
"""Widths of letters in their size, a little above those of the fonts used (from memory)."""
_CAPITAL, _OTHER = 0.62, 0.52


def lines_of(text: str, room: float) -> int:
    """Return how many lines a text takes where so many times its size are free.

    Example:
        >>> lines_of("one two three", 20), lines_of("one two three", 4)
        (1, 2)
    """
    lines = 0
    for paragraph in text.split("\n"):
        left = 0.0
        lines += 1
        for word in paragraph.split(" "):
            long = sum(_WIDE.get(c, _CAPITAL if c.isupper() else _OTHER) for c in word)
            if left and left + _WIDE[" "] + long > room:
                lines, left = lines + 1, 0.0
            lines += max(math.ceil(long / room) - 1, 0)
            left += long + (_WIDE[" "] if left else 0.0)
    return lines


@dataclass(frozen=True)
class Amount:
    """A number with the format it is shown in."""

    value: float
    format: str = "#,##0.00"

    def __str__(self) -> str:
        return shown(Field("amount", "", format=self.format), self.value)


Content = Value | Amount


class Page:
    """One sheet, written from top to bottom.

    Args:
        book: The workbook it is added to.
        title: The name of its tab.
        shares: How wide its columns are, against each other.
        paper: ``letter`` or ``A4``.
        foot: What stands at the left of every foot; the page's number stands at the right.
        lying: Whether the paper lies on its long side.
    """

    def __init__(
        self,
        book: Workbook,
        title: str,
        shares: Sequence[float],
        *,
        paper: str,
        foot: str = "",
        lying: bool = False,
    ) -> None:
        self.sheet = book.create_sheet(title)
        code, across, down = PAPERS[paper]
        if lying:
            across, down = down, across
        self.room = (down - 2 * _TOP * _POINT) * 0.97
        whole = (across - 2 * _SIDE * _POINT) / _WIDTH_POINTS
        self.widths = [share * whole / sum(shares) for share in shares]
        self.row = 1
        self.used = 0.0
        for number, width in enumerate(self.widths, start=1):
            letter = self.sheet.cell(1, number).column_letter
            self.sheet.column_dimensions[letter].width = width
        setup = self.sheet.page_setup
        setup.paperSize, setup.scale = code, 100
        setup.orientation = "landscape" if lying else "portrait"
        margins = self.sheet.page_margins
        margins.left = margins.right = _SIDE
        margins.top = margins.bottom = _TOP
        margins.header = margins.footer = 0.3
        self.sheet.oddFooter.left.text = foot.replace("&", "&&")
        self.sheet.oddFooter.right.text = "Page &P of &N"
        self.sheet.sheet_view.showGridLines = False

    def _lines(self, text: str, width: float, size: float, *, bold: bool) -> int:
        points = max(width * _WIDTH_POINTS - _INDENT, 10)
        return lines_of(text, points / (size * (_BOLD if bold else 1)))

    def _next(self, height: float) -> None:
        self.sheet.row_dimensions[self.row].height = height
        self.row += 1
        self.used += height

    def _break(self) -> None:
        if self.row > 1 and self.used:
            self.sheet.row_breaks.append(Break(id=self.row - 1))
        self.used = 0.0

    def need(self, height: float) -> bool:
        """Begin a new page unless so many points are left; say whether one was begun."""
        if self.used + height <= self.room:
            return False
        self._break()
        return True

    def gap(self, height: float = 6.0) -> None:
        """Leave some points free, unless a page begins here."""
        if self.used and self.used + height < self.room:
            self._next(height)

    def text(
        self,
        text: str,
        *,
        size: float = BODY,
        bold: bool = False,
        after: float = 0.0,
    ) -> None:
        """Write running text over the whole width; ``after`` is kept free below it on this page."""
        if not text:
            return
        lines = self._lines(text, sum(self.widths), size, bold=bold)
        height = lines * size * _LINE + 3
        self.need(height + after)
        cell = self.sheet.cell(self.row, 1, text)
        cell.data_type = "s"
        cell.font = Font(name=FONT, size=size, bold=bold)
        cell.alignment = Alignment(horizontal="left", vertical="top", wrap_text=True)
        if len(self.widths) > 1:
            last = len(self.widths)
            self.sheet.merged_cells.ranges.add(CellRange(None, 1, self.row, last, self.row))
        self._next(height)

    def beside(self, picture: Image) -> None:
        """Put a picture at the right edge, its top level with what is written next."""
        reach, column = sum(self.widths) * _WIDTH_POINTS, len(self.widths)
        free = reach - pixels_to_points(picture.width)
        while column > 1 and sum(self.widths[: column - 1]) * _WIDTH_POINTS > free:
            column -= 1
        across = max(free - sum(self.widths[: column - 1]) * _WIDTH_POINTS, 0.0)
        corner = AnchorMarker(
            col=column - 1, colOff=pixels_to_EMU(across / pixels_to_points(1)), row=self.row - 1
        )
        size = map(pixels_to_EMU, (picture.width, picture.height))
        picture.anchor = OneCellAnchor(_from=corner, ext=XDRPositiveSize2D(*size))
        self.sheet.add_image(picture)

    def heading(self, text: str, after: float = 40.0) -> None:
        """Write a heading, never the last of a page."""
        self.gap(8)
        self.text(text, size=12.5, bold=True, after=after)

    def pairs(self, pairs: Sequence[tuple[str, Content]]) -> None:
        """Write labels and what belongs to them; a blank one is left out."""
        for pair in self._filled(pairs):
            self._row(pair, "ll", first_bold=True)

    def tall(self, pairs: Sequence[tuple[str, Content]]) -> float:
        """Return how many points labels and what belongs to them take."""
        return sum(self._height(pair, [True, False]) for pair in self._filled(pairs))

    @staticmethod
    def _filled(pairs: Sequence[tuple[str, Content]]) -> list[tuple[str, Content]]:
        return [(label, content) for label, content in pairs if content not in (None, "")]

    def table(self, heads: Sequence[str], rows: Sequence[Sequence[Content]], sides: str) -> None:
        """Write a table; where it goes on over a page, its headings stand there again."""
        tall = self._height(heads, [True] * len(heads))
        for number, row in enumerate(rows):
            height = self._height(row, [False] * len(row))
            first = number == 0
            if self.need(height + (tall if first else 0)) or first:
                self._row(heads, sides, head=True)
            self._row(row, sides, lined=True)

    def table_height(self, heads: Sequence[str], rows: Sequence[Sequence[Content]]) -> float:
        """Return how many points a table takes in one piece."""
        bare = [self._height(row, [False] * len(row)) for row in rows]
        return self._height(heads, [True] * len(heads)) + sum(bare)

    def boxes(self, rows: Sequence[Sequence[Content]], height: float) -> None:
        """Write rows of labels, each with an empty box beside it to write in by hand."""
        for row in rows:
            self.need(height)
            for at, content in enumerate(row):
                cell = self.sheet.cell(self.row, at + 1, None if content == "" else content)
                cell.font = Font(name=FONT, size=BODY)
                cell.alignment = Alignment(vertical="center", wrap_text=True)
                cell.border = _BOX
            self._next(height)

    def _height(self, row: Sequence[Content], bold: Sequence[bool]) -> float:
        lines = [
            self._lines(str(content), self._width(at, len(row)), BODY, bold=heavy)
            for at, (content, heavy) in enumerate(zip(row, bold, strict=True))
            if content not in (None, "")
        ]
        return max(lines, default=1) * BODY * _LINE + 3

    def _width(self, at: int, many: int) -> float:
        """Return the width of a cell; the last of a row takes the columns that are left."""
        return self.widths[at] if at < many - 1 else sum(self.widths[at:])

    def _row(
        self,
        row: Sequence[Content],
        sides: str,
        *,
        head: bool = False,
        first_bold: bool = False,
        lined: bool = False,
    ) -> None:
        bold = [head or (first_bold and at == 0) for at in range(len(row))]
        height = self._height(row, bold)
        self.need(height)
        for at, (content, side) in enumerate(zip(row, sides, strict=True)):
            cell = self.sheet.cell(self.row, at + 1)
            if isinstance(content, Amount):
                cell.value, cell.number_format = content.value, content.format
            elif content not in (None, ""):
                cell.value = content
                if isinstance(content, str):
                    cell.data_type = "s"
            cell.font = Font(name=FONT, size=BODY, bold=bold[at], color="FFFFFF" if head else None)
            cell.alignment = Alignment(
                horizontal={"l": "left", "r": "right"}[side],
                vertical="top",
                wrap_text=True,
                indent=int(at > 0 and side == "l"),
            )
            if head:
                cell.fill = _HEAD
            elif lined:
                cell.border = _LINE_BELOW
            if at == len(row) - 1 and at + 1 < len(self.widths):
                last = len(self.widths)
                self.sheet.merged_cells.ranges.add(
                    CellRange(None, at + 1, self.row, last, self.row)
                )
        self._next(height)

    def chart(self, chart: ChartBase, height: float) -> None:
        """Place a chart, and keep so many points free for it."""
        self.need(height + 4.0)
        self.gap(4.0)
        self.sheet.add_chart(chart, self.sheet.cell(self.row, 1).coordinate)
        self._next(height)

    def done(self) -> None:
        """End the sheet: what is printed is what was written."""
        last = self.sheet.cell(1, len(self.widths)).column_letter
        self.sheet.print_area = f"A1:{last}{max(self.row - 1, 1)}"
