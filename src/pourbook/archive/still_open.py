"""What a job still lacks until it is settled, in the order to ask for it.

Contract: :func:`stand_of` reads a checked job and says in which phase it is and what is missing,
each with the cell where it goes and whom to ask. What may stay blank (it then counts as quoted) is
told last, and only once all batches are mixed. Nothing is worked out here that a sheet does not
say.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from pourbook.archive.layer_record import JobReader, logged_product
from pourbook.cells import OK, is_blank, is_refused, unmarked, word
from pourbook.records import dataclass

PHASES = (
    "being priced", "quoted", "accepted", "under way", "to be counted", "ready to settle", "closed",
)  # fmt: skip
PRICING, QUOTED, ACCEPTED, UNDER_WAY, COUNTING, READY, DONE = PHASES
"""The phases of a job, in order."""
CLIENT, CREW, STORE, OFFICE = "client", "crew", "store", "office"
"""Whom to ask: the client, who did the work, who keeps the shelf, or the office's own papers."""
_STATUSES = (
    ("used", "used_status", CREW),
    ("receipts", "receipt_status", OFFICE),
    ("invoices", "invoice_status", OFFICE),
    ("extras", "extra_status", OFFICE),
    ("worked", "worked_status", OFFICE),
    ("left", "left_status", STORE),
    ("issued", "issued_status", STORE),
)
_TOLD = {"additives": "additive", "sundries": "sundry"}
"""The kind of line on Invoices that says what a field of Used else is typed for."""
_MOST_NAMED = 6


@dataclass(frozen=True)
class Missing:
    """One thing a job lacks: what, whom to ask, and where it is to be typed.

    ``needed``: the job cannot be settled without it; else what is not measured counts as quoted, or
    as waste.
    """

    what: str
    ask: str
    sheet: str
    cell: str
    needed: bool = True


@dataclass(frozen=True)
class Stand:
    """Where a job stands: its phase, and what it lacks in the order to ask for it."""

    phase: str
    missing: tuple[Missing, ...]


def stand_of(reader: JobReader) -> Stand:
    """Return where a job stands."""
    look = _Look(reader)
    if reader.words("quoted", "state") != OK:
        return look.not_accepted()
    if "closed_state" in reader.plan.places and reader.words("closed_state", "state") == "closed":
        return look.closed()
    rows = list(reader.rows("log", "layer"))
    if not rows and not list(reader.rows("receipts", "product")):
        return Stand(ACCEPTED, (look.at("no batch is logged yet", CREW, "log", "layer"),))
    unmixed = list(look.unmixed(rows)) if rows else [look.unlogged()]
    missing = [*look.wrong(), *unmixed, *look.unbought(rows)]
    if any(one.needed for one in unmixed):
        return Stand(UNDER_WAY, tuple(missing))
    missing += look.uncounted()
    phase = COUNTING if any(one.needed for one in missing) else READY
    return Stand(phase, (*missing, *look.unmeasured(), *look.as_quoted()))


