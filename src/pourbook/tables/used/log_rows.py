"""The log of batches as mixed: its rows in SI units, and the layers they may name.

Contract: :func:`read_batch` turns one row into a :class:`Batch` or refuses it by column;
:func:`coats` gives the layers of one option by name, each with the layer it lies on.
"""

from __future__ import annotations

from collections.abc import Mapping

from pourbook import units
from pourbook.cells import Rows, Value, as_mapping, is_blank, number, refuse_errors, text
from pourbook.dates import DAY
from pourbook.errors import (
    BlankError,
    InputError,
    PourbookError,
    RangeError,
    TwiceError,
    UnknownError,
)
from pourbook.records import dataclass
from pourbook.tables import layers as layer_table
from pourbook.tables import limits
from pourbook.tables import products as product_table
from pourbook.tables.buy.packs import day
from pourbook.tables.declared import declared
from pourbook.tables.measured import todays_surfaces
from pourbook.tables.products import PARTS, Product
from pourbook.tables.used import lots
from pourbook.tables.used.lots import Scanned

TABLE = declared("log")
COLUMNS, LABELS = TABLE.columns, TABLE.labels
_Placed = tuple[str, set[str], set[str]]


@dataclass(frozen=True)
class Coat:
    """A layer of the option, as the log may name it; ``wet`` is its wet film, m, once known.

    ``below`` is the name of the layer it lies on, or nothing; ``sanded`` is whether the surface is
    sanded before it in any case.
    """

    name: str
    product: Product
    passes: int
    sanded: bool
    below: str
    wet: float | None


