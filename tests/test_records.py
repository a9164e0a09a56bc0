"""Records made quickly behave as the standard library's do."""

from __future__ import annotations

import copy
import dataclasses
import math
import pickle
from dataclasses import field

from pourbook import records


@records.dataclass(frozen=True)
class Pail:
    """One made quickly."""

    litres: float
    lids: tuple[str, ...] = ()
    seen: int = field(default=0, compare=False)


@dataclasses.dataclass(frozen=True)
class Bucket:
    """The same by the standard library."""

    litres: float
    lids: tuple[str, ...] = ()
    seen: int = field(default=0, compare=False)


@records.dataclass(frozen=True)
class One:
    """Of one field."""

    value: float


@records.dataclass(frozen=True)
class Nothing:
    """Of none."""


@records.dataclass(frozen=True)
class Own:
    """One that says itself what is the same."""

    name: str

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Own) and self.name.casefold() == other.name.casefold()

    def __hash__(self) -> int:
        return hash(self.name.casefold())

    def __repr__(self) -> str:
        return self.name


GIVEN = ((1.0,), (1.0, ("a",)), (2.0, ("a",), 3), (1.0, (), 9), (math.nan,), (1,), (True,))


def test_they_are_the_same_where_the_standard_ones_are() -> None:
    ours, theirs = [Pail(*one) for one in GIVEN], [Bucket(*one) for one in GIVEN]
    for one, other in zip(ours, theirs, strict=True):
        assert [one == each for each in ours] == [other == each for each in theirs]
        assert [one != each for each in ours] == [other != each for each in theirs]
        assert repr(one).replace("Pail", "Bucket") == repr(other)
        assert dataclasses.asdict(one) == dataclasses.asdict(other) or math.isnan(one.litres)
    assert len(set(ours)) == len(set(theirs))
    others: list[object] = [Bucket(1.0), (1.0, ())]
    assert all(Pail(1.0) != one for one in others)


def test_one_field_or_none_will_do() -> None:
    assert One(2.0) == One(2)
    assert One(2.0) != One(3.0)
    odd = One(math.nan)
    assert odd == copy.copy(odd)
    assert len({One(1.0), One(1.0), One(2.0)}) == 2
    assert Nothing() == Nothing()
    assert len({Nothing(), Nothing()}) == 1
    assert repr(Nothing()).endswith("Nothing()")


def test_what_a_class_says_itself_stays() -> None:
    assert Own("Clear") == Own("clear")
    assert len({Own("Clear"), Own("CLEAR")}) == 1
    assert repr(Own("Clear")) == "Clear"


def test_they_are_replaced_copied_and_sent_to_other_processes() -> None:
    pail = Pail(2.0, ("a",))
    assert dataclasses.replace(pail, litres=3.0) == Pail(3.0, ("a",))
    sent = pickle.loads(pickle.dumps(pail))  # noqa: S301  # it is our own
    assert sent == copy.deepcopy(pail) == pail
    assert sent.seen == 0
    assert vars(sent) == {"litres": 2.0, "lids": ("a",)}, "what is usual is not sent"


def test_other_kinds_are_the_standard_ones() -> None:
    @records.dataclass(frozen=True, order=True)
    class Ordered:
        value: int

    @records.dataclass
    class Open:
        value: int

    assert Ordered(1) < Ordered(2)
    changed = Open(1)
    changed.value = 2
    assert changed == Open(2)
    assert Open.__hash__ is None
