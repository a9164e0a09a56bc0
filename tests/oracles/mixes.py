"""Ratios by mass, and the epoxide equivalent weight of a mix.

Contract: pure functions on SI floats, for tests alone.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from pourbook.errors import InputError
from pourbook.trade.measuring import require
from pourbook.trade.mixing import _require_parts


def ratio_by_mass(ratio: Sequence[float], densities: Sequence[float]) -> list[float]:
    """Return a ratio by volume as one by mass; the first figure stays as it is.

    Args:
        ratio: 1 to 3 parts by volume, each above 0.
        densities: Density of each part, kg/m³, above 0.

    Raises:
        InputError: A figure is out of range, or the number of parts or densities is.

    Example:
        >>> ratio_by_mass([2.0, 1.0], [1200.0, 900.0])
        [2.0, 0.75]
    """
    _require_parts(ratio, densities)
    return [part * (rho / densities[0]) for part, rho in zip(ratio, densities, strict=True)]


def eew_of_mix(weights: Sequence[float], eews: Sequence[float | None]) -> float:
    """Return the epoxide equivalent weight of a blend, g/eq: whole weight / sum of w / EEW.

    Args:
        weights: Weight of each ingredient, any one unit, above 0.
        eews: EEW of each ingredient, g/eq, above 0; None for a filler, which counts only by its
            weight.

    Raises:
        InputError: A figure is not above 0, the lists differ in length, or nothing reacts.

    Example:
        >>> eew_of_mix([60.0, 40.0], [180.0, None])
        300.0
    """
    if len(weights) != len(eews):
        raise InputError("not every weight has its EEW", "give one EEW a weight, none for fillers")
    require("above 0", **{f"weight {i}": weight for i, weight in enumerate(weights, 1)})
    require("above 0", **{f"EEW {i}": e for i, e in enumerate(eews, 1) if e is not None})
    equivalents = math.fsum(w / e for w, e in zip(weights, eews, strict=True) if e is not None)
    if equivalents == 0:
        raise InputError("nothing in the blend is a resin", "give the EEW of at least one")
    return math.fsum(weights) / equivalents
