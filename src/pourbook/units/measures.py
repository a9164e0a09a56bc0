r"""The unit boundary: what an estimator types becomes an SI number here, and nowhere else.

Contract: past this module every quantity is a plain float in the SI unit :data:`KINDS` names for
its kind, and every unit shown in a workbook is one this module can read again. Text with two
meanings is refused, never guessed: a bare ``oz``, a ``gal`` whose size nobody has settled, a
``1,234``. US and imperial measures never mix unless one of them is named outright. The sizes of the
units come from ``shared/units.txt`` through the project's one pint registry, which is built on
first use; the factors are exact fractions, so a reading is the float nearest to what was typed.
"""

from __future__ import annotations

import math
import numbers
import re
from contextlib import suppress
from decimal import Decimal
from fractions import Fraction
from functools import lru_cache
from typing import TYPE_CHECKING, Any

from pourbook.compiled import kept
from pourbook.errors import InputError
from pourbook.records import dataclass
from pourbook.resources import folder
from pourbook.units import lengths
from pourbook.units.systems import KINDS, PLAIN_NUMBERS, SYSTEMS

if TYPE_CHECKING:
    from pint import UnitRegistry


_ACCEPTS = {
    "film": ("length",),
    "temperature_difference": ("temperature", "temperature_difference"),
}
ALSO = (
    *("kg", "g", "L", "mL", "m", "mm", "cm", "µm", "m²", "ft", "in", "mil", "lb", "oz wt", "gal"),
    *("fl oz", "qt", "US qt", "pt", "cup", "psi", "MPa", "in-lb", "J", "kg/L", "g/mL", "g/L"),
    *("g/m²", "min", "h", "s", "days", "day", "%", "°F", "°C", "K", "Δ°F", "Δ°C", "ΔK", "m³"),
    *("sq ft", "ft2", "m2", "gallon", "lb/gal", "ft²/gal", "mL/m²", "L/m²", "m²/L", "inches"),
)
"""Units that usual figures and typed entries have, besides those the sheets show."""
_MAY_BE_NEGATIVE = ("temperature", "temperature_difference", "number")


@dataclass(frozen=True)
class _Unit:
    """A unit ready for use: SI number = (``scale`` x number + ``offset``) / ``over``, exactly."""

    text: str
    kind: str
    scale: int
    offset: int
    over: int


@lru_cache(maxsize=1)
def registry() -> UnitRegistry[Any]:
    """Return the project's one pint registry, built from ``shared/units.txt`` on first use.

    It holds exact fractions, and no unit whose name has two meanings.

    Example:
        >>> registry().Quantity(Fraction(1), "us_gallon").to("inch ** 3").magnitude
        Fraction(231, 1)
        >>> "oz" in registry()
        False
    """
    from pint import UnitRegistry  # noqa: PLC0415 - half a second, wanted only once a unit is met

    return UnitRegistry(str(folder("shared") / "units.txt"), non_int_type=Fraction)


_HOURS = re.compile(r"(\d{1,3}):([0-5]\d)")  # hours and minutes, as a clock shows them


def read(value: object, kind: str, *, default: str | None = None, fluids: str = "") -> float:
    r"""Return the SI value of what an estimator typed.

    Args:
        value: Text such as ``12' 6 1/2"`` or ``3 fl oz per sq ft``, or a number.
        kind: A name in :data:`KINDS`.
        default: The unit of a bare number. Shares and plain numbers need none.
        fluids: Whose measure a bare ``gal``, ``fl oz``, ``qt``, ``pt`` or ``cup`` is: ``"us"``,
            ``"imperial"``, or ``""`` to refuse it.

    Returns:
        A finite float in ``KINDS[kind].si``, exact to the last bit. It is zero or more, except for
        temperatures (above absolute zero), temperature differences and plain numbers.

    Raises:
        InputError: The text has two meanings, the wrong kind, an unknown unit, two values, none, or
            is below zero.

    Sources:
        The sizes of the units and their sources are in ``shared/units.txt``.

    Example:
        >>> read("12' 6 1/2\"", "length"), read("98 1/2", "length", default="in")
        (3.8227, 2.5019)
        >>> read("2:30", "time", default="h")
        9000.0
        >>> read("1 gal", "volume", fluids="us"), read("1 gal", "volume", fluids="imperial")
        (0.003785411784, 0.00454609)
        >>> read("40 oz", "volume", fluids="us")
        Traceback (most recent call last):
        pourbook.errors.InputError: 'oz' may be fluid or weight: type 'US fl oz', ...
    """
    if isinstance(value, str):
        return _read_text(value, kind, default, fluids)
    if isinstance(value, bool) or not isinstance(value, numbers.Real):
        what = "nothing is typed" if value is None else f"'{str(value)[:40]}' is not a number"
        raise InputError(what, f"type {_like(kind)}")
    top, bottom = _exact(value)
    typed = f"{_divided(top, bottom, 'the number'):.12g}"
    return _settle(top, bottom, _bare_unit(typed, kind, default, fluids), kind, typed)


