"""The native cells of a job's sheets up to its quote and its calendar, in plain Python.

Contract: :data:`RULES` has a rule for every field of a block, :data:`SINGLE` for one field: given
the pipeline, the field and the row it returns the cell, or raises what the formula comes to.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from tests.agreement import cells, finishes

from pourbook import __version__
from pourbook.cells import CellError, Value

if TYPE_CHECKING:
    from tests.agreement.pipeline import Pipeline

OPTIONS = "ABC"
Rule = Callable[["Pipeline", int], Value]
_LABELS = {
    "job": "job", "layer": "layer", "batch": "batch", "finished area": "finished_area",
    "poured area": "poured_area", "trowelled area": "trowelled_area",
    "rolled area": "rolled_area", "sanded area": "sanded_area", "cleaned area": "cleaned_area",
    "edge run": "edge_run", "visit": "visit",
}  # fmt: skip


def _measured(p: Pipeline, name: str, _index: int) -> Value:
    status = p.column("rooms", "status")
    if name == "pieces":
        return cells.count(status, "ok")
    if name == "bad":
        return cells.bad(status)
    return "! fix the rows first" if cells.bad(status) else cells.total(p.column("rooms", name))


def _hours(p: Pipeline, _index: int) -> Value:
    begins, ends = p.get("site", "work_from"), p.get("site", "work_to")
    if not (cells.numbers([begins]) and cells.numbers([ends])):
        return "! type both hours"
    return cells.number(ends) - cells.number(begins)


def shown(block: str, name: str) -> Rule:
    """Return a rule that shows another table's cell of the same row."""

    def rule(p: Pipeline, index: int) -> Value:
        value = p.get(block, name, index)
        return "" if cells.empty(value) else value

    return rule


_STANDING = {
    "start": ("Checks", "Start"), "rooms": ("Rooms",), "products": ("Products",),
    "amounts": ("Finishes", "Amounts"), "cards": ("Batches",), "buying": ("Buying",),
    "priced": ("Price",), "quote": ("Quote",),
}  # fmt: skip


def _standing(p: Pipeline, name: str, _index: int) -> Value:
    if name == "mixing":
        said = _standing(p, "cards", 0)
        usual = cells.total(p.column("picked", "usual"))
        return "! see Products" if said == "ok" and usual else said
    checks = p.plan.block("checks").checks
    for line, sheets in _STANDING.items():
        for sheet in sheets:
            if any(p.check(check.id) != "OK" for check in checks if check.sheet == sheet):
                return f"! see {sheet}"
        if line == name:
            break
    return "ok"


def _on_paper(p: Pipeline, value: Value) -> Value:
    """Return a figure of the quote, or the sheet to look at first."""
    said = p.get("standing", "quote")
    if isinstance(value, CellError):
        return said
    return value if cells.empty(value) or said == "ok" else said


def _per(p: Pipeline, per: Value, each: float, option: int) -> Value:
    name = _LABELS.get(per.casefold()) if isinstance(per, str) else None
    quantity = p.get("quant", name, option) if name else None
    if isinstance(quantity, CellError) or not isinstance(quantity, float | int):
        return p.get("quant", "why", option)
    return each * quantity


def _labour(p: Pipeline, name: str, index: int) -> Value:
    option = OPTIONS.lower().index(name[-1])
    if cells.empty(p.get("labour", "step", index)) or p.get("quant", "state", option) == "":
        return ""
    hours = p.get("labour", "hours", index)
    if not cells.numbers([hours]):
        return "! type the hours"
    return _per(p, p.get("labour", "per", index), cells.number(hours), option)


def _sundry(p: Pipeline, name: str, index: int) -> Value:
    option = OPTIONS.lower().index(name[-1])
    if cells.empty(p.get("sundries", "item", index)) or p.get("quant", "state", option) == "":
        return ""
    many, each = p.get("sundries", "quantity", index), p.get("sundries", "each", index)
    if not cells.numbers([many]):
        return "! type how many"
    if not cells.numbers([each]):
        return "waits: type its price"
    return _per(
        p, p.get("sundries", "item_per", index), cells.number(many) * cells.number(each), option
    )


def _ready(p: Pipeline, _index: int) -> Value:
    typed = [p.get("rates", n) for n in ("labour", "trip", "overhead", "uplift")]
    typed += [p.get("money", "tax")]
    words = [p.get("rates", "overhead_on"), p.get("rates", "uplift_is")]
    day = [p.get("site", "crew"), p.get("site", "hours")]
    ready = (
        len(cells.numbers(typed)) == len(typed)
        and not any(map(cells.empty, words))
        and cells.number(typed[3]) < 1
        and not any(isinstance(d, str) for d in day)
        and cells.number(day[0]) * cells.number(day[1]) > 0
    )
    return "ok" if ready else "! fill in rates, Start"


