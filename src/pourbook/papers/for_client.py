"""The client's papers: the quote as a letter, the work day by day, and the care of the tops.

Contract: as of :mod:`pourbook.papers.page`; a quote is written only of options whose price may
stand on the sheet Quote.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterator

from openpyxl import Workbook

from pourbook.papers import letterhead
from pourbook.papers.job_words import JobWords, at, on
from pourbook.papers.page import Amount, Content, Page
from pourbook.tables.layers import OPTIONS
from pourbook.trade.weighing import share_out

_ON = {"pour": "poured", "trowel": "trowelled", "roll": "rolled"}
_CENT = 0.01
_WIDE, _HIGH = 180.0, 46.0
"""Room for the picture in the letterhead, in points: beside the name and the address."""
_FIRST = (
    "Clear the tops and what stands before them, and keep children and pets out of the rooms.",
    "Have gas, electric and plumbing disconnected by those licensed before we come.",
    "Keep the rooms at an even temperature, by day and by night, until light use is due.",
    "Tell us of anybody in the house with asthma or an allergy to resins before we begin.",
)


def pages(book: Workbook, job: JobWords) -> None:
    """Add the pages of the client to a workbook."""
    _quote(book, job)
    if changes(job):
        _change_order(book, job)
    _care(book, job)


def _quote(book: Workbook, job: JobWords) -> None:
    page = Page(book, "Quote", (22, 34, 20, 24), paper=job.paper, foot=job.name)
    named = job.words("paper", "picture")
    if named:
        folder, place = job.book.path.parent, job.place("paper", "picture")
        page.beside(letterhead.picture(named, folder, place, wide=_WIDE, high=_HIGH))
    page.text(job.words("start", "company") or "Quote", size=18, bold=True)
    licence = job.words("paper", "licence")
    page.text(job.words("start", "contact"))
    page.text(f"Licence {licence}" if licence else "")
    page.gap()
    page.pairs(
        [
            ("Quote of", on(job.day("start", "date"))),
            ("Good through", on(job.day("start", "until"))),
            ("For", job.words("start", "client")),
            ("At", job.words("start", "site")),
            ("Work", job.name),
        ]
    )
    _prices(page, job)
    _options(page, job)
    _pieces(page, job)
    _when(page, job)
    _terms(page, job)
    page.done()


def changes(job: JobWords) -> list[int]:
    """Return the rows of Quoted's acceptances where there is more than one."""
    if "changes" not in job.plan.places:
        return []
    rows = [
        row
        for row in range(job.plan.block("changes").rows)
        if job.number_or_none("changes", "change_no", row) is not None
    ]
    return rows if len(rows) > 1 else []


def change_rows(job: JobWords) -> list[tuple[Content, ...]]:
    """Return original, each change and the new total, each on its day."""
    rows: list[tuple[Content, ...]] = []
    for row in changes(job):
        number = job.number("changes", "change_no", row)
        said = job.words("changes", "change_said", row)
        name = "The quote" if number == 1 else said or f"Revision {number:.0f}"
        more = Amount(job.number("changes", "change_tax_more", row)) if number > 1 else ""
        gross = Amount(job.number("changes", "change_gross", row))
        rows.append((name, on(job.day("changes", "change_on", row)), more, gross))
    return rows


def _change_order(book: Workbook, job: JobWords) -> None:
    """Add a page to sign: what was agreed, what was changed since, and what it comes to now."""
    page = Page(book, "Change order", (40, 20, 20, 20), paper=job.paper, foot=job.name)
    page.text(job.words("start", "company") or "Change order", size=18, bold=True)
    page.text(job.words("start", "contact"))
    page.gap()
    page.pairs(
        [
            ("Change order to", job.name),
            ("For", job.words("start", "client")),
            ("At", job.words("start", "site")),
            ("Option", job.words("quoted", "option")),
        ]
    )
    currency = job.words("quoted", "currency")
    page.heading("What was agreed, and what it comes to now")
    heads = ("", "Accepted on", f"More, {currency}", f"With tax, {currency}")
    rows = change_rows(job)
    page.table(heads, rows, "llrr")
    last = changes(job)[-1]
    total = job.money(job.number("changes", "change_gross", last))
    page.text(f"New total with tax: {total}. It takes the place of every total above.", bold=True)
    page.text("Whatever is not named here stays as it was quoted.")
    page.heading("Agreed", after=60)
    page.gap(14)
    page.text("Name: ____________________   Signature: ______________________   Date: ____________")
    page.done()


