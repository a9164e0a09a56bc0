"""The sheet Learned of a shop workbook: what it reckons with, and what was learned written to it.

Contract: :func:`read` refuses a shop by sheet and cell; :func:`entries` never touches what was
typed, but for the names of kinds the sheet does not have yet, in its first free rows.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from pathlib import Path

from pourbook import units
from pourbook.archive.learn import LearnedKind, Lesson
from pourbook.cells import is_blank
from pourbook.errors import FileUnreadableError, InputError
from pourbook.job.fill import Entry
from pourbook.records import dataclass
from pourbook.trade.learning import Prior
from pourbook.units import System
from pourbook.workbook.check.check import check_file
from pourbook.workbook.check.reader import Reader
from pourbook.workbook.read.read import read_book

HOUR = 3600.0


@dataclass(frozen=True)
class Shop:
    """What the sheet Learned of a shop holds.

    Attributes:
        reader: The shop, checked.
        system: The shop's units.
        confidence: How often the suggested loss is to be enough.
        prior: What it reckons with for every kind.
        own: What it reckons with for the kinds it has rows for.
        rows: The row of each kind.
        free: The rows that are not in use, in order.
    """

    reader: Reader
    system: System
    confidence: float
    prior: Prior
    own: dict[LearnedKind, Prior]
    rows: dict[tuple[str, str, str], int]
    free: tuple[int, ...]


def read(path: Path) -> Shop:
    """Read the sheet Learned of a shop workbook.

    Raises:
        FileUnreadableError: The file cannot be read, or is no shop.
        InputError: A figure of the sheet is missing or wrong, or a kind stands twice.
    """
    read_book(path).plan("shop")
    checked = check_file(path)
    reader = Reader(checked)
    if not checked.values:
        raise FileUnreadableError("one of its sheets is missing", "see: pourbook check", str(path))
    reader.refuse_faults(("learning", "learned"), ())
    loss, spread, worth = (
        reader.number("learning", name) for name in ("prior_loss", "prior_spread", "prior_jobs")
    )
    own: dict[LearnedKind, Prior] = {}
    rows: dict[tuple[str, str, str], int] = {}
    used = set(reader.rows("learned", "product"))
    for index in used:
        words = [reader.text("learned", name, index) for name in ("product", "layer", "surface")]
        kind = LearnedKind(*words)
        if kind.key in rows:
            first = reader.place("learned", "product", rows[kind.key])
            where = reader.place("learned", "product", index)
            raise InputError(f"this kind stands at {first} too", "keep one of them", where)
        rows[kind.key] = index
        own[kind] = Prior(
            _or(reader, "prior_loss", index, loss), spread, _or(reader, "prior_jobs", index, worth)
        )
    free = tuple(i for i in range(reader.plan.block("learned").rows) if i not in used)
    confidence = reader.number("learning", "confidence")
    return Shop(
        reader, checked.plan.system, confidence, Prior(loss, spread, worth), own, rows, free
    )


def _or(reader: Reader, name: str, index: int, usual: float) -> float:
    blank = is_blank(reader.value("learned", name, index))
    return usual if blank else reader.number("learned", name, index)


def entries(shop: Shop, learned: Sequence[Lesson], day: dt.date) -> dict[Entry, object]:
    """Return what to write into the sheet.

    Args:
        shop: The shop as it was read.
        learned: What was learned; kinds of the sheet nothing was learned of stay as they are.
        day: The day to note.

    Raises:
        InputError: The sheet has too few free rows.
    """
    new = [lesson for lesson in learned if lesson.kind.key not in shop.rows]
    if len(new) > len(shop.free):
        what = f"{len(new)} new kinds of work, and {len(shop.free)} free rows"
        raise InputError(what, "clear rows you no longer need", "Learned")
    placed = dict(zip((lesson.kind.key for lesson in new), shop.free, strict=False))
    found: dict[Entry, object] = {}
    for lesson in learned:
        key = lesson.kind.key
        row = shop.rows.get(key, placed.get(key, 0))
        if key in placed:
            names = {
                "product": lesson.kind.product,
                "layer": lesson.kind.layer,
                "surface": lesson.kind.surface,
            }
            found |= {("learned", name, row): word for name, word in names.items() if word}
        written: dict[str, object] = {
            "jobs": lesson.jobs,
            "loss": lesson.loss,
            "suggested": lesson.suggested,
            "spread": lesson.spread,
            "pace": pace_in(lesson.pace, shop.system),
            "day": day,
        }
        found |= {("learned", name, row): content for name, content in written.items()}
    return found


def pace_in(pace: float | None, system: System) -> float | None:
    """Return a pace in m²/s as area of a system in an hour.

    Example:
        >>> pace_in(0.01, units.SYSTEMS["metric"])
        36.0
    """
    return None if pace is None else units.express(pace * HOUR, system.area)
