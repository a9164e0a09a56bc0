"""Colour cups: how a batch is divided into colours, each with its own pigment.

Contract: :func:`read` takes the short text of the Layers sheet apart or says what to type instead;
:func:`divide` divides a batch exactly, so that the cups add up to it to the last bit.
"""

from __future__ import annotations

import re

from pourbook.cells import Value, is_blank, text
from pourbook.errors import InputError, MisreadError, TwiceError
from pourbook.records import dataclass
from pourbook.trade import mixing
from pourbook.trade.batch import bound

LABEL = "Colour cups"
MOST_CUPS = 12
LONGEST_NAME = 24
_FIGURE = r"(\d{1,6}(?:\.\d{1,6})?|\.\d{1,6})"
_CUP = re.compile(
    rf"^(?P<name>[^\W\d_](?:(?!\bat\b)[^,%])*?)\s+{_FIGURE}\s*%?(?:\s+at\s+{_FIGURE}\s*%(?:\s*mass)?)?$",
    re.IGNORECASE,
)
_MEND = "type colour, share and pigment, such as 'white 60 at 4 %; grey 40 at 5 %'"


@dataclass(frozen=True)
class Cup:
    """One colour: its share of the batch as a fraction, its pigment as a fraction of its mass."""

    name: str
    share: float
    pigment: float


@dataclass(frozen=True)
class Divided:
    """One cup of one batch, SI: mix in m³, pigment in kg."""

    cup: Cup
    volume: float
    pigment: float


def read(value: Value) -> tuple[Cup, ...]:
    """Read colour cups such as ``white 60 at 4 %; grey 30 at 5 %; clear 10``.

    Shares are counted against their sum; a colour without ``at`` gets no pigment. Blank is no cups.

    Raises:
        InputError: It cannot be read, a share is 0, or a colour stands twice.

    Example:
        >>> [(c.name, c.share, c.pigment) for c in read("white 3 at 4 %; clear 1")]
        [('white', 0.75, 0.04), ('clear', 0.25, 0.0)]
    """
    if is_blank(value):
        return ()
    found: list[tuple[str, float, float]] = []
    for part in text(value).strip("; ").split(";"):
        match = _CUP.match(part.strip())
        if match is None:
            raise MisreadError(f"'{part.strip()[:40]}' is no colour cup", _MEND, LABEL)
        name, share, pigment = match["name"], float(match[2]), float(match[3] or 0.0) / 100
        if share == 0:
            raise InputError(f"{name} has a share of 0", "type its share, or leave it out", LABEL)
        if pigment >= 1:
            raise InputError(f"{name} has {pigment * 100:g} % pigment", "type below 100 %", LABEL)
        if len(name) > LONGEST_NAME:
            raise InputError(f"'{name[:40]}' is long", f"{LONGEST_NAME} letters at most", LABEL)
        if name.casefold() in {other.casefold() for other, _, _ in found}:
            raise TwiceError(f"'{name}' is there twice", "give each colour one share", LABEL)
        found.append((name, share, pigment))
    if len(found) > MOST_CUPS:
        raise InputError(f"{len(found)} colours", f"use {MOST_CUPS} at most", LABEL)
    whole = sum(share for _, share, _ in found)
    return tuple(Cup(name, share / whole, pigment) for name, share, pigment in found)


def divide(volume: float, density: float, cups: tuple[Cup, ...]) -> tuple[Divided, ...]:
    """Divide a batch into its cups, each with its pigment.

    Args:
        volume: Mixed volume of the batch, m³, above 0.
        density: Density of the mix, kg/m³.
        cups: The colours; none gives none.
    """
    if not cups:
        return ()
    volumes = bound.cups(volume, [cup.share for cup in cups])
    return tuple(
        Divided(cup, part, mixing.dose_share(part * density, cup.pigment))
        for cup, part in zip(cups, volumes, strict=True)
    )
