"""What an option buys of a product: its need, what stock covers, and the cheapest whole packs.

Contract: the need of a product in an option is the sum of the parts of its layers. Stock is used
first, earliest expiry first, and never after its day; without a day of work, stock with an expiry
is left on the shelf. The rest is bought in whole packs at the least cost. Options are alternatives:
each may use all the stock. :func:`purchase` is the one plan behind PB_BUY, PB_PACKS and PB_STOCK.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from datetime import date, timedelta
from functools import lru_cache
from typing import TypeVar

from pourbook import units
from pourbook.cells import OK, Rows, Told, number, text
from pourbook.errors import BlankError, InputError, PourbookError, WaitsError
from pourbook.functions.mix import parts as parts_table
from pourbook.once import once
from pourbook.records import dataclass
from pourbook.tables.buy.packs import (
    MOST_VOLUME,
    PACKS_OPENED,
    Known,
    OnHand,
    OnSale,
    day,
    packs_by_row,
    stock_by_row,
)
from pourbook.tables.layers import OPTIONS
from pourbook.tables.products import PARTS, products_by_name
from pourbook.tables.row_loop import filled
from pourbook.trade import buying
from pourbook.trade.buying import Pack, Purchase, StockUse
from pourbook.trade.price.build_up import round_money

NODES = 20_000
MOST_COUNTED = 20_000
"""The most of one pack that any purchase may come to; the search takes a second for as many."""
PART_COLUMNS = tuple(c.id for c in parts_table.RESULTS)
_CLOSE = 1e-9
_SHOWN = 3
_IN_RATIO = 0.001
_Row = TypeVar("_Row", OnSale, OnHand)
Need = dict[tuple[str, str], "tuple[float, ...] | PourbookError"]


@dataclass(frozen=True)
class Bought:
    """What an option takes of one product, m³: its need by part, from stock, and bought."""

    need: tuple[float, ...]
    sales: tuple[OnSale, ...]
    lots: tuple[OnHand, ...]
    use: StockUse
    made: Purchase

    @property
    def spare(self) -> float:
        """Return bought and from stock less needed, m³, of the part there is least to spare of."""
        return min(self.over(at) for at in range(len(self.need)))

    @property
    def stock_cost(self) -> float:
        """Return what is charged for what is taken from stock: each lot to the cent."""
        taken = zip(self.lots, self.use.taken, strict=True)
        return math.fsum(round_money(math.fsum(parts) * lot.worth) for lot, parts in taken)

    def cost(self, charge: str) -> float:
        """Return what the job pays for packs and stock, by the words of *A quote charges*.

        Amounts used count at the mean price of both, as Settle values what comes back.
        """
        whole = self.made.cost + self.stock_cost
        if charge == PACKS_OPENED:
            return whole
        counted = zip(self.made.counts, self.sales, strict=True)
        held = [count * math.fsum(sale.pack.contents) for count, sale in counted]
        held += [math.fsum(taken) for taken in self.use.taken]
        left = math.fsum(self.made.left_over)
        return round_money(buying.cost_of_use(whole, math.fsum(held), left))

    def over(self, part: int) -> float:
        """Return how much of a part there is beyond the need, m³; below 0 it falls short."""
        counted = zip(self.made.counts, self.sales, strict=True)
        have = [count * sale.pack.contents[part] for count, sale in counted]
        have += [taken[part] for taken in self.use.taken]
        found = math.fsum((*have, -self.need[part]))
        return found if abs(found) > _CLOSE * self.need[part] else 0.0


@dataclass(frozen=True)
class Job:
    """The tables a purchase is made from, read once."""

    system: units.System
    known: Known
    need: Need
    packs: list[OnSale | PourbookError | None]
    stock: list[OnHand | PourbookError | None]
    pack_names: list[str]
    lot_names: list[str]
    on_date: date | None

    def purchase(self, option: str, product: str) -> Bought | PourbookError | None:
        """Return what an option buys of a product, its refusal, or None if it takes none."""
        name = product.casefold()
        need = self.need.get((option, name))
        if need is None or isinstance(need, PourbookError):
            return need
        try:
            sales = _mine(self.packs, self.pack_names, name, "Packs")
            lots = _mine(self.stock, self.lot_names, name, "Stock")
            known = self.known.get(name)
            if known is None or isinstance(known, PourbookError):
                raise InputError("it cannot be mixed yet", "fix its row on Products", "Product")
            need = need[: len(known.ratio)]
            return purchase(need, sales, lots, self.on_date, self.system)
        except PourbookError as error:
            return error.let_go()

    def bought(self, option: str, product: str) -> Bought | None:
        """Return what an option buys of a product, or None if it takes none.

        Raises:
            PourbookError: It cannot be bought.
        """
        found = self.purchase(option, product)
        if isinstance(found, PourbookError):
            raise found.again()
        return found


def _mine(
    found: Sequence[_Row | PourbookError | None], names: Sequence[str], name: str, table: str
) -> tuple[_Row, ...]:
    """Return the rows of one product; a bad one among them refuses all."""
    mine: list[_Row] = []
    for row, (item, named) in enumerate(zip(found, names, strict=True)):
        if item is None or named != name:
            continue
        if isinstance(item, WaitsError):  # nothing waits once it is needed
            raise BlankError(item.what, item.mend, item.where).in_row(row, table)
        if isinstance(item, PourbookError):
            raise item.in_row(row, table)
        mine.append(item)
    return tuple(mine)


@once
def read_job(
    parts: Rows,
    products: Rows,
    packs: Rows,
    stock: Rows,
    system: units.System,
    serial: float | None = None,
) -> Job:
    """Read all that a purchase hangs on; ``serial`` is the day of work, if it is known."""
    return replace(read_sales(products, packs, stock, system, serial), need=needs(parts, system))


@once
def read_sales(
    products: Rows, packs: Rows, stock: Rows, system: units.System, serial: float | None = None
) -> Job:
    """Read what is sold and what is in stock, for a purchase whose need is worked out apart."""
    known = products_by_name(products, system)
    return Job(
        system=system,
        known=known,
        need={},
        packs=packs_by_row(packs, known, system),
        stock=stock_by_row(stock, known, system),
        pack_names=[text(cells[0]).casefold() for cells in packs],
        lot_names=[text(cells[0]).casefold() for cells in stock],
        on_date=None if serial is None else day(serial, "Day of work"),
    )


def needs(parts: Rows, system: units.System) -> Need:
    """Return what each option needs of each product by part, m³; a failed layer refuses it."""
    found: Need = {}
    for _, row in filled(parts, PART_COLUMNS):
        key = text(row["part_option"]), text(row["part_product"]).casefold()
        before = found.get(key, (0.0,) * len(PARTS))
        if isinstance(before, PourbookError):
            continue
        try:
            if text(row["part_status"]) != OK:
                layer = text(row["part_layer"])
                raise WaitsError(f"'{layer}' cannot be mixed yet", "fix it on Layers")
            volumes = [number(row[f"volume_{p.lower()}"], f"Part {p}") for p in PARTS]
            more = [units.to_si(volume, system.volume) for volume in volumes]
            if not all(0 <= volume <= MOST_VOLUME for volume in more):
                raise InputError("nobody can mean that much", "check Rooms and Layers", "Parts")
            found[key] = tuple(a + b for a, b in zip(before, more, strict=True))
        except PourbookError as error:
            found[key] = error.let_go()
    return found


def purchase(
    need: Sequence[float],
    sales: Sequence[OnSale],
    lots: Sequence[OnHand],
    on_date: date | None,
    system: units.System,
) -> Bought:
    """Take the need of one product from stock and buy the rest.

    Args:
        need: Amount of each of its parts, m³.
        sales: The packs it is sold in.
        lots: What is in stock of it.
        on_date: The day of work; None leaves stock with an expiry on the shelf.
        system: The job's units, for the words of a refusal.

    Raises:
        InputError: No pack holds a part that must be bought, or too few can be had.
    """
    use = buying.use_stock(need, [lot.lot for lot in lots], on_date or date.max)
    rest = tuple(
        still if still > _CLOSE * whole else 0.0
        for still, whole in zip(use.still_needed, need, strict=True)
    )
    for part, still in zip(PARTS, rest, strict=False):
        at = PARTS.index(part)
        offered = [s.pack for s in sales if s.pack.contents[at] > 0 and s.pack.most != 0]
        if still > 0 and not offered:
            short = f"{_figure(still, system)} {system.volume} of part {part} must be bought"
            mend = "list what it is sold in under Packs on Buying"
            raise InputError(f"{short} and no pack holds it", mend, "Packs")
        tiny = next((p for p in offered if _untold(p, still / p.contents[at])), None)
        if tiny is not None:
            what = f"'{tiny.name}' would take more than {MOST_COUNTED:,} packs"
            raise InputError(what, "check what it holds, and the parts of its product", "Packs")
        most = [p.contents[at] * p.most for p in offered if p.most is not None]
        if len(most) == len(offered) and math.fsum(most) < still * (1 - _CLOSE):
            short = f"{_figure(still, system)} {system.volume} of part {part} must be bought"
            had = f"{_figure(math.fsum(most), system)} can be had"
            raise InputError(f"{short}, {had}", "add a pack, or raise Can be had", "Packs")
    made = _buy(rest, tuple(s.pack for s in sales))
    return Bought(tuple(need), tuple(sales), tuple(lots), use, made)


def _untold(pack: Pack, count: float) -> bool:
    """Return whether so many of a pack would be tried that the search takes minutes."""
    return pack.most is None and count > MOST_COUNTED


@lru_cache(maxsize=512)
def _buy(need: tuple[float, ...], packs: tuple[Pack, ...]) -> Purchase:
    return buying.buy(need, packs, node_limit=NODES)


def _figure(si: float, system: units.System) -> str:
    return f"{round(units.express(si, system.volume), _SHOWN):z.{_SHOWN}f}".rstrip("0").rstrip(".")


def to_buy(bought: Bought) -> str:
    """Return what is bought in words, such as ``2 x kit 2; 1 x B 0.5``, in the job's volume."""
    counted = zip(bought.made.counts, bought.sales, strict=True)
    listed = [f"{count} x {sale.pack.name}" for count, sale in counted if count]
    return "; ".join(listed) or "stock is enough"


