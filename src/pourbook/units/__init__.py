"""The unit boundary: text or number with a unit to SI float, and back; the only pint registry.

Contract: :mod:`~pourbook.units.measures` reads and writes quantities,
:mod:`~pourbook.units.systems` says what kinds and systems there are,
:mod:`~pourbook.units.lengths` takes feet, inches and spellings apart. What others need of them
stands here under one name.
"""

from pourbook.units.measures import (
    canonical_unit,
    convert,
    express,
    feet_inches,
    kind_of,
    read,
    registry,
    show,
    to_si,
)
from pourbook.units.systems import KINDS, PLAIN_NUMBERS, SYSTEMS, Kind, System

__all__ = [
    "KINDS",
    "PLAIN_NUMBERS",
    "SYSTEMS",
    "Kind",
    "System",
    "canonical_unit",
    "convert",
    "express",
    "feet_inches",
    "kind_of",
    "read",
    "registry",
    "show",
    "to_si",
]
