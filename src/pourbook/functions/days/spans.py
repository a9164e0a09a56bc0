"""When each layer is worked on, dry and ready: the columns aside of PB_DAYS.

Contract: :func:`spans` gives at most :data:`MOST` rows, the preparation first, times as spreadsheet
dates. They have nothing to do with the line of PB_DAYS they stand in.
"""

from __future__ import annotations

from collections.abc import Sequence

from pourbook.cells import Value
from pourbook.dates import serial
from pourbook.functions.day_columns import SPANS
from pourbook.functions.days.placing import Calendar
from pourbook.trade.days.schedule import WORK, Deed, Placed

MOST = 8
_MILESTONES = (
    Deed.RECOAT_FROM,
    Deed.RECOAT_UNTIL,
    Deed.TOUCH_DRY,
    Deed.LIGHT_USE,
    Deed.FULL_SERVICE,
)
_SANDED = (Deed.SAND, Deed.SAND_MISSED, Deed.DRIPS)
"""Work on a coat that is dry, or before it: no work of its own."""

_PREPARED = (Deed.LIFT_OUT, Deed.MASK, Deed.PREPARE, Deed.SAND_BARE, Deed.DAMS)


def spans(found: Calendar) -> list[list[Value]]:
    """Return a row for the preparation and for every layer, at most :data:`MOST`.

    The last one counts what is left out where there are more.
    """
    rows = [_span("Prepare", [p for p in found.lines if p.step.deed in _PREPARED])]
    for at, coated in enumerate(found.coats):
        own = [p for p in found.lines if p.step.coat == at and p.step.deed not in _SANDED]
        rows.append(_span(coated.coat.name, own))
    if len(rows) > MOST:
        over = len(rows) - MOST + 1
        rows[MOST - 1 :] = [[f"{over} more below", *[""] * (len(SPANS) - 1)]]
    return [row for row in rows if row]


def line_behind(found: Calendar, row: int, column: str) -> int | None:
    """Return the line of the calendar a time of a layer's row is taken from; None for any other."""
    times = [one.id for one in SPANS][-len(_MILESTONES) :]
    if column not in times:
        return None
    deed = _MILESTONES[times.index(column)]
    shown = [at for at, _ in enumerate(found.coats) if _has_work(found, at)]
    first = int(bool(_span("Prepare", [p for p in found.lines if p.step.deed in _PREPARED])))
    if not first <= row < first + len(shown):
        return None
    coat = shown[row - first]
    lines = enumerate(found.lines)
    return next((n for n, p in lines if p.step.coat == coat and p.step.deed == deed), None)


def _has_work(found: Calendar, coat: int) -> bool:
    return any(p.step.coat == coat and p.step.kind == WORK for p in found.lines)


def _span(name: str, own: Sequence[Placed]) -> list[Value]:
    work = [p for p in own if p.step.kind == WORK]
    if not work:
        return []
    reached = {p.step.deed: serial(p.start) for p in own}
    times: list[Value] = [reached.get(deed, "") for deed in _MILESTONES]
    begin, end = min(p.start for p in work), max(p.end for p in work)
    label = f"{name}, {begin:%Y-%m-%d}"
    return [name, label, serial(begin), serial(end), *times]
