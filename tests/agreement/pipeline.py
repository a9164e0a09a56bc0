"""What a job must come to, worked out in Python from the entries alone, without a spreadsheet.

Contract: :class:`Pipeline` gives the value of a cell by block, field and row. Result tables come
from calling the catalogue's function with the arguments the template's fill names. What the sheets
reckon with formulas of the spreadsheet program itself is written here a second time, in plain
Python on :mod:`pourbook.trade.pricing`; no formula of a template is read. Cells outside
:meth:`Pipeline.covers` are the mix cards, running texts and currency labels.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Callable, Iterable, Mapping

from pourbook import __version__
from pourbook.functions.catalogue import catalogue, evaluate
from pourbook.functions.values import CellError, Rows, Value
from pourbook.trade import pricing
from pourbook.workbook import job
from pourbook.workbook.plan import Plan, PlannedCell

EPOCH = dt.date(1899, 12, 30)
OPTIONS = "ABC"
NOISE = 0.000001
HIGH_LOSS = 0.3
CARDS = 24
_LABELS = {
    "job": "job", "layer": "layer", "batch": "batch", "finished area": "finished_area",
    "poured area": "poured_area", "trowelled area": "trowelled_area",
    "rolled area": "rolled_area", "sanded area": "sanded_area", "cleaned area": "cleaned_area",
    "edge run": "edge_run",
}  # fmt: skip


class Refused(Exception):  # noqa: N818 - an outcome, not a fault
    """What a formula comes to when it is given what it cannot reckon with."""


def _number(value: Value) -> float:
    """Return a cell in arithmetic: blank is 0, words are refused."""
    if value is None:
        return 0.0
    if isinstance(value, int | float):
        return float(value)
    raise Refused("#VALUE!")


def _numbers(values: Iterable[Value]) -> list[float]:
    return [float(v) for v in values if isinstance(v, int | float) and not isinstance(v, bool)]


def _total(values: Iterable[Value]) -> float:
    return math.fsum(_numbers(values))


def _is(value: Value, word: str) -> bool:
    return isinstance(value, str) and value.casefold() == word.casefold()


def _bad(values: Iterable[Value]) -> int:
    return sum(isinstance(v, str) and v.startswith("!") for v in values)


def _holding(values: Iterable[Value], words: str) -> int:
    return sum(isinstance(v, str) and words in v for v in values)


def _count(values: Iterable[Value], word: str) -> int:
    return sum(_is(v, word) for v in values)


def _empty(value: Value) -> bool:
    return value is None or value == ""


def _below(one: Value, other: Value) -> bool:
    """Return whether a cell is less than another: numbers come before words."""
    if _empty(one) and one is None:
        one = "" if isinstance(other, str) else 0.0
    if other is None:
        other = "" if isinstance(one, str) else 0.0
    if isinstance(one, str) != isinstance(other, str):
        return isinstance(other, str)
    if isinstance(one, str) and isinstance(other, str):
        return one.casefold() < other.casefold()
    return _number(one) < _number(other)


Rule = Callable[["Pipeline", int], Value]


class Pipeline:
    """One job worked out; nothing is reckoned before it is asked for, and nothing twice.

    Args:
        plan: The layout of the job's measure system and rows.
        entries: What is typed; the templates' defaults go underneath, as in a new job.
    """

    def __init__(self, plan: Plan, entries: Mapping[tuple[str, str, int], object]) -> None:
        self.plan = plan
        self.entries = {**job.defaults(plan), **entries}
        self._known: dict[tuple[str, str, int], Value] = {}
        self._filled: dict[str, list[list[Value]]] = {}
        self._priced: dict[int, dict[str, Value]] = {}

    def covers(self, cell: PlannedCell) -> bool:
        """Return whether a computed cell is one this module works out too."""
        if cell.fill or cell.role == "check":
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
            found = self._check(name)
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
            except Refused as refusal:
                return CellError(str(refusal))
            except ZeroDivisionError:
                return CellError("#DIV/0!")
            return 0.0 if found is None else found  # a formula that shows a blank cell shows 0
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
        if declared.kind == "form":
            return self.get(block, name)
        filled = declared.fill.columns if declared.fill else ()
        results = [f.id for f in filled if not f.aside]
        typed = [f.id for f in declared.columns]
        columns = {"entries": typed, "results": results, "all": typed + results}.get(name, [name])
        rows = range(self._rows(block))
        return [[self.get(block, column, index) for column in columns] for index in rows]

    def priced(self, index: int) -> dict[str, Value]:
        """Return every line of one option's price, by the name of the line."""
        if index not in self._priced:
            self._priced[index] = self._price(index)
        return self._priced[index]

    def _price(self, index: int) -> dict[str, Value]:
        letter = OPTIONS[index].lower()
        hours = self.column("labour", f"hours_{letter}")
        sundries = self.column("sundries", f"cost_{letter}")
        bought = self.column("buying", f"cost_{letter}")
        state = self.get("quant", "state", index)
        if state == "ok":
            state = self.get("rates", "ready")
            if _bad(hours) + _bad(sundries) + _bad(bought):
                state = "! mend Labour, Buying"
        if state != "ok":
            return {f.id: state for f in self.plan.block("price").columns}

        def rate(name: str) -> float:
            return _number(self.get("rates", name))

        work = _total(hours)
        day = _number(self.get("site", "crew")) * _number(self.get("site", "hours"))
        days = float(math.ceil(round(work / day, 9)))
        markup = _is(self.get("rates", "uplift_is"), "markup")
        on = "labour" if _is(self.get("rates", "overhead_on"), "labour") else "direct cost"
        built = pricing.build_up(
            material=_total(bought),
            sundries=_total(sundries),
            labour=work * rate("labour"),
            travel=days * rate("trip"),
            overhead_rate=rate("overhead"),
            overhead_on="labour" if on == "labour" else "direct cost",
            uplift="markup" if markup else "margin",
            uplift_rate=rate("uplift"),
            minimum=rate("minimum"),
            tax_rate=_number(self.get("money", "tax")),
        )
        asked = pricing.price_from_markup if markup else pricing.price_from_margin
        top = _number(self.get("measured", "top"))
        area = _number(self.get("measured", "total"))
        net = built.price_before_tax
        low, high = rate("replace_low") * top, rate("replace_high") * top
        return {
            "state": "ok", "material": built.material, "sundries": built.sundries, "hours": work,
            "labour": built.labour, "days": days, "travel": built.travel, "direct": built.direct,
            "overhead": built.overhead, "cost": built.cost,
            "asked": asked(built.cost, rate("uplift")), "net": net, "profit": built.profit,
            "margin": built.profit / net if net > 0 else 0.0, "tax": built.tax,
            "gross": built.price, "per_area": pricing.per_area(net, area),
            "material_per_area": pricing.per_area(built.material, area), "replace_low": low,
            "replace_high": high, "saved_low": low - net, "saved_high": high - net,
        }  # fmt: skip

    def _check(self, name: str) -> str:
        try:
            return "OK" if CHECKS[name](self) else "CHECK"
        except (Refused, ZeroDivisionError, ValueError):
            return "CHECK"


