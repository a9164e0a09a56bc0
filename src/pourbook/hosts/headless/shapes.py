"""What formulas that stand in many rows share: their shape, and its code.

Such formulas differ in the rows they name alone. So a formula has a shape, its text without those
rows, and the code of a shape is a function of them. A column that it reads is a name of the code,
bound to the values of the column by row, counted from one.

Contract: plain data and texts; nothing here opens a file or runs a formula.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from types import CodeType

from pourbook.records import dataclass

_ROW = re.compile(
    r"(\"[^\"]*\"|'(?:[^']|'')*'!|[^\W\d][\w.]*!|[^\W\d][\w.]*\()"
    r"|(?<![\w.$])(\$?[A-Z]{1,3}\$?)([1-9]\d{0,6})(?![\w.(!])"
)
"""What looks like a cell and is none, else the column and the row of one."""


@dataclass(frozen=True)
class Code:
    """The code of a shape.

    ``columns`` are the names it uses, each with the sheet, in small letters, and the column it
    stands for; ``reads`` are the columns it reads by their names, each with the places, among the
    rows, of the first and the last row; ``calls`` says whether it calls a function of Pourbook.
    """

    code: CodeType
    columns: tuple[tuple[str, str, int], ...]
    reads: tuple[tuple[str, int, int], ...]
    calls: bool

    def takes(self, rows: Sequence[int]) -> bool:
        """Return whether it gives what the formula does with such rows."""
        return all(rows[first] <= rows[last] for _, first, last in self.reads)


def shape_of(formula: str) -> tuple[str, tuple[int, ...]]:
    """Return a formula without the rows it names, and those.

    Example:
        >>> shape_of('=IF(A1="B2",Rooms!$C$3:C40,LOG10(5))')
        ('=IF(A#="B2",Rooms!$C$#:C#,LOG10(5))', (1, 3, 40))
    """
    rows: list[int] = []

    def without(match: re.Match[str]) -> str:
        if match[1]:
            return match[1]
        rows.append(int(match[3]))
        return f"{match[2]}#"

    return _ROW.sub(without, formula), tuple(rows)
