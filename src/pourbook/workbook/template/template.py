"""The template language: reads a book of sheets from TOML and refuses whatever it does not know.

Contract: :func:`load_book` returns a fully checked :class:`Book` of frozen declarations, or raises
:class:`~pourbook.errors.TemplateError` that names the file and the key. A declaration made once
serves the data validation, the headless entry check, the help comment and the reference pages.
The language itself is described in ``workbook_templates/README.md``.
"""

from __future__ import annotations

import zipfile
from collections.abc import Mapping
from dataclasses import MISSING, field, fields, replace
from functools import cache, cached_property
from pathlib import Path
from typing import Any, TypeVar, get_args, get_origin, get_type_hints

from pourbook import alike
from pourbook.cells import Value, text
from pourbook.compiled import kept
from pourbook.errors import TemplateError
from pourbook.functions.catalogue import catalogue
from pourbook.records import dataclass
from pourbook.tables.limits import LEAST_BARE
from pourbook.workbook.template import released, sound
from pourbook.workbook.template.guests import with_guests

LEAST_SHARE = 0.001
"""The smallest share but nothing that a percentage may be."""
SHARED = "job"  # the book other books may take whole sheets from
T = TypeVar("T")


@dataclass(frozen=True)
class Field:
    """One column of a table, one line of a form, or one row of a lines block.

    ``unit`` is shown beside or above every number: a literal, ``@role`` for a unit of the job's
    system (``@area``), or ``@money``. ``aside`` is for result columns that stand beside the printed
    part, for other cells to look up. A ``kept`` field is written by a command and locked. One that
    ``wraps`` takes more lines if long. Where a share may be a ``bare_percent``, 52 is 52 % as well.
    An entry column of later templates says since which, and stands last. A result column
    ``of_guest`` is worked out for a table of another place, which looks it up; what ``repeats`` a
    status has no fault of its own; ``height`` is in points. What it ``offers`` can be typed over.
    """

    id: str
    header: str
    kind: str = "text"
    unit: str = ""
    dimension: str = ""
    minimum: float | None = None
    maximum: float | None = None
    above: float | None = None
    below: float | None = None
    whole: bool = False
    required: bool = False
    key: bool = False
    choices: tuple[str, ...] = ()
    choices_from: str = ""
    default: str | float | None = None
    formula: str = ""
    format: str = ""
    width: float = 0
    help: str = ""
    emphasis: bool = False
    style: str = ""
    kept: bool = False
    beside: bool = False
    when: str = ""
    wraps: bool = False
    spans: int = 1
    height: float = 0
    aside: bool = False
    bare_percent: bool = False
    since: str = ""
    of_guest: bool = False
    offers: str = ""
    repeats: bool = False

    @property
    def is_typed(self) -> bool:
        """Return whether a person fills it in."""
        return self.kind not in {"formula", "index", "fixed", "blank"} and not self.kept

    @property
    def is_percent(self) -> bool:
        """Return whether it is a typed share, shown as a percentage."""
        return self.kind == "number" and self.unit == "%" and self.is_typed

    def too_little(self, share: float) -> bool:
        """Return whether a share can only be a percentage typed as a fraction.

        Where a cell shows percent, a program may take 0.07 for 0.07 %, and nobody means that.
        """
        return self.is_percent and 0 < abs(share) < LEAST_SHARE

    def share(self, value: float) -> float:
        """Return a typed share, where a bare number of per cent is one too."""
        return value / 100 if self.bare_percent and LEAST_BARE <= value <= 100 else value

    def listed(self, value: Value) -> Value:
        """Return a value as the field's list of words writes it; as it is if it is none of them."""
        held = text(value).casefold()
        return next((choice for choice in self.choices if choice.casefold() == held), value)


@dataclass(frozen=True)
class Fill:
    """The one array formula that fills the result columns of a table.

    One ``within`` another block has no call of its own: the call of that block works it out too, in
    columns aside, and its cells look it up there. ``function`` and ``arguments`` say what it is.
    """

    function: str
    arguments: tuple[str, ...]
    columns: tuple[Field, ...]
    within: str = ""


