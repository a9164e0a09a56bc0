"""Turns formulas that name fields into formulas that name cells.

Contract: ``{block.field}`` and its kin (see ``workbook_templates/README.md``) become A1 references;
whatever names nothing is a :class:`~pourbook.errors.TemplateError` with its place.
"""

from __future__ import annotations

import re

from pourbook.errors import TemplateError
from pourbook.formats.ooxml.addresses import a1, letters
from pourbook.workbook.layout.laid_out import Layout, Place, PlannedCell
from pourbook.workbook.template.guests import within_id
from pourbook.workbook.template.template import Block, Book

_BOX = re.compile(r"(?:(?:'[^']+'|\w+)!)?\$[A-Z]+\$(\d+):\$[A-Z]+\$(\d+)")
_REFERENCE = re.compile(r"\{([^{}]+)\}")


def quoted(sheet: str) -> str:
    """Return a sheet name as formulas write it."""
    return sheet if sheet.isalpha() else f"'{sheet}'"


def resolve(result: Layout, formula: str, at: PlannedCell) -> str:
    """Turn a formula with named references into an A1 formula for the cell ``at``."""
    text = result.text(expanded(result, formula))
    return "=" + _REFERENCE.sub(lambda m: _reference(result, m[1], at), text)


def expanded(result: Layout, formula: str) -> str:
    """Return a formula as :func:`expand` does, once for all the rows it stands in."""
    if formula not in result.written_out:
        result.written_out[formula] = expand(result.book, formula)
    return result.written_out[formula]


def expand(book: Book, formula: str) -> str:
    """Write out the macros of a formula, such as ``money(...)``."""
    for macro in book.macros:
        while True:
            start = re.search(rf"\b{macro.name}\(", formula)
            if start is None:
                break
            depth, end = 1, start.end()
            while depth:
                depth += {"(": 1, ")": -1}.get(formula[end : end + 1], 0)
                end += 1
                if end > len(formula) + 1:
                    raise TemplateError(f"'{macro.name}(' is not closed", "", formula)
            inner = formula[start.end() : end - 1]
            body = macro.text.replace("{x}", inner)
            formula = formula[: start.start()] + body + formula[end:]
    return formula


def _reference(result: Layout, name: str, at: PlannedCell) -> str:
    where = f"{at.sheet}!{at.address}"
    own = result.book.block(at.block) if at.block else None
    if own is not None and own.kind == "lines" and "@i" in name and not name.startswith("@"):
        name = name.replace("@i", own.instances[at.index].lower())
    if name.startswith("@"):
        place = result.places[at.block]
        if own is not None and own.kind == "lines" and name == "@instance":
            return a1(place.first - 1, at.column)
        if place.rows:
            return a1(place.rows[_have(place.rows, name[1:], where)], at.column)
        assert own is not None
        return _cell(own, place, name[1:], at.index, where)
    block, _, rest = name.partition(".")
    if block not in result.places:
        raise TemplateError(f"no block '{block}'", "", where)
    place = result.places[block]
    item, _, more = rest.partition(".")
    if more.partition(".")[0] == "word":
        return _word(result, block, item, at, one=more.endswith("@"))
    target = result.book.block(block)
    if target.kind == "table" and more in {"heading", "spot", "bad_at"}:
        return _about_column(result, target, item, more, at)
    if at.fill and at.array and item in _looked_up(target):
        return _reference(result, _of_guest(result, target, item, where), at)
    prefix = "" if place.sheet == at.sheet else quoted(place.sheet) + "!"
    if target.kind == "table" and more == "@":
        return _cell(target, place, item, at.index, where, prefix)
    if target.kind == "checks" and item == "whole":
        return _whole(result, at)
    if target.kind == "checks" and item == "on":
        return _checks_on(target, place, more, prefix, where)
    finder = {"lines": _in_lines, "form": _in_form}.get(target.kind, _in_table)
    return prefix + finder(target, place, item, more, at)


def _about_column(result: Layout, block: Block, item: str, more: str, at: PlannedCell) -> str:
    """Return the heading of a column, its first cell, or a text that says where it first refuses.

    The last is a formula: an error where no cell of the column refuses.
    """
    place, where = result.places[block.id], f"{at.sheet}!{at.address}"
    if more == "heading":
        headings = {f.id: number for number, f in enumerate(block.columns)}
        header = block.columns[headings[_have(headings, item, where)]].header
        return result.text(header).replace('"', '""')
    column = letters(place.columns[_have(place.columns, item, where)])
    if more == "spot":
        return f"'{place.sheet}'!{column}{place.first}"
    rows = _reference(result, f"{block.id}.{item}", at)
    return f'"\'{place.sheet}\'!{column}"&({place.first - 1}+MATCH("!*",{rows},0))'


def _looked_up(block: Block) -> list[str]:
    """Return by which names the result columns of a guest are asked for; none of another block."""
    if block.fill is None or not block.fill.within:
        return []
    return ["results", *(column.id for column in block.fill.columns)]


def _of_guest(result: Layout, block: Block, item: str, where: str) -> str:
    """Return the columns in which a call works a guest out, for another call to read.

    So a call rests on calls alone, and no engine works one out before what it rests on.
    """
    assert block.fill is not None
    host = result.book.block(block.fill.within)
    if host.rows != block.rows:
        raise TemplateError(f"'{block.id}' has not the rows of '{host.id}'", "", where)
    ids = [column.id for column in block.fill.columns]
    first, last = (ids[0], ids[-1]) if item == "results" else (item, item)
    return f"{host.id}.{within_id(block.id, first)}:{within_id(block.id, last)}"


