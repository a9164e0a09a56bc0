"""Fills a new job from the shop's workbook: money, rates, crew, pace, products, packs, stock.

Contract: :func:`entries_for` returns entries of a job, or refuses the shop by sheet and cell; half
a job is never made. Numbers are turned into the units of the job; a measure whose text reads the
same in both is kept as it was typed. Prices are those that hold on the day of the quote, stock is
what is on hand and not past its use-by day. Losses that were learned go to Buying, for the chance
of running short, and are not put into layers: a new job has no layers yet, and they are for the
estimator to judge.
"""

from __future__ import annotations

import datetime as dt
import math
import re

from pourbook import units
from pourbook.cells import Value, is_blank
from pourbook.dates import read_date
from pourbook.errors import InputError, PourbookError
from pourbook.job.make import Entries
from pourbook.records import dataclass
from pourbook.tables import reading
from pourbook.tables.buy.price_list import Listed, holding
from pourbook.units import System
from pourbook.workbook.check.reader import Reader
from pourbook.workbook.layout.laid_out import Layout
from pourbook.workbook.layout.lay_out import lay_out
from pourbook.workbook.template.template import Field

FORMS = ("paper", "money", "site", "rates", "pace")
TABLES = (
    "products", "working", "kinetics", "finishes", "finish_layers", "sundries", "labour"
)  # fmt: skip
_SETTLED = {
    "loss_of": "product",
    "settled_loss": "loss",
    "settled_spread": "spread",
    "settled_jobs": "jobs",
}
"""What settled jobs say, by the column of a job: its column of Learned."""
READ = ("start", *FORMS, *TABLES, "prices", "movements", "lots")
STATUSES = (
    ("products", "status"),
    ("finish_layers", "together"),
    ("prices", "price_status"),
    ("movements", "move_status"),
    ("movements", "balance"),
    ("lots", "lot_state"),
)
DIFFERENCES = {("working", "margin")}  # temperatures that are a distance between two
GOES_BY = {("labour", "hours"): "per", ("sundries", "quantity"): "item_per"}
"""Figures for each unit of a quantity of the job, and the column that names the quantity."""
NOISE = 1e-6
_ROLE = re.compile(r"@([a-z_]+)")


@dataclass(frozen=True)
class FromShop:
    """What a new job takes from the shop, and what the estimator should know of it."""

    entries: Entries
    notes: tuple[str, ...]


def entries_for(shop: Reader, system: str, day: dt.date) -> FromShop:
    """Return the entries a job takes from a shop.

    Args:
        shop: The shop's workbook, checked.
        system: The measure system of the job: ``"us"``, ``"imperial"`` or ``"metric"``.
        day: The day of the quote.

    Raises:
        InputError: A row of the shop cannot be read or is half filled, or the job has fewer rows.
    """
    has = shop.plan.places  # a shop of earlier sheets has no finishes
    shop.refuse_faults(READ, [status for status in STATUSES if status[0] in has])
    target = lay_out("job", system, 1)
    entries: Entries = {("start", "date", 0): day}
    for name in ("company", "contact"):
        _put(entries, ("start", name, 0), shop.value("start", name))
    for block in (name for name in (*FORMS, *TABLES) if name in has):
        for item in shop.plan.block(block).columns:
            if not item.is_typed:
                continue
            rows = range(max(shop.plan.block(block).rows, 1))
            for index in rows:
                value = shop.value(block, item.id, index)
                if not is_blank(value):
                    per = GOES_BY.get((block, item.id))
                    goes_by = shop.text(block, per, index) if per else ""
                    try:
                        new = converted(block, item, value, goes_by, shop.plan.system, target)
                    except PourbookError as error:
                        where = shop.place(block, item.id, index)
                        raise InputError(error.what, error.mend, where) from None
                    _put(entries, (block, item.id, index), new)
    notes = [_packs(shop, entries, target, day), *_stock(shop, entries, target, day)]
    _settled(shop, entries, target)
    learned = sum(1 for _ in shop.rows("learned", "suggested"))
    if learned:
        count = f"{learned} row{'s' * (learned > 1)}"
        notes.append(f"see Learned in {shop.file} ({count}) for the losses to type into Layers")
    return FromShop(entries, tuple(notes))


