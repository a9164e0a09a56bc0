"""Reads the short texts an estimator types into one cell: cutouts, corners, spreads and doses.

Contract: text in, SI values out through :mod:`pourbook.units`; a text that could mean two things is
refused with what to type instead.
"""

from __future__ import annotations

import re
from typing import Literal

from pourbook import units
from pourbook.cells import Value, is_blank, number, text
from pourbook.errors import BlankError, InputError, MisreadError, PourbookError, RangeError
from pourbook.records import dataclass
from pourbook.tables.declared import declared
from pourbook.trade import film, measuring

_FIGURE = r"(\d{1,9}(?:\.\d{1,9})?|\.\d{1,9})"
_BY = re.compile(r"\s*(?:[x×]|\bby\b)\s*", re.IGNORECASE)
_CUTOUT = re.compile(r"^(?:(\d{1,9})\s+of\s+)?(?:(round|oval|area)\s+)?(.+)$", re.IGNORECASE)
_NOTCH = re.compile(
    r"^(square|v|u)[\s-]*notch\s+(.+?)(?:\s+at\s+" + _FIGURE + r"\s*%)?$", re.IGNORECASE
)
_SHARE = re.compile(
    r"^" + _FIGURE + r"\s*%\s*(?:of\s+|by\s+)?(vol(?:ume)?|mass|weight|wt)\.?$", re.IGNORECASE
)
_BATCH = re.compile(r"^(.+?)\s*(?:/|per|a|each)\s*batch$", re.IGNORECASE)

MOST_CUTOUTS = 99
_CUT_AS = {"": ("rectangle", 2), "round": ("circle", 1), "oval": ("ellipse", 2)}
"""What a cutout is by its word: a shape of a piece, and of how many sizes."""
Basis = Literal["share", "per batch", "per area"]


@dataclass(frozen=True)
class Hole:
    """One cutout: its shape and sizes in m, both empty where only its area in m² is given."""

    shape: str
    sizes: tuple[float, ...]
    area: float


@dataclass(frozen=True)
class Spread:
    """How thick a layer goes on.

    ``kind`` is ``volume`` (m of mix), ``mass`` (kg/m² of mix), ``film`` (m, wet or dry as the layer
    says) or ``notch`` (m of wet film).
    """

    kind: Literal["volume", "mass", "film", "notch"]
    amount: float
    typed: str


@dataclass(frozen=True)
class Dose:
    """What is added to a mix: a share of it, an amount each batch, or an amount per area (SI)."""

    basis: Basis
    amount: float
    typed: str


def ratio(value: Value, parts: int, label: str = "Ratio") -> tuple[float, ...]:
    """Read a mixing ratio such as ``2:1``, the parts in order of their letters.

    A number is refused: a cell takes a typed 4:1 for a time of day and hands over 0.1674.

    Args:
        value: The cell; blank for a product of one part.
        parts: How many parts there are, 1 to 3.
        label: Where it stands, for a refusal.

    Raises:
        InputError: It is blank, no text with colons, or has not as many parts, each above 0.

    Example:
        >>> ratio("100 : 46", 2), ratio(None, 1)
        ((100.0, 46.0), (1.0,))
    """
    if parts == 1:
        if is_blank(value):
            return (1.0,)
        raise InputError("one part has no ratio", "clear it, or raise Parts", label)
    example = ":".join(("2", "1", "0.5")[:parts])
    mend = f"type the parts with colons between them, such as {example}"
    if is_blank(value):
        raise BlankError("it is blank", mend, label)
    if not isinstance(value, str):
        shown = f"{value:.6g}" if isinstance(value, float) else text(value)
        what = f"'{shown}' is a number, a time or a date, no ratio"
        raise InputError(what, f"{mend}; if the cell makes a time of it, type a ' first", label)
    listed = value.split(":")
    if len(listed) != parts:
        if len(listed) == 1:
            raise InputError(f"'{text(value)}' has no colon", mend, label)
        what = f"'{text(value)}' names {len(listed)} parts, the product has {parts}"
        raise InputError(what, mend, label)
    try:
        found = tuple(number(part, label) for part in listed)
    except InputError:
        raise MisreadError(f"'{text(value)}' is no ratio", mend, label) from None
    if min(found) <= 0:
        raise InputError(f"'{text(value)}' has a part that is 0 or less", mend, label)
    return found


def labelled(value: Value, kind: str, label: str, unit: str, fluids: str) -> float:
    """Read a measure; a refusal names the column it stands in.

    Raises:
        InputError: The measure cannot be read, with ``label`` as its place.
    """
    try:
        return units.read(value, kind, default=unit, fluids=fluids)
    except PourbookError as error:
        raise error.at(label) from None


