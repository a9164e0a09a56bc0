"""What a job must come to, worked out in Python from the entries alone, without a spreadsheet.

Contract: :class:`Pipeline` gives the value of a cell by block, field and row. Result tables come
from calling the catalogue's function with the arguments the template's fill names: of them it is no
oracle (those are ``tests/published`` and ``tests/oracles``), it says what every host has to hand
over and take back. What the sheets reckon with formulas of the spreadsheet program itself is
written a second time, in plain Python on :mod:`pourbook.trade`, in the modules beside this one; no
formula of a template is read. Cells outside :meth:`Pipeline.covers` are the mix cards, running
texts and currency labels.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Callable, Mapping
from typing import TypeVar

from tests.agreement import cells, closed, earned, finishes, native, settle, shopping, tied, used
from tests.agreement.checks import CHECKS
from tests.oracles import pricing

from pourbook.cells import CellError, Rows, Value
from pourbook.functions.catalogue import catalogue, evaluate
from pourbook.job import make
from pourbook.trade.price import build_up
from pourbook.workbook.layout.laid_out import Layout, PlannedCell

EPOCH = dt.date(1899, 12, 30)
_RULES = {
    **native.RULES,
    **used.RULES,
    **settle.RULES,
    **earned.RULES,
    **finishes.RULES,
    **shopping.RULES,
    **closed.RULES,
    **tied.RULES,
}
_SINGLE = native.SINGLE
_Once = TypeVar("_Once")


class Pipeline:
    """One job worked out; nothing is reckoned before it is asked for, and nothing twice.

    Args:
        plan: The layout of the job's measure system and rows.
        entries: What is typed; the templates' defaults go underneath, as in a new job.
    """

    def __init__(self, plan: Layout, entries: Mapping[tuple[str, str, int], object]) -> None:
        self.plan = plan
        self.entries = {**make.defaults(plan), **entries}
        self._known: dict[tuple[str, str, int], Value] = {}
        self._filled: dict[str, list[list[Value]]] = {}
        self._priced: dict[int, dict[str, Value]] = {}
        self._once: dict[Callable[[Pipeline], object], object] = {}

    def covers(self, cell: PlannedCell) -> bool:
        """Return whether a computed cell is one this module works out too."""
        if cell.fill or cell.role == "check" or cell.offer:
            return True
        if cell.field is None or cell.role != "formula":
            return False
        return cell.block in _RULES or (cell.block, cell.field.id) in _SINGLE

    def value(self, cell: PlannedCell) -> Value:
        """Return what a computed cell must show, a blank as an empty text."""
        found: Value
        if cell.role == "check" and not cell.block:  # the overall check at the top of a sheet
            found = self.get("overall", "overall")
        elif cell.role == "check":
            name = self.plan.block(cell.block).checks[cell.index].id
            found = self.check(name)
        else:
            assert cell.field is not None
            found = self.get(cell.block, cell.field.id, cell.index)
        if found is None:
            return ""
        return float(found) if isinstance(found, int) and not isinstance(found, bool) else found

    def get(self, block: str, name: str, index: int = 0) -> Value:
        """Return one cell by block, field and row or option."""
        key = (block, name, index)
        if key not in self._known:
            self._known[key] = self._work_out(*key)
        return self._known[key]

    def column(self, block: str, name: str) -> list[Value]:
        """Return a whole column of a table, or a line across the options."""
        declared = self.plan.block(block)
        rows = len(declared.instances) if declared.kind == "lines" else declared.rows
        return [self.get(block, name, index) for index in range(self._rows(block) or rows)]

    def _rows(self, block: str) -> int:
        place = self.plan.places[block]
        return place.last - place.first + 1 if self.plan.block(block).kind == "table" else 0

    def _work_out(self, block: str, name: str, index: int) -> Value:
        declared = self.plan.block(block)
        if declared.fill and any(f.id == name for f in declared.fill.columns):
            column = [f.id for f in declared.fill.columns].index(name)
            return self._fill(block)[index][column]
        item = declared.field(name)
        if item.kind == "index":
            return float(index + 1)
        if item.kind == "fixed":
            fixed = self.plan.cell(block, name, index).value
            return fixed if fixed is None or isinstance(fixed, str) else float(fixed)
        if item.kind == "formula":
            rule = _SINGLE.get((block, name))
            try:
                found = rule(self, index) if rule else _RULES[block](self, name, index)
            except cells.Refused as refusal:
                return CellError(str(refusal))
            except ZeroDivisionError:
                return CellError("#DIV/0!")
            return 0.0 if found is None else found  # a formula that shows a blank cell shows 0
        if (block, name, index) not in self.entries and item.offers:
            return finishes.offered(self, block, name, index)
        return _typed(self.entries.get((block, name, index)))

    def _fill(self, block: str) -> list[list[Value]]:
        if block not in self._filled:
            fill = self.plan.block(block).fill
            assert fill is not None
            function = catalogue()[fill.function]
            given = [self._argument(a.strip("{}")) for a in fill.arguments]
            result = evaluate(fill.function, given)
            rows = self._rows(block)
            if isinstance(result, list):
                assert len(result) == rows, f"{block}: {len(result)} rows for {rows}"
            else:
                result = [[result] * len(function.columns) for _ in range(rows)]
            self._filled[block] = result
        return self._filled[block]

    def _argument(self, named: str) -> Value | Rows:
        block, _, name = named.partition(".")
        declared = self.plan.block(block)
        if declared.kind == "form" and ":" not in name:
            return self.get(block, name)
        filled = declared.fill.columns if declared.fill else ()
        results = [f.id for f in filled if not f.aside]
        typed = [f.id for f in declared.columns]
        first, ranged, last = name.partition(":")
        every = typed + [f.id for f in filled]
        span = every[every.index(first) : every.index(last) + 1] if ranged else [name]
        lists = {"entries": typed, "results": results, "all": typed + results}
        columns = lists.get(name, span)
        if declared.kind == "form":
            return [[self.get(block, line)] for line in columns]
        rows = range(self._rows(block))
        return [[self.get(block, column, index) for column in columns] for index in rows]

    def once(self, work: Callable[[Pipeline], _Once]) -> _Once:
        """Return what a function makes of this job, and have it work only once."""
        if work not in self._once:
            self._once[work] = work(self)
        return self._once[work]  # type: ignore[return-value]

    def priced(self, index: int) -> dict[str, Value]:
        """Return every line of one option's price, by the name of the line."""
        if index not in self._priced:
            self._priced[index] = self._price(index)
        return self._priced[index]

    def _price(self, index: int) -> dict[str, Value]:
        letter = native.OPTIONS[index].lower()
        hours = self.column("labour", f"hours_{letter}")
        sundries = self.column("sundries", f"cost_{letter}")
        bought = self.column("buying", f"cost_{letter}")
        state = self.get("quant", "state", index)
        if state == "ok":
            state = self.get("rates", "ready")
            added = self.column("additives", "add_status")
            if sum(map(cells.bad, (hours, sundries, bought, added))):
                state = "! fix Labour, Buying"
        if state != "ok":
            return {f.id: state for f in self.plan.block("price").columns}

        def rate(name: str) -> float:
            return cells.number(self.get("rates", name))

        additives = cells.total(self.column("additives", f"add_cost_{letter}"))
        bits = cells.total([*sundries, *self.column("survey", "prep_cost")])
        alone = cells.same(self.get("rates", "paid_by"), "steps alone")
        by_step = cells.total([*hours, *self.column("survey", "prep_hours")])
        if not alone:
            steps = cells.total([self.get("options", "option_steps", index)])
            by_step += cells.number(self.get("pace", "prepare")) + steps
        on_days = cells.total([self.get("options", "option_paid", index)])
        work = by_step if alone else max(by_step, on_days)
        day = cells.number(self.get("site", "crew")) * cells.number(self.get("site", "hours"))
        visits = cells.numbers([self.get("options", "option_visits", index)])
        days = visits[0] if visits and not alone else float(math.ceil(round(work / day, 9)))
        markup = cells.same(self.get("rates", "uplift_is"), "markup")
        on = "labour" if cells.same(self.get("rates", "overhead_on"), "labour") else "direct cost"
        built = build_up.build_up(
            material=cells.total(bought),
            sundries=bits + additives,
            labour=work * rate("labour"),
            travel=days * rate("trip"),
            overhead_rate=rate("overhead"),
            overhead_on="labour" if on == "labour" else "direct cost",
            uplift="markup" if markup else "margin",
            uplift_rate=rate("uplift"),
            minimum=rate("minimum"),
            tax_rate=cells.number(self.get("money", "tax")),
        )
        asked = build_up.price_from_markup if markup else build_up.price_from_margin
        top = cells.number(self.get("measured", "top"))
        area = cells.number(self.get("measured", "total"))
        net = built.price_before_tax
        low, high = rate("replace_low") * top, rate("replace_high") * top
        return {
            "state": "ok", "material": built.material, "additives": additives, "sundries": bits,
            "by_step": by_step, "on_days": on_days, "hours": work,
            "labour": built.labour, "days": days, "travel": built.travel, "direct": built.direct,
            "overhead": built.overhead, "cost": built.cost,
            "asked": asked(built.cost, rate("uplift")), "net": net, "profit": built.profit,
            "margin": built.profit / net if net > 0 else 0.0, "tax": built.tax,
            "gross": built.price, "per_area": pricing.per_area(net, area),
            "material_per_area": pricing.per_area(built.material, area), "replace_low": low,
            "replace_high": high, "saved_low": low - net, "saved_high": high - net,
        }  # fmt: skip

    def check(self, name: str) -> str:
        """Return what a check comes to, OK or CHECK."""
        try:
            return "OK" if CHECKS[name](self) else "CHECK"
        except (cells.Refused, ZeroDivisionError, ValueError):
            return "CHECK"


def _typed(value: object) -> Value:
    """Return an entry as a cell holds it: dates are days, numbers are floats."""
    if isinstance(value, dt.datetime):
        return (value - dt.datetime.combine(EPOCH, dt.time())) / dt.timedelta(days=1)
    if isinstance(value, dt.date):
        return float((value - EPOCH).days)
    if value is None or isinstance(value, str):
        return value
    assert isinstance(value, int | float)
    return float(value)