def _typed(value: object) -> Value:
    """Return an entry as a cell holds it: dates are days, numbers are floats."""
    if isinstance(value, dt.date):
        return float((value - EPOCH).days)
    if value is None or isinstance(value, str):
        return value
    assert isinstance(value, int | float)
    return float(value)


def _measured(p: Pipeline, name: str, _index: int) -> Value:
    status = p.column("rooms", "status")
    if name == "pieces":
        return _count(status, "ok")
    if name == "bad":
        return _bad(status)
    return "! mend the rows first" if _bad(status) else _total(p.column("rooms", name))


def _hours(p: Pipeline, _index: int) -> Value:
    begins, ends = p.get("site", "work_from"), p.get("site", "work_to")
    if not (_numbers([begins]) and _numbers([ends])):
        return "! type both hours"
    return _number(ends) - _number(begins)


def _same(block: str, name: str) -> Rule:
    """Return a rule that shows another table's cell of the same row."""

    def rule(p: Pipeline, index: int) -> Value:
        value = p.get(block, name, index)
        return "" if _empty(value) else value

    return rule


def _per(p: Pipeline, per: Value, each: float, option: int) -> Value:
    name = _LABELS.get(per.casefold()) if isinstance(per, str) else None
    quantity = p.get("quant", name, option) if name else None
    if isinstance(quantity, CellError) or not isinstance(quantity, float | int):
        return "! see Goes by"
    return each * quantity


def _labour(p: Pipeline, name: str, index: int) -> Value:
    option = OPTIONS.lower().index(name[-1])
    if _empty(p.get("labour", "step", index)) or p.get("quant", "state", option) == "":
        return ""
    hours = p.get("labour", "hours", index)
    if not _numbers([hours]):
        return "! type the hours"
    return _per(p, p.get("labour", "per", index), _number(hours), option)


