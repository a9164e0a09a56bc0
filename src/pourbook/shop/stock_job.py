"""Reads the movements of stock off a job's Used sheet, and writes them into the shop's Stock sheet.

Contract: bought is received and issued; from shelf is issued; sent back comes back on the shelf and
goes back to the seller; what was counted and goes back on the shelf comes back at the mean price
the job paid for the product. Either every row can be booked or the first that cannot is named and
nothing is written. The shop's file is replaced in one step.
"""

from __future__ import annotations

import datetime as dt
import uuid
from collections import defaultdict
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

from lxml import etree

from pourbook import units
from pourbook.cells import is_blank
from pourbook.dates import read_date
from pourbook.errors import BlankError, InputError, MisreadError, PourbookError, UnknownError
from pourbook.formats import files
from pourbook.formats.gs1 import read_scan
from pourbook.formats.held import held
from pourbook.formats.ooxml import rewrite
from pourbook.formats.ooxml.copying import copied
from pourbook.job import fill
from pourbook.job.settle.bought import charged
from pourbook.records import dataclass
from pourbook.shop.stock import NOISE, LotName, Movement, Shelf, key, of_job, to_book
from pourbook.workbook.check.check import check_file
from pourbook.workbook.check.reader import Reader
from pourbook.workbook.layout.marks import IDENTITY_MARK

BACK = "back on the shelf"
MARKS = frozenset("*?~")  # wildcards of MATCH, by which the sheet tells lots apart
MOVES = {
    "bought": ("received", "issued"),
    "from shelf": ("issued",),
    "sent back": (BACK, "sent back"),
}
_WRITTEN = ("date", "kind", "product", "holds", "lot", "use_by", "amount", "value")
_JOB_BLOCKS = ("receipts", "left")
_TIES = (("invoices", "invoice_status"), ("extras", "extra_status"))
"""What a receipt costs rests on these too; jobs of templates 1 have none."""
PROPERTIES = "docProps/custom.xml"
_LONGEST_IDENTITY = 12
_FULL_IDENTITY = 32


@dataclass(frozen=True)
class Booked:
    """What a run did: the movements that are new, and how many were there already."""

    new: tuple[Movement, ...]
    already: int


def book(
    shop: Path, job: Path, *, dry_run: bool, copied: bool = False, identity: str = ""
) -> Booked:
    """Book a job's receipts and returns in the shop.

    Args:
        shop: The shop's workbook; changed in place.
        job: The job's workbook; changed only if it was copied.
        dry_run: Whether to write nothing.
        copied: Whether the job's file was begun as a copy of another job's, whose mark it still
            has: it gets one of its own.
        identity: That mark; a random one if left out.

    Raises:
        FileUnreadableError: A file is no such workbook, or is open elsewhere.
        InputError: A row cannot be booked; see :func:`pourbook.shop.stock.to_book`.
    """
    with held(*([] if dry_run else [shop, job] if copied else [shop])):
        return _book(shop, job, dry_run=dry_run, copied=copied, identity=identity)


def _book(shop: Path, job: Path, *, dry_run: bool, copied: bool, identity: str) -> Booked:
    shelf_reader, job_reader = Reader(check_file(shop)), Reader(check_file(job))
    for reader, kind in ((shelf_reader, "shop"), (job_reader, "job")):
        if reader.plan.book.book != kind:
            raise MisreadError(f"this is no {kind} workbook", f"name the {kind}'s", reader.file)
    shelf = shelf_of(shelf_reader)
    mark = identity_of(job_reader)
    if copied:
        _refuse_unless_copied(job_reader, shelf, mark)
        fresh = identity or uuid.uuid4().hex
        mark = short(fresh)
    wanted = movements_of(job_reader, shelf_reader, shelf, mark)
    new = to_book(shelf, wanted, mark)
    if copied and not dry_run:
        # First the job: should the shop then fail, the next run goes on under the new mark.
        remark(job, fresh)
    if new and not dry_run:
        entries: dict[fill.Entry, object] = {}
        for row, one in zip(shelf.free, new, strict=False):
            for name in (*_WRITTEN, "job", "document", "key"):
                value = getattr(one, name)
                entries["movements", name, row] = None if value == "" else value
        fill.fill(shop, shop, entries, force=True)
    return Booked(tuple(new), len(wanted) - len(new))


