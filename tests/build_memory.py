"""A workbook of a layout is built once in a test run; then entries are put into a copy of it.

Building is openpyxl's work and takes longer than working the workbook out, and the workbooks of the
tests differ in what is typed far more than in how they are laid out.
:mod:`tests.hosts.test_open_book` holds a workbook made so against one that is built.
"""

from __future__ import annotations

import datetime as dt
import math
from collections import OrderedDict, defaultdict
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path

from openpyxl.cell.cell import ERROR_CODES, ILLEGAL_CHARACTERS_RE
from openpyxl.utils.datetime import to_excel

from pourbook.cells import CellError, Value
from pourbook.formats.ooxml import rewrite
from pourbook.formats.ooxml.copying import copied
from pourbook.workbook.build import build
from pourbook.workbook.layout.laid_out import Layout

Entries = Mapping[tuple[str, str, int], object]
MOST = 8
_MADE, _MARK = dt.datetime(2001, 2, 3, 4, 5, 6), "this workbook and no other"
_LONGEST = 32_767
ANEW = build.write


def _stored(typed: object) -> Value:
    """Return what a cell holds of what openpyxl would be given.

    Raises:
        TypeError: What openpyxl makes of it is not known here.
    """
    if isinstance(typed, dt.datetime | dt.date | dt.time | dt.timedelta):
        return _as_written(to_excel(typed))
    if isinstance(typed, str):
        if len(typed) > _LONGEST or ILLEGAL_CHARACTERS_RE.search(typed):
            raise TypeError(typed)
        return CellError(typed) if typed in ERROR_CODES else typed or None
    if typed is None or isinstance(typed, bool | int):
        return typed
    if isinstance(typed, float) and math.isfinite(typed):
        return _as_written(typed)
    raise TypeError(typed)


def _as_written(number: float) -> float:
    """Return a number as openpyxl writes it, with 16 digits."""
    return float(f"{number:.16g}")


def _filled(
    plain: Path,
    parts: Mapping[str, str],
    target: Path,
    entries: Mapping[str, Mapping[str, Value]],
    made: dt.datetime,
    identity: str,
) -> None:
    stamp = f"{made.replace(microsecond=0).isoformat()}Z".encode()

    def edit(part: str, content: bytes) -> bytes:
        if part == "docProps/core.xml":
            return content.replace(f"{_MADE.isoformat()}Z".encode(), stamp)
        if part == "docProps/custom.xml":
            return content.replace(_MARK.encode(), identity.encode())
        typed = entries.get(parts.get(part, ""))
        return rewrite.with_values(content, typed) if typed else content

    copied(plain, target, edit, packed=False)


@contextmanager
def building_once(folder: Path) -> Iterator[None]:
    """Have every layout built once, its workbook kept in a folder."""
    known: OrderedDict[tuple[int, bool], tuple[Layout, Path, dict[str, str]]] = OrderedDict()

    def write(
        plan: Layout, entries: Entries, target: Path, *, made: dt.datetime, identity: str = ""
    ) -> None:
        placed: dict[str, dict[str, Value]] = defaultdict(dict)
        try:
            for key, typed in entries.items():
                cell = plan.entry_at.get(key) or plan.kept_at[key]
                placed[cell.sheet][cell.address] = _stored(typed)
        except (KeyError, TypeError):
            ANEW(plan, entries, target, made=made, identity=identity)
            return
        key_of = id(plan), bool(identity)
        if key_of not in known:
            plain = folder / f"{len(known)}-{id(plan)}-{bool(identity)}.xlsx"
            ANEW(plan, {}, plain, made=_MADE, identity=_MARK if identity else "")
            known[key_of] = plan, plain, rewrite.sheet_parts(plain)
            if len(known) > MOST:
                known.popitem(last=False)[1][1].unlink()
        known.move_to_end(key_of)
        _, plain, parts = known[key_of]
        _filled(plain, parts, target, placed, made, identity)

    build.write = write
    try:
        yield
    finally:
        build.write = ANEW