def _quant(p: Pipeline, name: str, index: int) -> Value:
    option = OPTIONS[index]
    mine = [cells.same(o, option) for o in p.column("layers", "option")]
    state = p.get("standing", "buying") if any(mine) else ""
    if name == "why":
        return "! see Goes by" if state == "ok" else state
    if name == "state" or state != "ok":
        return state

    def summed(column: str, key: str = "", word: str = "") -> float:
        keys = p.column("layers", key) if key else [word] * len(mine)
        values = p.column("amounts", column)
        rows = zip(values, keys, mine, strict=True)
        return cells.total(v for v, k, own in rows if own and (not key or cells.same(k, word)))

    if name == "job":
        return 1.0
    if name == "layer":
        return float(sum(mine))
    if name == "batch":
        return summed("batches")
    if name == "finished_area":
        return p.get("measured", "total")
    if name == "visit":
        visits = p.get("options", "option_visits", index)
        return visits if cells.numbers([visits]) else "! see Days"
    if name == "edge_run":
        return "! fix Rooms" if p.get("measured", "bad") else cells.total(p.column("rooms", "run"))
    if name in {"sanded_area", "cleaned_area"}:
        return summed("area", "before", "sand 220 and clean" if name == "sanded_area" else "clean")
    methods = {"poured_area": "pour", "trowelled_area": "trowel", "rolled_area": "roll"}
    return summed("coated", "method", methods[name])


def _day(p: Pipeline, _index: int) -> Value:
    for name in ("start_date", "date"):
        if not cells.empty(p.get("start", name)):
            return p.get("start", name)
    return ""


def _price_line(p: Pipeline, name: str, index: int) -> Value:
    return p.priced(index)[name]


def _build(p: Pipeline, name: str, index: int) -> Value:
    option = OPTIONS[OPTIONS.lower().index(name[-1])]
    films = p.column("amounts", "dry")
    rows = zip(films, p.column("amounts", "option"), p.column("amounts", "number"), strict=True)
    return cells.total(
        dry for dry, of, number in rows if cells.same(of, option) and number == index + 1
    )


def _quote(p: Pipeline, name: str, index: int) -> Value:
    if name == "area":
        return _on_paper(p, p.get("measured", "total"))
    return shown("rates" if name == "option" else "start", name)(p, 0)


def _quote_layers(p: Pipeline, name: str, index: int) -> Value:
    if name in {"rooms", "dry"}:
        if cells.empty(p.get("layers", "layer", index)):
            return ""
        if name == "dry":
            return _on_paper(p, p.get("amounts", "dry", index))
        only = p.get("layers", "rooms", index)
        return "all" if cells.empty(only) else only
    return shown("layers", name)(p, index)


def _quote_price(p: Pipeline, name: str, index: int) -> Value:
    paper = p.get("options", "option_paper", index)

    def planned(line: str) -> Value:
        return _on_paper(p, p.get("price", line, index) if paper == "ok" else paper)

    if name == "tax_rate":
        net = planned("net")
        return net if isinstance(net, str) else p.get("money", "tax")
    return planned(name)


def _kept(p: Pipeline, _index: int) -> Value:
    status = p.column("days", "day_status")
    if cells.bad(status):
        return status[0]
    notes = p.column("days", "day_note")
    if any(isinstance(n, str) and n.casefold().startswith("added") for n in notes):
        return "ok, with a recoat window missed: see the notes"
    return "ok"


def _preparing(p: Pipeline, _index: int) -> Value:
    typed = p.get("pace", "prepare")
    if not cells.numbers([typed]):
        return "" if typed is None else typed
    return cells.number(typed) + cells.total(p.column("survey", "prep_hours"))


def _gates(p: Pipeline, _index: int) -> Value:
    rows = list(zip(p.column("readings", "gate"), p.column("readings", "gate_state"), strict=True))
    for name, state in rows:
        if isinstance(state, str) and state.startswith("waits:"):
            return f"{name} {state}"
    return "! see Survey" if cells.bad(state for _, state in rows) else "ok"


def _visits(p: Pipeline, name: str, index: int) -> Value:
    if name in {"visit_from", "visit_until", "visit_people"}:
        return p.get("days", name, index)
    times = cells.numbers(p.get("days", n, index) for n in ("visit_from", "visit_until"))
    if len(times) < 2:
        return ""
    hours = (times[1] - times[0]) * 24
    if name == "visit_hours":
        return hours
    least = cells.total([p.get("rates", "least")])
    return max(hours, least) * cells.number(p.get("days", "visit_people", index))


def _gate_list(p: Pipeline, name: str, index: int) -> Value:
    return p.get("readings", {"gate_name": "gate", "gate_says": "gate_state"}[name], index)