def one_of(value: Value, kinds: str, unit: str, fluids: str) -> tuple[float, str]:
    """Read a measure that may be of several kinds; return it in SI, and its kind.

    Args:
        value: The cell.
        kinds: The kinds, a blank between them; a bare number is of the first.
        unit: The unit of a bare number.
        fluids: As for :func:`pourbook.units.read`.

    Raises:
        InputError: It can be read as none of them; what the first says is told.

    Example:
        >>> one_of("1 L", "mass volume", "g", ""), one_of(500.0, "mass volume", "g", "")
        ((0.001, 'volume'), (0.5, 'mass'))
    """
    refused: list[PourbookError] = []
    for kind in kinds.split():
        try:
            return units.read(value, kind, default=unit, fluids=fluids), kind
        except PourbookError as error:
            refused.append(error.let_go())
    raise refused[0].again()


def cutouts(value: Value, system: units.System) -> list[float]:
    """Return the area of every cutout, m², as :func:`holes` reads them.

    Example:
        >>> from pourbook.units import SYSTEMS
        >>> [round(a, 4) for a in cutouts("33 x 22; 2 of round 1.5", SYSTEMS["us"])]
        [0.4684, 0.0011, 0.0011]
    """
    return [hole.area for hole in holes(value, system)]


def holes(value: Value, system: units.System) -> list[Hole]:
    """Return every cutout.

    Cutouts are separated by ``;``. Each is ``length x width``, ``round diameter``, ``oval length x
    width`` or ``area so much``, and may begin with ``2 of``.

    Example:
        >>> from pourbook.units import SYSTEMS
        >>> [hole.shape for hole in holes("330 x 220; 2 of round 40", SYSTEMS["metric"])]
        ['rectangle', 'circle', 'circle']
    """
    found: list[Hole] = []
    for part in text(value).split(";"):
        if part.strip():
            found += _cutout(part.strip(), system)
    return found


def _cutout(part: str, system: units.System) -> list[Hole]:
    label = declared("rooms").labels["cutouts"]
    match = _CUTOUT.match(part)
    assert match is not None  # the last group takes any text
    count = int(match[1] or 1)
    if not 1 <= count <= MOST_CUTOUTS:
        mend = f"type 1 to {MOST_CUTOUTS}, such as '2 of round 19'"
        raise InputError(f"{count} cutouts of one kind", mend, label)
    shape = (match[2] or "").lower()
    if shape == "area":
        area = labelled(match[3], "area", label, system.area, system.fluids)
        return [Hole("", (), area)] * count
    sizes = [
        labelled(size, "length", label, system.length, system.fluids)
        for size in _BY.split(match[3])
    ]
    named, many = _CUT_AS[shape]
    if len(sizes) == many:
        try:
            return [Hole(named, tuple(sizes), measuring.SHAPES[named].area(*sizes))] * count
        except PourbookError as error:
            raise error.at(label) from None
    mend = "type '33 x 22', 'round 19', 'oval 19 x 16' or 'area 2.5 " + system.area + "'"
    several = "size" if len(sizes) == 1 else "sizes"
    raise InputError(f"'{part}' has {len(sizes)} {several}", mend, label)


def corners(value: Value, system: units.System) -> list[tuple[float, float]]:
    """Return the corners of a polygon, m: ``x, y`` of every corner, separated by ``;``.

    Example:
        >>> from pourbook.units import SYSTEMS
        >>> corners("0, 0; 2 m, 0; 0, 1 m", SYSTEMS["metric"])
        [(0.0, 0.0), (2.0, 0.0), (0.0, 1.0)]
    """
    points: list[tuple[float, float]] = []
    label = declared("rooms").labels["a"]
    for part in text(value).strip("; ").split(";"):
        pair = part.split(",")
        if len(pair) != 2:
            mend = "type the corners as 'x, y; x, y; x, y'"
            several = "number" if len(pair) == 1 else "numbers"
            what = f"the corner '{part.strip()}' has {len(pair)} {several}"
            raise InputError(what, mend, label)
        x, y = (
            labelled(number.strip(), "length", label, system.length, system.fluids)
            for number in pair
        )
        points.append((x, y))
    return points


