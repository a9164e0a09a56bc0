"""The film a volume gives.

Contract: pure functions on SI floats, for tests alone.
"""

from __future__ import annotations

from pourbook.trade.measuring import require


def film_from_volume(volume: float, area: float) -> float:
    """Return the wet film a volume makes when it is spread evenly, m.

    Args:
        volume: Volume on the surface, m³, above 0.
        area: Area, m², above 0.

    Raises:
        InputError: A figure is not above 0.

    Example:
        >>> film_from_volume(0.002, 2.0)
        0.001
    """
    require("above 0", volume=volume, area=area)
    return volume / area
