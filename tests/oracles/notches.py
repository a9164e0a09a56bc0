"""Reading a notched wet film gauge.

Contract: pure functions on SI floats, for tests alone.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from pourbook.errors import InputError
from pourbook.trade.measuring import require


@dataclass(frozen=True)
class GaugeReading:
    """What a notched gauge says of a wet film.

    Attributes:
        film: The reading: depth of the deepest notch wetted, m.
        below: Depth of the first notch left dry, m; the true film is from ``film`` to below this.
    """

    film: float
    below: float


def read_notches(notches: Sequence[float], wetted: Sequence[bool]) -> GaugeReading:
    """Return the wet film a notched gauge shows: the deepest notch wetted.

    Args:
        notches: Depth of each notch used, m, above 0, from shallow to deep; at least two.
        wetted: Whether each was wetted, in the same order.

    Raises:
        InputError: The lists do not match or are not in order, no notch or every notch is wet, or
            a dry notch lies between wet ones.

    Example:
        >>> read_notches([0.0005, 0.00075, 0.001], [True, True, False])
        GaugeReading(film=0.00075, below=0.001)
    """
    if len(notches) != len(wetted) or len(notches) < 2:
        raise InputError("the notches and their marks do not match", "give both for 2 or more")
    require("above 0", **{f"notch {i}": depth for i, depth in enumerate(notches, 1)})
    if any(later <= first for first, later in pairwise(notches)):
        raise InputError("the notches are out of order", "type them from shallow to deep")
    wet = sum(wetted)
    if wet == 0:
        raise InputError(
            "no notch is wet, so the film is thinner than the shallowest",
            "read it on a finer side of the gauge",
        )
    if wet == len(notches):
        raise InputError(
            "every notch is wet, so the film may be thicker than the deepest",
            "read it on a deeper side of the gauge",
        )
    if not all(wetted[:wet]):
        raise InputError(
            "a deep notch is wet and a shallower one dry", "set the gauge square and read it again"
        )
    return GaugeReading(notches[wet - 1], notches[wet])