def kind_of(text: str, *, fluids: str = "") -> str:
    r"""Return the kind of a unit, or of a number with its unit.

    Args:
        text: Text such as ``3 fl oz/ft²``, ``mil`` or ``12' 6"``.
        fluids: As for :func:`read`.

    Returns:
        A name in :data:`KINDS`. Any thickness is a ``"length"``, never a ``"film"``.

    Raises:
        InputError: There is no unit, or :func:`read` would refuse it.

    Example:
        >>> kind_of("40 sq ft/gal", fluids="us"), kind_of("120 g/m²"), kind_of("38 mil")
        ('area_per_volume', 'mass_per_area', 'length')
    """
    found = lengths.quantity(text)
    return _unit(found[1] if found else text, fluids).kind


def canonical_unit(text: str, *, fluids: str = "") -> str:
    """Return the one spelling Pourbook uses for a unit.

    Args:
        text: A unit without a number.
        fluids: As for :func:`read`.

    Raises:
        InputError: The unit is unknown or has two meanings.

    Example:
        >>> canonical_unit("fluid ounces per square foot", fluids="us")
        'US fl oz/ft²'
    """
    return _unit(text, fluids).text


def to_si(number: float, unit: str) -> float:
    """Return a number of some unit as SI; ``°F`` and ``°C`` are temperatures, ``Δ°F`` a difference.

    Args:
        number: Any finite number; its sign is not checked.
        unit: A unit that needs no ``fluids``.

    Raises:
        InputError: The unit is unknown or has two meanings, or the number is not finite.

    Example:
        >>> to_si(1, "US fl oz"), to_si(32, "°F"), to_si(9, "Δ°F")
        (2.95735295625e-05, 273.15, 5.0)
    """
    found = _unit(unit, "")
    top, bottom = _exact(number)
    return _divided(top * found.scale + found.offset * bottom, bottom * found.over, number, unit)


def express(si: float, unit: str) -> float:
    """Return an SI value as a number of some unit: the way back from :func:`to_si`.

    Args:
        si: Any finite SI value of the unit's kind; its sign is not checked.
        unit: A unit that needs no ``fluids``.

    Raises:
        InputError: The unit is unknown or has two meanings, or the value is not finite.

    Example:
        >>> express(0.003785411784, "US gal"), express(273.15, "°F"), express(5, "Δ°F")
        (1.0, 32.0, 9.0)
    """
    found = _unit(unit, "")
    top, bottom = _exact(si)
    inside = top * found.over - found.offset * bottom
    return _divided(inside, bottom * found.scale, si, "as", unit)


def convert(value: float, from_unit: str, to_unit: str, fluids: str = "") -> float:
    """Return a number of one unit as a number of another of the same kind.

    Args:
        value: Any finite number.
        from_unit: The unit it is in.
        to_unit: The unit wanted.
        fluids: As for :func:`read`.

    Raises:
        InputError: The units differ in kind, either is unknown or has two meanings, or the value is
            not finite.

    Example:
        >>> round(convert(1, "m²/L", "ft²/gal", "us"), 4)
        40.7458
    """
    old, new = (_unit(unit, fluids) for unit in (from_unit, to_unit))
    if old.kind != new.kind:
        old_words, new_words = KINDS[old.kind].words, KINDS[new.kind].words
        what = f"'{from_unit}' is {old_words} and '{to_unit}' is {new_words}"
        raise InputError(what, "convert between two units of one kind")
    top, bottom = _exact(value)
    inside = (top * old.scale + old.offset * bottom) * new.over - new.offset * bottom * old.over
    return _divided(inside, bottom * old.over * new.scale, value, from_unit)


def feet_inches(si: float, denominator: int = 16) -> str:
    r"""Return a length as feet and inches, to the nearest fraction of an inch.

    Args:
        si: A finite length in metres; below zero it gets a minus sign.
        denominator: Parts of an inch to round to: a power of two from 1 to 64.

    Raises:
        InputError: The length is not finite.

    Example:
        >>> print(feet_inches(3.8227))
        12' 6 1/2"
    """
    inch = _unit("in", "")
    top, bottom = _exact(si)
    parts = round(Fraction(top * inch.over * denominator, bottom * inch.scale))
    return lengths.feet_inches_text(Fraction(parts, denominator))


def show(si: float, unit: str, places: int) -> str:
    """Return an SI value as text in some unit, which :func:`read` reads back.

    Args:
        si: Any finite SI value of the unit's kind.
        unit: A unit that needs no ``fluids``.
        places: Decimal places, from 0.

    Raises:
        InputError: As for :func:`express`.

    Example:
        >>> show(0.0113562, "US gal", 2)
        '3.00 US gal'
    """
    return f"{express(si, unit):z.{places}f} {unit}"


