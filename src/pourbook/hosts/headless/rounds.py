"""Works out workbooks whose blocks are larger than the fast engine spills: round by round.

formualizer lets a function fill 10,000 cells and no more. So each block's call stands on a sheet of
its own, where it fills none; what it gives is set as values, and whatever rests on them is worked
out again, until nothing changes any more: formulas rest on each other in no circle, so that there
is one end, and as many rounds as blocks at most.

Contract: :func:`in_rounds` leaves a workbook whose cells hold what its formulas and blocks give.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from pourbook.cells import Value
from pourbook.hosts.headless.engine import Recomputed
from pourbook.hosts.headless.handed import CALLS, BlockCall, stand_call

MOST_SPILLED = 10_000
"""Cells that formualizer 0.13 lets one function fill (measured)."""


def is_large(block: BlockCall) -> bool:
    """Return whether a block fills more cells than the engine spills."""
    top, left, bottom, right = block.box()
    return (bottom - top + 1) * (right - left + 1) > MOST_SPILLED


def in_rounds(book: Any, blocks: Sequence[BlockCall], record: Recomputed) -> None:
    """Work a workbook out.

    Args:
        book: The workbook in formualizer, its blocks empty and without their formulas.
        blocks: The blocks.
        record: Is told of calls and refusals, those of the last round.

    Raises:
        ValueError: A block is none of ours, or it comes to no end.
    """
    book.add_sheet(CALLS)
    told = [Recomputed() for _ in blocks]
    given = [
        stand_call(book, number, block, one)
        for number, (block, one) in enumerate(zip(blocks, told, strict=True), 1)
    ]
    shown: list[list[list[Value]]] = [[] for _ in blocks]
    for _ in range(len(blocks) + 2):
        book.evaluate_all()
        new = [number for number, rows in enumerate(given) if rows != shown[number]]
        if not new:
            break
        for number in new:
            shown[number] = [list(row) for row in given[number]]
            top, left, bottom, right = blocks[number].box()
            rows = [row[: right - left + 1] for row in given[number][: bottom - top + 1]]
            book.set_values_batch(blocks[number].sheet, top, left, rows)
    else:
        raise ValueError("its blocks come to no end")
    _gather(told, record)


def _gather(told: Sequence[Recomputed], record: Recomputed) -> None:
    """Put together what the calls of the blocks told."""
    for one in told:
        record.calls += one.calls
        record.blocks += one.blocks
        record.reasons += one.reasons
        for text, behind in one.refusals.items():
            known = record.refusals.setdefault(text, [])
            known += [r for r in behind if all(r.place != k.place for k in known)]
