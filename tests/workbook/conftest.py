"""What the workbook tests share: rewriting single parts of a finished workbook.

openpyxl drops the stored values of formulas when it saves, so files are changed part by part.
"""

from __future__ import annotations

import datetime as dt
import zipfile
from collections.abc import Callable, Mapping
from pathlib import Path

import pytest

from pourbook.job.accept import accept

ACCEPTED = dt.date(2026, 12, 1)
Edit = Callable[[bytes], bytes | None]


@pytest.fixture(scope="session")
def repack() -> Callable[[Path, Path, Mapping[str, Edit]], Path]:
    """Copy a package with some parts changed.

    An edit gets the part as it is (nothing for a part that is not there yet) and gives what it
    becomes; None leaves the part out.
    """

    def copy(source: Path, target: Path, edits: Mapping[str, Edit]) -> Path:
        left = dict(edits)
        with (
            zipfile.ZipFile(source) as old,
            zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED) as new,
        ):
            for item in old.infolist():
                content: bytes | None = old.read(item)
                edit = left.pop(item.filename, None)
                if edit is not None:
                    content = edit(content or b"")
                if content is not None:
                    new.writestr(item, content)
            for name, edit in left.items():
                content = edit(b"")
                if content is not None:
                    new.writestr(name, content)
        return target

    return copy


@pytest.fixture(scope="session")
def accepted_us(demo_us: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The finished demo with its quote accepted."""
    target = tmp_path_factory.mktemp("accepted") / "accepted.xlsx"
    accept(demo_us, target, on=ACCEPTED)
    return target
