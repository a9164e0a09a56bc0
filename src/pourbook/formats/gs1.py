"""Reading what a scanner types: the product number, lot and use-by date in a GS1 code.

Contract: a text in, a :class:`Scan` out; nothing is looked up. Read are the form with brackets,
``(01)…(17)…(10)…``, and the raw form, with or without the scanner's ``]C1``, ``]e0``, ``]d2``,
``]Q3`` or ``]J1`` in front, fields of variable length ended by the separator (ASCII 29). A text
that is neither is a plain lot code and comes back unchanged. Identifiers whose length is not in
the table here are refused, because where their field ends is then a guess.

Ambiguous texts: one that starts with ``01`` and 14 digits is taken for a GS1 code, any other
without prefix, separator or brackets for a plain lot. In brackets, a lot that itself holds a
number of 2 to 4 digits in brackets is read as a further field.

Source: GS1 General Specifications, from memory: the check digit, the dates (day 00 is the last day
of the month) and the century of a year. Identifiers and their lengths were compared with a table
generated from gs1.org on 2020-07-12 (github.com/arthurdejong/python-stdnum, read second-hand).
"""

from __future__ import annotations

import calendar
import re
from datetime import date

from pourbook.errors import InputError, MisreadError, UnknownError
from pourbook.records import dataclass

GS = "\x1d"
"""The separator a scanner sends for FNC1."""

_GS1_PREFIX = re.compile(r"\](C1|e0|d2|Q3|J1)")
_OTHER_PREFIX = re.compile(r"\][A-Za-z][0-9]")
_BRACKETS = re.compile(r"\(([0-9]{2,4})\)")
_RAW = re.compile(r"01[0-9]{14}")
# The 82 characters a field may hold: letters, figures and these marks.
_TEXT = re.compile(r"[A-Za-z0-9!\"%&'()*+,\-./_:;<=>?]+")

_FIXED = {"00": 18, "01": 14, "02": 14, "20": 2} | dict.fromkeys(
    ("11", "12", "13", "15", "16", "17"), 6
)
_FIXED |= {f"41{n}": 13 for n in range(8)}
_FIXED |= {
    f"3{measure}{decimals}": 6
    for measure in (*range(10, 17), *range(20, 38), *range(40, 58), *range(60, 70))
    for decimals in range(6)
}
"""Identifiers of fixed length, which need no separator: how many digits follow."""

_VARIABLE = {"10": 20, "21": 20, "22": 20, "235": 28, "240": 30, "241": 30, "243": 20, "250": 30}
_VARIABLE |= {"251": 30, "254": 20, "400": 30, "401": 30, "403": 30, "420": 20, "90": 30}
_VARIABLE |= {f"9{n}": 90 for n in range(1, 10)}
_DIGITS = {"30": 8, "37": 8, "242": 6}
"""Identifiers of variable length: the most characters, or digits, that follow."""


@dataclass(frozen=True)
class Scan:
    """What a scanned or typed text says.

    Attributes:
        lot: Lot code; None where a GS1 code carries none.
        gtin: The 14 digits of the product number, its check digit proved; None where not given.
        expiry: Use-by date, the last day on which it may be used; None where not given.
        others: Every other field, identifier and text, in the order scanned.
        plain: True where the text was no GS1 code and is the lot itself.
    """

    lot: str | None
    gtin: str | None = None
    expiry: date | None = None
    others: tuple[tuple[str, str], ...] = ()
    plain: bool = False


def check_digit(digits: str) -> int:
    """Return the check digit of a GS1 number: 3 and 1 by turns from the right, up to the next ten.

    Args:
        digits: The number without its check digit, 1 to 17 digits.

    Raises:
        InputError: Something else than digits, or too many.

    Example:
        >>> check_digit("0950110153000")
        3
    """
    if not re.fullmatch("[0-9]{1,17}", digits):
        raise InputError(f"'{digits}' is not a number of 1 to 17 digits", "type its digits only")
    total = sum(int(d) * (3 if i % 2 == 0 else 1) for i, d in enumerate(reversed(digits)))
    return -total % 10


def full_date(yymmdd: str, today: date) -> date:
    """Return the date six digits stand for; day 00 is the last day of the month.

    A year 51 or more ahead of today's two digits is of the century before, one 50 or more behind
    of the century after.

    Args:
        yymmdd: Year, month and day, two digits each.
        today: The day it is read on.

    Raises:
        InputError: No such day.

    Example:
        >>> full_date("280200", date(2026, 11, 25))
        datetime.date(2028, 2, 29)
    """
    if not re.fullmatch("[0-9]{6}", yymmdd):
        raise MisreadError(
            f"'{yymmdd}' is no date", "scan it again, or type the date in its column"
        )
    short, month, day = int(yymmdd[:2]), int(yymmdd[2:4]), int(yymmdd[4:])
    ahead = short - today.year % 100
    year = today.year - today.year % 100 + short
    year += 100 if ahead <= -50 else -100 if ahead >= 51 else 0
    try:
        return date(year, month, day or calendar.monthrange(year, month)[1])
    except ValueError as error:  # month 0 or 13, day 31 in June
        raise MisreadError(
            f"the date in the code, '{yymmdd}', is no day of the calendar",
            "check it against the label and type the date in its column",
        ) from error


