"""Attributes and lists of a part as the programs write them: switches, whole numbers, numbers.

Contract: pure; what cannot be read is as if it were not there.
"""

from __future__ import annotations

from math import isfinite

from lxml import etree

_Q = "{http://schemas.openxmlformats.org/spreadsheetml/2006/main}"
_OFF = {"0", "false", "off"}


def is_on(said: str | None) -> bool:
    """Return whether a switch is on; one that is not there is off.

    Example:
        >>> is_on("1"), is_on("true"), is_on("0"), is_on(None)
        (True, True, False, False)
    """
    return said is not None and said.strip().casefold() not in _OFF


def whole(said: str | None) -> int:
    """Return a whole number, -1 where there is none.

    Example:
        >>> whole("12"), whole("-1"), whole(""), whole(None)
        (12, -1, -1, -1)
    """
    text = said or ""
    return int(text) if text.isascii() and text.isdecimal() and len(text) < 10 else -1


def number_of(said: str | None, usual: float) -> float:
    """Return a number, or what is usual where there is none that ends.

    Example:
        >>> [number_of(said, 1.0) for said in ("12.5", "wide", "inf", None)]
        [12.5, 1.0, 1.0, 1.0]
    """
    try:
        number = usual if said is None else float(said)
    except ValueError:
        return usual
    return number if isfinite(number) else usual


def listed(root: etree._Element, held: str, name: str) -> list[etree._Element]:
    """Return what a list of a part holds, none where there is no such list.

    Args:
        root: The part.
        held: The name of the list.
        name: The name of what it holds.
    """
    found = root.find(_Q + held)
    return [] if found is None else found.findall(_Q + name)