def identity_of(job: Reader) -> str:
    """Return what tells a job from every other, whatever its file is called.

    It is the mark a job gets when it is made, short; for a job without one, name and client.

    Raises:
        InputError: It has neither mark nor name.
    """
    mark = job.checked.book.marks.get(IDENTITY_MARK, "")
    if mark:
        return short(mark)
    name, client = (job.text("start", part).casefold() for part in ("job", "client"))
    if not name:
        raise InputError("the job has no name", "type one", job.place("start", "job"))
    return f"{name} / {client}"[:60]


def short(mark: str) -> str:
    """Return a mark as keys carry it: enough of a random one to be the only one of its kind.

    Example:
        >>> short("0123456789abcdef0123456789abcdef"), short("demo")
        ('0123456789ab', 'demo')
    """
    return mark if len(mark) < _FULL_IDENTITY else mark[:_LONGEST_IDENTITY]


def _refuse_unless_copied(job: Reader, shelf: Shelf, mark: str) -> None:
    """Refuse to take a job for another one: its movements would be booked twice."""
    named = job.text("start", "job")
    others = {m.job for m in of_job(shelf, mark)}
    if not others or named.casefold() in {name.casefold() for name in others}:
        said = "is booked under its own name" if others else "has nothing booked from the other"
        what = f"'{named}' {said}"
        mend = "leave --copied out; a copy needs a name of its own on Start"
        raise InputError(what, mend, job.place("start", "job"))


def remark(path: Path, mark: str) -> None:
    """Give a job's file a mark of its own; nothing else of it changes.

    Raises:
        FileUnreadableError: The file is open elsewhere or cannot be written.
    """

    def edit(part: str, content: bytes) -> bytes:
        return _with_mark(content, mark) if part == PROPERTIES else content

    files.replace_file(path, lambda new: copied(path, new, edit), force=True)


def _with_mark(content: bytes, mark: str) -> bytes:
    root = etree.fromstring(content)
    held = [p for p in root.iter("{*}property") if p.get("name") == IDENTITY_MARK]
    for part in held:
        part[0].text = mark
    if held:
        return rewrite.written(root)
    numbers = [int(p.get("pid", "1")) for p in root.iter("{*}property")]
    model = root[0]
    new = etree.SubElement(root, model.tag, fmtid=str(model.get("fmtid")), name=IDENTITY_MARK)
    new.set("pid", str(max(numbers) + 1))
    etree.SubElement(new, str(model[0].tag).partition("}")[0] + "}lpwstr").text = mark
    return rewrite.written(root)


def shelf_of(shop: Reader) -> Shelf:
    """Read the Stock sheet of a shop.

    Raises:
        InputError: A row cannot be read, or is half filled.
    """
    statuses = [("movements", "move_status"), ("products", "status")]
    shop.refuse_faults(("movements", "products"), statuses)
    found: list[Movement] = []
    taken: list[int] = []
    columns = [c.id for c in shop.plan.block("movements").columns if c.kind != "formula"]
    for row in range(shop.plan.block("movements").rows):
        if MARKS & set(shop.text("movements", "lot", row)):
            what = "the lot has a *, ? or ~ in it, which formulas cannot tell apart"
            raise InputError(what, "write a dash", shop.place("movements", "lot", row))
        values = [shop.value("movements", name, row) for name in columns if name != "no"]
        if any(not is_blank(value) for value in values):
            taken.append(row)
        if shop.text("movements", "product", row):
            found.append(_booked(shop, row))
    size = shop.plan.block("movements").rows
    free = tuple(range(1 + max(taken, default=-1), size))
    names = [shop.text("products", "product", i) for i in shop.rows("products", "product")]
    last = shop.place("movements", "date", size - 1)
    return Shelf(tuple(found), {name.casefold(): name for name in names}, free, last)


def _booked(shop: Reader, row: int) -> Movement:
    def text(name: str) -> str:
        return shop.text("movements", name, row)

    return Movement(
        date=_day(shop, "movements", "date", row),
        kind=text("kind"),
        product=text("product"),
        holds=text("holds"),
        lot=text("lot"),
        amount=shop.number("movements", "amount", row),
        value=shop.number("movements", "value", row),
        use_by=_maybe_day(shop, "movements", "use_by", row),
        job=text("job"),
        document=text("document"),
        key=text("key"),
        place=shop.place("movements", "date", row),
    )


