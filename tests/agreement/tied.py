"""The native cells of Invoices, in plain Python.

Contract: as :mod:`tests.agreement.native`: :data:`RULES` by block. The shares are those of whole
cents in turn: what has been spread up to a line, less what was spread before it.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from tests.agreement import cells
from tests.agreement.cells import NOISE

from pourbook.cells import Value
from pourbook.trade.price.build_up import round_money

if TYPE_CHECKING:
    from tests.agreement.pipeline import Pipeline

KINDS = ("additive", "sundry", "freight", "tax", "deposit", "credit")
SPREADS = ("freight", "freight and tax")
"""What the columns Kind and Spread offer."""


def _at(p: Pipeline, block: str, row: int) -> str:
    """Return supplier and number of a row as they are compared; nothing for neither."""
    typed = [p.get(block, name, row) for name in ("supplier", "document")]
    both = ["" if value is None else p.plan.text(str(value)) for value in typed]
    return "|".join(both) if any(both) else ""


def _same(one: str, two: str) -> bool:
    return bool(one) and cells.same(one, two)


@dataclass
class Line:
    """A line of an invoice: what it counts as, what freight is spread by, and its share."""

    at: str
    amount: float
    worth: float
    kind: str = "coating"
    product: str = ""
    share: float = 0.0
    credit: float = 0.0
    upto: float = 0.0
    of_product: float = 0.0


@dataclass
class Tied:
    """All invoices of a job: lines by row of Used and of Invoices, statuses, and what is spread."""

    coatings: dict[int, Line] = field(default_factory=dict)
    others: dict[int, Line] = field(default_factory=dict)
    status: list[str] = field(default_factory=list)
    said: list[str] = field(default_factory=list)
    worth: list[float] = field(default_factory=list)
    spread: list[float] = field(default_factory=list)
    sums: list[tuple[float, float]] = field(default_factory=list)
    ats: list[str] = field(default_factory=list)
    waits: list[int] = field(default_factory=list)

    def row_of(self, at: str) -> int | None:
        """Return the first invoice with this supplier and number."""
        return next((n for n, other in enumerate(self.ats) if _same(at, other)), None)


def tied_of(p: Pipeline) -> Tied:
    """Return every invoice of a job with its lines."""
    found = Tied(ats=[_at(p, "invoices", row) for row in range(p.plan.block("invoices").rows)])
    for row in range(p.plan.block("receipts").rows):
        if p.get("receipts", "receipt_status", row) == "ok":
            shelf = cells.same(p.get("receipts", "kind", row), "from shelf")
            own = 0.0 if shelf else cells.number(p.get("receipts", "cost", row))
            product = str(p.get("receipts", "product", row))
            line = Line(_at(p, "receipts", row), own, abs(own), product=product)
            found.coatings[row] = line
    for row in range(p.plan.block("extras").rows):
        said = _extra_status(p, found, row)
        found.said.append(said)
        if said == "ok":
            kind = str(p.get("extras", "kind", row)).strip().casefold()
            amount = cells.number(p.get("extras", "amount", row))
            booked = -abs(amount) if kind == "credit" else round_money(amount)
            worth = abs(booked) if kind in KINDS[:2] else 0.0
            for_ = p.get("extras", "product", row)
            name = "" if cells.empty(for_) else str(for_)
            found.others[row] = Line(_at(p, "extras", row), booked, worth, kind, name)
    receipts = [str(s) for s in p.column("receipts", "receipt_status")]
    for row, at in enumerate(found.ats):
        bad = [_at(p, "receipts", n) for n, said in enumerate(receipts) if said.startswith("!")]
        bad += [_at(p, "extras", n) for n, said in enumerate(found.said) if said.startswith("!")]
        found.waits.append(sum(_same(at, other) for other in bad))
        _tie(p, found, row, at)
    _spread(found)
    return found


def _extra_status(p: Pipeline, found: Tied, row: int) -> str:
    names = ("supplier", "document", "line", "kind", "what", "product", "amount")
    typed = {name: p.get("extras", name, row) for name in names}
    if all(value is None for value in typed.values()):
        return ""
    at = _at(p, "extras", row)
    once = sum(_same(at, other) for other in found.ats) == 1
    free = cells.empty(typed["product"])
    products = p.column("receipts", "product")
    faults = [
        (once, "Invoice: no invoice above has this supplier and number. "),
        (any(cells.same(typed["kind"], k) for k in KINDS), "Kind: choose from the list. "),
        (bool(cells.numbers([typed["amount"]])), "Amount: type it. "),
        (free or cells.same(typed["kind"], "credit"),
         "Credit is for: clear it: it is for a credit alone. "),
        (free or cells.count(products, str(typed["product"])) > 0,
         "Credit is for: Receipts on Used has none of it. "),
    ]  # fmt: skip
    said = "".join(words for good, words in faults if not good)
    return f"! {said}" if said else "ok"


def _tie(p: Pipeline, found: Tied, row: int, at: str) -> None:
    """Add what one invoice comes to, what it spreads over what, and its status."""
    lines = [*found.coatings.values(), *found.others.values()]
    mine = [line for line in lines if _same(at, line.at)]
    coatings = cells.total(line.amount for line in mine if line.kind == "coating")
    beside = cells.total(line.amount for line in mine if line.kind != "coating")
    asked = p.get("invoices", "spread", row)
    word = "" if cells.empty(asked) else str(asked).strip().casefold()
    kinds = {"": (), "freight": ("freight",)}.get(word, ("freight",))
    kinds = ("freight", "tax") if word == SPREADS[1] else kinds
    spread = cells.total(line.amount for line in mine if line.kind in kinds)
    spread += cells.total(
        line.amount for line in mine if line.kind == "credit" and not line.product
    )
    worth = cells.total(line.worth for line in mine)
    found.worth.append(worth)
    found.spread.append(spread)
    found.sums.append((coatings, beside))
    names = ("supplier", "document", "date", "total", "spread")
    typed = {name: p.get("invoices", name, row) for name in names}
    if all(value is None for value in typed.values()):
        found.status.append("")
        return
    total = cells.numbers([typed["total"]])
    waits = found.waits[row]
    apart = round_money(total[0] - coatings - beside) if total and at and not waits else 0.0
    faults = [
        (not cells.empty(typed["document"]), "Invoice: type its number. "),
        (sum(_same(at, other) for other in found.ats) <= 1, "Invoice: it stands here twice. "),
        (any(v > 0 for v in cells.numbers([typed["date"]])), "Date: type a date. "),
        (bool(total), "Total: type it. "),
        (abs(apart) <= NOISE, f"Total: its lines come to {coatings + beside:.2f}: "
         "add the line that is missing. "),
        (word in {"", *SPREADS}, "Spread over its lines: choose from the list. "),
        (spread == 0 or worth > 0, "Spread over its lines: it has no lines to spread over: "
         "leave it blank, or say which product a credit is for"),
    ]  # fmt: skip
    said = "".join(words for good, words in faults if not good)
    good = "waits: fix its rows of Receipts, and those below" if waits else "ok"
    found.status.append(f"! {said}" if said else good)


def in_turn(lines: list[Line], amount: float) -> list[float]:
    """Return the share of each line in whole cents, by its worth."""
    whole = cells.total(line.worth for line in lines)
    shares, upto = [], 0.0
    for line in lines:
        before, upto = upto, upto + line.worth
        share = round_money(amount * upto / whole) - round_money(amount * before / whole)
        shares.append(round_money(share) if line.worth > 0 else 0.0)
    return shares


def _spread(found: Tied) -> None:
    every = [*found.coatings.values(), *found.others.values()]
    for row, at in enumerate(found.ats):
        mine = [line for line in every if _same(at, line.at) and line.worth > 0]
        if mine:
            for line, share in zip(mine, in_turn(mine, found.spread[row]), strict=True):
                line.share = share
    for line in every:
        alike = [o for o in every if cells.same(o.at, line.at) or (not o.at and not line.at)]
        line.upto = cells.total(o.worth for o in alike[: alike.index(line) + 1])
    coatings = list(found.coatings.values())
    for line in coatings:
        mine = [o for o in coatings if o.worth > 0 and cells.same(o.product, line.product)]
        if line not in mine:
            continue
        credits_ = (
            o.amount
            for o in found.others.values()
            if o.kind == "credit" and o.product and cells.same(o.product, line.product)
        )
        place = mine.index(line)
        line.of_product = cells.total(o.worth for o in mine[: place + 1])
        line.credit = in_turn(mine, cells.total(credits_))[place]


def _invoices(p: Pipeline, name: str, row: int) -> Value:
    found = p.once(tied_of)
    if name == "invoice_status":
        return found.status[row]
    if not found.ats[row]:
        return ""
    coatings, beside = found.sums[row]
    if name != "apart":
        return coatings if name == "coatings" else beside
    total = cells.numbers([p.get("invoices", "total", row)])
    return round_money(total[0] - coatings - beside) if total else ""


def _ties(p: Pipeline, name: str, row: int) -> Value:
    found = p.once(tied_of)
    if name == "left":
        apart = p.get("invoices", "apart", row)
        return apart if cells.numbers([apart]) and not found.waits[row] else 0.0
    if name in {"at", "waits"}:
        return found.ats[row] if name == "at" else found.waits[row]
    return (found.worth if name == "worth" else found.spread)[row]


def _gone(p: Pipeline, line: Line) -> bool:
    """Return whether a line is booked elsewhere: a credit, and what is spread."""
    row = p.once(tied_of).row_of(line.at)
    asked = p.get("invoices", "spread", row) if row is not None else None
    word = "" if cells.empty(asked) else str(asked).strip().casefold()
    return line.kind == "credit" or (
        (line.kind == "freight" and word != "") or (line.kind == "tax" and word == SPREADS[1])
    )


def _extras(p: Pipeline, name: str, row: int) -> Value:
    found = p.once(tied_of)
    if name == "extra_status" or found.said[row] != "ok":
        return found.said[row]
    line = found.others[row]
    if name == "booked":
        return line.amount
    return round_money(line.amount + line.share - (line.amount if _gone(p, line) else 0.0))


def _extra_ties(p: Pipeline, name: str, row: int) -> Value:
    found = p.once(tied_of)
    line = found.others.get(row)
    if name == "at":
        return _at(p, "extras", row)
    if line is None:
        blank = Line(_at(p, "extras", row), 0.0, 0.0)
        return _upto(found, blank, row) if name == "upto" else "" if name == "invoice" else 0.0
    loose = line.kind == "credit" and not line.product
    if name == "invoice":
        at = found.row_of(line.at)
        return "" if at is None else at + 1
    return {
        "worth": line.worth, "loose": line.amount if loose else 0.0,
        "upto": _upto(found, line, row), "share": line.share,
        "gone": line.amount if _gone(p, line) else 0.0,
    }[name]  # fmt: skip


def _upto(found: Tied, line: Line, row: int) -> float:
    """Return the worth of an invoice up to a row of its other lines."""
    others = [o for n, o in found.others.items() if n <= row]
    return cells.total(
        o.worth for o in [*found.coatings.values(), *others] if cells.same(o.at, line.at)
    )


def _landed(p: Pipeline, name: str, row: int) -> Value:
    found = p.once(tied_of)
    line = found.coatings.get(row)
    at = _at(p, "receipts", row)
    if name == "at":
        return at
    if name == "upto":
        above = (o for n, o in found.coatings.items() if n <= row)
        return cells.total(o.worth for o in above if cells.same(o.at, at))
    if name == "cost":
        cost = p.get("receipts", "cost", row)
        if line is None:
            return p.get("receipts", "receipt_status", row)
        return round_money(cells.number(cost) + line.share + line.credit)
    if line is None:
        return "" if name == "invoice" else 0.0
    if name == "invoice":
        of = found.row_of(line.at) if line.worth > 0 else None
        return "" if of is None else of + 1
    figures: dict[str, Value] = {
        "own": line.amount, "worth": line.worth, "share": line.share,
        "of_product": line.of_product, "credit": line.credit,
    }  # fmt: skip
    return figures[name]


def _worked(p: Pipeline, _name: str, row: int) -> Value:
    typed = {name: p.get("worked", name, row) for name in ("date", "worked_step", "hours", "note")}
    if all(value is None for value in typed.values()):
        return ""
    steps = p.column("quoted_steps", "step")
    step = typed["worked_step"]
    faults = [
        (any(v > 0 for v in cells.numbers([typed["date"]])), "Date: type a date. "),
        (isinstance(step, str) and step != "" and cells.count(steps, step) > 0,
         "Step: choose from the list. "),
        (any(v >= 0 for v in cells.numbers([typed["hours"]])), "Hours: type 0 or more. "),
    ]  # fmt: skip
    said = "".join(words for good, words in faults if not good)
    return f"! {said}" if said else "ok"


RULES: dict[str, Callable[[Pipeline, str, int], Value]] = {
    "invoices": _invoices,
    "ties": _ties,
    "extras": _extras,
    "extra_ties": _extra_ties,
    "landed": _landed,
    "worked": _worked,
}