_SHORT = {
    "short_of": "buy_product", "chance": "short_chance", "more": "short_more",
    "more_cost": "short_cost", "then": "short_then", "advice": "short_advice",
}  # fmt: skip


def _short(p: Pipeline, name: str, index: int) -> Value:
    status = p.get("buying", "short_state", index)
    if status in ("", None):
        return ""
    return status if name == "advice" and status != "ok" else p.get("buying", _SHORT[name], index)


_WEIGHED = ("gates", "moisture", "adhesion", "heat", "hands", "calendar", "margin")


def _take(p: Pipeline, name: str, _index: int) -> Value:
    def told(block: str, column: str, *words: str) -> bool:
        said = (v for v in p.column(block, column) if isinstance(v, str))
        return any(v.casefold().startswith(words) for v in said)

    if name == "margin":
        chosen = [i for i, x in enumerate(OPTIONS) if cells.same(p.get("rates", "option"), x)]
        profit = cells.numbers(p.get("price", "profit", i) for i in chosen)
        return "wait" if not profit else "walk away" if profit[0] < 0 else "go"
    if name == "adhesion":
        return "walk away" if told("readings", "verdict", "don't") else "go"
    late = told("joining", "join_status", "check") or told("days", "day_note", "check")
    unfit = told("days", "day_status", "!") or told("days", "air", "wait", "don't")
    waits = {
        "gates": p.get("pace", "gates") != "ok",
        "moisture": told("readings", "verdict", "wait"),
        "heat": told("heat", "heat_status", "check"),
        "hands": late or told("batches", "status", "!"),
        "calendar": unfit or cells.empty(p.get("start", "start_date")),
    }
    return "wait" if waits[name] else "go"


def _decision(p: Pipeline, _index: int) -> Value:
    said = {name: p.get("take", name) for name in _WEIGHED}
    state = next((s for s in ("walk away", "wait") if s in said.values()), "go")
    return state + "".join(f"; {name}" for name, one in said.items() if one != "go")


def _bars(p: Pipeline, name: str, index: int) -> Value:
    def when(column: str) -> Value:
        return p.get("days", column, index)

    rows = len(p.column("bars", "bar_no"))
    used = [cells.number(x) for x in p.column("days", "work_from")[:rows] if cells.numbers([x])]
    bar = bool(cells.numbers([when("work_from")]))
    if name == "bar":
        return when("span") if bar else ""
    if name in {"up", "over"}:
        up = rows * (len(used) - index) / (1 + len(used)) if bar else 2.0 * rows
        return up + (0.45 if name == "over" else 0.0)
    marks = [cells.number(when("work_from")) if bar else min(used, default=0.0)]
    until = cells.number(when("work_until")) if bar else 0.0
    lengths = [until - marks[0] if bar else 0.0]
    for column in ("next_from", "light_use", "hard_use"):
        known = cells.numbers([when(column)])
        lengths.append(max(known[0] - until, 0.0) if known else 0.0)
        until = max(until, *known) if known else until
    for length in lengths:
        marks.append(marks[-1] + length)
    where = ("from", "next_from", "light_from", "hard_from", "end")
    return dict(zip(("work", "next", "light", "hard", *where), (*lengths, *marks), strict=True))[
        name
    ]


def _begins(p: Pipeline, index: int) -> Value:
    day = p.get("start", "start_date")
    return cells.number(day) + index / 24 if cells.numbers([day]) else ""


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


def _of_plan(start: str, told: str) -> Callable[[Pipeline, str, int], Value]:
    """Return the rule of a table that says of each layer of the plan what a column aside told."""

    def rule(p: Pipeline, name: str, index: int) -> Value:
        said = p.get("plan", "plan_status", index)
        if name == f"{start}_status":
            return p.get("plan", told, index) if said == "ok" else said
        return p.get("plan", name.replace(f"{start}_", "plan_"), index)

    return rule


def _care(p: Pipeline, name: str, index: int) -> Value:
    said = p.get("products", "safety", index)
    return f"{p.get('products', 'product', index)}: {said}" if said else ""


def _heat(p: Pipeline, name: str, index: int) -> Value:
    said = p.get("plan", "plan_status", index)
    if name == "heat_status":
        return p.get("plan", "heat_verdict", index) if said == "ok" else said
    return p.get("plan", _HEAT.get(name, name), index)


def _overall(p: Pipeline, _index: int) -> Value:
    checks = p.plan.block("checks").checks
    wrong = [check for check in checks if p.check(check.id) != "OK"]
    looks = p.get("overall", "open")
    if wrong and not finishes.begun(p):
        return "not worked out yet: type the first piece on Rooms"
    if wrong:
        return f"CHECK: {wrong[0].sheet}, {len(wrong)} to fix"
    return f"CHECK: {looks} to look at" if looks else "OK"


