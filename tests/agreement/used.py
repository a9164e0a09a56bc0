"""The native cells of Proof, Quoted and Used, in plain Python.

Contract: as :mod:`tests.agreement.native`: :data:`RULES` by block. What commands keep on Quoted
and what is typed on Used are entries to the pipeline.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from tests.agreement import cells
from tests.agreement.cells import NOISE
from tests.agreement.native import OPTIONS, shown

from pourbook.cells import CellError, Value
from pourbook.trade.price.build_up import round_money

if TYPE_CHECKING:
    from tests.agreement.pipeline import Pipeline

KINDS = ("bought", "from shelf", "sent back")
GOES = ("back on the shelf", "thrown away")
UNACCEPTED = "! not accepted yet: pourbook accept"
TOO_MUCH_MIXED = "! more was mixed than issued: add the missing receipt, or correct the log"
TOO_MUCH_LEFT = "! more is left than was issued: add the missing receipt, or count again"


def _proof(p: Pipeline, name: str, _index: int) -> Value:
    return shown("start", name)(p, 0)


def _accepted(p: Pipeline, _name: str, _index: int) -> Value:
    return "ok" if cells.numbers([p.get("quoted", "revision")]) else UNACCEPTED


def accepted_option(p: Pipeline) -> int | None:
    """Return the place of the option that was accepted, or None."""
    option = p.get("quoted", "option")
    places = [i for i, letter in enumerate(OPTIONS) if cells.same(option, letter)]
    return places[0] if places else None


def _line_now(p: Pipeline, row: int) -> Value:
    item, option = p.get("quoted_lines", "item", row), accepted_option(p)
    for line in p.plan.block("price").columns:
        if cells.same(item, p.plan.text(line.header)) and option is not None:
            value = p.get("price", line.id, option)
            return "! not on Price" if isinstance(value, CellError) else value
    return "! not on Price"


def _layer_now(p: Pipeline, row: int) -> Value:
    number, option = p.get("quoted_layers", "number", row), accepted_option(p)
    rows = zip(
        p.column("amounts", "mixed"),
        p.column("amounts", "option"),
        p.column("amounts", "number"),
        strict=True,
    )
    mine = OPTIONS[option] if option is not None else ""
    return cells.total(v for v, of, no in rows if cells.same(of, mine) and no == number)


def _product_now(p: Pipeline, row: int) -> Value:
    product, option = p.get("quoted_products", "product", row), accepted_option(p)
    for index, name in enumerate(p.column("buying", "buy_product")):
        if isinstance(product, str) and cells.same(name, product) and option is not None:
            value = p.get("buying", f"cost_{OPTIONS[option].lower()}", index)
            return 0.0 if isinstance(value, CellError) else value
    return 0.0


_NOW: dict[str, tuple[str, str, Callable[[Pipeline, int], Value]]] = {
    "quoted_lines": ("item", "amount", _line_now),
    "quoted_layers": ("layer", "mixed", _layer_now),
    "quoted_products": ("product", "cost", _product_now),
}


def _since(block: str) -> Callable[[Pipeline, str, int], Value]:
    key, kept, now = _NOW[block]

    def rule(p: Pipeline, name: str, index: int) -> Value:
        if cells.empty(p.get(block, key, index)):
            return ""
        if name == "now":
            return now(p, index)
        value = p.get(block, "now", index)
        if not cells.numbers([value]):
            return "changed"
        before = cells.number(p.get(block, kept, index))
        return "same" if cells.near(cells.number(value), -before) else "changed"

    return rule


def _at_least(value: Value, least: float) -> bool:
    return any(v >= least for v in cells.numbers([value]))


def _above(value: Value) -> bool:
    return any(v > 0 for v in cells.numbers([value]))


def _among(value: Value, words: tuple[str, ...]) -> bool:
    return any(cells.same(value, word) for word in words)


def _is_a_product(p: Pipeline, value: Value) -> bool:
    known = p.column("products", "product")
    return isinstance(value, str) and value != "" and cells.count(known, value) == 1


def _wanting(faults: list[tuple[bool, str]]) -> str:
    """Return ok, or what is to be mended, joined as the Status column does."""
    said = "".join(words for good, words in faults if not good)
    return f"! {said}" if said else "ok"


NO_PRODUCT = "Product: it is not on Products: choose from the list. "


def _receipt_status(p: Pipeline, row: int) -> Value:
    names = ("supplier", "document", "date", "kind", "product", "packs", "contents", "price")
    typed = {name: p.get("receipts", name, row) for name in names}
    if all(value is None for value in typed.values()):
        return ""
    currency, mine = p.get("receipts", "currency", row), p.get("money", "currency")
    home = cells.empty(currency) or (isinstance(mine, str) and cells.same(currency, mine))
    return _wanting(
        [
            (_above(typed["date"]), "Date: type a date. "),
            (_among(typed["kind"], KINDS), "Kind: choose from the list. "),
            (_is_a_product(p, typed["product"]), NO_PRODUCT),
            (_at_least(typed["packs"], 0), "Packs: type how many. "),
            (_above(typed["contents"]), "Contents of one: type more than 0. "),
            (_at_least(typed["price"], 0), "Price of one: type 0 or more. "),
            (home, "Currency: it is not the job's: convert the price first"),
        ]
    )


def _receipts(p: Pipeline, name: str, index: int) -> Value:
    if name == "receipt_status":
        return _receipt_status(p, index)
    status = p.get("receipts", "receipt_status", index)
    if status != "ok":
        return status
    back = cells.same(p.get("receipts", "kind", index), "sent back")
    packs = cells.number(p.get("receipts", "packs", index))
    each = cells.number(p.get("receipts", "contents" if name == "volume" else "price", index))
    came = packs * each if name == "volume" else round_money(packs * each)
    return -came if back else came


def _left(p: Pipeline, _name: str, index: int) -> Value:
    typed = {n: p.get("left", n, index) for n in ("product", "lot", "date", "rest", "goes")}
    if all(value is None for value in typed.values()):
        return ""
    return _wanting(
        [
            (_is_a_product(p, typed["product"]), NO_PRODUCT),
            (_at_least(typed["rest"], 0), "Left: type 0 or more. "),
            (_among(typed["goes"], GOES), "Goes: choose from the list. "),
        ]
    )


def of_product(p: Pipeline, values: tuple[str, str], names: tuple[str, str], product: str) -> float:
    """Return the sum of a column's numbers over the rows that name a product, or a layer."""
    rows = zip(p.column(*values), p.column(*names), strict=True)
    return cells.total(value for value, name in rows if cells.same(name, product))


