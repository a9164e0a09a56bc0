"""What one job workbook gives to the month's roll-up, to the trace of lots and to learning.

Contract: :func:`record` reads a checked job; every figure is one the fast engine worked out anew,
not one stored in the file. Figures stay in the job's own units, except those of
:class:`LayerRecord`, which are SI. Plain data that can be handed from one process to another.
"""

from __future__ import annotations

from dataclasses import dataclass

from pourbook import settled, units
from pourbook.errors import InputError
from pourbook.functions.site import from_serial
from pourbook.functions.values import FAILED, OK, is_blank, text
from pourbook.gs1 import read_scan
from pourbook.workbook.build import IDENTITY_MARK
from pourbook.workbook.check import Checked, same
from pourbook.workbook.findings import Finding
from pourbook.workbook.summary import Reader

SETTLED, NOT_ACCEPTED, NOT_SETTLED, FINDINGS = "settled", "not accepted", "not settled", "findings"
_LISTED = "pourbook check lists them"
SHEETS = {"Start", "Products", "Layers", "Quoted", "Used", "Settle"}
"""The sheets whose figures are rolled up, and those they rest on."""
HARMLESS = {"structure.stray", "structure.hidden", "structure.version"}
SEALED = "quoted.sealed"
QUOTED, EARNED = 0, 1
DAY = 86_400.0
DATES = (("receipts", "date"), ("log", "started"), ("log", "ended"), ("left", "date"))
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
class LotRecord:
    """A lot in a job: when it was mixed first and last (day numbers), and how it was bought."""

    lot: str
    product: str
    first: float | None
    last: float | None
    batches: int
    documents: tuple[str, ...]


@dataclass(frozen=True)
class LayerRecord:
    """What a settled job shows of one layer.

    Attributes:
        product: The product of the layer.
        layer: Its name on Layers.
        surfaces: The surfaces it was put on, as Layers says.
        film: Mix that stayed on the surface, as read or else as quoted for the area, m³.
        mixed: Mix made for it, m³; None where it is not known.
        readings: Wet film readings it rests on.
        spread: Area of the batches whose area and times were noted, m².
        seconds: From mixing to all spread, of the same batches, s.
        how: How the mix was told apart from that of the product's other layers, or why it is not
            known.
    """

    product: str
    layer: str
    surfaces: str
    film: float
    mixed: float | None
    readings: int
    spread: float
    seconds: float
    how: str


