"""Every formula of every book gives the unit its cell is labelled with, and a slip is found.

The slips are planted in the declarations one at a time, of thirteen kinds, wherever each can stand.
A slip counts only if what it puts in is of another unit than what it takes out: that is read here
from the labels alone, so that the audit is not asked what it will find. Where a figure bears no
unit there is none to slip: where it is only counted, held against nothing or against a tolerance
of any unit, or told in a text. Those are for the second writing of formulas in tests/agreement.
"""

from __future__ import annotations

import os
import re
from collections.abc import Callable, Iterator
from dataclasses import replace
from functools import cache

import pytest

from pourbook.units import SYSTEMS
from pourbook.workbook.audit.book_units import audit
from pourbook.workbook.audit.sorts import UnitError, sort_of
from pourbook.workbook.template.template import Block, Book, Field, Fill, load_book

BOOKS = ("job", "shop", "month", "board")
Slip = tuple[str, Book]
NAMED = re.compile(r"\{(@?)([a-z_]+)(?:\.([a-z_]+))?(\.@)?\}")
UNITLESS = ("COUNT", "COUNTA", "COUNTIF", "TEXT")
"""Functions that only count what they are given, or write it out without a unit."""
MEASURES = ("@area", "@volume", "@small_mass", "@mass", "@money", "h", "min", "@run", "@film")
COUNTED = ("", "%", "no.", "row", "rows", "x", "of the job", "1 is yes")
POINTS = ("date", "day and time", "o'clock", "see Unit", "of Unit", "logit", "of any unit")


@pytest.mark.parametrize("system", SYSTEMS)
@pytest.mark.parametrize("name", BOOKS)
def test_every_unit_fits(name: str, system: str) -> None:
    assert audit(load_book(name), system) == []


@pytest.mark.parametrize(
    ("unit", "read"),
    [
        ("US fl oz/ft²", "US fl oz/ft²"),
        ("J/(g·K)", "J/K/g"),
        ("W/(m²·K)", "W/K/m²"),
        ("1/s", "1/s"),
        ("days", "day"),
    ],
)
def test_a_unit_is_read_as_it_is_written(unit: str, read: str) -> None:
    assert str(sort_of(unit)) == read


@pytest.mark.parametrize("unit", ["furlong", "kg/", "US gal/ft3", "kG"])
def test_a_unit_nobody_knows_is_refused(unit: str) -> None:
    with pytest.raises(UnitError):
        sort_of(unit)


def changed(book: Book, block: Block, item: Field, **new: str) -> Book:
    """Return the book with one field declared otherwise."""
    other = replace(item, **new)  # type: ignore[arg-type]
    fill: Fill | None = block.fill
    if fill is not None:
        fill = replace(fill, columns=tuple(other if c is item else c for c in fill.columns))
    columns = tuple(other if c is item else c for c in block.columns)
    mine = replace(block, columns=columns, fill=fill)
    sheets = tuple(
        replace(s, blocks=tuple(mine if b is block else b for b in s.blocks)) for s in book.sheets
    )
    return replace(book, sheets=sheets)


def formulas(book: Book) -> Iterator[tuple[Block, Field]]:
    for block in book.blocks.values():
        for item in block.columns:
            if item.formula:
                yield block, item


def told(book: Book, block: Block, match: re.Match[str]) -> str:
    """Return the label of what a name in a formula stands for; nothing where it is no one cell."""
    own = block if match[1] else book.blocks.get(match[2])
    name = match[2] if match[1] else match[3]
    if own is None or own.kind == "checks":
        return ""
    return next((f.unit for f in own.all_fields() if f.id == name), "")


def is_measure(unit: str) -> bool:
    return unit in MEASURES


def bears(formula: str, match: re.Match[str]) -> bool:
    """Return whether the unit of what stands there matters.

    It does not where the figure is counted, or held against nothing or a tolerance of any unit.
    """
    if "{overall.noise}" in formula:
        return False
    open_ = 0
    for at in range(match.start() - 1, -1, -1):
        open_ += {"(": 1, ")": -1}.get(formula[at], 0)
        if open_ > 0 and formula[:at].endswith(UNITLESS):
            return False
    return not re.match(r"\)*(=\"\"|<>\"\"|[<>]=?0)", formula[match.end() :])


