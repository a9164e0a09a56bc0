"""What a check passes, LibreOffice reads as we do, however odd its parts are."""

from __future__ import annotations

from pathlib import Path

import pytest
from tests.read_apart import apart, passing

SEED, TRIES = 1, 60


@pytest.mark.libreoffice
def test_a_part_changed_at_random_is_told_or_read_alike(demo_us: Path, tmp_path: Path) -> None:
    files = dict(passing(demo_us, tmp_path, SEED, TRIES))
    assert files, "some changes are harmless"
    assert apart(demo_us, files, tmp_path) == []
