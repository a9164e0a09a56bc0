"""Works out workbooks whose blocks are larger than the fast engine spills: round by round.

formualizer lets a function fill 10,000 cells and no more. So each block's call stands on a sheet of
its own, where it fills none; what it gives is set as values, and whatever rests on them is worked
out again, until nothing changes any more: formulas rest on each other in no circle, so that there
is one end, and as many rounds as blocks at most.

Contract: :func:`in_rounds` leaves a workbook whose cells hold what its formulas and blocks give.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any, NamedTuple

from pourbook.cells import Value
from pourbook.formats.ooxml.addresses import areas_named
from pourbook.hosts.headless.engine import Recomputed
from pourbook.hosts.headless.stored import CALL, CALLS, adapter, most_arguments, qualified

MOST_SPILLED = 10_000
"""Cells that formualizer 0.13 lets one function fill (measured)."""


class BlockCall(NamedTuple):
    """A block: its sheet, the formula that fills it, without its equals sign, and its area."""

    sheet: str
    words: str
    area: str

    def box(self) -> tuple[int, int, int, int]:
        """Return its first row and column, and its last."""
        ((_, top, left, bottom, right),) = areas_named(self.area)
        return top, left, bottom, right

    def is_large(self) -> bool:
        """Return whether it fills more cells than the engine spills."""
        top, left, bottom, right = self.box()
        return (bottom - top + 1) * (right - left + 1) > MOST_SPILLED


def in_rounds(
    book: Any, blocks: Sequence[BlockCall], record: Recomputed, convert: Callable[[Any], Value]
) -> None:
    """Work a workbook out.

    Args:
        book: The workbook in formualizer, its blocks empty and without their formulas.
        blocks: The blocks.
        record: Is told of calls and refusals, those of the last round.
        convert: Turns what the engine hands over into a plain value.

    Raises:
        ValueError: A block is none of ours, or it comes to no end.
    """
    book.add_sheet(CALLS)
    given: list[list[list[Value]]] = [[] for _ in blocks]
    told = [Recomputed() for _ in blocks]
    for number, block in enumerate(blocks):
        found = CALL.match("=" + block.words)
        if found is None:
            raise ValueError(f"no function of Pourbook fills {block.area}")
        called = _anew(
            adapter(found[1], convert, told[number], given[number], block=True), told[number]
        )
        most = most_arguments(found[1])
        book.register_function(f"PB_BLOCK_{number}", called, min_args=0, max_args=most)
        words = qualified(("=" + block.words)[found.end() :], block.sheet)
        book.set_formulas_batch(CALLS, number + 1, 1, [[f"=PB_BLOCK_{number}({words}"]])
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


def _anew(called: Callable[..., Any], told: Recomputed) -> Callable[..., Any]:
    """Return a call that forgets what it told in the round before."""

    def anew(*given: Any) -> Any:
        told.refusals.clear()
        told.reasons.clear()
        return called(*given)

    return anew


def _gather(told: Sequence[Recomputed], record: Recomputed) -> None:
    """Put together what the calls of the blocks told."""
    for one in told:
        record.calls += one.calls
        record.blocks += one.blocks
        record.reasons += one.reasons
        for text, behind in one.refusals.items():
            known = record.refusals.setdefault(text, [])
            known += [r for r in behind if all(r.place != k.place for k in known)]
