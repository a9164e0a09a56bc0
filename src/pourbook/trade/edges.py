"""Areas of what stands upright at a piece: exposed edges, what is coated under them, splashes.

Contract: lengths in m in, areas in m² out; :data:`EDGE_PROFILES` is the one list of profiles a
worksheet may name. Source of the formulas: plane geometry.
"""

from __future__ import annotations

import math

from pourbook.errors import UnknownError
from pourbook.trade.measuring import require

# Girth of an edge for each 1 of its height.
EDGE_PROFILES: dict[str, float] = {"square": 1.0, "half-round": math.pi / 2, "girth given": 1.0}


def edge_girth(height: float, profile: str) -> float:
    """Return the coated girth of an edge, m, measured around from top to underside.

    Args:
        height: Height of the edge, m, >= 0; for ``girth given`` what a tape around it reads.
        profile: ``square``, ``half-round`` (bull-nose, a half circle across the height) or
            ``girth given``.

    Raises:
        InputError: The height is below 0 or the profile is not known.

    Example:
        >>> round(edge_girth(0.04, "half-round"), 6)
        0.062832
    """
    require("0 or more", edge_height=height)
    if profile not in EDGE_PROFILES:
        raise UnknownError(f"edge {profile!r} is not known", f"choose {', '.join(EDGE_PROFILES)}")
    return height * EDGE_PROFILES[profile]


def edge_area(run: float, height: float, profile: str, under: float = 0.0) -> float:
    """Return the coated area of an exposed edge, m².

    Args:
        run: Length of exposed edge, m, >= 0.
        height: Height of the edge, m, >= 0, as for :func:`edge_girth`.
        profile: Profile, as for :func:`edge_girth`.
        under: How far the coat goes on under the edge, m, >= 0.

    Raises:
        InputError: A figure is below 0 or the profile is not known.

    Example:
        >>> edge_area(3.0, 0.25, "square"), edge_area(3.0, 0.25, "square", under=0.25)
        (0.75, 1.5)
    """
    require("0 or more", edge_run=run, under_edge=under)
    return run * (edge_girth(height, profile) + under)


def splash_area(run: float, height: float) -> float:
    """Return the area of a backsplash, m².

    Args:
        run: Length along the wall, m, >= 0.
        height: Height, m, >= 0.

    Raises:
        InputError: A figure is below 0.

    Example:
        >>> splash_area(2.5, 0.1)
        0.25
    """
    require("0 or more", splash_run=run, splash_height=height)
    return run * height
