"""Learned losses and paces for the finishes of a shop: what to write, and what has become surer.

Contract: a row of the finishes takes the lesson nearest to it: its product, layer and surfaces,
then its product and layer, its product and surfaces, its product. A learned loss holds all that
did not stay, so that it takes the place of run-off and hold-back too; what stood there before is
kept as words in the row. Nothing is written here.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Sequence

from pourbook.archive.learn import LearnedKind, Lesson
from pourbook.archive.learned_sheet import Shop, pace_in
from pourbook.cells import is_blank, text
from pourbook.job.fill import Entry
from pourbook.records import dataclass
from pourbook.workbook.check.reader import Reader

_HELD = ("edge_loss", "batch_loss")
"""Losses of a row that a learned loss holds already."""
_SAME = 0.0005
"""Losses that differ by less read alike: a tenth of a per cent."""


@dataclass(frozen=True)
class ForFinish:
    """A row of the finishes and what it may take.

    Attributes:
        row: Its place in the table.
        place: Sheet and cell of its loss.
        finish: The finish it belongs to.
        lesson: What was learned of such work.
        loss: The loss to plan with, a fraction.
        pace: Pace of one person in the shop's area an hour; None where it is not known.
        before: What the row plans with now, in words.
        surer: Whether the jobs weigh more than the figure somebody typed.
        differs: Whether it plans with another loss, or with run-off or hold-back beside it.
    """

    row: int
    place: str
    finish: str
    lesson: Lesson
    loss: float
    pace: float | None
    before: str
    surer: bool
    differs: bool

    def describe(self) -> str:
        """Return the row in words."""
        pace = "" if self.pace is None else f", pace {self.pace:g}"
        words = f"{self.place}: '{self.finish}', {self.lesson.kind.product}"
        return f"{words}: {self.before} -> loss {self.loss:.1%}{pace} ({_jobs(self.lesson)})"


def nearest(kind: LearnedKind, learned: Sequence[Lesson]) -> Lesson | None:
    """Return the lesson a row of the finishes takes; None where nothing was learned of it.

    Example:
        >>> tint = Lesson(LearnedKind("Tint"), 3, 3, 0.08, 0.1, 0.2)
        >>> nearest(LearnedKind("tint", "Base", "top"), [tint]) is tint
        True
    """
    by_kind = {lesson.kind.key: lesson for lesson in learned if lesson.jobs > 0}
    for layer, surface in ((kind.layer, kind.surface), (kind.layer, ""), ("", kind.surface)):
        found = by_kind.get(LearnedKind(kind.product, layer, surface).key)
        if found:
            return found
    return by_kind.get(LearnedKind(kind.product).key)


def for_finishes(shop: Shop, learned: Sequence[Lesson]) -> list[ForFinish]:
    """Return what each row of the finishes may take; older shops have no place to note it.

    Args:
        shop: The shop with its sheet Learned, as read.
        learned: What was learned.
    """
    if "learned" not in {f.id for f in shop.reader.plan.block("finish_layers").columns}:
        return []
    worth = {kind.key: prior.worth for kind, prior in shop.own.items()}
    return list(_rows(shop, learned, worth))


def _rows(
    shop: Shop, learned: Sequence[Lesson], worth: dict[tuple[str, str, str], float]
) -> Iterator[ForFinish]:
    reader = shop.reader
    for row in reader.rows("finish_layers", "finish"):
        names = ("product", "layer", "surfaces")
        lesson = nearest(
            LearnedKind(*(reader.text("finish_layers", n, row) for n in names)), learned
        )
        if lesson is None:
            continue
        hands = reader.value("finish_layers", "hands", row)
        pace = pace_in(lesson.slow_pace or lesson.pace, shop.system)
        one = pace / hands if pace and isinstance(hands, int | float) and hands >= 1 else None
        loss = reader.value("finish_layers", "loss", row)
        typed = float(loss) if isinstance(loss, int | float) else 0.0
        suggested = round(lesson.suggested, 3)
        beside = any(not is_blank(reader.value("finish_layers", n, row)) for n in _HELD)
        yield ForFinish(
            row=row,
            place=reader.place("finish_layers", "loss", row),
            finish=reader.text("finish_layers", "finish", row),
            lesson=lesson,
            loss=suggested,
            pace=None if one is None else round(one, 1),
            before=_before(reader, row),
            surer=lesson.jobs > worth.get(lesson.kind.key, shop.prior.worth),
            differs=beside or abs(typed - suggested) >= _SAME,
        )


def _before(reader: Reader, row: int) -> str:
    """Return what a row plans with, in words."""
    said = []
    for name in ("loss", *_HELD, "pace"):
        value = reader.value("finish_layers", name, row)
        if is_blank(value):
            continue
        label = reader.plan.text(reader.plan.block("finish_layers").field(name).header)
        shown = f"{value:.1%}" if name == "loss" and isinstance(value, float) else text(value)
        said.append(f"{label[0].lower()}{label[1:]} {shown}")
    return ", ".join(said) or "no loss"


def _jobs(lesson: Lesson) -> str:
    return f"{lesson.jobs} job{'s' * (lesson.jobs != 1)}"


def entries(rows: Sequence[ForFinish], day: dt.date) -> dict[Entry, object]:
    """Return what to write: losses and paces, and in words since when, from what, and before.

    A row that plans so already is left as it is.
    """
    found: dict[Entry, object] = {}
    for one in rows:
        if not one.differs:
            continue
        said = f"{day}, {_jobs(one.lesson)}; before: {one.before}"
        written: dict[str, object] = {"loss": one.loss, "learned": said}
        written |= dict.fromkeys(_HELD)
        if one.pace:
            written["pace"] = one.pace
        found |= {("finish_layers", name, one.row): value for name, value in written.items()}
    return found
