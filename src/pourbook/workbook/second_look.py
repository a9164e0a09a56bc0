"""Findings for rows a function could work out but does not like: where they stand, and why.

Contract: one finding a row, at the entry it speaks of, in the words the sheet itself shows. What a
row cannot be worked out for is not told here but by :mod:`pourbook.workbook.check`.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from pourbook.functions.values import Value, text
from pourbook.functions.words import word
from pourbook.hosts.headless.engine import Address
from pourbook.workbook.findings import Finding
from pourbook.workbook.plan import Plan
from pourbook.workbook.read import RawBook
from pourbook.workbook.structure import describe

_BOUGHT = "used before it was bought"


@dataclass(frozen=True)
class _Judged:
    """A block that judges the rows of another: which words are bad, and where it says why."""

    block: str
    verdict: str
    bad: tuple[str, ...]
    reason: str
    typed: str
    entry: str
    mend: str


_JUDGED = (
    _Judged(
        *("used", "verdict", ("look",), "reason", "log", "layer"),
        "correct this row of the log if it is wrong; else look at the coat there",
    ),
    _Judged(
        *("proofs", "proof_verdict", ("fails", "too early"), "proof_reason", "tests", "reading"),
        "test again from the day it names, or mend the film",
    ),
)


def second_look(plan: Plan, book: RawBook, values: Mapping[Address, Value]) -> Iterator[Finding]:
    """Report every row whose verdict is bad, and every product left out of the count."""
    for judged in _JUDGED:
        for index in range(plan.block(judged.block).rows):
            said = [
                text(values.get((cell.sheet, cell.address)))
                for cell in (
                    plan.cell(judged.block, judged.verdict, index),
                    plan.cell(judged.block, judged.reason, index),
                )
            ]
            if said[0] not in judged.bad:
                continue
            bought = _BOUGHT in said[1]
            at = plan.cell(judged.typed, "lot_a" if bought else judged.entry, index)
            mend = "correct the day here, or date and lot of the receipt" if bought else judged.mend
            why = ": ".join(words for words in said if words)
            what = f"{describe(plan, at)}: {why}"
            yield Finding("job.look", book.path.name, at.sheet, at.address, what, mend)
    yield from _uncounted(plan, book, values)


def _uncounted(plan: Plan, book: RawBook, values: Mapping[Address, Value]) -> Iterator[Finding]:
    """Name every product that was issued and left out of the count, once counting has begun."""
    rows = range(plan.block("left").rows)
    counted = [plan.cell("left", "product", index) for index in rows]
    names = [word(book.sheets[cell.sheet].value(cell.address)) for cell in counted]
    free = next((cell for cell, name in zip(counted, names, strict=True) if not name), None)
    if free is None or not any(names):
        return
    for index in range(plan.block("issued").rows):
        product, came = (plan.cell("issued", name, index) for name in ("product", "came"))
        name, volume = (values.get((cell.sheet, cell.address)) for cell in (product, came))
        if name and word(name) not in names and isinstance(volume, float) and volume > 0:
            what = (
                f"{describe(plan, free)}: '{name}' was issued and is not counted: taken as 0 left"
            )
            mend = "add a row with what is left of it; type 0 if nothing is"
            yield Finding("job.look", book.path.name, free.sheet, free.address, what, mend)
