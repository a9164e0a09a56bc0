"""What a job took from the shelf and gave back, booked in the shop once and only once.

Contract: pure; :class:`Shelf` is the shop's Stock sheet as read, :func:`to_book` says which
movements are new. Each movement of a job has a key that is made of the job's own mark and of what
stands on paper, so a second run finds all of them booked and changes nothing. What is booked with
other figures, what is booked and no longer in the job, and what would leave a lot below zero on any
day are refused; both places are named. Amounts are in the shop's unit of volume.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import math
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence

from pourbook.errors import InputError
from pourbook.records import dataclass
from pourbook.workbook.layout.mending import LONGEST_TEXT

OUT = ("issued", "sent back")
NOISE = 1e-6
_HALF_A_CENT = 0.005

LotName = tuple[str, str, str]
"""Product, what it holds and lot, in small letters: what tells one lot from another."""


@dataclass(frozen=True)
class Movement:
    """One row of Stock; ``place`` is where it stands, file, sheet and cell."""

    date: dt.date
    kind: str
    product: str
    holds: str
    lot: str
    amount: float
    value: float
    use_by: dt.date | None = None
    job: str = ""
    document: str = ""
    key: str = ""
    place: str = ""

    @property
    def name(self) -> LotName:
        """Return what tells its lot from every other."""
        return self.product.casefold(), self.holds.casefold(), self.lot.casefold()

    @property
    def signed(self) -> float:
        """Return the amount, below 0 where it went out."""
        return -self.amount if self.kind in OUT else self.amount


@dataclass(frozen=True)
class Shelf:
    """The movements of a shop, its products by small letters, and its free rows."""

    movements: tuple[Movement, ...]
    products: Mapping[str, str]
    free: tuple[int, ...] = ()
    last: str = ""

    def by_key(self) -> dict[str, Movement]:
        """Return the booked movements by key.

        Raises:
            InputError: A key stands twice.
        """
        found: dict[str, Movement] = {}
        for one in self.movements:
            if one.key and one.key in found:
                what = f"it is booked twice, also at {found[one.key].place}"
                raise InputError(what, "clear one of the two rows", one.place)
            if one.key:
                found[one.key] = one
        return found


def of_job(shelf: Shelf, identity: str) -> list[Movement]:
    """Return what is booked from the job with a mark."""
    return [one for one in shelf.movements if one.key.startswith(identity + " | ")]


def key(identity: str, *parts: object) -> str:
    """Return the key of a movement: short enough for a cell, and never that of another.

    Example:
        >>> key("4f2a", "receipts", "INV 7", 2, "issued")
        '4f2a | receipts | inv 7 | 2 | issued'
    """
    text = " | ".join([identity, *(str(part).strip().casefold() for part in parts)])
    if len(text) <= LONGEST_TEXT:
        return text
    digest = hashlib.sha256(text.encode()).hexdigest()[:16]
    return f"{text[: LONGEST_TEXT - 20]} | {digest}"


def to_book(shelf: Shelf, wanted: Sequence[Movement], identity: str) -> list[Movement]:
    """Return the movements of a job that are not booked yet.

    Args:
        shelf: The shop.
        wanted: All movements of the job.
        identity: The job's own mark, which its keys begin with.

    Raises:
        InputError: One is booked with other figures or no longer in the job, two are alike, a lot
            has two use-by days or would be below zero, or there are too few rows.
    """
    booked = shelf.by_key()
    new: list[Movement] = []
    seen: dict[str, Movement] = {}
    for one in wanted:
        if one.key in seen:
            what = f"it looks the same as {seen[one.key].place}"
            mend = "put the two rows together, or number the lines of the invoice under Line"
            raise InputError(what, mend, one.place)
        seen[one.key] = one
        old = booked.get(one.key)
        if old is None:
            new.append(one)
            continue
        off = _differences(old, one)
        if off:
            what = f"it is booked already with other figures ({', '.join(off)}), at {old.place}"
            mend = "put the job right, or clear the booked row of Stock and run this again"
            raise InputError(what, mend, one.place)
    for old in of_job(shelf, identity):
        if old.key not in seen:
            what = f"it was booked from this job (then '{old.job}'), which no longer has it"
            mend = (
                "put the job right, or clear this row of Stock; if the job's file was begun as a "
                "copy of that job, add --copied"
            )
            raise InputError(what, mend, old.place)
    _one_day_a_lot([*shelf.movements, *new])
    _never_below_zero(shelf.movements, new)
    if len(new) > len(shelf.free):
        what = f"{len(new)} movements are to be booked, {len(shelf.free)} rows are free"
        mend = (
            "begin a larger shop workbook (pourbook new-shop, --rows) with what is on hand as "
            "opening stock"
        )
        raise InputError(what, mend, shelf.last)
    return new


def _differences(old: Movement, new: Movement) -> list[str]:
    """Return in which figures a booked movement differs from what the job says now."""
    pairs = [
        ("day", old.date, new.date),
        ("kind", old.kind, new.kind),
        ("lot", old.name, new.name),
        ("use by", old.use_by, new.use_by),
    ]
    off = [label for label, a, b in pairs if a != b]
    if not math.isclose(old.amount, new.amount, rel_tol=1e-9, abs_tol=NOISE):
        off.append(f"amount {old.amount:.6g}, now {new.amount:.6g}")
    if abs(old.value - new.value) >= _HALF_A_CENT:
        off.append(f"value {old.value:.2f}, now {new.value:.2f}")
    return off


def _one_day_a_lot(movements: Iterable[Movement]) -> None:
    first: dict[LotName, Movement] = {}
    for one in movements:
        other = first.setdefault(one.name, one)
        if other.use_by != one.use_by:
            what = (
                f"lot {one.lot} is to be used by {one.use_by or 'no day'} here, by "
                f"{other.use_by or 'no day'} at {other.place}"
            )
            raise InputError(what, "read the can, and put one of the two right", one.place)


def _never_below_zero(old: Sequence[Movement], new: Sequence[Movement]) -> None:
    """Refuse what takes more of a lot than there is, at the end of any day."""
    touched = {one.name for one in new}
    days: dict[LotName, dict[dt.date, float]] = defaultdict(lambda: defaultdict(float))
    for one in (*old, *new):
        if one.name in touched:
            days[one.name][one.date] += one.signed
    for name, by_day in days.items():
        total = 0.0
        for day in sorted(by_day):
            total += by_day[day]
            if total < -NOISE:
                taker = [m for m in new if m.name == name and m.signed < 0 and m.date <= day]
                one = taker[-1] if taker else next(m for m in new if m.name == name)
                what = f"lot {one.lot} of {one.product} would be {-total:.6g} below zero on {day}"
                mend = "book what came in first, or correct lot, amount or day"
                raise InputError(what, mend, one.place)