def _sundry(p: Pipeline, name: str, index: int) -> Value:
    option = OPTIONS.lower().index(name[-1])
    if _empty(p.get("sundries", "item", index)) or p.get("quant", "state", option) == "":
        return ""
    many, each = p.get("sundries", "quantity", index), p.get("sundries", "each", index)
    if not (_numbers([many]) and _numbers([each])):
        return "! type number and price"
    return _per(p, p.get("sundries", "item_per", index), _number(many) * _number(each), option)


def _ready(p: Pipeline, _index: int) -> Value:
    typed = [p.get("rates", n) for n in ("labour", "trip", "overhead", "uplift")]
    typed += [p.get("money", "tax")]
    words = [p.get("rates", "overhead_on"), p.get("rates", "uplift_is")]
    day = [p.get("site", "crew"), p.get("site", "hours")]
    ready = (
        len(_numbers(typed)) == len(typed)
        and not any(map(_empty, words))
        and _number(typed[3]) < 1
        and not any(isinstance(d, str) for d in day)
        and _number(day[0]) * _number(day[1]) > 0
    )
    return "ok" if ready else "! fill in rates, Start"


def _quant(p: Pipeline, name: str, index: int) -> Value:
    option = OPTIONS[index]
    mine = [_is(o, option) for o in p.column("layers", "option")]
    status = p.column("amounts", "status")
    state = "ok"
    if not any(mine):
        state = ""
    elif _bad(s for s, own in zip(status, mine, strict=True) if own):
        state = "! mend Layers"
    if name == "state" or state != "ok":
        return state

    def summed(column: str, key: str = "", word: str = "") -> float:
        keys = p.column("layers", key) if key else [word] * len(mine)
        values = p.column("amounts", column)
        rows = zip(values, keys, mine, strict=True)
        return _total(v for v, k, own in rows if own and (not key or _is(k, word)))

    if name == "job":
        return 1.0
    if name == "layer":
        return float(sum(mine))
    if name == "batch":
        return summed("batches")
    if name == "finished_area":
        return p.get("measured", "total")
    if name == "edge_run":
        return "! mend Rooms" if p.get("measured", "bad") else _total(p.column("rooms", "run"))
    if name in {"sanded_area", "cleaned_area"}:
        return summed("area", "before", "sand 220 and clean" if name == "sanded_area" else "clean")
    methods = {"poured_area": "pour", "trowelled_area": "trowel", "rolled_area": "roll"}
    return summed("coated", "method", methods[name])


def _day(p: Pipeline, _index: int) -> Value:
    for name in ("start_date", "date"):
        if not _empty(p.get("start", name)):
            return p.get("start", name)
    return ""


def _price_line(p: Pipeline, name: str, index: int) -> Value:
    return p.priced(index)[name]


def _build(p: Pipeline, name: str, index: int) -> Value:
    option = OPTIONS[OPTIONS.lower().index(name[-1])]
    films = p.column("amounts", "dry")
    rows = zip(films, p.column("amounts", "option"), p.column("amounts", "number"), strict=True)
    return _total(dry for dry, of, number in rows if _is(of, option) and number == index + 1)


def _quote(p: Pipeline, name: str, index: int) -> Value:
    if name == "area":
        return p.get("measured", "total")
    return _same("rates" if name == "option" else "start", name)(p, 0)


def _quote_layers(p: Pipeline, name: str, index: int) -> Value:
    if name in {"rooms", "dry"}:
        if _empty(p.get("layers", "layer", index)):
            return ""
        if name == "dry":
            return p.get("amounts", "dry", index)
        only = p.get("layers", "rooms", index)
        return "all" if _empty(only) else only
    return _same("layers", name)(p, index)


def _quote_price(p: Pipeline, name: str, index: int) -> Value:
    if name == "tax_rate":
        return "" if _empty(p.get("price", "net", index)) else p.get("money", "tax")
    return p.get("price", name, index)


def _kept(p: Pipeline, _index: int) -> Value:
    status = p.column("days", "day_status")
    if _bad(status):
        return status[0]
    notes = p.column("days", "day_note")
    if any(isinstance(n, str) and n.casefold().startswith("added") for n in notes):
        return "ok, with a recoat window missed: see the notes"
    return "ok"


