"""Finishes in plain Python: which rows an option takes, and what stands in a row of Layers.

Contract: as of :mod:`tests.agreement.native`; :func:`offered` gives an entry of Layers that nobody
typed.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from tests.agreement import cells

from pourbook.cells import Value

if TYPE_CHECKING:
    from tests.agreement.pipeline import Pipeline

OPTIONS = "ABC"


def _place(p: Pipeline, finish: Value) -> int:
    """Return which finish of the list it is, counted from 1; 0 where it is none."""
    if not isinstance(finish, str):
        return 0
    listed = p.column("finishes", "finish")
    return next((n for n, one in enumerate(listed, 1) if cells.same(one, finish)), 0)


def _chosen(p: Pipeline, option: int) -> int:
    """Return which finish an option has: as it is written, else without blanks nobody sees."""
    finish = p.get("chosen", f"finish_{'abc'[option]}")
    if cells.empty(finish):
        return 0
    meant = " ".join(str(finish).replace(chr(0x200B), "").split())
    return _place(p, finish) or _place(p, meant)


def _rows(p: Pipeline, option: int) -> list[int]:
    """Return the rows of an option's finish: as many as it has, from its first."""
    place = _chosen(p, option)
    mine = [n for n, of in enumerate(p.column("finish_layers", "of")) if place and of == place]
    return list(range(mine[0], mine[0] + len(mine))) if mine else []


def finish_layers(p: Pipeline, name: str, index: int) -> Value:
    """Return number and status of a row."""
    finish = p.get("finish_layers", "finish", index)
    if cells.empty(finish):
        return ""
    place = _place(p, finish)
    if name == "of":
        return float(place)
    of = p.column("finish_layers", "of")
    good = place > 0 and index - of.index(float(place)) < of.count(float(place))
    return "ok" if good else "! Finish: take one of those above, and keep its rows together"


def picks(p: Pipeline, name: str, index: int) -> Value:
    """Return the finish of an option, how many rows it has and the first of them."""
    rows = _rows(p, index)
    if name == "finish_of":
        return float(_chosen(p, index))
    return float(len(rows)) if name == "many" else float(rows[0] + 1 if rows else 0)


def picked(p: Pipeline, name: str, index: int) -> Value:
    """Return option and row of Finishes that stand in a row of Layers."""
    if name == "usual":
        product = p.get("layers", "product", index)
        if not isinstance(product, str) or cells.empty(product):
            return 0.0
        listed = zip(p.column("products", "product"), p.column("products", "figures"), strict=True)
        return float(sum(cells.same(n, product) and cells.same(f, "usual") for n, f in listed))
    taken = [(option, row) for option in range(3) for row in _rows(p, option)]
    if index >= len(taken):
        return 0.0 if name in {"nth", "at"} else ""
    option, row = taken[index]
    if name in {"nth", "at"}:
        return float(option + 1 if name == "nth" else row + 1)
    fills = cells.same(p.get("finish_layers", "surfaces", row), "fills")
    hollow = ("void", "round void", "grout lines", "mould")
    shapes = [one for one in p.column("rooms", "shape") if isinstance(one, str)]
    if fills and not any(cells.same(one, shape) for one in hollow for shape in shapes):
        return ""
    return OPTIONS[option] if name == "letter" else float(row + 1)


def offered(p: Pipeline, block: str, name: str, index: int) -> Value:
    """Return what a row of Layers holds where nobody typed."""
    if name in {"option", "name"}:
        return p.get("picked", "letter", index)
    row = p.get("picked", "row", index)
    if not isinstance(row, float):
        return ""
    if name == "layer_name":
        layer = p.get("layers", "layer", index)
        return offered(p, "layers", "layer", index) if cells.empty(layer) else layer
    found = p.get("finish_layers", name, int(row) - 1)
    return "" if cells.empty(found) else found


_WAITS = "not worked out yet"


def board(p: Pipeline, name: str, index: int) -> Value:
    """Return a line of Start for an option."""
    mine = any(
        isinstance(o, str) and cells.same(o, OPTIONS[index]) for o in p.column("layers", "option")
    )
    if name == "finish":
        chosen = p.get("chosen", f"finish_{'abc'[index]}")
        return chosen if not cells.empty(chosen) else "typed on Layers" if mine else ""
    if not mine:
        return ""
    block, line = {"gross": ("price", "gross"), "batches": ("quant", "batch")}.get(
        name, ("quant", "visit")
    )
    found = p.get(block, line, index)
    if cells.numbers([found]):
        return found
    rough = cells.numbers([p.get("options", "option_rough", index)]) if name == "gross" else []
    if not rough:
        return _WAITS
    taxed = math.ceil(round(rough[0] * (1 + cells.number(p.get("money", "tax"))), 9))
    return f"some {taxed:,} without batches settled"


def begun(p: Pipeline) -> bool:
    """Return whether anything is typed on Rooms."""
    return not all(map(cells.empty, p.column("rooms", "piece") + p.column("rooms", "a")))


def stands(p: Pipeline, name: str) -> Value:
    """Return a line of Start for the whole job."""
    if name == "next":
        if not begun(p):
            return "type the first piece on Rooms"
        wrong = (c for c in p.plan.block("checks").checks if p.check(c.id) != "OK")
        first = next(wrong, None)
        return f"{first.sheet}: {first.mend}" if first else "nothing: every check holds"
    if name == "area":
        return p.get("measured", "total") if p.get("measured", "pieces") else _WAITS
    return max(cells.numbers(p.column("days", "light_use")), default=_WAITS)


RULES = {"board": board, "finish_layers": finish_layers, "picks": picks, "picked": picked}
