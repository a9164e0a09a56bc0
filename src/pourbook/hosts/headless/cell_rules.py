"""What operators and functions of a spreadsheet give, for the formulas Pourbook confirms itself.

Contract: values are those of cells: float, text, truth value, and None for a blank cell. A formula
that shows an error raises :class:`ShownError`. Where spreadsheet programs differ, or their manuals
leave it open, nothing is guessed: :class:`OddError` says that a whole engine must work it out. What
is done here follows OpenFormula (OASIS, OpenDocument 1.3, part 4): conversions in section 6.3,
criteria in 4.11.8, functions in 6.7 to 6.20; texts are compared whatever their case. The tests hold
every function against two engines.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterable, Sequence
from itertools import chain

from pourbook.cells import Value

Column = Sequence[Value]
"""Values one below the other, or one beside the other."""
_NUMBER = re.compile(r"^[ ]*[+-]?(\d|\.\d)")
_CRITERION = re.compile(r"^(<=|>=|<>|<|>|=)?(.*)$", re.DOTALL)
_WILD = re.compile(r"[*?~]")
_MOST_DIGITS = 1e15
"""Whole numbers below it are written with all their digits by every program."""


class OddError(Exception):
    """A formula, or what it reads, is such that a whole engine must work it out."""


class ShownError(Exception):
    """A formula shows an error, such as a value that is not found."""


def number(value: Value) -> float:
    """Return a value as an operand: a blank is zero, a truth value one or zero.

    Raises:
        ShownError: It is a text.
        OddError: It is a text that looks like a number: some programs take it for one.
    """
    if type(value) is float:
        return value
    if value is None:
        return 0.0
    if value is True or value is False:
        return float(value)
    if isinstance(value, str) and not _NUMBER.match(value):
        raise ShownError
    raise OddError


def truth(value: Value) -> bool:
    """Return a value as a condition: a number is true unless zero, a blank is false."""
    if value is True or value is False:
        return value
    return number(value) != 0.0


def condition(value: Value) -> bool:
    """Return what a cell holds as a condition among others.

    Raises:
        OddError: It is blank or a text, which is passed over: there may be no condition at all.
    """
    if value is None or isinstance(value, str):
        raise OddError
    return truth(value)


def written(value: Value) -> str:
    """Return a value as it stands in a joined text.

    Raises:
        OddError: It is a number that programs write with more or fewer digits.
    """
    if isinstance(value, str):
        return value
    if value is None:
        return ""
    if value is True or value is False:
        return "TRUE" if value else "FALSE"
    plain = number(value)
    if plain.is_integer() and abs(plain) < _MOST_DIGITS:
        return str(int(plain))
    short = f"{plain:.15g}"
    if short != repr(plain) or "e" in short:
        raise OddError
    return short


def is_empty(value: Value) -> bool:
    """Return whether a value equals the empty text: it is one, or blank."""
    return value is None or value == ""


def is_text(value: Value, small: str) -> bool:
    """Return whether a value is a text, given in small letters and not empty."""
    return isinstance(value, str) and (value == small or value.casefold() == small)


def is_number(value: Value, other: float) -> bool:
    """Return whether a value equals a number; a blank equals zero."""
    if type(value) is float:
        return value == other
    return value is None and other == 0.0


def equal(one: Value, two: Value) -> bool:
    """Return whether two values are equal: those of two kinds never are, but a blank may be."""
    if one is None or two is None:
        other = two if one is None else one
        return other is None or other == "" or other is False or is_number(other, 0.0)
    if isinstance(one, str) and isinstance(two, str):
        return one == two or one.casefold() == two.casefold()
    return type(one) is type(two) and one == two


def less(one: Value, two: Value) -> bool:
    """Return whether a value comes before another: numbers, then texts, then truth values.

    Raises:
        OddError: Both are texts: what comes first rests on the language.
    """
    if type(one) is float and type(two) is float:
        return one < two
    first, second = _rank(one, two), _rank(two, one)
    if first != second:
        return first < second
    if first == 1:
        if equal(one, two):
            return False
        raise OddError
    return number(one) < number(two)


def _rank(value: Value, beside: Value) -> int:
    """Return where the kind of a value stands; a blank is of the kind it is compared with."""
    if value is None:
        return 0 if beside is None else _rank(beside, value)
    return 2 if isinstance(value, bool) else 1 if isinstance(value, str) else 0


def otherwise(first: Callable[[], Value], other: Callable[[], Value]) -> Value:
    """Return a value, or another where the first is an error."""
    try:
        return first()
    except (ShownError, ZeroDivisionError):
        return other()


def power(base: float, exponent: float) -> float:
    """Return a power of a number.

    Raises:
        OddError: It is one that programs give differently, or no real number.
    """
    if base <= 0.0:
        raise OddError
    try:
        return float(base**exponent)
    except OverflowError as error:
        raise OddError from error


def single(result: Value | list[list[Value]]) -> Value:
    """Return what a function of Pourbook gave as one value; nothing is zero, as engines have it.

    Raises:
        OddError: It gave a block.
    """
    if isinstance(result, list):
        raise OddError
    return 0.0 if result is None else result


def floats(values: Iterable[Value]) -> list[float]:
    """Return the numbers among the values of cells; texts and truth values are passed over."""
    return [value for value in values if type(value) is float]


def flat(columns: Sequence[Column]) -> Iterable[Value]:
    """Return the values of columns beside each other."""
    return chain.from_iterable(columns)


def largest(values: Iterable[Value]) -> float:
    """Return the largest number, zero where there is none."""
    return max(floats(values), default=0.0)


def smallest(values: Iterable[Value]) -> float:
    """Return the smallest number, zero where there is none."""
    return min(floats(values), default=0.0)


def filled(values: Iterable[Value]) -> float:
    """Return how many values are not blank; an empty text is not blank."""
    return float(sum(value is not None for value in values))


def rounded(value: float, places: float) -> float:
    """Return a number to so many decimals, halves away from zero."""
    return _scaled(value, places, lambda size: math.floor(size + 0.5))


def rounded_up(value: float, places: float) -> float:
    """Return a number to so many decimals, away from zero."""
    return _scaled(value, places, math.ceil)


def _scaled(value: float, places: float, whole: Callable[[float], int]) -> float:
    scale = 10.0 ** int(places)
    size = abs(value) * scale
    if size > _MOST_DIGITS:
        raise OddError
    return math.copysign(whole(size) / scale, value)


def sign(value: float) -> float:
    """Return one, minus one or zero."""
    return float((value > 0.0) - (value < 0.0))


def whole(value: float) -> float:
    """Return the next whole number below."""
    return float(math.floor(value))


def shown(value: float, code: str) -> str:
    """Return a number in one of the formats that the templates ask for.

    Raises:
        OddError: It is another format.
    """
    if code == "0.00":
        return f"{rounded(value, 2):.2f}"
    if code == "#,##0":
        return f"{rounded(value, 0):,.0f}"
    raise OddError


def substituted(value: Value, old: Value, new: Value) -> str:
    """Return a text with every occurrence of another replaced."""
    if old in {None, ""}:
        raise OddError
    return written(value).replace(written(old), written(new))


def trimmed(value: Value) -> str:
    """Return a text without spaces at its ends, and with single ones inside."""
    return " ".join(one for one in written(value).split(" ") if one)


def met(values: Column, criterion: Value) -> list[bool]:
    """Return which values meet a criterion, such as ``">0"``, a text or a number.

    Raises:
        OddError: Programs read the criterion, or a value, differently.
    """
    if criterion is None:
        return met(values, 0.0)
    if isinstance(criterion, bool):
        raise OddError
    if not isinstance(criterion, str):
        return _like(values, criterion)
    found = _CRITERION.match(criterion)
    assert found is not None
    sign_, rest = found[1] or "", found[2]
    if not sign_:
        return _like(values, rest)
    operand: Value = float(rest) if _is_plain(rest) else rest
    return compared(values, sign_, operand)


def _is_plain(text: str) -> bool:
    if not _NUMBER.match(text):
        return False
    try:
        return math.isfinite(float(text))
    except ValueError as error:
        raise OddError from error  # a date, a percentage, a number with a comma


def compared(values: Column, sign_: str, operand: Value) -> list[bool]:
    """Return which values stand in a relation to an operand; of another kind none does.

    Raises:
        OddError: The operand is no number where an order is asked, or is left out.
    """
    if sign_ == "=":
        if operand in {None, ""}:
            raise OddError
        return _like(values, operand)
    if sign_ == "<>":
        if operand in {None, ""}:
            raise OddError
        return [not one for one in _like(values, operand)]
    if type(operand) is not float:
        raise OddError
    if sign_ == "<":
        return [type(v) is float and v < operand for v in values]
    if sign_ == "<=":
        return [type(v) is float and v <= operand for v in values]
    if sign_ == ">":
        return [type(v) is float and v > operand for v in values]
    return [type(v) is float and v >= operand for v in values]


def _like(values: Column, operand: Value) -> list[bool]:
    """Return which values equal a number or a text, or begin with one that ends in a star."""
    if type(operand) is float:
        if any(isinstance(v, str) and _NUMBER.match(v) for v in values):
            raise OddError  # a text of digits: some programs take it for a number
        return [type(v) is float and v == operand for v in values]
    if not isinstance(operand, str):
        raise OddError
    if not operand:
        return [is_empty(v) for v in values]
    small = operand.casefold()
    if _NUMBER.match(operand):
        raise OddError
    if not _WILD.search(small):
        return [is_text(v, small) for v in values]
    if _WILD.search(small[:-1]) or small[-1] != "*":
        raise OddError
    start = small[:-1]
    return [isinstance(v, str) and v.casefold().startswith(start) for v in values]


def counted(*criteria: list[bool]) -> float:
    """Return in how many rows all criteria are met."""
    if len(criteria) == 1:
        return float(sum(criteria[0]))
    _same_length(criteria)
    return float(sum(all(row) for row in zip(*criteria, strict=True)))


def summed(values: Column, *criteria: list[bool]) -> float:
    """Return the sum of the numbers where all criteria are met."""
    _same_length([values, *criteria])
    rows = zip(values, *criteria, strict=True)
    return sum((row[0] for row in rows if type(row[0]) is float and all(row[1:])), 0.0)


def _same_length(columns: Sequence[Sequence[object]]) -> None:
    if any(len(one) != len(columns[0]) for one in columns):
        raise OddError


def matched(value: Value, values: Column) -> float:
    """Return where a value stands among others, from one.

    Raises:
        ShownError: It is not among them.
    """
    value = 0.0 if value is None else value
    found = [v == "" for v in values] if value == "" else _like(values, value)
    for place, one in enumerate(found, 1):
        if one:
            return float(place)
    raise ShownError


def at(values: Column, place: float) -> Value:
    """Return the value at a place, from one.

    Raises:
        ShownError: There is no such place.
    """
    index = int(place)
    if index == 0:
        raise OddError  # all of them
    if not 0 < index <= len(values):
        raise ShownError
    return values[index - 1]


def at_row(columns: Sequence[Column], row: float, column: float) -> Value:
    """Return the value in a row and a column, from one."""
    return at(at_column(columns, column), row)


def at_column(columns: Sequence[Column], column: float) -> Column:
    """Return one of columns, from one.

    Raises:
        ShownError: There is no such column.
    """
    index = int(column)
    if index == 0:
        raise OddError
    if not 0 < index <= len(columns):
        raise ShownError
    return columns[index - 1]


def line(columns: Sequence[Column]) -> Column:
    """Return the values of an area of one row.

    Raises:
        OddError: It has more rows.
    """
    if any(len(column) != 1 for column in columns):
        raise OddError
    return [column[0] for column in columns]


def rows(columns: Sequence[Column]) -> list[list[Value]]:
    """Return an area row by row."""
    return [list(row) for row in zip(*columns, strict=True)]


def products(worked: Callable[..., Value], *columns: Column) -> float:
    """Return the sum of what a formula gives for every row of columns."""
    _same_length(columns)
    return sum((number(worked(*row)) for row in zip(*columns, strict=True)), 0.0)
