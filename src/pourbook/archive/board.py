"""The board of all jobs: every quoted, accepted and running job by day and crew, and the stock.

Contract: :func:`board_of` takes what :func:`pourbook.archive.folder.look` found and what a shop
has, and returns the entries of a board's workbook. Days and amounts are the
jobs' own; clashes and reservations are worked out in the workbook, by PB_BOARD.
"""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Sequence

from pourbook import units
from pourbook.archive.folder import JOB, LEFT_OUT, Found
from pourbook.archive.month import put
from pourbook.archive.planned import Ahead
from pourbook.archive.record import FINDINGS, JobRecord
from pourbook.archive.still_open import QUOTED
from pourbook.cells import word
from pourbook.dates import from_serial
from pourbook.errors import InputError, UsageError
from pourbook.functions.board.board_rows import CREWS, ON_ORDER
from pourbook.job.make import Entries
from pourbook.records import dataclass
from pourbook.units import SYSTEMS
from pourbook.workbook.check.reader import Reader
from pourbook.workbook.read.read import MOST_PIECES
from pourbook.workbook.template.template import load_book

BOOK = "board"
ON_BOARD, ALL_DONE = "on the board", "done"
NAMELESS = "without a name"
"""The crew of jobs that name none."""
KIT = "kit"
_NOISE = 1e-12


@dataclass(frozen=True)
class Held:
    """A can on the shelf, or what is on order: m³; a day it comes, a last day to use it."""

    product: str
    lot: str
    amount: float
    here: dt.date | None = None
    use_by: dt.date | None = None


@dataclass(frozen=True)
class OnFile:
    """A file, whether it is on the board, and why not."""

    found: Found
    taken: str
    why: str


@dataclass(frozen=True)
class Board:
    """A board about to be written, and what is told of it."""

    entries: Entries
    pieces: int
    system: str
    files: tuple[OnFile, ...]


def stock_of(shop: Reader) -> list[Held]:
    """Return the kits on a shop's shelf and on order.

    Raises:
        InputError: A row of its stock is to be fixed first.
    """
    orders = "ordered" if "ordered" in shop.plan.places else ""  # older shops note none
    blocks = [block for block in ("movements", orders) if block]
    shop.refuse_faults(blocks, [("movements", "move_status")])
    unit = shop.plan.system.volume
    found = []
    for row in shop.rows("lots", "product"):
        amount = shop.number_or_none("lots", "on_amount", row) or 0.0
        if amount <= _NOISE or shop.text("lots", "holds", row) != KIT:
            continue
        use_by = shop.number_or_none("lots", "expiry", row)
        found.append(
            Held(
                shop.text("lots", "product", row),
                shop.text("lots", "lot", row),
                units.to_si(amount, unit),
                use_by=None if use_by is None else from_serial(use_by).date(),
            )
        )
    for row in shop.rows(orders, "product") if orders else ():
        due = shop.number("ordered", "due", row)
        amount = units.to_si(shop.number("ordered", "amount", row), unit)
        product = shop.text("ordered", "product", row)
        found.append(Held(product, ON_ORDER, amount, here=from_serial(due).date()))
    return found


def board_of(
    found: Sequence[Found],
    folder: str,
    stock: Sequence[Held],
    *,
    shop: str = "",
    system: str = "",
    first: dt.date | None = None,
    made: dt.date,
) -> Board:
    """Return the entries of a board.

    Args:
        found: The files that were found.
        folder: What to call the folder.
        stock: What the shop has and ordered.
        shop: What to call the shop; blank for none.
        system: The units wanted; those of the first job if left out.
        first: The first day; that of the first visit from today on if left out.
        made: The day to note, and today.

    Raises:
        UsageError: No job has work before it.
        InputError: There are more crews, visits, needs or lots than a board holds.
    """
    files = tuple(_listed(one) for one in found)
    on_it = [
        (one.found, one.found.job, one.found.job.planned)
        for one in files
        if one.taken == ON_BOARD and one.found.job and one.found.job.planned
    ]
    if not on_it:
        said = "; ".join(f"{one.found.file}: {one.why or one.taken}" for one in files[:3])
        raise UsageError(f"no job has work before it ({said})", "name another folder", folder)
    system = system or on_it[0][1].system
    begin = first or _first_day([plan for _, _, plan in on_it], made)
    entries: Entries = {
        ("roll", "made_on", 0): made,
        ("roll", "folder", 0): folder,
        ("roll", "first_day", 0): begin,
        ("roll", "currency", 0): on_it[0][1].currency,
    }
    if shop:
        entries["roll", "shop", 0] = shop
    rows: Counter[str] = Counter()
    crews = _crews([plan for _, _, plan in on_it], folder)
    put(entries, rows, "crews", {f"name_{n}": name for n, name in enumerate(crews, start=1)})
    numbers = _numbers([plan for _, _, plan in on_it], stock)
    for name in numbers.values():
        put(entries, rows, "buy", {"product": name})
    places = {key: number for number, key in enumerate(numbers, start=1)}
    for one, job, plan in on_it:
        _job(entries, rows, one, job, plan, begin)
        firm = "no" if job.stand and job.stand.phase == QUOTED else "yes"
        for want in plan.wanted:
            row = {
                "need_job": job.job,
                "need_firm": firm,
                "need_product": want.product,
                "need_amount": units.express(want.amount, SYSTEMS[system].volume),
                "need_day": max(from_serial(want.day).date(), begin),
                "need_no": places[word(want.product)],
            }
            put(entries, rows, "needs", row)
    for can in stock:
        put(
            entries,
            rows,
            "cans",
            {
                "can_product": can.product,
                "can_lot": can.lot,
                "can_here": can.here,
                "can_use_by": can.use_by,
                "can_amount": units.express(can.amount, SYSTEMS[system].volume),
                "can_no": places[word(can.product)],
            },
        )
    for item in files:
        named = item.found.job.job if item.found.job else None
        row = {"file": item.found.file, "taken": item.taken, "why": item.why, "job": named}
        put(entries, rows, "files", row)
    last = max((_last(plan) for _, _, plan in on_it), default=begin)
    return Board(entries, _pieces(rows, (last - begin).days + 1, folder), system, files)


