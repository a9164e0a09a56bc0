"""A finished job that carries the macros for Excel, made once."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from pourbook.job import macros


@pytest.fixture(scope="session")
def excel_demo(demo_us: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the demo with macros; not to be written to."""
    target = tmp_path_factory.mktemp("excel") / "demo.xlsm"
    macros.enable(demo_us, target)
    return target


@pytest.fixture
def excel_job(excel_demo: Path, tmp_path: Path) -> Path:
    """Return a copy of the demo with macros, to do anything with."""
    return Path(shutil.copy(excel_demo, tmp_path / "job.xlsm"))
