"""PB_PRODUCTS: reads the Products table and says of every product whether it can be mixed.

Contract: :func:`read_product` turns one row into a :class:`Product` in SI units or refuses it by
column; the block function shows mixed density, ratio and status beside every row.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import lru_cache
from typing import Literal, cast

from pourbook import units
from pourbook.cells import Rows, Told, Value, choice, is_blank, number, refuse_errors, text
from pourbook.errors import (
    BlankError,
    InputError,
    MisreadError,
    PourbookError,
    RangeError,
    TwiceError,
    UnknownError,
)
from pourbook.once import once
from pourbook.records import dataclass
from pourbook.tables import reading
from pourbook.tables.declared import Column, declared
from pourbook.tables.row_loop import by_name
from pourbook.trade import mixing

PARTS = declared("products").choices["first"]
TABLE = declared("products")
COLUMNS, LABELS = TABLE.columns, TABLE.labels
USUAL_MINUTES = 2.0
RESULTS = (
    Column("mix_density", "Density of the mix", "density"),
    Column("said", "The ratio in words, in the order of pouring"),
    Column("status", "ok, or what to fix in this row"),
    Column("safety", "What its safety data sheet says, in a line"),
)
MOST_VOC = 2000.0
LONGEST_RESPIRATOR = 40


@dataclass(frozen=True)
class Product:
    """A coating as the job uses it, SI: densities in kg/m³, volume solids as a fraction."""

    name: str
    basis: Literal["volume", "mass"]
    ratio: tuple[float, ...]
    densities: tuple[float, ...]
    solids: float
    first: str
    shake: str = "none"
    minutes: float = USUAL_MINUTES
    isocyanate: bool = False
    flammable: bool = False
    voc: float | None = None
    """Volatile organic compounds of the mix, g/L."""
    respirator: str = ""
    vertical: float | None = None
    """The film a vertical holds of a poured or trowelled pass, m, if it is typed."""

    @property
    def density(self) -> float:
        """Return the density of the mix, kg/m³."""
        return _density(tuple(self.ratio), tuple(self.densities), self.basis)


@lru_cache(maxsize=256)
def _density(
    ratio: tuple[float, ...], densities: tuple[float, ...], basis: Literal["volume", "mass"]
) -> float:
    return mixing.mixed_density(ratio, densities, basis)


def read_product(row: dict[str, Value], system: units.System) -> Product:
    """Read one row of the Products table.

    Raises:
        InputError: A cell is missing or impossible; the place is its column.
    """
    refuse_errors(row, LABELS)
    name = text(row["product"])
    if not name:
        raise BlankError("it is blank", "name the product", LABELS["product"])
    parts = number(row["parts"], LABELS["parts"])
    if parts not in {1, 2, 3}:
        raise InputError(f"'{text(row['parts'])}' parts", "type 1, 2 or 3", LABELS["parts"])
    used = PARTS[: int(parts)]
    basis = cast(
        Literal["volume", "mass"],
        choice(
            row["basis"], LABELS["basis"], TABLE.choices["basis"], "volume" if parts == 1 else ""
        ),
    )
    ratio = reading.ratio(row["ratio"], len(used), LABELS["ratio"])
    densities = _densities(row, used, system)
    solids = number(row["solids"], LABELS["solids"])
    if not 0 < solids <= 1:
        raise RangeError(f"{solids:.4g} of 1", "type above 0 % and up to 100 %", LABELS["solids"])
    first = choice(row["first"], LABELS["first"], used, "A")
    minutes = number(row["minutes"], LABELS["minutes"], USUAL_MINUTES)
    if minutes <= 0:
        raise RangeError(f"it is {minutes:g}", "type the minutes of mixing", LABELS["minutes"])
    shake = choice(row["shake"], LABELS["shake"], TABLE.choices["shake"], "none")
    isocyanate, flammable = (
        choice(row[column], LABELS[column], TABLE.choices[column], "no") == "yes"
        for column in ("isocyanate", "flammable")
    )
    voc = None if is_blank(row["voc"]) else number(row["voc"], LABELS["voc"])
    if voc is not None and not 0 <= voc <= MOST_VOC:
        mend = f"type 0 to {MOST_VOC:g} grams a litre, as its data sheet says"
        raise RangeError(f"it is {voc:g}", mend, LABELS["voc"])
    respirator = text(row["respirator"])
    if len(respirator) > LONGEST_RESPIRATOR:
        mend = f"shorten it to {LONGEST_RESPIRATOR} letters: it stands on the mix cards"
        raise RangeError(f"it has {len(respirator)} letters", mend, LABELS["respirator"])
    vertical = None
    if not is_blank(row["vertical"]):
        label, film = LABELS["vertical"], system.film
        vertical = reading.labelled(row["vertical"], "film", label, film, system.fluids)
    return Product(
        name=name,
        basis=basis,
        ratio=ratio,
        densities=tuple(densities),
        solids=solids,
        first=first,
        shake=shake,
        minutes=minutes,
        isocyanate=isocyanate,
        flammable=flammable,
        voc=voc,
        respirator=respirator,
        vertical=vertical,
    )


def safety_in_words(product: Product) -> str:
    """Return what its safety data sheet says, in a line; nothing where nothing was typed.

    Example:
        >>> coat = Product("x", "volume", (1.0,), (1000.0,), 1.0, "A", voc=120.0, flammable=True)
        >>> safety_in_words(coat)
        'flammable; VOC 120 g/L'
    """
    said = [
        "holds isocyanates" if product.isocyanate else "",
        "flammable" if product.flammable else "",
        "" if product.voc is None else f"VOC {product.voc:g} g/L",
        f"respirator: {product.respirator}" if product.respirator else "",
    ]
    return "; ".join(words for words in said if words)


def _densities(row: dict[str, Value], used: tuple[str, ...], system: units.System) -> list[float]:
    """Return the densities of the parts in use, and refuse what stands in the others."""
    densities = []
    for part in used:
        label = LABELS[f"density_{part.lower()}"]
        if is_blank(row[f"density_{part.lower()}"]):
            mend = f"type it from the data sheet, such as 1.1 kg/L or 9.2 {system.density}"
            raise BlankError("it is blank", mend, label)
        density = reading.labelled(
            row[f"density_{part.lower()}"], "density", label, system.density, system.fluids
        )
        if not 300 <= density <= 5000:
            shown = f"{density / 1000:.3g} kg/L"
            raise MisreadError(f"{shown} is no coating", "check the unit: kg/L or lb/gal", label)
        densities.append(density)
    for part in PARTS[len(used) :]:
        if not is_blank(row[f"density_{part.lower()}"]):
            what = f"there is no part {part}"
            raise InputError(what, "clear it, or raise Parts", LABELS[f"density_{part.lower()}"])
    return densities


@once
def products_by_name(rows: Rows, system: units.System) -> Mapping[str, Product | PourbookError]:
    """Return every product of the table by its name in small letters; a bad one as its refusal."""
    return by_name(rows, COLUMNS, "product", lambda row: read_product(row, system), _twice)


def _twice(name: str) -> InputError:
    return TwiceError(
        f"'{name}' is there twice", "give each product its own name", LABELS["product"]
    )


def named(value: Value, known: Mapping[str, Product | PourbookError], label: str) -> Product:
    """Return the product that a row of another table names.

    Args:
        value: The cell.
        known: What :func:`products_by_name` gave.
        label: What the cell is called.

    Raises:
        InputError: It is blank, not on the Products sheet, or cannot be mixed yet.
    """
    name = text(value)
    if not name:
        raise BlankError("it is blank", "choose a product", label)
    found = known.get(name.casefold())
    if found is None:
        mend = "choose one from the list, or add it"
        raise UnknownError(f"'{name}' is not on the Products sheet", mend, label)
    if isinstance(found, PourbookError):
        raise InputError(
            f"'{name}' cannot be mixed yet", "fix its row on the Products sheet", label
        )
    return found


def in_words(product: Product) -> str:
    """Return the ratio in words, such as ``2 A : 1 B by volume, A first``.

    Example:
        >>> in_words(Product("x", "volume", (2.0, 1.0), (1100.0, 1000.0), 1.0, "B"))
        '2 A : 1 B by volume, B first'
    """
    if len(product.ratio) == 1:
        return "one part"
    ratio = " : ".join(f"{r:g} {p}" for r, p in zip(product.ratio, PARTS, strict=False))
    return f"{ratio} by {product.basis}, {product.first} first"


def steps(product: Product, system: units.System) -> list[Told]:
    """Return the working of a product's mix density for ``explain``."""
    shares = mixing.split(1.0, product.ratio, product.densities, product.basis)
    found = []
    for part, share, density in zip(PARTS, shares, product.densities, strict=False):
        dense = units.express(density, system.density)
        found.append(Told(f"Density {part}", "from the data sheet", dense, system.density))
        words = in_words(product)
        found.append(Told(f"Share of {part} by volume", words, share.volume * 100, "%"))
    mixed = units.express(product.density, system.density)
    return [*found, Told("Mix density", "sum of share x density", mixed, system.density)]
