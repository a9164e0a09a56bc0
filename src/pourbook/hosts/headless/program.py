"""The formulas of a workbook's templates as code, worked out once for a layout and kept with it.

Contract: a :class:`Program` says of every formula that the templates put somewhere which code gives
its value, and with which rows; it holds nothing of a job. Formulas without code are left out.
"""

from __future__ import annotations

import marshal
from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import field
from functools import cached_property
from itertools import repeat
from types import CodeType
from typing import Any, NamedTuple

from pourbook.hosts.headless.formula_code import code_of
from pourbook.hosts.headless.shapes import Code, shape_of
from pourbook.records import dataclass

Read = tuple[str, int, int]
"""A column that code reads, by its name, and the places, among the rows, of its first and last."""


class Known(NamedTuple):
    """A formula, the number of its code, and the rows it names."""

    formula: str
    code: int
    rows: tuple[int, ...]


@dataclass(frozen=True)
class Program:
    """The formulas that have code, by sheet and address.

    ``packed`` is the code of all shapes, and what each reads; ``calling`` are those that call a
    function of Pourbook, ``columns`` the names that they use, see
    :class:`~pourbook.hosts.headless.shapes.Code`, and ``last`` the last row they name.
    """

    at: Mapping[str, Mapping[str, Known]] = field(default_factory=dict)
    packed: tuple[bytes, bytes] = (marshal.dumps(()), marshal.dumps(()))
    calling: frozenset[int] = frozenset()
    columns: tuple[tuple[str, str, int], ...] = ()
    last: int = 0

    def __getstate__(self) -> dict[str, object]:
        """Return what is kept or sent elsewhere: code is unpacked where it is run."""
        here = {"codes", "mark", "reads"}
        found = {name: one for name, one in self.__dict__.items() if name not in here}
        found["at"] = {sheet: _as(tuple, formulas) for sheet, formulas in self.at.items()}
        return found

    def __setstate__(self, kept: dict[str, Any]) -> None:
        """Take what was kept or sent: bare tuples, which are read in a third of the time."""
        at = {sheet: _as(Known, formulas) for sheet, formulas in kept["at"].items()}
        self.__dict__.update(kept, at=at)

    @cached_property
    def mark(self) -> object:
        """What is known of a row by this program is known by; it holds nothing in memory."""
        return object()

    @cached_property
    def codes(self) -> tuple[CodeType, ...]:
        """The code of each shape, by its number."""
        found: tuple[CodeType, ...] = marshal.loads(self.packed[0])  # noqa: S302 - Python's own files
        return found

    @cached_property
    def reads(self) -> tuple[tuple[Read, ...], ...]:
        """What the code of each shape reads; nothing of those that call a function of Pourbook."""
        found: tuple[tuple[Read, ...], ...] = marshal.loads(self.packed[1])  # noqa: S302
        return found


def _as(kind: type[tuple[Any, ...]], formulas: Mapping[str, tuple[Any, ...]]) -> dict[str, Any]:
    """Return formulas by their address as another kind of tuple."""
    return dict(zip(formulas, map(tuple.__new__, repeat(kind), formulas.values()), strict=True))


def programmed(formulas: Iterable[tuple[str, str, str]]) -> Program:
    """Return the program of formulas, each with its sheet and address.

    Example:
        >>> program = programmed([("Rooms", "C1", "=A1+B1"), ("Rooms", "C2", "=A2+B2")])
        >>> program.at["Rooms"]["C2"], len(program.codes)
        (Known(formula='=A2+B2', code=0, rows=(2, 2)), 1)
    """
    numbers: dict[tuple[str, str], int] = {}
    codes: list[Code | None] = []
    at: dict[str, dict[str, Known]] = defaultdict(dict)
    last = 0
    for sheet, address, formula in formulas:
        shape, rows = shape_of(formula)
        number = numbers.setdefault((sheet, shape), len(codes))
        if number == len(codes):
            codes.append(_code(sheet, shape, formula))
        code = codes[number]
        if code is not None and code.takes(rows):
            at[sheet][address] = Known(formula, number, rows)
            last = max(last, *rows, 0)
    packed = tuple(code.code if code else _NONE for code in codes)
    reads = _once(() if code is None or code.calls else code.reads for code in codes)
    calling = frozenset(number for number, code in enumerate(codes) if code and code.calls)
    columns = {name for code in codes if code for name in code.columns}
    return Program(
        dict(at),
        (marshal.dumps(packed), marshal.dumps(reads)),
        calling,
        tuple(sorted(columns)),
        last,
    )


def _once(reads: Iterable[tuple[Read, ...]]) -> tuple[tuple[Read, ...], ...]:
    """Return what codes read, with what is equal as one object, which is then kept once."""
    alike: dict[Read, Read] = {}
    known: dict[tuple[Read, ...], tuple[Read, ...]] = {}
    found = []
    for read in reads:
        if read not in known:
            known[read] = tuple(alike.setdefault(one, one) for one in read)
        found.append(known[read])
    return tuple(found)


_NONE = compile("None", "<no code>", "eval")
_CODES: dict[tuple[str, str], Code | None] = {}
"""The code of the shapes met so far: layouts of other sizes have the same."""


def _code(sheet: str, shape: str, formula: str) -> Code | None:
    if (sheet, shape) not in _CODES:
        _CODES[sheet, shape] = code_of(formula, sheet)
    return _CODES[sheet, shape]
