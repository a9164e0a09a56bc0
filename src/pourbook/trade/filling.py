"""Volumes to fill: grout lines, voids and moulds as an estimator measures them.

Contract: lengths in m, volumes in m³; a fill has an opening (what is seen of it from above, m²) and
a depth. :data:`FILLS` is the one list of fills a worksheet may name. Source of the formulas: solid
geometry.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import NamedTuple

from pourbook.trade.measuring import circle, require


class Filled(NamedTuple):
    """A fill a worksheet may name.

    Attributes:
        opening: Its opening, m², from all sizes but the depth.
        dimensions: The sizes of the opening in order, then the depth, each with its label.
    """

    opening: Callable[..., float]
    dimensions: dict[str, str]


def trench(width: float, run: float) -> float:
    """Return the opening of a grout line or a long void, m².

    Args:
        width: Width, m, above 0.
        run: Length of all of it, m, above 0.

    Raises:
        InputError: A dimension is not above 0.

    Example:
        >>> round(trench(0.003, 12.0), 6)
        0.036
    """
    require("above 0", width=width, run=run)
    return width * run


FILLS = {
    "grout lines": Filled(trench, {"width": "width", "run": "run of all", "depth": "depth"}),
    "void": Filled(trench, {"width": "width", "run": "length", "depth": "depth"}),
    "round void": Filled(circle, {"diameter": "diameter", "depth": "depth"}),
}
MOULD = "mould"
"""A fill whose volume is given, with its depth."""


def pours(depth: float, thickest: float) -> int:
    """Return how many pours of equal depth a depth takes.

    Args:
        depth: The whole depth, m, above 0.
        thickest: The most a pour may be, m, above 0, as the product's data sheet says.

    Raises:
        InputError: A figure is not above 0.

    Example:
        >>> pours(0.025, 0.003175), pours(0.0254, 0.0127)
        (8, 2)
    """
    require("above 0", depth=depth, thickest=thickest)
    return max(1, math.ceil(depth / thickest - 1e-9))
