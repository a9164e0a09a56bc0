"""Tests of a sample board or a finished top: their standards, their scales, and whether one holds.

Contract: readings and limits come as floats on the scale of the test (grades as their place in the
scale); nothing here knows a spreadsheet. No limit is built in: what is agreed with the client is
given. Scales and sources stand in :data:`TESTS`.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Literal

from pourbook.errors import InputError, MisreadError
from pourbook.records import dataclass

PENCILS = ("6B", "5B", "4B", "3B", "2B", "B", "HB", "F", "H", "2H", "3H", "4H", "5H", "6H")
"""Pencils from soft to hard. ASTM D3363, the 14 grades from memory."""

CROSS_CUTS = ("0B", "1B", "2B", "3B", "4B", "5B")
"""Cross-cut grades of ASTM D3359, method B, from worst to best: more than 65 % of the squares
detached, 35 to 65, 15 to 35, 5 to 15, less than 5 %, none (read in a university's test notes)."""

ISO_CUTS = ("5", "4", "3", "2", "1", "0")
"""ISO 2409, from worst to best: the same six steps counted the other way (read second-hand)."""

RATINGS = ("1", "2", "3", "4", "5")
"""Ratings of EN 12720 to 12722, from strong change to no change (from memory)."""

MATT, SHINY = 10.0, 70.0
"""Gloss units at 60° below which 85° and above which 20° tells more: ASTM D523 (from memory)."""


@dataclass(frozen=True)
class ProofTest:
    """One test: its standard, its scale, and from which stage of cure it may be made.

    ``grades`` run from worst to best; without grades the reading is a number of ``unit``, from
    ``low`` to ``high``.
    """

    name: str
    method: str
    unit: str
    grades: tuple[str, ...] = ()
    low: float = 0.0
    high: float = math.inf
    from_stage: Literal["touch dry", "full cure"] = "full cure"
    source: str = "from memory"


GLOSS = "gloss units"
_WARE = "1 to 5, 5 is no change"
DEMONSTRATION = "shop demonstration"
"""What a shop shows a client beside the standard tests; it measures nothing (common practice, no
source). A dry film over wood or stone is read by ultrasound, ASTM D6132 (from memory), or off a
coupon coated beside the work: magnetic and eddy-current gauges need metal below."""
_PRACTICE = "common practice, no source"
TESTS: Mapping[str, ProofTest] = {
    test.name: test
    for test in (
        ProofTest("pencil hardness", "ASTM D3363", "6B to 6H", PENCILS),
        ProofTest(
            "cross-cut", "ASTM D3359 B", "0B to 5B", CROSS_CUTS, source="university notes, read"
        ),
        ProofTest(
            "cross-cut ISO 2409",
            "ISO 2409",
            "5 to 0, 0 is best",
            ISO_CUTS,
            source="read second-hand",
        ),
        ProofTest("impact", "ASTM D2794", "energy"),
        ProofTest("solvent rub", "ASTM D5402", "double rubs"),
        ProofTest("Shore D", "ASTM D2240", "Shore D", high=100.0),
        ProofTest("gloss at 60°", "ASTM D523", GLOSS, from_stage="touch dry"),
        ProofTest("dry film", "ISO 19840", "film", from_stage="touch dry", source="second-hand"),
        ProofTest("hot ware dry", "EN 12722", _WARE, RATINGS, source="title read"),
        ProofTest("hot ware wet", "EN 12721", _WARE, RATINGS, source="title read"),
        ProofTest("cold ware", "as agreed", _WARE, RATINGS, source="common practice, no source"),
        ProofTest("cold liquids", "EN 12720", _WARE, RATINGS, source="title read"),
        ProofTest("household stains", "ASTM D1308", _WARE, RATINGS),
        ProofTest("ultrasonic film", "ASTM D6132", "film", from_stage="touch dry"),
        ProofTest("coupon film", "as agreed", "film", from_stage="touch dry", source=_PRACTICE),
        ProofTest("slide", DEMONSTRATION, _WARE, RATINGS, source=_PRACTICE),
        ProofTest("knock", DEMONSTRATION, _WARE, RATINGS, source=_PRACTICE),
        ProofTest("hot pan", DEMONSTRATION, _WARE, RATINGS, source=_PRACTICE),
        ProofTest("flame", DEMONSTRATION, _WARE, RATINGS, source=_PRACTICE),
        ProofTest("knife", DEMONSTRATION, _WARE, RATINGS, source=_PRACTICE),
    )
}
"""The tests by name. Where a rating from 1 to 5 stands beside a standard without one (ASTM D1308),
the rating is that of EN 12720."""


@dataclass(frozen=True)
class Limit:
    """What was agreed: from ``low`` to ``high`` on the scale of the test, both allowed."""

    low: float = -math.inf
    high: float = math.inf


def grade(test: ProofTest, typed: str) -> float:
    """Return a grade as its place in the scale, 0 the worst.

    Raises:
        InputError: It is no grade of the test.

    Example:
        >>> grade(TESTS["pencil hardness"], "2h"), grade(TESTS["cross-cut ISO 2409"], "0")
        (9.0, 5.0)
    """
    found = typed.strip().upper().replace(" ", "")
    if found not in test.grades:
        raise MisreadError(f"'{typed}' is no grade of it", f"type {test.unit}")
    return float(test.grades.index(found))


def shown(test: ProofTest, place: float) -> str:
    """Return a place in the scale as the grade it stands for.

    Example:
        >>> shown(TESTS["pencil hardness"], 6.0)
        'HB'
    """
    return test.grades[int(place)]


def holds(test: ProofTest, reading: float, limit: Limit) -> bool:
    """Return whether a reading lies within what was agreed.

    Args:
        test: The test.
        reading: A place in its grades, or a number on its scale.
        limit: What was agreed, on the same scale.

    Raises:
        InputError: The reading is off the scale, or the limit's ends are the wrong way round.

    Example:
        >>> holds(TESTS["Shore D"], 78.0, Limit(low=75.0))
        True
        >>> holds(TESTS["gloss at 60°"], 78.0, Limit(35.0, 70.0))
        False
    """
    high = len(test.grades) - 1 if test.grades else test.high
    if not test.low <= reading <= high:
        raise InputError(f"{reading:g} is off the scale", f"type {test.unit}")
    if limit.low > limit.high:
        raise InputError("the limit's ends are the wrong way round", "type the smaller one first")
    return limit.low <= reading <= limit.high


def better_angle(gloss: float) -> int:
    """Return the angle at which a gloss read at 60° is told best, degrees.

    Source: ASTM D523 (from memory): above 70 units 20°, below 10 units 85°.

    Example:
        >>> better_angle(85.0), better_angle(50.0), better_angle(5.0)
        (20, 60, 85)
    """
    if gloss > SHINY:
        return 20
    return 85 if gloss < MATT else 60
