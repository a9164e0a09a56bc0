"""A finished job that carries the macros for Excel, made once."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from tests.made_once import made_once

from pourbook.job import macros


@pytest.fixture(scope="session")
def excel_demo(demo_us: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the demo with macros; not to be written to."""

    def fill(folder: Path) -> None:
        macros.enable(demo_us, folder / "demo.xlsm")

    return made_once(tmp_path_factory, "excel", fill) / "demo.xlsm"


@pytest.fixture
def excel_job(excel_demo: Path, tmp_path: Path) -> Path:
    """Return a copy of the demo with macros, to do anything with."""
    return Path(shutil.copy(excel_demo, tmp_path / "job.xlsm"))
