"""Cells as a spreadsheet program reckons with them: blanks, words and numbers.

Contract: what a formula does with a cell that is blank or holds words, written once for the rules
and checks of the pipeline. Words are compared without regard to capitals.
"""

from __future__ import annotations

import math
from collections.abc import Iterable

from pourbook.cells import Value

NOISE = 0.000001


class Refused(Exception):  # noqa: N818 - an outcome, not a fault
    """What a formula comes to when it is given what it cannot reckon with."""


def number(value: Value) -> float:
    """Return a cell in arithmetic: blank is 0, words are refused."""
    if value is None:
        return 0.0
    if isinstance(value, int | float):
        return float(value)
    raise Refused("#VALUE!")


def numbers(values: Iterable[Value]) -> list[float]:
    return [float(v) for v in values if isinstance(v, int | float) and not isinstance(v, bool)]


def total(values: Iterable[Value]) -> float:
    return math.fsum(numbers(values))


def same(value: Value, word: str) -> bool:
    return isinstance(value, str) and value.casefold() == word.casefold()


def bad(values: Iterable[Value]) -> int:
    return sum(isinstance(v, str) and v.startswith("!") for v in values)


def holding(values: Iterable[Value], words: str) -> int:
    return sum(isinstance(v, str) and words in v for v in values)


def count(values: Iterable[Value], word: str) -> int:
    return sum(same(v, word) for v in values)


def empty(value: Value) -> bool:
    return value is None or value == ""


def below(one: Value, other: Value) -> bool:
    """Return whether a cell is less than another: numbers come before words."""
    if empty(one) and one is None:
        one = "" if isinstance(other, str) else 0.0
    if other is None:
        other = "" if isinstance(one, str) else 0.0
    if isinstance(one, str) != isinstance(other, str):
        return isinstance(other, str)
    if isinstance(one, str) and isinstance(other, str):
        return one.casefold() < other.casefold()
    return number(one) < number(other)


def near(*terms: float) -> bool:
    return abs(math.fsum(terms)) <= NOISE
