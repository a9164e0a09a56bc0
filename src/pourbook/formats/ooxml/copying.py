"""The one way out of a package that is there already: a copy of it, part by part.

Contract: :func:`copied` changes, leaves out and adds parts; all others stay as they are, with their
dates, in their order. Standard library alone, for it runs inside LibreOffice too.
"""

from __future__ import annotations

import zipfile
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import IO

Edit = Callable[[str, bytes], bytes | None]
"""Gets a part's name and content, gives what it becomes, or None to leave it out."""


def copied(
    source: Path | IO[bytes],
    target: Path | IO[bytes],
    edit: Edit,
    more: Mapping[str, bytes] | None = None,
    *,
    packed: bool = True,
) -> None:
    """Copy a package.

    Args:
        source: The package; it is only read.
        target: Where to write the copy.
        edit: What becomes of each part.
        more: Parts to add at the end.
        packed: Whether the copy is compressed.
    """
    how = zipfile.ZIP_DEFLATED if packed else zipfile.ZIP_STORED
    with zipfile.ZipFile(source) as old, zipfile.ZipFile(target, "w", how) as new:
        for item in old.infolist():
            content = edit(item.filename, old.read(item))
            if content is None:
                continue
            item.compress_type = how
            new.writestr(item, content)
        for name, content in (more or {}).items():
            new.writestr(name, content)