def from_stock(bought: Bought, on_date: date | None, system: units.System) -> str:
    """Return what is taken from which lot in words, and what is not used because of its day."""
    listed = []
    for lot, taken in zip(bought.lots, bought.use.taken, strict=True):
        if math.fsum(taken) > 0:
            listed.append(f"{_amounts(taken, bought.need, system)} of {lot.lot.name}")
    past = [bought.lots[at].lot.name for at in bought.use.expired]
    if past:
        listed.append(f"{'expired' if on_date else 'no day of work for'} {', '.join(past)}")
    return "; ".join(listed)


def left_over(bought: Bought, on_date: date | None, system: units.System) -> str:
    """Return what is left of the packs bought, and until when it keeps if that is known.

    The day is that of the pack that keeps the shortest, counted from the day of work.
    """
    if not math.fsum(bought.made.counts):
        return ""
    amounts = _amounts(bought.made.left_over, bought.need, system)
    if not amounts:
        return "nothing"
    counted = zip(bought.made.counts, bought.sales, strict=True)
    keeps = [s.shelf_life for count, s in counted if count and s.shelf_life is not None]
    if not keeps:
        return amounts
    if on_date is None or (date.max - on_date).days < min(keeps):
        return f"{amounts}, keeps {min(keeps)} days"
    return f"{amounts} until {(on_date + timedelta(days=min(keeps))).isoformat()}"


