"""Turns formulas into code that Python runs, for the formulas Pourbook confirms itself.

The code of a formula is a function of the rows it names, in the order in which the text names them,
see :mod:`pourbook.hosts.headless.shapes`.

Contract: :func:`code_of` gives code for what :mod:`pourbook.hosts.headless.cell_rules` does
exactly, and nothing for any other formula. What Pourbook's own functions are given are blanks as
None, areas as lists of rows, numbers as floats. A formula may come from anybody: nothing of its
text gets into the code but names of functions that stand here, numbers, rows as parameters, texts
as Python writes texts, and sheets by their letters and digits.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from types import CodeType
from typing import Any

from pourbook.formats.ooxml.addresses import split
from pourbook.functions.catalogue import catalogue
from pourbook.hosts.headless.code_words import (
    NoCodeError,
    Words,
    as_text,
    equality,
    literal,
    one_value,
    values,
)
from pourbook.hosts.headless.shapes import Code, shape_of

_REFERENCE = re.compile(
    r"(?:(?:'((?:[^']|'')+)'|([^\W\d][\w.]*))!)?"
    r"\$?([A-Z]{1,3})\$?([1-9]\d{0,6})(?::\$?([A-Z]{1,3})\$?([1-9]\d{0,6}))?"
)
LAST_ROW = 100_000
"""Formulas that name a row further down are worked out by an engine."""
CALL = "call"
"""The name under which the code calls a function of Pourbook: its name, then what it is given."""
AREA = "area"
"""The name under which it takes the rows of an area: its columns, its first row and its last."""
_ARITHMETIC = frozenset("+-*/")
_ORDER = {"<": "less({0}, {1})", ">": "less({1}, {0})"}
_ORDER |= {"<=": "not less({1}, {0})", ">=": "not less({0}, {1})"}
_OF_MANY = {"SUM": "sum(floats({}), 0.0)", "COUNT": "float(len(floats({})))"}
_OF_MANY |= {"MAX": "largest({})", "MIN": "smallest({})", "COUNTA": "filled({})"}
_OF_ONE = {"ABS": "abs({})", "INT": "whole({})", "SIGN": "sign({})"}
_PLACES = {"ROUND": "rounded", "ROUNDUP": "rounded_up"}
_TEXTS = {"TRIM": ("trimmed", 1), "SUBSTITUTE": ("substituted", 3)}


def code_of(formula: str, sheet: str) -> Code | None:
    """Return the code of a formula's shape; nothing where an engine has to work it out.

    Args:
        formula: A formula of that shape, with its equals sign.
        sheet: Where it stands.
    """
    rows = shape_of(formula)[1]
    import formualizer  # noqa: PLC0415 - seldom wanted: what is ours is kept as code

    writer = _Writer(sheet.casefold())
    try:
        words = writer.top(formualizer.parse(formula).to_dict())
    except (NoCodeError, formualizer.ParserError, formualizer.TokenizerError):
        return None
    if tuple(writer.rows) != rows or max(rows, default=0) > LAST_ROW:
        return None
    names = ", ".join(f"p{number}" for number in range(len(rows)))
    try:
        module = compile(f"lambda {names}: {words}", "<a formula>", "eval")
    except (SyntaxError, RecursionError, MemoryError):  # deeper than Python reads
        return None
    code = _small(next(one for one in module.co_consts if isinstance(one, CodeType)))
    reads = tuple(dict.fromkeys(writer.reads))
    return Code(code, tuple(sorted(writer.columns)), reads, writer.calls)


def _small(code: CodeType) -> CodeType:
    """Return code without the places of its words in a text that nobody has: a third of it."""
    constants = (_small(one) if isinstance(one, CodeType) else one for one in code.co_consts)
    return code.replace(co_linetable=b"", co_consts=tuple(constants))


Node = Mapping[str, Any]


@dataclass
class _Writer:
    """Writes the Python of one formula; ``array`` collects the columns that rows are taken of."""

    sheet: str
    rows: list[int] = field(default_factory=list)
    columns: set[tuple[str, str, int]] = field(default_factory=set)
    reads: list[tuple[str, int, int]] = field(default_factory=list)
    calls: bool = False
    array: dict[str, str] | None = None

    def top(self, node: Node) -> str:
        """Return the words of a whole formula: a call of ours as it is, all else as one value."""
        if node["node_type"] == "Function" and node["name"] in catalogue():
            return self.called(node["name"], node["args"])
        return self.value(node)

    def value(self, node: Node) -> str:
        """Return words that give one value."""
        return one_value(self.words(node)).text

    def number(self, node: Node) -> str:
        words = one_value(self.words(node))
        return words.text if words.kind == "number" else f"number({words.text})"

    def truth(self, node: Node) -> str:
        words = one_value(self.words(node))
        return words.text if words.kind == "truth" else f"truth({words.text})"

    def condition(self, node: Node) -> str:
        """Return words for a condition among others: what a cell holds may not be one at all."""
        words = one_value(self.words(node))
        if words.kind in {"truth", "number"}:
            return words.text if words.kind == "truth" else f"({words.text} != 0.0)"
        return f"condition({words.text})"

    def column(self, node: Node) -> str:
        """Return words that give the values of one row or column of cells."""
        return values(self.words(node))

    def words(self, node: Node) -> Words:
        kind = node["node_type"]
        if kind == "Literal":
            return literal(node["value"])
        if kind == "Reference":
            return self.reference(node["reference"])
        if kind == "UnaryOp":
            return self.unary(node)
        if kind == "BinaryOp":
            return self.binary(node)
        if kind == "Function":
            return self.function(node["name"], node["args"])
        raise NoCodeError

    def reference(self, text: str) -> Words:
        found = _REFERENCE.fullmatch(text)
        if found is None:
            raise NoCodeError
        sheet = (found[1] or found[2] or self.sheet).replace("''", "'").casefold()
        first, left = self.row(found[4]), split(f"{found[3]}1")[1]
        if not found[5]:
            name, at = self.named(sheet, left), len(self.rows) - 1
            self.reads.append((name, at, at))
            return Words("cell", f"{name}[{first}]")
        last, right = self.row(found[6]), split(f"{found[5]}1")[1]
        if right < left:
            raise NoCodeError
        names = [self.named(sheet, column) for column in range(left, right + 1)]
        self.reads += [(name, len(self.rows) - 2, len(self.rows) - 1) for name in names]
        cut = [f"{name}[{first}:{last}+1]" for name in names]
        ends = (first, last)
        if len(cut) > 1:
            return Words("area", f"({', '.join(cut)})", tuple(names), ends)
        if self.array is not None:
            return Words("cell", self.array.setdefault(cut[0], f"v{len(self.array)}"))
        return Words("column", cut[0], tuple(names), ends)

    def row(self, text: str) -> str:
        self.rows.append(int(text))
        return f"p{len(self.rows) - 1}"

    def named(self, sheet: str, column: int) -> str:
        letters = "".join(
            one if one.isascii() and one.isalnum() else f"_{ord(one):x}" for one in sheet
        )
        name = f"c_{letters}_{column}"
        self.columns.add((name, sheet, column))
        return name

    def unary(self, node: Node) -> Words:
        written = {"-": "(-{})", "+": "{}", "%": "({} / 100.0)"}.get(node["operator"])
        if written is None:
            raise NoCodeError
        return Words("number", written.format(self.number(node["operand"])))

    def binary(self, node: Node) -> Words:
        operator, left, right = node["operator"], node["left"], node["right"]
        if operator in _ARITHMETIC:
            words = f"({self.number(left)} {operator} {self.number(right)})"
            return Words("number", words)
        if operator == "^":
            return Words("number", f"power({self.number(left)}, {self.number(right)})")
        if operator == "&":
            one, two = (one_value(self.words(side)) for side in (left, right))
            return Words("text", f"{as_text(one)} + {as_text(two)}")
        one, two = (one_value(self.words(side)) for side in (left, right))
        if operator in {"=", "<>"}:
            equal = equality(one, two)
            return Words("truth", equal if operator == "=" else f"(not {equal})")
        if operator not in _ORDER:
            raise NoCodeError
        if one.kind == two.kind == "number":
            return Words("truth", f"({one.text} {operator} {two.text})")
        return Words("truth", f"({_ORDER[operator].format(one.text, two.text)})")

    def function(self, name: str, args: Sequence[Node]) -> Words:
        if name in _OF_MANY and self.array is None:
            return Words("number", _OF_MANY[name].format(self.many(args)))
        if name in {"AND", "OR"} and args:
            every = "all" if name == "AND" else "any"
            return Words("truth", f"{every}(({', '.join(map(self.condition, args))},))")
        if name in _OF_ONE and len(args) == 1:
            return Words("number", _OF_ONE[name].format(self.number(args[0])))
        if name in _PLACES and len(args) == 2:
            value, places = (self.number(one) for one in args)
            return Words("number", f"{_PLACES[name]}({value}, {places})")
        if name in _TEXTS and len(args) == _TEXTS[name][1]:
            return Words("text", f"{_TEXTS[name][0]}({', '.join(map(self.value, args))})")
        if name in catalogue():
            return Words("worked out", f"single({self.called(name, args)})")
        write = _WRITERS.get(name)
        if write is None or self.array is not None:
            raise NoCodeError
        return write(self, args)

    def called(self, name: str, args: Sequence[Node]) -> str:
        """Return words that call a function of Pourbook."""
        self.calls = True
        given = []
        for one in args:
            words = self.words(one)
            text = words.text
            if words.kind in {"column", "area"}:
                columns = words.columns or (words.text,)
                text = f"{AREA}(({', '.join(columns)},), {', '.join(words.ends)})"
            given.append(text)
        return f"{CALL}({name!r}, [{', '.join(given)}])"

    def many(self, args: Sequence[Node]) -> str:
        """Return words that give all values of some cells and numbers."""
        parts = []
        for one in args:
            words = self.words(one)
            if words.kind == "column":
                parts.append(f"*{words.text}")
            elif words.kind == "area":
                parts.append(f"*flat({words.text})")
            elif words.kind in {"cell", "number"}:
                parts.append(words.text)
            else:  # counted as what it says by some functions, passed over by others
                raise NoCodeError
        if not parts:
            raise NoCodeError
        if len(parts) == 1 and parts[0].startswith("*"):
            return parts[0][1:]
        return f"({', '.join(parts)},)"

    def choice(self, args: Sequence[Node]) -> Words:
        """IF: one of two values, the other not worked out."""
        if len(args) != 3:
            raise NoCodeError
        condition = self.truth(args[0])
        one, two = (one_value(self.words(side)) for side in args[1:])
        kind = one.kind if one.kind == two.kind != "cell" else "worked out"
        return Words(kind, f"({one.text} if {condition} else {two.text})")

    def otherwise(self, args: Sequence[Node]) -> Words:
        """IFERROR."""
        if len(args) != 2:
            raise NoCodeError
        one, two = (one_value(self.words(side)) for side in args)
        kind = one.kind if one.kind == two.kind != "cell" else "worked out"
        return Words(kind, f"otherwise(lambda: {one.text}, lambda: {two.text})")

    def no(self, args: Sequence[Node]) -> Words:
        """NOT."""
        if len(args) != 1:
            raise NoCodeError
        return Words("truth", f"(not {self.truth(args[0])})")

    def height(self, args: Sequence[Node]) -> Words:
        """ROWS of an area or a cell."""
        words = self.words(args[0])
        if len(args) != 1 or words.kind not in {"column", "area", "cell"}:
            raise NoCodeError
        first, last = words.ends
        return Words("number", f"float({last} - {first} + 1)" if first else "1.0")

    def index(self, args: Sequence[Node]) -> Words:
        """INDEX of one cell."""
        words = self.words(args[0])
        if words.kind not in {"column", "area", "cell"} or len(args) not in {2, 3}:
            raise NoCodeError
        places = [self.number(one) for one in args[1:]]
        one_column = {"cell": f"({words.text},)", "column": words.text}.get(words.kind)
        if len(places) == 1:
            return Words("cell", f"at({one_column or f'line({words.text})'}, {places[0]})")
        known = args[2].get("value") if args[2]["node_type"] == "Literal" else None
        if isinstance(known, float) and 1 <= known <= len(words.columns):
            first, last = words.ends
            cut = f"{words.columns[int(known) - 1]}[{first}:{last}+1]"
            return Words("cell", f"at({cut}, {places[0]})")
        columns = f"({one_column},)" if one_column else words.text
        return Words("cell", f"at_row({columns}, {places[0]}, {places[1]})")

    def match(self, args: Sequence[Node]) -> Words:
        """MATCH of an equal value."""
        if len(args) != 3 or args[2] != {"node_type": "Literal", "value": 0.0}:
            raise NoCodeError
        value = self.value(args[0])
        return Words("number", f"matched({value}, {self.column(args[1])})")

    def criteria(self, args: Sequence[Node]) -> str:
        if not args or len(args) % 2:
            raise NoCodeError
        pairs = zip(args[::2], args[1::2], strict=True)
        return ", ".join(self.criterion(self.column(cells), said) for cells, said in pairs)

    def criterion(self, column: str, said: Node) -> str:
        """Return words for one criterion; one joined of a relation and a value is not joined."""
        if said["node_type"] == "BinaryOp" and said["operator"] == "&":
            relation = said["left"].get("value", "")
            if relation in {"<", "<=", ">", ">="}:
                return f"compared({column}, {relation!r}, {self.value(said['right'])})"
        return f"met({column}, {self.value(said)})"

    def counted(self, args: Sequence[Node]) -> Words:
        """COUNTIF and COUNTIFS; one criterion is held against all cells of an area."""
        if len(args) == 2:
            cells = self.words(args[0])
            if cells.kind == "area":
                said = self.value(args[1])
                return Words("number", f"counted(met([*flat({cells.text})], {said}))")
            return Words("number", f"counted({self.criterion(values(cells), args[1])})")
        return Words("number", f"counted({self.criteria(args)})")

    def summed(self, args: Sequence[Node]) -> Words:
        """SUMIFS."""
        column = self.column(args[0])
        return Words("number", f"summed({column}, {self.criteria(args[1:])})")

    def product(self, args: Sequence[Node]) -> Words:
        """SUMPRODUCT of one product."""
        if len(args) != 1 or args[0].get("operator") != "*":
            raise NoCodeError
        self.array = {}
        words = self.number(args[0])
        columns, self.array = self.array, None
        if not columns:
            raise NoCodeError
        names = ", ".join(columns.values())
        return Words("number", f"products(lambda {names}: {words}, {', '.join(columns)})")

    def shown(self, args: Sequence[Node]) -> Words:
        """TEXT in a format that is written out."""
        if len(args) != 2 or not isinstance(args[1].get("value"), str):
            raise NoCodeError
        return Words("text", f"shown({self.number(args[0])}, {args[1]['value']!r})")

    def linked(self, args: Sequence[Node]) -> Words:
        """HYPERLINK: what it shows; where it leads is worked out, for it may be an error."""
        if len(args) != 2:
            raise NoCodeError
        return Words("worked out", f"({', '.join(map(self.value, args))})[1]")


_WRITERS: dict[str, Callable[[_Writer, Sequence[Node]], Words]] = {
    "IF": _Writer.choice,
    "IFERROR": _Writer.otherwise,
    "NOT": _Writer.no,
    "ROWS": _Writer.height,
    "INDEX": _Writer.index,
    "MATCH": _Writer.match,
    "COUNTIF": _Writer.counted,
    "COUNTIFS": _Writer.counted,
    "SUMIFS": _Writer.summed,
    "SUMPRODUCT": _Writer.product,
    "TEXT": _Writer.shown,
    "HYPERLINK": _Writer.linked,
}