def names(book: Book, block: Block, formula: str) -> Iterator[tuple[re.Match[str], str]]:
    """Return every name in a formula that holds a measure, with its label."""
    for match in NAMED.finditer(formula):
        unit = told(book, block, match)
        if is_measure(unit) and bears(formula, match):
            yield match, unit


def others(block: Block, unit: str) -> Iterator[Field]:
    """Return the fields of a block that hold a measure of another unit."""
    return (f for f in block.all_fields() if is_measure(f.unit) and f.unit != unit)


def put(formula: str, match: re.Match[str], text: str) -> str:
    return formula[: match.start()] + text + formula[match.end() :]


def other_measure(book: Book) -> Iterator[Slip]:
    """A weight where a volume belongs, an area where an amount of money does."""
    for block, item in formulas(book):
        for match, unit in names(book, block, item.formula):
            own = block if match[1] else book.block(match[2])
            for field in [*others(own, unit)][:1]:
                name = match[2] if match[1] else match[3]
                head, _, tail = match[0].rpartition(name)
                text = put(item.formula, match, f"{head}{field.id}{tail}")
                yield item.id, changed(book, block, item, formula=text)


def times_for_over(book: Book) -> Iterator[Slip]:
    """A price a litre times litres, turned into one over the other, and the other way round."""
    for block, item in formulas(book):
        for match in re.finditer(r"(?<=\})([*/])(?=\{)", item.formula):
            after = NAMED.match(item.formula, match.end())
            if after and is_measure(told(book, block, after)):
                other = "/" if match[1] == "*" else "*"
                yield item.id, changed(book, block, item, formula=put(item.formula, match, other))


def plus_for_times(book: Book) -> Iterator[Slip]:
    """Litres plus a price a litre."""
    for block, item in formulas(book):
        for match in re.finditer(r"(?<=\})\*(?=\{)", item.formula):
            after = NAMED.match(item.formula, match.end())
            if after and is_measure(told(book, block, after)):
                yield item.id, changed(book, block, item, formula=put(item.formula, match, "+"))


def times_for_plus(book: Book) -> Iterator[Slip]:
    """Money times money."""
    for block, item in formulas(book):
        for match in re.finditer(r"(?<=\})[+-](?=\{)", item.formula):
            after = NAMED.match(item.formula, match.end())
            if after and is_measure(told(book, block, after)) and "noise" not in item.formula:
                yield item.id, changed(book, block, item, formula=put(item.formula, match, "*"))


def one_more_added(book: Book) -> Iterator[Slip]:
    """Litres plus gallons, hours plus money."""
    for block, item in formulas(book):
        for match, unit in names(book, block, item.formula):
            more = next((u for u in ("@film", "@money") if u != unit), "")
            where = ((b, f) for b in book.blocks.values() for f in b.columns if f.unit == more)
            for own, field in [*where][:1]:
                text = f"({match[0]}+SUM({{{own.id}.{field.id}}}))"
                yield item.id, changed(book, block, item, formula=put(item.formula, match, text))
            break


def a_factor_left_out(book: Book) -> Iterator[Slip]:
    """Hours where what they cost belongs: a rate is left out."""
    for block, item in formulas(book):
        for match in re.finditer(r"\*\{[a-z_]+\.[a-z_]+\}", item.formula):
            name = NAMED.search(match[0])
            if name and told(book, block, name) not in COUNTED and bears(item.formula, match):
                yield item.id, changed(book, block, item, formula=put(item.formula, match, ""))


def counted_for_summed(book: Book) -> Iterator[Slip]:
    """How many cells hold an amount, where their sum belongs."""
    for block, item in formulas(book):
        if is_measure(item.unit):
            for match in re.finditer(r"\bSUM\((?=\{)", item.formula):
                yield (
                    item.id,
                    changed(book, block, item, formula=put(item.formula, match, "COUNT(")),
                )


