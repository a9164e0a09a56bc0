"""Lots: what was poured from which can, when that can came, and until when it may be used.

Contract: :func:`known_lots` gathers the lots of receipts and stock; :func:`judge` compares the lots
of one batch with them. Days are the whole serial numbers of a spreadsheet. A lot is compared
without regard to capitals; a scanned GS1 code counts as the lot it carries. A row of receipts or
stock that cannot be read says so at its own place and is passed over here.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import field

from pourbook import units
from pourbook.cells import Rows, Value, as_mapping, is_blank, number, text
from pourbook.dates import day_number
from pourbook.errors import InputError, PourbookError
from pourbook.formats import gs1
from pourbook.records import dataclass
from pourbook.tables.buy import packs
from pourbook.tables.declared import declared

RECEIPTS = declared("receipts").columns
KINDS = declared("receipts").choices["kind"]


@dataclass(frozen=True)
class Scanned:
    """A lot as a person reads it, and the use-by day of its code, if it carries one."""

    lot: str
    expiry: int | None = None


@dataclass
class KnownLot:
    """What is known of a lot: when it first came, its use-by day, what its cans hold, how much.

    ``issued`` is what the receipts say was issued of it, m³; None where it is on none.
    """

    came: int | None = None
    expiry: int | None = None
    holds: set[str] = field(default_factory=set)
    issued: float | None = None


Known = dict[tuple[str, str], KnownLot]
"""Lots by product and lot, both in small letters."""


def read(value: Value, label: str, day: int) -> Scanned:
    """Read a lot as typed or scanned.

    Args:
        value: The cell; a blank one is the lot ``""``.
        label: The column, for the refusal.
        day: The day it was written down: it settles the century of a two-figure year.

    Raises:
        InputError: It is a GS1 code that is damaged or carries no lot.

    Example:
        >>> read("(01)09506000134352(17)270331(10)T-0412", "Lot A", 46398)
        Scanned(lot='T-0412', expiry=46477)
        >>> read(" T-0412 ", "Lot A", 46398)
        Scanned(lot='T-0412', expiry=None)
    """
    typed = text(value)
    if not typed:
        return Scanned("")
    try:
        scan = gs1.read_scan(typed, packs.day(float(day), label))
    except PourbookError as error:
        raise error.at(label) from None
    if scan.lot is None:
        raise InputError("the scanned code carries no lot", "type the lot from the can", label)
    return Scanned(scan.lot, None if scan.expiry is None else day_number(scan.expiry))


@dataclass(frozen=True)
class Receipt:
    """A row of receipts that names a day and a lot; what else of it cannot be read is a refusal.

    ``volume`` is what was issued, m³, below 0 where it was sent back. Where packs or contents are
    to be mended at their own place it is without end: until then no amount of the lot is too much.
    """

    kind: str
    product: str
    holds: str
    came: int
    lot: Scanned
    expiry: int | PourbookError | None
    volume: float | PourbookError


def known_lots(receipts: Rows, stock: Rows, system: units.System) -> Known:
    """Return every lot that was bought, taken from the shelf, or stands under stock on Buying."""
    known: Known = {}
    read_ones = list(_receipts(receipts, system))
    for product, holds, lot, came, expiry in (*_received(read_ones), *_in_stock(stock)):
        found = known.setdefault((product.casefold(), lot.lot.casefold()), KnownLot())
        found.holds.add(holds.casefold())
        days = [d for d in (found.expiry, lot.expiry, expiry) if d is not None]
        found.expiry = min(days) if days else None
        found.came = came if found.came is None else min(found.came, came)
    for receipt in read_ones:
        held = known.get((receipt.product.casefold(), receipt.lot.lot.casefold()))
        if held is not None and not isinstance(receipt.volume, PourbookError):
            held.issued = (held.issued or 0.0) + receipt.volume
    return known


_Lot = tuple[str, str, Scanned, int, int | None]


def _receipts(rows: Rows, system: units.System) -> Iterator[Receipt]:
    for cells in rows:
        row = as_mapping(cells, RECEIPTS)
        kind = text(row["kind"]).casefold()
        try:
            came = _serial(row["date"] if is_blank(row["delivered"]) else row["delivered"])
            lot = read(row["lot"], "Lot", came)
        except PourbookError:
            continue
        expiry: int | PourbookError | None
        try:
            expiry = None if is_blank(row["expiry"]) else _serial(row["expiry"])
        except PourbookError as error:
            expiry = error.let_go()
        volume: float | PourbookError
        try:
            packs_, holds = (
                number(row["packs"], "Packs"),
                number(row["contents"], "Contents of one"),
            )
            readable = min(packs_, holds) > 0
            way = -1 if kind == KINDS[2] else 1
            volume = way * units.to_si(packs_ * holds, system.volume) if readable else math.inf
        except PourbookError as error:
            volume = error.let_go()
        yield Receipt(kind, text(row["product"]), text(row["holds"]), came, lot, expiry, volume)


def _received(receipts: Sequence[Receipt]) -> Iterator[_Lot]:
    for one in receipts:
        if one.lot.lot and one.kind in KINDS[:2] and not isinstance(one.expiry, PourbookError):
            yield one.product, one.holds, one.lot, one.came, one.expiry


def _in_stock(stock: Rows) -> Iterator[_Lot]:
    for cells in stock:
        row = as_mapping(cells, packs.STOCK)
        if is_blank(row["lot"]):
            continue
        try:
            expiry = None if is_blank(row["expiry"]) else _serial(row["expiry"])
            lot = read(row["lot"], "Lot", expiry or 1)
        except PourbookError:
            continue
        yield text(row["product"]), text(row["holds"]), lot, 0, expiry


def _serial(value: Value) -> int:
    return day_number(packs.day(value, "Date"))


@dataclass(frozen=True)
class LotsJudged:
    """What is said of the lots of one batch."""

    wrong: tuple[str, ...]
    notes: tuple[str, ...]
    early: bool


_EARLY = "used before it was bought"
"""Checks of templates 1 count these words: they stay as long as such jobs live."""


def judge(product: str, used: Sequence[tuple[str, Scanned]], day: int, known: Known) -> LotsJudged:
    """Compare the lots of one batch with what was bought.

    Args:
        product: The product that was mixed.
        used: Every part that was poured, by its letter, with its lot.
        day: The day it was mixed.
        known: See :func:`known_lots`.

    Returns:
        What is wrong, what is only worth a note, and whether a lot came after it was used.

    Example:
        >>> bought = {("clear", "c-1"): KnownLot(46399, None, {"kit"})}
        >>> judge("Clear", [("A", Scanned("C-1")), ("B", Scanned(""))], 46398, bought)
        LotsJudged(wrong=('lot C-1 was used before it was bought',), notes=(), early=True)
        >>> judge("Clear", [("A", Scanned("C-2")), ("B", Scanned(""))], 46399, bought)
        LotsJudged(wrong=('no lot of part B',), notes=('lot C-2 is on no receipt',), early=False)
    """
    name = product.casefold()
    some = any(of == name for of, _ in known)
    wrong: list[str] = []
    note: list[str] = []
    early = False
    whole = {"kit"} & {
        h for _, s in used for h in known.get((name, s.lot.casefold()), KnownLot()).holds if s.lot
    }
    for part, scanned in used:
        lot = scanned.lot
        if not lot:
            if not whole:
                wrong.append(f"no lot of part {part}")
            continue
        found = known.get((name, lot.casefold()))
        if found is None:
            note += [f"lot {lot} is on no receipt"] if some else []
        elif not {"kit", part.casefold()} & found.holds:
            holds = " and ".join(sorted(h.upper() for h in found.holds))
            wrong.append(f"lot {lot} was bought as part {holds}, used as part {part}")
        if found is not None and found.came is not None and found.came > day:
            early = True
            wrong.append(f"lot {lot} was {_EARLY}")
        days = [d for d in (scanned.expiry, found.expiry if found else None) if d is not None]
        if days and min(days) < day:
            wrong.append(f"lot {lot} was past its use-by day")
    return LotsJudged(tuple(dict.fromkeys(wrong)), tuple(dict.fromkeys(note)), early)
