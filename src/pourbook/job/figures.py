"""Reads the cells of an export: numbers with either decimal sign, units, days and times.

Contract: text in, the value a cell of the job stores out, or an
:class:`~pourbook.errors.InputError` without a place. What could mean two things is refused with the
option that settles it: ``1,234`` with ``--decimal``, ``01/02/2027`` with ``--dates``.
"""

from __future__ import annotations

import datetime as dt
import re
from typing import Literal

from pourbook import units
from pourbook.dates import DAY, day_number
from pourbook.errors import InputError, MisreadError, PourbookError
from pourbook.records import dataclass
from pourbook.units import System

Decimal = Literal["", ",", "."]
Dates = Literal["", "dmy", "mdy"]

KINDS = {
    "small_mass": "mass",
    "mass": "mass",
    "temperature": "temperature",
    "film": "film",
    "area": "area",
    "volume": "volume",
}
"""What a column whose unit is a role of the job's system measures."""

_SPLIT = re.compile(r"^([+-]?(?:\d[\d.,]*|[.,]\d+))\s*(.*)$")
_PLAIN = re.compile(r"^[+-]?(\d{1,15}(\.\d{0,12})?|\.\d{1,12})$")
_GROUPS = re.compile(r"^[+-]?[1-9]\d{0,2}(?P<mark>[.,])\d{3}$")
_ISO = re.compile(r"^(\d{4})-(\d{1,2})-(\d{1,2})(?:[T ]\s*(.+))?$")
_OTHER = re.compile(r"^(\d{1,2})[./-](\d{1,2})[./-](\d{4})\.?(?:,?\s+(.+))?$")
_TIME = re.compile(r"^(\d{1,2})[:.](\d{2})(?::(\d{2})(?:\.0+)?)?\s*([AaPp][Mm])?$")


@dataclass(frozen=True)
class Way:
    """How the figures of a file are written: its decimal sign, the order of its dates.

    ``commas`` and ``points`` are whether some number of the file has a comma, or a point, that can
    only be a decimal sign. Where only one of them is, a comma that could be either is read by it.
    """

    decimal: Decimal = ""
    dates: Dates = ""
    commas: bool = False
    points: bool = False


def has_decimal(sign: str, text: str) -> bool:
    """Return whether a text is a number, with or without a unit, in which a mark ends the whole.

    Example:
        >>> [has_decimal(",", t) for t in ("1,5 kg", "1,234", "1,234.5", "0,125", "a, 1,5")]
        [True, False, False, True, False]
        >>> [has_decimal(".", t) for t in ("1.5 kg", "1.234", "1,234.5", "0.125", "1.234,5")]
        [True, False, True, True, False]
    """
    other = "." if sign == "," else ","
    match = _SPLIT.match(text)
    if match is None or match[1].count(sign) != 1 or _GROUPS.match(match[1]):
        return False
    return other not in match[1] or match[1].rindex(other) < match[1].index(sign)


def has_unclear_comma(text: str) -> bool:
    """Return whether a text is a number whose one comma may mark decimals or thousands.

    Example:
        >>> [has_unclear_comma(t) for t in ("1,086 kg", "0,939", "1.086")]
        [True, False, False]
    """
    match = _SPLIT.match(text)
    return match is not None and "," in match[1] and bool(_GROUPS.match(match[1]))


def number(text: str, way: Way) -> str:
    """Return a number with a decimal point and nothing between its thousands.

    Raises:
        InputError: It is no number, or its comma or point could mean two things.

    Example:
        >>> number("1.234,5", Way()), number("1,234", Way(decimal=".")), number("0,125", Way())
        ('1234.5', '1234', '0.125')
        >>> number("1,234", Way(commas=True)), number("1,234", Way(points=True))
        ('1.234', '1234')
    """
    twice = _GROUPS.match(text)
    comma = twice is not None and twice["mark"] == ","
    if comma and not way.decimal and way.commas != way.points:
        return text.replace(",", "." if way.commas else "")
    if twice and not way.decimal and (comma or way.commas):
        one = text.replace(twice["mark"], "")
        mend = "say which with --decimal , or --decimal ."
        raise InputError(f"'{text}' may be {one} or {text.replace(',', '.')}", mend)
    last = max(",.", key=text.rfind) if set(",.") & set(text) else "."
    sign = way.decimal or (last if text.count(last) == 1 else "." if last == "," else ",")
    other = "." if sign == "," else ","
    whole, _, rest = text.partition(sign)
    if other in whole and re.fullmatch(r"[+-]?\d{1,3}(" + re.escape(other) + r"\d{3})+", whole):
        whole = whole.replace(other, "")
    found = f"{whole}.{rest}" if sign in text else whole
    if other in whole or not _PLAIN.match(found):
        raise MisreadError(f"'{text}' is no number", "type a number such as 12.5")
    return found


