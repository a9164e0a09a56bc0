"""What a figure is: a measure with its unit, a day, a share, a count, a text.

Contract: pure. :func:`sort_of` reads the unit a field is labelled with, :class:`Sort` says what
comes of adding, multiplying and comparing. Units are taken as they are written: a litre is no
gallon, an hour no day, a kilogram no gram. Amounts of money are of one currency, their book's.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable

from pourbook.errors import InputError
from pourbook.records import dataclass
from pourbook.units import SYSTEMS

COUNTS = (
    *("batches", "cards", "files", "findings", "figures", "jobs", "kinds", "layers", "looks"),
    *("packs", "parts", "passes", "pieces", "people", "products", "rooms", "rows", "times"),
    *("visits", "1 is yes"),
)
ORDINALS = ("no.", "row", "of the job", "in option")
SHARES = ("%", "% of pot life", "by volume", "by weight", "x", "no unit", "power")
DAYS = ("date", "day and time")
CLOCK = "o'clock"
OPEN = (
    "see Unit",
    "of Unit",
    "as the test",
    "as the test says",
    "of any unit",
    "A : B : C",
    "logit",
)
"""Words for a cell whose unit stands in another cell, or is that of whatever it is held against."""
_ALIKE = {"days": "day", "of money": "@money"}
_SIGNS = {"²": 2, "³": 3}
_PER_CENT = "per cent"


def _atoms() -> frozenset[str]:
    """Return the units that are no product of others."""
    roles = (
        *("length", "run", "area", "film", "volume", "small_volume", "mass", "small_mass"),
        "temperature",
    )
    found = {getattr(system, role).rstrip("²³") for system in SYSTEMS.values() for role in roles}
    return frozenset(found | {"@money", "h", "min", "s", "day", "J", "kJ", "K", "mol", "W", "1"})


ATOMS = _atoms()
COMPARED = "compared"


class UnitError(InputError):
    """Two figures that do not go together, or a unit nobody knows."""


@dataclass(frozen=True)
class Sort:
    """One sort of figure.

    ``kind`` is measure, day (a date, with or without its time), clock (an hour of the day), share,
    count, ordinal, plain (a bare number), text, or any: what is not known, or is nothing.
    ``powers`` are those of the units of a measure, ``word`` is what a count counts.
    """

    kind: str
    powers: tuple[tuple[str, int], ...] = ()
    word: str = ""

    def __str__(self) -> str:
        """Return it as an estimator reads it."""
        if self.kind == "measure":
            over = [_power(u, n) for u, n in self.powers if n > 0]
            under = [_power(u, -n) for u, n in self.powers if n < 0]
            return "/".join(["·".join(over) or "1", *under]).replace("@money", "money")
        words = {"day": "a date", "clock": "an hour of the day", "plain": "a bare number"}
        words |= {"ordinal": "the number of a row", "any": "anything"}
        return self.word or words.get(self.kind, f"a {self.kind}")

    def times(self, other: Sort, sign: int = 1) -> Sort:
        """Return what comes of multiplying, or with ``sign`` -1 of dividing.

        Raises:
            UnitError: One of them is a date, an hour of the day or a text.
        """
        for one in (self, other):
            if one.kind in {"day", "clock", "text"}:
                raise UnitError(f"{one} is multiplied or divided")
        if "any" in {self.kind, other.kind}:
            return ANY
        powers = Counter(dict(self.powers))
        powers.update({unit: sign * power for unit, power in other.powers})
        left = tuple(sorted((u, n) for u, n in powers.items() if n))
        if left:
            return Sort("measure", left)
        return SHARE if self.kind == other.kind == "share" else PLAIN

    def to(self, power: int) -> Sort:
        """Return a power of it."""
        if self.kind == "measure":
            return Sort("measure", tuple((u, n * power) for u, n in self.powers))
        return self.times(self)

    def plus(self, other: Sort, sign: int = 1) -> Sort:
        """Return what comes of adding, or with ``sign`` -1 of taking away.

        Raises:
            UnitError: They do not go together.
        """
        pair = (self.kind, other.kind)
        if "any" in pair and {"day", "clock"} & set(pair):
            return ANY  # a length of time, or a point in it: nobody knows
        if pair in {("day", "day"), ("clock", "clock")}:
            if sign > 0:
                raise UnitError(f"{self} is added to {other}")
            return DAY_LONG if self.kind == "day" else HOUR_LONG
        for point, length in ((DATE, DAY_LONG), (HOUR, HOUR_LONG)):
            if self == point and other == length:
                return point
            if sign > 0 and other == point and self == length:
                return point
        if pair == ("ordinal", "ordinal") and sign < 0:
            return COUNT
        return self.beside(other, "added" if sign > 0 else "taken away")

    def beside(self, other: Sort, done: str = COMPARED) -> Sort:
        """Return what two figures are that must be of one sort.

        Raises:
            UnitError: They are not.
        """
        if "any" in {self.kind, other.kind}:
            return other if self.kind == "any" else self
        if self == other:
            return self
        bare = {"plain", "share", "count", "ordinal"}
        if self.kind in bare and other.kind in bare:
            return self._of_bare(other, done)
        raise UnitError(f"{self} and {other} are {done}")

    def _of_bare(self, other: Sort, done: str) -> Sort:
        one, two = sorted((self, other), key=lambda s: _RANK[s.kind])
        if done != COMPARED and {one.kind, two.kind} == {"count"} and one.word and two.word:
            raise UnitError(f"{one} and {two} are {done}")
        if {one.kind, two.kind} in ({"share", "count"}, {"share", "ordinal"}):
            raise UnitError(f"{one} and {two} are {done}")
        return one if one.word or not two.word else two

    def either(self, other: Sort) -> Sort:
        """Return what a cell shows that is one or the other: a text may stand for any figure.

        Raises:
            UnitError: They are figures of two sorts.
        """
        if "text" in {self.kind, other.kind}:
            return other if self.kind == "text" else self
        return self.beside(other, "shown in one cell")

    def fits(self, labelled: Sort) -> bool:
        """Return whether a figure of this sort may stand in a cell that is labelled so."""
        if labelled.kind == "text":
            return self.kind in {"text", "any"}
        if self.kind == "text":
            return labelled.kind == "any"
        try:
            self.beside(labelled)
        except UnitError:
            return False
        return True


_RANK = {"share": 0, "count": 1, "ordinal": 2, "plain": 3}
ANY, TEXT, PLAIN, SHARE = Sort("any"), Sort("text"), Sort("plain"), Sort("share")
COUNT, ORDINAL = Sort("count"), Sort("ordinal")
DATE, HOUR = Sort("day"), Sort("clock")
DAY_LONG, HOUR_LONG = Sort("measure", (("day", 1),)), Sort("measure", (("h", 1),))
PER_CENT = Sort("measure", ((_PER_CENT, 1),))
"""A share times a hundred, which is no share."""


def sort_of(unit: str) -> Sort:
    """Return what a cell holds whose label says this unit.

    Args:
        unit: As a sheet shows it, in the units of its system; ``@money`` for the currency.

    Raises:
        UnitError: It is no unit that is known here.

    Example:
        >>> str(sort_of("US gal/ft²")), str(sort_of("J/(g·K)")), sort_of("%").kind
        ('US gal/ft²', 'J/K/g', 'share')
    """
    unit = _ALIKE.get(unit, unit)
    for words, sort in ((SHARES, SHARE), (ORDINALS, ORDINAL), (DAYS, DATE), (OPEN, ANY)):
        if unit in words:
            return sort
    if unit in COUNTS:
        return Sort("count", word=unit)
    if unit == CLOCK:
        return HOUR
    return _measure(unit) if unit else TEXT


def together(sorts: Iterable[Sort]) -> Sort:
    """Return what a range of cells holds: their one sort, or anything."""
    found = set(sorts)
    return found.pop() if len(found) == 1 else ANY


def _measure(unit: str) -> Sort:
    over, _, under = unit.partition("/")
    powers = Counter(_atom(part) for part in over.split("·"))
    powers.subtract(_atom(part) for part in under.strip("()").split("·") if "/" in unit)
    raised: Counter[str] = Counter()
    for (atom, power), count in powers.items():
        raised[atom] += power * count
    raised.pop("1", None)
    return Sort("measure", tuple(sorted((u, n) for u, n in raised.items() if n)))


def _atom(part: str) -> tuple[str, int]:
    atom = _ALIKE.get(part, part).rstrip("²³")
    if atom not in ATOMS:
        raise UnitError(f"'{part}' is no unit that is known", "see workbook/audit/sorts.py")
    return atom, _SIGNS.get(part[-1:], 1)


def _power(unit: str, power: int) -> str:
    return unit + {1: "", 2: "²", 3: "³"}.get(power, f"^{power}")
