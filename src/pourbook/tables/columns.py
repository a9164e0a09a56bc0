"""A result column as it is declared where it is worked out.

Contract: plain data.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Column:
    """One result column of a block function, with the role of its unit in the measure system."""

    id: str
    help: str
    unit: str = ""
