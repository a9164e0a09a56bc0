"""The margin on Settle, as quoted and as earned, in plain Python.

Contract: as :mod:`tests.agreement.native`: :data:`RULES` by block. What is not typed under what
else it took is as quoted.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from tests.agreement import cells
from tests.agreement.settle import BESIDE, Figure, of_kind, settled, sums_of
from tests.oracles import variance

from pourbook.cells import Value
from pourbook.trade.price.build_up import round_money

if TYPE_CHECKING:
    from tests.agreement.pipeline import Pipeline

LINES_MISSING = "! lines are missing on Quoted"


def _line(p: Pipeline, name: str) -> float:
    """Return a line of Price as it was kept on Quoted."""
    wanted = p.plan.text(p.plan.block("price").field(name).header)
    for row, item in enumerate(p.column("quoted_lines", "item")):
        if cells.same(item, wanted):
            return cells.number(p.get("quoted_lines", "amount", row))
    raise cells.Refused("#N/A")


def _base(p: Pipeline, block: str) -> float:
    names = ["labour"]
    if not cells.same(p.get("rates", "overhead_on"), "labour"):
        names = ["coatings", "additives", "sundries", "labour", "travel", "other"]
    return sum(cells.number(p.get(block, name)) for name in names)


_KEPT = {"price": "net", "coatings": "material"}


def _quoted_line(p: Pipeline, name: str) -> float:
    if name == "other":
        return 0.0
    if name == "additives":
        try:
            return _line(p, name)
        except cells.Refused:
            return 0.0  # accepted before there were any
    return _base(p, "as_quoted") if name == "base" else _line(p, _KEPT.get(name, name))


def _rated(p: Pipeline, total: str, quantity: str, rate: str) -> float:
    """Return a quantity as it came, at what one was quoted at, else at the rate of Price."""
    many = cells.number(p.get("as_quoted", quantity))
    if many > 0:
        each = cells.number(p.get("as_quoted", total)) / many
    else:
        each = cells.number(p.get("rates", rate))
    return each * cells.number(p.get("as_earned", quantity))


def _earned_line(p: Pipeline, name: str) -> float:
    if name == "coatings":
        return p.once(sums_of)["actual"]
    if name == "base":
        return _base(p, "as_earned")
    rated = {"labour": ("hours", "labour"), "travel": ("days", "trip"), "overhead": ("base", name)}
    if name in rated:
        return _rated(p, name, *rated[name])
    typed = cells.numbers([p.get("spent", "invoiced" if name == "price" else name)])
    if typed:
        return typed[0]
    told = _told(p, name)
    if told is not None:
        return told
    return 0.0 if name == "other" else cells.number(p.get("as_quoted", name))


def _told(p: Pipeline, name: str) -> float | None:
    """Return what Invoices says of a line; None where it says nothing."""
    if name == "hours":
        worked = cells.numbers(p.column("worked", "hours"))
        return cells.total(worked) if worked else None
    if name == "other":
        return of_kind(p, "freight")
    kind = BESIDE.get(name, "")
    return of_kind(p, kind) if cells.count(p.column("extras", "kind"), kind) else None


def _beside(p: Pipeline, name: str, _index: int) -> Value:
    line, _, by = name.partition("_")
    if by:
        typed = {"labour": "hours"}.get(line, line)
        if cells.numbers([p.get("spent", typed)]):
            return "Used"
        return "quote: not measured" if _told(p, typed) is None else "Invoices"
    try:
        more = cells.number(p.get("as_earned", line)) - cells.number(p.get("as_quoted", line))
    except cells.Refused:
        raise cells.Refused("#VALUE!") from None
    return more if line == "hours" else round_money(more)


def _lines(line: Callable[[Pipeline, str], float]) -> Figure:
    def rule(p: Pipeline, name: str, _index: int) -> Value:
        try:
            return line(p, name)
        except (cells.Refused, ZeroDivisionError):
            return LINES_MISSING

    return settled(rule)


def _margin(p: Pipeline, name: str, index: int) -> Value:
    block = ("as_quoted", "as_earned")[index]
    lines = {f.id: p.get(block, f.id) for f in p.plan.block(block).columns}
    if cells.bad(lines.values()):
        return LINES_MISSING
    if name == "state":
        return "ok"
    if name in lines:
        return lines[name]
    spent = ("coatings", "additives", "sundries", "labour", "travel", "other", "overhead")
    cost, price = sum(cells.number(lines[n]) for n in spent), cells.number(lines["price"])
    if name == "cost":
        return cost
    if name == "profit":
        return price - cost
    if price > 0 and cost >= 0:
        return variance.margin_earned(price, cost)
    return (price - cost) / price if price > 0 else 0.0  # more went back than came


RULES: dict[str, Figure] = {
    "margin": settled(_margin),
    "as_quoted": _lines(_quoted_line),
    "as_earned": _lines(_earned_line),
    "settle_beside": settled(_beside),
}
