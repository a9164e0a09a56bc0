"""The engine of a check: it confirms what is stored, and has the fast engine do all else.

Contract: see :mod:`pourbook.hosts.headless.engine`. Without what was read of a workbook, and where
what is stored is not confirmed, it is :class:`~pourbook.hosts.headless.fast.FastEngine`, which is
loaded when it is wanted.
"""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

from pourbook.cells import Address
from pourbook.formats.bounded import bounded
from pourbook.hosts.headless.engine import Read, Recomputed
from pourbook.hosts.headless.stored import as_stored


class ConfirmingEngine:
    """Confirms, or recomputes through formualizer."""

    name = "fast"

    def recompute(
        self, path: Path, wanted: Iterable[Address], read: Read | None = None
    ) -> Recomputed:
        """Recompute a workbook; see :class:`~pourbook.hosts.headless.engine.Engine`."""
        with bounded(path):
            found = as_stored(read.sheets, read.program) if read else None
        if found is not None:
            return found
        from pourbook.hosts.headless.fast import FastEngine  # noqa: PLC0415 - seldom wanted

        return FastEngine().recompute(path, wanted)
