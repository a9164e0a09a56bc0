"""Batches and receipt lines that stand in more than one job.

Contract: :func:`traces` names every batch and receipt line of a job by what makes it the only one
of its kind; :func:`shared` says, job by job, which of them stand in another job too. A batch is the
same by when mixing began, its lots and its weights; a line of a receipt by seller, document, line,
kind, product, lot, packs and what one holds. A line whose packs were shared out between two jobs is
two lines.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from typing import Protocol

from pourbook.cells import Value, is_blank, text
from pourbook.records import dataclass
from pourbook.workbook.layout.laid_out import Layout

_BATCH = ("started", "lot_a", "lot_b", "lot_c", "mass_a", "mass_b", "mass_c")
_LINE = ("supplier", "document", "line", "kind", "product", "lot", "packs", "contents")
_FEWEST = {"log": ("started", "mass_a"), "receipts": ("document", "product")}


class Cells(Protocol):
    """What gives the values of a job by block, field and row."""

    plan: Layout

    def value(self, block: str, name: str, index: int) -> Value:
        """Return what a cell holds."""


@dataclass(frozen=True)
class Trace:
    """A batch or a receipt line: what makes it the only one, what it is, and its cell."""

    key: tuple[str, ...]
    what: str
    sheet: str
    cell: str

    @property
    def is_batch(self) -> bool:
        """Return whether it is a batch of the log."""
        return self.key[0] == "log"


@dataclass(frozen=True)
class Shared:
    """A trace of one job that stands in another one as well."""

    trace: Trace
    other: str
    place: str

    @property
    def words(self) -> str:
        """Return what is wrong, in the bookkeeper's words."""
        return f"{self.trace.what} stands in {self.other} too, at {self.place}"


def traces(reader: Cells) -> tuple[Trace, ...]:
    """Return the batches and receipt lines of a job."""
    return tuple(_traces(reader))


def _traces(reader: Cells) -> Iterator[Trace]:
    for block, names, at in (("log", _BATCH, "layer"), ("receipts", _LINE, "document")):
        for row in range(reader.plan.block(block).rows):
            cells = [reader.value(block, name, row) for name in names]
            if any(is_blank(cells[names.index(name)]) for name in _FEWEST[block]):
                continue
            cell = reader.plan.cell(block, at, row)
            what = f"the receipt {text(cells[1])}, {text(cells[4])}"
            if block == "log":
                what = f"the batch of {text(reader.value('log', 'layer', row))}"
            yield Trace((block, *map(_folded, cells)), what, cell.sheet, cell.address)


def _folded(value: Value) -> str:
    """Return a cell for comparing: capitals and the last places of a number make no difference."""
    if isinstance(value, float):
        return f"{value:.9g}"
    return text(value).casefold()


def shared(jobs: Mapping[str, Sequence[Trace]]) -> dict[str, list[Shared]]:
    """Return what stands in two jobs, by the name of each of them.

    Example:
        >>> one = Trace(("log", "46400.5"), "the batch of Flood", "Used", "A9")
        >>> [found.words for found in shared({"a.xlsx": [one], "b.xlsx": [one]})["b.xlsx"]]
        ['the batch of Flood stands in a.xlsx too, at Used!A9']
    """
    held: dict[tuple[str, ...], list[tuple[str, Trace]]] = defaultdict(list)
    for name, found in jobs.items():
        for trace in found:
            held[trace.key].append((name, trace))
    twice: dict[str, list[Shared]] = defaultdict(list)
    for places in held.values():
        for name, trace in places:
            other = next(((n, t) for n, t in places if n != name), None)
            if other is not None:
                place = f"{other[1].sheet}!{other[1].cell}"
                twice[name].append(Shared(trace, other[0], place))
    return dict(twice)
