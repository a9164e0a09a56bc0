"""The functions for the estimator's own cells: read, convert, area, film, split, dose and more.

Contract: each takes numbers or texts with a unit and gives one number in the unit asked for. A bare
number where a unit is needed is refused: on a sheet of one's own nothing settles it.
"""

from __future__ import annotations

from typing import Literal, cast

from pourbook import units
from pourbook.cells import Value
from pourbook.errors import BlankError, InputError, MisreadError, RangeError, UnknownError
from pourbook.functions.declare import Argument, Example, Function
from pourbook.tables import reading
from pourbook.trade import film, measuring, mixing

MOST_DOSE = 10.0
"""Largest share :func:`dose` takes: what is above it is a weight or a date, not a share."""
_SHAPES = {name.casefold(): shape for name, shape in measuring.SHAPES.items()}
_ALIKE = {"film": "length", "length": "film"}


def _read(value: Value, kind: str, label: str) -> float:
    try:
        return units.read(value, kind)
    except InputError as error:
        raise error.at(label) from None


def _kind(unit: str, label: str = "unit") -> str:
    """Return what kind a unit is; a refusal names the argument it came in."""
    try:
        return units.kind_of(unit)
    except InputError as error:
        raise error.at(label) from None


def _out(si: float, unit: str, kind: str) -> float:
    found = _kind(unit)
    if kind != found and kind != _ALIKE.get(found):
        raise InputError(
            f"'{unit}' is {units.KINDS[found].words}", f"ask for {units.KINDS[kind].words}", "unit"
        )
    return units.express(si, unit)


def read(measure: Value, unit: str) -> float:
    """Return a measure as a number in a unit of the same kind."""
    kind = _kind(unit)
    return _out(_read(measure, kind, "measure"), unit, kind)


def convert(number: float, from_unit: str, to_unit: str) -> float:
    """Return a number converted from one unit to another of the same kind."""
    _kind(from_unit, "from")
    _kind(to_unit, "to")
    return units.convert(number, from_unit, to_unit)


def area(
    unit: str,
    shape: str,
    a: Value,
    b: Value = None,
    c: Value = None,
    d: Value = None,
) -> float:
    """Return the area of a shape."""
    declared = _SHAPES.get(shape.casefold())
    if declared is None:
        raise UnknownError(f"'{shape}' is no shape", "use " + ", ".join(measuring.SHAPES), "shape")
    sizes = {}
    given = [a, b, c, d]
    if any(size is not None for size in given[len(declared.dimensions) :]):
        what = f"a {shape} has {len(declared.dimensions)} sizes"
        raise InputError(what, "leave out the others, or choose another shape", "shape")
    for (name, words), value in zip(declared.dimensions.items(), given, strict=False):
        if value is None and name in declared.optional:
            continue
        if value is None:
            raise BlankError("it is blank", f"the shape {shape} needs it", words)
        sizes[name] = _read(value, "length", words)
    return _out(declared.area(**sizes), unit, "area")


def film_of(coverage: str, unit: str, density: Value = None) -> float:
    """Return the wet film a coverage leaves."""
    kind = _kind(coverage, "coverage")
    if kind == "area_per_volume":
        return _out(1 / _above_0(_read(coverage, kind, "coverage"), "coverage"), unit, "film")
    if kind == "volume_per_area":
        return _out(_above_0(_read(coverage, kind, "coverage"), "coverage"), unit, "film")
    if kind == "mass_per_area":
        if density is None:
            raise BlankError("it is blank", "a coverage by weight needs the mix density", "density")
        dense = _read(density, "density", "density")
        return _out(film.film_from_mass(_read(coverage, kind, "coverage"), dense), unit, "film")
    raise MisreadError(
        f"'{coverage}' is no coverage", "type 3 US fl oz/ft² or 120 g/m²", "coverage"
    )


def _above_0(value: float, label: str) -> float:
    if value <= 0:
        raise RangeError("it is 0", "type a number above 0", label)
    return value


def spread_of(dry_film: Value, unit: str, solids: Value = None, loss: Value = None) -> float:
    """Return the spreading rate that leaves a dry film."""
    share = 1.0 if solids is None else _read(solids, "fraction", "solids")
    lost = 0.0 if loss is None else _read(loss, "fraction", "loss")
    rate = film.theoretical_spread(share, _read(dry_film, "film", "dry film"))
    return _out(film.practical_spread(rate, lost), unit, "area_per_volume")


def need(net: Value, unit: str, loss: Value) -> float:
    """Return what has to be mixed so that the net volume stays on the surface."""
    kind = _kind(unit)
    if kind not in {"volume", "mass"}:
        raise MisreadError(f"'{unit}' is no amount", "ask for a volume or a weight", "unit")
    lost = _read(loss, "fraction", "loss")
    return _out(film.mixed_volume(_read(net, kind, "net"), loss=lost).mixed, unit, kind)