class _Look:
    def __init__(self, reader: JobReader) -> None:
        self.reader = reader

    def at(
        self, what: str, ask: str, block: str, name: str, index: int = 0, *, needed: bool = True
    ) -> Missing:
        cell = self.reader.plan.cell(block, name, index)
        return Missing(what, ask, cell.sheet, cell.address, needed)

    def not_accepted(self) -> Stand:
        """Return a job without an accepted quote: it has no price yet, or waits for the client."""
        option = word(self.reader.value("rates", "option"))
        heads = [word(name) for name in self.reader.plan.block("price").instances]
        which = heads.index(option) if option in heads else 0
        state = self.reader.words("price", "state", which)
        if state != OK:
            why = unmarked(state) or "it has no layers"
            missing = self.at(f"no price yet: {why}", OFFICE, "price", "state", which)
            return Stand(PRICING, (missing,))
        missing = self.at("the client's answer: pourbook accept", CLIENT, "quoted", "state")
        return Stand(QUOTED, (missing,))

    def closed(self) -> Stand:
        """Return a job that is closed: what came after is still to be booked."""
        if not self.reader.number("closed_state", "moved"):
            return Stand(DONE, ())
        what = "what came after it was closed is not booked: pourbook settle --close"
        return Stand(READY, (self.at(what, OFFICE, "closed_state", "moved"),))

    def wrong(self) -> Iterator[Missing]:
        """Give every row of Used that refuses what is typed in it."""
        for block, name, ask in _STATUSES:
            if block not in self.reader.plan.places:
                continue
            for index in range(self.reader.plan.block(block).rows):
                said = self.reader.words(block, name, index)
                if is_refused(said):
                    title = self.reader.plan.text(self.reader.plan.block(block).title)
                    yield self.at(f"{title}: {unmarked(said)}", ask, block, name, index)

    def unlogged(self) -> Missing:
        """Return that nothing is logged of a job with receipts: it can be settled by count."""
        return self.at("no batch is logged: by count alone", CREW, "log", "layer", needed=False)

    def unmixed(self, rows: list[int]) -> Iterator[Missing]:
        """Give every layer of the accepted quote some of whose planned batches are not logged."""
        accepted = self._words("quoted_layers", "layer")
        logged: dict[str, list[float | None]] = {}
        for row in rows:
            layer = word(self.reader.value("log", "layer", row))
            number = self.reader.number_or_none("log", "batch", row)
            logged.setdefault(layer, []).append(number)
        planned: dict[str, list[float]] = {}
        names: dict[str, str] = {}
        for row in self.reader.rows("batches", "layer"):
            number = self.reader.number_or_none("batches", "batch", row)
            layer = word(self.reader.value("batches", "layer", row))
            if number is not None and layer in accepted:
                planned.setdefault(layer, []).append(number)
                names[layer] = self.reader.words("batches", "layer", row)
        free = self._free("log", rows)
        for layer, numbers in planned.items():
            done = logged.get(layer, [])
            unnumbered = sum(1 for number in done if number is None)
            lacking = [number for number in numbers if number not in done]
            if len(lacking) > unnumbered:  # rows without a number stand for as many of them
                named = ", ".join(f"{number:.0f}" for number in lacking[:_MOST_NAMED])
                more = ", ..." if len(lacking) > _MOST_NAMED else ""
                which = f"batches {named}{more}" if len(lacking) > 1 else f"batch {named}"
                if unnumbered:
                    which = f"{len(lacking) - unnumbered} of {which}"
                yield self.at(f"{names[layer]}: {which} not logged", CREW, "log", "layer", free)

    def unbought(self, rows: list[int]) -> Iterator[Missing]:
        """Give every product that was mixed and has neither invoice nor slip."""
        bought = self._words("receipts", "product")
        free = self._free("receipts", self.reader.rows("receipts", "product"))
        named = dict.fromkeys(logged_product(self.reader, row) for row in rows)
        for product in named:
            if product and word(product) not in bought:
                what = f"{product}: no invoice or slip of the shelf"
                yield self.at(what, OFFICE, "receipts", "product", free)

    def uncounted(self) -> Iterator[Missing]:
        """Give every product that was issued and whose rest nobody counted."""
        counted = self._words("left", "product")
        free = self._free("left", self.reader.rows("left", "product"))
        rows = self.reader.rows("receipts", "product")
        named = dict.fromkeys(self.reader.words("receipts", "product", row) for row in rows)
        for product in named:
            if word(product) not in counted:
                what = f"{product}: what is left was not counted; nothing left is 0"
                yield self.at(what, STORE, "left", "product", free)

    def unmeasured(self) -> Iterator[Missing]:
        """Give what was not measured: a difference of it counts as waste."""
        for row in self.reader.rows("coated", "layer"):
            layer = self.reader.words("coated", "layer", row)
            if self.reader.words("coated", "taken", row).startswith("quote"):
                what = f"{layer}: area coated not measured; a difference counts as waste"
                yield self.at(what, CREW, "coated", "done", row, needed=False)
        wet = {
            word(self.reader.value("log", "layer", row))
            for row in self.reader.rows("log", "layer")
            if self.reader.number_or_none("log", "wet", row)
        }
        for row in self.reader.rows("coated", "layer"):
            if word(self.reader.value("coated", "layer", row)) not in wet:
                layer = self.reader.words("coated", "layer", row)
                what = f"{layer}: no wet film was read; a difference counts as waste"
                yield self.at(what, CREW, "log", "wet", needed=False)

    def as_quoted(self) -> Iterator[Missing]:
        """Give what else it took and is blank, on Invoices too: it counts as quoted."""
        told = set()
        if "invoices" in self.reader.plan.places:
            kinds = self._words("extras", "kind")
            told = {n for n, kind in _TOLD.items() if kind in kinds}
            told |= {"hours"} if self._words("worked", "worked_step") else set()
        for item in self.reader.plan.block("spent").columns:
            if item.id in told:
                continue
            if item.id != "other" and is_blank(self.reader.value("spent", item.id)):
                label = self.reader.plan.text(item.header)
                ask = CREW if item.id in {"hours", "days"} else OFFICE
                what = f"{label}: blank counts as quoted"
                yield self.at(what, ask, "spent", item.id, needed=False)

    def _words(self, block: str, name: str) -> set[str]:
        """Return what stands in a column, in the form words are compared in."""
        rows = self.reader.rows(block, name)
        return {word(self.reader.value(block, name, row)) for row in rows}

    def _free(self, block: str, rows: Iterable[int]) -> int:
        """Return the first row of a table that is not taken; its first where all are."""
        return min(set(range(self.reader.plan.block(block).rows)) - set(rows), default=0)
