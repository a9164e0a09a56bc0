"""What one job workbook gives to the month's roll-up, to the trace of lots and to learning.

Contract: :func:`record` reads a checked job; every figure is one the fast engine worked out anew,
not one stored in the file. Figures stay in the job's own units, except those of
:class:`LayerRecord`, which are SI. Plain data that can be handed from one process to another.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import fields

from pourbook.archive.layer_record import (
    JobReader,
    LayerRecord,
    called_back,
    layers_of,
    logged_product,
    lot_code,
)
from pourbook.archive.planned import Ahead, planned_of
from pourbook.archive.still_open import Stand, stand_of
from pourbook.archive.twice import Trace, traces
from pourbook.cells import OK, text
from pourbook.errors import InputError
from pourbook.hosts.headless.engine import same
from pourbook.job.settle import settled
from pourbook.records import dataclass
from pourbook.workbook.check import closed
from pourbook.workbook.check.check import Checked
from pourbook.workbook.check.frozen import number_of
from pourbook.workbook.layout.marks import IDENTITY_MARK

SETTLED, NOT_ACCEPTED, NOT_SETTLED, FINDINGS = "settled", "not accepted", "not settled", "findings"
_LISTED = "pourbook check lists them"
QUOTED, EARNED = 0, 1
LOTS = ("lot_a", "lot_b", "lot_c")


@dataclass(frozen=True)
class ProductRecord:
    """One product of a settled job: volumes in the job's unit of volume, money before tax."""

    product: str
    volume_quoted: float
    allowed: float
    by_log: float
    by_count: float
    volume_unexplained: float
    charged: float
    quoted: float
    area: float
    rate: float
    waste: float
    price: float
    used: float
    unexplained: float


@dataclass(frozen=True)
class ClosingRecord:
    """A closing of a job, or a correction of it: what changed since the one before.

    ``on`` is a day number; ``sums``, ``prices`` and ``profits`` as of :class:`JobRecord`.
    """

    number: int
    what: str
    on: float
    by: str
    why: str
    sums: ProductRecord
    prices: tuple[float, float]
    profits: tuple[float, float]
    products: tuple[ProductRecord, ...]


@dataclass(frozen=True)
class LotRecord:
    """A lot in a job: when it was mixed first and last (day numbers), and how it was bought."""

    lot: str
    product: str
    first: float | None
    last: float | None
    batches: int
    documents: tuple[str, ...]


@dataclass(frozen=True)
class JobRecord:
    """One job: who it was for, its state, and what it comes to where it is settled.

    ``state`` is settled, not accepted, not settled or findings; ``why`` says why it is not settled.
    Dates are day numbers, ``stand`` says what it lacks. ``stale`` counts stored figures that differ
    from what formulas give. The figures of a job that was closed are those of its ``closings``.
    """

    job: str
    client: str
    state: str
    why: str
    option: str
    currency: str
    system: str
    identity: str
    digest: str
    accepted_on: float | None
    settled_on: float | None
    to_mend: int
    stale: int
    sums: ProductRecord | None = None
    prices: tuple[float, float] = (0.0, 0.0)
    profits: tuple[float, float] = (0.0, 0.0)
    products: tuple[ProductRecord, ...] = ()
    lots: tuple[LotRecord, ...] = ()
    layers: tuple[LayerRecord, ...] = ()
    traces: tuple[Trace, ...] = ()
    stand: Stand | None = None
    closings: tuple[ClosingRecord, ...] = ()
    planned: Ahead | None = None
    called: tuple[str, ...] = ()


def record(checked: Checked) -> JobRecord:
    """Return what a checked job gives.

    A job that is not settled gives its names, its state and its lots, and no figures.
    """
    reader = JobReader(checked)
    state, why = _state(checked, reader)
    sums: ProductRecord | None = None
    products: tuple[ProductRecord, ...] = ()
    layers: tuple[LayerRecord, ...] = ()
    prices = profits = (0.0, 0.0)
    if state == SETTLED:
        try:
            sums = _sums(reader)
            products = tuple(_product(reader, row) for row in reader.rows("settle", "product"))
            prices, profits = _pair(reader, "price"), _pair(reader, "profit")
            layers = tuple(layers_of(reader))
        except InputError as fault:
            state, why, sums, products = FINDINGS, f"{fault}; {_LISTED}", None, ()
            prices = profits = (0.0, 0.0)
    stand = stand_of(reader)
    days = [d for block, name in settled.DATES for d in _numbers(reader, block, name)]
    return JobRecord(
        job=reader.words("start", "job") or checked.book.path.stem,
        client=reader.words("start", "client"),
        state=state,
        why=why,
        option=reader.words("quoted", "option"),
        currency=reader.words("money", "currency").upper(),
        system=checked.plan.system.name,
        identity=checked.book.marks.get(IDENTITY_MARK, ""),
        digest=reader.words("quoted", "digest"),
        accepted_on=reader.number_or_none("quoted", "accepted_on"),
        settled_on=max(days, default=None),
        to_mend=len(checked.findings),
        stale=_stale(checked),
        sums=sums,
        prices=prices,
        profits=profits,
        products=products,
        lots=tuple(_lots(reader)),
        layers=layers,
        traces=traces(reader),
        stand=stand,
        closings=tuple(_closings(checked)),
        planned=planned_of(reader, stand),
        called=called_back(reader),
    )


