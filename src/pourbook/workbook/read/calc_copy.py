"""Workbooks that Calc saved past Pourbook: Save a Copy, Export, a copy a crash left behind.

Contract: such a file calls Pourbook's functions by names that only Calc knows, since the add-in is
not told where Calc wrote it. :func:`is_calc_copy` tells one by its parts, and :func:`as_ours` gives
a path to read it from in which the names are plain; the file itself is only read.
"""

from __future__ import annotations

import re
import shutil
import zipfile
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path

from pourbook.functions.catalogue import catalogue
from pourbook.hosts.calc.called import SERVICE, method_name
from pourbook.hosts.calc.saved import plain_names

_CALLED = re.compile(rb"[>=(,]" + re.escape(SERVICE.encode()) + rb"\.\w+\(", re.IGNORECASE)


def is_calc_copy(parts: Mapping[str, bytes]) -> bool:
    """Return whether a formula of a package calls a function by Calc's own name for it."""
    hint = (SERVICE.encode(), SERVICE.upper().encode())
    sheets = [part for name, part in parts.items() if name.startswith("xl/worksheets/")]
    return any(any(h in part for h in hint) and _CALLED.search(part) for part in sheets)


@contextmanager
def as_ours(path: Path) -> Iterator[Path]:
    """Give a path to read a workbook from under plain names: a copy that goes, or itself."""
    # a pipe has no end to copy to; whoever reads it, or what is no package, refuses it
    if not path.is_file() or not zipfile.is_zipfile(path):
        yield path
        return
    import tempfile  # noqa: PLC0415 - for files of Calc alone

    with tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as folder:
        copy = Path(folder) / path.name
        shutil.copyfile(path, copy)
        names = {method_name(function): function for function in catalogue()}
        yield copy if plain_names(copy, SERVICE, names) else path
