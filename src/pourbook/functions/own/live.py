"""PB_LIVE: the version of the functions a workbook is open with.

Contract: it takes nothing and gives Pourbook's version as text, so that a sheet can say in words
whether its functions work here, and whether they are those the job was made with.
"""

from __future__ import annotations

from pourbook import __version__
from pourbook.functions.declare import Example, Function


def live() -> str:
    """Return Pourbook's version.

    Example:
        >>> live() == __version__
        True
    """
    return __version__


PB_LIVE = Function(
    name="PB_LIVE",
    summary="The version of Pourbook's functions; an error where they are not live.",
    arguments=(),
    result="the version as text",
    valid="always",
    source="Pourbook itself",
    examples=(Example((), __version__),),
    compute=live,
)
