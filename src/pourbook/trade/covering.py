"""Cheapest covering: whole packs of one to three parts, some limited in number.

Contract: pure and deterministic; amounts and prices are turned into whole numbers once, and the
search runs on those. :mod:`pourbook.trade.buying` puts names to it.

Sources: P. E. Hart, N. J. Nilsson and B. Raphael (1968) for best-first search with a consistent
bound; the bound is the dual of the linear relaxation, all of whose corners are listed because there
are at most three parts. From memory.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction
from functools import lru_cache
from heapq import heappop, heappush
from itertools import combinations

from pourbook.errors import InputError
from pourbook.records import dataclass
from pourbook.trade.batch.grid import not_negative

NODE_LIMIT = 200_000
_MONEY = 10**6
_FINE = 10**12
_SLACK = 500
_STEPS = 240
_CLOSE = 10**9
"""One unit in so many may be off."""

_Row = tuple[int, ...]
_Label = tuple[int, int, int]


@dataclass(frozen=True)
class Covering:
    """A covering found.

    Args:
        counts: How many of each pack.
        cost: Their price, in the unit of the prices, to one millionth.
        bound: A price that no covering can go below.
        proved: True when no covering is cheaper.
        nodes: Search steps used.

    Raises: nothing. Validity: any. Source: none, it is a record.

    Example:
        >>> Covering((3,), 3.0, 3.0, True, 4).counts
        (3,)
    """

    counts: tuple[int, ...]
    cost: float
    bound: float
    proved: bool
    nodes: int


def _on_grid(need: float, amounts: Sequence[float]) -> tuple[int, list[int]]:
    """Turn a need and pack contents into whole units, a common measure where there is one."""
    wanted = Fraction(need)
    exact = [Fraction(amount) for amount in amounts]
    smallest = min(amount for amount in exact if amount)
    shares = [(amount / smallest).as_integer_ratio() for amount in exact]
    for steps in range(1, _STEPS + 1):  # whole numbers throughout: fractions take ten times as long
        whole = []
        for top, below in shares:
            units = top * steps
            whole.append((2 * units + below) // (2 * below))
            if abs(units - whole[-1] * below) * _CLOSE > units:
                break
        else:
            return -int(-(wanted * steps / smallest * (1 - Fraction(1, _CLOSE))) // 1), whole
    return _FINE - _SLACK, [
        max(int(amount > 0), round(amount * _FINE / wanted)) for amount in exact
    ]


@lru_cache(maxsize=256)
def _corners(rows: tuple[_Row, ...], prices: tuple[int, ...]) -> list[tuple[_Row, int]]:
    """List the corners of {y >= 0: contents x y <= price} as whole numbers over a denominator.

    They rest on the packs alone: a job that is planned in several ways asks for the same ones.
    """
    parts = len(rows[0])
    axes = [tuple(int(at == part) for at in range(parts)) for part in range(parts)]
    walls = [(row, prices[at]) for at, row in enumerate(rows)] + [(axis, 0) for axis in axes]
    corners: set[tuple[Fraction, ...]] = set()
    for chosen in combinations(walls, parts):
        corner = _solve([row for row, _ in chosen], [level for _, level in chosen])
        if corner is None or min(corner) < 0:
            continue
        if all(
            sum(row[part] * corner[part] for part in range(parts)) <= prices[at]
            for at, row in enumerate(rows)
        ):
            corners.add(corner)
    listed: list[tuple[_Row, int]] = []
    for corner in sorted(corners):
        below = 1
        for value in corner:
            below *= value.denominator
        listed.append((tuple(int(value * below) for value in corner), below))
    return listed


def _solve(rows: list[_Row], levels: list[int]) -> tuple[Fraction, ...] | None:
    """Solve rows x y = levels exactly, or return None when there is no single answer."""
    size = len(rows)
    grid = [[Fraction(value) for value in (*row, levels[at])] for at, row in enumerate(rows)]
    for column in range(size):
        pivot = next((at for at in range(column, size) if grid[at][column]), None)
        if pivot is None:
            return None
        grid[column], grid[pivot] = grid[pivot], grid[column]
        grid[column] = [value / grid[column][column] for value in grid[column]]
        for at in range(size):
            if at != column and grid[at][column]:
                factor = grid[at][column]
                grid[at] = [value - factor * grid[column][k] for k, value in enumerate(grid[at])]
    return tuple(row[-1] for row in grid)


@dataclass(frozen=True)
class _Item:
    """So many of one pack at once; ``once`` when it can be taken one time only."""

    pack: int
    many: int
    once: bool


def _items(bounds: Sequence[int | None]) -> Iterator[_Item]:
    """Split limited packs into powers of two and a rest, so that every number can be taken."""
    for at, bound in enumerate(bounds):
        if bound is None:
            yield _Item(at, 1, once=False)
            continue
        left, size = bound, 1
        while left > 0:
            yield _Item(at, min(size, left), once=True)
            left -= size
            size *= 2


class _Search:
    """Best-first search from the whole need down to nothing left."""

    def __init__(
        self,
        need: _Row,
        rows: Sequence[_Row],
        prices: Sequence[int],
        bounds: Sequence[int | None],
    ) -> None:
        self.need = need
        self.rows = rows
        self.prices = prices
        self.items = list(_items(bounds))
        self.corners = _corners(tuple(rows), tuple(prices))
        self.nodes = 0
        product = 1
        for amount in need:
            product *= amount
        # what a pack adds to left over, each part relative to its need, as a whole number
        self.weights = [
            sum(amount * (product // need[part]) for part, amount in enumerate(row)) for row in rows
        ]

    def floor(self, rest: _Row) -> int:
        """Return a price below which ``rest`` cannot be covered."""
        best = 0
        for corner, below in self.corners:
            value = -(-sum(one * rest[part] for part, one in enumerate(corner)) // below)
            best = max(best, value)
        return best

    def run(self, node_limit: int) -> tuple[list[int] | None, int]:
        """Return the counts, or None when the nodes are spent, and the bound."""
        done: set[tuple[int, _Row]] = set()
        best: dict[tuple[int, _Row], _Label] = {(0, self.need): (0, 0, 0)}
        come: dict[tuple[int, _Row], tuple[tuple[int, _Row], int]] = {}
        start = self.floor(self.need)
        heap: list[tuple[_Label, int, int, _Row]] = [((start, 0, 0), 0, 0, self.need)]
        bound = start
        while heap:
            (estimate, _, _), _, at, rest = heappop(heap)
            here = (at, rest)
            if here in done:
                continue
            done.add(here)
            bound = estimate
            if not any(rest):
                return self._counts(here, come), estimate
            self.nodes += 1
            if self.nodes > node_limit:
                break
            if at == len(self.items):
                continue
            cost, weight, packs = best[here]
            item = self.items[at]
            row = self.rows[item.pack]
            lower = tuple(max(0, one - item.many * row[part]) for part, one in enumerate(rest))
            label = (
                cost + item.many * self.prices[item.pack],
                weight + item.many * self.weights[item.pack],
                packs + item.many,
            )
            steps = [((at + 1, rest), (cost, weight, packs), 0)]
            if lower != rest:
                steps.insert(0, ((at + item.once, lower), label, 1))
            for there, reached, take in steps:
                if there not in done and (there not in best or reached < best[there]):
                    best[there] = reached
                    come[there] = (here, take)
                    key = (reached[0] + self.floor(there[1]), reached[1], reached[2])
                    heappush(heap, (key, self.nodes, there[0], there[1]))
        return None, bound

    def _counts(
        self,
        place: tuple[int, _Row],
        come: dict[tuple[int, _Row], tuple[tuple[int, _Row], int]],
    ) -> list[int]:
        """Walk back from the end and count the packs."""
        counts = [0] * len(self.rows)
        while place in come:
            place, take = come[place]
            item = self.items[place[0]]
            counts[item.pack] += take * item.many
        return counts

    def greedy(self, bounds: Sequence[int | None]) -> list[int]:
        """Cover step by step with the pack that covers most for its price."""
        counts = [0] * len(self.rows)
        rest = self.need
        while any(rest):
            offers: list[tuple[Fraction, int]] = []
            for at, row in enumerate(self.rows):
                limit = bounds[at]
                useful = sum(
                    Fraction(min(one, row[part]), self.need[part]) for part, one in enumerate(rest)
                )
                if useful and (limit is None or counts[at] < limit):
                    offers.append((Fraction(self.prices[at]) / useful, at))
            row = self.rows[min(offers)[1]]
            counts[min(offers)[1]] += 1
            rest = tuple(max(0, one - row[part]) for part, one in enumerate(rest))
        return counts


def cover_parts(
    need: Sequence[float],
    contents: Sequence[Sequence[float]],
    prices: Sequence[float],
    bounds: Sequence[int | None] | None = None,
    *,
    node_limit: int = NODE_LIMIT,
) -> Covering:
    """Cover the need of every part at the least price with whole packs.

    Args:
        need: Amount of each part, zero or more, any one unit a part.
        contents: For each pack its amount of each part, zero or more.
        prices: Price of each pack, zero or more.
        bounds: Most of each pack, None for no limit; None for no limits at all.
        node_limit: Most search steps.

    Returns:
        A :class:`Covering`; ties go to least left over (each part relative to its need), then to
        fewest packs; the choice is the same on every platform.

    Raises:
        InputError: A number is negative or none, there are more than three parts, or the packs
            cannot cover a part.

    Validity: 1 to 3 parts; prices count to one millionth, needs are met to 1e-9. Amounts that share
    a measure (the smallest pack, or up to a 240th of it) are exact on it; others are rounded to
    1e-12 of the need, and the search is then longer. Source: see the module.

    Example:
        >>> cover_parts([63], [[1], [5], [10], [21], [25]], [1, 1, 1, 1, 1]).counts
        (0, 0, 0, 3, 0)
    """
    limits = list(bounds) if bounds is not None else [None] * len(prices)
    for amount in (*need, *prices, *(limit or 0 for limit in limits)):
        not_negative(amount, "a need, a price or a number of packs")
    for row in contents:
        for amount in row:
            not_negative(amount, "what a pack holds")
    parts = [part for part, amount in enumerate(need) if amount > 0]
    if len(parts) > 3:
        raise InputError(f"a product with {len(parts)} parts", "give the need of 1, 2 or 3 parts")
    for part in parts:
        amounts = [row[part] for row in contents]
        total = sum(
            Fraction(amount) * (limits[at] or 0)
            for at, amount in enumerate(amounts)
            if limits[at] is not None
        )
        endless = any(amount > 0 and limits[at] is None for at, amount in enumerate(amounts))
        if not endless and total < Fraction(need[part]) * (1 - Fraction(1, _CLOSE)):
            raise InputError(
                f"the packs on offer cannot cover part {part + 1}",
                "add a pack that holds it, or raise the number that can be had",
            )
    if not parts:
        return Covering((0,) * len(prices), 0.0, 0.0, proved=True, nodes=0)
    grids = [_on_grid(need[part], [row[part] for row in contents]) for part in parts]
    wanted = tuple(units for units, _ in grids)
    rows = [tuple(amounts[at] for _, amounts in grids) for at in range(len(prices))]
    money = [round(Fraction(price) * _MONEY) for price in prices]
    search = _Search(wanted, rows, money, limits)
    counts, bound = search.run(node_limit)
    proved = counts is not None
    if counts is None:
        counts = search.greedy(limits)
    cost = sum(count * money[at] for at, count in enumerate(counts))
    return Covering(tuple(counts), cost / _MONEY, bound / _MONEY, proved, search.nodes)


def cover(
    need: float,
    sizes: Sequence[float],
    prices: Sequence[float],
    bounds: Sequence[int | None] | None = None,
    *,
    node_limit: int = NODE_LIMIT,
) -> Covering:
    """Cover one amount at the least price with whole packs.

    A knapsack is the same question about what stays behind: of everything there is, leave at least
    (total weight - capacity) behind and lose as little profit as can be.

    Args:
        need: Amount, zero or more.
        sizes: What each pack holds, same unit.
        prices: Price of each pack, zero or more.
        bounds: Most of each pack, None for no limit; None for no limits at all.
        node_limit: Most search steps.

    Returns:
        A :class:`Covering`, as :func:`cover_parts` gives it.

    Raises:
        InputError: A number is negative or none, or the packs cannot cover the need.

    Validity: as :func:`cover_parts`. Source: see the module.

    Example:
        >>> cover(8, [1, 5], [30, 110]).counts
        (3, 1)
    """
    return cover_parts([need], [[size] for size in sizes], prices, bounds, node_limit=node_limit)
