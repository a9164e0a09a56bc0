"""Where pieces join and where one is poured from two batches: whether the second comes in time.

Contract: :func:`told` gives ``ok`` or a ``CHECK`` that names the seam and what would help. The
second part is begun in the same batch or the next, and within a share of the pot life after the
first is spread. It judges a plan and never changes it.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from itertools import pairwise

from pourbook.cells import CHECK, OK
from pourbook.functions.batch.plans import Planned, ready_seconds
from pourbook.records import dataclass
from pourbook.tables.declared import Column
from pourbook.tables.works import MINUTE
from pourbook.trade.batch.clock import Times, spread_times
from pourbook.trade.batch.plan import Plan

RESULTS = (Column("seams", "ok, or CHECK with the seam that comes too late and what would help"),)
_NAMED = 2


@dataclass(frozen=True)
class Seam:
    """Two parts that meet: ``wait`` in s between them, ``apart`` when batches stand between."""

    one: str
    other: str
    wait: float
    apart: bool


def seams(planned: Planned) -> Iterator[Seam]:
    """Return every seam of a layer, pass after pass."""
    for index, one_pass in enumerate(planned.passes):
        ready = ready_seconds(planned.layer, planned.doing)
        times = spread_times(planned.share_seconds[index], ready, planned.doing.mixers)
        yield from _of_pass(planned, one_pass, times)


def _of_pass(planned: Planned, made: Plan, times: list[list[Times]]) -> Iterator[Seam]:
    spans: dict[int, list[Times]] = {}
    for batch, spread in zip(made.batches, times, strict=True):
        for share, span in zip(batch.shares, spread, strict=True):
            spans.setdefault(share.piece, []).append(span)
    names = [piece.name for piece in planned.layer.pieces]
    for at, parts in spans.items():
        for first, second in pairwise(parts):
            wait = second[0] - first[1]
            yield Seam(f"{names[at]}, part", "the next part of it", wait, False)
    for a, b in planned.layer.joins:
        (_, a_end), (b_start, _) = spans[a][-1], spans[b][0]
        (_, b_end), (a_start, _) = spans[b][-1], spans[a][0]
        wait = max(b_start - a_end, a_start - b_end, 0.0)
        yield Seam(names[a], names[b], wait, (a, b) in made.apart)


def told(planned: Planned) -> str:
    """Return ``ok``, or the seams that come too late and what would help."""
    limit = planned.doing.joined * planned.pot_life
    found = list(seams(planned))
    apart = [seam for seam in found if seam.apart]
    late = [seam for seam in found if seam.wait > limit and not seam.apart]
    if not apart and not late:
        return OK
    bad = (*apart, *sorted(late, key=lambda seam: -seam.wait))
    named = "; ".join(f"{seam.one} and {seam.other}" for seam in bad[:_NAMED])
    more = f" and {len(bad) - _NAMED} more" if len(bad) > _NAMED else ""
    wait = math.ceil(max(seam.wait for seam in bad) / MINUTE)
    helps = (
        "let one be split on Rooms, give both one room and one Pour order, or a bigger bucket"
        if apart
        else "more hands, two mixers, a cooler hour, or part the batch there"
    )
    return (
        f"{CHECK}: {named}{more}: poured {wait} min apart, and what joins is begun within "
        f"{math.floor(limit / MINUTE)} min: {helps}"
    )