def spread(value: Value, system: units.System) -> Spread:
    """Read how thick a layer goes on; the unit says which way it is meant.

    Example:
        >>> from pourbook.units import SYSTEMS
        >>> round(spread("3 fl oz/ft²", SYSTEMS["us"]).amount * 1000, 3)
        0.955
        >>> spread("120 g/m²", SYSTEMS["metric"]).kind
        'mass'
    """
    label = declared("layers").labels["spread"]
    typed = text(value)
    if not typed:
        raise BlankError("it is blank", f"type it, such as 3 {system.volume_per_area}", label)
    notch = _NOTCH.match(typed)
    try:
        if notch:
            return _notch(notch, typed, system)
        kind = _spread_kind(typed, system)
        amount = units.read(value, kind, default=system.volume_per_area, fluids=system.fluids)
    except PourbookError as error:
        raise error.at(label) from None
    if amount <= 0:
        raise RangeError("it is 0", "type how much goes on", label)
    if kind == "area_per_volume":
        return Spread("volume", 1 / amount, typed)
    if kind == "volume_per_area":
        return Spread("volume", amount, typed)
    return Spread("mass" if kind == "mass_per_area" else "film", amount, typed)


def _spread_kind(typed: str, system: units.System) -> str:
    if not any(c.isalpha() or c in "'\"′″" for c in typed):
        return "volume_per_area"
    kind = units.kind_of(typed, fluids=system.fluids)
    allowed = ("volume_per_area", "area_per_volume", "mass_per_area", "film")
    if kind == "length":
        return "film"
    if kind not in allowed:
        raise InputError(
            f"'{typed}' says no coverage",
            f"type {system.volume_per_area}, {system.area_per_volume}, {system.mass_per_area}, "
            f"{system.film}, or 'square notch 1/8 x 1/8'",
        )
    return kind


def _notch(match: re.Match[str], typed: str, system: units.System) -> Spread:
    sizes = [
        units.read(size, "length", default=system.length, fluids=system.fluids)
        for size in _BY.split(match[2])
    ]
    if len(sizes) not in {2, 3}:
        mend = "type width x depth, or width x depth x gap (pitch for V and U)"
        raise InputError(f"'{typed}' has {len(sizes)} sizes", mend)
    transfer = float(match[3]) / 100 if match[3] else 1.0
    shape = match[1].lower()
    width, depth = sizes[0], sizes[1]
    third = sizes[2] if len(sizes) == 3 else (width if shape == "square" else 2 * width)
    return Spread("notch", notch_film(shape, width, depth, third, transfer), typed)


def notch_film(shape: str, width: float, depth: float, third: float, transfer: float) -> float:
    """Return the wet film of a notched trowel, m, by the shape of its notch.

    ``third`` is the gap between square notches, or the pitch of V and U notches.
    """
    if shape == "square":
        return film.notch_film_square(width, depth, third, transfer=transfer)
    if shape == "v":
        return film.notch_film_v(width, depth, third, transfer=transfer)
    return film.notch_film_u(width, depth, third, transfer=transfer)


def dose(value: Value, what: Literal["mass", "volume"], label: str, system: units.System) -> Dose:
    """Read a dose: ``2 % mass``, ``5 % vol``, ``30 g per batch``, ``0.2 lb/ft²``.

    Args:
        value: The cell; blank is no dose.
        what: Whether this addition is weighed or measured by volume.
        label: The column, for the refusal.
        system: The job's units.

    Raises:
        InputError: It cannot be read, or it is given the other way round.

    Example:
        >>> from pourbook.units import SYSTEMS
        >>> dose("2 % mass", "mass", "Pigment", SYSTEMS["us"]).amount
        0.02
    """
    if is_blank(value):
        return Dose("share", 0.0, "")
    typed = text(value)
    share = _SHARE.match(typed)
    if share:
        by_volume = share[2].lower().startswith("vol")
        if by_volume != (what == "volume"):
            raise InputError(
                f"'{typed}' is by {'volume' if by_volume else 'mass'}", _say(what), label
            )
        return Dose("share", float(share[1]) / 100, typed)
    batch = _BATCH.match(typed)
    unit = system.small_mass if what == "mass" else system.small_volume
    try:
        if batch:
            amount = units.read(batch[1], what, default=unit, fluids=system.fluids)
            return Dose("per batch", amount, typed)
        if not any(c.isalpha() for c in typed):
            raise InputError(f"'{typed}' has no unit", _say(what))
        kind = units.kind_of(typed, fluids=system.fluids)
        if kind == f"{what}_per_area":
            return Dose("per area", units.read(typed, kind, fluids=system.fluids), typed)
        raise MisreadError(f"'{typed}' is no dose", _say(what))
    except PourbookError as error:
        raise error.at(label) from None


def _say(what: str) -> str:
    if what == "mass":
        return "it is weighed: type '2 % mass', '30 g per batch' or '200 g/m²'"
    return "it is measured: type '5 % vol' or '30 mL per batch'"
