"""Buy the cheapest whole packs that cover what is needed after stock on hand.

Contract: pure functions on plain numbers; amounts of each part in one unit a part (m3 or kg),
prices in one currency, dates as :class:`datetime.date` given by the caller (no clock here).
Searches are limited in nodes, never in seconds. Refusals are :class:`pourbook.errors.InputError`.

Source: the covering form of the knapsack problem, S. Martello and P. Toth, "Knapsack Problems"
(1990), from memory; the search is in :mod:`pourbook.trade.covering`.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import date

from pourbook.errors import InputError
from pourbook.records import dataclass
from pourbook.trade.batch.grid import not_negative
from pourbook.trade.covering import NODE_LIMIT, cover_parts


@dataclass(frozen=True)
class Pack:
    """A pack that is sold whole.

    Args:
        name: What the estimator calls it.
        contents: Amount of each part in it, m3 or kg; a kit holds several parts, a single pack
            holds zero of the others.
        price: Price of one pack, currency, zero or more.
        most: Most packs that can be had, or None for no limit.

    Raises: nothing here; :func:`buy` checks. Validity: see :func:`buy`. Source: none, a record.

    Example:
        >>> Pack("kit 3 L", (0.002, 0.001), 60.0).most is None
        True
    """

    name: str
    contents: tuple[float, ...]
    price: float
    most: int | None = None


@dataclass(frozen=True)
class Lot:
    """Stock on hand.

    Args:
        name: What the estimator calls it.
        contents: Amount of each part left, m3 or kg.
        expiry: Last day it may be used, or None when it does not expire.

    Raises: nothing here; :func:`use_stock` checks. Validity: see there. Source: none, a record.

    Example:
        >>> Lot("opened can", (0.001,)).expiry is None
        True
    """

    name: str
    contents: tuple[float, ...]
    expiry: date | None = None


@dataclass(frozen=True)
class StockUse:
    """What is taken from stock.

    Args:
        taken: For each lot as listed, the amount of each part taken, m3 or kg.
        still_needed: Amount of each part still to be bought, m3 or kg.
        expired: Places of the lots that are past their last day.
        note: A remark for the estimator, or nothing.

    Raises: nothing. Validity: any. Source: none, it is a record.

    Example:
        >>> StockUse((), (1.0,), (), "").still_needed
        (1.0,)
    """

    taken: tuple[tuple[float, ...], ...]
    still_needed: tuple[float, ...]
    expired: tuple[int, ...]
    note: str


@dataclass(frozen=True)
class Purchase:
    """What to buy.

    Args:
        counts: How many of each pack, in the order the packs were given.
        cost: What they cost, currency, unrounded.
        left_over: Amount of each part beyond the need, m3 or kg.
        bound: A cost that no purchase can go below, currency.
        proved: True when no purchase is cheaper.
        nodes: Search steps used.

    Raises: nothing. Validity: any. Source: none, it is a record.

    Example:
        >>> Purchase((2,), 10.0, (0.0,), 10.0, True, 3).counts
        (2,)
    """

    counts: tuple[int, ...]
    cost: float
    left_over: tuple[float, ...]
    bound: float
    proved: bool
    nodes: int


def _amounts(values: Sequence[float], what: str, parts: int) -> tuple[float, ...]:
    """Return amounts as floats; refuse what is negative, no number, or of another length."""
    if len(values) != parts:
        raise InputError(
            f"{what} has {len(values)} parts where the product has {parts}",
            "give one amount for each part",
        )
    return tuple(not_negative(value, what) for value in values)


def cost_of_use(cost: float, held: float, left: float) -> float:
    """Return the part of a purchase's cost that falls on what is used of it, by volume.

    Args:
        cost: What the packs cost, currency.
        held: What they hold, all parts together, m³.
        left: What is left of them, m³; 0 to ``held``.

    Returns:
        The cost of what is used, currency, unrounded; 0 where nothing is bought.

    Raises:
        InputError: Something is below 0, or more is left than they hold.

    Validity: any. Source: pro rata by volume, common practice, no source.

    Example:
        >>> cost_of_use(60.0, 0.002, 0.0005)
        45.0
    """
    cost, held, left = (
        not_negative(value, what)
        for value, what in ((cost, "Cost"), (held, "Held"), (left, "Left over"))
    )
    if not held:
        return 0.0
    if left > held * (1 + 1e-9):
        raise InputError(f"{left:g} is left of {held:g}", "check what is left")
    return cost * (1 - min(left / held, 1.0))


def use_stock(need: Sequence[float], lots: Sequence[Lot], on_date: date) -> StockUse:
    """Take what is needed from stock, earliest expiry first, never from expired lots.

    A lot may be used on its last day. Lots without a last day come last; equal ones in the order of
    the list.

    Args:
        need: Amount of each part, m3 or kg, zero or more.
        lots: Stock on hand.
        on_date: The day of pouring.

    Returns:
        A :class:`StockUse`. Expired stock is left and named in the note, it is no error.

    Raises:
        InputError: An amount is negative or no number, or a lot has other parts than the need.

    Validity: each part is taken on its own; whether parts of different lots may be mixed is the
    product's affair. Source: first-expired-first-out, the usual store rule.

    Example:
        >>> old = Lot("old", (1.0,), date(2030, 1, 1))
        >>> new = Lot("new", (5.0,), date(2030, 6, 1))
        >>> use_stock([3.0], [new, old], date(2029, 12, 1)).taken
        ((2.0,), (1.0,))
    """
    rest = list(_amounts(need, "the need", len(need)))
    stock = [_amounts(lot.contents, f"stock lot {lot.name}", len(rest)) for lot in lots]
    taken = [(0.0,) * len(rest) for _ in lots]
    expired: list[int] = []
    usable: list[tuple[date, int]] = []
    for at, lot in enumerate(lots):
        last_day = lot.expiry or date.max
        if last_day < on_date:
            expired.append(at)
        else:
            usable.append((last_day, at))
    for _, at in sorted(usable):
        taken[at] = tuple(min(rest[part], amount) for part, amount in enumerate(stock[at]))
        rest = [one - taken[at][part] for part, one in enumerate(rest)]
    note = ""
    if expired:
        names = ", ".join(lots[at].name for at in expired)
        only = "all stock is expired and not used" if not usable else "expired and not used"
        note = f"{only}: {names}"
    return StockUse(tuple(taken), tuple(rest), tuple(expired), note)


def buy(need: Sequence[float], packs: Sequence[Pack], *, node_limit: int = NODE_LIMIT) -> Purchase:
    """Buy the cheapest whole packs that cover the need of every part.

    Of equally cheap purchases the one with least left over (each part relative to its need) wins,
    then the one with the fewest packs; the choice is the same on every platform.

    Args:
        need: Amount of each of 1 to 3 parts, m3 or kg, zero or more.
        packs: What is sold: kits, parts apart, or both.
        node_limit: Most search steps.

    Returns:
        A :class:`Purchase`. When ``proved`` is False it covers the need, and a cheaper one may
        exist, though not below ``bound``.

    Raises:
        InputError: A pack is empty, a price is negative, or the packs cannot cover a part.

    Validity: prices from one millionth of the currency; a need counts as covered to 1e-9 of it.
    Source: see the module.

    Example:
        >>> made = buy([9], [Pack("1 gal", (1,), 30), Pack("5 gal", (5,), 110)])
        >>> made.counts, made.cost, made.left_over
        ((0, 2), 220.0, (1.0,))
    """
    wanted = _amounts(need, "the need", len(need))
    if not 1 <= len(wanted) <= 3:
        raise InputError(f"a product with {len(wanted)} parts", "give the need of 1, 2 or 3 parts")
    contents: list[tuple[float, ...]] = []
    for pack in packs:
        contents.append(_amounts(pack.contents, f"pack {pack.name}", len(wanted)))
        if not any(contents[-1]):
            raise InputError(f"pack {pack.name} is empty", "type what the pack holds")
        not_negative(pack.price, f"the price of {pack.name}")
        not_negative(pack.most or 0, f"the number of {pack.name} that can be had")
    found = cover_parts(
        wanted,
        contents,
        [float(pack.price) for pack in packs],
        [pack.most for pack in packs],
        node_limit=node_limit,
    )
    left = tuple(
        max(
            0.0,
            math.fsum([count * contents[at][part] for at, count in enumerate(found.counts)])
            - amount,
        )
        for part, amount in enumerate(wanted)
    )
    cost = math.fsum(count * float(packs[at].price) for at, count in enumerate(found.counts))
    bound = cost if found.proved else min(cost, found.bound)
    return Purchase(found.counts, cost, left, bound, found.proved, found.nodes)
