"""A supplier's invoice as a CSV file, put into the terms of a job's receipts.

Contract: :func:`arrange` changes no figure: it leaves lines out, names kinds by the supplier's own
words, finds product and pack by item number, and parts coatings from the other lines of the
invoice; :func:`other_lines` gives those as rows of Invoices. What it cannot place is refused by
file and line.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import field, replace

from pourbook.cells import Value, is_blank, word
from pourbook.errors import InputError, UnknownError
from pourbook.formats.csv_rows import Row, Table
from pourbook.job import figures, import_headings
from pourbook.job.figures import Way
from pourbook.job.fill import Entry
from pourbook.job.import_headings import Asked
from pourbook.records import dataclass
from pourbook.workbook.layout.laid_out import Layout
from pourbook.workbook.read.read import RawBook

ITEM = "Item number"
BOUGHT, SENT_BACK = "bought", "sent back"
BLOCK, OTHERS = "receipts", "extras"
_ADDED = ("supplier", "kind", "product", "holds", "contents")
"""Fields a file may lack where the supplier is known."""


@dataclass(frozen=True)
class Item:
    """What a pack is that a supplier sells under a number: contents as text with its unit."""

    product: str
    holds: str
    contents: str


@dataclass(frozen=True)
class Supplier:
    """How a supplier writes invoices.

    Attributes:
        name: What stands under From.
        asked: Headings mapped or left out, decimals, dates and encoding of its files.
        kinds: Its words, in small letters, and our kind for each.
        skipped: What lines begin with that are no lines of goods, in small letters.
        headings: The headings it is known by.
        items: What is sold under which number.
    """

    name: str
    asked: Asked = field(default_factory=Asked)
    kinds: Mapping[str, str] = field(default_factory=dict)
    skipped: tuple[str, ...] = ()
    headings: tuple[str, ...] = ()
    items: Mapping[str, Item] = field(default_factory=dict)

    def knows(self, table: Table) -> bool:
        """Return whether a file has the headings this supplier is known by."""
        return bool(self.headings) and _plain(self.headings) == _plain(table.headings)


@dataclass(frozen=True)
class Arranged:
    """A file in the terms of a job: lines of coatings, the other lines, and what was left out.

    ``fields`` are what its own columns are: a field of receipts, :data:`ITEM`, or nothing of ours.
    """

    table: Table
    asked: Asked
    fields: tuple[str, ...]
    others: tuple[tuple[Row, str], ...] = ()
    skipped: int = 0


def _plain(headings: Sequence[str]) -> set[str]:
    return {heading.strip().casefold() for heading in headings if heading.strip()}


def parted(text: str) -> tuple[str, ...]:
    """Return what is parted by semicolons.

    Example:
        >>> parted("Art.=Item number; Qty=Packs;")
        ('Art.=Item number', 'Qty=Packs')
    """
    return tuple(part.strip() for part in text.split(";") if part.strip())


def both(known: Asked, said: Asked) -> Asked:
    """Return what is known of a supplier's files, with what was said this time in front."""
    mapped = {pair.partition("=")[0].strip().casefold() for pair in said.maps}
    kept = [p for p in known.maps if p.partition("=")[0].strip().casefold() not in mapped]
    return Asked(
        said.encoding or known.encoding,
        (*kept, *said.maps),
        tuple(dict.fromkeys((*known.ignore, *said.ignore))),
        said.decimal or known.decimal,
        said.dates or known.dates,
    )


def arrange(table: Table, supplier: Supplier, plan: Layout, asked: Asked) -> Arranged:
    """Return a supplier's file in the terms of a job.

    Args:
        table: The file as it was read.
        supplier: How it writes.
        plan: The layout of the job.
        asked: What is known of the file: see :func:`both`.

    Raises:
        InputError: An item number is not known; names file and line.
    """
    names = import_headings.names_of(plan, BLOCK)
    maps = dict(_pair(pair) for pair in asked.maps)
    names[ITEM.casefold()] = ITEM
    fields = [names.get(maps.get(h.casefold(), h.casefold()), "") for h in table.headings]
    item_at = fields.index(ITEM) if ITEM in fields else None
    added = [name for name in _ADDED if name not in fields]
    if item_at is None:
        added = [name for name in added if name in {"supplier", "kind"}]
    at = {name: n for n, name in enumerate(fields)}
    rows: list[Row] = []
    others: list[tuple[Row, str]] = []
    left = 0
    for row in table.rows:
        cells = [*row.cells, *[""] * (len(fields) - len(row.cells))]
        if any(c.casefold().startswith(supplier.skipped) for c in cells if c and supplier.skipped):
            left += 1
            continue
        kind = _kind(cells, supplier, at)
        if kind not in {BOUGHT, SENT_BACK, "from shelf"}:
            others.append((replace(row, cells=tuple(cells)), kind))
            continue
        more = {"supplier": supplier.name, "kind": kind}
        if "kind" in at:
            cells[at["kind"]] = kind
        if item_at is not None:
            more |= _pack(cells[item_at], supplier, row)
        rows.append(replace(row, cells=(*cells, *(more[name] for name in added))))
    ours = {name: plan.text(plan.block(BLOCK).field(name).header) for name in added}
    ignored = list(asked.ignore)
    kept = tuple(p for p in asked.maps if _pair(p)[1] != ITEM.casefold())
    if item_at is not None:
        ignored.append(table.headings[item_at])
    there = _plain(table.headings)
    new = Asked(
        asked.encoding,
        tuple(p for p in kept if _pair(p)[0] in there),
        tuple(i for i in ignored if i.strip().casefold() in there),
        asked.decimal,
        asked.dates,
    )
    headings = (*table.headings, *ours.values())
    arranged = replace(table, headings=headings, rows=tuple(rows))
    return Arranged(arranged, new, tuple(fields), tuple(others), left)


