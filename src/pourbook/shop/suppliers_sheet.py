"""The sheet Suppliers of a shop: read for an import, and what was learned written to it.

Contract: :func:`read` refuses a shop by sheet and cell; :func:`entries` never touches what was
typed of another supplier.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from pourbook.cells import text, word
from pourbook.errors import InputError
from pourbook.formats.csv_rows import Table
from pourbook.job.figures import Dates, Decimal
from pourbook.job.fill import Entry
from pourbook.job.import_headings import Asked
from pourbook.job.suppliers import Item, Supplier, parted
from pourbook.workbook.check.check import check_file
from pourbook.workbook.check.reader import Reader

_DECIMAL: dict[str, Decimal] = {"": "", "point": ".", "comma": ","}
_DATES: dict[str, Dates] = {"": "", "day first": "dmy", "month first": "mdy"}


def read(path: Path) -> tuple[Reader, list[Supplier]]:
    """Return a shop and its suppliers.

    Raises:
        FileUnreadableError: The file cannot be read, or is no shop.
        InputError: A row of the sheet is wrong, or it has no such sheet.
    """
    reader = Reader(check_file(path, kinds=("shop",)))
    if "sellers" not in reader.plan.places:
        mend = f"bring it up to date first: pourbook upgrade {path.name}"
        raise InputError("its templates have no sheet Suppliers", mend, path.name)
    reader.refuse_faults(("sellers", "items"), ())
    unit = reader.plan.system.volume
    items: dict[str, dict[str, Item]] = {}
    for row in reader.rows("items", "item"):
        seller, number, product, holds = (
            reader.text("items", name, row) for name in ("item_seller", "item", "product", "holds")
        )
        contents = f"{reader.number('items', 'contents', row):.12g} {unit}"
        items.setdefault(word(seller), {})[word(number)] = Item(product, holds, contents)
    return reader, [_supplier(reader, row, items) for row in reader.rows("sellers", "seller")]


def _supplier(reader: Reader, row: int, items: dict[str, dict[str, Item]]) -> Supplier:
    def said(name: str) -> str:
        return text(reader.value("sellers", name, row)).strip()

    kinds: dict[str, str] = {}
    for pair in parted(said("kinds")):
        theirs, _, ours = pair.rpartition("=")
        if not theirs.strip() or not ours.strip():
            mend = "write it as Their word=Our kind; such as delivery=freight"
            where = reader.place("sellers", "kinds", row)
            raise InputError(f"'{pair}' names no kind", mend, where)
        kinds[theirs.strip().casefold()] = ours.strip().casefold()
    return Supplier(
        name=said("seller"),
        asked=Asked(
            said("encoding"),
            parted(said("maps")),
            parted(said("ignored")),
            _DECIMAL[said("decimal").casefold()],
            _DATES[said("dates").casefold()],
        ),
        kinds=kinds,
        skipped=tuple(part.casefold() for part in parted(said("skipped"))),
        headings=parted(said("headings")),
        items=items.get(word(said("seller")), {}),
    )


def entries(reader: Reader, name: str, asked: Asked, table: Table) -> dict[Entry, object]:
    """Return what to write so that the next file of a supplier needs nothing said.

    Args:
        reader: The shop.
        name: The supplier.
        asked: What was said of its file.
        table: The file.

    Raises:
        InputError: The sheet is full.
    """
    rows = list(reader.rows("sellers", "seller"))
    row = next((r for r in rows if word(reader.value("sellers", "seller", r)) == word(name)), None)
    if row is None:
        free = [r for r in range(reader.plan.block("sellers").rows) if r not in rows]
        if not free:
            raise InputError("it has no free row", "clear one you no longer need", "Suppliers")
        row = free[0]
    written = {
        "seller": name if row not in rows else None,
        "maps": _joined(asked.maps),
        "ignored": _joined(asked.ignore),
        "decimal": _named(_DECIMAL, asked.decimal),
        "dates": _named(_DATES, asked.dates),
        "encoding": asked.encoding,
        "headings": _joined(table.headings),
    }
    return {("sellers", field, row): value for field, value in written.items() if value}


def _joined(parts: Sequence[str]) -> str:
    return "; ".join(parts)


def _named(known: dict[str, Decimal] | dict[str, Dates], wanted: str) -> str:
    return next(name for name, value in known.items() if value == wanted)