def _settled(shop: Reader, entries: Entries, target: Layout) -> None:
    """Put in what settled jobs say of the loss of a product, all its layers together."""
    kinds = [row for row in shop.rows("learned", "loss") if _of_all_layers(shop, row)]
    for index, row in enumerate(kinds[: target.block("settled_losses").rows]):
        for name, column in _SETTLED.items():
            _put(entries, ("settled_losses", name, index), shop.value("learned", column, row))


def _of_all_layers(shop: Reader, row: int) -> bool:
    return not (shop.text("learned", "layer", row) or shop.text("learned", "surface", row))


def _put(entries: Entries, key: tuple[str, str, int], value: object) -> None:
    if value is not None and value != "":
        entries[key] = value


def converted(
    block: str, item: Field, value: Value, goes_by: str, old: System, target: Layout
) -> object:
    """Return an entry of a job in the units of the job, from one in those of ``old``.

    Args:
        block: The block it stands in.
        item: Its declaration.
        value: What is typed.
        goes_by: The quantity that figures of :data:`GOES_BY` are for; else blank.
        old: The system it was typed in.
        target: The job.

    Raises:
        InputError: It is no measure of its kind.

    Example:
        >>> from pourbook.units import SYSTEMS
        >>> job = lay_out("job", "metric", 1)
        >>> pace = job.block("finish_layers").field("pace")
        >>> round(converted("finish_layers", pace, 100.0, "", SYSTEMS["us"], job), 3)
        9.29
    """
    new = target.system
    if old.name == new.name:
        return value
    if item.kind == "measure" and item.dimension and item.unit.startswith("@"):
        return measure(value, item, old, new)
    if item.kind in {"number", "measure"} and isinstance(value, int | float):
        apart = (block, item.id) in DIFFERENCES
        unit = item.unit
        if (block, item.id) in GOES_BY:
            unit = "each/" + _unit_of(target, goes_by)
        return number(float(value), unit, old, new, difference=apart)
    return value


def _unit_of(target: Layout, quantity: str) -> str:
    """Return the unit of a quantity that hours and sundries go by, as templates write it."""
    lines = target.block("quant").columns
    return next((line.unit for line in lines if line.header == quantity), "")


def number(value: float, unit: str, old: System, new: System, *, difference: bool = False) -> float:
    """Return a number of one system's unit in that of another; units without a role stay.

    Args:
        value: The number.
        unit: A unit as templates write it, such as ``@money/@area``.
        old: The system it is in.
        new: The system wanted.
        difference: Whether a temperature is a distance between two.

    Example:
        >>> from pourbook.units import SYSTEMS
        >>> number(1.0, "@money/@area", SYSTEMS["us"], SYSTEMS["metric"])
        10.7639104167
        >>> number(9.0, "@temperature", SYSTEMS["us"], SYSTEMS["metric"], difference=True)
        5.0
    """
    for place, part in enumerate(unit.split("/")):
        found = _ROLE.search(part)
        if found is None or found[1] == "money":
            continue
        before = "Δ" if difference else ""
        one, other = (before + str(getattr(system, found[1])) for system in (old, new))
        if place == 0:
            value = units.convert(value, one, other)
        else:
            value /= units.convert(1.0, one, other)
    return float(f"{value:.12g}")


def measure(value: Value, item: Field, old: System, new: System) -> object:
    """Return a measure of one system as the other reads it: the text, else a number.

    Example:
        >>> from pourbook.units import SYSTEMS
        >>> density = Field("d", "Density", "measure", unit="@density", dimension="density")
        >>> measure("1.18 kg/L", density, SYSTEMS["us"], SYSTEMS["metric"])
        '1.18 kg/L'
        >>> measure("1 gal", Field("v", "Holds", "measure", "@volume", "volume"),
        ...         SYSTEMS["us"], SYSTEMS["metric"])
        3.785411784
    """

    def si(system: System) -> tuple[float, str]:
        unit = str(getattr(system, item.unit.lstrip("@")))
        return reading.one_of(value, item.dimension, unit, system.fluids)

    wanted, kind = si(old)
    try:
        if math.isclose(si(new)[0], wanted, rel_tol=1e-12):
            return value
    except PourbookError:
        pass  # it means something in the shop's units only
    if kind != item.dimension.split()[0]:  # of another kind than the unit beside it
        return units.show(wanted, new.volume, 6)
    there = str(getattr(new, item.unit.lstrip("@")))
    return float(f"{units.express(wanted, there):.12g}")


