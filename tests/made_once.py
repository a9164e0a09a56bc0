"""Folders of files that many tests look at, made once for all workers of a test run.

Contract: :func:`made_once` gives the same folder to every worker; who comes first fills it, the
others wait for a lock on a file. What is in it is never written to again.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import portalocker
import pytest

LONGEST = 600.0
"""Seconds to wait for another worker."""


def made_once(factory: pytest.TempPathFactory, name: str, fill: Callable[[Path], None]) -> Path:
    """Return a folder that one worker fills.

    Args:
        factory: The factory of the worker's own folders.
        name: What tells the folder from all others of the run.
        fill: Fills it; it gets an empty folder, which may have another name until it is full.
    """
    own = factory.getbasetemp()
    shared = own.parent if own.name.startswith("popen-") else own
    folder = shared / "made" / name
    folder.parent.mkdir(exist_ok=True)
    with portalocker.Lock(folder.with_suffix(".lock"), timeout=LONGEST):
        if not folder.exists():
            begun = folder.with_suffix(".begun")
            begun.mkdir()
            fill(begun)
            begun.rename(folder)
    return folder
