"""The crew's papers: a card for each batch, the work step by step, a shopping list, a time sheet.

Contract: as of :mod:`pourbook.papers.page`; cards are written only while they may be used, and each
says what the card on the sheet Mix cards says.
"""

from __future__ import annotations

from openpyxl import Workbook

from pourbook.formats.ooxml.addresses import down
from pourbook.functions.draw import drawing
from pourbook.papers.job_words import JobWords, at, on
from pourbook.papers.page import POINTS_A_CM, Content, Page
from pourbook.workbook.build import drawing_chart

_LINES = (
    "place", "card_pieces", "shake", "first", "second", "third", "pigment", "thinner", "mixing",
    "card_cups", "spread", "heat", "broadcast", "note", "cautions",
)  # fmt: skip
_CHART_CM = 22.5
_WRITTEN = 18.0
"""Points of a row that is written in by hand."""
_DAYS = 5
"""Days beside each other on the sheet for hours."""
_BESIDE = 117.0
"""Points of a card beside its lines: title, job and boxes."""


def pages(book: Workbook, job: JobWords) -> None:
    """Add the pages of the crew to a workbook."""
    _cards(book, job)
    _drawing(book, job)
    _steps(book, job)
    _hours(book, job)


def _cards(book: Workbook, job: JobWords) -> None:
    page = Page(book, "Mix cards", (24, 24, 26, 26), paper=job.paper, foot=job.name)
    declared = job.plan.block("batches")
    for row in range(declared.rows):
        if job.words("batches", "status", row) != "ok":
            continue
        said: list[tuple[str, Content]] = [
            (declared.field(name).header, job.words("batches", name, row)) for name in _LINES
        ]
        page.need(_BESIDE + page.tall(said))
        page.text(job.words("batches", "title", row), size=16, bold=True)
        page.text(job.name)
        page.pairs(said)
        page.gap(4)
        boxes: list[tuple[Content, ...]] = [("Mixed by", "", "Mixing begun at", "")]
        boxes += [("Part A weighed", "", "Part B weighed", ""), ("Lot A", "", "Lot B", "")]
        boxes += [("All spread at", "", "Wet film read", "")]
        page.boxes(boxes, 16.5)
        page.gap(8)
    page.done()


def _drawing(book: Workbook, job: JobWords) -> None:
    """Add the drawing as the sheet Drawing shows it, and its points on a sheet of their own."""
    if job.words("drawn_now", "status") != "ok":
        return
    points = book.create_sheet("Chart data")
    points.sheet_state = "hidden"
    names = [column.id for column in drawing.RESULTS]
    for row in range(drawing.ROWS):
        points.append([job.value("points", name, row) for name in names])

    def cells(column: str, first: int, last: int) -> str:
        return down(points.title, names.index(column) + 1, first + 1, last + 1)

    page = Page(book, "Drawing", (10, 90), paper=job.paper, foot=job.name, lying=True)
    shown = f"{job.words('drawn_now', 'shown')}. {job.words('drawn_now', 'width')}."
    page.text(f"Drawing: {job.name}", size=16, bold=True)
    page.text(shown)
    if missing := job.words("drawn_now", "missing"):
        page.text(f"Not shown: {missing}.")
    page.text(job.plan.block("plan_drawn").note)
    rows = [
        (job.words("drawn", "batch", row), job.words("drawn", "pieces", row))
        for row in range(job.plan.block("drawn").rows)
        if job.words("drawn", "pieces", row)
    ]
    page.table(("Batch", "What it pours"), rows, "ll")
    page.gap(8)
    chart = drawing_chart.drawn(cells, _CHART_CM)
    page.chart(chart, chart.height * POINTS_A_CM)
    page.done()
    book.move_sheet(points, offset=len(book.sheetnames))


def _steps(book: Workbook, job: JobWords) -> None:
    page = Page(book, "Work and shopping", (22, 18, 25, 8, 27), paper=job.paper, foot=job.name)
    page.text(f"Step by step: {job.name}", size=16, bold=True)
    table: list[tuple[Content, ...]] = []
    for row in range(job.plan.block("days").rows):
        begins, ends = job.day("days", "starts", row), job.day("days", "ends", row)
        if begins is None or ends is None:
            continue
        layer, note = job.words("days", "day_layer", row), job.words("days", "day_note", row)
        when = f"{at(begins)} to {at(ends)}"
        day = on(begins).rpartition(" ")[0]
        table.append((job.words("days", "step", row), layer, f"{day} {when}", "", note))
    page.table(("Step", "Layer", "When", "Done", "Note"), table, "lllll")
    page.gap(10)
    page.text("To buy and to take along", size=16, bold=True, after=60)
    page.table(("What", "For", "Buy", "Got", "From the shelf"), _shopping(job), "lllll")
    page.done()


def _hours(book: Workbook, job: JobWords) -> None:
    """Add the sheet for the hours of labour: a row for each step, a column for each day on site."""
    kept = "quoted_steps" in job.plan.places and list(job.rows("quoted_steps", "step"))
    block = "quoted_steps" if kept else "labour"
    steps = [job.words(block, "step", row) for row in job.rows(block, "step")]
    when = [
        (job.day("days", "starts", row), job.day("days", "ends", row))
        for row in range(job.plan.block("days").rows)
    ]
    begun = sorted(first for first, last in when if first and last and last > first)
    days = list(dict.fromkeys(on(one).rpartition(" ")[0] for one in begun))
    days = days or [""] * _DAYS
    page = Page(book, "Hours", (26, *[12] * _DAYS, 14), paper=job.paper, foot=job.name)
    page.text(f"Hours by step: {job.name}", size=16, bold=True)
    page.text("Of all hands together. Who, and why it took longer, goes under Note.")
    for first in range(0, len(days), _DAYS):
        some = [*days[first : first + _DAYS], *[""] * _DAYS][:_DAYS]
        blank = [""] * (_DAYS + 1)
        page.boxes([["Step", *some, "Note"], *([step, *blank] for step in steps)], _WRITTEN)
        page.gap(10)
    page.done()


def _shopping(job: JobWords) -> list[tuple[Content, ...]]:
    letter = job.offered.lower()
    found: list[tuple[Content, ...]] = []
    for row in range(job.plan.block("buying").rows):
        buy = job.words("buying", f"buy_{letter}", row)
        if not buy:
            continue
        name = job.words("buying", "buy_product", row)
        layers = [
            job.words("layers", "layer", n)
            for n in job.layers(job.offered)
            if job.words("layers", "product", n).casefold() == name.casefold()
        ]
        volume = job.unit("volume")
        shelf = job.words("buying", "from_stock", row)
        found.append((name, ", ".join(layers), f"{buy} {volume}", "", shelf))
    for row in job.rows("additives", "additive"):
        packs = job.words("additives", "add_buy", row)
        if packs:
            serves = job.words("additives", "serves", row)
            found.append((job.words("additives", "additive", row), serves, packs, "", ""))
    for row in job.rows("sundries", "item"):
        cost = job.number_or_none("sundries", f"cost_{letter}", row)
        each = job.number_or_none("sundries", "each", row)
        per = job.words("sundries", "item_per", row)
        many = f"{cost / each:.1f}".removesuffix(".0") if cost and each else ""
        found.append((job.words("sundries", "item", row), f"each {per}", many, "", ""))
    return found
