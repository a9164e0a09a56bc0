"""Booking a job's movements of stock: once and only once, whatever the order."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pourbook.errors import InputError
from pourbook.shop.stock import Movement, Shelf, key, to_book
from pourbook.workbook.layout.mending import LONGEST_TEXT

DAY = dt.date(2027, 1, 6)
PRODUCTS = {"tint base": "Tint base", "binder": "Binder"}


def _moved(kind: str, amount: float, lot: str = "T-1", **more: object) -> Movement:
    given = {"date": DAY, "product": "Tint base", "holds": "kit", "value": 10.0, **more}
    return Movement(kind=kind, lot=lot, amount=amount, **given)  # type: ignore[arg-type]


def _shelf(*movements: Movement, rows: int = 40) -> Shelf:
    return Shelf(movements, PRODUCTS, tuple(range(len(movements), rows)), "shop.xlsx, Stock!A50")


@st.composite
def _jobs(draw: st.DrawFn) -> list[Movement]:
    """Movements of one job: each lot is received and issued, some of it comes back."""
    found: list[Movement] = []
    for line in range(draw(st.integers(1, 6))):
        amount = draw(st.floats(0.05, 40))
        day = DAY + dt.timedelta(days=draw(st.integers(0, 20)))
        lot = f"L{draw(st.integers(1, 3))}"
        for kind in ("received", "issued"):
            named = key("j", "receipts", "INV 7", line, "bought", kind)
            place = f"job.xlsx, Used!A{line}"
            found.append(_moved(kind, amount, lot, date=day, key=named, place=place))
        if draw(st.booleans()):
            back = amount * draw(st.floats(0.1, 1))
            named = key("j", "left", day, line)
            found.append(_moved("back on the shelf", back, lot, date=day, key=named))
    return found


@given(_jobs(), st.randoms(use_true_random=False), st.data())
def test_booking_twice_changes_nothing(
    wanted: list[Movement], shuffle: object, data: st.DataObject
) -> None:
    """Whatever was booked before, a run books the rest, and the next one nothing."""
    pairs = [m for m in wanted if data.draw(st.booleans()) and m.kind == "received"]
    before = _shelf(*pairs)
    new = to_book(before, wanted, "j")
    assert {m.key for m in (*pairs, *new)} == {m.key for m in wanted}
    assert len(new) == len(wanted) - len(pairs)
    after = [*pairs, *new]
    shuffle.shuffle(after)  # type: ignore[attr-defined]
    assert to_book(_shelf(*after), wanted, "j") == []


@given(_jobs())
def test_amounts_add_up(wanted: list[Movement]) -> None:
    """What is received less what is issued and came back is what the shelf holds more."""
    new = to_book(_shelf(), wanted, "j")
    back = sum(m.amount for m in wanted if m.kind == "back on the shelf")
    assert sum(m.signed for m in new) == pytest.approx(back)


BOOKED = _moved("received", 2.0, key="j | a", place="shop.xlsx, Stock!A9")
CHANGES = {
    "amount 2, now 3": {"amount": 3.0},
    "value 10.00, now 10.01": {"value": 10.01},
    "day": {"date": DAY + dt.timedelta(days=1)},
    "lot": {"lot": "T-2"},
    "use by": {"use_by": DAY},
}


@pytest.mark.parametrize("said", CHANGES)
def test_other_figures_are_refused_with_both_places(said: str) -> None:
    now = replace(BOOKED, place="job.xlsx, Used!A5", **CHANGES[said])  # type: ignore[arg-type]
    with pytest.raises(InputError) as refusal:
        to_book(_shelf(BOOKED), [now], "j")
    assert said in refusal.value.what
    assert "shop.xlsx, Stock!A9" in refusal.value.what
    assert refusal.value.where == "job.xlsx, Used!A5"


def test_noise_is_no_other_figure() -> None:
    now = replace(BOOKED, amount=2.0 + 1e-10, value=10.0 + 1e-10, job="another name")
    assert to_book(_shelf(BOOKED), [now], "j") == []


def test_what_the_job_no_longer_has_is_refused() -> None:
    with pytest.raises(InputError, match="no longer has it") as refusal:
        to_book(_shelf(BOOKED), [], "j")
    assert refusal.value.where == "shop.xlsx, Stock!A9"
    assert to_book(_shelf(BOOKED), [], "jj") == []  # another job, whose mark begins alike


@pytest.mark.parametrize(
    ("wanted", "words"),
    [
        ([_moved("issued", 1.0, key="j | b")], "would be 1 below zero on 2027-01-06"),
        (
            [
                _moved("received", 1.0, key="j | b", date=DAY + dt.timedelta(days=1)),
                _moved("issued", 1.0, key="j | c"),
            ],
            "below zero on 2027-01-06",
        ),
        ([_moved("received", 1.0, key="j | b", place="A")] * 2, "looks the same as A"),
        (
            [
                _moved("received", 1.0, key="j | b", use_by=DAY),
                _moved("received", 1.0, key="j | c"),
            ],
            "by no day here",
        ),
    ],
)
def test_what_cannot_be_is_refused(wanted: list[Movement], words: str) -> None:
    with pytest.raises(InputError, match=words):
        to_book(_shelf(), wanted, "j")


def test_too_many_movements_are_refused_whole() -> None:
    wanted = [_moved("received", 1.0, key=f"j | {n}") for n in range(3)]
    with pytest.raises(InputError, match="3 movements are to be booked, 2 rows are free"):
        to_book(_shelf(rows=2), wanted, "j")
    assert len(to_book(_shelf(rows=3), wanted, "j")) == 3


def test_a_key_that_stands_twice_is_refused() -> None:
    with pytest.raises(InputError, match="booked twice, also at shop"):
        to_book(_shelf(BOOKED, replace(BOOKED, place="shop.xlsx, Stock!A10")), [BOOKED], "j")


@given(st.lists(st.text(max_size=150), min_size=2, max_size=3, unique_by=str.casefold))
def test_keys_fit_a_cell_and_differ(parts: list[str]) -> None:
    names = [key("j", "receipts", part.strip() + "x") for part in parts]
    assert all(len(name) <= LONGEST_TEXT for name in names)
    long = [key("j", part, "y" * 190) for part in ("a", "b")]
    assert all(len(name) <= LONGEST_TEXT for name in long)
    assert long[0] != long[1]