def _bars(p: Pipeline, name: str, index: int) -> Value:
    def when(column: str) -> Value:
        return p.get("days", column, index)

    needs = {"next": "next_from", "light": "light_use", "hard": "hard_use"}.get(name, "work_from")
    if not _numbers([when(needs)]):
        return "" if name == "bar" else 0.0
    if name == "bar":
        return when("span_label")
    if name == "lead":
        return _number(when("work_from")) - _number(p.get("start", "start_date"))
    if name == "work":
        return _number(when("work_until")) - _number(when("work_from"))
    steps = _numbers(when(c) for c in ("work_until", "next_from", "light_use"))
    if name == "next":
        return max(_number(when("next_from")) - _number(when("work_until")), 0.0)
    if name == "light":
        until = _numbers(when(c) for c in ("work_until", "next_from"))
        return max(_number(when("light_use")) - max(until, default=0.0), 0.0)
    return max(_number(when("hard_use")) - max(steps, default=0.0), 0.0)


def _begins(p: Pipeline, index: int) -> Value:
    day = p.get("start", "start_date")
    return _number(day) + index / 24 if _numbers([day]) else ""


def _spans(p: Pipeline, name: str, index: int) -> Value:
    return p.get("days", name, index)


_HEAT = {
    "heat_option": "plan_option",
    "heat_number": "plan_number",
    "heat_layer": "plan_layer",
    "heat_batch": "largest",
    "in_bucket": "pot",
    "limit": "heat_limit",
}


def _heat(p: Pipeline, name: str, index: int) -> Value:
    said = p.get("plan", "plan_status", index)
    if name == "heat_status":
        return p.get("plan", "heat_verdict", index) if said == "ok" else said
    return p.get("plan", _HEAT.get(name, name), index)


def _overall(p: Pipeline, _index: int) -> Value:
    results = [p._check(check.id) for check in p.plan.block("checks").checks]
    wrong = len(results) - results.count("OK")
    return f"CHECK: {wrong} to mend" if wrong else "OK"


_RULES: dict[str, Callable[[Pipeline, str, int], Value]] = {
    "measured": _measured,
    "quant": _quant,
    "price": _price_line,
    "build": _build,
    "quote": _quote,
    "quote_layers": _quote_layers,
    "quote_price": _quote_price,
    "bars": _bars,
    "spans": _spans,
    "heat": _heat,
    "labour": _labour,
    "sundries": _sundry,
}
_SINGLE: dict[tuple[str, str], Rule] = {
    ("site", "hours"): _hours,
    ("working", "name"): _same("products", "product"),
    ("doing", "name"): _same("layers", "option"),
    ("doing", "layer_name"): _same("layers", "layer"),
    ("rates", "ready"): _ready,
    ("buy_for", "day"): _day,
    ("pace", "kept"): _kept,
    ("hourly", "begins"): _begins,
    ("overall", "overall"): _overall,
    ("overall", "live"): lambda _, __: __version__,
}


def _near(*terms: float) -> bool:
    return abs(math.fsum(terms)) <= NOISE


def _option_row(p: Pipeline, line: str) -> Value:
    chosen = p.get("rates", "option")
    for index, option in enumerate(OPTIONS):
        if _is(chosen, option):
            return p.get("price", line, index)
    raise Refused("#N/A")


def _check_start(p: Pipeline) -> bool:
    numbers = [p.get("money", "tax"), p.get("site", "crew"), p.get("site", "hours")]
    words = [p.get("start", "job"), p.get("money", "currency")]
    return len(_numbers(numbers)) == 3 and not any(map(_empty, words))


def _check_dates(p: Pipeline) -> bool:
    made, until = p.get("start", "date"), p.get("start", "until")
    return _empty(made) or _empty(until) or not _below(until, made)


def _check_surfaces(p: Pipeline) -> bool:
    if p.get("measured", "bad"):
        raise Refused("#VALUE!")  # OR() takes no error, and the sums are texts then
    top, edge, splash, total = (
        _number(p.get("measured", n)) for n in ("top", "edge", "splash", "total")
    )
    return _near(top, edge, splash, -total)


def _good(values: list[Value]) -> bool:
    return _count(values, "ok") > 0 and _bad(values) == 0


def _check_batches(p: Pipeline) -> bool:
    status = p.column("batches", "status")
    checks = [v for v in status if isinstance(v, str) and v.upper().startswith("CHECK")]
    return _good(status) and not checks


def _check_mixed(p: Pipeline) -> bool:
    chosen = p.get("rates", "option")
    rows = zip(p.column("amounts", "mixed"), p.column("amounts", "option"), strict=True)
    mine = [v for v, of in rows if isinstance(chosen, str) and _is(of, chosen)]
    return _near(_total(p.column("batches", "mixed")), -_total(mine))