def _amounts(by_part: Sequence[float], need: Sequence[float], system: units.System) -> str:
    """Return amounts in words: as mix where they stand in the ratio of the need, else by part."""
    whole = math.fsum(by_part)
    share = whole / math.fsum(need)
    if all(abs(a - n * share) <= _IN_RATIO * whole for a, n in zip(by_part, need, strict=True)):
        return f"{_figure(whole, system)} mix" if float(_figure(whole, system)) > 0 else ""
    shown = [(p, _figure(v, system)) for p, v in zip(PARTS, by_part, strict=False)]
    return ", ".join(f"{figure} part {part}" for part, figure in shown if float(figure) > 0)


def steps(job: Job, product: str, charge: str = PACKS_OPENED) -> list[Told]:
    """Return the working of a product's purchase for ``explain``, option by option."""
    found: list[Told] = []
    unit = job.system.volume
    for option in OPTIONS:
        bought = job.purchase(option, product)
        if isinstance(bought, PourbookError):
            raise bought.under(f"Option {option}")
        if bought is None:
            continue
        for at, whole in enumerate(bought.need):
            label = f"Option {option}, part {PARTS[at]}"
            need = units.express(whole, unit)
            found.append(Told(f"{label} needed", "the layers of this product", need, unit))
            taken = math.fsum(lot[at] for lot in bought.use.taken)
            stock = "earliest expiry first, never past it"
            found.append(Told(f"{label} from stock", stock, units.express(taken, unit), unit))
            rest = units.express(bought.use.still_needed[at], unit)
            found.append(Told(f"{label} to buy", "needed less from stock", rest, unit))
            over = units.express(bought.over(at), unit)
            found.append(
                Told(f"{label} left over", "bought and from stock less needed", over, unit)
            )
        for count, sale in zip(bought.made.counts, bought.sales, strict=True):
            if count:
                what = f"Option {option}, {sale.pack.name} {unit}"
                price = f"{count} packs at {sale.pack.price:,.2f} each, in the job's currency"
                found.append(Told(what, price, count * sale.pack.price, ""))
        if bought.stock_cost:
            what = f"Option {option}, charged from stock"
            found.append(Told(what, "what is taken, at what the shop paid", bought.stock_cost, ""))
        if charge != PACKS_OPENED:
            what, how = f"Option {option}, amounts used", "the share of all that which is mixed"
            found.append(Told(what, how, bought.cost(charge), ""))
    return found
