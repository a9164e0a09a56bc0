"""Recomputes a workbook without a spreadsheet program, by either of two engines.

Contract: :func:`engine` gives an :class:`~pourbook.hosts.headless.engine.Engine` by its name:
``fast`` (formualizer, the one at the desk; it first sees whether what is stored is right) or
``plain`` (the formulas package, run on every workbook in CI).
"""

from __future__ import annotations

from pourbook.errors import UsageError
from pourbook.hosts.headless.engine import Engine

NAMES = ("fast", "plain")


def engine(name: str) -> Engine:
    """Return an engine by its name.

    Raises:
        UsageError: There is no such engine.
    """
    # The engines are imported when asked for: either costs more than all else at start-up.
    if name == "fast":
        from pourbook.hosts.headless.confirming import ConfirmingEngine  # noqa: PLC0415

        return ConfirmingEngine()
    if name == "plain":
        from pourbook.hosts.headless.plain import PlainEngine  # noqa: PLC0415

        return PlainEngine()
    raise UsageError(f"there is no engine '{name}'", f"use {' or '.join(NAMES)}")
