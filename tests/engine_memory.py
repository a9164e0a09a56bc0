"""A workbook worked out once in a test run is not worked out again by the same engine.

Working a workbook out is most of what the tests do, and many ask for the same one: made, then
checked, then shown. Two files are the same when all an engine reads of them is: formulas, entries
and styles, whatever values are stored beside the formulas. A test that plants another function in
the catalogue gets its own run.
"""

from __future__ import annotations

import hashlib
import io
import re
import zipfile
from collections import OrderedDict
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import Any

from pourbook.functions import catalogue
from pourbook.hosts.headless import fast, plain
from pourbook.hosts.headless.engine import Recomputed

MOST = 12
"""Workbooks each engine remembers: the ones a test makes, and those the session shares."""
_VALUE = rb"(?:<v\b[^>]*/>|<v\b[^>]*>[^<]*</v>)?"
_STORED = re.compile(
    rb'(<c\b[^>]*?)(?: t="(?:str|n|b|e)")?(>)(<f\b[^>]*?(?:/>|>[^<]*</f>))' + _VALUE
)
_CALC = re.compile(rb"<\?xml[^>]*\?>\s*|<calcPr[^>]*/>")
_NOT_READ = ("docProps/", "[Content_Types]", "_rels/", "xl/calcChain", "xl/theme")
Key = tuple[object, ...]


def key_of(content: bytes, more: Key) -> Key | None:
    """Return what tells a workbook from every other; None if it is no package.

    Args:
        content: The package.
        more: The formulas that are not in it.
    """
    digest = hashlib.sha256()
    try:
        with zipfile.ZipFile(io.BytesIO(content)) as package:
            for name in sorted(package.namelist()):
                if name.startswith(_NOT_READ):
                    continue
                part = package.read(name)
                if name.startswith("xl/worksheets/sheet"):
                    part = _STORED.sub(rb"\1\2\3", part).replace(b' ca="1"', b"")
                part = _CALC.sub(b"", part.replace(b" />", b"/>"))
                digest.update(name.encode() + part)
    except (zipfile.BadZipFile, OSError, NotImplementedError, RuntimeError):
        return None
    used = [f for module in (catalogue, fast, plain) for f in module.catalogue().values()]
    return digest.digest(), more, tuple(id(function.compute) for function in used)


def _remembered(
    work_out: Callable[..., Any], read: Callable[[Any], tuple[bytes, Key]]
) -> Callable[..., Any]:
    known: OrderedDict[Key, tuple[Any, Recomputed]] = OrderedDict()

    def remembered(given: Any, record: Recomputed) -> Any:
        key = key_of(*read(given))
        if key is None or key not in known:
            found = work_out(given, record)
            if key is None:
                return found
            known[key] = (
                found,
                replace(
                    record,
                    values={},
                    reasons=list(record.reasons),
                    refusals={text: list(behind) for text, behind in record.refusals.items()},
                ),
            )
            if len(known) > MOST:
                known.popitem(last=False)
        known.move_to_end(key)
        found, saved = known[key]
        record.reasons[:] = saved.reasons
        record.refusals.update(saved.refusals)
        record.calls = saved.calls
        return found

    return remembered


@contextmanager
def working_out_once() -> Iterator[None]:
    """Have both engines remember what they worked out."""
    before = fast.worked_out, plain.worked_out
    fast.worked_out = _remembered(before[0], lambda turns: (turns.first, turns.rest))
    plain.worked_out = _remembered(before[1], lambda path: (Path(path).read_bytes(), ()))
    try:
        yield
    finally:
        fast.worked_out, plain.worked_out = before
