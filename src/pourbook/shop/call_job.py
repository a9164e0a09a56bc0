"""Makes a call of the shop a job: client, site, finish, and its tops as they were said.

Contract: entries of a job beside those a shop gives, or a refusal by sheet and cell. The tops stand
on Rooms as one piece a room with its area given, which may be split as the call took it, to be
typed over once they are measured; the work starts on the day the call was worked out with.
"""

from __future__ import annotations

import datetime as dt

from pourbook import units
from pourbook.cells import is_blank, is_refused, unmarked
from pourbook.dates import read_date
from pourbook.errors import BlankError, InputError, UnknownError
from pourbook.functions.calls.call_rows import USUAL_EDGE, USUAL_LEAD
from pourbook.job.make import Entries
from pourbook.shop.shop import FromShop, number
from pourbook.tables.rooms import AREA_GIVEN
from pourbook.units import SYSTEMS, System
from pourbook.workbook.check.reader import Reader

NEEDED = ("call_date", "finish", "area")
AS_SAID = "Tops, by phone"


def entries_of(shop: Reader, call: int, system: str) -> FromShop:
    """Return what a job takes from a call.

    Args:
        shop: The shop's workbook, checked.
        call: The number of the call, from 1.
        system: The measure system of the job.

    Raises:
        InputError: There is no such call, or it lacks its finish or area, or cannot be worked out.
    """
    if "calls" not in shop.plan.places:
        mend = f"take the shop over to today's sheets: pourbook upgrade {shop.file}"
        raise InputError("it has no sheet Calls", mend, shop.file)
    rows, at = shop.plan.block("calls").rows, call - 1
    if not 0 <= at < rows or is_blank(shop.value("calls", "call_status", at)):
        raise UnknownError(f"there is no call {call}", "see No. on the sheet Calls", shop.file)
    for name in NEEDED:
        if is_blank(shop.value("calls", name, at)):
            heading = shop.plan.block("calls").field(name).header
            where = shop.place("calls", name, at)
            raise BlankError(f"{heading} of call {call} is blank", "ask for it and type it", where)
    said = shop.value("calls", "call_status", at)
    if is_refused(said):
        raise InputError(unmarked(said), "fix the row", shop.place("calls", "call_status", at))
    return FromShop(_entries(shop, at, SYSTEMS[system]), (_told(shop, at),))


def _entries(shop: Reader, at: int, new: System) -> Entries:
    name = shop.text("calls", "caller", at)
    who = [part for part in (name, shop.text("calls", "phone", at)) if part]
    found: Entries = {("chosen", "finish_a", 0): shop.text("calls", "finish", at)}
    town = shop.text("calls", "town", at)
    job = ", ".join(part for part in (name or f"Call {at + 1}", town) if part)
    for key, value in (("job", job), ("client", ", ".join(who)), ("site", town)):
        if value:
            found["start", key, 0] = value
    found["start", "start_date", 0] = _start(shop, at)
    if not is_blank(shop.value("calling", "warm", 0)):
        warm = shop.number("calling", "warm", 0)
        found["site", "temperature", 0] = number(warm, "@temperature", shop.plan.system, new)
    rooms = int(_figure(shop, "rooms", at) or 1)
    area = _figure(shop, "area", at) / rooms
    run = _figure(shop, "run", at) / rooms
    old, substrate = shop.plan.system, shop.text("calls", "substrate", at)
    for row in range(rooms):
        room = f"Room {row + 1}"
        piece = {"room": room, "piece": AS_SAID, "shape": AREA_GIVEN, "may_split": "yes"}
        piece["a"] = f"{number(area, '@area', old, new):.6g} {new.area}"
        found |= {("rooms", key, row): value for key, value in piece.items()}
        if run:
            found["rooms", "edge_run", row] = float(f"{number(run, '@run', old, new):.6g}")
            found["rooms", "edge_height", row] = _edge(shop, new)
        if substrate and ("survey", "survey_room", row) not in found:
            found["survey", "survey_room", row] = room
            found["survey", "substrate", row] = substrate
    return found


def _start(shop: Reader, at: int) -> dt.date:
    """Return the first day on site, as the call was worked out with it."""
    said = shop.value("calls", "could_start", at)
    if not is_blank(said):
        return read_date(said, "Could start")
    lead = shop.value("calling", "lead", 0)
    days = USUAL_LEAD if is_blank(lead) else shop.number("calling", "lead", 0)
    return read_date(shop.value("calls", "call_date", at), "Date") + dt.timedelta(days=days)


def _figure(shop: Reader, name: str, at: int) -> float:
    return 0.0 if is_blank(shop.value("calls", name, at)) else shop.number("calls", name, at)


def _edge(shop: Reader, new: System) -> object:
    """Return how high an edge is: as the shop says it, a bare number with its unit."""
    typed = shop.value("calling", "edge", 0)
    if is_blank(typed):
        return f"{units.express(USUAL_EDGE, new.length):.6g} {new.length}"
    return f"{typed:g} {shop.plan.system.length}" if isinstance(typed, int | float) else typed


def _told(shop: Reader, at: int) -> str:
    named = shop.text("calls", "caller", at) or "no name"
    prices = [shop.value("calls", name, at) for name in ("price_from", "price_to")]
    known = all(isinstance(price, int | float) for price in prices)
    said = " to ".join(f"{price:,.0f}" for price in prices) if known else "nothing yet"
    return f"call {at + 1}, {named}, told {said}; type its tops over on Rooms once measured"
