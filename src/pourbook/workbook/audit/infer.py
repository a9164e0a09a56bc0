"""What sort of figure a formula gives, from the sorts of the cells it reads.

Contract: :func:`infer` walks a formula that formualizer took apart and raises
:class:`~pourbook.workbook.audit.sorts.UnitError` at the first two figures that do not go together.
What a function gives that is not listed here is not known, and goes with anything.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import lru_cache, reduce
from typing import Any

from pourbook.records import dataclass
from pourbook.workbook.audit.sorts import (
    ANY,
    COUNT,
    ORDINAL,
    PER_CENT,
    PLAIN,
    SHARE,
    TEXT,
    Sort,
    UnitError,
    sort_of,
)

Node = Mapping[str, Any]
_KEEP = {"ABS", "INT", "ROUND", "ROUNDUP", "ROUNDDOWN", "SUM", "AVERAGE", "N"}
"""Functions whose result is of the sort of their first argument, or of all they add up."""
_SAME = {"SUM", "MAX", "MIN", "AVERAGE"}
_COUNT = {"COUNT", "COUNTA", "COUNTBLANK", "COUNTIF", "COUNTIFS", "ROWS", "COLUMNS"}
_TRUTH = {"AND", "OR", "NOT", "ISNUMBER", "ISBLANK", "ISERROR", "ISTEXT"}
_TEXTS = {"TEXT", "HYPERLINK", "LEFT", "RIGHT", "MID", "TRIM", "UPPER", "LOWER", "CONCAT"}
_COMPARED = {"=", "<>", "<", ">", "<=", ">="}
_HUNDRED = 100.0


@dataclass(frozen=True)
class Reading:
    """How the names in a formula are understood.

    ``cell`` gives the sort of a reference, ``macro`` that of a call of a rule that is written once
    (None if it is none), ``typed`` that of a bare number other than 0.
    """

    cell: Callable[[str], Sort]
    macro: Callable[[str, list[Sort]], Sort | None]
    typed: Sort = PLAIN


def infer(formula: str, reading: Reading) -> Sort:
    """Return what sort of figure a formula gives.

    Args:
        formula: With its ``=``; names of cells as ``reading`` knows them.
        reading: What those names mean.

    Raises:
        UnitError: Two figures in it do not go together.

    Example:
        >>> sorts = {"hours": sort_of("h"), "rate": sort_of("@money/h"), "trip": sort_of("@money")}
        >>> reading = Reading(sorts.__getitem__, lambda name, given: None)
        >>> str(infer("=MAX(hours,0)*rate+trip", reading))
        'money'
        >>> infer("=hours+rate", reading)
        Traceback (most recent call last):
        pourbook.workbook.audit.sorts.UnitError: h and money/h are added
    """
    return _Walk(reading).of(taken_apart(formula))


@lru_cache(maxsize=4096)
def taken_apart(formula: str) -> Node:
    """Return the tree of a formula."""
    import formualizer  # noqa: PLC0415 - of the formulas of a shop itself alone

    tree: Node = formualizer.parse(formula).to_dict()
    return tree


class _Walk:
    def __init__(self, reading: Reading) -> None:
        self.reading = reading

    def of(self, node: Node) -> Sort:
        kind = node["node_type"]
        if kind == "Literal":
            return self._literal(node["value"])
        if kind == "Reference":
            return self.reading.cell(node["reference"])
        if kind == "UnaryOp":
            inner = self.of(node["operand"])
            return inner.times(PLAIN) if node["operator"] == "%" else inner
        if kind == "BinaryOp":
            return self._operation(node["operator"], node["left"], node["right"])
        if kind == "Function":
            return self._call(node["name"], node["args"])
        return ANY

    def _literal(self, value: object) -> Sort:
        if isinstance(value, bool):
            return PLAIN
        if isinstance(value, int | float):
            return self.reading.typed if value else ANY
        return TEXT if isinstance(value, str) else ANY

    def _operation(self, sign: str, left: Node, right: Node) -> Sort:
        one, two = self.of(left), self.of(right)
        if sign == "&":
            return one if right.get("value") == "" else TEXT
        if sign in _COMPARED:
            if not _is_words(left) and not _is_words(right):
                one.beside(two)
            return PLAIN
        if sign in "+-":
            return one.plus(two, 1 if sign == "+" else -1)
        if sign == "^":
            power = right.get("value")
            return one.to(int(power)) if power in {2.0, 3.0} else one.times(two)
        if _HUNDRED in {left.get("value"), right.get("value")}:
            if sign == "*" and SHARE in {one, two}:
                return PER_CENT
            if sign == "/" and one == PER_CENT:
                return SHARE
        return one.times(two, 1 if sign == "*" else -1) if sign in {"*", "/"} else ANY

    def _call(self, name: str, args: list[Node]) -> Sort:
        found = self.reading.macro(name, [self.of(a) for a in args]) if name.islower() else None
        if found is not None:
            return found
        upper = name.upper()
        own, fewest = _OWN.get(upper, (None, 0))
        if own is not None:  # with too few arguments it is no formula: the engines say so
            return own(self, args) if len(args) >= fewest else ANY
        sorts = [self.of(a) for a in args]
        if upper in _SAME | _KEEP and not sorts:
            return ANY
        if upper in _SAME:
            return reduce(lambda a, b: a.beside(b, "put together"), sorts)
        if upper in _KEEP:
            return sorts[0]
        if upper in _TEXTS:
            return TEXT
        if upper in _COUNT | _TRUTH:
            return COUNT if upper in _COUNT else PLAIN
        return SHARE if upper == "SIGN" else ANY

    def chosen(self, args: list[Node]) -> Sort:
        self.of(args[0])
        return self.either(args[1:])

    def either(self, args: list[Node]) -> Sort:
        return reduce(Sort.either, (self.of(a) for a in args))

    def indexed(self, args: list[Node]) -> Sort:
        for one in args[1:]:
            _place(self.of(one))
        return self.of(args[0])

    def matched(self, args: list[Node]) -> Sort:
        self._beside_all(args[1], args[0])
        return ORDINAL

    def counted(self, args: list[Node]) -> Sort:
        self._pairs(args)
        return COUNT

    def summed(self, args: list[Node]) -> Sort:
        self._pairs(args[1:])
        return self.of(args[0])

    def multiplied(self, args: list[Node]) -> Sort:
        return reduce(Sort.times, (self.of(a) for a in args))

    def read(self, args: list[Node]) -> Sort:
        self.of(args[0])
        return _named(args[1])

    def converted(self, args: list[Node]) -> Sort:
        self.of(args[0]).beside(_named(args[1]), "taken for one another")
        return _named(args[2])

    def _pairs(self, args: list[Node]) -> None:
        for where, what in zip(args[::2], args[1::2], strict=False):
            self._beside_all(where, what)

    def _beside_all(self, where: Node, what: Node) -> None:
        """Hold what is looked for against what it is looked for among."""
        among = self.of(where)
        if what["node_type"] == "BinaryOp" and what["operator"] == "&" and _is_words(what["left"]):
            what = what["right"]  # a condition such as "<="&A1
        if not _is_words(what):
            among.beside(self.of(what))


_OWN: Mapping[str, tuple[Callable[[_Walk, list[Node]], Sort], int]] = {
    "IF": (_Walk.chosen, 2),
    "IFERROR": (_Walk.either, 1),
    "INDEX": (_Walk.indexed, 1),
    "MATCH": (_Walk.matched, 2),
    "COUNTIF": (_Walk.counted, 2),
    "COUNTIFS": (_Walk.counted, 2),
    "SUMIFS": (_Walk.summed, 1),
    "SUMPRODUCT": (_Walk.multiplied, 1),
    "PB_READ": (_Walk.read, 2),
    "PB_CONVERT": (_Walk.converted, 3),
}
"""Functions with a rule of their own, and the fewest arguments they take."""


def _place(sort: Sort) -> None:
    """Refuse what is no number of a row."""
    if sort.kind in {"measure", "day", "clock", "text"}:
        raise UnitError(f"{sort} is taken for the number of a row")


def _is_words(node: Node) -> bool:
    return isinstance(node.get("value"), str)


def _named(node: Node) -> Sort:
    """Return the sort a function is asked for by a unit that stands in the formula."""
    try:
        return sort_of(str(node.get("value", "?")))
    except UnitError:
        return ANY