@dataclass(frozen=True)
class JobRecord:
    """One job: who it was for, its state, and what it comes to where it is settled.

    ``state`` is settled, not accepted, not settled or findings; ``why`` says why it is not settled.
    Dates are day numbers. ``stale`` counts stored figures that differ from what formulas give.
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


class _Reader(Reader):
    def number(self, block: str, name: str, index: int = 0) -> float | None:
        """Return a number, None where there is none."""
        found = self.value(block, name, index)
        if isinstance(found, bool) or not isinstance(found, int | float):
            return None
        return float(found)

    def figure(self, block: str, name: str, index: int = 0) -> float:
        """Return a number that must be there."""
        found = self.number(block, name, index)
        if found is None:
            cell = self.plan.cell(block, name, index)
            said = text(self.value(block, name, index)).removeprefix(FAILED).strip()
            raise InputError(said or "there is no figure", "", f"{cell.sheet}!{cell.address}")
        return found

    def words(self, block: str, name: str, index: int = 0) -> str:
        """Return a cell as text."""
        return text(self.value(block, name, index))

    def rows(self, block: str, key: str) -> list[int]:
        """Return the rows of a table whose key is not blank."""
        rows = range(self.plan.block(block).rows)
        return [index for index in rows if not is_blank(self.value(block, key, index))]


def record(checked: Checked) -> JobRecord:
    """Return what a checked job gives.

    A job that is not settled gives its names, its state and its lots, and no figures.
    """
    reader = _Reader(checked)
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
            layers = tuple(_layers(reader))
        except InputError as fault:
            state, why, sums, products = FINDINGS, f"{fault}; {_LISTED}", None, ()
            prices = profits = (0.0, 0.0)
    days = [d for block, name in DATES for d in _numbers(reader, block, name)]
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
        accepted_on=reader.number("quoted", "accepted_on"),
        settled_on=max(days, default=None),
        to_mend=len(checked.findings),
        stale=_stale(checked),
        sums=sums,
        prices=prices,
        profits=profits,
        products=products,
        lots=tuple(_lots(reader)),
        layers=layers,
    )


def _stale(checked: Checked) -> int:
    stored = {name: sheet.value for name, sheet in checked.book.sheets.items()}
    return sum(not same(stored[sheet](cell), v) for (sheet, cell), v in checked.values.items())


def _state(checked: Checked, reader: _Reader) -> tuple[str, str]:
    """Return the state of a job, and why it is not settled."""
    if reader.words("quoted", "state") != OK:
        return NOT_ACCEPTED, "its quote was not accepted: pourbook accept"
    reason = settled.unready(checked)
    if reason is not None:
        return NOT_SETTLED, f"{reason.place}: {reason.what}: {reason.mend}"
    spoiled = [f for f in checked.findings if _spoils(f)]
    if spoiled:
        first, more = spoiled[0], len(spoiled) - 1
        also = f" (and {more} more)" * bool(more)
        return FINDINGS, f"{first.place}: {first.what}{also}; {_LISTED}"
    for block, name in (("settle_sums", "residual"), ("settle_state", "tie")):
        if reader.number(block, name) != 0.0:
            cell = reader.plan.cell(block, name)
            label = reader.plan.text(reader.plan.block(block).field(name).header)
            return FINDINGS, f"{cell.sheet}!{cell.address}: {label} is not 0; {_LISTED}"
    return SETTLED, ""


def _spoils(finding: Finding) -> bool:
    """Return whether a finding makes the figures of a settlement unsafe."""
    if finding.id == SEALED:
        return True
    kinds = ("structure.", "entry.", "job.row", "job.error")
    counts = finding.id.startswith(kinds) and finding.id not in HARMLESS
    return counts and finding.sheet in SHEETS


def _pair(reader: _Reader, name: str) -> tuple[float, float]:
    return reader.figure("margin", name, QUOTED), reader.figure("margin", name, EARNED)


def _numbers(reader: _Reader, block: str, name: str) -> list[float]:
    rows = range(reader.plan.block(block).rows)
    return [n for row in rows if (n := reader.number(block, name, row)) is not None]


def _product(reader: _Reader, row: int) -> ProductRecord:
    def volume(name: str) -> float:
        return reader.figure("settle", name, row)

    def money(name: str) -> float:
        return reader.figure("settle_money", name, row)

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


def _sums(reader: _Reader) -> ProductRecord:
    """Return the job's own sums of money."""
    names = ("quoted", "area", "rate", "waste", "price", "actual", "unexplained")
    return ProductRecord("", *[0.0] * 6, *(reader.figure("settle_sums", n) for n in names))


def lot_code(typed: str, day: float | None) -> str:
    """Return the lot of a typed or scanned text; a code that cannot be read stays as it is.

    Example:
        >>> lot_code("(01)09506000134352(10)L-7", 46000.0), lot_code(" L-7 ", None)
        ('L-7', 'L-7')
    """
    try:
        scan = read_scan(typed, from_serial(day or 0.0).date())
    except InputError:
        return typed.strip()
    return scan.lot or typed.strip()


def _lots(reader: _Reader) -> list[LotRecord]:
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
        day = reader.number("receipts", "date", row)
        product = reader.words("receipts", "product", row)
        found = key(reader.words("receipts", "lot", row), product, day)
        if reader.words("receipts", "kind", row) != "sent back":
            seller = reader.words("receipts", "supplier", row)
            document = reader.words("receipts", "document", row)
            bought.setdefault(found, []).append(" ".join(w for w in (document, seller) if w))
    for row in reader.rows("log", "layer"):
        day = reader.number("log", "started", row)
        product = _logged_product(reader, row)
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


