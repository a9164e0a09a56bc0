"""The fast engine: formualizer, a compiled spreadsheet engine.

Contract: see :mod:`pourbook.hosts.headless.engine`. Conversion only: formualizer hands over blanks
as None, ranges as lists of rows, errors as mappings, and numbers always as floats.
"""

from __future__ import annotations

import io
from collections.abc import Callable, Iterable
from functools import lru_cache
from pathlib import Path
from typing import Any

import formualizer
from lxml import etree

from pourbook.cells import Address, CellError, Rows, Value
from pourbook.errors import FileUnreadableError
from pourbook.formats.ooxml.addresses import cells as block_cells
from pourbook.formats.ooxml.addresses import split
from pourbook.formats.ooxml.copying import copied
from pourbook.functions.catalogue import catalogue
from pourbook.hosts.headless.engine import Recomputed, call, spread, tidy

_CODES = {
    "Div": "#DIV/0!",
    "Na": "#N/A",
    "Value": "#VALUE!",
    "Name": "#NAME?",
    "Num": "#NUM!",
    "Ref": "#REF!",
    "Null": "#NULL!",
}
_MAIN = "{http://schemas.openxmlformats.org/spreadsheetml/2006/main}"
_VALUE, _INLINE = _MAIN + "v", _MAIN + "is"


class FastEngine:
    """Recomputes through formualizer."""

    name = "fast"

    def recompute(self, path: Path, wanted: Iterable[Address]) -> Recomputed:
        """Recompute a workbook; see :class:`~pourbook.hosts.headless.engine.Engine`."""
        record = Recomputed()
        try:
            book = worked_out(_without_block_values(path), record)
        except Exception as error:
            raise FileUnreadableError(
                f"the fast engine cannot open it ({type(error).__name__}: {error})", "", str(path)
            ) from error
        for sheet, address in wanted:
            record.values[sheet, address] = value_of(book, sheet, address)
        return record


def worked_out(content: bytes, record: Recomputed) -> Any:
    """Return a workbook in formualizer, worked out; see :func:`loaded`."""
    book = loaded(content, record)
    book.evaluate_all()
    return book


def loaded(content: bytes, record: Recomputed) -> Any:
    """Return a workbook in formualizer, not worked out yet.

    Args:
        content: The file, without stored values of array blocks.
        record: Is told of every call and of what goes wrong inside a function.
    """
    book = formualizer.load_workbook_bytes(content)
    for name, function in catalogue().items():
        most = max(len(function.arguments), 1) + 8
        book.register_function(name, _adapter(name, record), min_args=0, max_args=most)
    return book


def value_of(book: Any, sheet: str, address: str) -> Value:
    """Return the value of a cell of an open workbook."""
    row, column = split(address)
    return _one(book.get_value(sheet, row, column))


def _without_block_values(path: Path) -> bytes:
    """Return the file without the stored values of array blocks.

    The engine spills an array formula over its block, and takes a value stored in the block for a
    cell in the way.
    """

    def edit(part: str, content: bytes) -> bytes:
        is_one = part.startswith("xl/worksheets/") and b't="array"' in content
        return _strip(content) if is_one else content

    copy = io.BytesIO()
    copied(path, copy, edit, packed=False)
    return copy.getvalue()


@lru_cache(maxsize=64)
def _strip(content: bytes) -> bytes:
    root = etree.fromstring(content, etree.XMLParser(resolve_entities=False, no_network=True))
    cells = {str(c.get("r")): c for c in root.iter(_MAIN + "c")}
    for formula in root.iter(_MAIN + "f"):
        if formula.get("t") != "array":
            continue
        for address in block_cells(str(formula.get("ref"))):
            cell = cells.get(address)
            if cell is not None:
                for value in [*cell.findall(_VALUE), *cell.findall(_INLINE)] if len(cell) else ():
                    cell.remove(value)
                cell.attrib.pop("t", "")
    return etree.tostring(root, xml_declaration=True, encoding="UTF-8", standalone=True)


def _adapter(name: str, record: Recomputed) -> Callable[..., Any]:
    def wrapped(*given: Any) -> Any:
        values = [_argument(v) for v in given]
        result = spread(catalogue()[name], values, call(name, values, record))
        return result if isinstance(result, list) else _scalar(result)

    return wrapped


def _argument(value: Any) -> Value | Rows:
    if isinstance(value, list):
        return [[_one(v) for v in row] for row in value]
    return _one(value)


def _one(value: Any) -> Value:
    if isinstance(value, dict):
        return CellError(_CODES.get(str(value.get("kind")), "#VALUE!"))
    return tidy(value)


def _scalar(value: Value) -> Value:
    return 0.0 if value is None else value
