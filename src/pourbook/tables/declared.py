"""The one declaration of each table: what stands in its columns, read from the templates.

Contract: :func:`declared` gives the columns a person fills in, in their order, with headings and
choices, of any block of a book; of a form its lines. The sheets, their validation and help, the
check of entries, the reference page, what functions take and what they call a column in a refusal
all come from the same lines of ``workbook_templates``: a column is added there and nowhere else.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import cache
from typing import Any

from pourbook import alike
from pourbook.cells import Columns, Value
from pourbook.compiled import kept
from pourbook.errors import EntryAt, EntryLabel, TemplateError
from pourbook.records import dataclass
from pourbook.resources import folder

BOOK = "job"
_NOT_TYPED = ("formula", "index", "fixed", "blank")
"""Kinds of columns that nobody fills in."""


@dataclass(frozen=True)
class Column:
    """One result column of a block function, with the role of its unit in the measure system."""

    id: str
    help: str
    unit: str = ""


@dataclass(frozen=True)
class Declared:
    """A table or form as it is declared: ids of what is typed, in order, by them the headings.

    A column that says ``since`` came with those templates, and ranges of earlier ones lack it.
    """

    block: str
    sheet: str
    columns: Columns
    labels: Mapping[str, EntryLabel]
    choices: Mapping[str, tuple[str, ...]]


@cache
def sheets(book: str) -> Mapping[str, Mapping[str, Any]]:
    """Return the sheets of a book as their files say it, by file name.

    Raises:
        TemplateError: A file cannot be read.
    """
    return kept(f"what is declared in {book}", lambda: _declared(book))


def _declared(book: str) -> Mapping[str, Mapping[str, Any]]:
    import tomllib  # noqa: PLC0415 - what it reads is kept

    found: dict[str, dict[str, Any]] = {}
    for path in sorted((folder("workbook_templates") / book).glob("*.toml")):
        try:
            found[path.name] = tomllib.loads(path.read_text(encoding="utf-8"))
        except (OSError, ValueError) as error:
            raise TemplateError(f"it cannot be read: {error}", "", str(path)) from error
    alike.filled_in(found.values())
    return found


@cache
def declared(block: str, book: str = BOOK) -> Declared:
    """Return a block of a book by its id, of the job's if no other is named.

    Raises:
        TemplateError: There is no such block.

    Example:
        >>> declared("doing").columns[:2], declared("doing").labels["pace"]
        (('name', 'layer_name'), 'Pace of one')
    """
    sheet, one = _found(block, book)
    typed = [
        c
        for c in (*one.get("column", ()), *one.get("line", ()))
        if c.get("kind", "text") not in _NOT_TYPED and not c.get("kept")
    ]
    return Declared(
        block,
        sheet["sheet"],
        _columns(typed),
        {c["id"]: EntryLabel(c["header"], EntryAt(block, c["id"])) for c in typed},
        {c["id"]: tuple(c["choices"]) for c in typed if "choices" in c},
    )


def _found(block: str, book: str) -> tuple[Mapping[str, Any], Mapping[str, Any]]:
    """Return the sheet of a block and the block, as their file says it."""
    for sheet in sheets(book).values():
        for one in sheet.get("block", ()):
            if one["id"] == block:
                return sheet, one
    raise TemplateError(f"there is no block '{block}'", "", book)


@cache
def usual(form: str) -> Mapping[str, Value]:
    """Return what the lines of a form of the job's book hold in a new job, by id; None if blank.

    Example:
        >>> usual("other_steps")["mask"]
        1
    """
    _, found = _found(form, BOOK)
    return {line["id"]: line.get("default") for line in found["line"]}


def _columns(typed: Sequence[Mapping[str, Any]]) -> Columns:
    came = [int(c.get("since", 1)) for c in typed]
    earlier = sorted({version - 1 for version in came if version > 1})
    older = [
        (e, tuple(c["id"] for c, v in zip(typed, came, strict=True) if v <= e)) for e in earlier
    ]
    return Columns((c["id"] for c in typed), older)