def _check_losses(p: Pipeline) -> bool:
    parts = ("net", "take_up", "edge_loss", "loss", "batch_loss")
    mixed = _total(p.column("amounts", "mixed"))
    return _near(*(_total(p.column("amounts", name)) for name in parts), -mixed)


def _check_parts(p: Pipeline) -> bool:
    volumes = [_total(p.column("parts", f"volume_{x}")) for x in "abc"]
    return _near(*volumes, -_total(p.column("amounts", "mixed")))


def _check_temperature(p: Pipeline) -> bool:
    site = p.get("site", "temperature")
    cold = [c for c in p.column("products", "coldest") if not _empty(c)]
    warm = [c for c in p.column("products", "warmest") if not _empty(c)]
    return not any(_below(site, c) for c in cold) and not any(_below(c, site) for c in warm)


def _check_humidity(p: Pipeline) -> bool:
    limits = [c for c in p.column("products", "dampest") if not _empty(c)]
    return not any(_below(c, p.get("site", "humidity")) for c in limits)


def _check_heat(p: Pipeline) -> bool:
    heat = p.column("heat", "heat_status")
    hot = sum(isinstance(v, str) and v.upper().startswith("CHECK") for v in heat)
    return hot == 0 and _bad(heat) == _bad(p.column("plan", "plan_status"))


def _check_packs(p: Pipeline) -> bool:
    said = [
        *p.column("packs", "pack_status"),
        *p.column("stock", "stock_status"),
        *p.column("buying", "buy_status"),
    ]
    return _bad(said) == _holding(said, "is not worked out")


def _check_bought(p: Pipeline) -> bool:
    needs = [_total(p.column("buying", f"need_{x}")) for x in "abc"]
    costs = [_total(p.column("buying", f"cost_{x}")) for x in "abc"]
    chosen = p.get("rates", "option")
    mine = [c for c, o in zip(costs, OPTIONS, strict=True) if _is(chosen, o)]
    spare = min(_numbers(p.column("buying", "spare")), default=0.0)
    return (
        _near(*needs, -_total(p.column("amounts", "mixed")))
        and spare >= -NOISE
        and _near(_total(p.column("packs", "pack_cost")), -math.fsum(mine))
    )


def _check_labour(p: Pipeline) -> bool:
    hours = _option_row(p, "hours")
    return isinstance(hours, str) or _number(hours) > 0  # words count as more than any number


def _check_price(p: Pipeline) -> bool:
    lines = ("material", "sundries", "labour", "travel", "overhead", "profit")
    sums = [_total(p.column("price", line)) for line in lines]
    return _near(*sums, -_total(p.column("price", "net")))


def _check_replace(p: Pipeline) -> bool:
    high = p.get("rates", "replace_high")
    return _empty(high) or not _below(high, p.get("rates", "replace_low"))


def _check_survey(p: Pipeline) -> bool:
    said = p.column("readings", "verdict") + p.column("onsite", "air_verdict")
    status = p.column("readings", "survey_status") + p.column("onsite", "air_status")
    return _count(said, "wait") + _count(said, "don't") + _bad(status) == 0


def _check_days(p: Pipeline) -> bool:
    return _empty(p.get("start", "start_date")) or _good(p.column("days", "day_status"))


CHECKS: dict[str, Callable[[Pipeline], bool]] = {
    "live": lambda _: True,
    "start": _check_start,
    "dates": _check_dates,
    "rooms": lambda p: _good(p.column("rooms", "status")),
    "surfaces": _check_surfaces,
    "products": lambda p: _good(p.column("products", "status")),
    "layers": lambda p: _good(p.column("amounts", "status")),
    "batches": _check_batches,
    "batches_mixed": _check_mixed,
    "cards": lambda p: _count(p.column("batches", "status"), "ok") <= CARDS,
    "losses": _check_losses,
    "parts": _check_parts,
    "loss": lambda p: not any(v > HIGH_LOSS for v in _numbers(p.column("layers", "loss"))),
    "temperature": _check_temperature,
    "humidity": _check_humidity,
    "heat": _check_heat,
    "packs": _check_packs,
    "bought": _check_bought,
    "labour": _check_labour,
    "rates": lambda p: p.get("rates", "ready") == "ok",
    "option": lambda p: len(_numbers([_option_row(p, "net")])) == 1,
    "price": _check_price,
    "profit": lambda p: not any(v < 0 for v in _numbers(p.column("price", "profit"))),
    "replace": _check_replace,
    "survey": _check_survey,
    "days": _check_days,
    "air": lambda p: not {"wait", "don't"} & set(p.column("days", "air")),
}