def _prices(page: Page, job: JobWords) -> None:
    page.heading("Price")
    rows: list[tuple[Content, ...]] = []
    top = job.number_or_none("measured", "top") or 0.0
    for place, letter in job.options():
        net = job.number("quote_price", "net", place)
        each = f"{job.money(net / top)} before tax per {job.unit('area')} of top" if top else ""
        mark = " (we recommend it)" if letter == job.offered else ""
        gross = Amount(job.number("quote_price", "gross", place))
        rows.append((f"Option {letter}", job.called(place) + mark, gross, each))
    currency = job.words("money", "currency")
    page.table(("", "", f"With tax, {currency}", ""), rows, "llrl")
    for said in _by_room(job):
        page.text(said)
    tax = job.words("money", "tax_name") or "tax"
    rate = job.number_or_none("money", "tax") or 0.0
    page.text(f"In it: {tax} of {rate * 100:g} %, at the rate on this day.")
    deposit = job.number_or_none("paper", "deposit")
    if deposit:
        due = {
            letter: round(deposit * job.number("quote_price", "gross", place), 2)
            for place, letter in job.options()
        }
        said = ", ".join(f"option {letter} {job.money(found)}" for letter, found in due.items())
        page.text(f"Deposit of {deposit * 100:g} % when you accept: {said}.")
    low, high = (
        job.number_or_none("price", name, OPTIONS.index(job.offered))
        for name in ("replace_low", "replace_high")
    )
    if low and high:
        page.text(
            f"New tops in place of these would cost some {low:,.0f} to {high:,.0f} {currency}."
        )


def _by_room(job: JobWords) -> Iterator[str]:
    """Give what falls to each room of the price of each option, by the area that is coated."""
    area = dict.fromkeys(room for room, _, _ in _rooms(job))
    if job.words("paper", "by_room") != "yes" or len(area) < 2:
        return
    areas = [math.fsum(size for of, _, size in _rooms(job) if of == room) for room in area]
    for place, letter in job.options():
        cents = share_out(job.number("quote_price", "gross", place), areas, _CENT)
        parts = zip(area, cents, strict=True)
        said = "; ".join(f"{room or 'elsewhere'} {job.money(part * _CENT)}" for room, part in parts)
        yield f"Option {letter} by room, by the area coated: {said}."


def _rooms(job: JobWords) -> Iterator[tuple[str, str, float]]:
    """Give room, name and coated area of every row of pieces."""
    for row in job.rows("rooms", "piece"):
        count = job.number_or_none("rooms", "count", row) or 1
        name = job.words("rooms", "piece", row)
        area = job.number_or_none("rooms", "total", row) or 0.0
        named = f"{name} ({count:g})" if count > 1 else name
        yield job.words("rooms", "room", row), named, area


def _options(page: Page, job: JobWords) -> None:
    for place, letter in job.options():
        page.heading(f"Option {letter}: {job.called(place)}")
        whole = 0.0
        rows: list[tuple[Content, ...]] = []
        for number, row in enumerate(job.layers(letter), start=1):
            dry = job.number_or_none("amounts", "dry", row) or 0.0
            only = job.words("layers", "rooms", row)
            fills = job.words("layers", "surfaces", row) == "fills"
            whole += 0.0 if fills else dry
            way = _ON.get(job.words("layers", "method", row), "put on")
            where = "what is hollow" if fills else job.words("layers", "surfaces", row)
            where += f", {only} only" if only else ""
            rows.append((f"{number}.", job.words("layers", "layer", row), way, where))
        page.table(("Layer", "", "How", "On"), rows, "llll")
        film = job.unit("film")
        page.text(f"About {whole:,.0f} {film} of coating in all, once it is cured.")


def _pieces(page: Page, job: JobWords) -> None:
    page.heading("What is coated")
    rooms: dict[str, list[str]] = {}
    area: dict[str, float] = {}
    for room, name, size in _rooms(job):
        rooms.setdefault(room, []).append(name)
        area[room] = area.get(room, 0.0) + size
    chosen = list(_colours(job))
    rows = []
    for room, names in rooms.items():
        told = [said for one, said in chosen if one in {"", room.casefold()}]
        rows.append((room, ", ".join(names), Amount(area[room]), "; ".join(told)))
    heads = ("Room", "Pieces", f"Surface, {job.unit('area')}", "Colour and sheen" if chosen else "")
    page.table(heads, rows, "llrl")
    for said in dict.fromkeys(_samples(job)):
        page.text(said)