@dataclass(frozen=True)
class Check:
    """One line of the Checks sheet: a condition that is TRUE when all is well."""

    id: str
    label: str
    formula: str
    sheet: str
    mend: str


@dataclass(frozen=True)
class Series:
    """One series of a chart: a name and the cells it takes its values from."""

    values: str
    name: str


@dataclass(frozen=True)
class Block:
    """A piece of a sheet; which keys it may carry hangs on its ``kind``.

    One that is ``withheld`` names the cell that says what it rests on is ok; until then it shows
    where to look in place of its figures, whatever a program keeps there.
    """

    id: str
    kind: str
    title: str = ""
    note: str = ""
    rows: int = 0
    grows: bool = False
    grows_by: int = 1
    columns: tuple[Field, ...] = ()
    fill: Fill | None = None
    instances: tuple[str, ...] = ()
    checks: tuple[Check, ...] = ()
    text: tuple[str, ...] = ()
    chart: str = ""
    categories: str = ""
    series: tuple[Series, ...] = ()
    axis: str = ""
    style: str = ""
    new_page: bool = False
    beside: str = ""
    left: int = 1
    when: str = ""
    needs: str = ""
    per_page: int = 0
    withheld: str = ""

    def field(self, name: str) -> Field:
        """Return the entry, formula or result declaration called ``name``."""
        for item in self.all_fields():
            if item.id == name:
                return item
        raise TemplateError(f"block '{self.id}' has no field '{name}'", "see its TOML file")

    def all_fields(self) -> tuple[Field, ...]:
        """Return the declared fields, result columns last."""
        return self.columns + (self.fill.columns if self.fill else ())

    def printed_fields(self) -> tuple[Field, ...]:
        """Return the declared fields without those that stand aside, which are the last ones."""
        return tuple(item for item in self.all_fields() if not item.aside)

    @property
    def reach(self) -> int:
        """Return the last column it prints."""
        return self.left - 1 + len(self.printed_fields())


@dataclass(frozen=True)
class Sheet:
    """One sheet: its kind, its title and one-line purpose, and its blocks from top to bottom."""

    sheet: str
    kind: str
    title: str
    purpose: str
    paper: str = "portrait"
    freeze: str = ""
    one_page: bool = False
    prints_to: str = ""
    widths: tuple[float, ...] = ()
    tab: str = ""
    blocks: tuple[Block, ...] = ()

    @property
    def wide(self) -> int:
        """Return how many columns its widest block prints."""
        return len(self.widths) or max(
            (b.reach for b in self.blocks if b.kind == "table"), default=1
        )


@dataclass(frozen=True)
class Macro:
    """A named formula text with ``{x}`` in it, so that a rule is written in one place.

    One that turns a unit into another says which it ``takes`` and which it ``gives``.
    """

    name: str
    text: str
    help: str
    takes: str = ""
    gives: str = ""


@dataclass(frozen=True)
class Book:
    """A whole workbook: the sheets in order, the macros, and the functions it may use."""

    book: str
    title: str
    overall: str
    currency: str
    system: str
    functions: tuple[str, ...]
    macros: tuple[Macro, ...]
    sheets: tuple[Sheet, ...] = field(default=())

    @cached_property
    def blocks(self) -> Mapping[str, Block]:
        """Every block of the book by its id."""
        return {b.id: b for s in self.sheets for b in s.blocks}

    def block(self, name: str) -> Block:
        """Return the block called ``name``."""
        found = self.blocks.get(name)
        if found is None:
            raise TemplateError(f"the book '{self.book}' has no block '{name}'")
        return found


@cache
def load_book(name: str, version: str = released.CURRENT) -> Book:
    """Read and check the book ``name`` of a version of the templates.

    Args:
        name: Folder below ``workbook_templates``, such as ``"job"``.
        version: Which templates; those in the folder if left out.

    Raises:
        TemplateError: A file is missing, a key is unknown or has the wrong type, an id is twice.

    Example:
        >>> [s.sheet for s in load_book("job").sheets][:2]
        ['Start', 'Survey']
    """
    return kept(f"book {name} {version}", lambda: read_book(released.root(version) / name))