def _listed(one: Found) -> OnFile:
    if one.kind != JOB or one.job is None:
        return OnFile(one, one.kind, one.why)
    if one.job.planned is not None:
        return OnFile(one, ON_BOARD, "")
    if one.job.state == FINDINGS:
        return OnFile(one, LEFT_OUT, one.job.why)
    phase = one.job.stand.phase if one.job.stand else one.job.state
    return OnFile(one, ALL_DONE, phase)


def _last(plan: Ahead) -> dt.date:
    return max((from_serial(stay.ends).date() for stay in plan.stays), default=dt.date.min)


def _first_day(plans: Sequence[Ahead], today: dt.date) -> dt.date:
    """Return the day of the first visit that is not over."""
    days = [from_serial(stay.begins).date() for plan in plans for stay in plan.stays]
    return min((day for day in days if day >= today), default=today)


def _crews(plans: Sequence[Ahead], folder: str) -> list[str]:
    """Return the crews by the day they first work, each in its first spelling.

    Raises:
        InputError: There are more than a board has columns for.
    """
    ordered = sorted(plans, key=lambda p: p.stays[0].begins if p.stays else float("inf"))
    found: dict[str, str] = {}
    for plan in ordered:
        name = plan.crew or NAMELESS
        found.setdefault(word(name), name)
    if len(found) > CREWS:
        what = f"{len(found)} crews are more than the {CREWS} a board has room for"
        raise InputError(what, "spell each crew one way, or make a board for each folder", folder)
    return list(found.values())


def _numbers(plans: Sequence[Ahead], stock: Sequence[Held]) -> dict[str, str]:
    """Return every product by the word it is compared by, in order."""
    names = [want.product for plan in plans for want in plan.wanted]
    found: dict[str, str] = {}
    for name in [*names, *(can.product for can in stock)]:
        found.setdefault(word(name), name)
    return dict(sorted(found.items()))


def _job(
    entries: Entries,
    rows: Counter[str],
    one: Found,
    job: JobRecord,
    plan: Ahead,
    begin: dt.date,
) -> None:
    crew = plan.crew or NAMELESS
    row: dict[str, object] = {
        "job": job.job,
        "phase": job.stand.phase if job.stand else "",
        "client": job.client,
        "crew": crew,
        "first": from_serial(plan.stays[0].begins).date() if plan.stays else None,
        "last": _last(plan) if plan.stays else None,
        "in_use": None if plan.in_use is None else from_serial(plan.in_use),
        "promised": None if plan.promised is None else from_serial(plan.promised).date(),
        "note": plan.why,
        "file": one.file,
    }
    put(entries, rows, "jobs", row)
    for stay in plan.stays:
        if from_serial(stay.ends).date() >= begin:
            visit: dict[str, object] = {
                "visit_job": job.job,
                "visit_crew": crew,
                "visit_from": from_serial(stay.begins),
                "visit_until": from_serial(stay.ends),
                "visit_people": stay.people,
            }
            put(entries, rows, "visits", visit)


def _pieces(rows: Counter[str], days: int, folder: str) -> int:
    """Return how many rows the tables need; all of them have as many.

    Raises:
        InputError: They are more than a workbook holds.
    """
    book = load_book(BOOK)
    least = book.block("calendar").rows
    growing = {name: count for name, count in rows.items() if book.block(name).grows}
    most = max([least, min(days, MOST_PIECES), *growing.values()])
    fixed = {name: count for name, count in rows.items() if name not in growing}
    for name, count in fixed.items():
        if count > book.block(name).rows:
            what = f"{count} rows of '{book.block(name).title}' are more than a board holds"
            raise InputError(what, "make a board for fewer jobs", folder)
    if most > MOST_PIECES:
        what = f"{most} rows are more than a workbook holds"
        raise InputError(what, "make a board for fewer jobs", folder)
    return most
