"""A job in a few tables, for the terminal and for machines.

Contract: numbers come from the recomputed workbook and carry their unit in the heading; nothing is
worked out here.
"""

from __future__ import annotations

from pourbook.cells import Value, is_blank, text
from pourbook.dates import from_serial
from pourbook.records import dataclass
from pourbook.workbook.check.check import Checked
from pourbook.workbook.read.named import NamedCells
from pourbook.workbook.template.template import Field


@dataclass(frozen=True)
class Shown:
    """A table as shown: its title, headings, rows of text, and the side each column leans to."""

    title: str
    headings: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    sides: str


def brief(checked: Checked) -> list[Shown]:
    """Return what fits one screen: where a job stands, and its options side by side.

    Of a shop, a month, and a job of templates that have no such blocks: all tables.
    """
    plan = checked.plan
    if "decision" not in plan.places:
        return tables(checked)
    reader = TableReader(checked)

    def cell(block: str, item: Field, index: int = 0) -> str:
        value = reader.value(block, item.id, index)
        unit = "" if isinstance(value, str) else _unit(reader, item)
        return f"{shown(item, value)} {unit}".strip() if not is_blank(value) else ""

    stands = plan.block("decision")
    where = tuple((plan.text(item.header), cell("decision", item)) for item in stands.columns)
    board = plan.block("board")
    used = [n for n, _ in enumerate(board.instances) if cell("board", board.columns[0], n)]
    rows = tuple(
        (plan.text(item.header), *(cell("board", item, n) for n in used)) for item in board.columns
    )
    job = reader.words("start", "job") or checked.book.path.name
    heads = ("", *(f"Option {board.instances[n]}" for n in used))
    found = [Shown(job, ("", ""), where, "ll")]
    if used:
        found.append(Shown(plan.text(board.title), heads, rows, "l" + "r" * len(used)))
    return found


def _unit(reader: NamedCells, item: Field) -> str:
    block, _, name = reader.plan.book.currency.partition(".")
    unit = reader.plan.unit(item.unit).replace("@money", reader.words(block, name))
    return "" if unit == "date" else unit


def tables(checked: Checked) -> list[Shown]:
    """Return the tables of a job, from the pieces to the checks, or those of a shop or month."""
    reader = TableReader(checked)
    if checked.plan.book.book == "shop":
        return _shop_tables(reader)
    if checked.plan.book.book == "month":
        return _month_tables(reader)
    if checked.plan.book.book == "board":
        return _board_tables(reader)
    return [
        reader.table(
            "rooms",
            "Pieces",
            ("room", "piece", "shape", "count", "top", "edge", "splash", "total", "run", "status"),
            "piece",
        ),
        reader.table(
            "amounts",
            "Layers: area, film and mix",
            ("option", "number", "layer", "product", "area", "wet", "dry", "mixed", "status"),
            "layer",
        ),
        reader.table(
            "parts",
            "Layers: each part",
            (
                "part_option",
                "part_layer",
                "volume_a",
                "volume_b",
                "volume_c",
                "mass_a",
                "mass_b",
                "mass_c",
                "pigment_mass",
                "thinner_volume",
                "broadcast_mass",
            ),
            "part_layer",
        ),
        reader.table(
            "batches",
            "Batches of the option to offer",
            (
                "batch",
                "layer",
                "in_layer",
                "mixed",
                "mass_a",
                "mass_b",
                "mass_c",
                "pigment_mass",
                "thinner_volume",
                "cup_pigment",
                "use_by",
                "status",
            ),
            "batch",
        ),
        reader.table(
            "buying",
            "What to buy",
            (
                "buy_product",
                "buy_a",
                "cost_a",
                "buy_b",
                "cost_b",
                "buy_c",
                "cost_c",
                "from_stock",
                "left_over",
                "buy_status",
            ),
            "buy_product",
        ),
        reader.lines("price", "Price of each option"),
        reader.quoted("price", ("material", "cost", "net", "tax", "gross")),
        reader.table(
            "readings",
            "Readings of the survey",
            ("read_room", "test", "reading", "limit", "test_unit", "verdict", "survey_status"),
            "test",
        ),
        reader.table(
            "days",
            "The calendar",
            ("step", "day_layer", "starts", "ends", "hours", "air", "day_status", "day_note"),
            "step",
        ),
        reader.checks(),
    ]


def _shop_tables(reader: TableReader) -> list[Shown]:
    return [
        reader.table(
            "prices",
            "Packs and prices",
            ("product", "holds", "contents", "price", "from", "seller", "price_status"),
            "product",
        ),
        reader.table(
            "lots",
            "Lots on the shelf",
            ("product", "holds", "lot", "expiry", "on_amount", "on_value", "lot_state", "fit"),
            "product",
        ),
        reader.lines("roll", "Stock in all", lead=""),
        reader.table(
            "learned",
            "Learned losses and pace",
            ("product", "layer", "surface", "jobs", "loss", "suggested", "pace", "day"),
            "product",
        ),
        reader.checks(),
    ]


def _month_tables(reader: TableReader) -> list[Shown]:
    money = ("quoted", "area", "rate", "waste", "price", "used", "unexplained")
    sums = tuple(f.id for f in reader.plan.block("sums").columns)
    return [
        reader.form("sums", "Settled jobs in all", sums),
        reader.table(
            "jobs",
            "Job by job",
            ("job", "client", "state", "settled_on", "price_earned", "profit_earned"),
            "job",
        ),
        reader.table("by_product", "Product by product", ("product", "jobs", *money), "product"),
        reader.table("files", "Files", ("file", "taken", "why"), "file"),
        reader.checks(),
    ]