def _closings(checked: Checked) -> Iterator[ClosingRecord]:
    """Give what was closed and corrected; a reopening changes no figure.

    Where one of them was changed by hand none counts: the job is then one with findings.
    """
    found = closed.closings(checked.plan, checked.book)
    for one in found if all(row.sound for row in found) else ():
        if one.what == closed.REOPENED:
            continue
        products = tuple(
            ProductRecord(
                text(row.get("product")),
                *(number_of(row.get(name)) for name in (*closed.VOLUMES, *closed.MONEY)),
            )
            for row in one.products
        )
        prices, profits = (
            (one.sums[f"{name}_quoted"], one.sums[f"{name}_earned"]) for name in ("price", "profit")
        )
        sums = add_up("", products)
        yield ClosingRecord(
            one.number, one.what, one.on, one.by, one.why, sums, prices, profits, products
        )


def add_up(name: str, products: Iterable[ProductRecord]) -> ProductRecord:
    """Return the sum of products, money to the cent."""
    listed = list(products)
    figures = [f.name for f in fields(ProductRecord) if f.name != "product"]
    return ProductRecord(
        name,
        *(
            round(sum(getattr(one, figure) for one in listed), 2 if figure in closed.MONEY else 9)
            for figure in figures
        ),
    )


def _stale(checked: Checked) -> int:
    stored = {name: sheet.value for name, sheet in checked.book.sheets.items()}
    return sum(not same(stored[sheet](cell), v) for (sheet, cell), v in checked.values.items())


def _state(checked: Checked, reader: JobReader) -> tuple[str, str]:
    """Return the state of a job, and why it is not settled."""
    if reader.words("quoted", "state") != OK:
        return NOT_ACCEPTED, "its quote was not accepted: pourbook accept"
    reason = settled.unready(checked)
    if reason is not None:
        return NOT_SETTLED, f"{reason.place}: {reason.what}: {reason.mend}"
    spoiled = settled.obstacles(checked)
    if spoiled:
        first, more = spoiled[0], len(spoiled) - 1
        also = f" (and {more} more)" * bool(more)
        return FINDINGS, f"{first.place}: {first.what}{also}; {_LISTED}"
    return SETTLED, ""


def _pair(reader: JobReader, name: str) -> tuple[float, float]:
    return reader.number("margin", name, QUOTED), reader.number("margin", name, EARNED)


def _numbers(reader: JobReader, block: str, name: str) -> list[float]:
    if block not in reader.plan.places:
        return []
    rows = range(reader.plan.block(block).rows)
    return [n for row in rows if (n := reader.number_or_none(block, name, row)) is not None]


def _product(reader: JobReader, row: int) -> ProductRecord:
    def volume(name: str) -> float:
        return reader.number("settle", name, row)

    def money(name: str) -> float:
        return reader.number("settle_money", name, row)

    return ProductRecord(
        product=reader.words("settle", "product", row),
        volume_quoted=volume("quoted"),
        allowed=volume("allowed"),
        by_log=volume("by_log"),
        by_count=volume("by_count"),
        volume_unexplained=volume("unexplained"),
        charged=volume("charged"),
        quoted=money("quoted"),
        area=money("area"),
        rate=money("rate"),
        waste=money("waste"),
        price=money("price"),
        used=money("actual"),
        unexplained=money("unexplained"),
    )


def _sums(reader: JobReader) -> ProductRecord:
    """Return the job's own sums of money."""
    names = ("quoted", "area", "rate", "waste", "price", "actual", "unexplained")
    return ProductRecord("", *[0.0] * 6, *(reader.number("settle_sums", n) for n in names))


def _lots(reader: JobReader) -> list[LotRecord]:
    """Return every lot of the log and of the receipts, product by product."""
    spelled: dict[tuple[str, str], tuple[str, str]] = {}
    mixed: dict[tuple[str, str], list[float | None]] = {}
    bought: dict[tuple[str, str], list[str]] = {}

    def key(typed: str, product: str, day: float | None) -> tuple[str, str]:
        lot = lot_code(typed, day)
        found = lot.casefold(), product.casefold()
        spelled.setdefault(found, (lot, product))
        return found

    for row in reader.rows("receipts", "lot"):
        day = reader.number_or_none("receipts", "date", row)
        product = reader.words("receipts", "product", row)
        found = key(reader.words("receipts", "lot", row), product, day)
        if reader.words("receipts", "kind", row) != "sent back":
            seller = reader.words("receipts", "supplier", row)
            document = reader.words("receipts", "document", row)
            bought.setdefault(found, []).append(" ".join(w for w in (document, seller) if w))
    for row in reader.rows("log", "layer"):
        day = reader.number_or_none("log", "started", row)
        product = logged_product(reader, row)
        cells = [reader.words("log", name, row) for name in LOTS]
        for found in dict.fromkeys(key(typed, product, day) for typed in cells if typed):
            mixed.setdefault(found, []).append(day)
    records = []
    for found, (lot, product) in spelled.items():
        batches = mixed.get(found, [])
        days = [day for day in batches if day is not None]
        documents = tuple(dict.fromkeys(bought.get(found, [])))
        first, last = min(days, default=None), max(days, default=None)
        records.append(LotRecord(lot, product, first, last, len(batches), documents))
    return sorted(records, key=lambda r: (r.lot.casefold(), r.product.casefold()))
