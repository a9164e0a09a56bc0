"""The native cells of Settle, in plain Python on :mod:`tests.oracles.variance`.

Contract: as :mod:`tests.agreement.native`: :data:`RULES` by block. A job is settled once, by
:func:`layers_of` and :func:`accounts_of`; the rules pick their cells from it. Areas and volumes are
in the job's units, money in its currency.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

from tests.agreement import cells, shopping, used
from tests.agreement.cells import NOISE
from tests.oracles import variance

from pourbook.cells import Value
from pourbook.trade.price.build_up import round_money

if TYPE_CHECKING:
    from tests.agreement.pipeline import Pipeline

STEPS = ("quoted", "area", "rate", "waste", "price", "actual")
TOO_MUCH = "! more used or left than issued: count again, or add the receipt"
Row = dict[str, Value]
Figure = Callable[["Pipeline", str, int], Value]


@dataclass(frozen=True)
class Account:
    """One product settled: its rows of Volumes, Money and What the split goes by."""

    product: str
    volumes: Row
    money: Row
    rates: Row


def state_of(p: Pipeline) -> Value:
    """Return ok, or why the job cannot be settled yet."""
    if p.get("quoted", "state") != "ok":
        return p.get("quoted", "state")
    status = [
        *p.column("receipts", "receipt_status"),
        *p.column("used", "used_status"),
        *p.column("left", "left_status"),
        *p.column("invoices", "invoice_status"),
        *p.column("extras", "extra_status"),
        *p.column("worked", "worked_status"),
    ]
    if cells.bad(status):
        return "! fix the rows of Used, Invoices"
    return "ok" if cells.numbers(p.column("receipts", "cost")) else "! no receipts on Used yet"


def layers_of(p: Pipeline) -> list[Row]:
    """Return the rows of Layer by layer, an empty one where there is no layer."""
    return [_layer(p, index) for index in range(p.plan.block("settle_layers").rows)]


def _layer(p: Pipeline, index: int) -> Row:
    layer = p.get("quoted_layers", "layer", index)
    if not isinstance(layer, str) or not layer:
        return {}

    def quoted(name: str) -> float:
        return cells.number(p.get("quoted_layers", name, index))

    done = cells.numbers([p.get("coated", "done", index), p.get("coated", "by_log", index)])
    area = done[0] if done else quoted("coated")
    share = area / quoted("coated") if quoted("coated") > 0 else 0.0
    films = zip(p.column("log", "layer"), p.column("log", "wet"), strict=True)
    read = cells.numbers(wet for name, wet in films if cells.same(name, layer))
    wet = sum(read) / len(read) if read else quoted("wet")
    film = quoted("net") * share
    return {
        "layer": layer, "area_quoted": quoted("coated"), "area_done": area,
        "film_quoted": quoted("net"), "film_area": film, "readings": len(read), "wet": wet,
        "film_actual": film * wet / quoted("wet") if quoted("wet") > 0 else film,
        "allowed": quoted("mixed") * share,
        "logged": used.of_product(p, ("used", "used_volume"), ("log", "layer"), layer),
        "product": p.get("quoted_layers", "product", index),
        "unmeasured": ("" if done else "area ") + ("" if read else "film"),
    }  # fmt: skip


def in_use(p: Pipeline) -> list[bool]:
    """Return which rows of Products are quoted, bought, logged or counted."""
    named = [
        *p.column("quoted_products", "product"),
        *p.column("receipts", "product"),
        *p.column("used", "used_product"),
        *p.column("left", "product"),
    ]
    return [
        isinstance(product, str) and product != "" and cells.count(named, product) > 0
        for product in p.column("products", "product")
    ]


def accounts_of(p: Pipeline) -> list[Account]:
    """Return every product in use, settled, in the order of Products."""
    rows = zip(p.column("products", "product"), in_use(p), strict=True)
    return [_account(p, str(product)) for product, mine in rows if mine]


def _account(p: Pipeline, product: str) -> Account:
    films = p.once(layers_of)

    def of_layers(name: str) -> float:
        return cells.total(f[name] for f in films if f and cells.same(f["product"], product))

    def quoted(name: str) -> float:
        mine = ("quoted_products", "product")
        return used.of_product(p, ("quoted_products", name), mine, product)

    came, by_log, rest = used.issued(p, product), used.logged(p, product), used.counted(p, product)
    counts = zip(
        p.column("left", "product"), p.column("left", "goes"), p.column("left", "rest"), strict=True
    )
    shelved = cells.total(
        v for of, goes, v in counts if cells.same(of, product) and cells.same(goes, used.GOES[0])
    )
    packs, cost = quoted("bought"), round_money(quoted("cost"))
    paid = used.of_product(p, ("landed", "cost"), ("receipts", "product"), product)
    had = abs(came) > NOISE
    price_paid = paid / came if had else cost / packs if packs > 0 else 0.0
    price_quoted = cost / packs if packs > 0 else price_paid
    counts_at = worth_of(p)
    charged, unexplained = came - shelved * counts_at, came - rest - by_log
    film, film_area, film_actual = (
        quoted("net"), of_layers("film_area"), of_layers("film_actual")
    )  # fmt: skip
    factor = packs / film if film > 0 else 0.0
    area, rate, dearer = _split(
        film, film_area, film_actual, packs, price_quoted, charged, price_paid
    )
    shelf = round_money(shelved * counts_at * price_paid)
    actual = round_money(paid - shelf)
    lacking = [str(f["unmeasured"]) for f in films if f and cells.same(f["product"], product)]
    money: Row = {
        "unmeasured": ("area " if any("area" in f for f in lacking) else "")
        + ("thickness" if any("film" in f for f in lacking) else ""),
        "product": product, "quoted": cost, "area": round_money(area), "rate": round_money(rate),
        "price": round_money(dearer if had else actual - charged * price_quoted),
        "actual": actual, "difference": round_money(actual - cost),
        "unexplained": round_money(unexplained * price_paid), "shelf": shelf,
    }  # fmt: skip
    money["waste"] = round_money(
        actual - cost - sum(cells.number(money[n]) for n in ("area", "rate", "price"))
    )
    own = (charged - packs - (film_actual - film) * factor) * price_quoted
    volumes: Row = {
        "product": product, "quoted": packs, "allowed": of_layers("allowed"), "issued": came,
        "by_log": by_log, "rest": rest, "by_count": came - rest, "unexplained": unexplained,
        "shelved": shelved, "charged": charged,
        "verdict": _verdict(p, came, by_log, rest),
    }  # fmt: skip
    rates: Row = {
        "product": product, "film_quoted": film, "film_area": film_area,
        "film_actual": film_actual, "factor": factor, "price_quoted": price_quoted,
        "price_paid": price_paid, "own_waste": own,
        "apart": abs(own - cells.number(money["waste"])),
    }  # fmt: skip
    return Account(product, volumes, money, rates)


def _split(
    film: float,
    film_area: float,
    film_actual: float,
    packs: float,
    price_quoted: float,
    charged: float,
    price_paid: float,
) -> tuple[float, float, float]:
    """Return the area, the rate and the price difference of a product, not rounded.

    Film stands for area, and what is spread of it for the rate: layers of one product have rates of
    their own. The packs quoted beyond the film are the loss. Where a figure is out of what
    :func:`variance.split_difference` takes, as for a product that was not quoted, or of which more
    went back than came, the same is reckoned here.
    """
    if min(film, film_area, film_actual) > 0 and packs >= film and min(charged, price_paid) >= 0:
        loss = variance.loss_fraction(film, packs)
        split = variance.split_difference(
            variance.Quoted(area=film, rate=1.0, loss=loss, price=price_quoted),
            variance.Used(
                area=film_area, amount=charged, price=price_paid, rate=film_actual / film_area
            ),
        )
        assert split.rate is not None
        return split.area, split.rate, split.price
    for_film = packs / film * price_quoted if film > 0 else 0.0
    area, rate = (film_area - film) * for_film, (film_actual - film_area) * for_film
    return area, rate, (price_paid - price_quoted) * charged


def _verdict(p: Pipeline, came: float, by_log: float, rest: float) -> str:
    if max(rest, by_log) > came + NOISE:
        return TOO_MUCH
    limit = cells.number(p.get("settle_state", "unexplained"))
    far = abs(came - rest - by_log) > limit * abs(came - rest) + NOISE
    return "CHECK: unexplained" if far else "ok"


def sums_of(p: Pipeline) -> dict[str, float]:
    """Return what all products come to, to the cent."""
    money = [account.money for account in p.once(accounts_of)]
    sums = {
        name: round_money(cells.total(row[name] for row in money))
        for name in (*STEPS, "unexplained")
    }
    causes = sum(sums[name] for name in ("area", "rate", "waste", "price"))
    sums["residual"] = round_money(sums["actual"] - sums["quoted"] - causes)
    return sums


def _from(pick: Callable[[Account], Row]) -> Figure:
    """Return a rule that shows a row of every product in use, and blanks below."""

    def rule(p: Pipeline, name: str, index: int) -> Value:
        accounts = p.once(accounts_of) if p.once(state_of) == "ok" else []
        return pick(accounts[index])[name] if index < len(accounts) else ""

    return rule


def settled(
    figure: Figure,
) -> Figure:
    """Return a rule that says why not, as long as the job cannot be settled."""

    def rule(p: Pipeline, name: str, index: int) -> Value:
        state = p.once(state_of)
        return figure(p, name, index) if state == "ok" else state

    return rule


def _blank_unless_settled(
    figure: Figure,
) -> Figure:
    return lambda p, name, index: figure(p, name, index) if p.once(state_of) == "ok" else ""


def worth_of(p: Pipeline) -> float:
    """Return the share of what was paid that what comes back counts at."""
    return 0.0 if cells.same(p.get("rates", "leftovers"), "without worth") else 1.0


def _receipts(p: Pipeline) -> float:
    return cells.total(p.column("landed", "cost"))


def _from_shelf(p: Pipeline) -> float:
    return used.of_product(p, ("landed", "cost"), ("receipts", "kind"), used.KINDS[1])


def levels_of(p: Pipeline) -> list[float]:
    """Return where the chart stands after each step: quoted, the causes, and used."""
    level, levels = 0.0, []
    for name in STEPS[:-1]:
        level = round_money(level + p.once(sums_of)[name])
        levels.append(level)
    return [*levels, level]


def _state(p: Pipeline, name: str, _index: int) -> Value:
    if name == "state":
        return p.once(state_of)
    if name == "receipts":
        return _receipts(p)
    if name == "from_shelf":
        return _from_shelf(p)
    if name == "tie":
        money = [account.money for account in p.once(accounts_of)]
        split = sum(cells.total(row[n] for row in money) for n in ("actual", "shelf"))
        return round_money(abs(_receipts(p) - split))
    return "! a step falls below 0: no chart" if min(p.once(levels_of)) < 0 else "ok"


def _paid_for(p: Pipeline, name: str, index: int) -> Value:
    """Return what the job pays for, which holds before it can be settled; else its state."""
    if name == "charges":
        return shopping.charges(p)
    return worth_of(p) if name == "worth" else settled(_state)(p, name, index)


def _steps(p: Pipeline, name: str, index: int) -> Value:
    levels, last = p.once(levels_of), index == len(STEPS) - 1
    to = levels[index]
    amount = 0.0 if last else p.once(sums_of)[STEPS[index]]
    if name == "step":
        return p.plan.text(p.plan.block("settle_sums").field(STEPS[index]).header)
    if name in {"amount", "to", "from"}:
        return {"amount": amount, "to": to, "from": to - amount}[name]
    if min(levels) < 0:
        return ""
    if index == 0 or last:
        return to if name == "total" else 0.0
    drawn = {"lead": min(to, to - amount), "up": max(amount, 0.0), "down": max(-amount, 0.0)}
    return drawn.get(name, 0.0)


def booked_of(p: Pipeline) -> dict[str, float]:
    """Return what is booked on each account, debit above 0, in the order of the accounts."""
    sums, bought = p.once(sums_of), _receipts(p) - _from_shelf(p)
    stock = round_money(bought - sums["actual"])
    causes = {name: sums[name] for name in ("area", "rate", "waste", "price")}
    beside = {name: round_money(of_kind(p, kind)) for name, kind in BESIDE.items()}
    owed = round_money(-bought - cells.total(p.column("extras", "cost")))
    return {"stock": stock, "suppliers": owed, "job": sums["quoted"], **causes, **beside}


BESIDE = {
    "additives": "additive", "sundries": "sundry", "freight": "freight", "tax": "tax",
    "deposits": "deposit",
}  # fmt: skip
"""The kind of line on Invoices that each further account takes."""


def of_kind(p: Pipeline, kind: str) -> float:
    """Return what the other lines of a kind cost, with their shares."""
    return used.of_product(p, ("extras", "cost"), ("extras", "kind"), kind)


def _journal(p: Pipeline, name: str, index: int) -> Value:
    account, amount = list(p.once(booked_of).items())[index]
    if name == "account":
        return p.get("accounts", account) or ""
    return max(amount if name == "debit" else -amount, 0.0)


def _journal_total(p: Pipeline, name: str, _index: int) -> Value:
    booked = p.once(booked_of).values()
    debit = round_money(sum(a for a in booked if a > 0))
    credit = round_money(-sum(a for a in booked if a < 0))
    return {"debit": debit, "credit": credit, "open": round_money(debit - credit)}[name]


def _order(p: Pipeline, name: str, index: int) -> Value:
    mine = p.once(in_use)
    if name == "word":
        used = [str(v) for v, use in zip(p.column("products", "product"), mine, strict=True) if use]
        return used[index].strip().casefold() if index < len(used) else ""
    return int(mine[index]) if name == "in_use" else sum(mine[: index + 1])


def _waste_of(account: Account) -> Row:
    """Return what the waste of a product is made of, at the price quoted."""
    price = cells.number(account.rates["price_quoted"])
    came, charged = (cells.number(account.volumes[n]) for n in ("issued", "charged"))
    returned = round_money(-(came - charged) * price)
    mystery = round_money(cells.number(account.volumes["unexplained"]) * price)
    waste = cells.number(account.money["waste"])
    return {
        "product": account.product,
        "returned": returned,
        "mystery": mystery,
        "lost": round_money(waste - returned - mystery),
        "waste": waste,
    }


def _steps_of(p: Pipeline, name: str, index: int) -> Value:
    """Return a step of the quote with the hours that were worked on it."""
    step = p.get("quoted_steps", "step", index)
    if not isinstance(step, str) or not step:
        return ""
    quoted = cells.number(p.get("quoted_steps", "hours", index))
    worked = used.of_product(p, ("worked", "hours"), ("worked", "worked_step"), step)
    told = bool(cells.numbers(p.column("worked", "hours")))
    figures: Row = {
        "step": step, "quoted": quoted, "worked": worked, "more": worked - quoted if told else 0.0
    }  # fmt: skip
    return figures[name]


RULES: dict[str, Figure] = {
    "settle_steps": _blank_unless_settled(_steps_of),
    "settle_waste": _from(_waste_of),
    "settle_state": _paid_for,
    "settle_sums": settled(lambda p, name, _: p.once(sums_of)[name]),
    "settle": _from(lambda account: account.volumes),
    "settle_money": _from(lambda account: account.money),
    "settle_rates": _from(lambda account: account.rates),
    "settle_layers": _blank_unless_settled(
        lambda p, name, index: p.once(layers_of)[index].get(name, "")
    ),
    "settle_order": _order,
    "steps": _blank_unless_settled(_steps),
    "journal": _blank_unless_settled(_journal),
    "journal_amounts": settled(lambda p, name, _: p.once(booked_of)[name]),
    "journal_total": settled(_journal_total),
}
