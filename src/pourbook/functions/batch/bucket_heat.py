"""How hot the largest batch of a layer gets in its bucket, and what stays tame: aside in PB_PLAN.

Contract: :func:`told` gives the cells of one planned layer. Constants that miss the pot life the
product states by more than a third are not used. It only makes a plan more cautious:
where the largest planned batch passes its limit before the pot life is over, the status says how
small a batch stays below it. Without kinetics of a product nothing is computed, and the row says
that the stated pot life is scaled instead. The bucket is taken as a cylinder as tall as it is wide,
filled to the brim, that loses heat by its side and its top; all of it is out within the pot life.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from functools import lru_cache

from pourbook import units
from pourbook.cells import (
    CHECK,
    OK,
    Rows,
    Value,
    is_blank,
    number,
    ranges_are_of,
    refuse_errors,
    text,
)
from pourbook.errors import FAILED, BlankError, PourbookError, RangeError, TwiceError
from pourbook.functions.batch.plans import Planned
from pourbook.once import once
from pourbook.records import dataclass
from pourbook.tables.declared import Column, declared
from pourbook.tables.row_loop import filled
from pourbook.tables.works import MINUTE
from pourbook.trade.cure import gelling, heat
from pourbook.trade.cure.heat import Bucket
from pourbook.trade.cure.kinetics import Kinetics

TABLE = declared("kinetics")
COLUMNS, LABELS = TABLE.columns, TABLE.labels
USUAL_HOTTEST = 333.15
"""60 °C in K, the limit if none is typed: hotter, a bucket burns the hand that holds it (common
practice, no source)."""
WATCHED = 24 * 3600.0
_MOST = {"heat": 2000.0, "specific": 10.0, "a1": 1e30, "e1": 400.0, "a2": 1e30, "e2": 400.0}
_MOST |= {"m": 10.0, "n": 10.0, "loss": 1000.0}
_ABOVE_0 = ("heat", "specific", "loss")
_MAY_BE_BLANK = ("a2", "e2", "m")
_RUNS_AWAY = "; left standing it runs away"
RESULTS = (
    Column("heat_verdict", "ok, CHECK with the batch that stays tame, or what to fix"),
    Column("heat_mass", "What the largest batch planned weighs", "mass"),
    Column("rise", "How far it warms if no heat is lost, in degrees of the job's temperature"),
    Column("semenov", "Semenov number of the batch left in its bucket"),
    Column("critical", "Above this Semenov number no steady balance exists"),
    Column("runaway", "Minutes until it reaches its limit in the bucket; blank is not in a day"),
    Column("tame", "The largest batch that stays below its limit", "volume"),
    Column("heat_limit", "What it must stay below", "temperature"),
    Column("warmest", "How warm it gets within its pot life", "temperature"),
    Column("heat_says", "Where the constants are from, or what stands in for them"),
)


@dataclass(frozen=True)
class HeatData:
    """What is known of a product's heat, SI: J/kg, J/(kg·K), W/(m²·K), K."""

    kinetics: Kinetics
    heat: float
    capacity: float
    film: float
    hottest: float
    source: str


@dataclass(frozen=True)
class Heated:
    """What the heat balance says of a batch: K, the Semenov number, s (None: not in a day), m³."""

    rise: float
    semenov: float
    runaway: float | None
    tame: float
    warmest: float


def read_heat(row: Mapping[str, Value], system: units.System) -> HeatData:
    """Read one row of the table on bucket heat.

    Raises:
        InputError: A cell is missing or impossible; the place is its column.
    """
    refuse_errors(row, LABELS)

    def figure(name: str) -> float:
        value = number(row[name], LABELS[name], 0.0 if name in _MAY_BE_BLANK else None)
        if value < 0 or (value == 0 and name in _ABOVE_0) or value > _MOST[name]:
            least = "above 0" if name in _ABOVE_0 else "from 0"
            raise RangeError(
                f"it is {value:g}", f"type a number {least} up to {_MOST[name]:g}", LABELS[name]
            )
        return value

    found = {name: figure(name) for name in _MOST}
    kinetics = Kinetics(
        found["a1"],
        found["e1"] * 1000.0,
        found["a2"],
        found["e2"] * 1000.0,
        found["m"],
        found["n"],
    )
    kinetics.begins(0.0)
    hottest = USUAL_HOTTEST
    if not is_blank(row["hottest"]):
        hottest = units.to_si(number(row["hottest"], LABELS["hottest"]), system.temperature)
    source = text(row["source"])
    if not source:
        raise BlankError("it is blank", "say whose measurement this is", LABELS["source"])
    return HeatData(
        kinetics, found["heat"] * 1000.0, found["specific"] * 1000.0, found["loss"], hottest, source
    )


@once
def heat_by_name(rows: Rows, system: units.System) -> dict[str, HeatData | PourbookError]:
    """Return every row of the table by product in small letters; a bad one as its refusal.

    A row without a product stands under the empty name.
    """
    found: dict[str, HeatData | PourbookError] = {}
    for at, row in filled(rows, COLUMNS):
        name = text(row["product"]).casefold()
        try:
            if not name:
                raise BlankError("it is blank", "choose a product", LABELS["product"])
            if name in found:
                raise TwiceError(
                    f"'{text(row['product'])}' is there twice", "clear one", LABELS["product"]
                )
            found[name] = read_heat(row, system)
        except PourbookError as error:
            found[name] = error.in_row(at, "Bucket heat on Products")
    return found


