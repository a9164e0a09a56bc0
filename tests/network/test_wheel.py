"""The wheel carries templates and reference data: built, installed alone, it runs the demo."""

from __future__ import annotations

import os
import subprocess
import sys
import venv
from pathlib import Path

import pytest

pytestmark = pytest.mark.network
ROOT = Path(__file__).resolve().parents[2]


def run(*command: str, cwd: Path) -> str:
    """Run a command outside the checkout, without its packages in the way."""
    kept = {k: v for k, v in os.environ.items() if not k.startswith("PYTHON")}
    done = subprocess.run(command, cwd=cwd, env=kept, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout + done.stderr
    return done.stdout


def test_wheel_runs_the_demo(tmp_path: Path) -> None:
    run(
        sys.executable,
        *("-m", "build", "--wheel", "--no-isolation", "--outdir", str(tmp_path / "dist")),
        str(ROOT),
        cwd=tmp_path,
    )
    (wheel,) = (tmp_path / "dist").glob("pourbook-*.whl")
    home = tmp_path / "env"
    venv.create(home, with_pip=True)
    python = str(home / ("Scripts/python.exe" if os.name == "nt" else "bin/python"))
    run(python, "-m", "pip", "install", "-q", str(wheel), cwd=tmp_path)
    told = run(python, "-m", "pourbook", "demo", "made", cwd=tmp_path)
    assert "Price with tax" in told
    assert (tmp_path / "made" / "demo.xlsx").stat().st_size > 20_000
    left = sorted(path.name for path in (tmp_path / "made").iterdir())
    assert left == ["demo-books.xlsx", "demo-metric.xlsx", "demo.xlsm", "demo.xlsx", "shop.xlsx"]
    where = run(python, "-c", "import pourbook; print(pourbook.__file__)", cwd=tmp_path)
    assert str(home) in where