def figure(text: str, role: str, unit: str, system: System, way: Way) -> float:
    """Return the number a cell of the job stores, in the job's unit.

    Args:
        text: The cell, such as ``1,2 kg``, ``45 %`` or ``1086``.
        role: The unit of the job's column as the template has it, such as ``@volume`` or ``%``.
        unit: The unit in the heading, used where the cell has none; may be empty.
        system: The job's units.
        way: How the file writes numbers.

    Raises:
        InputError: It is no number, or its unit is not one of this column.

    Example:
        >>> metric = units.SYSTEMS["metric"]
        >>> figure("1,2 kg", "@small_mass", "", metric, Way())
        1200.0
        >>> figure("45", "%", "%", metric, Way())
        0.45
    """
    match = _SPLIT.match(text)
    if match is None:
        raise MisreadError(f"'{text}' is no number", "type a number such as 12.5")
    plain, own = number(match[1], way), match[2].strip() or unit
    kind = KINDS.get(role.removeprefix("@"))
    if kind is not None:
        target = str(getattr(system, role.removeprefix("@")))
        if own in {"", target}:
            return float(plain)
        return units.express(_measure(plain, own, kind, system), target)
    if role == "%" and own == "%":
        return float(plain) / 100
    if own not in {"", role}:
        raise MisreadError(f"'{own}' is no unit of this column", "leave the unit out")
    return float(plain)


def _measure(plain: str, unit: str, kind: str, system: System) -> float:
    try:
        return units.read(f"{plain} {unit}", kind, fluids=system.fluids)
    except PourbookError as error:
        raise InputError(error.what, error.mend) from None


def is_unit(text: str, role: str, currency: str, system: System) -> bool:
    """Return whether a text after a heading is a unit of its column.

    Example:
        >>> is_unit("kg", "@small_mass", "USD", units.SYSTEMS["us"])
        True
        >>> is_unit("EUR", "@money", "USD", units.SYSTEMS["us"])
        False
    """
    name = role.removeprefix("@")
    if name in KINDS:
        try:
            _measure("1", text, KINDS[name], system)
        except PourbookError:
            return False
        return True
    return text.casefold() == (currency if name == "money" else role).casefold()


def moment(text: str, way: Way) -> float:
    """Return a day, with or without a time, as a spreadsheet counts it.

    Raises:
        InputError: It is no date, or written in another order than year, month, day without
            ``--dates`` to say which.

    Example:
        >>> moment("2027-01-12 09:30", Way()) == moment("12.01.2027 9:30", Way(dates="dmy"))
        True
    """
    mend = "write it as 2027-01-12 or 2027-01-12 09:30"
    iso, other = _ISO.match(text), _OTHER.match(text)
    if iso:
        year, month, day, clock = iso[1], iso[2], iso[3], iso[4]
    elif other and way.dates:
        first, second, year, clock = other[1], other[2], other[3], other[4]
        day, month = (first, second) if way.dates == "dmy" else (second, first)
    elif other:
        mend = "say --dates dmy for day first, or --dates mdy for month first"
        raise InputError(f"'{text}' does not say which is the month", mend)
    else:
        raise MisreadError(f"'{text}' is no date", mend)
    try:
        found = dt.datetime(int(year), int(month), int(day))
    except ValueError:
        raise MisreadError(f"'{text}' is no date", mend) from None
    return float(day_number(found.date())) + (_clock(clock.strip(), text) if clock else 0.0)


def _clock(clock: str, text: str) -> float:
    """Return a time as a part of the day."""
    match = _TIME.match(clock)
    mend = "write the time as 09:30, as the clock on site showed it"
    if match is None:
        raise MisreadError(f"the time of '{text}' cannot be read", mend)
    hours, minutes, seconds = int(match[1]), int(match[2]), int(match[3] or 0)
    if match[4]:
        if not 1 <= hours <= 12:
            raise MisreadError(f"there is no such time as in '{text}'", mend)
        hours = hours % 12 + (12 if match[4].lower() == "pm" else 0)
    if hours > 23 or minutes > 59 or seconds > 59:
        raise MisreadError(f"there is no such time as in '{text}'", mend)
    return (hours * 3600 + minutes * 60 + seconds) / DAY
