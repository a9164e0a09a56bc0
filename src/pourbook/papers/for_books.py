"""The bookkeeper's papers: what was accepted, and what was used against it, in words and numbers.

Contract: as of :mod:`pourbook.papers.page`; numbers are numbers, in the formats of their sheets.
"""

from __future__ import annotations

from openpyxl import Workbook
from openpyxl.chart import Reference

from pourbook.papers import for_client
from pourbook.papers.job_words import JobWords, on
from pourbook.papers.page import POINTS_A_CM, Content, Page
from pourbook.workbook.build import charts

_WHY = (
    ("area", "more was coated than was measured", "less was coated than was measured"),
    ("rate", "the film was thicker than planned", "the film was thinner than planned"),
    ("waste", "more was lost or thrown away", "less was lost, or more went back to the shelf"),
    ("price", "packs were dearer than quoted", "packs were cheaper than quoted"),
)
"""What used differs from quoted by, and why it is more or less."""
_VOLUMES = ("product", "quoted", "allowed", "issued", "by_log", "rest", "shelved", "charged")
_WASTE = ("product", "returned", "mystery", "lost", "waste")
_HOURS = ("step", "quoted", "worked", "more")
_OWED = ("coatings", "beside", "total")
_MONEY = ("product", "quoted", "area", "rate", "waste", "price", "actual", "difference")


def pages(book: Workbook, job: JobWords) -> None:
    """Add the pages of the bookkeeper to a workbook."""
    page = Page(book, "Books", (20, 13, 13, 13, 13, 13, 13, 13), paper=job.paper, foot=job.name)
    page.text(f"Quoted and used: {job.name}", size=16, bold=True)
    _accepted(page, job)
    _settled(page, job)
    page.done()


def _accepted(page: Page, job: JobWords) -> None:
    if job.day("quoted", "accepted_on") is None:
        page.text("No quote is accepted yet: pourbook accept keeps it on the sheet Quoted.")
        return
    page.pairs(
        [
            ("Accepted on", on(job.day("quoted", "accepted_on"))),
            ("Accepted by", job.words("quoted", "accepted_by")),
            ("Option", job.words("quoted", "option")),
            ("Revision", job.words("quoted", "revision")),
            ("Change order", job.words("quoted", "change")),
        ]
    )
    changed = for_client.change_rows(job)
    if changed:
        page.heading("Original, changes and now")
        page.table(("", "Accepted on", "More, with tax", "With tax"), changed, "llrr")
    page.heading("The price that was accepted")
    rows: list[tuple[Content, ...]] = [
        (
            job.words("quoted_lines", "item", row),
            job.amount("quoted_lines", "amount", row),
            job.words("quoted_lines", "in", row),
        )
        for row in job.rows("quoted_lines", "item")
    ]
    page.table(("Line", "Quoted", "Unit"), rows, "lrl")


def _settled(page: Page, job: JobWords) -> None:
    is_settled = job.words("settle_state", "state") == "ok"
    if is_settled:
        page.need(page.room)  # on a page of its own
    page.heading("From quoted to used, coatings alone")
    if not is_settled:
        page.text(f"Not settled yet: {job.words('settle_state', 'state').lstrip('! ')}.")
        return
    quoted, used = (job.number("settle_sums", name) for name in ("quoted", "actual"))
    page.text(f"Quoted for coatings: {job.money(quoted)}. Used: {job.money(used)}.")
    for name, dearer, cheaper in _WHY:
        found = job.number("settle_sums", name)
        sign, why = ("more", dearer) if found > 0 else ("less", cheaper)
        if found:
            page.text(f"{job.money(abs(found))} {sign}, because {why}.")
    _waterfall(page, job)
    currency = job.words("money", "currency")
    for block, wanted, title in (
        ("settle", _VOLUMES, f"Volumes, {job.unit('volume')}"),
        ("settle_money", _MONEY, f"Money, {currency}"),
        ("settle_waste", _WASTE, f"What waste is made of, {currency}"),
    ):
        page.heading(title)
        declared = job.plan.block(block)
        heads = [declared.field(name).header for name in wanted]
        rows: list[tuple[Content, ...]] = [
            tuple(
                job.words(block, name, row) if name == "product" else job.amount(block, name, row)
                for name in wanted
            )
            for row in job.rows(block, "product")
        ]
        page.table(heads, rows, "l" + "r" * (len(wanted) - 1))
    _margin(page, job)
    if "invoices" in job.plan.places:
        _labour(page, job)
        _invoices(page, job)


