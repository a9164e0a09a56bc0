"""Whether what is bought does: columns aside of PB_BUY, product by product of the option to offer.

Contract: :func:`told` gives the chance that the mix runs short, one more of the cheapest pack that
helps, the chance with it, and the advice against what a second trip costs. Stock that may still be
used counts as there. Where nothing was learned, the planned loss of the job stands for
the shop's figure. It judges a purchase and never changes it.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

from pourbook import units
from pourbook.cells import OK, Rows, Value, is_blank, number, text
from pourbook.errors import FAILED, InputError, PourbookError
from pourbook.functions.buy.purchase import Bought
from pourbook.functions.mix import amounts
from pourbook.records import dataclass
from pourbook.tables.buy.packs import MOST_VOLUME, OnSale
from pourbook.tables.buy.settled_losses import WORTH, SettledLoss, settled_losses
from pourbook.tables.declared import Column
from pourbook.tables.row_loop import filled
from pourbook.trade.learning import LEAST_LOSS, Learned, known_loss
from pourbook.trade.shortage import chance_short

AMOUNT_COLUMNS = tuple(column.id for column in amounts.RESULTS)
RESULTS = (
    Column("short_chance", "The chance that what is bought does not do, as a share"),
    Column("short_more", "One more: the pack that helps at the least cost"),
    Column("short_cost", "What it costs"),
    Column("short_then", "The chance with it, as a share"),
    Column("short_advice", "enough, or one more, against what a second trip costs"),
    Column("short_state", "ok, or what to fix"),
)
ENOUGH = "enough"
_MOST_LOSS = 0.999
_SLACK = 1e-9


@dataclass(frozen=True)
class Risk:
    """What the chances hang on: amounts of each product, what was learned, a second trip."""

    net: Mapping[str, float]
    mixed: Mapping[str, float]
    known: Mapping[str, SettledLoss | PourbookError]
    trip: float | None

    def learned(self, product: str) -> Learned:
        """Return the loss of the next job of a product.

        Raises:
            PourbookError: Its row cannot be read.
        """
        found = self.known.get(product.casefold(), SettledLoss())
        if isinstance(found, PourbookError):
            raise found.again()
        planned = 1.0 - self.net[product.casefold()] / self.mixed[product.casefold()]
        typical = found.loss or min(max(planned, LEAST_LOSS), _MOST_LOSS)
        return known_loss(typical, found.spread, found.jobs, WORTH)


def read_risk(
    amount_rows: Rows, settled: Rows, option: str, trip: Value, system: units.System
) -> Risk | PourbookError:
    """Read what the chances hang on, or return why it cannot be read: the purchase stands.

    Args:
        amount_rows: The results of the Amounts table.
        settled: What settled jobs say, on Buying.
        option: The option to offer.
        trip: What a second trip costs, on Start.
        system: The job's units.
    """
    try:
        return _risk(amount_rows, settled, option, trip, system)
    except PourbookError as error:
        return error.let_go()


def _risk(amount_rows: Rows, settled: Rows, option: str, trip: Value, system: units.System) -> Risk:
    net: dict[str, float] = {}
    mixed: dict[str, float] = {}
    for _, row in filled(amount_rows, AMOUNT_COLUMNS):
        name = text(row["product"]).casefold()
        if text(row["option"]).upper() != option or text(row["status"]) != OK:
            continue
        kept, made = (
            units.to_si(number(row[column], column), system.volume) for column in ("net", "mixed")
        )
        if not 0 < kept <= made * (1 + _SLACK) <= MOST_VOLUME:
            raise InputError("nobody can mean that much", "check Rooms and Layers", "Amounts")
        net[name] = net.get(name, 0.0) + kept
        mixed[name] = mixed.get(name, 0.0) + made
    cost = None if is_blank(trip) else number(trip, "A second trip costs")
    if cost is not None and cost < 0:
        raise InputError(f"it is {cost:g}", "type 0 or more on Start", "A second trip costs")
    return Risk(net, mixed, settled_losses(settled), cost)


def told(
    bought: Bought | PourbookError | None, product: str, risk: Risk | PourbookError
) -> list[Value]:
    """Return the cells of a product by :data:`RESULTS`; blanks where none is mixed."""
    for one in (bought, risk):
        if isinstance(one, PourbookError):
            return [*[FAILED] * (len(RESULTS) - 1), one.cell_text()]
    assert isinstance(risk, Risk)
    if not isinstance(bought, Bought) or product.casefold() not in risk.mixed:
        return [""] * len(RESULTS)
    try:
        learned = risk.learned(product)
        kept = risk.net[product.casefold()]
        chance = chance_short(kept, _have(bought), learned)
        more = _one_more(bought)
        if not more:
            return [chance, "", "", "", "no pack holds it", OK]
        cost = math.fsum(sale.pack.price for sale in more)
        then = chance_short(kept, _have(bought, more), learned)
    except PourbookError as error:
        return [*[FAILED] * (len(RESULTS) - 1), error.cell_text()]
    names = "; ".join(f"1 x {sale.pack.name}" for sale in more)
    return [chance, names, cost, then, _advice(chance - then, cost, risk.trip), OK]


def _advice(less: float, cost: float, trip: float | None) -> str:
    """Return the advice: one more pays where it saves more second trips than it costs."""
    if trip is None:
        return "type what a second trip costs, on Start"
    return "one more" if less * trip > cost else ENOUGH


def _have(bought: Bought, more: Sequence[OnSale] = ()) -> float:
    """Return the mix that can be made of what is bought and in stock, m³."""
    whole = math.fsum(bought.need)
    expired = set(bought.use.expired)
    found = []
    for part, need in enumerate(bought.need):
        if need <= 0:
            continue
        counted = zip(bought.made.counts, bought.sales, strict=True)
        have = [count * sale.pack.contents[part] for count, sale in counted]
        have += [lot.lot.contents[part] for at, lot in enumerate(bought.lots) if at not in expired]
        have += [sale.pack.contents[part] for sale in more]
        found.append(math.fsum(have) * whole / need)
    return min(found, default=0.0)


def _one_more(bought: Bought) -> tuple[OnSale, ...]:
    """Return the cheapest kit that can still be had, or of each part the cheapest pack."""
    left = [
        sale
        for count, sale in zip(bought.made.counts, bought.sales, strict=True)
        if sale.pack.most is None or count < sale.pack.most
    ]
    parts = [part for part, need in enumerate(bought.need) if need > 0]
    kits = [sale for sale in left if all(sale.pack.contents[part] > 0 for part in parts)]
    if kits:
        return (min(kits, key=lambda sale: sale.pack.price),)
    chosen = []
    for part in parts:
        holding = [sale for sale in left if sale.pack.contents[part] > 0]
        if not holding:
            return ()
        chosen.append(min(holding, key=lambda sale: sale.pack.price))
    return tuple(chosen)
