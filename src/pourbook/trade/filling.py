"""Volumes to fill: grout lines, voids and moulds as an estimator measures them.

Contract: lengths in m, volumes in m³; a fill has an opening (what is seen of it from above, m²) and
a depth. :data:`FILLS` is the one list of fills a worksheet may name. Source of the formulas: solid
geometry.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import NamedTuple

from pourbook.trade.measuring import circle, rectangle, require


class Filled(NamedTuple):
    """A fill a worksheet may name.

    Attributes:
        opening: Its opening, m², from all sizes but the depth.
        dimensions: The sizes of the opening in order, then the depth, each with its label.
    """

    opening: Callable[..., float]
    dimensions: dict[str, str]


FILLS = {
    "grout lines": Filled(rectangle, {"width": "width", "run": "run of all", "depth": "depth"}),
    "void": Filled(rectangle, {"width": "width", "run": "length", "depth": "depth"}),
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
