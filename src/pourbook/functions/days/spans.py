"""When each layer is worked on, dry and ready: the columns aside of PB_DAYS.

Contract: :func:`spans` gives at most :data:`MOST` rows, the preparation first, times as spreadsheet
dates. They have nothing to do with the line of PB_DAYS they stand in.
"""

from __future__ import annotations

from collections.abc import Sequence

from pourbook.cells import Value
from pourbook.dates import serial
from pourbook.functions.days.placing import Calendar
from pourbook.tables.declared import Column
from pourbook.trade.days.schedule import WORK, Placed

MOST = 8
RESULTS = (
    Column("span", "The layer, or the preparation"),
    Column("span_label", "The same with the day its work begins, for the chart"),
    Column("work_from", "When its work begins"),
    Column("work_until", "When its work ends"),
    Column("next_from", "When the next coat may go on"),
    Column("next_until", "Until when it may, without sanding"),
    Column("touch_dry", "When it is touch dry"),
    Column("light_use", "When light use may begin"),
    Column("hard_use", "When hard use may begin"),
)
_MILESTONES = ("recoat from", "recoat until", "touch dry", "light use", "full service")


def spans(found: Calendar) -> list[list[Value]]:
    """Return a row for the preparation and for every layer, at most :data:`MOST`.

    The last one counts what is left out where there are more.
    """
    rows = [_span("Prepare", [p for p in found.lines if found.coat_of(p.step.name) is None])]
    for coated in found.coats:
        own = [p for p in found.lines if p.step.name.startswith(coated.coat.name + ": ")]
        own = [p for p in own if found.coat_of(p.step.name) is coated]
        rows.append(_span(coated.coat.name, own))
    if len(rows) > MOST:
        over = len(rows) - MOST + 1
        rows[MOST - 1 :] = [[f"{over} more below", *[""] * (len(RESULTS) - 1)]]
    return [row for row in rows if row]


def _span(name: str, own: Sequence[Placed]) -> list[Value]:
    work = [p for p in own if p.step.kind == WORK and not p.step.name.endswith(": sand 220")]
    if name == "Prepare":
        work = list(own)
    if not work:
        return []
    reached = {p.step.name.removeprefix(name + ": "): serial(p.start) for p in own}
    times: list[Value] = [reached.get(label, "") for label in _MILESTONES]
    begin, end = min(p.start for p in work), max(p.end for p in work)
    label = f"{name}, {begin:%Y-%m-%d}"
    return [name, label, serial(begin), serial(end), *times]