def split(
    volume: Value,
    unit: str,
    ratio: str,
    part: float,
    basis: str | None = None,
    densities: str | None = None,
) -> float:
    """Return one part of a mixed volume, by volume or by weight as the unit asks."""
    numbers = _numbers(ratio, "ratio")
    by = basis or "volume"
    if by not in {"volume", "mass"}:
        raise InputError(f"'{by}'", "say volume or mass", "basis")
    kind = _kind(unit)
    dense = [1.0] * len(numbers)
    if densities:
        dense = [x * 1000 for x in _numbers(densities, "densities")]
        if len(dense) != len(numbers):
            what = f"{len(dense)} stand for {len(numbers)} parts"
            raise InputError(what, "give one a part, such as 1.1:1.0", "densities")
    elif by == "mass" or kind == "mass":
        raise InputError("they are blank", "give them in kg/L, such as '1.1:1.0'", "densities")
    mixed = _read(volume, "volume", "volume")
    shares = mixing.split(mixed, numbers, dense, cast(Literal["volume", "mass"], by))
    if part not in range(1, len(shares) + 1):
        raise RangeError(f"there is no part {part:g}", f"say 1 to {len(shares)}", "part")
    share = shares[int(part) - 1]
    if kind == "mass":
        return _out(share.mass, unit, kind)
    return _out(share.volume, unit, "volume")


def _numbers(listed: str, label: str) -> list[float]:
    if ":" not in listed:
        # A cell takes 2:1 for a time of day, and hands over a number.
        mend = "type numbers with colons and a ' before them, such as '2:1"
        raise InputError(f"'{listed}' has no colon", mend, label)
    try:
        return [float(x) for x in listed.split(":")]
    except ValueError:
        raise InputError(f"'{listed}'", "type numbers with colons, such as 2:1", label) from None


def dose(amount: Value, unit: str, share: Value) -> float:
    """Return a share of a mixed amount."""
    kind = _kind(unit)
    if kind not in {"volume", "mass"}:
        raise MisreadError(f"'{unit}' is no amount", "ask for a volume or a weight", "unit")
    part = _read(share, "fraction", "share")
    if part > MOST_DOSE:
        raise RangeError("it is above 1000 %", "type a share, such as 2 %", "share")
    return _out(mixing.dose_share(_read(amount, kind, "amount"), part), unit, kind)


def notch(
    shape: str,
    unit: str,
    width: Value,
    depth: Value,
    third: Value = None,
    transfer: Value = None,
) -> float:
    """Return the wet film of a notched trowel."""
    known = {"square": 1.0, "v": 2.0, "u": 2.0}
    word = shape.casefold()
    if word not in known:
        raise UnknownError(f"'{shape}' is no notch", "say square, V or U", "shape")
    wide = _read(width, "length", "width")
    pitch = wide * known[word] if third is None else _read(third, "length", "gap or pitch")
    kept = 1.0 if transfer is None else _read(transfer, "fraction", "transfer")
    deep = _read(depth, "length", "depth")
    return _out(reading.notch_film(word, wide, deep, pitch, kept), unit, "film")


def phr(ahew: float, eew: float) -> float:
    """Return parts of hardener per hundred of resin by weight."""
    return mixing.phr(ahew, eew)


_UNIT = Argument("unit", "text", "the unit of the result")

