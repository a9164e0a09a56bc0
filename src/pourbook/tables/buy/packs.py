"""The Packs and Stock tables of Buying: what a product is sold in, and what is left on the shelf.

Contract: rows become records in SI units (volumes in m³, days as dates) or are refused by column.
A kit holds every part in the product's ratio; a single pack holds one part. Prices are in the
job's currency. Whether a lot may still be used is for the functions that buy to say.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date

from pourbook import units
from pourbook.cells import Rows, Value, choice, is_blank, number, refuse_errors, text
from pourbook.dates import day_of
from pourbook.errors import (
    BlankError,
    InputError,
    MisreadError,
    PourbookError,
    RangeError,
    WaitsError,
)
from pourbook.records import dataclass
from pourbook.tables import products, reading
from pourbook.tables.declared import declared
from pourbook.tables.products import PARTS, Product
from pourbook.tables.row_loop import read_each
from pourbook.trade import mixing
from pourbook.trade.buying import Lot, Pack

HOLDS = declared("packs").choices["holds"]
PACKS, PACK_LABELS = declared("packs").columns, declared("packs").labels
STOCK, STOCK_LABELS = declared("stock").columns, declared("stock").labels
CHARGES = PACKS_OPENED, AMOUNTS_USED = "packs opened", "amounts used"
"""What a quote charges, as the rates of Price have it."""
MOST_MONEY = 1e9
MOST_VOLUME = 1000.0
MOST_PACKS = 10_000
LAST_SERIAL = 2_958_465

Known = Mapping[str, Product | PourbookError]


@dataclass(frozen=True)
class OnSale:
    """A pack on offer: its row in the table, what it holds, and how many days it keeps."""

    row: int
    holds: str
    pack: Pack
    shelf_life: int | None


@dataclass(frozen=True)
class OnHand:
    """A lot in stock: its row in the table, what it holds, and what was paid for 1 m³ of it."""

    row: int
    holds: str
    lot: Lot
    worth: float = 0.0


def charge_of(value: Value) -> str:
    """Return what a quote charges from its cell; a blank one is the packs opened.

    Raises:
        UnknownError: It is none of :data:`CHARGES`.

    Example:
        >>> charge_of("Amounts used"), charge_of(None)
        ('amounts used', 'packs opened')
    """
    return choice(value, "A quote charges", CHARGES, PACKS_OPENED)


def day(serial: Value, label: str) -> date:
    """Return the day of a spreadsheet's serial number.

    Raises:
        InputError: It is no number, or no day of a spreadsheet.

    Example:
        >>> day(46350.0, "Use by")
        datetime.date(2026, 11, 24)
    """
    mend = "type a date such as 2026-11-24"
    try:
        found = number(serial, label)
    except InputError:
        raise MisreadError(f"'{text(serial)}' is no date", mend, label) from None
    if not 1 <= found < LAST_SERIAL:
        raise MisreadError(f"'{text(serial)}' is no date", mend, label)
    return day_of(found)


def in_parts(
    product: Product, holds: str, amount: float, label: str = "Holds"
) -> tuple[float, ...]:
    """Return how much of each part an amount holds, m³: a kit by the ratio, else one part.

    Raises:
        InputError: The product has no such part.

    Example:
        >>> in_parts(Product("x", "volume", (2.0, 1.0), (1100.0, 1000.0), 1.0, "A"), "kit", 3.0)
        (2.0, 1.0)
    """
    count = len(product.ratio)
    if holds == "kit":
        if amount <= 0:
            return (0.0,) * count
        shares = mixing.split(amount, product.ratio, product.densities, product.basis)
        return tuple(share.volume for share in shares)
    place = PARTS.index(holds)
    if place >= count:
        what = f"'{product.name}' has no part {holds}"
        raise InputError(what, "choose kit or one of its parts", label)
    return tuple(amount if at == place else 0.0 for at in range(count))


def read_pack(cells: Mapping[str, Value], row: int, known: Known, system: units.System) -> OnSale:
    """Read one row of the Packs table.

    Raises:
        InputError: A cell is missing or impossible; the place is its column.
    """
    refuse_errors(cells, PACK_LABELS)
    product = products.named(cells["product"], known, PACK_LABELS["product"])
    holds = choice(cells["holds"], PACK_LABELS["holds"], HOLDS)
    if is_blank(cells["contents"]):
        raise BlankError("it is blank", "type how much one pack holds", PACK_LABELS["contents"])
    amount = _volume(cells["contents"], PACK_LABELS["contents"], system)
    if amount <= 0:
        raise RangeError("it is 0", "type how much one pack holds", PACK_LABELS["contents"])
    if is_blank(cells["price"]):
        raise WaitsError("it is blank", "type what one pack costs", PACK_LABELS["price"])
    price = number(cells["price"], PACK_LABELS["price"])
    if not 0 <= price <= MOST_MONEY:
        raise RangeError(
            f"it is {price:g}", "type what one pack costs, 0 or more", PACK_LABELS["price"]
        )
    keeps = _whole(cells["shelf_life"], PACK_LABELS["shelf_life"], 1, LAST_SERIAL - 1)
    most = _whole(cells["most"], PACK_LABELS["most"], 0, MOST_PACKS)
    contents = in_parts(product, holds, amount, PACK_LABELS["holds"])
    named = f"{holds} {round(units.express(amount, system.volume), 3):g}"
    return OnSale(row, holds, Pack(named, contents, price, most), keeps)


def read_lot(cells: Mapping[str, Value], row: int, known: Known, system: units.System) -> OnHand:
    """Read one row of the Stock table.

    Raises:
        InputError: A cell is missing or impossible; the place is its column.
    """
    refuse_errors(cells, STOCK_LABELS)
    product = products.named(cells["product"], known, STOCK_LABELS["product"])
    holds = choice(cells["holds"], STOCK_LABELS["holds"], HOLDS)
    if is_blank(cells["amount"]):
        raise BlankError("it is blank", "type how much is left, 0 if none", STOCK_LABELS["amount"])
    amount = _volume(cells["amount"], STOCK_LABELS["amount"], system)
    expiry = None if is_blank(cells["expiry"]) else day(cells["expiry"], STOCK_LABELS["expiry"])
    held = in_parts(product, holds, amount, STOCK_LABELS["holds"])
    name = text(cells["lot"]) or f"row {row + 1}"
    return OnHand(row, holds, Lot(name, held, expiry), _worth(cells.get("worth"), system))


def _worth(value: Value, system: units.System) -> float:
    """Return what was paid for 1 m³; nothing where nothing is said, as in jobs of templates 1."""
    if is_blank(value):
        return 0.0
    found = number(value, STOCK_LABELS["worth"])
    if not 0 <= found <= MOST_MONEY:
        mend = "type what the shop paid for one, 0 or more"
        raise RangeError(f"it is {found:g}", mend, STOCK_LABELS["worth"])
    return found / units.to_si(1.0, system.volume)


def _volume(value: Value, label: str, system: units.System) -> float:
    found = reading.labelled(value, "volume", label, system.volume, system.fluids)
    if found > MOST_VOLUME:
        raise RangeError(f"it is {_short(found, system)}", "check the unit", label)
    return found


def _whole(value: Value, label: str, least: int, most: int) -> int | None:
    if is_blank(value):
        return None
    found = number(value, label)
    if found != int(found) or not least <= found <= most:
        what = f"it is {found:g}"
        raise RangeError(what, f"type a whole number, {least} or more, or clear it", label)
    return int(found)


def _short(amount: float, system: units.System) -> str:
    return f"{round(units.express(amount, system.volume), 3):g} {system.volume}"


def packs_by_row(
    rows: Rows, known: Known, system: units.System
) -> list[OnSale | PourbookError | None]:
    """Return every row of the Packs table: a pack, its refusal, or None for a blank row."""
    return read_each(rows, PACKS, lambda index, row: read_pack(row, index, known, system))


def stock_by_row(
    rows: Rows, known: Known, system: units.System
) -> list[OnHand | PourbookError | None]:
    """Return every row of the Stock table: a lot, its refusal, or None for a blank row."""
    return read_each(rows, STOCK, lambda index, row: read_lot(row, index, known, system))
