"""PB_ADDITIVES: what pigments, thinners and broadcast media each option takes, and their cost.

Contract: one result row for each row of the Additives table: what each option needs of it, in the
unit it is sold in, whole packs after what is in stock, and their cost. Beside it, row for row with
the Layers table, stands whether all a layer takes is in the table: what is in no row is bought by
nobody. Water is not bought.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

from pourbook import units
from pourbook.cells import CHECK, OK, Rows, Value, as_mapping, number, row_of, text, word
from pourbook.errors import FAILED, InputError, PourbookError
from pourbook.functions.batch import plans
from pourbook.functions.declare import Argument, Example, Function, Result
from pourbook.functions.mix import parts
from pourbook.functions.mix.amounts import EXAMPLE_LAYER
from pourbook.records import dataclass
from pourbook.tables import colours, doing, layers
from pourbook.tables.buy import additives
from pourbook.tables.buy.additives import BROADCAST, COLUMNS, PIGMENT, THINNER, Additive
from pourbook.tables.declared import Column
from pourbook.tables.layers import OPTIONS
from pourbook.tables.rooms import system_of
from pourbook.trade.measuring import require

RESULTS = (
    Column("add_unit", "The unit of the figures beside it"),
    *(Column(f"add_need_{x.lower()}", f"What option {x} needs") for x in OPTIONS),
    *(Column(f"add_cost_{x.lower()}", f"What the packs of option {x} cost") for x in OPTIONS),
    Column("add_buy", "How many packs each option takes"),
    Column("add_status", "ok, or what to fix in this row"),
    Column("unbought", "For the layer of this row: ok, or what of it nobody buys"),
)
_PARTS = tuple(column.id for column in parts.RESULTS)
_STATUS = len(RESULTS) - 2
_WHOLE = 1e-9
_WEIGHTS = ("mass_a", "mass_b", "mass_c")
_FIGURES = (*_WEIGHTS, "pigment_mass", "thinner_volume", "broadcast_mass")


@dataclass(frozen=True)
class _Taken:
    """What a layer takes of one thing: a weight in kg or a volume in m³."""

    option: str
    layer: str
    serves: str
    colour: str
    by: str
    amount: float


def packs_of(need: float, left: float, holds: float) -> int:
    """Return the whole packs that cover a need after what is left, all in one unit.

    Args:
        need: What is needed, >= 0.
        left: What is in stock, >= 0.
        holds: What a pack holds, above 0.

    Raises:
        InputError: A figure is out of range.

    Example:
        >>> packs_of(5.0, 1.0, 2.0), packs_of(1.0, 2.0, 2.0), packs_of(0.1 + 0.2, 0.0, 0.3)
        (2, 0, 1)
    """
    require("0 or more", need=need, left=left)
    require("above 0", pack=holds)
    return math.ceil(max(need - left, 0.0) / holds - _WHOLE)


def _taken(
    layer_rows: Rows, how: Rows, part_rows: Rows, system: units.System
) -> list[list[_Taken]]:
    """Return what each layer takes, by its row; nothing of one that is not in order."""
    by_layer = plans.by_layer(how)
    found: list[list[_Taken]] = []
    for at, cells in enumerate(layer_rows):
        row = as_mapping(cells, layers.COLUMNS)
        amounts = as_mapping(part_rows[at], _PARTS) if at < len(part_rows) else {}
        typed = by_layer[word(row["option"]), word(row["layer"])]
        mine = typed.pop(0)["cups"] if typed else None
        if amounts.get("part_status") != OK or not text(row["layer"]):
            found.append([])
            continue
        figures = {name: number(amounts[name], name) for name in _FIGURES}
        option, layer = text(row["option"]).upper(), text(row["layer"])
        found.append(
            [
                _Taken(option, layer, serves, colour, by, amount)
                for serves, colour, by, amount in _of_layer(figures, mine, system)
                if amount > 0
            ]
        )
    return found


def _of_layer(
    figures: dict[str, float], cups: Value, system: units.System
) -> Iterator[tuple[str, str, str, float]]:
    """Give what a layer takes: as what, its colour, by weight or volume, and how much in SI."""
    yield PIGMENT, "", "weight", units.to_si(figures["pigment_mass"], system.small_mass)
    yield THINNER, "", "volume", units.to_si(figures["thinner_volume"], system.small_volume)
    yield BROADCAST, "", "weight", units.to_si(figures["broadcast_mass"], system.small_mass)
    mass = units.to_si(math.fsum(figures[name] for name in _WEIGHTS), system.small_mass)
    for cup in colours.read(cups):
        yield PIGMENT, cup.name, "weight", mass * cup.share * cup.pigment


def compute(
    layer_rows: Rows, how: Rows, part_rows: Rows, additive_rows: Rows, system_name: str
) -> Result:
    """Return the result rows of PB_ADDITIVES."""
    system = system_of(system_name)
    known = additives.additives(additive_rows, system)
    taken = _taken(layer_rows, how, part_rows, system)
    found: list[list[Value]] = []
    for at, one in enumerate(known):
        said = _unbought(taken[at], known, system) if at < len(taken) else ""
        if one is None:
            found.append([*[""] * (len(RESULTS) - 1), said])
            continue
        try:
            if isinstance(one, PourbookError):
                raise one.again()
            served = [t for row in taken for t in row if _serving(known, t) is one]
            found.append([*_shown(one, served, system), OK, said])
        except PourbookError as error:
            row: list[Value] = [*[FAILED] * (len(RESULTS) - 1), said]
            row[_STATUS] = error.cell_text()
            found.append(row)
    return found


def _serving(known: additives.Read, taken: _Taken) -> Additive | None:
    return additives.named(known, taken.serves, taken.layer, taken.colour)


def _shown(one: Additive, served: list[_Taken], system: units.System) -> list[Value]:
    """Return the figures of an additive.

    Raises:
        InputError: It is sold by weight and goes in by volume, or the other way about.
    """
    for taken in served:
        if taken.by != one.by:
            what = f"it is sold by {one.by}, and goes into '{taken.layer}' by {taken.by}"
            mend = "type what a pack holds as the layer takes it"
            raise InputError(what, mend, additives.LABELS["pack"])
    unit = system.mass if one.by == "weight" else system.volume
    needs = {x: math.fsum(t.amount for t in served if t.option == x) for x in OPTIONS}
    packs = {x: packs_of(need, one.left, one.holds) for x, need in needs.items()}
    told = "; ".join(f"{x} {count}" for x, count in packs.items() if needs[x])
    return [
        unit,
        *(units.express(needs[x], unit) for x in OPTIONS),
        *(packs[x] * one.price for x in OPTIONS),
        told,
    ]


def _unbought(taken: list[_Taken], known: additives.Read, system: units.System) -> str:
    """Return ok, or the first thing a layer takes that stands in no row; water needs none."""
    if not taken:
        return ""
    for one in taken:
        if one.serves == THINNER or _serving(known, one):
            continue
        what = f"{one.colour} pigment" if one.colour else one.serves
        much = units.show(one.amount, system.mass, 2)
        return f"{CHECK}: {much} of {what} in '{one.layer}', option {one.option}, is in no row"
    return OK


PB_ADDITIVES = Function(
    name="PB_ADDITIVES",
    summary="What of each additive every option takes, the packs of it and their cost.",
    arguments=(
        Argument(
            "layers", "rows", "the entry columns of the Layers table", columns=layers.COLUMNS
        ),
        Argument(
            "doing", "rows", "the table on how layers are mixed and put on", columns=doing.DOING
        ),
        Argument("parts", "rows", "the results of PB_PARTS", columns=_PARTS),
        Argument("additives", "rows", "the entry columns of the Additives table", columns=COLUMNS),
        Argument("system", "text", "the unit system on the Start sheet"),
    ),
    result="one row an additive: its unit, what each option needs, the cost and number of packs, a "
    "status; and beside it, by the rows of Layers, what nobody buys",
    valid="amounts of 0 and more; packs by weight or by volume, as the layer takes it",
    source="whole packs after stock: the least number that covers the need",
    examples=(
        Example(
            (
                (EXAMPLE_LAYER,),
                (row_of(doing.DOING, name="A", layer_name="Flood"),),
                (("A", 1, "Flood", "Clear", 1.1, 1.1, 0.0, 1210.0, 1100.0, 0.0, 46.2, 0.0, 900.0,
                  "ok"),),
                (("Mica", "pigment", None, "20 g", 9.5, "10 g"),),
                "metric",
            ),
            (
                ("kg", 0.0462, 0.0, 0.0, 19.0, 0.0, 0.0, "A 2", "ok",
                 "CHECK: 0.90 kg of broadcast in 'Flood', option A, is in no row"),
            ),
        ),
    ),
    compute=compute,
    columns=RESULTS,
)  # fmt: skip