def issued(p: Pipeline, product: str) -> float:
    """Return what came in of a product, by its receipts."""
    return of_product(p, ("receipts", "volume"), ("receipts", "product"), product)


def logged(p: Pipeline, product: str) -> float:
    """Return what was mixed of a product, by the log."""
    return of_product(p, ("used", "used_volume"), ("used", "used_product"), product)


def counted(p: Pipeline, product: str) -> float:
    """Return what is left of a product, by the count."""
    return of_product(p, ("left", "rest"), ("left", "product"), product)


def _issued(p: Pipeline, name: str, index: int) -> Value:
    product = p.get("products", "product", index)
    if not isinstance(product, str) or not product:
        return ""
    if name == "product":
        return product
    came, mixed, rest = issued(p, product), logged(p, product), counted(p, product)
    if name != "issued_status":
        return {"came": came, "mixed": mixed, "rest": rest}[name]
    if mixed > came + NOISE:
        return TOO_MUCH_MIXED
    return TOO_MUCH_LEFT if rest > came + NOISE else "ok"


def _coated(p: Pipeline, name: str, index: int) -> Value:
    if cells.empty(p.get("quoted_layers", "layer", index)):
        return ""
    layer = p.get("quoted_layers", "layer", index)
    if name not in {"by_log", "taken"}:
        return layer if name == "layer" else p.get("quoted_layers", "coated", index)
    spread = [
        over
        for of, over in zip(p.column("log", "layer"), p.column("log", "spread_over"), strict=True)
        if cells.same(of, str(layer))
    ]
    alike = cells.count(p.column("quoted_layers", "layer"), str(layer))
    whole = bool(spread) and alike == 1 and len(cells.numbers(spread)) == len(spread)
    if name == "by_log":
        return cells.total(spread) if whole else ""
    if cells.numbers([p.get("coated", "done", index)]):
        return "coated"
    return "log" if whole else "quote: not measured"


RULES: dict[str, Callable[[Pipeline, str, int], Value]] = {
    "proof": _proof,
    "quoted": _accepted,
    **{block: _since(block) for block in _NOW},
    "receipts": _receipts,
    "left": _left,
    "issued": _issued,
    "coated": _coated,
}