@lru_cache(maxsize=4096)
def _read_text(text: str, kind: str, default: str | None, fluids: str) -> float:
    """Return the SI value of text; the readings of good text are kept."""
    clock = _HOURS.fullmatch(text.strip()) if (kind, default) == ("time", "h") else None
    if clock is not None:
        return 60.0 * (60 * int(clock[1]) + int(clock[2]))
    found = lengths.quantity(text)
    if found is None:
        begins = f"'{text}' does not begin with a number"
        raise InputError(
            begins if lengths.tidy(text) else "nothing is typed", f"type {_like(kind)}"
        )
    number, rest = found
    unit = _unit(rest, fluids) if rest else _bare_unit(text, kind, default, fluids)
    return _settle(number.numerator, number.denominator, unit, kind, text)


def _bare_unit(typed: str, kind: str, default: str | None, fluids: str) -> _Unit:
    """Return the unit a number without a unit is in."""
    if default is not None:
        return _unit(default, fluids)
    if kind in PLAIN_NUMBERS:
        return _Unit("", kind, 1, 0, 1)
    raise InputError(f"'{typed}' has no unit", f"type {_like(kind)}")


def _settle(top: int, bottom: int, unit: _Unit, kind: str, typed: str) -> float:
    """Return the SI float of an exact number of a unit, once it is known to suit the kind."""
    if unit.kind != kind and unit.kind not in _ACCEPTS.get(kind, ()):
        what = f"'{typed}' is {KINDS[unit.kind].words} where {KINDS[kind].words} belongs"
        raise InputError(what, f"type {_like(kind)}")
    if top < 0 and kind not in _MAY_BE_NEGATIVE:
        raise InputError(f"'{typed}' is below zero", f"type {KINDS[kind].words} of 0 or more")
    offset = 0 if kind == "temperature_difference" else unit.offset
    inside = top * unit.scale + offset * bottom
    if kind == "temperature" and inside < 0:
        raise InputError(f"'{typed}' is colder than anything can be", f"type {_like(kind)}")
    return _divided(inside, bottom * unit.over, typed)


@lru_cache(maxsize=1024)
def _unit(text: str, fluids: str) -> _Unit:
    """Return the unit a text names, with its size from the registry."""
    term = lengths.unit_term(lengths.tidy(text), fluids)
    return _Unit(term.text, term.kind, *(_usual().get(term.pint) or _sized(term.pint)))


@lru_cache(maxsize=1)
def _usual() -> dict[str, tuple[int, int, int]]:
    """Return the sizes of usual units by their names, without a registry where they were kept."""
    texts = {text for system in SYSTEMS.values() for text in vars(system).values()}
    texts |= {f"{s.small_volume}/{s.run}" for s in SYSTEMS.values()} | set(ALSO)

    def sized() -> dict[str, tuple[int, int, int]]:
        found = {}
        for fluids in {system.fluids for system in SYSTEMS.values()}:
            for text in texts:
                with suppress(InputError):  # a name of a system, or of two sizes
                    name = lengths.unit_term(lengths.tidy(text), fluids).pint
                    found[name] = _sized(name)
        return found

    return kept("units", sized)


def _sized(name: str) -> tuple[int, int, int]:
    """Return scale, offset and what they are over, of a unit as the registry names it."""
    quantity = registry().Quantity
    zero, one = (Fraction(quantity(Fraction(n), name).to_base_units().magnitude) for n in (0, 1))
    scale, over = one - zero, math.lcm((one - zero).denominator, zero.denominator)
    return int(scale * over), int(zero * over), over


def _exact(number: numbers.Real | float) -> tuple[int, int]:
    """Return a number as the exact decimal it prints as, over what; refuse it if not finite."""
    if type(number) is not float:
        if isinstance(number, numbers.Rational):
            return int(number.numerator), int(number.denominator)
        number = float(number)
    if not math.isfinite(number):
        raise InputError(f"'{number}' is not a number to work with", "type a number")
    return _decimal(number)


@lru_cache(maxsize=4096)
def _decimal(number: float) -> tuple[int, int]:
    return Decimal(float.__repr__(number)).as_integer_ratio()


def _divided(top: int, bottom: int, *typed: object) -> float:
    """Return the float nearest to a quotient of whole numbers, or refuse one too large."""
    try:
        return top / bottom
    except OverflowError:
        what = " ".join(map(str, typed))
        raise InputError(f"'{what}' is too large", "type a smaller number") from None


def _like(kind: str) -> str:
    """Return words that say what to type for a kind."""
    return f"{KINDS[kind].words}, such as '{KINDS[kind].example}'"
