"""What the columns of an imported CSV file are: by heading, by id, or as the person maps them.

Contract: :func:`read` gives a field for every heading, or none for one to leave out, or refuses the
first that cannot be placed. A unit may stand in brackets behind a heading.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence

from pourbook.errors import InputError, MisreadError, UnknownError
from pourbook.formats.csv_rows import Table
from pourbook.job import figures
from pourbook.job.figures import Dates, Decimal
from pourbook.records import dataclass
from pourbook.workbook.layout.laid_out import Layout
from pourbook.workbook.template.template import Field

_UNIT = re.compile(r"^(.*\S)\s*[(\[]([^()\[\]]+)[)\]]$")
_PAIR = re.compile(r"^(.+?)=(.+)$")


@dataclass(frozen=True)
class ListOf:
    """A table that can be imported: what it is called, further headings, and the keys of a row.

    ``loose`` is a field that tells two rows apart only where both of them have it, ``number`` the
    key a row may lack: two rows that say the same but for that one of them lacks it are one.
    """

    words: str
    also: Mapping[str, str]
    keys: tuple[str, ...]
    loose: str = ""
    number: str = ""


LISTS = {
    "log": ListOf(
        "the log",
        {f"part {letter}": f"mass_{letter}" for letter in "abc"} | {"began": "started"},
        ("started", "lot_a", "lot_b", "lot_c"),
    ),
    "receipts": ListOf(
        "the receipts",
        {"supplier": "supplier", "invoice": "document", "expires": "expiry"},
        ("document", "line"),
        "supplier",
        "line",
    ),
    "worked": ListOf(
        "the hours of labour",
        {"day": "date", "step": "worked_step", "who": "note"},
        ("date", "worked_step", "note"),
    ),
}


@dataclass(frozen=True)
class Asked:
    """What the person said of the file: headings mapped or left out, and how figures are read."""

    encoding: str = ""
    maps: Sequence[str] = ()
    ignore: Sequence[str] = ()
    decimal: Decimal = ""
    dates: Dates = ""


@dataclass(frozen=True)
class Heading:
    """A column of the file: its field, None to leave it out, its heading, and the unit in it."""

    field: Field | None
    shown: str
    unit: str = ""


def read(table: Table, plan: Layout, currency: str, block: str, asked: Asked) -> list[Heading]:
    """Return what every column of a file is.

    Args:
        table: The file.
        plan: The layout of the job.
        currency: The job's currency.
        block: A name of :data:`LISTS`.
        asked: What was said of the file.

    Raises:
        InputError: A heading is not known, stands twice, has a unit of another kind or is missing.
    """
    fields = _fields(plan, block)
    names = names_of(plan, block)
    maps = _maps(asked.maps, names)
    ignored = {name.strip().casefold() for name in asked.ignore}
    _refuse_absent({**dict.fromkeys(maps, "--map"), **dict.fromkeys(ignored, "--ignore")}, table)
    found: list[Heading] = []
    for place, cell in enumerate(table.headings, start=1):
        if cell.casefold() in ignored:
            found.append(Heading(None, cell))
            continue
        where = f"{table.name}, line 1, column {place}"
        try:
            head = _heading(cell, maps, names, fields, plan, currency)
        except InputError as error:
            raise InputError(error.what, error.mend, where) from None
        if any(h.field == head.field for h in found):
            what = f"a second column is {_label(head.field, plan)}"
            raise InputError(what, f"leave one out with --ignore '{cell}'", where)
        found.append(head)
    given = {h.field.id for h in found if h.field is not None}
    for item in fields.values():
        if item.required and item.id not in given:
            what = f"the heading '{plan.text(item.header)}' is missing"
            raise InputError(what, "add that column, or say --map", f"{table.name}, line 1")
    return found


def _fields(plan: Layout, block: str) -> dict[str, Field]:
    return {f.id: f for f in plan.block(block).columns if (block, f.id, 0) in plan.entry_at}


def names_of(plan: Layout, block: str) -> dict[str, str]:
    """Return what the columns of a table may be called, in small letters, and their fields."""
    fields = _fields(plan, block).values()
    names = {f.id: f.id for f in fields}
    names |= {plan.text(f.header).casefold(): f.id for f in fields}
    return names | dict(LISTS[block].also)


def _heading(
    cell: str,
    maps: Mapping[str, str],
    names: Mapping[str, str],
    fields: Mapping[str, Field],
    plan: Layout,
    currency: str,
) -> Heading:
    """Return which field a heading of the file is, and the unit that stands behind it."""
    match = None if cell.casefold() in names else _UNIT.match(cell)
    bare, unit = (match[1], match[2].strip()) if match else (cell, "")
    name = maps.get(cell.casefold()) or maps.get(bare.casefold()) or names.get(bare.casefold())
    if name is None:
        known = ", ".join(_label(item, plan) for item in fields.values())
        mend = f"say --map '{cell}=...' with one of: {known}; or leave it out: --ignore '{cell}'"
        raise UnknownError(f"the heading '{cell}' is not known", mend)
    item = fields[name]
    is_remark = item.kind != "number" or not item.unit
    if unit and not is_remark and not figures.is_unit(unit, item.unit, currency, plan.system):
        what = f"'{unit}' is no unit of {_label(item, plan)} in this job"
        raise InputError(what, "convert the column first, or correct its heading")
    measured = item.unit == "%" or item.unit.removeprefix("@") in figures.KINDS
    return Heading(item, cell, unit if measured else "")


def _label(item: Field | None, plan: Layout) -> str:
    return "" if item is None else plan.text(item.header)


def _maps(given: Sequence[str], names: Mapping[str, str]) -> dict[str, str]:
    """Return the mapped headings: theirs in small letters to our field."""
    found = {}
    for pair in given:
        match = _PAIR.match(pair)
        ours = names.get(match[2].strip().casefold()) if match else None
        if match is None or ours is None:
            mend = "write it as --map 'Their heading=Our heading'"
            raise UnknownError(f"'{pair}' names no heading of the table", mend, "--map")
        found[match[1].strip().casefold()] = ours
    return found


def _refuse_absent(wanted: Mapping[str, str], table: Table) -> None:
    """Refuse an option that names a heading the file does not have."""
    there = {h.casefold() for h in table.headings}
    there |= {m[1].casefold() for h in table.headings if (m := _UNIT.match(h))}
    for name, option in wanted.items():
        if name not in there:
            mend = "the headings are: " + ", ".join(table.headings)
            raise MisreadError(f"{option} names '{name}', which is no heading", mend, table.name)
