"""Makes a finished job workbook: entries in, a file with formulas and their values out.

Contract: :func:`make` builds, recomputes and fills in the values, and puts the file in place in one
step; nothing is left behind when it fails. Entries come from a scenario file
(:func:`read_scenario`) or from rows a caller has read elsewhere.
"""

from __future__ import annotations

import datetime as dt
import tomllib
import uuid
from collections.abc import Callable, Mapping
from dataclasses import field
from pathlib import Path

from pourbook.cells import Address, Value
from pourbook.errors import FileUnreadableError, InputError, TemplateError, UnknownError
from pourbook.formats import files
from pourbook.formats.ooxml import rewrite
from pourbook.hosts import headless
from pourbook.job import macros
from pourbook.records import dataclass
from pourbook.workbook.build import build
from pourbook.workbook.layout.laid_out import Layout
from pourbook.workbook.layout.lay_out import lay_out

Entries = dict[tuple[str, str, int], object]
DEFAULT_PIECES = 120
DEFAULT_SYSTEM = "us"


@dataclass(frozen=True)
class Scenario:
    """A job as text: its measure system and what is typed where.

    ``accepted`` says when (``on``) and by whom (``by``) its quote was accepted, if it was.
    """

    system: str
    entries: Entries
    accepted: Mapping[str, object] = field(default_factory=dict)

    @property
    def pieces(self) -> int:
        """Return how many rows of pieces the scenario fills."""
        return 1 + max((k[2] for k in self.entries if k[0] == "rooms"), default=-1)


def read_scenario(path: Path) -> Scenario:
    """Read a scenario: forms are tables, tables are arrays of tables, by block id.

    Raises:
        FileUnreadableError: The file is missing or no TOML.
        InputError: It names no measure system.
    """
    try:
        content = tomllib.loads(path.read_text(encoding="utf-8"))
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise FileUnreadableError(f"it cannot be read: {error}", "", str(path)) from error
    system = content.pop("units", None)
    if not isinstance(system, str):
        raise InputError("no units are named", 'begin it with: units = "us"', str(path))
    accepted = content.pop("accepted", {})
    if not isinstance(accepted, dict):
        raise UnknownError("'accepted' is no table", "write [accepted] with: on, by", str(path))
    return Scenario(system, flatten(content), accepted)


def flatten(content: Mapping[str, object]) -> Entries:
    """Return nested entries by block, field and row.

    Example:
        >>> flatten({"start": {"job": "Bar"}, "rooms": [{"piece": "Top"}]})
        {('start', 'job', 0): 'Bar', ('rooms', 'piece', 0): 'Top'}
    """
    entries: Entries = {}
    for block, rows in content.items():
        listed = rows if isinstance(rows, list) else [rows]
        for index, row in enumerate(listed):
            if not isinstance(row, dict):
                raise UnknownError(f"'{block}' is no form or table", "see the demo scenario")
            for name, value in row.items():
                entries[block, name, index] = value
    return entries


def defaults(layout: Layout) -> Entries:
    """Return the entries a new job starts with."""
    return {
        (c.block, c.field.id, c.index): c.field.default
        for c in layout.entries
        if c.field is not None and c.field.default is not None
    }


def make(
    target: Path,
    system: str,
    entries: Mapping[tuple[str, str, int], object],
    *,
    book: str = "job",
    pieces: int = DEFAULT_PIECES,
    force: bool = False,
    made: dt.datetime | None = None,
    identity: str = "",
    step: Callable[[str], None] = lambda _: None,
) -> dict[Address, Value]:
    """Write a finished workbook.

    Args:
        target: The file to make, ending in ``.xlsx``, or in ``.xlsm`` to carry the macros that
            make the functions live in Excel.
        system: ``"us"``, ``"imperial"`` or ``"metric"``.
        entries: What is typed where; the defaults of the templates go underneath.
        book: The templates to make it from.
        pieces: Rows of the tables that grow, such as Rooms.
        force: Whether an existing file may be replaced.
        made: Date and time to record; now if left out.
        identity: What tells it from every other workbook; a random mark if left out. It stays when
            the file is renamed or copied.
        step: Told of each step, for a progress display.

    Returns:
        The values of all computed cells.

    Raises:
        UsageError: The file exists, or the folder does not.
        FileUnreadableError: The file is open elsewhere.
    """
    files.refuse_unless_free(target, force=force)
    layout = lay_out(book, system, pieces)
    typed = {**defaults(layout), **entries}
    wanted = [(c.sheet, c.address) for c in layout.cells if c.formula or c.fill]
    wanted += layout.offered(typed)
    values: dict[Address, Value] = {}
    live = target.suffix.lower() == macros.SUFFIX

    def write(temporary: Path) -> None:
        bare = temporary.with_name(temporary.stem + "-bare.xlsx")
        filled = temporary.with_name(temporary.stem + "-filled.xlsx") if live else temporary
        try:
            step("writing the sheets")
            when = made or dt.datetime.now()  # a local time, as documents carry it
            mark = identity or uuid.uuid4().hex
            build.write(layout, typed, bare, made=when, identity=mark)
            step("working out the formulas")
            done = headless.engine("fast").recompute(bare, wanted)
            values.update(done.values)
            if done.reasons:
                raise TemplateError(f"{done.reasons[0].function}: {done.reasons[0].message}")
            step("putting the values in")
            missing = rewrite.inject(bare, filled, done.values)
            if missing:
                raise TemplateError(f"no value for {missing[0][0]}!{missing[0][1]}")
            if live:
                macros.enable(filled, temporary)
        finally:
            bare.unlink(missing_ok=True)
            if live:
                filled.unlink(missing_ok=True)

    files.replace_file(target, write, force=force)
    return values