def _day(reader: Reader, block: str, name: str, row: int) -> dt.date:
    try:
        return read_date(reader.value(block, name, row), "")
    except InputError as error:
        raise InputError(error.what, error.mend, reader.place(block, name, row)) from None


def _maybe_day(reader: Reader, block: str, name: str, row: int) -> dt.date | None:
    return None if is_blank(reader.value(block, name, row)) else _day(reader, block, name, row)


def movements_of(job: Reader, shop: Reader, shelf: Shelf, mark: str) -> list[Movement]:
    """Return every movement of stock of a job, in the shop's units, in the order of its sheet.

    Raises:
        InputError: A receipt or a count has a fault, currencies differ, a product is not the
            shop's, or a lot cannot be told.
    """
    statuses = [("receipts", "receipt_status"), *_TIES]
    there = [(block, name) for block, name in statuses if block in job.plan.places]
    job.refuse_faults((*_JOB_BLOCKS, *(block for block, _ in there[1:])), there)
    ours, theirs = (r.text("money", "currency").casefold() for r in (shop, job))
    if ours != theirs:
        what = f"the job is in {theirs.upper() or 'no currency'}, the shop in {ours.upper()}"
        raise InputError(what, "book it by hand", job.place("money", "currency"))
    return _Used(job, shop, shelf, mark).movements()


