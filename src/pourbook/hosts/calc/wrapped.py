"""Gets a block function's texts and blank cells right in Calc, and puts its formula back on saving.

Contract: standard library only, for it runs inside LibreOffice. A text in a block an add-in gives
equals no other text there: COUNTIF, SUMIFS, MATCH and ``=`` all miss it. And a blank cell handed
over by itself comes as 0. :func:`wrapped` makes Calc remake the texts and hand the cell over as a
range; :func:`unwrapped` takes exactly that out of a saved sheet. What the component gave for the
same arguments it remembers, so that the three calls cost one.
"""

from __future__ import annotations

import re

_CALL = r"(?:PB_[A-Z]+|ORG\.POURBOOK\.FUNCTIONS\.PB[A-Z]+)\("
_BLOCK = re.compile(rf"\{{?=({_CALL}.*\))\}}?", re.IGNORECASE | re.DOTALL)
_SHEET = r"\$?(?:'[^']*'|\w+)[.!]"
_CELL = r"\$?[A-Z]{1,3}\$?\d+"
_ONE = re.compile(rf"(?<=[(;])((?:{_SHEET})?)({_CELL})(?=[;)])")
_SAVED = re.compile(
    rb"IF\(ISNUMBER\((PB_[A-Z]+\([^<]*?\))\),\1,\1&amp;(?:\"\"|&quot;&quot;)\)", re.IGNORECASE
)
_TWICE = re.compile(rb"(\$?[A-Z]{1,3}\$?\d+):\1(?!\d)")


def wrapped(formula: str) -> str | None:
    """Return the formula Calc gets for an array formula, or None if it is not one block call.

    Example:
        >>> wrapped("{=PB_ROOMS($A$1:$B$2;$Start.$B$6)}")[:46]
        '=IF(ISNUMBER(PB_ROOMS($A$1:$B$2;$Start.$B$6:$B'
        >>> wrapped("=SUM(A1:A2)") is None
        True
    """
    found = _BLOCK.fullmatch(formula)
    if found is None:
        return None
    call = _ONE.sub(r"\1\2:\2", found[1])
    return f'=IF(ISNUMBER({call});{call};{call}&"")'


def unwrapped(content: bytes) -> tuple[bytes, int]:
    """Return a saved sheet with its block formulas as they were, and how many that are.

    Example:
        >>> unwrapped(b'IF(ISNUMBER(PB_A(S!B6:B6)),PB_A(S!B6:B6),PB_A(S!B6:B6)&amp;"")')
        (b'PB_A(S!B6)', 1)
    """
    return _SAVED.subn(lambda found: _TWICE.sub(rb"\1", found[1]), content)
