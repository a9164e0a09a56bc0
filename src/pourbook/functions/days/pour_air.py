"""Whether air and surface allow a batch: at its hour, and until it is touch dry.

Contract: :func:`judge` takes a placed batch; what is missing on Start makes it wait.
"""

from __future__ import annotations

from datetime import datetime

from pourbook.functions.days.placing import Calendar, Coated
from pourbook.trade import air
from pourbook.trade.air import Verdict
from pourbook.trade.cure.history import time_to_age
from pourbook.trade.ranges import degrees


def judge(found: Calendar, coated: Coated, start: datetime, end: datetime) -> Verdict:
    """Return whether air and surface allow a batch at its hour, and until it is touch dry.

    It is touch dry when it has cured long enough since the end of its pour, as on the calendar.
    """
    site, bounds = found.site, coated.limits
    if site.humidity is None:
        return Verdict("wait", ("type the relative humidity on Start",))
    begin = found.seconds(start)
    warm = found.history.at(begin)
    surface = warm if site.surface is None else site.surface
    verdict = air.judge_air(surface, warm, site.humidity, bounds)
    touch = coated.coat.touch_dry
    if verdict.state != "go" or touch is None:
        return verdict
    poured, coat = found.seconds(end), coated.coat
    dry = time_to_age(found.history, poured, touch, coat.energy, coat.reference)
    lowest, highest = found.history.extremes(begin, dry)
    for kelvin, bound, below in (
        (lowest, bounds.min_air, True),
        (highest, bounds.max_air, False),
    ):
        if bound is not None and (kelvin < bound - 1e-6 if below else kelvin > bound + 1e-6):
            word = "coldest" if below else "warmest"
            turn = "falls" if below else "rises"
            why = f"it {turn} to {degrees(kelvin)} before it is touch dry; {word} {degrees(bound)}"
            return Verdict("wait", (why,))
    return verdict