Folder = Path | zipfile.Path


def read_book(base: Folder) -> Book:
    """Read a book from a folder that holds ``book.toml`` and one TOML file per sheet.

    A sheet its own folder lacks is that of the job, from the folder ``job`` beside it.
    """
    top = _toml(base / "book.toml")
    names = top.pop("sheets", [])
    files = [(path.name, _toml(path)) for path in (_sheet_file(base, name) for name in names)]
    alike.filled_in(table for _, table in files)
    sheets = tuple(_make(Sheet, table, name) for name, table in files)
    book = _make(Book, {**top, "sheets": ()}, "book.toml")
    book = replace(book, sheets=tuple(with_guests(sheet, sheets) for sheet in sheets))
    sound.check(book, names)
    return book


def _sheet_file(base: Folder, name: str) -> Folder:
    own = base / f"{name.lower().replace(' ', '_')}.toml"
    shared = released.above(base) / SHARED / own.name
    return shared if not own.exists() and shared.exists() else own


def _toml(path: Folder) -> dict[str, Any]:
    import tomllib  # noqa: PLC0415 - what it reads is kept

    try:
        with path.open("rb") as stream:
            return tomllib.load(stream)
    except (OSError, tomllib.TOMLDecodeError) as error:
        raise TemplateError(f"cannot be read: {error}", "", path.name) from error


# TOML writes [[block]] and [[block.column]]; the declarations call the same thing by its plural.
_PLURAL = {
    "block": "blocks",
    "column": "columns",
    "line": "columns",
    "check": "checks",
    "macro": "macros",
}


_HINTS: dict[type, dict[str, Any]] = {}


def _make(cls: type[T], table: Mapping[str, Any], where: str) -> T:
    """Build a declaration from a TOML table; unknown or missing keys are errors."""
    if cls not in _HINTS:
        _HINTS[cls] = get_type_hints(cls)
    hints = _HINTS[cls]
    values: dict[str, Any] = {}
    for key, value in table.items():
        name = _PLURAL.get(key, key)
        if name not in hints:
            raise TemplateError(f"unknown key '{key}' in {cls.__name__.lower()}", "", where)
        values[name] = _convert(hints[name], value, f"{where}, {key}")
    for item in fields(cls):  # type: ignore[arg-type]
        needed = item.default is MISSING and item.default_factory is MISSING
        if needed and item.name not in values:
            raise TemplateError(f"{cls.__name__.lower()} has no '{item.name}'", "", where)
    made = cls(**values)
    if isinstance(made, Fill):
        made = replace(made, columns=_with_units(made))
    return made


def _with_units(fill: Fill) -> tuple[Field, ...]:
    """Return result columns with the units their function declares, where the sheet names none."""
    function = catalogue().get(fill.function)
    stated = {c.id: f"@{c.unit}" for c in function.columns if c.unit} if function else {}
    return tuple(replace(item, unit=item.unit or stated.get(item.id, "")) for item in fill.columns)


def _convert(hint: Any, value: Any, where: str) -> Any:
    if get_origin(hint) is tuple:
        inner = get_args(hint)[0]
        if not isinstance(value, list | tuple):
            raise TemplateError("must be a list", "", where)
        return tuple(_convert(inner, v, where) for v in value)
    options = get_args(hint) or (hint,)
    for option in options:
        if isinstance(value, dict) and hasattr(option, "__dataclass_fields__"):
            return _make(option, value, f"{where} '{value.get('id', '')}'".replace(" ''", ""))
    if isinstance(value, bool) and bool not in options:
        raise TemplateError("must not be true or false", "", where)
    if isinstance(value, int) and float in options and int not in options:
        return float(value)
    if not isinstance(value, tuple(o for o in options if isinstance(o, type))):
        raise TemplateError(f"has the wrong type ({type(value).__name__})", "", where)
    return value
