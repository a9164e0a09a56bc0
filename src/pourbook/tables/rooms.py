"""PB_ROOMS: the areas of every piece of the Rooms sheet, one call for the whole table.

Contract: one result row for each row of the table; a blank row gives blanks, a row that cannot be
measured gives ``!`` in every number and the refusal in its last column. Counts multiply every
result. Areas and runs come back in the units of the job's system.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

from pourbook import units
from pourbook.cells import (
    Told,
    Value,
    choice,
    is_blank,
    number,
    refuse_errors,
    text,
    without_sheets,
)
from pourbook.errors import (
    BlankError,
    InputError,
    MisreadError,
    PourbookError,
    RangeError,
    UnknownError,
)
from pourbook.records import dataclass
from pourbook.tables import reading
from pourbook.tables.declared import Column, declared
from pourbook.trade import edges, filling, measuring

TABLE = declared("rooms")
COLUMNS, LABELS = TABLE.columns, TABLE.labels
# No side of a piece is under 5 mm or over 200 m: a unit is missing, or a date slipped in.
SMALLEST_SIDE, LARGEST_SIDE = 0.005, 200.0
SMALLEST_FILL = 0.0002
MOST_OF_A_KIND = 999
POLYGON, AREA_GIVEN = "polygon", "area given"
RESULTS = (
    Column("top", "Area of the top, cutouts taken off, all pieces of the row", "area"),
    Column("edge", "Area of the exposed edges: run times girth", "area"),
    Column("splash", "Area of the backsplashes: run times height", "area"),
    Column("total", "Top, edges and backsplashes together", "area"),
    Column("run", "Length of exposed edge", "run"),
    Column("status", "ok, or what to fix in this row"),
    Column("soak", "What its bare surface takes of the first coat", "volume_per_area"),
    Column("fill", "Volume to fill, all pieces of the row", "volume"),
    Column("fill_depth", "How deep that is", "length"),
)
SINCE_2 = ("soak", "fill", "fill_depth")
"""Results that the templates 1 do not have."""


@dataclass(frozen=True)
class RoomAreas:
    """What one row measures, SI: areas in m², the run of exposed edge in m, a fill in m³ and m."""

    top: float
    edge: float
    splash: float
    edge_run: float
    fill: float = 0.0
    fill_depth: float = 0.0

    @property
    def total(self) -> float:
        """Return top, edges and splashes together, m²."""
        return self.top + self.edge + self.splash


def system_of(value: Value) -> units.System:
    """Return the measure system a workbook names on its Start sheet.

    Raises:
        InputError: The text is none of the systems' names or labels.

    Example:
        >>> system_of("metric").area
        'm²'
    """
    word = without_sheets(text(value)).casefold()
    for system in units.SYSTEMS.values():
        if word in {system.name.casefold(), system.label.casefold()}:
            return system
    raise MisreadError(
        f"'{text(value)}' is no measure system", "point at the unit system on the Start sheet"
    )


def measure_row(
    row: dict[str, Value], system: units.System, trace: list[Told] | None = None
) -> RoomAreas:
    """Measure one row of the Rooms table.

    Args:
        row: The cells by column id (see :data:`COLUMNS`).
        system: The job's units, for bare numbers.
        trace: When given, the steps of the working are appended to it.

    Raises:
        InputError: A cell cannot be read, or the piece cannot exist; the place is the column.
    """
    refuse_errors(row, LABELS)
    steps: list[Told] = [] if trace is None else trace
    if is_blank(row["piece"]):
        raise BlankError("it is blank", "name the piece, such as 'island'", LABELS["piece"])
    count = number(row["count"], LABELS["count"], 1.0)
    if not 1 <= count <= MOST_OF_A_KIND or count != int(count):
        mend = f"type a whole number from 1 to {MOST_OF_A_KIND}"
        raise MisreadError(f"'{text(row['count'])}' is no count", mend, LABELS["count"])
    choice(row["may_split"], LABELS["may_split"], TABLE.choices["may_split"], "no")
    order = number(row["order"], LABELS["order"], 0.0)
    if order < 0 or order != int(order):
        raise MisreadError(
            f"'{text(row['order'])}' is no pour order", "type 1, 2, 3 ...", LABELS["order"]
        )
    if count > 1 and joined_to(row):
        what = f"{text(row['piece'])} stands for {count:g} pieces"
        raise InputError(what, "give the one that joins a row of its own", LABELS["joins"])
    shape = choice(row["shape"], LABELS["shape"], TABLE.choices["shape"], "rectangle")
    if shape == filling.MOULD or shape in filling.FILLS:
        return _fill(shape, row, count, system, steps)
    gross, sizes, is_a = _gross(shape, row, system, steps)
    holes = reading.cutouts(row["cutouts"], system)
    if holes:
        steps.append(_area_step(LABELS["cutouts"], text(row["cutouts"]), sum(holes), system))
    try:
        net = measuring.net_area(gross, holes)
    except PourbookError as error:
        raise error.at(LABELS["cutouts"]) from None
    run = _optional(row, "edge_run", system)
    round_it = math.pi * sum(sizes)  # of a shape that cannot lean, no outline is longer
    if sizes and run > round_it:
        what = f"{text(row['edge_run'])} is longer than the piece is round"
        raise InputError(what, "check the run and its unit", LABELS["edge_run"])
    areas = {"top": 0.0, "edge": _edge(row, run, system, steps)}
    areas["splash"] = _splash(row, system, steps)
    areas[is_a] += net
    working = f"(shape - cutouts) x {count:g}"
    steps.append(_area_step(is_a.title(), working, net * count, system))
    top, edge, splash = (areas[name] * count for name in ("top", "edge", "splash"))
    return RoomAreas(top, edge, splash, run * count)


def joined_to(row: Mapping[str, Value]) -> tuple[str, ...]:
    """Return the names of the pieces a row runs into.

    Example:
        >>> joined_to({"joins": "island; bar"})
        ('island', 'bar')
    """
    return tuple(name for word in text(row["joins"]).split(";") if (name := word.strip()))


def refuse_joins(row: Mapping[str, Value], others: Sequence[Mapping[str, Value]]) -> None:
    """Refuse a piece that runs into itself, into none, or into several of a name.

    Args:
        row: The row of the piece.
        others: All filled rows of the table.

    Raises:
        InputError: A name of *Joins* is no other piece; the place is its column.
    """
    for name in joined_to(row):
        named = [one for one in others if text(one["piece"]).casefold() == name.casefold()]
        if name.casefold() == text(row["piece"]).casefold() or not named:
            what = "a piece cannot join itself" if named else f"there is no piece '{name}'"
            mend = "type the name of the piece it runs into, as in the column Piece"
            raise UnknownError(what, mend, LABELS["joins"])
        if any(number(one["count"], LABELS["count"], 1.0) > 1 for one in named):
            what = f"'{name}' stands for several pieces"
            raise InputError(what, "give the one it joins a row of its own", LABELS["joins"])


_NOT_OF_A_FILL = (
    *("cutouts", "edge_run", "edge_height", "edge_profile", "splash_run", "splash_height", "under"),
)


def _fill(
    shape: str, row: dict[str, Value], count: float, system: units.System, steps: list[Told]
) -> RoomAreas:
    """Return a volume to fill: it has neither top, edge nor splash."""
    for name in _NOT_OF_A_FILL:
        if not is_blank(row[name]):
            what = f"a {shape} is filled, and has none"
            raise InputError(what, "clear it, or choose another shape", LABELS[name])
    if shape == filling.MOULD:
        label = LABELS["a"].told("volume")
        volume = reading.labelled(row["a"], "volume", label, system.volume, system.fluids)
        (depth,) = _sizes(shape, row, system, steps, {"b": "depth"})
        if volume <= 0:
            raise RangeError("it is 0", "type what it holds", label)
        working = f"volume as given: {text(row['a'])}"
    else:
        dimensions = list(filling.FILLS[shape].dimensions.values())
        lettered = dict(zip("abcd", dimensions, strict=False))
        *opening, depth = _sizes(shape, row, system, steps, lettered)
        try:
            volume = filling.FILLS[shape].opening(*opening) * depth
        except PourbookError as error:
            raise error.at("Sizes") from None
        working = "opening x depth"
    shown = units.express(volume * count, system.volume)
    steps.append(Told("To fill", f"{working}, x {count:g}", shown, system.volume))
    return RoomAreas(0.0, 0.0, 0.0, 0.0, volume * count, depth)


def _sizes(
    shape: str,
    row: dict[str, Value],
    system: units.System,
    steps: list[Told],
    lettered: dict[str, str],
) -> list[float]:
    """Return the sizes of a fill, m; grout lines are narrower than any side of a piece."""
    found = []
    for letter, name in lettered.items():
        label = LABELS[letter].told(name)
        if is_blank(row[letter]):
            raise BlankError("it is blank", f"a {shape} needs it", label)
        size = reading.labelled(row[letter], "length", label, system.length, system.fluids)
        if not SMALLEST_FILL <= size <= LARGEST_SIDE * 10:
            read = units.show(size, system.length, 3)
            is_small = size < SMALLEST_FILL
            what = f"it reads {read}, which is too {'small' if is_small else 'large'}"
            raise InputError(what, "type it with its unit, such as 3 mm or 1/8 in", label)
        shown = units.express(size, system.length)
        steps.append(Told(label, f"typed {text(row[letter])}", shown, system.length))
        found.append(size)
    letters = tuple(letter for letter in "abcd" if letter not in lettered and letter != "a")
    _nothing_in(row, letters, shape)
    return found


def _gross(
    shape: str, row: dict[str, Value], system: units.System, steps: list[Told]
) -> tuple[float, list[float], str]:
    """Return the shape's area, its sizes where they set a bound to its outline, and its surface."""
    try:
        if shape == AREA_GIVEN:
            _nothing_in(row, ("b", "c", "d"), shape)
            gross = units.read(row["a"], "area", default=system.area, fluids=system.fluids)
            if gross <= 0:
                raise RangeError("it is 0", "type the area of the piece")
        elif shape == POLYGON:
            _nothing_in(row, ("b", "c", "d"), shape)
            gross = measuring.polygon(reading.corners(row["a"], system))
        else:
            return _shaped(shape, row, system, steps)
    except PourbookError as error:
        raise error.at(error.where or LABELS["a"]) from None
    steps.append(_area_step(LABELS["shape"], f"{shape}: {text(row['a'])}", gross, system))
    return gross, [], "top"


