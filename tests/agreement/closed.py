"""What Closed says of a settlement, and Quoted of change orders, in plain Python.

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


_EARLIER = {"change_said": "change", "change_on": "accepted_on", "change_net": "net"}
_NEWEST = {"change_net": "Price before tax", "change_gross": "Price with tax"}


def _changes(p: Pipeline, name: str, index: int) -> Value:
    """Return a row for each acceptance, the newest last."""
    earlier = len(cells.numbers(p.column("revisions", "revision")))
    if p.get("quoted", "revision") is None or index > earlier:
        return ""
    if name == "change_no":
        return float(index + 1)
    if name in {"change_more", "change_tax_more"}:
        of = "change_net" if name == "change_more" else "change_gross"
        now, before = (cells.number(p.get("changes", of, n)) for n in (index, max(index - 1, 0)))
        return round_money(now - before) if index else 0.0
    field = _EARLIER.get(name, name.removeprefix("change_"))
    if index < earlier:
        found = p.get("revisions", field, index)
    elif name in _NEWEST:
        lines = zip(
            p.column("quoted_lines", "item"), p.column("quoted_lines", "amount"), strict=True
        )
        found = cells.total([amount for item, amount in lines if item == _NEWEST[name]])
    else:
        found = p.get("quoted", field)
    if name == "change_said":
        return found or ""
    return 0.0 if found is None else found


RULES = {"changes": _changes, "closed_state": _closed_state, "closings": _closings}