def _labour(page: Page, job: JobWords) -> None:
    """Show the hours by step, if any were written down."""
    rows = [
        row
        for row in job.rows("settle_steps", "step")
        if any(job.number_or_none("settle_steps", name, row) for name in ("quoted", "worked"))
    ]
    if not any(job.number_or_none("settle_steps", "worked", row) for row in rows):
        return
    declared = job.plan.block("settle_steps")
    heads = [declared.field(name).header for name in _HOURS]
    shown: list[tuple[Content, ...]] = [
        tuple(
            job.words("settle_steps", name, row)
            if name == "step"
            else job.amount("settle_steps", name, row)
            for name in _HOURS
        )
        for row in rows
    ]
    page.heading("Labour by step, hours", after=page.table_height(heads, shown))
    page.table(heads, shown, "lrrr")


def _invoices(page: Page, job: JobWords) -> None:
    """Show each invoice with what it comes to, as it is owed."""
    rows: list[tuple[Content, ...]] = [
        (
            job.words("invoices", "document", row),
            job.words("invoices", "supplier", row),
            on(job.day("invoices", "date", row)),
            *(job.amount("invoices", name, row) for name in _OWED),
        )
        for row in job.rows("invoices", "document")
    ]
    if rows:
        declared = job.plan.block("invoices")
        heads = ["Invoice", "From", "Date", *(declared.field(name).header for name in _OWED)]
        title = f"Invoices, {job.words('money', 'currency')}"
        page.heading(title, after=page.table_height(heads, rows))
        page.table(heads, rows, "lll" + "r" * len(_OWED))


def _waterfall(page: Page, job: JobWords) -> None:
    """Draw the steps from quoted to used; their figures stand on a sheet nobody prints."""
    drawn = job.plan.block("waterfall")
    names = [one.values.strip("{}").partition(".") for one in drawn.series]
    rows = [row for row in range(job.plan.block("steps").rows) if job.words("steps", "step", row)]
    if not any(job.number_or_none(block, name, row) for block, _, name in names for row in rows):
        return  # a step would fall below nothing: the sheet draws none either
    book = page.sheet.parent
    data = book.create_sheet("Chart data")
    data.sheet_state = "hidden"
    for row in rows:
        figures = (job.number_or_none(block, name, row) for block, _, name in names)
        data.append([job.words("steps", "step", row), *figures])
        for cell, (block, _, name) in zip(data[data.max_row][1:], names, strict=True):
            cell.number_format = job.plan.block(block).field(name).format

    def column(at: int) -> Reference:
        return Reference(data, min_col=at, min_row=1, max_row=len(rows))

    series = [(column(at), job.plan.text(one.name)) for at, one in enumerate(drawn.series, start=2)]
    axis = f"Coatings, {job.words('money', 'currency')}"
    chart = charts.stacked(drawn.chart, axis, column(1), series)
    chart.visible_cells_only = False
    chart.width, chart.height = 17.0, 3.9
    page.chart(chart, chart.height * POINTS_A_CM)
    page.gap(4)


def _margin(page: Page, job: JobWords) -> None:
    declared = job.plan.block("margin")
    rows: list[tuple[Content, ...]] = [
        (item.header, *(job.amount("margin", item.id, n) for n in range(len(declared.instances))))
        for item in declared.columns
        if item.id != "state"
        and any(job.number_or_none("margin", item.id, n) for n in range(len(declared.instances)))
    ]
    heads = ("", *declared.instances)
    page.heading("Margin, as quoted and as earned", after=page.table_height(heads, rows))
    page.table(heads, rows, "l" + "r" * len(declared.instances))
