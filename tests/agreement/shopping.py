"""The shopping list of Buying in plain Python: which packs are bought, row by row.

Contract: as of :mod:`tests.agreement.native`.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from tests.agreement import cells

from pourbook.cells import Value
from pourbook.trade.price.build_up import round_money

if TYPE_CHECKING:
    from tests.agreement.pipeline import Pipeline


def _bought(p: Pipeline) -> list[int]:
    """Return the rows of Packs of which any is bought."""
    counts = p.column("packs", "count")
    return [row for row, count in enumerate(counts) if sum(cells.numbers([count])) > 0]


def _listed(p: Pipeline) -> list[int]:
    return _bought(p) if p.get("standing", "cards") == "ok" else []


def charges(p: Pipeline) -> str:
    """Return what a quote charges, in words."""
    used = cells.same(p.get("rates", "charge"), "amounts used")
    return "amounts used" if used else "packs opened"


def shopping(p: Pipeline, name: str, _: int) -> Value:
    """Return a line of the answer at the head of the sheet."""
    if name == "kinds":
        return float(len(_bought(p)))
    if name == "charges":
        return charges(p)
    standing = p.get("standing", "cards")
    if standing != "ok":
        return standing
    if name == "to_job":
        which = next((at for at, x in enumerate("ABC") if cells.same(p.get("rates", "option"), x)))
        return p.get("price", "material", which)
    if name == "from_stock":
        return cells.total(p.column("charged", "stock_cost"))
    return cells.total(p.column("packs", {"packs": "count", "cost": "pack_cost"}[name]))


def charged(p: Pipeline, name: str, index: int) -> Value:
    """Return a lot and what is charged for what is taken of it, to the cent."""
    if name == "stock_lot":
        lot = p.get("stock", "lot", index)
        return "" if cells.empty(lot) else lot
    both = cells.numbers([p.get("stock", "used", index), p.get("stock", "worth", index)])
    return round_money(both[0] * both[1]) if len(both) == 2 else 0.0


def to_buy(p: Pipeline, _: str, index: int) -> Value:
    """Return which row of the list a pack has, counted from 1; 0 if it is not bought."""
    rows = _bought(p)
    return float(rows.index(index) + 1 if index in rows else 0)


def listed(p: Pipeline, _: str, index: int) -> Value:
    """Return the row of Packs that stands in a row of the list, counted from 1; 0 past its end."""
    return float(_listed(p)[index] + 1 if index < len(_listed(p)) else 0)


def shop_list(p: Pipeline, name: str, index: int) -> Value:
    """Return a cell of the list."""
    rows = _listed(p)
    if index >= len(rows):
        return ""
    product = p.get("packs", "product", rows[index])
    if name == "list_layer":
        offered = str(p.get("rates", "option"))
        found = [
            str(p.get("amounts", "layer", row))
            for row in range(len(p.column("amounts", "option")))
            if cells.same(p.get("amounts", "option", row), offered)
            and cells.same(p.get("amounts", "product", row), str(product))
        ]
        return "; ".join(found[:6])
    column = name.removeprefix("list_")
    return p.get("packs", "pack_cost" if column == "cost" else column, rows[index])


def goes(p: Pipeline, _: str, index: int) -> Value:
    """Return the product of a layer of the option to offer, and which of its layers this is."""
    options, products = p.column("amounts", "option"), p.column("amounts", "product")
    offered = str(p.get("rates", "option"))
    own = [row for row, option in enumerate(options) if option and cells.same(option, offered)]
    if index not in own:
        return ""
    earlier = [
        row for row in own if row <= index and cells.same(products[row], str(products[index]))
    ]
    return f"{products[index]}|{len(earlier)}"


RULES = {
    "charged": charged,
    "goes": goes,
    "shopping": shopping,
    "to_buy": to_buy,
    "listed": listed,
    "shop_list": shop_list,
}
