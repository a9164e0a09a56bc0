"""What the functions are called inside LibreOffice.

Contract: plain data and texts, nothing imported: every check of a workbook asks for it.
"""

from __future__ import annotations

SERVICE = "org.pourbook.Functions"


def method_name(function: str) -> str:
    """Return the name of a function inside LibreOffice.

    Example:
        >>> method_name("PB_READ")
        'pbRead'
    """
    first, *rest = function.lower().split("_")
    return first + "".join(word.capitalize() for word in rest)
