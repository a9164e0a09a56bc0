"""The visits of a calendar: the dates on which the crew works on site, and what they are paid for.

Contract: plain datetimes of placed steps in, one visit a date out. The whole crew is on site from
its first step of a date to its last, waits between them too, and is paid at least a least number
of hours; where every step of a date takes fewer hands, no more of them come. Source: common
practice, no source.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable, Sequence
from datetime import date, datetime

from pourbook.records import dataclass
from pourbook.trade.days.schedule import WORK, Placed
from pourbook.trade.measuring import require


@dataclass(frozen=True)
class Visit:
    """One date on site: when its first step begins and its last one ends.

    ``hands`` is how many it takes, ``None`` the whole crew.
    """

    start: datetime
    end: datetime
    hands: int | None = None

    @property
    def seconds(self) -> float:
        """Return how long the crew is on site, s."""
        return (self.end - self.start).total_seconds()


def visits(lines: Iterable[Placed]) -> list[Visit]:
    """Return the visits of a calendar, in order of time.

    Args:
        lines: Its placed steps, in any order; what takes no crew is no visit.

    Example:
        >>> from pourbook.trade.days.schedule import Step
        >>> def done(day: int, start: int, end: int) -> Placed:
        ...     return Placed(Step(f"{day}.{start}", WORK), datetime(2027, 1, day, start),
        ...                   datetime(2027, 1, day, end))
        >>> [v.seconds / 3600 for v in visits([done(11, 8, 10), done(11, 14, 15), done(13, 9, 10)])]
        [7.0, 1.0]
    """
    days: dict[date, list[Placed]] = defaultdict(list)
    for line in lines:
        if line.step.kind == WORK and line.end > line.start:
            days[line.start.date()].append(line)
    return [_visit(days[day]) for day in sorted(days)]


def _visit(done: Sequence[Placed]) -> Visit:
    hands = [line.step.hands for line in done if line.step.hands is not None]
    return Visit(
        min(line.start for line in done),
        max(line.end for line in done),
        max(hands) if len(hands) == len(done) else None,
    )


def paid_seconds(made: Sequence[Visit], crew: int, least: float) -> float:
    """Return the time the crew is paid for, all its people together, s.

    Args:
        made: The visits.
        crew: How many people there are, 1 and more.
        least: The least each of them is paid for a visit, s, >= 0.

    Raises:
        InputError: A figure is out of range.

    Example:
        >>> day = datetime(2027, 1, 11, 8), datetime(2027, 1, 11, 9)
        >>> paid_seconds([Visit(*day)], crew=2, least=4 * 3600) / 3600
        8.0
    """
    require("above 0", crew=crew)
    require("0 or more", least=least)
    return math.fsum((visit.hands or crew) * max(visit.seconds, least) for visit in made)
