"""Every check of a job, in plain Python.

Contract: :data:`CHECKS` has a function for every check of the Checks sheet, by its id: whether all
is well. One that raises stands for a formula that comes to an error, which counts as not well.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import TYPE_CHECKING

from tests.agreement import cells
from tests.agreement.cells import NOISE
from tests.agreement.native import OPTIONS

from pourbook.cells import Value

if TYPE_CHECKING:
    from tests.agreement.pipeline import Pipeline

CARDS = 24


def _option_row(p: Pipeline, line: str) -> Value:
    chosen = p.get("rates", "option")
    for index, option in enumerate(OPTIONS):
        if cells.same(chosen, option):
            return p.get("price", line, index)
    raise cells.Refused("#N/A")


def _check_start(p: Pipeline) -> bool:
    numbers = [p.get("money", "tax"), p.get("site", "crew"), p.get("site", "hours")]
    return len(cells.numbers(numbers)) == 3 and not cells.empty(p.get("money", "currency"))


def _check_dates(p: Pipeline) -> bool:
    made, until = p.get("start", "date"), p.get("start", "until")
    return cells.empty(made) or cells.empty(until) or not cells.below(until, made)


def _check_surfaces(p: Pipeline) -> bool:
    if p.get("measured", "bad"):
        return True  # a row says what is wrong with it; the sums are texts until then
    top, edge, splash, total = (
        cells.number(p.get("measured", n)) for n in ("top", "edge", "splash", "total")
    )
    return cells.near(top, edge, splash, -total)


def _none_waits(p: Pipeline) -> bool:
    costs = [v for name in ("cost_a", "cost_b", "cost_c") for v in p.column("sundries", name)]
    return not any(isinstance(v, str) and v.startswith("waits:") for v in costs)


def _good(values: list[Value]) -> bool:
    return cells.count(values, "ok") > 0 and cells.bad(values) == 0


def _check_batches(p: Pipeline) -> bool:
    status = p.column("batches", "status")
    checks = [v for v in status if isinstance(v, str) and v.upper().startswith("CHECK")]
    return _good(status) and not checks


def _check_mixed(p: Pipeline) -> bool:
    chosen = p.get("rates", "option")
    rows = zip(p.column("amounts", "mixed"), p.column("amounts", "option"), strict=True)
    mine = [v for v, of in rows if isinstance(chosen, str) and cells.same(of, chosen)]
    return cells.near(cells.total(p.column("batches", "mixed")), -cells.total(mine))


def _check_losses(p: Pipeline) -> bool:
    if cells.bad(p.column("amounts", "status")):
        return True
    parts = ("net", "take_up", "edge_loss", "loss", "batch_loss")
    mixed = cells.total(p.column("amounts", "mixed"))
    return cells.near(*(cells.total(p.column("amounts", name)) for name in parts), -mixed)


def _check_parts(p: Pipeline) -> bool:
    volumes = [cells.total(p.column("parts", f"volume_{x}")) for x in "abc"]
    return cells.near(*volumes, -cells.total(p.column("amounts", "mixed")))


def _check_additives(p: Pipeline) -> bool:
    if p.get("quoted", "state") == "ok":
        return True
    unbought = p.column("additives", "unbought")
    told = [v for v in unbought if isinstance(v, str) and v.upper().startswith("CHECK")]
    return not told and cells.bad(unbought) + cells.bad(p.column("additives", "add_status")) == 0


def _check_visits(p: Pipeline) -> bool:
    dates = cells.numbers(p.column("days", "visit_from"))
    alone = cells.same(p.get("rates", "paid_by"), "steps alone")
    if not dates or (alone and p.get("quoted", "state") == "ok"):
        return True
    try:
        days, hours = _option_row(p, "days"), _option_row(p, "hours")
    except cells.Refused:
        return True
    if not cells.numbers([days]):
        return True
    paid = cells.total(p.column("visits", "visit_paid"))
    return cells.number(days) == len(dates) and cells.number(hours) + NOISE >= paid


def _check_gates(p: Pipeline) -> bool:
    said = p.column("readings", "gate_state")
    waiting = [s for s in said if isinstance(s, str) and s.startswith("waits:")]
    return not waiting and cells.bad(said) == 0


def _check_temperature(p: Pipeline) -> bool:
    site = p.get("site", "temperature")
    cold = [c for c in p.column("products", "coldest") if not cells.empty(c)]
    warm = [c for c in p.column("products", "warmest") if not cells.empty(c)]
    return not any(cells.below(site, c) for c in cold) and not any(
        cells.below(c, site) for c in warm
    )


def _check_humidity(p: Pipeline) -> bool:
    limits = [c for c in p.column("products", "dampest") if not cells.empty(c)]
    return not any(cells.below(_damp(c), _damp(p.get("site", "humidity"))) for c in limits)


def _damp(value: Value) -> Value:
    """Return a humidity as a share: a bare 52 is 52 %."""
    is_bare = isinstance(value, int | float) and value > 1
    return float(value) / 100 if is_bare else value  # type: ignore[arg-type]


def _check_heat(p: Pipeline) -> bool:
    heat = p.column("heat", "heat_status")
    hot = sum(isinstance(v, str) and v.upper().startswith("CHECK") for v in heat)
    return hot == 0 and cells.bad(heat) == cells.bad(p.column("plan", "plan_status"))


def _none_told(block: str, column: str) -> Callable[[Pipeline], bool]:
    """Return the check that no cell of a column says CHECK."""
    return lambda p: (
        not any(
            isinstance(v, str) and v.upper().startswith("CHECK") for v in p.column(block, column)
        )
    )


def _check_packs(p: Pipeline) -> bool:
    said = [
        *p.column("packs", "pack_status"),
        *p.column("stock", "stock_status"),
        *p.column("buying", "buy_status"),
    ]
    return cells.bad(said) == 0


def _check_bought(p: Pipeline) -> bool:
    needs = [cells.total(p.column("buying", f"need_{x}")) for x in "abc"]
    costs = [cells.total(p.column("buying", f"cost_{x}")) for x in "abc"]
    chosen = p.get("rates", "option")
    mine = [c for c, o in zip(costs, OPTIONS, strict=True) if cells.same(chosen, o)]
    spare = min(cells.numbers(p.column("buying", "spare")), default=0.0)
    bought = cells.total(p.column("packs", "pack_cost"))
    bought += cells.total(p.column("charged", "stock_cost"))
    used = cells.same(p.get("rates", "charge"), "amounts used")
    return (
        cells.near(*needs, -cells.total(p.column("amounts", "mixed")))
        and spare >= -NOISE
        and (cells.near(bought, -math.fsum(mine)) or (used and math.fsum(mine) <= bought))
    )


def _check_option(p: Pipeline) -> bool:
    chosen = p.get("rates", "option")
    if not isinstance(chosen, str) or not any(
        isinstance(o, str) and cells.same(o, chosen) for o in p.column("layers", "option")
    ):
        return False
    waits = p.get("standing", "buying") != "ok"
    return waits or len(cells.numbers([_option_row(p, "net")])) == 1


def _check_labour(p: Pipeline) -> bool:
    if p.get("standing", "buying") != "ok":
        return True  # nothing to be said of hours before what they rest on is in order
    hours = _option_row(p, "hours")
    return isinstance(hours, str) or cells.number(hours) > 0  # words count as more than any number


def _check_price(p: Pipeline) -> bool:
    lines = ("material", "additives", "sundries", "labour", "travel", "overhead", "profit")
    sums = [cells.total(p.column("price", line)) for line in lines]
    return cells.near(*sums, -cells.total(p.column("price", "net")))


def _check_replace(p: Pipeline) -> bool:
    high = p.get("rates", "replace_high")
    return cells.empty(high) or not cells.below(high, p.get("rates", "replace_low"))


def _check_survey(p: Pipeline) -> bool:
    said = p.column("readings", "verdict") + p.column("onsite", "air_verdict")
    status = p.column("readings", "survey_status") + p.column("onsite", "air_status")
    return cells.count(said, "wait") + cells.count(said, "don't") + cells.bad(status) == 0


def _check_promised(p: Pipeline) -> bool:
    day = cells.numbers([p.get("site", "promised")])
    light = cells.numbers(p.column("days", "light_use"))
    return not day or (bool(light) and max(light) <= day[0] + 1)


def _check_days(p: Pipeline) -> bool:
    return cells.empty(p.get("start", "start_date")) or _good(p.column("days", "day_status"))


def _check_options(p: Pipeline) -> bool:
    if p.get("standing", "cards") != "ok":
        return True
    if set(p.column("options", "option_status")) != {"ok"}:
        return False
    offered_air = p.column("days", "air")
    elsewhere = {  # where the option to offer fails alike, its own check says so
        "batches": False,
        "calendar": cells.bad(p.column("days", "day_status")) > 0,
        "air": cells.count(offered_air, "wait") + cells.count(offered_air, "don't") > 0,
    }
    return all(
        told or "CHECK" not in p.column("options", f"option_{name}")
        for name, told in elsewhere.items()
    )


def _check_proof(p: Pipeline) -> bool:
    said = p.column("proofs", "proof_verdict")
    wrong = cells.count(said, "fails") + cells.count(said, "too early")
    return wrong + cells.bad(p.column("proofs", "proof_status")) == 0


def _is_accepted(p: Pipeline) -> bool:
    return p.get("quoted", "state") == "ok"


def _check_accepted(p: Pipeline) -> bool:
    typed = p.column("log", "layer") + p.column("receipts", "product") + p.column("left", "product")
    if all(v is None for v in typed):
        return True
    days = cells.numbers(
        p.column("log", "started") + p.column("receipts", "date") + p.column("left", "date")
    )
    return _is_accepted(p) and (not days or min(days) >= _accepted_first(p))


def _accepted_first(p: Pipeline) -> float:
    return min(
        cells.numbers([p.get("quoted", "accepted_on"), *p.column("revisions", "accepted_on")]),
        default=0.0,
    )


def _check_accepted_days(p: Pipeline) -> bool:
    if not _is_accepted(p):
        return True
    first, quoted = _accepted_first(p), cells.number(p.get("quoted", "quote_date"))
    until = p.get("start", "until")
    days = [d for name in ("started", "ended") for d in p.column("log", name)]
    days += p.column("receipts", "date") + p.column("left", "date")
    stood = first >= quoted and (until is None or first <= cells.number(until))
    return stood and max(cells.numbers(days), default=0.0) <= quoted + 731


def _check_unchanged(p: Pipeline) -> bool:
    blocks = ("quoted_lines", "quoted_layers", "quoted_products")
    said = [v for block in blocks for v in p.column(block, "changed")]
    option = p.get("quoted", "option")
    same = isinstance(option, str) and cells.same(p.get("rates", "option"), option)
    typed = p.column("entered", "entered_since")
    left = same and cells.count(said, "changed") == 0 and set(typed) == {"same"}
    return not _is_accepted(p) or left


def _one(value: Value) -> bool:
    return len(cells.numbers([value])) == 1


def _accounts_named(p: Pipeline) -> bool:
    return all(p.get("accounts", f.id) is not None for f in p.plan.block("accounts").columns)


def _sum(p: Pipeline, name: str) -> float:
    return cells.number(p.get("settle_sums", name))


def _state(p: Pipeline, name: str) -> float:
    return cells.number(p.get("settle_state", name))


def _when_settled(check: Callable[[Pipeline], bool]) -> Callable[[Pipeline], bool]:
    """Return a check that is well as long as the job cannot be settled yet."""
    return lambda p: p.get("settle_state", "state") != "ok" or check(p)


def _waste_as_worked_out(p: Pipeline) -> bool:
    apart = max(cells.numbers(p.column("settle_rates", "apart")), default=0.0)
    return apart <= _state(p, "roundings") + NOISE


def _all_still_there(p: Pipeline) -> bool:
    def adds_up(one: tuple[str, str], other: tuple[str, str]) -> bool:
        return cells.near(cells.total(p.column(*one)), -cells.total(p.column(*other)))

    packs = adds_up(("settle", "quoted"), ("quoted_products", "bought"))
    return packs and adds_up(("settle_rates", "film_quoted"), ("settle_layers", "film_quoted"))


def _check_unexplained(p: Pipeline) -> bool:
    said = p.column("settle", "verdict")
    look = sum(isinstance(v, str) and v.startswith("CHECK") for v in said)
    return _one(p.get("settle_state", "unexplained")) and look == 0


CHECKS: dict[str, Callable[[Pipeline], bool]] = {
    "live": lambda _: True,
    "start": _check_start,
    "dates": _check_dates,
    "named": lambda p: not cells.empty(p.get("start", "job")),
    "finishes": lambda p: cells.bad(p.column("finish_layers", "together")) == 0,
    "figures": lambda p: cells.total(p.column("picked", "usual")) == 0,
    "sundries_priced": _none_waits,
    "rooms": lambda p: _good(p.column("rooms", "status")),
    "surfaces": _check_surfaces,
    "products": lambda p: _good(p.column("products", "status")),
    "layers": lambda p: _good(p.column("amounts", "status")),
    "tables": lambda _: True,  # nothing is cut in a job that was made
    "words": lambda p: set(p.column("words", "words_status")) == {"ok"},
    "batches": _check_batches,
    "batches_mixed": _check_mixed,
    "cards": lambda p: cells.count(p.column("batches", "status"), "ok") <= CARDS,
    "losses": _check_losses,
    "parts": _check_parts,
    "temperature": _check_temperature,
    "humidity": _check_humidity,
    "heat": _check_heat,
    "kinetics": lambda p: p.get("quoted", "state") == "ok" or _none_told("heat", "heat_says")(p),
    "joins": _none_told("joining", "join_status"),
    "heated": _none_told("days", "day_note"),
    "pass_film": _none_told("pass_films", "film_status"),
    "packs": _check_packs,
    "bought": _check_bought,
    "labour": _check_labour,
    "additives": _check_additives,
    "visits": _check_visits,
    "gates": _check_gates,
    "rates": lambda p: p.get("rates", "ready") == "ok",
    "option": _check_option,
    "price": _check_price,
    "profit": lambda p: not any(v < 0 for v in cells.numbers(p.column("price", "profit"))),
    "replace": _check_replace,
    "survey": _check_survey,
    "proof": _check_proof,
    "days": _check_days,
    "promised": _check_promised,
    "air": lambda p: not {"wait", "don't"} & set(p.column("days", "air")),
    "options": _check_options,
    "accepted": _check_accepted,
    "accepted_days": _check_accepted_days,
    "unchanged": _check_unchanged,
    "log": lambda p: cells.bad(p.column("used", "used_status")) == 0,
    "looks": lambda p: set(p.column("looks", "look_status")) == {"ok"},
    "lots": lambda p: not any(cells.same(v, "yes") for v in p.column("used", "early")),
    "receipts": lambda p: cells.bad(p.column("receipts", "receipt_status")) == 0,
    "counted": lambda p: cells.bad(p.column("left", "left_status")) == 0,
    "issued": lambda p: cells.bad(p.column("issued", "issued_status")) == 0,
    "used": lambda p: _one(p.get("limits", "film_off")) and _accounts_named(p),
    "invoices": lambda p: (
        cells.bad(p.column("invoices", "invoice_status"))
        + cells.bad(p.column("extras", "extra_status"))
        == 0
    ),
    "worked": lambda p: cells.bad(p.column("worked", "worked_status")) == 0,
    "settle_split": _when_settled(lambda p: cells.near(_sum(p, "residual"))),
    "settle_receipts": _when_settled(lambda p: _state(p, "tie") <= NOISE),
    "settle_journal": _when_settled(
        lambda p: cells.near(cells.number(p.get("journal_total", "open")))
    ),
    "settle_waste": _when_settled(_waste_as_worked_out),
    "settle_products": _when_settled(_all_still_there),
    "settle_unexplained": _check_unexplained,
    "closed": lambda p: cells.number(p.get("closed_state", "moved")) <= NOISE,
}
