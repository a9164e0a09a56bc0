"""The sheet Closed read back: what was closed and corrected, and whether a figure was changed.

Contract: reads only. What was closed is what commands wrote; :func:`closings` gives it in order,
each as what changed since the one before. A job of templates without the sheet was never closed.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import field

from pourbook.cells import Value, is_blank, text
from pourbook.functions.own.entered import canonical, digest
from pourbook.records import dataclass
from pourbook.workbook.check.findings import Finding
from pourbook.workbook.check.frozen import number_of
from pourbook.workbook.layout.laid_out import Layout
from pourbook.workbook.read.read import RawBook

SHEET = "Closed"
CLOSED, CORRECTED, REOPENED = "closed", "correction", "reopened"
VOLUMES = ("volume_quoted", "allowed", "by_log", "by_count", "volume_unexplained", "charged")
MONEY = ("quoted", "area", "rate", "waste", "price", "used", "unexplained")
SUMS = ("receipts", "price_quoted", "price_earned", "profit_quoted", "profit_earned")
PARTS = {"closings": "no", "closed_products": "closing", "closed_lines": "closing"}
"""The tables of a closing, and the column of each that says which closing it is of."""
Row = Mapping[str, Value]


@dataclass(frozen=True)
class ClosedRow:
    """One closing, correction or reopening.

    ``sums``, ``products`` and ``lines`` hold the cells of its rows by their field; money is what
    changed since the closing before.
    """

    number: int
    what: str
    on: float
    by: str
    why: str
    sums: Mapping[str, float] = field(default_factory=dict)
    products: tuple[Row, ...] = ()
    lines: tuple[Row, ...] = ()
    sound: bool = True


def closings(plan: Layout, book: RawBook) -> list[ClosedRow]:
    """Return what was closed, in order."""
    if "closings" not in plan.places:
        return []
    headed = _rows(plan, book, "closings")
    if not headed:
        return []  # most jobs that are checked were not closed: nothing more is read
    tables = {block: _rows(plan, book, block) for block in PARTS}
    found = []
    for row in headed:
        number = number_of(row.get("no"))
        mine = {
            block: tuple(r for r in tables[block] if number_of(r.get(key)) == number)
            for block, key in PARTS.items()
        }
        found.append(
            ClosedRow(
                number=int(number),
                what=text(row.get("what")),
                on=number_of(row.get("closed_on")),
                by=text(row.get("closed_by")),
                why=text(row.get("why")),
                sums={name: number_of(row.get(name)) for name in SUMS},
                products=mine["closed_products"],
                lines=mine["closed_lines"],
                sound=seal(mine) == text(row.get("seal")),
            )
        )
    return found


def seal(rows: Mapping[str, tuple[Row, ...]]) -> str:
    """Return the digest of all that was written of one closing, the digest itself left out."""
    return digest(
        f"{block}.{index}.{name}={canonical(value)}"
        for block in PARTS
        for index, row in enumerate(rows.get(block, ()))
        for name, value in sorted(row.items())
        if name != "seal" and not is_blank(value)
    )


def check_closed(plan: Layout, book: RawBook) -> Iterator[Finding]:
    """Report closings of which a figure was changed by hand, each at its row."""
    mend = "put it back as the journal and the month that were handed over have it"
    for index, one in enumerate(closings(plan, book)):
        if not one.sound:
            cell = plan.cell("closings", "no", index)
            what = f"a figure of closing {one.number} was changed by hand"
            yield Finding("closed.sealed", book.path.name, cell.sheet, cell.address, what, mend)


def _rows(plan: Layout, book: RawBook, block: str) -> list[dict[str, Value]]:
    """Return the filled rows of a table of Closed."""
    sheet = book.sheets.get(SHEET)
    found: list[dict[str, Value]] = []
    names = [f.id for f in plan.block(block).columns if (block, f.id, 0) in plan.kept_at]
    for index in range(plan.block(block).rows if sheet else 0):
        row = {}
        for name in names:
            assert sheet is not None
            value = sheet.value(plan.kept_at[block, name, index].address)
            if not is_blank(value):
                row[name] = value
        if row:
            found.append(row)
    return found
