"""Says how a number of a job came about: its formula in the words of the sheets, and its figures.

Contract: :func:`explain` returns plain lines, each with its unit; it recomputes nothing itself but
the row of a block function, whose working the function itself tells.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence

from openpyxl.formula.tokenizer import Tokenizer

from pourbook.cells import Address, Rows, Told, Value, is_blank, ranges_of, text
from pourbook.dates import day_of
from pourbook.errors import MisreadError, PourbookError, UnknownError
from pourbook.formats.ooxml import addresses
from pourbook.functions.catalogue import JOINTS, catalogue
from pourbook.records import dataclass
from pourbook.workbook.check.structure import as_offered, describe
from pourbook.workbook.layout.laid_out import Layout, PlannedCell
from pourbook.workbook.read.read import RawBook
from pourbook.workbook.tell import working
from pourbook.workbook.tell.summary import is_moment, moment

_PLACE = re.compile(r"^'?([^'!]+)'?!\$?([A-Za-z]{1,3})\$?(\d{1,7})$")
DEPTH = 3
_WHEN_OK = "when_ok("
_NAME = re.compile(r"\{([^{}]+)\}")


@dataclass(frozen=True)
class ExplainedLine:
    """One line of an explanation; ``depth`` says how far it is from the number asked for."""

    depth: int
    what: str
    value: str
    how: str = ""


def explain(
    plan: Layout, book: RawBook, values: Mapping[Address, Value], place: str
) -> list[ExplainedLine]:
    """Explain one cell.

    Args:
        plan: The workbook's layout.
        book: The workbook as read.
        values: Its recomputed values.
        place: ``SHEET!CELL``.

    Raises:
        InputError: There is no such sheet, or the place cannot be read.
    """
    sheet, address = _find(book, place)
    teller = _Teller(plan, book, values)
    return list(teller.tell(sheet, address, 0, set()))


def _find(book: RawBook, place: str) -> Address:
    match = _PLACE.match(place.strip())
    try:
        addresses.split(f"{match[2]}{match[3]}" if match else "")
    except ValueError:
        raise MisreadError(f"'{place}' is no cell", "type it as Rooms!Q12", "explain") from None
    assert match is not None  # without it the split has refused
    for name in book.sheets:
        if name.casefold() == match[1].casefold():
            return name, f"{match[2].upper()}{match[3]}"
    known = ", ".join(book.sheets)
    raise UnknownError(f"there is no sheet '{match[1]}'", f"the sheets are {known}", "explain")


class _Teller:
    def __init__(self, plan: Layout, book: RawBook, values: Mapping[Address, Value]) -> None:
        self.plan = plan
        self.book = book
        self.values = values

    def value(self, sheet: str, address: str) -> Value:
        if (sheet, address) in self.values:
            return self.values[sheet, address]
        found = self.book.sheets.get(sheet)
        return found.value(address) if found else None

    def tell(
        self, sheet: str, address: str, depth: int, seen: set[Address]
    ) -> Iterator[ExplainedLine]:
        planned = self.plan.by_address.get((sheet, address))
        raw = self.book.sheets[sheet].cells.get(address) if sheet in self.book.sheets else None
        shown = self.shown(planned, self.value(sheet, address))
        if planned is None:
            what = f"{sheet}!{address}, a cell of your own"
            yield ExplainedLine(depth, what, shown, raw.formula if raw else "")
            return
        name = f"{sheet}!{address}, {describe(self.plan, planned)}"
        if as_offered(planned, raw):
            yield ExplainedLine(depth, name, shown, "offered by the sheet; it may be typed over")
        elif planned.role == "entry":
            yield ExplainedLine(depth, name, shown, "typed")
        elif planned.role == "kept":
            yield ExplainedLine(depth, name, shown, "written by a command")
        elif planned.fill:
            yield ExplainedLine(depth, name, shown, f"worked out by {self._function(planned.fill)}")
            yield from self._working(planned, depth + 1)
        elif planned.formula:
            yield ExplainedLine(depth, name, shown, readable(self.plan, planned))
            if depth < DEPTH and (sheet, address) not in seen:
                seen.add((sheet, address))
                yield from self._precedents(planned, depth + 1, seen)
        else:
            yield ExplainedLine(depth, name, shown, "part of the template")

    def _function(self, block: str) -> str:
        fill = self.plan.block(block).fill
        return own_call(fill.function, fill.arguments)[0] if fill else ""

    def shown(self, planned: PlannedCell | None, value: Value) -> str:
        if value is None or value == "":
            return "blank"
        if isinstance(value, str | bool):
            return text(value)
        unit = ""
        number = f"{value:,.6g}"
        if planned is not None and planned.field is not None:
            currency = text(self.value(*self._currency()))
            unit = self.plan.unit(planned.field.unit).replace("@money", currency)
            if "@money" in planned.field.unit:
                number = f"{value:,.2f}"
            if unit == "%":
                number, unit = f"{value * 100:.6g} %", ""
            if is_moment(planned.field):
                return moment(float(value))
            if planned.field.kind == "date" or "yyyy" in planned.field.format:
                return _date(float(value))
        return f"{number} {unit}".strip()

    def _currency(self) -> Address:
        block, _, name = self.plan.book.currency.partition(".")
        cell = self.plan.cell(block, name)
        return cell.sheet, cell.address

    def _precedents(
        self, planned: PlannedCell, depth: int, seen: set[Address]
    ) -> Iterator[ExplainedLine]:
        told: set[Address] = set()
        for token in Tokenizer(planned.formula).items:
            if token.type != "OPERAND" or token.subtype != "RANGE":
                continue
            sheet, _, area = token.value.rpartition("!")
            sheet = sheet.strip("'") or planned.sheet
            listed = addresses.cells(area.replace("$", ""))
            if (sheet, area) in told:
                continue
            told.add((sheet, area))
            if self._in_order(sheet, listed[0]):
                continue
            if len(listed) == 1:
                yield from self.tell(sheet, listed[0], depth, seen)
            else:
                yield self._range(sheet, listed, depth)

    def _in_order(self, sheet: str, address: str) -> bool:
        """Return whether a cell only says that its block is in order: no news."""
        planned = self.plan.by_address.get((sheet, address))
        is_state = planned is not None and planned.field is not None and planned.field.id == "state"
        return is_state and self.value(sheet, address) == "ok"

    def _range(self, sheet: str, listed: list[str], depth: int) -> ExplainedLine:
        found = [self.value(sheet, a) for a in listed]
        numbers = [v for v in found if isinstance(v, int | float) and not isinstance(v, bool)]
        first = self.plan.by_address.get((sheet, listed[0]))
        label = ""
        if first is not None and first.field is not None:
            label = f", the column '{self.plan.text(first.field.header)}'"
        what = f"{sheet}!{listed[0]}:{listed[-1]}{label}"
        if not numbers:
            filled = sum(not is_blank(v) for v in found)
            return ExplainedLine(depth, what, f"{filled} filled cells")
        return ExplainedLine(
            depth, what, f"{len(numbers)} numbers, together {self.shown(first, sum(numbers))}"
        )

    def _rows(self, named: str) -> Rows:
        """Return the cells of a block's argument such as ``{rooms.entries}``."""
        block, _, part = named.strip("{}").partition(".")
        declared, place = self.plan.block(block), self.plan.places[block]
        width = len(declared.columns) if part == "entries" else len(declared.printed_fields())
        return [
            [
                self.value(place.sheet, addresses.a1(row, c))
                for c in range(place.left, place.left + width)
            ]
            for row in range(place.first, place.last + 1)
        ]

    def _working(self, planned: PlannedCell, depth: int) -> Iterator[ExplainedLine]:
        fill = self.plan.block(planned.fill).fill
        assert fill is not None
        try:
            for step in self._steps(planned, fill.function, fill.arguments):
                number = f"{step.value:,.6g} {step.unit}".strip()
                yield ExplainedLine(depth, step.label, number, step.working)
        except PourbookError as error:
            yield ExplainedLine(depth, "it cannot be worked out", str(error))

    def _argument(self, named: str) -> Rows | Value:
        """Return what a block function is handed: the rows of a table, or one cell."""
        block, _, name = named.strip("{}").partition(".")
        declared = self.plan.block(block)
        if declared.kind == "table" and name in {"entries", "results", "all"}:
            return self._rows(named)
        if named == "{" + self.plan.book.system + "}":
            return self.plan.system.name
        first, ranged, last = name.partition(":")
        ids = [field.id for field in declared.all_fields()]
        names = ids[ids.index(first) : ids.index(last) + 1] if ranged else [name]
        rows = range(declared.rows if declared.kind == "table" else 1)
        cells = [[self.plan.cell(block, one, row) for one in names] for row in rows]
        found = [[self.value(cell.sheet, cell.address) for cell in row] for row in cells]
        if declared.kind == "table":
            return found
        return [[value] for value in found[0]] if ranged else found[0][0]

    def _steps(self, planned: PlannedCell, function: str, arguments: tuple[str, ...]) -> list[Told]:
        function, arguments = own_call(function, arguments)
        given = [self._argument(name) for name in arguments]
        with ranges_of(int(self.plan.version)):
            column = planned.field.id if planned.field else ""
            return working.steps(function, given, planned.index, self.plan.system, column)


