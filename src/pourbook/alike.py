"""Columns that are declared once and stand in two tables: one is ``like`` the other.

Contract: :func:`filled_in` completes the columns of sheets, still as TOML gives them, from the
columns they are like; what a column says itself goes before that.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from pourbook.errors import TemplateError

_OWN = ("default", "key", "offers", "since")
"""What a column never takes from another."""


def filled_in(sheets: Iterable[Mapping[str, Any]]) -> None:
    """Complete the columns that are like others, in place.

    Args:
        sheets: The sheets of a book, as read from TOML.

    Raises:
        TemplateError: There is no such column, or it is like another one itself.

    Example:
        >>> book = [{"block": [{"id": "a", "column": [{"id": "x", "header": "X", "key": True}]},
        ...                    {"id": "b", "column": [{"id": "y", "like": "a.x", "width": 9}]}]}]
        >>> filled_in(book)
        >>> book[0]["block"][1]["column"][0]
        {'id': 'y', 'header': 'X', 'width': 9}
    """
    columns = {
        f"{block.get('id')}.{column.get('id')}": column
        for sheet in sheets
        for block in sheet.get("block", [])
        for column in block.get("column", [])
    }
    for name, column in columns.items():
        if "like" not in column:
            continue
        like = column.pop("like")
        model = columns.get(like)
        if model is None or "like" in model:
            raise TemplateError(f"'{like}' is no column of its own", "see its TOML file", name)
        own = dict(column)
        column.clear()
        column.update({key: value for key, value in model.items() if key not in _OWN} | own)
