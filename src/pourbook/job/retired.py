"""Entries that earlier versions kept under other ids, put into the words of this version.

Contract: pure; values in, values out. A field that was given up keeps its meaning here for ever, so
that the entries of any job ever made can be carried over.
"""

from __future__ import annotations

from collections.abc import Mapping

from pourbook.cells import Value, is_blank, text
from pourbook.tables.measured import todays_surfaces

Key = tuple[str, str, int]
_RATIO = tuple(("products", f"ratio_{part}") for part in "abc")
RETIRED = frozenset(_RATIO)
"""Blocks and fields that are no more; :func:`renewed` says where their entries went."""


_SURFACES = (("layers", "surfaces"), ("finish_layers", "surfaces"), ("learned", "surface"))
_KEYED = {
    ("working", "name"): ("products", "product"),
    ("doing", "name"): ("layers", "option"),
    ("doing", "layer_name"): ("layers", "layer"),
}


def keyed(entries: Mapping[Key, object]) -> dict[Key, object]:
    """Return the names of rows that once belonged to the row of another table in the same place.

    Example:
        >>> keyed({("products", "product", 1): "Binder", ("working", "pot_life", 1): 40})
        {('working', 'name', 1): 'Binder'}
    """
    if any(key[:2] in _KEYED and value is not None for key, value in entries.items()):
        return {}
    filled = {(block, row) for (block, _, row), value in entries.items() if value is not None}
    return {
        (block, name, row): entries[(*source, row)]
        for (block, name), source in _KEYED.items()
        for row in sorted(row for other, row in filled if other == block)
        if entries.get((*source, row)) is not None
    }


def reworded(key: tuple[str, str], value: Value) -> Value:
    """Return an entry in the words of today's list.

    Example:
        >>> reworded(("layers", "surfaces"), "edge + splash")
        'edge + backsplash'
    """
    return todays_surfaces(value) if key in _SURFACES and isinstance(value, str) else value


def renewed(old: Mapping[Key, Value]) -> dict[Key, Value]:
    """Return what the entries of retired fields are now.

    Example:
        >>> renewed({("products", "ratio_a", 0): 2.0, ("products", "ratio_b", 0): 1.0})
        {('products', 'ratio', 0): '2:1'}
    """
    found: dict[Key, Value] = {}
    for index in sorted({row for _, _, row in old}):
        figures = [old.get((block, field, index)) for block, field in _RATIO]
        typed = [text(figure) for figure in figures if not is_blank(figure)]
        if len(typed) > 1:  # one part has no ratio
            found["products", "ratio", index] = ":".join(typed)
    return found