def own_call(function: str, arguments: Sequence[str]) -> tuple[str, tuple[str, ...]]:
    """Return the call of a table alone, where one call works several out.

    Example:
        >>> own_call("PB_READ", ["{a.b}"])
        ('PB_READ', ('{a.b}',))
    """
    if function not in JOINTS:
        return function, tuple(arguments)
    names = [argument.name for argument in catalogue()[function].arguments]
    handed = dict(zip(names, arguments, strict=True))
    own = JOINTS[function][0]
    return own, tuple(handed[argument.name] for argument in catalogue()[own].arguments)


def readable(plan: Layout, planned: PlannedCell) -> str:
    """Return a cell's formula in the words of the sheets.

    Example:
        >>> from pourbook.workbook.layout.lay_out import lay_out
        >>> job = lay_out("job", "us", 20)
        >>> readable(job, job.cell("price", "direct"))
        '[Coatings]+[Additives]+[Sundries]+[Labour]+[Travel]'
    """
    named = planned.named
    if named.startswith(_WHEN_OK):
        named = named.removeprefix(_WHEN_OK).removesuffix(")")
    return _NAME.sub(lambda m: f"[{_words(plan, planned, m[1])}]", named)


def _words(plan: Layout, planned: PlannedCell, name: str) -> str:
    if name == "@instance":
        return plan.block(planned.block).instances[planned.index]
    block, _, rest = name.partition(".")
    if name.startswith("@"):
        block, rest = planned.block, name[1:]
    declared = plan.block(block)
    field = rest.partition(".")[0]
    if declared.kind == "checks":
        return "the checks"
    if "@i" in field:
        field = field.replace("@i", plan.block(planned.block).instances[planned.index].lower())
    known = {item.id: item.header for item in declared.all_fields()}
    return plan.text(known.get(field) or declared.title or declared.id)


def _date(serial: float) -> str:
    return day_of(serial).isoformat()