def _word(result: Layout, block: str, item: str, at: PlannedCell, *, one: bool) -> str:
    """Find the words of a column, row for row as long as it is, or that of one cell."""
    words, place = result.places["words"], result.places[block]
    name = _have(words.columns, f"word_{block}_{item}", f"{at.sheet}!{at.address}")
    column, first = words.columns[name], words.first
    prefix = "" if words.sheet == at.sheet else quoted(words.sheet) + "!"
    if one:
        return f"{prefix}${letters(column)}{first + at.index}"
    last = first if place.rows else first + place.last - place.first
    return prefix + _box(first, column, last, column)


def _box(row_1: int, column_1: int, row_2: int, column_2: int) -> str:
    corner = a1(row_1, column_1, absolute=True)
    other = a1(row_2, column_2, absolute=True)
    return corner if corner == other else f"{corner}:{other}"


def _in_form(_block: Block, place: Place, item: str, _more: str, at: PlannedCell) -> str:
    if item in {"all", "labels"}:
        column = place.left + (item == "all")
        return _box(place.first, column, place.last, column)
    where = f"{at.sheet}!{at.address}"
    start, _, end = item.partition(":")
    row, last = (place.rows[_have(place.rows, name, where)] for name in (start, end or start))
    return _box(row, place.left + 1, last, place.left + 1)


def _checks_on(block: Block, place: Place, sheet: str, prefix: str, where: str) -> str:
    """Say that every check that looks at one sheet is OK.

    Cell by cell, never the column: another check may rest on what asks.
    """
    rows = [place.first + n for n, check in enumerate(block.checks) if check.sheet == sheet]
    if not rows:
        raise TemplateError(f"no check looks at '{sheet}'", "", where)
    cells = (a1(row, place.columns["result"], absolute=True) for row in rows)
    return "AND(" + ",".join(f'{prefix}{cell}="OK"' for cell in cells) + ")"


def _whole(result: Layout, at: PlannedCell) -> str:
    """Say that every range a function or a row reads still has its rows.

    A spreadsheet lets the edge of a range follow the cells that are cut there.
    """
    blocks = [block for sheet in result.book.sheets for block in sheet.blocks]
    names = [
        f"{b.id}.{f.id}.@" for b in blocks if b.kind == "table" for f in b.columns if f.is_typed
    ]
    names += [a.strip("{}") for b in blocks if b.fill for a in b.fill.arguments]
    found: dict[str, int] = {}
    for name in names:
        box = _BOX.search(_reference(result, name, at))
        if box:
            found[box[0]] = int(box[2]) - int(box[1]) + 1
    return "AND(" + ",".join(f"ROWS({box})={rows}" for box, rows in found.items()) + ")"


def _in_lines(block: Block, place: Place, item: str, more: str, at: PlannedCell) -> str:
    """Find a row, a column or one cell of a lines block."""
    start, last = place.left + 1, place.left + len(block.instances)
    if item == "labels":
        return _box(place.first, place.left, place.last, place.left)
    if item == "heads":
        return _box(place.first - 1, start, place.first - 1, last)
    if item == "all" and not more:
        return _box(place.first, start, place.last, last)
    if item == "all":
        column = start + block.instances.index(more)
        return _box(place.first, column, place.last, column)
    row = place.rows[_have(place.rows, item, f"{at.sheet}!{at.address}")]
    if more == "@":
        return a1(row, at.column)
    if more:
        column = start + block.instances.index(more)
        return _box(row, column, row, column)
    return _box(row, start, row, last)


def _in_table(block: Block, place: Place, item: str, more: str, at: PlannedCell) -> str:
    """Find a column, a group of columns, a row across the formulas, or one cell of a table."""
    entries = len(block.columns)
    width = len(block.printed_fields())
    spans = {"entries": (1, entries), "results": (entries + 1, width), "all": (1, width)}
    if item in spans:
        first, final = (place.left - 1 + n for n in spans[item])
        return _box(place.first, first, place.last, final)
    formulas = [place.columns[f.id] for f in block.columns if f.kind == "formula"]
    if item == "across":
        row = place.first + int(more) - 1
        return _box(row, formulas[0], row, formulas[-1])
    if item == "heads":
        return _box(place.first - 2, formulas[0], place.first - 2, formulas[-1])
    where = f"{at.sheet}!{at.address}"
    start, _, end = item.partition(":")
    column = place.columns[_have(place.columns, start, where)]
    if end:
        other = place.columns[_have(place.columns, end, where)]
        return _box(place.first, column, place.last, other)
    return _box(place.first, column, place.last, column)


def _cell(block: Block, place: Place, name: str, index: int, where: str, prefix: str = "") -> str:
    """Find one cell of a row; a typed one by its place in the table, wherever a row was moved to.

    A spreadsheet lets a plain reference follow a cell that is cut and put elsewhere, and rows would
    mix.
    """
    column = place.columns[_have(place.columns, name, where)]
    typed = next((f for f in block.columns if f.id == name and f.is_typed), None)
    if typed is None:
        return f"{prefix}${letters(column)}{place.first + index}"
    first, last = _typed_beside(block, place, column)
    table = _box(place.first, first, place.last, last)
    return f"INDEX({prefix}{table},{index + 1},{column - first + 1})"


def _typed_beside(block: Block, place: Place, column: int) -> tuple[int, int]:
    """Return the first and the last of the typed columns that stand together with one."""
    typed = {place.columns[f.id] for f in block.columns if f.is_typed}
    first = last = column
    while first - 1 in typed:
        first -= 1
    while last + 1 in typed:
        last += 1
    return first, last


def _have(known: dict[str, int], name: str, where: str) -> str:
    if name not in known:
        raise TemplateError(f"no field '{name}'", "", where)
    return name
