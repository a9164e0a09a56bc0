"""Words of Python that the code of a formula is put together from, and what kind they give.

Contract: pure texts; :class:`NoCodeError` is raised for what has no code.
"""

from __future__ import annotations

import math
import re

from pourbook.records import dataclass

_ERROR = re.compile(r"#.")


class NoCodeError(Exception):
    """A formula holds what is left to an engine."""


@dataclass(frozen=True)
class Words:
    """Words of Python: ``kind`` is number, truth, text, cell (any value), column or area.

    A cell is what stands in one, which some functions read in another way than what is worked out.
    ``said`` is a text that the formula writes out.
    """

    kind: str
    text: str
    columns: tuple[str, ...] = ()
    ends: tuple[str, str] = ("", "")
    said: str | None = None


def literal(value: object) -> Words:
    """Return words for a number, a text or a truth value that a formula writes out."""
    if isinstance(value, bool):
        return Words("truth", repr(value))
    if isinstance(value, int | float) and math.isfinite(value):
        return Words("number", repr(float(value)))
    if isinstance(value, str) and not _ERROR.match(value):  # an error is handed over as its text
        return Words("text", repr(value), said=value)
    raise NoCodeError


def one_value(words: Words) -> Words:
    """Return words that give one value; an area gives none."""
    if words.kind in {"column", "area"}:
        raise NoCodeError
    return words


def values(words: Words) -> str:
    """Return words that give the values of one row or column of cells."""
    if words.kind == "cell":
        return f"({words.text},)"
    if words.kind == "area":
        return f"line({words.text})"
    if words.kind != "column":
        raise NoCodeError
    return words.text


def as_text(words: Words) -> str:
    """Return words that give a value as it stands in a joined text."""
    return words.text if words.kind == "text" else f"written({words.text})"


def equality(one: Words, two: Words) -> str:
    """Return words for whether two values are equal, the quickest where one is written out."""
    if one.kind == two.kind and one.kind in {"number", "truth"}:
        return f"({one.text} == {two.text})"
    for value, other in ((one, two), (two, one)):
        if other.said == "":
            return f"is_empty({value.text})"
        if other.said is not None:
            return f"is_text({value.text}, {other.said.casefold()!r})"
        if other.kind == "number" and value.kind not in {"number", "truth", "text"}:
            return f"is_number({value.text}, {other.text})"
    return f"equal({one.text}, {two.text})"
