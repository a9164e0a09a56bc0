"""Remembers of which sheets nothing was found: one that did not change is not looked through again.

Contract: :func:`unless_sound` gives what a look at a sheet finds. Where it found nothing before, at
the very same sheet and by the very same other things, it finds nothing and looks no more.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import TypeVar
from weakref import WeakKeyDictionary

from pourbook.workbook.read.read import RawSheet

Found = TypeVar("Found")
_SOUND: WeakKeyDictionary[RawSheet, dict[str, tuple[object, ...]]] = WeakKeyDictionary()


def unless_sound(
    sheet: RawSheet, look: str, by: tuple[object, ...], find: Callable[[], Iterable[Found]]
) -> list[Found]:
    """Return what is found at a sheet.

    Args:
        sheet: The sheet.
        look: What is looked for.
        by: All else that it rests on: the same texts, or the same objects, give the same.
        find: Looks for it.
    """
    known = _SOUND.setdefault(sheet, {})
    before = known.get(look, ())
    if len(before) == len(by) and all(map(_same, before, by)):
        return []
    found = list(find())
    if not found:
        known[look] = by
    return found


def _same(one: object, two: object) -> bool:
    return one is two or (isinstance(one, str) and one == two)
