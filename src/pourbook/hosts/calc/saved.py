"""Puts Pourbook's formulas back as they were into a workbook LibreOffice has saved.

Contract: little more than the standard library, for it runs inside LibreOffice. LibreOffice 7.4
saves an add-in's functions under long names no other program knows, and the component has wrapped
the blocks (see ``wrapped``); :func:`plain_names` undoes both. The new content is complete before
the file is touched; the file itself, and with it LibreOffice's hold on it, stays, and so does its
date, which LibreOffice watches.
"""

from __future__ import annotations

import io
import os
import re
from collections.abc import Mapping
from pathlib import Path

from pourbook.formats.ooxml.copying import copied
from pourbook.hosts.calc.wrapped import unwrapped

_FORMULAS = re.compile(r"xl/(worksheets/.*|workbook)\.xml")


def plain_names(path: Path, service: str, names: Mapping[str, str]) -> int:
    """Rewrite the long names of a saved workbook.

    Args:
        path: The workbook (``.xlsx`` or ``.xlsm``).
        service: The add-in's service, such as ``org.pourbook.Functions``.
        names: The plain name of every method.

    Returns:
        How many names and block formulas were rewritten; with none the file is left alone.
    """
    plain = {method.lower(): name for method, name in names.items()}
    long = re.compile(rf"{re.escape(service)}\.({'|'.join(plain)})\(".encode(), re.IGNORECASE)
    changed = 0

    def edit(part: str, content: bytes) -> bytes:
        nonlocal changed
        if not _FORMULAS.fullmatch(part):
            return content
        kept, count = long.subn(
            lambda found: plain[found[1].decode().lower()].encode() + b"(", content
        )
        kept, blocks = unwrapped(kept)
        changed += count + blocks
        return kept

    made = io.BytesIO()
    copied(path, made, edit)
    if changed:
        before = path.stat()
        with path.open("r+b") as file:
            file.write(made.getvalue())
            file.truncate()
        os.utime(path, ns=(before.st_atime_ns, before.st_mtime_ns))
    return changed
