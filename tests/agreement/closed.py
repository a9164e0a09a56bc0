"""What Closed says of a settlement that was closed, and of what came after, in plain Python.

Contract: as :mod:`tests.agreement.native`: :data:`RULES` by block.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from tests.agreement import cells

from pourbook.cells import Value
from pourbook.trade.price.build_up import round_money

if TYPE_CHECKING:
    from tests.agreement.pipeline import Pipeline


def _state(p: Pipeline) -> str:
    whats = [
        p.get("closings", "what", row)
        for row, no in enumerate(p.column("closings", "no"))
        if isinstance(no, float)
    ]
    if not whats:
        return "not closed"
    return "reopened" if whats[-1] == "reopened" else "closed"


def _since(p: Pipeline, block: str, name: str, kept: str) -> Value:
    if p.get("closed_state", "state") == "not closed":
        return 0.0
    state = p.get("settle_state", "state")
    if state != "ok":
        return state
    return round_money(cells.number(p.get(block, name)) - cells.number(p.get("closed_state", kept)))


def _closed_state(p: Pipeline, name: str, _: int) -> Value:
    if name == "state":
        return _state(p)
    if name == "used":
        return round_money(cells.total(p.column("closed_products", "used")))
    if name == "receipts":
        return round_money(cells.total(p.column("closings", "receipts")))
    if name == "used_since":
        return _since(p, "settle_sums", "actual", "used")
    if name == "receipts_since":
        return _since(p, "settle_state", "receipts", "receipts")
    if p.get("closed_state", "state") != "closed":
        return 0.0
    if p.get("settle_state", "state") != "ok":
        return 2 * cells.number(p.get("overall", "noise"))
    both = (p.get("closed_state", which) for which in ("used_since", "receipts_since"))
    return max(abs(cells.number(one)) for one in both)


def _closings(p: Pipeline, _: str, index: int) -> Value:
    no = p.get("closings", "no", index)
    if no is None:
        return ""
    rows = enumerate(p.column("closed_products", "closing"))
    mine = [p.get("closed_products", "used", row) for row, of in rows if of == no]
    return round_money(cells.total(mine))


RULES = {"closed_state": _closed_state, "closings": _closings}