class _Used:
    """The Used sheet of one job, read with the shelf beside it."""

    def __init__(self, job: Reader, shop: Reader, shelf: Shelf, mark: str) -> None:
        self.job = job
        self.volumes = (job.plan.system.volume, shop.plan.system.volume)
        self.shelf = shelf
        self.identity = mark
        self.named = job.text("start", "job")
        self.worth = 1.0
        if ("rates", "leftovers", 0) in job.plan.entry_at:
            self.worth = job.number("settle_state", "worth")
        self.shops = {m.name: m for m in reversed(shelf.movements)}
        self.use_by = {name: m.use_by for name, m in self.shops.items()}
        self.paper: dict[str, tuple[str, str]] = {}
        self.returned: dict[str, float] = defaultdict(float)
        self.paid: dict[str, list[float]] = defaultdict(lambda: [0.0, 0.0])

    def movements(self) -> list[Movement]:
        """Return the movements, keyed, with the use-by day of their lots."""
        read = [self._receipt(row) for row in self.job.rows("receipts", "product")]
        receipts = [one for one in read if one.amount > 0]
        self._learn_days(receipts)
        found: list[Movement] = []
        for one in receipts:
            paper = self.paper[one.place]
            for kind in MOVES[one.kind]:
                name = key(self.identity, "receipts", *paper, one.kind, kind)
                found.append(replace(one, kind=kind, key=name, use_by=self.use_by.get(one.name)))
        taken = {one.name: one for one in receipts if one.kind != "sent back"}
        back = [self._left(row, taken) for row in self.job.rows("left", "product")]
        return found + [one for one in back if one is not None]

    def _receipt(self, row: int) -> Movement:
        """Read one receipt; its kind is still that of the Used sheet."""
        job = self.job
        kind = job.text("receipts", "kind", row)
        day = _day(job, "receipts", "date", row)
        if "landed" in job.plan.places:
            day = _maybe_day(job, "receipts", "delivered", row) or day
        product = self._product("receipts", row)
        holds = job.text("receipts", "holds", row)
        document, line = (job.text("receipts", name, row) for name in ("document", "line"))
        lot, expiry = self._scanned("receipts", row, day)
        typed = _maybe_day(job, "receipts", "expiry", row)
        if typed and expiry and typed != expiry:
            what = f"the code on the can says {expiry}, Use by says {typed}"
            raise InputError(what, "put one right", job.place("receipts", "expiry", row))
        if not lot and kind != "bought":
            mend = "type it; for a can without one, its invoice and line, such as 'INV 7 2'"
            raise BlankError("the lot is blank", mend, job.place("receipts", "lot", row))
        lot = lot or self._plain(f"{document} {line}".strip(), "document", row)
        volume = abs(job.number("receipts", "volume", row))
        cost = abs(job.number(charged(job.plan), "cost", row))
        sign = -1.0 if kind == "sent back" else 1.0
        self.paid[product.casefold()][0] += sign * cost
        self.paid[product.casefold()][1] += sign * volume
        where = job.place("receipts", "product", row)
        self.paper[where] = (document, line or f"{product} {holds} {lot}")
        return Movement(
            date=day,
            kind=kind,
            product=product,
            holds=holds,
            lot=lot,
            amount=self._amount(volume),
            value=round(cost, 2),
            use_by=typed or expiry,
            job=self.named,
            document=document,
            place=where,
        )

    def _left(self, row: int, taken: Mapping[LotName, Movement]) -> Movement | None:
        """Read one row of the count; None where nothing goes back on the shelf."""
        job = self.job
        rest = job.number("left", "rest", row)
        if job.text("left", "goes", row) != BACK or rest <= NOISE:
            return None
        day = _day(job, "left", "date", row)
        product = self._product("left", row)
        lot, _ = self._scanned("left", row, day)
        ours = [one for one in taken.values() if one.name[0] == product.casefold()]
        fits = [one for one in ours if lot.casefold() in {"", one.name[2]}]
        if len(fits) != 1:
            said = f"lot {lot}" if lot else "the lot is blank, and it"
            what = f"{said} is {'none' if not fits else 'more than one'} of what the job took"
            listed = ", ".join(f"{one.lot} ({one.holds})" for one in ours) or "none"
            raise InputError(what, f"type one of its lots: {listed}", job.place("left", "lot", row))
        cost, volume = self.paid[product.casefold()]
        self.returned[product.casefold()] += rest
        if self.returned[product.casefold()] > volume + NOISE:
            what = f"more of {product} goes back than the {volume:g} the job took"
            raise InputError(what, "count again", job.place("left", "rest", row))
        one = fits[0]
        return replace(
            one,
            date=day,
            kind=BACK,
            amount=self._amount(rest),
            value=int(round(rest * self.worth * cost / volume * 100, 6) + 0.5) / 100,
            use_by=self.use_by.get(one.name),
            document="",
            key=key(self.identity, "left", day, product, one.holds, one.lot),
            place=job.place("left", "product", row),
        )

    def _amount(self, volume: float) -> float:
        old, new = self.volumes
        return volume if old == new else float(f"{units.convert(volume, old, new):.12g}")

    def _product(self, block: str, row: int) -> str:
        name = self.job.text(block, "product", row)
        found = self.shelf.products.get(name.casefold())
        if found is None:
            what = f"'{name}' is not on the shop's Products sheet"
            mend = "add it there, or call it by the same name in both"
            raise UnknownError(what, mend, self.job.place(block, "product", row))
        return found

    def _scanned(self, block: str, row: int, day: dt.date) -> tuple[str, dt.date | None]:
        typed = self.job.text(block, "lot", row)
        where = self.job.place(block, "lot", row)
        if not typed:
            return "", None
        try:
            scan = read_scan(typed, day)
        except PourbookError as error:
            raise InputError(error.what, error.mend, where) from None
        return self._plain(scan.lot or "", "lot", row, block), scan.expiry

    def _plain(self, lot: str, column: str, row: int, block: str = "receipts") -> str:
        """Return a lot if the formulas of the shop can tell it from others."""
        if MARKS & set(lot):
            what = f"'{lot}' has a *, ? or ~ in it, which formulas cannot tell apart"
            mend = "write a dash instead, in job and shop"
            raise InputError(what, mend, self.job.place(block, column, row))
        return lot

    def _learn_days(self, receipts: list[Movement]) -> None:
        """Give every lot the one use-by day that shop and job know of it."""
        first: dict[LotName, Movement] = {}
        for one in receipts:
            if one.kind == "from shelf" and one.name not in self.shops:
                what = f"lot {one.lot} of {one.product} ({one.holds}) is not in the shop"
                mend = "enter it on Stock as opening, or correct the lot"
                raise InputError(what, mend, one.place)
            if one.use_by is None:
                continue
            known = self.use_by.get(one.name)
            if one.name in self.shops and known != one.use_by:
                there = self.shops[one.name].place
                what = f"lot {one.lot} is to be used by {one.use_by}, by {known} at {there}"
                raise InputError(what, "read the can, and put one right", one.place)
            other = first.setdefault(one.name, one)
            if other.use_by != one.use_by:
                what = f"lot {one.lot} is to be used by {one.use_by} and {other.use_by}"
                raise InputError(what, f"read the can, and see {other.place}", one.place)
            self.use_by[one.name] = one.use_by