def bucket_of(volume: float, density: float, data: HeatData, kelvin: float) -> Bucket:
    """Return a batch in a full cylinder as tall as it is wide, cooled at its side and its top.

    Args:
        volume: Batch, m³, above 0.
        density: Of the mix, kg/m³.
        data: The product's heat.
        kelvin: Temperature of mix and air, K.

    Example:
        >>> data = HeatData(Kinetics(1.0, 0.0, 0.0, 0.0, 0.0, 1.0), 1.0, 1.0, 8.0, 333.15, "x")
        >>> round(bucket_of(math.pi / 4, 1000.0, data, 298.15).area / math.pi, 9)
        1.25
    """
    width = (4.0 * volume / math.pi) ** (1.0 / 3.0)
    area = math.pi * width**2 * 1.25
    return Bucket(volume * density, area, data.film, data.heat, data.capacity, kelvin, kelvin)


@lru_cache(maxsize=512)
def heated(
    data: HeatData, volume: float, density: float, kelvin: float, seconds: float, most: float
) -> Heated:
    """Return what the heat balance says of a batch.

    Args:
        data: The product's heat.
        volume: The batch, m³.
        density: Of the mix, kg/m³.
        kelvin: Temperature of mix and air, K.
        seconds: How long it may stay in the bucket, s.
        most: The largest batch considered, m³.

    Raises:
        InputError: Even a thousandth of ``most`` passes the limit, or the air is out of range.
    """
    bucket = bucket_of(volume, density, data, kelvin)
    tame = heat.largest_tame_batch(data.kinetics, bucket, data.hottest, seconds, most * density)
    return Heated(
        rise=heat.adiabatic_rise(data.heat, data.capacity),
        semenov=heat.batch_semenov(data.kinetics, bucket),
        runaway=heat.time_to_temperature(data.kinetics, bucket, data.hottest, WATCHED),
        tame=tame.value / density,
        warmest=heat.hottest(data.kinetics, bucket, seconds).temperature,
    )


def told(
    plan: Planned,
    known: Mapping[str, HeatData | PourbookError],
    kelvin: float,
    system: units.System,
) -> list[Value]:
    """Return the cells of a planned layer in the order of :data:`RESULTS`.

    Args:
        plan: The layer's plan.
        known: What :func:`heat_by_name` made of the table.
        kelvin: Temperature of mix and air, K.
        system: The job's units.
    """
    try:
        return _shown(plan, known, kelvin, system)
    except PourbookError as error:
        return [error.cell_text(), *[FAILED] * (len(RESULTS) - 1)]


def _shown(
    plan: Planned,
    known: Mapping[str, HeatData | PourbookError],
    kelvin: float,
    system: units.System,
) -> list[Value]:
    product = plan.layer.product
    data = known.get("") or known.get(product.name.casefold())
    if isinstance(data, PourbookError):
        raise data.again()
    batch = max(b.mixed for p in plan.passes for b in p.batches)
    mass = units.express(batch * product.density, system.mass)
    unlike = "" if data is None else _unlike(plan, data, system)
    if data is None or unlike:
        blank: list[Value] = [""] * (len(RESULTS) - 3)
        return [OK, mass, *blank, unlike or _scaled(plan)]
    most = max(plan.limit, batch)
    standing = plan.working.standing_at(kelvin, plan.pot_life)
    found = heated(data, batch, product.density, kelvin, standing, most)
    return [
        _status(found, batch, system),
        mass,
        units.express(found.rise, "Δ" + system.temperature),
        found.semenov,
        heat.SEMENOV_CRITICAL,
        "" if found.runaway is None else found.runaway / MINUTE,
        units.express(found.tame, system.volume),
        units.express(data.hottest, system.temperature),
        units.express(found.warmest, system.temperature),
        data.source + (_RUNS_AWAY if found.semenov > heat.SEMENOV_CRITICAL else ""),
    ]


_gel_time = lru_cache(maxsize=512)(gelling.gel_time)


def _unlike(plan: Planned, data: HeatData, system: units.System) -> str:
    """Return that the constants are not those of the mix, or nothing; jobs of templates 1 use them.

    It is told where the product states its pot life for a weight and a temperature.
    """
    working, density = plan.working, plan.layer.product.density
    stated, mass, kelvin = working.pot_life, working.pot_mass, working.pot_temp
    if ranges_are_of() == 1 or stated is None or mass is None or kelvin is None:
        return ""
    bucket = bucket_of(mass / density, density, data, kelvin)
    found = _gel_time(data.kinetics, bucket, WATCHED)
    if not gelling.misses(found, stated):
        return ""
    by = "more than a day" if found is None else f"{found / MINUTE:.0f} min"
    at = f"{units.show(mass, system.mass, 1)} at {units.show(kelvin, system.temperature, 0)}"
    return (
        f"{CHECK}: by these constants {at} gel in {by}, and {stated / MINUTE:.0f} min of pot life "
        "are stated: they are not used; put one of the two right on Products"
    )


def _status(found: Heated, batch: float, system: units.System) -> str:
    if found.tame >= batch:
        return OK
    tame = units.express(found.tame, system.volume)
    small = math.floor(tame * 100) / 100 if tame >= 1 else math.floor(tame * 1000) / 1000
    return (
        f"{CHECK}: it overheats: mix no more than {small:g} {system.volume} at a time (a smaller "
        "Bucket holds on Layers), or start cooler"
    )


def _scaled(plan: Planned) -> str:
    if plan.working.pot_mass is None:
        return "no kinetics, and the stated pot life names no weight: a large batch may have less"
    return "no kinetics: stated pot life scaled in proportion to the batch's weight"