def per_cent(book: Book) -> Iterator[Slip]:
    """A share as so many per cent, where a share of one belongs."""
    for block, item in formulas(book):
        for match in NAMED.finditer(item.formula):
            if told(book, block, match) == "%" and bears(item.formula, match):
                formula = put(item.formula, match, f"({match[0]}*100)")
                yield item.id, changed(book, block, item, formula=formula)


def not_turned(book: Book) -> Iterator[Slip]:
    """Days where hours belong: what turns one into the other is left out."""
    turning = [m for m in book.macros if m.gives != m.takes and m.takes not in POINTS]
    for block, item in formulas(book):
        for macro in turning:
            for match in re.finditer(rf"\b{macro.name}\(", item.formula):
                yield item.id, changed(book, block, item, formula=put(item.formula, match, "("))


def a_day_for_a_length(book: Book) -> Iterator[Slip]:
    """A date where the days between two of them belong."""
    for block, item in formulas(book):
        for match in re.finditer(r"(\{[^{}]+\})-\{[^{}]+\}", item.formula):
            first = NAMED.match(match[1])
            if first and told(book, block, first) in POINTS[:2]:
                yield (
                    item.id,
                    changed(book, block, item, formula=put(item.formula, match, match[1])),
                )


def label_of_a_formula(book: Book) -> Iterator[Slip]:
    """Kilograms over litres: the label beside a figure that is worked out."""
    for block, item in formulas(book):
        if is_measure(item.unit):
            other = "@volume" if item.unit != "@volume" else "@mass"
            yield item.id, changed(book, block, item, unit=other)


def label_of_an_entry(book: Book) -> Iterator[Slip]:
    """Another unit over what is typed and then worked with, or read as what it was."""
    for block in book.blocks.values():
        for item in block.columns:
            if item.dimension and item.dimension.split()[0] not in {"fraction", "number"}:
                for unit in ("@temperature", "@area" if "time" in item.dimension else "h"):
                    yield item.id, changed(book, block, item, unit=unit)


def label_of_a_result(book: Book) -> Iterator[Slip]:
    """°C over what a function gives in °F."""
    for block in book.blocks.values():
        for item in block.fill.columns if block.fill else ():
            if item.unit.startswith("@") and item.unit != "@money":
                other = "°C" if item.unit == "@temperature" else "@density"
                if other != item.unit:
                    yield item.id, changed(book, block, item, unit=other)


KINDS: tuple[Callable[[Book], Iterator[Slip]], ...] = (
    other_measure,
    times_for_over,
    plus_for_times,
    times_for_plus,
    one_more_added,
    a_factor_left_out,
    counted_for_summed,
    per_cent,
    not_turned,
    a_day_for_a_length,
    label_of_a_formula,
    label_of_an_entry,
    label_of_a_result,
)


ALL = bool(os.environ.get("POURBOOK_ALL_SLIPS"))
FEWEST = 12
"""A kind with fewer slips is planted whole; of others every third, and all with the variable."""


@cache
def slips(kind: Callable[[Book], Iterator[Slip]]) -> list[tuple[str, Slip]]:
    found = [(name, slip) for name in BOOKS for slip in kind(load_book(name))]
    return found if ALL or len(found) < FEWEST else found[::3]


@pytest.mark.parametrize("kind", KINDS, ids=lambda k: k.__name__)
def test_every_planted_slip_is_found(kind: Callable[[Book], Iterator[Slip]]) -> None:
    planted = slips(kind)
    missed = [f"{name}: {field}" for name, (field, book) in planted if not audit(book, "us")]
    assert planted
    assert not missed


def test_there_are_two_hundred_of_ten_kinds() -> None:
    counted = [len(slips(kind)) for kind in KINDS]
    assert sum(counted) >= 200
    assert sum(n > 0 for n in counted) >= 10