def _board_tables(reader: TableReader) -> list[Shown]:
    needs = ("job", "firm", "product", "amount", "day", "shelf", "order", "short")
    return [
        reader.form("counts", "In all", ("jobs", "clashes", "late", "to_buy")),
        reader.table(
            "jobs",
            "Job by job",
            ("job", "phase", "crew", "first", "last", "in_use", "promised", "late"),
            "job",
        ),
        reader.table(
            "visits",
            "Date by date",
            ("visit_job", "visit_crew", "visit_from", "clash"),
            "visit_job",
        ),
        reader.table(
            "needs", "Stock, job by job", tuple(f"need_{n}" for n in needs), "need_product"
        ),
        reader.table("buy", "What to buy", ("product", "short", "this_week", "free"), "product"),
        reader.table("files", "Files", ("file", "taken", "why"), "file"),
        reader.checks(),
    ]


class TableReader(NamedCells):
    """Reads a recomputed workbook by the names of its blocks and fields, and makes tables of it."""

    def __init__(self, checked: Checked) -> None:
        super().__init__(checked.plan, checked.book, checked.values)

    def unit(self, item: Field) -> str:
        """Return a field's unit, money in the job's currency."""
        block, _, name = self.plan.book.currency.partition(".")
        return self.plan.unit(item.unit).replace("@money", text(self.value(block, name, 0)))

    def heading(self, item: Field) -> str:
        """Return a field's heading with its unit."""
        unit = self.unit(item)
        return self.plan.text(item.header) + (f", {unit}" if unit else "")

    def table(self, block: str, title: str, names: tuple[str, ...], key: str) -> Shown:
        """Return the rows of a table whose field ``key`` holds something."""
        declared = self.plan.block(block)
        items = [declared.field(n) for n in names]
        rows = []
        for index in range(declared.rows):
            if not is_blank(self.value(block, key, index)):
                cells = [shown(item, self.value(block, item.id, index)) for item in items]
                rows.append(tuple(cells))
        sides = "".join("l" if _is_text(item) else "r" for item in items)
        return Shown(title, tuple(self.heading(i) for i in items), tuple(rows), sides)

    def form(self, block: str, title: str, names: tuple[str, ...]) -> Shown:
        """Return lines of a form."""
        items = [self.plan.block(block).field(name) for name in names]
        rows = tuple((self.heading(i), shown(i, self.value(block, i.id, 0))) for i in items)
        return Shown(title, ("", "Amount"), rows, "lr")

    def lines(self, block: str, title: str, lead: str = "Option ") -> Shown:
        """Return a lines block with the instances that are in use, each headed by ``lead``."""
        declared = self.plan.block(block)
        used = [
            n
            for n in range(len(declared.instances))
            if not is_blank(self.value(block, declared.columns[0].id, n))
        ]
        rows = tuple(
            (self.heading(item), *(shown(item, self.value(block, item.id, n)) for n in used))
            for item in declared.columns
        )
        headings = ("", *(f"{lead}{declared.instances[n]}" for n in used))
        return Shown(title, headings, rows if used else (), "l" + "r" * len(used))

    def quoted(self, block: str, names: tuple[str, ...]) -> Shown:
        """Return some lines of the accepted quote, if there is one, beside the same lines now."""
        wanted = {self.plan.text(self.plan.block(block).field(name).header) for name in names}
        declared = self.plan.block("quoted_lines")
        headings = tuple(self.plan.text(item.header) for item in declared.columns)
        rows = []
        for index in range(declared.rows):
            if text(self.value("quoted_lines", "item", index)) in wanted:
                cells = (
                    shown(i, self.value("quoted_lines", i.id, index)) for i in declared.columns
                )
                rows.append(tuple(cells))
        title = "The quote that was accepted"
        day = self.value("quoted", "accepted_on", 0)
        if isinstance(day, int | float):
            option, revision = (text(self.value("quoted", n, 0)) for n in ("option", "revision"))
            on = f"{from_serial(day):%Y-%m-%d}"
            title = f"Quoted: option {option}, revision {revision}, accepted {on}"
        return Shown(title, headings, tuple(rows), "lrlrl")

    def checks(self) -> Shown:
        """Return the checks and what they say."""
        declared = self.plan.block("checks")
        place = self.plan.places["checks"]
        rows = []
        for index, check in enumerate(declared.checks):
            cell = self.plan.by_address[place.sheet, f"B{place.first + index}"]
            value = self.values.get((cell.sheet, cell.address))
            rows.append((self.plan.text(check.label), text(value)))
        return Shown("Checks", ("Check", "Result"), tuple(rows), "ll")


def _is_text(item: Field) -> bool:
    return item.format == "text" or item.kind in {"text", "choice", "measure", "ratio"}


def shown(item: Field, value: Value) -> str:
    """Return a value as its number format shows it; a day and time as year-month-day hh:mm.

    Example:
        >>> shown(Field("a", "Area", format="#,##0.00"), 1234.5)
        '1,234.50'
        >>> shown(Field("m", "Margin", format="0.0%"), 0.3)
        '30.0 %'
    """
    if value is None or isinstance(value, str | bool):
        return text(value)
    if is_moment(item):
        return moment(value)
    if item.kind == "date" or item.format.startswith("yyyy"):
        return f"{from_serial(value):%Y-%m-%d}"
    percent = item.format.endswith("%")
    places = len(item.format.rstrip("%").partition(".")[2])
    number = f"{value * 100 if percent else value:,.{places}f}"
    return f"{number} %" if percent else number


def is_moment(item: Field) -> bool:
    """Return whether a field shows a day and time."""
    return "mmm" in item.format or "hh" in item.format


def moment(serial: float) -> str:
    """Return a spreadsheet's day and time as people and machines read it.

    Example:
        >>> moment(46398.5)
        '2027-01-11 12:00'
    """
    return f"{from_serial(serial):%Y-%m-%d %H:%M}"