def _identifier(text: str) -> str:
    """Return the identifier a raw field starts with."""
    for length in (2, 3, 4):
        start = text[:length]
        if start in _FIXED or start in _VARIABLE or start in _DIGITS:
            return start
    raise UnknownError(
        f"the code goes on with '{text[:4]}', which is not known here",
        "type the lot from the label, or put it after (10)",
    )


def _fits(identifier: str, value: str) -> None:
    """Refuse a field that does not fit its identifier."""
    if identifier in _FIXED:
        length = _FIXED[identifier]
        if not (len(value) == length and re.fullmatch("[0-9]+", value)):
            raise InputError(f"({identifier}) must have {length} digits, not '{value}'", _AGAIN)
        return
    most = _DIGITS.get(identifier) or _VARIABLE[identifier]
    shape = re.compile("[0-9]+") if identifier in _DIGITS else _TEXT
    if not value or len(value) > most:
        raise InputError(
            f"({identifier}) has {len(value)} characters, 1 to {most} may be",
            "the scanner may leave out the separator: turn it on, or type the lot after (10)",
        )
    if not shape.fullmatch(value):
        raise InputError(f"({identifier}) holds a character it may not, in '{value}'", _AGAIN)


_AGAIN = "scan it again, or type the lot from the label"


def _raw_fields(text: str) -> list[tuple[str, str]]:
    """Take a raw code apart."""
    fields, rest = [], text.strip(GS)
    while rest:
        identifier = _identifier(rest)
        rest = rest[len(identifier) :]
        if identifier in _FIXED:
            value, rest = rest[: _FIXED[identifier]], rest[_FIXED[identifier] :]
        else:
            value, _, rest = rest.partition(GS)
        _fits(identifier, value)
        fields.append((identifier, value))
        rest = rest.lstrip(GS)  # one after a field of fixed length does no harm
    return fields


def _bracket_fields(text: str) -> list[tuple[str, str]]:
    """Take a code with brackets apart."""
    parts = _BRACKETS.split(text)
    fields = [(ai, value.strip()) for ai, value in zip(parts[1::2], parts[2::2], strict=True)]
    for identifier, value in fields:
        if _identifier(identifier) != identifier:
            raise UnknownError(f"({identifier}) is not known here", "type the lot after (10)")
        _fits(identifier, value)
    return fields


def read_scan(text: str, today: date) -> Scan:
    """Read what was scanned or typed into a lot cell.

    Args:
        text: The text; blanks and line ends around it do not count.
        today: The day it is read on, which settles the century of a date.

    Returns:
        Product number, lot and use-by date, as far as the text gives them.

    Raises:
        InputError: Nothing typed, or a GS1 code that is broken, contradicts itself or holds an
            identifier not known here.

    Example:
        >>> read_scan("(01)09501101530003(17)270400(10)AB-123", date(2026, 11, 25))
        Scan(lot='AB-123', gtin='09501101530003', expiry=datetime.date(2027, 4, 30), others=(),\
 plain=False)
        >>> read_scan("L 2207", date(2026, 11, 25))
        Scan(lot='L 2207', gtin=None, expiry=None, others=(), plain=True)
    """
    text = text.strip(" \t\r\n")
    if not text.strip(GS):
        raise InputError("no lot is given", "scan the label or type the lot")
    prefix = _GS1_PREFIX.match(text)
    if prefix is None and (other := _OTHER_PREFIX.match(text)):
        text = text[other.end() :]  # a code of another kind: what it holds is the lot
        return Scan(text, plain=True) if text else read_scan(text, today)
    body = text[prefix.end() :] if prefix else text
    if _BRACKETS.match(body):
        fields = _bracket_fields(body)
    elif prefix or GS in body or _RAW.match(body):
        fields = _raw_fields(body)
    else:
        return Scan(text, plain=True)
    return _scan(fields, today)


def _scan(fields: list[tuple[str, str]], today: date) -> Scan:
    """Make a scan of fields already proved for length."""
    if not fields:
        raise InputError("the code is empty", _AGAIN)
    found: dict[str, str] = {}
    for identifier, value in fields:
        if found.setdefault(identifier, value) != value:
            raise InputError(f"the code gives ({identifier}) twice and differently", _AGAIN)
    gtin = found.pop("01", None)
    if gtin is not None and check_digit(gtin[:-1]) != int(gtin[-1]):
        raise InputError(
            f"the check digit of the product number {gtin} does not fit",
            "scan it again; if all of it is the lot, type (10) before it",
        )
    expiry = found.pop("17", None)
    return Scan(
        lot=found.pop("10", None),
        gtin=gtin,
        expiry=None if expiry is None else full_date(expiry, today),
        others=tuple(found.items()),
    )