def _colours(job: JobWords) -> Iterator[tuple[str, str]]:
    """Give what was chosen, each with the room it is for, in small letters; blank is every room."""
    for row in range(job.plan.block("colours").rows):
        colour, sheen = (job.words("colours", name, row) for name in ("colour_name", "sheen"))
        if colour or sheen:
            piece = job.words("colours", "colour_piece", row)
            said = ", ".join(word for word in (colour, sheen) if word)
            room = job.words("colours", "colour_room", row).casefold()
            yield room, f"{piece}: {said}" if piece else said


def _samples(job: JobWords) -> Iterator[str]:
    """Give whose word the samples have, and which still wait for one."""
    for row in range(job.plan.block("colours").rows):
        sample = job.words("colours", "sample", row)
        if not sample:
            continue
        by, when = job.words("colours", "approved_by", row), job.day("colours", "approved_on", row)
        yes = f"approved{f' by {by}' if by else ''} on {on(when)}" if when else "to be approved"
        yield f"Sample {sample}: {yes}."


def _when(page: Page, job: JobWords) -> None:
    visits = [job.day("visits", "visit_from", row) for row in range(job.plan.block("visits").rows)]
    days = [visit for visit in visits if visit is not None]
    if not days:
        return
    page.heading("When")
    many = f"{len(days)} visits" if len(days) > 1 else "one visit"
    back = job.day("decision", "back")
    page.text(f"Option {job.offered}: {many}, from {on(days[0])} to {on(days[-1])}.")
    if back is not None:
        page.text(f"The rooms are out of use from {on(days[0])}; back in light use on {on(back)}.")
    _day_by_day(page, job)


def _terms(page: Page, job: JobWords) -> None:
    page.heading("What you do first")
    for line in _FIRST:
        page.text(f"- {line}")
    page.heading("What it covers, and what not")
    for line in job.plan.block("quote_terms").text:
        if not line.startswith("="):
            page.text(job.plan.text(line))
    for label, name in (("Terms", "terms"), ("Warranty", "warranty")):
        words = job.words("paper", name)
        page.text(f"{label}: {words}" if words else "")
    page.heading("Accepted", after=60)
    page.text("Option accepted: ________", after=40)
    page.gap(14)
    page.text("Name: ____________________   Signature: ______________________   Date: ____________")


def _day_by_day(page: Page, job: JobWords) -> None:
    rows: dict[dt.date, list[tuple[dt.datetime, dt.datetime, str]]] = {}
    for row in range(job.plan.block("days").rows):
        begins, ends = job.day("days", "starts", row), job.day("days", "ends", row)
        if begins is None or ends is None or job.number_or_none("days", "hours", row) is None:
            continue  # what only waits or sets takes nobody's hours
        step, layer = job.words("days", "step", row), job.words("days", "day_layer", row)
        rows.setdefault(begins.date(), []).append((begins, ends, layer or step))
    table: list[tuple[Content, ...]] = []
    for steps in rows.values():
        done = "; ".join(dict.fromkeys(words for *_, words in steps))
        until = max(end for _, end, _ in steps)
        table.append((on(steps[0][0]), f"{at(steps[0][0])} to {at(until)}: {done}"))
    if table:
        page.table(("Day", "We are there"), table, "ll")


def _care(book: Workbook, job: JobWords) -> None:
    page = Page(book, "Use and care", (30, 70), paper=job.paper, foot=job.name)
    page.text(f"Use and care: {job.name}", size=16, bold=True)
    page.text(", ".join(w for n in ("company", "contact") if (w := job.words("start", n))))
    hard = [job.day("spans", "hard_use", n) for n in range(job.plan.block("spans").rows)]
    full = max((day for day in hard if day is not None), default=None)
    page.pairs([("Back in light use", on(job.day("decision", "back"))), ("Full cure", on(full))])
    if full is not None:
        page.text(f"The first hot pan goes on a trivet, and not before {on(full)}.")
    for block in ("care_first", "care_daily", "care_food", "care_repair", "care_caution"):
        declared = job.plan.block(block)
        page.heading(declared.title)
        for line in declared.text:
            if "for the crew alone" not in line:
                page.text(job.plan.text(line))
    said = [
        job.words("care_products", "care_safety", n)
        for n in job.rows("care_products", "care_safety")
    ]
    if said:
        page.heading(job.plan.block("care_products").title)
        for line in said:
            page.text(line)
    for line in job.plan.block("care_note").text:
        page.text(line, size=9)
    page.done()