_STATES = {
    "Rooms": ("rooms", "status"), "Products": ("products", "status"),
    "Layers": ("amounts", "status"), "Batches": ("batches", "status"),
    "Packs on Buying": ("packs", "pack_status"), "Stock on Buying": ("stock", "stock_status"),
    "Buying": ("buying", "buy_status"), "Survey": ("readings", "survey_status"),
    "Survey, air and surface": ("onsite", "air_status"), "Days": ("days", "day_status"),
    "Proof": ("proofs", "proof_status"), "Used, receipts": ("receipts", "receipt_status"),
    "Used, log": ("used", "used_status"), "Used, counted": ("left", "left_status"),
    "Used, issued": ("issued", "issued_status"), "Invoices": ("invoices", "invoice_status"),
    "Invoices, other lines": ("extras", "extra_status"),
    "Invoices, hours": ("worked", "worked_status"),
}  # fmt: skip


def _spot(p: Pipeline, _index: int) -> Value:
    """Where the first refusal of the first of the tables stands that has one."""
    for block, column in _STATES.values():
        for index, said in enumerate(p.column(block, column)):
            if str(said or "").startswith("!"):
                cell = p.plan.cell(block, column, index)
                return f"'{cell.sheet}'!{cell.address}"
    return ""


def _where_to_go(p: Pipeline, index: int) -> Value:
    if not finishes.begun(p):
        cell = p.plan.cell("rooms", "piece")
        return f"'{cell.sheet}'!{cell.address}"
    sheet, spot = _look_first(p, index) or "Checks", str(_spot(p, index))
    return spot if spot.startswith(f"'{sheet}'!") else f"'{sheet}'!A1"


def _look_first(p: Pipeline, _index: int) -> Value:
    checks = p.plan.block("checks").checks
    return next((check.sheet for check in checks if p.check(check.id) != "OK"), "")


def _first(p: Pipeline, _index: int) -> Value:
    wrong = [c for c in p.plan.block("checks").checks if p.check(c.id) != "OK"]
    if not wrong:
        return ""
    for words, (block, name) in _STATES.items():
        for row, said in enumerate(p.column(block, name), start=1):
            if isinstance(said, str) and said.startswith("!"):
                return f"{words}, row {row} of its table: {said}"
    return f"does not hold: {p.plan.text(wrong[0].label)}"


def _drawn(p: Pipeline, name: str, row: int) -> Value:
    """The texts of the drawing stand in its first column: those of batches every 64 rows."""
    return p.get("points", "label", row * 64 + {"batch": 1, "pieces": 6}[name])


def _drawn_now(p: Pipeline, name: str, _: int) -> Value:
    if name == "status":
        return p.get("points", "drawing_status", 0)
    return p.get("points", "label", {"shown": 3, "width": 4, "missing": 5}[name])


RULES: dict[str, Callable[[Pipeline, str, int], Value]] = {
    "measured": _measured,
    "standing": _standing,
    "quant": _quant,
    "price": _price_line,
    "build": _build,
    "quote": _quote,
    "quote_layers": _quote_layers,
    "quote_price": _quote_price,
    "bars": _bars,
    "piece_state": lambda p, _, index: shown("rooms", "status")(p, index),
    "layer_state": lambda p, _, index: shown("amounts", "status")(p, index),
    "take": _take,
    "visits": _visits,
    "gate_list": _gate_list,
    "short": _short,
    "spans": _spans,
    "heat": _heat,
    "joining": _of_plan("join", "seams"),
    "pass_films": _of_plan("film", "pass_film"),
    "care_products": _care,
    "labour": _labour,
    "sundries": _sundry,
    "drawn": _drawn,
    "drawn_now": _drawn_now,
}
SINGLE: dict[tuple[str, str], Rule] = {
    ("site", "hours"): _hours,
    ("rates", "ready"): _ready,
    ("buy_for", "day"): _day,
    ("pace", "kept"): _kept,
    ("pace", "preparing"): _preparing,
    ("pace", "gates"): _gates,
    ("decision", "take"): _decision,
    ("decision", "next"): lambda p, _: finishes.stands(p, "next"),
    ("decision", "area"): lambda p, _: finishes.stands(p, "area"),
    ("decision", "back"): lambda p, _: finishes.stands(p, "back"),
    ("overall", "next"): _look_first,
    ("overall", "spot"): _spot,
    ("overall", "at"): _where_to_go,
    ("decision", "usual"): lambda p, _: cells.total(p.column("picked", "usual")),
    ("hourly", "begins"): _begins,
    ("overall", "overall"): _overall,
    ("overall", "first"): _first,
    ("overall", "open"): lambda p, _: p.column("looks", "look_state").count("open"),
    ("overall", "live"): lambda _, __: __version__,
}