def _pair(pair: str) -> tuple[str, str]:
    theirs, _, ours = pair.rpartition("=")
    return theirs.strip().casefold(), ours.strip().casefold()


def _kind(cells: list[str], supplier: Supplier, at: Mapping[str, int]) -> str:
    """Return our kind of a line; packs below 0 are sent back, and lose their sign."""
    found = next(
        (
            ours
            for theirs, ours in supplier.kinds.items()
            if any(cell.casefold().startswith(theirs) for cell in cells if cell)
        ),
        "",
    )
    packs = at.get("packs")
    if packs is not None and cells[packs].startswith("-") and found in {"", SENT_BACK}:
        cells[packs] = cells[packs].lstrip("-").strip()
        return SENT_BACK
    said = cells[at["kind"]].casefold() if "kind" in at else ""
    return found or said or BOUGHT


def _pack(number: str, supplier: Supplier, row: Row) -> dict[str, str]:
    item = supplier.items.get(word(number))
    if item is None:
        what = f"the item number '{number}' of {supplier.name} is not known"
        mend = "add it to Suppliers of the shop, with its product and contents"
        raise UnknownError(what, mend, row.where)
    return {"product": item.product, "holds": item.holds, "contents": item.contents}


def other_lines(
    arranged: Arranged, supplier: Supplier, book: RawBook, plan: Layout
) -> tuple[dict[Entry, Value], int]:
    """Return the lines that are no coatings as rows of Invoices, and how many are there already.

    Raises:
        InputError: A line has no amount or no invoice, or they are too many.
    """
    if not arranged.others:
        return {}, 0
    if OTHERS not in plan.places:
        what = "the job's templates have no sheet for freight and other lines"
        raise InputError(what, "bring it up to date first: pourbook upgrade", book.path.name)
    way = Way(arranged.asked.decimal, arranged.asked.dates)
    known, begin = _known(book, plan)
    found: dict[Entry, Value] = {}
    there = 0
    for row, kind in arranged.others:
        line = _line(row, kind, arranged.fields, supplier, way)
        key = (word(line["document"]), word(line["kind"]), round(_number(line["amount"]), 2))
        if key in known:
            known.remove(key)
            there += 1
            continue
        if begin >= plan.block(OTHERS).rows:
            what = f"the other lines of invoices have {plan.block(OTHERS).rows} rows"
            raise InputError(what, "clear rows that are not needed", "Invoices")
        found |= {(OTHERS, name, begin): value for name, value in line.items() if value != ""}
        begin += 1
    return found, there


def _number(value: Value) -> float:
    return float(value) if isinstance(value, int | float) else 0.0


def _known(book: RawBook, plan: Layout) -> tuple[list[tuple[str, str, float]], int]:
    """Return what stands on Invoices already, and the first free row."""
    rows: dict[int, dict[str, Value]] = {}
    for (block, name, index), cell in plan.entry_at.items():
        if block == OTHERS and not is_blank(value := book.sheets[cell.sheet].value(cell.address)):
            rows.setdefault(index, {})[name] = value
    keys = [
        (word(r.get("document")), word(r.get("kind")), round(_number(r.get("amount")), 2))
        for r in rows.values()
    ]
    return keys, 1 + max(rows, default=-1)


def _line(
    row: Row, kind: str, fields: Sequence[str], supplier: Supplier, way: Way
) -> dict[str, Value]:
    held = {name: cell for name, cell in zip(fields, row.cells, strict=False) if name and cell}
    if "document" not in held:
        raise InputError("the line names no invoice", "add its number", row.where)
    if "price" not in held:
        raise InputError(f"the line ({kind}) has no price", "add it", row.where)
    try:
        amount = float(figures.number(held["price"], way))
        many = float(figures.number(held.get("packs", "1"), way))
    except InputError as error:
        raise InputError(error.what, error.mend, row.where) from None
    words = [c for c, name in zip(row.cells, fields, strict=False) if c and name in {"", ITEM}]
    line: dict[str, Value] = {
        "supplier": held.get("supplier", supplier.name),
        "document": held["document"],
        "kind": kind,
        "what": max(words, key=len, default=""),
        "amount": round(amount * many, 2),
    }
    if held.get("line", "").isdecimal():
        line["line"] = float(held["line"])
    return line