@dataclass(frozen=True)
class LoggedBatch:
    """A batch as it was mixed, SI: times in s since day 0 of the spreadsheet, masses in kg, K, m.

    What was not written down is None; ``surface`` is then the air's.
    """

    number: Value
    coat: Coat
    started: float
    ended: float | None
    masses: tuple[float, ...]
    lots: tuple[tuple[str, Scanned], ...]
    air: float | None
    surface: float | None
    humidity: float | None
    wet: float | None

    @property
    def day(self) -> int:
        """Return the day mixing began."""
        return int(self.started // DAY)

    @property
    def done(self) -> float:
        """Return when all was spread, or when mixing began if that was not written down."""
        return self.started if self.ended is None else self.ended


def coats(
    layers: Rows, products: Rows, amounts: Mapping[str, float], option: str, system: units.System
) -> dict[str, Coat | PourbookError]:
    """Return the layers of an option by name in small letters; a bad one as its refusal.

    Args:
        layers: The entry columns of Layers.
        products: The entry columns of Products.
        amounts: The wet film of a layer, m, by its name in small letters.
        option: The option that is put on.
        system: The job's units.
    """
    known = product_table.products_by_name(products, system)
    found: dict[str, Coat | PourbookError] = {}
    placed: list[_Placed] = []
    for cells in layers:
        row = as_mapping(cells, layer_table.COLUMNS)
        name = text(row["layer"])
        key = name.casefold()
        if not name or text(row["option"]).casefold() != option.casefold():
            continue
        if key in found:
            what = f"'{name}' is there twice in option {option}"
            found[key] = TwiceError(what, "give each its own name on Layers", LABELS["layer"])
            continue
        surfaces = {w.strip().casefold() for w in todays_surfaces(row["surfaces"]).split("+")}
        rooms = {r.strip().casefold() for r in text(row["rooms"]).split(";") if r.strip()}
        below = _below(placed, surfaces, rooms)
        placed.append((key, surfaces, rooms))
        try:
            found[key] = _coat(row, known, below, amounts.get(key))
        except PourbookError as error:
            found[key] = error.let_go()
    return found


def _below(placed: list[_Placed], surfaces: set[str], rooms: set[str]) -> str:
    """Return the last layer placed that shares a surface and a room; no rooms are all of them."""
    for name, others, places in reversed(placed):
        if others & surfaces and (not places or not rooms or places & rooms):
            return name
    return ""


def _coat(
    row: dict[str, Value],
    known: Mapping[str, Product | PourbookError],
    below: str,
    wet: float | None,
) -> Coat:
    product = known.get(text(row["product"]).casefold())
    name = text(row["layer"])
    if product is None:
        what = f"'{name}' has no product that is on Products"
        raise UnknownError(what, "fix its row on Layers")
    if isinstance(product, PourbookError):
        what = f"the product of '{name}' cannot be mixed yet"
        raise InputError(what, "fix its row on Products")
    passes = number(row["passes"], "Passes", 1.0)
    sanded = text(row["before"]).casefold() == layer_table.SANDING
    return Coat(name, product, int(passes), sanded, below, wet)


def read_batch(
    row: dict[str, Value], known: Mapping[str, Coat | PourbookError], system: units.System
) -> LoggedBatch:
    """Read one row of the log.

    Raises:
        InputError: A cell is missing or impossible; the place is its column.
    """
    refuse_errors(row, LABELS)
    coat = _coat_of(text(row["layer"]), known)
    started = _moment(row, "started")
    if started is None:
        raise BlankError("it is blank", "type day and time", LABELS["started"])
    ended = _moment(row, "ended")
    if ended is not None and ended < started:
        raise InputError("it is before mixing began", "correct one of the two", LABELS["ended"])
    when = int(started // DAY)
    masses = _masses(row, coat.product, system)

    def kelvin(name: str) -> float | None:
        if is_blank(row[name]):
            return None
        return units.to_si(number(row[name], LABELS[name]), system.temperature)

    warm = kelvin("air")
    top = kelvin("surface")
    return LoggedBatch(
        number="" if is_blank(row["batch"]) else number(row["batch"], LABELS["batch"]),
        coat=coat,
        started=started,
        ended=ended,
        masses=masses,
        lots=tuple(
            (part, lots.read(row[f"lot_{part.lower()}"], LABELS[f"lot_{part.lower()}"], when))
            for part, mass in zip(PARTS, masses, strict=False)
            if mass > 0
        ),
        air=warm,
        surface=warm if top is None else top,
        humidity=None
        if is_blank(row["humidity"])
        else limits.humidity(row["humidity"], LABELS["humidity"]),
        wet=_wet(row, system),
    )


def _coat_of(name: str, known: Mapping[str, Coat | PourbookError]) -> Coat:
    coat = known.get(name.casefold())
    if not name:
        raise BlankError("it is blank", "choose a layer of Layers", LABELS["layer"])
    if coat is None:
        what = f"'{name}' is no layer of the option that is put on"
        raise UnknownError(what, "choose one of its layers", LABELS["layer"])
    if isinstance(coat, PourbookError):
        raise coat.again()
    return coat


def _moment(row: dict[str, Value], name: str) -> float | None:
    """Return day and time in whole seconds: a fraction of a day cannot hold a minute exactly."""
    if is_blank(row[name]):
        return None
    day(row[name], LABELS[name])  # refuses what is none
    return float(round(number(row[name], LABELS[name]) * DAY))


def _masses(row: dict[str, Value], product: Product, system: units.System) -> tuple[float, ...]:
    parts = PARTS[: len(product.ratio)]
    for part in PARTS[len(parts) :]:
        name = f"mass_{part.lower()}"
        if not is_blank(row[name]) and number(row[name], LABELS[name]) != 0:
            raise InputError(f"'{product.name}' has no part {part}", "clear it", LABELS[name])
    masses = []
    for part in parts:
        label = LABELS[f"mass_{part.lower()}"]
        mass = number(row[f"mass_{part.lower()}"], label)
        if mass < 0 or (mass == 0 and part == "A"):
            raise RangeError(f"it is {mass:g}", "type what the scale showed", label)
        masses.append(units.to_si(mass, system.small_mass))
    return tuple(masses)


def _wet(row: dict[str, Value], system: units.System) -> float | None:
    if is_blank(row["wet"]):
        return None
    found = number(row["wet"], LABELS["wet"])
    if found <= 0:
        raise RangeError(f"it is {found:g}", "type what the gauge showed", LABELS["wet"])
    return units.to_si(found, system.film)