def amount(value: float, old: System, new: System) -> object:
    """Return a volume of the shop for a job: the number, or with its unit where theirs differ.

    Example:
        >>> from pourbook.units import SYSTEMS
        >>> amount(0.75, SYSTEMS["us"], SYSTEMS["us"]), amount(0.75, SYSTEMS["us"],
        ...     SYSTEMS["metric"])
        (0.75, '0.75 US gal')
    """
    short = float(f"{value:.9g}")
    return short if old.name == new.name else f"{short!r} {old.volume}".replace(".0 ", " ")


def _day(shop: Reader, block: str, name: str, index: int) -> dt.date | None:
    value = shop.value(block, name, index)
    if is_blank(value):
        return None
    try:
        return read_date(value, name)
    except InputError as error:
        raise InputError(error.what, error.mend, shop.place(block, name, index)) from None


def prices_on(shop: Reader, day: dt.date) -> list[int]:
    """Return the rows of Prices that hold on a day: of each pack and seller the latest."""
    text = shop.text
    listed = (
        Listed(
            row,
            text("prices", "product", row),
            text("prices", "holds", row),
            text("prices", "seller", row),
            shop.number("prices", "contents", row),
            _day(shop, "prices", "from", row),
        )
        for row in shop.rows("prices", "product")
    )
    return holding(listed, day)


def _packs(shop: Reader, entries: Entries, target: Layout, day: dt.date) -> str:
    rows = [r for r in prices_on(shop, day) if shop.value("prices", "most", r) != 0]
    room = target.block("packs").rows
    if len(rows) > room:
        what = f"{len(rows)} packs are on sale on {day}, a job has room for {room}"
        mend = "add a row with 0 under 'Can be had' for each pack you no longer buy"
        raise InputError(what, mend, shop.place("prices", "product", rows[room]))
    for index, row in enumerate(rows):
        for name in ("product", "holds", "price", "shelf_life", "most"):
            _put(entries, ("packs", name, index), shop.value("prices", name, row))
        size = shop.number("prices", "contents", row)
        entries["packs", "contents", index] = amount(size, shop.plan.system, target.system)
    return f"{len(rows)} packs at the prices of {day}"


def _stock(shop: Reader, entries: Entries, target: Layout, day: dt.date) -> list[str]:
    """Put the lots on hand in, earliest use-by day first; say which were left out."""
    fresh: list[tuple[dt.date, int]] = []
    past: list[str] = []
    for row in shop.rows("lots", "product"):
        if shop.number("lots", "on_amount", row) <= NOISE:
            continue
        expiry = _day(shop, "lots", "expiry", row)
        if expiry is not None and expiry < day:
            past.append(shop.text("lots", "lot", row))
        else:
            fresh.append((expiry or dt.date.max, row))
    fresh.sort()
    room = target.block("stock").rows
    for index, (expiry, row) in enumerate(fresh[:room]):
        for name in ("product", "lot", "holds"):
            _put(entries, ("stock", name, index), shop.text("lots", name, row))
        size = shop.number("lots", "on_amount", row)
        entries["stock", "amount", index] = amount(size, shop.plan.system, target.system)
        if expiry != dt.date.max:
            entries["stock", "expiry", index] = expiry
        value = shop.number_or_none("lots", "on_value", row)
        if value:
            each = units.convert(size, shop.plan.system.volume, target.system.volume)
            entries["stock", "worth", index] = round(value / each, 4)
    notes = [f"{len(fresh[:room])} lots from stock"]
    if past:
        notes.append("left out, past their use-by day: " + ", ".join(past))
    if len(fresh) > room:
        names = ", ".join(shop.text("lots", "lot", row) for _, row in fresh[room:])
        notes.append(f"left out, as Buying has {room} rows of stock: {names}")
    return notes