def _logged_product(reader: _Reader, row: int) -> str:
    """Return the product of a logged batch, by its layer where the row could not be worked out."""
    found = reader.words("used", "used_product", row)
    if found and not found.startswith(FAILED):
        return found
    layer = reader.words("log", "layer", row)
    for other in reader.rows("layers", "layer"):
        if reader.words("layers", "layer", other) == layer:
            return reader.words("layers", "product", other)
    return ""


def _layers(reader: _Reader) -> list[LayerRecord]:
    """Return the layers of a settled job with the mix that each of them took."""
    system = reader.plan.system
    film: dict[tuple[str, str], float] = {}
    readings: dict[tuple[str, str], int] = {}
    for row in reader.rows("settle_layers", "layer"):
        key = (
            reader.words("settle_layers", "product", row),
            reader.words("settle_layers", "layer", row),
        )
        film[key] = film.get(key, 0.0) + reader.figure("settle_layers", "film_actual", row)
        readings[key] = int(reader.figure("settle_layers", "readings", row))
    logged: dict[tuple[str, str], float] = {}
    for row in reader.rows("log", "layer"):
        key = _logged_product(reader, row), reader.words("log", "layer", row)
        volume = reader.number("used", "used_volume", row) or 0.0
        logged[key] = logged.get(key, 0.0) + volume
    mixes = _mixes(reader, film, logged)
    found = []
    for (product, layer), stayed in film.items():
        mixed, how = mixes[product, layer]
        area, seconds = _spread(reader, layer)
        found.append(
            LayerRecord(
                product,
                layer,
                _surfaces(reader, layer),
                units.to_si(stayed, system.volume),
                None if mixed is None else units.to_si(mixed, system.volume),
                readings[product, layer],
                units.to_si(area, system.area),
                seconds,
                how,
            )
        )
    return found


def _mixes(
    reader: _Reader, film: dict[tuple[str, str], float], logged: dict[tuple[str, str], float]
) -> dict[tuple[str, str], tuple[float | None, str]]:
    """Return the mix of each layer: what the count says of the product, shared out.

    By the log's shares where log and count agree; where the product was not logged at all but was
    counted, by film. Else it is not known.
    """
    found: dict[tuple[str, str], tuple[float | None, str]] = {}
    counted = {reader.words("left", "product", row) for row in reader.rows("left", "product")}
    of_product = {
        reader.words("settle", "product", row): row for row in reader.rows("settle", "product")
    }
    for key, stayed in film.items():
        product, _ = key
        row = of_product.get(product)
        if row is None:
            found[key] = None, "the product is not on Settle"
            continue
        by_count = reader.figure("settle", "by_count", row)
        by_log = sum(volume for (name, _), volume in logged.items() if name == product)
        all_film = sum(volume for (name, _), volume in film.items() if name == product)
        if by_log > 0.0 and reader.words("settle", "verdict", row) != OK:
            found[key] = None, "log and count do not agree"
        elif by_log > 0.0 and key not in logged:
            found[key] = None, "no batch was logged for this layer"
        elif by_log > 0.0:
            found[key] = by_count * logged[key] / by_log, "by log"
        elif product in counted and all_film > 0.0:
            found[key] = by_count * stayed / all_film, "by film"
        else:
            found[key] = None, "neither logged nor counted"
    return found


def _spread(reader: _Reader, layer: str) -> tuple[float, float]:
    """Return the area and the seconds of a layer's batches where both were noted."""
    area = seconds = 0.0
    for row in reader.rows("log", "layer"):
        over = reader.number("log", "spread_over", row)
        began, ended = (reader.number("log", name, row) for name in ("started", "ended"))
        if reader.words("log", "layer", row) != layer:
            continue
        if over is not None and began is not None and ended is not None and ended > began:
            area += over
            seconds += (ended - began) * DAY
    return area, seconds


def _surfaces(reader: _Reader, layer: str) -> str:
    """Return the surfaces of a layer of the accepted option, as Layers says."""
    option = reader.words("quoted", "option")
    found = [
        reader.words("layers", "surfaces", row)
        for row in reader.rows("layers", "layer")
        if reader.words("layers", "layer", row) == layer
        and reader.words("layers", "option", row) == option
    ]
    return ", ".join(dict.fromkeys(found))
