"""How a line of PB_DAYS came about, for ``explain``: what it waited for, and the age reached.

Contract: :func:`steps` works from the placed calendar alone and computes nothing the sheet does not
rest on; ages are in hours at the temperature the product states its times at.
"""

from __future__ import annotations

from pourbook import units
from pourbook.cells import Told
from pourbook.functions.days.calendar import MOST_LINES, line_of
from pourbook.functions.days.placing import Calendar
from pourbook.tables.works import HOUR
from pourbook.trade.cure.history import age_between
from pourbook.trade.days.schedule import WORK, Need, Placed


def steps(found: Calendar, index: int, system: units.System) -> list[Told]:
    """Return how a line of PB_DAYS came about, for ``explain``: what it waits for, and its age."""
    made = [line_of(found, placed) for placed in found.lines]
    if not 0 <= index < len(made) or len(made) > MOST_LINES:
        return []
    placed, line = found.lines[index], made[index]
    told: list[Told] = []
    for need in placed.step.needs:
        told += _need(found, need, placed, system)
    coated = found.coat_of(placed.step)
    if coated is not None and line.air is not None:
        minutes = coated.plan.layer.product.minutes
        told.append(Told("Mixing", "from Products", minutes, "min"))
        pace = coated.plan.doing.pace * coated.plan.doing.hands * HOUR
        shown = units.express(pace, system.area)
        told.append(Told("Spread in an hour", "pace x hands", shown, f"{system.area}/h"))
        warm = found.history.at(found.seconds(placed.start))
        why = f"{line.air.state}: {'; '.join(line.air.reasons)}"
        shown = units.express(warm, system.temperature)
        told.append(Told("Air in this hour", why, shown, system.temperature))
    if placed.step.kind == WORK:
        hours = placed.step.work_seconds / HOUR
        told.append(Told("Work", "rounded up to whole minutes", hours, "h"))
    return told


def _need(found: Calendar, need: Need, placed: Placed, system: units.System) -> list[Told]:
    done = next(p.end for p in found.lines if p.step.name == need.step)
    begin, now = found.seconds(done), found.seconds(placed.start)
    at = f"{units.show(need.reference, system.temperature, 1)}"
    wanted = need.from_age if need.until_age is None else need.until_age
    bound = "at least" if need.until_age is None else "at most"
    age = age_between(found.history, begin, now, need.energy, need.reference)
    after = f"of '{need.step}', which ends {done:%Y-%m-%d %H:%M}"
    return [
        Told("Age needed", f"{bound}, at {at}, {after}", wanted / HOUR, "h"),
        Told("Age reached", f"at the temperatures of the site, as hours at {at}", age / HOUR, "h"),
        Told("Time by the clock", "since then", (now - begin) / HOUR, "h"),
    ]
