"""What a job still has before it: its dates on site, when it is back in use, what it needs.

Contract: figures rest on values the fast engine worked out anew; amounts are m³, days and times day
numbers of a spreadsheet. A job whose calendar is not in order has no dates and says why.
"""

from __future__ import annotations

from collections.abc import Iterator

from pourbook import units
from pourbook.archive.layer_record import JobReader
from pourbook.archive.still_open import ACCEPTED, QUOTED, UNDER_WAY, Stand
from pourbook.cells import OK, is_refused, unmarked, word
from pourbook.records import dataclass

BEFORE_IT = (QUOTED, ACCEPTED, UNDER_WAY)
"""The phases in which a job still has work before it."""
_NOISE = 1e-12


@dataclass(frozen=True)
class Stay:
    """A date on site: from when until when, and how many people."""

    begins: float
    ends: float
    people: float


@dataclass(frozen=True)
class Wanted:
    """What a job still needs of a product, m³, and the first day it is worked with."""

    product: str
    amount: float
    day: float


@dataclass(frozen=True)
class Ahead:
    """What a job has before it.

    Attributes:
        crew: What its crew is called; blank where the shop has one.
        promised: The day it was promised for, if it was.
        in_use: When every coat may be used lightly; None where there is no calendar.
        stays: Its dates on site, in order.
        wanted: What it still needs, product by product.
        why: Why it has no dates.
    """

    crew: str
    promised: float | None
    in_use: float | None
    stays: tuple[Stay, ...]
    wanted: tuple[Wanted, ...]
    why: str = ""


def planned_of(reader: JobReader, stand: Stand) -> Ahead | None:
    """Return what a job has before it; None where it is only being priced, or is all done."""
    if stand.phase not in BEFORE_IT or "visits" not in reader.plan.places:
        return None
    stays = tuple(_stays(reader))
    light = [
        found
        for row in range(reader.plan.block("days").rows)
        if (found := reader.number_or_none("days", "light_use", row)) is not None
    ]
    crew, promised = "", None
    if "team" in {line.id for line in reader.plan.block("site").columns}:
        crew, promised = reader.words("site", "team"), reader.number_or_none("site", "promised")
    return Ahead(
        crew=crew,
        promised=promised,
        in_use=max(light, default=None),
        stays=stays,
        wanted=tuple(_wanted(reader, stand, stays)),
        why="" if stays else _no_days(reader),
    )


def _stays(reader: JobReader) -> Iterator[Stay]:
    for row in range(reader.plan.block("visits").rows):
        begins, ends, people = (
            reader.number_or_none("visits", f"visit_{name}", row)
            for name in ("from", "until", "people")
        )
        if begins is not None and ends is not None:
            yield Stay(begins, ends, people or 0.0)


def _no_days(reader: JobReader) -> str:
    for row in range(reader.plan.block("days").rows):
        said = reader.words("days", "day_status", row)
        if is_refused(said):
            return f"no calendar: {unmarked(said)}"
    return "no calendar: type the day work starts, on Start"


def _wanted(reader: JobReader, stand: Stand, stays: tuple[Stay, ...]) -> Iterator[Wanted]:
    """Give what the quote calls for of each product, less what the receipts say the job has."""
    unit = reader.plan.system.volume
    days = _days(reader)
    usual = stays[0].begins if stays else reader.number_or_none("start", "start_date")
    amounts = _quoted(reader) if stand.phase != QUOTED else _offered(reader)
    for product, amount in amounts.items():
        day = days.get(word(product), usual)
        left = units.to_si(max(amount - _issued(reader, product), 0.0), unit)
        if left > _NOISE and day is not None:
            yield Wanted(product, left, float(int(day)))


def _quoted(reader: JobReader) -> dict[str, float]:
    return {
        reader.words("quoted_products", "product", row): reader.number(
            "quoted_products", "mixed", row
        )
        for row in reader.rows("quoted_products", "product")
    }


def _offered(reader: JobReader) -> dict[str, float]:
    found: dict[str, float] = {}
    for row, product in _of_the_option(reader):
        amount = reader.number_or_none("amounts", "mixed", row) or 0.0
        found[product] = found.get(product, 0.0) + amount
    return found


def _of_the_option(reader: JobReader) -> Iterator[tuple[int, str]]:
    option = word(reader.value("rates", "option"))
    for row in range(reader.plan.block("amounts").rows):
        mine = word(reader.value("amounts", "option", row)) == option
        if mine and reader.words("amounts", "status", row) == OK:
            yield row, reader.words("amounts", "product", row)


def _issued(reader: JobReader, product: str) -> float:
    for row in range(reader.plan.block("issued").rows):
        if word(reader.value("issued", "product", row)) == word(product):
            return reader.number_or_none("issued", "came", row) or 0.0
    return 0.0


def _days(reader: JobReader) -> dict[str, float]:
    """Return the first day each product is worked with."""
    products = {
        word(reader.value("amounts", "layer", row)): word(product)
        for row, product in _of_the_option(reader)
    }
    found: dict[str, float] = {}
    for row in range(reader.plan.block("spans").rows):
        begins = reader.number_or_none("spans", "work_from", row)
        product = products.get(word(reader.value("spans", "span", row)))
        if begins is not None and product is not None:
            found[product] = min(begins, found.get(product, begins))
    return found