def _shaped(
    shape: str, row: dict[str, Value], system: units.System, steps: list[Told]
) -> tuple[float, list[float], str]:
    declared = measuring.SHAPES[shape]
    names = list(declared.dimensions)
    sizes: dict[str, float] = {}
    for letter, name in zip("abcd", names, strict=False):
        label = LABELS[letter].told(declared.dimensions[name])
        if is_blank(row[letter]):
            if name in declared.optional:
                continue
            raise BlankError("it is blank", f"a {shape} needs it", label)
        sizes[name] = reading.labelled(row[letter], "length", label, system.length, system.fluids)
        if sizes[name] <= 0:
            raise RangeError("it is 0", "type the size as you measured it", label)
        if not SMALLEST_SIDE <= sizes[name] <= LARGEST_SIDE:
            is_small = sizes[name] < SMALLEST_SIDE
            read = units.show(sizes[name], system.length, 1)
            what = f"it reads {read}, which is too {'small' if is_small else 'large'}"
            raise InputError(what, "type it with its unit, such as 2.5 m or 8' 2\"", label)
        shown = units.express(sizes[name], system.length)
        steps.append(Told(label, f"typed {text(row[letter])}", shown, system.length))
    _nothing_in(row, tuple("abcd"[len(names) :]), shape)
    try:
        gross = declared.area(**sizes)
    except PourbookError as error:
        raise error.at("Sizes") from None
    steps.append(_area_step(LABELS["shape"], shape, gross, system))
    return gross, [] if declared.leans else list(sizes.values()), declared.surface


