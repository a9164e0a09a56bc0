"""Where pieces stand on a page: room by room, as large as all of them can be at one scale.

Contract: pure. Pieces stand in rows from the upper left, each room on a row of its own, with a gap
for the name above each. The page is measured in hundredths of its width.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from pourbook.errors import InputError
from pourbook.records import dataclass
from pourbook.trade.measuring import require

WIDE, HIGH = 100.0, 46.0
"""The page."""
ABOVE = 3.4
"""Room above a piece for its name."""
BESIDE = 3.0
"""Room between two pieces."""
_LETTER = 0.78
_ROUNDS = 60
_CLOSE = 1e-9


@dataclass(frozen=True)
class Boxed:
    """A piece on its way to the page: how wide and high in m, its room, and letters of its name.

    One that is ``tied`` stands in the row of the one before it, which it runs into.
    """

    wide: float
    high: float
    room: str
    letters: int = 0
    tied: bool = False


@dataclass(frozen=True)
class OnPage:
    """Where pieces stand: their lower left corners, which row each is in, and the scale."""

    corners: tuple[tuple[float, float], ...]
    rows: tuple[int, ...]
    scale: float


def place(pieces: Sequence[Boxed]) -> OnPage:
    """Return where pieces stand on the page.

    Args:
        pieces: The pieces in their order, those of a room together.

    Returns:
        Corners in hundredths of the page's width; the scale in hundredths a metre.

    Raises:
        InputError: A size is not above 0, or there are more pieces than names fit.

    Units: m in, hundredths of the width out. Validity: some forty pieces.
    Source: halving of the scale between one that fits and one that does not.

    Example:
        >>> place([Boxed(2.0, 0.5, "Bar")]).scale
        50.0
    """
    for piece in pieces:
        require("above 0", wide=piece.wide, high=piece.high)
    if not pieces:
        return OnPage((), (), 0.0)
    low, high = 0.0, WIDE / max(piece.wide for piece in pieces)
    if _rows(pieces, high) is None:
        for _ in range(_ROUNDS):
            middle = (low + high) / 2
            low, high = (low, middle) if _rows(pieces, middle) is None else (middle, high)
    else:
        low = high
    found = _rows(pieces, low) if low else None
    if found is None and any(piece.tied for piece in pieces):
        return place([replace(piece, tied=False) for piece in pieces])
    if found is None:
        raise InputError(f"{len(pieces)} pieces do not fit the page", "draw one room", "Room")
    return OnPage(tuple(corner for corner, _ in found), tuple(row for _, row in found), low)


def _wide(piece: Boxed, scale: float) -> float:
    return max(piece.wide * scale, piece.letters * _LETTER)


def _rows(pieces: Sequence[Boxed], scale: float) -> list[tuple[tuple[float, float], int]] | None:
    """Return corners and rows at a scale; None if the page does not hold them."""
    rows: list[list[int]] = []
    right = 0.0
    groups: list[list[int]] = []
    for at, piece in enumerate(pieces):
        if piece.tied and groups:
            groups[-1].append(at)
        else:
            groups.append([at])
    for group in groups:
        first = group[0]
        wide = sum(_wide(pieces[at], scale) + BESIDE for at in group) - BESIDE
        other = first == 0 or pieces[first - 1].room != pieces[first].room
        if new := other or right + BESIDE + wide > WIDE + _CLOSE:
            rows.append([])
        right = wide if new else right + BESIDE + wide
        if right > WIDE + _CLOSE:
            return None
        rows[-1] += group
    found: dict[int, tuple[tuple[float, float], int]] = {}
    top = HIGH
    for number, row in enumerate(rows):
        top -= ABOVE
        left = 0.0
        for at in row:
            piece = pieces[at]
            wide = _wide(piece, scale)
            shift = (wide - piece.wide * scale) / 2
            found[at] = ((left + shift, top - piece.high * scale), number)
            left += wide + BESIDE
        top -= max(pieces[at].high for at in row) * scale
    return None if top < 0 else [found[at] for at in range(len(pieces))]