FUNCTIONS = (
    Function(
        "PB_READ",
        "Reads a measure as typed and gives it as a number in a unit.",
        (Argument("measure", "measure", "a measure with its unit"), _UNIT),
        "a number in the unit asked for",
        "0 and above, temperatures excepted",
        "exact definitions of the units: NIST Handbook 44 appendix C",
        (Example(("12' 6 1/2\"", "in"), 150.5), Example(("2.5 m", "mm"), 2500.0)),
        read,
    ),
    Function(
        "PB_CONVERT",
        "Converts a number from one unit to another of the same kind.",
        (
            Argument("number", "number", "the number"),
            Argument("from", "text", "its unit"),
            Argument("to", "text", "the unit wanted"),
        ),
        "a number in the unit asked for",
        "units of the same kind",
        "exact definitions of the units: NIST Handbook 44 appendix C",
        (Example((1.0, "US gal", "L"), 3.785411784), Example((1.0, "in", "mm"), 25.4)),
        convert,
    ),
    Function(
        "PB_AREA",
        "Area of a shape from its sizes.",
        (
            _UNIT,
            Argument("shape", "text", "rectangle, circle, L-shape and so on, as on Rooms"),
            Argument("a", "measure", "the first size", "length"),
            Argument("b", "measure", "the second size", "length", optional=True),
            Argument("c", "measure", "the third size", "length", optional=True),
            Argument("d", "measure", "the fourth size", "length", optional=True),
        ),
        "a number in the unit asked for",
        "sizes above 0 that make the shape",
        "plane geometry",
        (Example(("ft²", "rectangle", "5 ft", "3 ft"), 15.0),),
        area,
    ),
    Function(
        "PB_FILM",
        "Wet film a coverage leaves.",
        (
            Argument("coverage", "text", "a coverage, such as 3 US fl oz/ft²"),
            _UNIT,
            Argument(
                "density",
                "measure",
                "density of the mix, for a coverage by weight",
                "density",
                optional=True,
            ),
        ),
        "a film thickness in the unit asked for",
        "coverages above 0",
        "film = volume / area",
        (Example(("1 L/m²", "mm"), 1.0), Example(("120 g/m²", "mm", "1.2 kg/L"), 0.1)),
        film_of,
    ),
    Function(
        "PB_SPREAD",
        "Spreading rate that leaves a dry film, with volume solids and loss.",
        (
            Argument("dry film", "measure", "the dry film wanted", "film"),
            _UNIT,
            Argument(
                "solids", "measure", "volume solids, 100 % if left out", "fraction", optional=True
            ),
            Argument("loss", "measure", "share lost, 0 % if left out", "fraction", optional=True),
        ),
        "an area per volume in the unit asked for",
        "film above 0; solids above 0 to 100 %; loss 0 to below 100 %",
        "spreading rate = volume solids / dry film, practical = theoretical x (1 - loss)",
        (Example(("125 µm", "m²/L", 0.65), 5.2),),
        spread_of,
    ),
    Function(
        "PB_NEED",
        "Amount to mix so that the net amount stays on the surface: losses divide.",
        (
            Argument("net", "measure", "the volume or weight that must stay"),
            _UNIT,
            Argument("loss", "measure", "share lost of what is mixed", "fraction"),
        ),
        "a volume or weight in the unit asked for",
        "loss 0 to below 100 %",
        "mixed = net / (1 - loss)",
        (Example(("3 L", "L", "25 %"), 4.0),),
        need,
    ),
    Function(
        "PB_SPLIT",
        "One part of a mixed volume, by volume or by weight.",
        (
            Argument("volume", "measure", "the mixed volume", "volume"),
            _UNIT,
            Argument("ratio", "text", "the ratio, such as 2:1"),
            Argument("part", "number", "1 for A, 2 for B, 3 for C"),
            Argument("basis", "text", "volume (if left out) or mass", optional=True),
            Argument("densities", "text", "in kg/L, such as 1.1:1.0", optional=True),
        ),
        "a volume or weight in the unit asked for",
        "2 or 3 parts; ratios above 0",
        "mass balance; no change of volume on mixing is assumed",
        (
            Example(("3 L", "L", "2:1", 1.0), 2.0),
            Example(("3 L", "g", "2:1", 2.0, "volume", "1.1:1"), 1000.0),
        ),
        split,
    ),
    Function(
        "PB_DOSE",
        "A dose stated as a share of the mix.",
        (
            Argument("amount", "measure", "the mixed volume or weight"),
            _UNIT,
            Argument("share", "measure", "the dose, such as 2 %", "fraction"),
        ),
        "a volume or weight in the unit asked for",
        "0 to 1000 %",
        "arithmetic",
        (Example(("5 kg", "g", "2 %"), 100.0),),
        dose,
    ),
    Function(
        "PB_NOTCH",
        "Wet film of a notched trowel once the ridges level: an upper bound.",
        (
            Argument("shape", "text", "square, V or U"),
            _UNIT,
            Argument("width", "measure", "width of a notch", "length"),
            Argument("depth", "measure", "depth of a notch", "length"),
            Argument(
                "gap or pitch",
                "measure",
                "gap between square notches, pitch of V and U notches",
                "length",
                optional=True,
            ),
            Argument(
                "transfer",
                "measure",
                "share that stays, 100 % if left out",
                "fraction",
                optional=True,
            ),
        ),
        "a film thickness in the unit asked for",
        "sizes above 0; pitch not below the width",
        "film = area of a notch / pitch",
        (Example(("square", "mil", "1/8 in", "1/8 in"), 62.5),),
        notch,
    ),
    Function(
        "PB_PHR",
        "Parts of hardener per hundred of resin by weight, from the equivalent weights.",
        (
            Argument("AHEW", "number", "amine hydrogen equivalent weight, g/eq"),
            Argument("EEW", "number", "epoxide equivalent weight, g/eq"),
        ),
        "parts per hundred of resin by weight",
        "both above 0; a check on a data sheet, never a recipe of one's own",
        "phr = 100 AHEW / EEW",
        (Example((50.0, 200.0), 25.0),),
        phr,
    ),
)