def _nothing_in(row: dict[str, Value], letters: tuple[str, ...], shape: str) -> None:
    for letter in letters:
        if not is_blank(row[letter]):
            raise InputError(
                f"a {shape} has no such size", "clear it, or choose another shape", LABELS[letter]
            )


def _optional(row: dict[str, Value], name: str, system: units.System) -> float:
    """Read a run or a height; a bare run is in the unit of runs."""
    if is_blank(row[name]):
        return 0.0
    unit = system.run if name.endswith("_run") else system.length
    return reading.labelled(row[name], "length", LABELS[name], unit, system.fluids)


def _edge(row: dict[str, Value], run: float, system: units.System, steps: list[Told]) -> float:
    height = _optional(row, "edge_height", system)
    profile = choice(
        row["edge_profile"], LABELS["edge_profile"], TABLE.choices["edge_profile"], "square"
    )
    under = _optional(row, "under", system)
    if not run and not height and not under:
        return 0.0
    if not run or not height:
        missing = "edge_height" if run else "edge_run"
        raise BlankError("it is blank", "an edge needs its run and its height", LABELS[missing])
    area = edges.edge_area(run, height, profile, under)
    working = f"{text(row['edge_run'])} run, {text(row['edge_height'])} high, {profile}"
    working += f", {text(row['under'])} under it" if under else ""
    steps.append(_area_step("Edge of one piece", working, area, system))
    return area


def _splash(row: dict[str, Value], system: units.System, steps: list[Told]) -> float:
    run, height = _optional(row, "splash_run", system), _optional(row, "splash_height", system)
    if not run and not height:
        return 0.0
    if not run or not height:
        missing = "splash_height" if run else "splash_run"
        raise BlankError(
            "it is blank", "a backsplash needs its run and its height", LABELS[missing]
        )
    area = edges.splash_area(run, height)
    working = f"{text(row['splash_run'])} run x {text(row['splash_height'])} high"
    steps.append(_area_step("Backsplash of one piece", working, area, system))
    return area


def _area_step(label: str, working: str, area: float, system: units.System) -> Told:
    return Told(label, working, units.express(area, system.area), system.area)
