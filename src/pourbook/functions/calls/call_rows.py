"""The sheet Calls of the shop: one call a row, and what its answers are worked out with, in SI.

Contract: rows become records in SI units (areas in m², runs in m, days as dates) or are refused by
column. A call that lacks its date, finish or area waits for it: it is still being asked.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date

from pourbook import units
from pourbook.cells import Rows, Value, as_mapping, choice, is_blank, number, refuse_errors, text
from pourbook.dates import read_date
from pourbook.errors import RangeError, WaitsError
from pourbook.records import dataclass
from pourbook.tables import reading
from pourbook.tables.declared import declared
from pourbook.tables.substrates import CONCRETE, STONE, SUBSTRATES, USUAL_SOAK

TABLE = declared("calls", "shop")
COLUMNS, LABELS = TABLE.columns, TABLE.labels
SETTINGS = ("warm", "lead", "edge", "drinks", "ready", "off", "sure")
USUAL_WARMTH = units.to_si(70.0, "°F")
USUAL_EDGE = 0.0381
USUAL_LEAD, USUAL_OFF, USUAL_SURE = 14.0, 0.08, 0.8
MOST_AREA, MOST_RUN, MOST_ROOMS = 10_000.0, 30_000.0, 100
MOST_LEAD, MOST_HOURS, MOST_OFF, MOST_EDGE = 730.0, 1000.0, 2.0, 1.0
_NEEDED = {
    "call_date": "type the day of the call",
    "finish": "choose one of Finishes",
    "area": "type the area of the tops",
}


@dataclass(frozen=True)
class Settings:
    """What every call is worked out with, SI: K, m, m³/m², h; shares as fractions.

    ``off`` is how far one quote in three lies off, ``sure`` the share of quotes a range holds for.
    """

    warmth: float
    lead: int
    edge: float
    drinks: float
    ready: float
    off: float
    sure: float


@dataclass(frozen=True)
class Call:
    """One call: areas in m², the run in m; ``came_to`` is the price of its quote before tax."""

    day: date
    finish: str
    area: float
    run: float
    rooms: int
    soak: float
    start: date | None
    came_to: float | None


def read_settings(row: Rows, system: units.System) -> Settings:
    """Read the form at the head of the sheet, a row for each line.

    Raises:
        InputError: A figure is no number or out of range; the place is its label.
    """
    labels = declared("calling", "shop").labels
    cells = column_of(row, SETTINGS, "calling")

    def figure(name: str, blank: float, least: float, most: float) -> float:
        value = number(cells[name], labels[name], blank)
        if not least <= value <= most:
            raise RangeError(f"it is {value:g}", f"type {least:g} to {most:g}", labels[name])
        return value

    def measure(name: str, kind: str, unit: str, blank: float) -> float:
        if is_blank(cells[name]):
            return blank
        return reading.labelled(cells[name], kind, labels[name], unit, system.fluids)

    edge = measure("edge", "length", system.length, USUAL_EDGE)
    if edge > MOST_EDGE:
        raise RangeError("it is more than a metre", "type how high an edge is", labels["edge"])
    warm = cells["warm"]
    degrees = None if is_blank(warm) else number(warm, labels["warm"])
    return Settings(
        warmth=USUAL_WARMTH if degrees is None else units.to_si(degrees, system.temperature),
        lead=int(figure("lead", USUAL_LEAD, 0, MOST_LEAD)),
        edge=edge,
        drinks=measure("drinks", "volume_per_area", system.volume_per_area, 0.0),
        ready=figure("ready", 0.0, 0, MOST_HOURS),
        off=figure("off", USUAL_OFF, 0.001, MOST_OFF),
        sure=figure("sure", USUAL_SURE, 0.5, 0.99),
    )


def column_of(rows: Rows, names: tuple[str, ...], form: str) -> dict[str, Value]:
    """Return the cells of a form of the shop by the names of its lines, a line a row.

    Raises:
        InputError: One shows an error or a refusal; the place is its label.
    """
    cells = [as_mapping(row, ("cell",))["cell"] for row in rows]
    found = dict(zip(names, [*cells, *[None] * len(names)], strict=False))
    refuse_errors(found, declared(form, "shop").labels)
    return found


def read_call(row: Mapping[str, Value], settings: Settings, system: units.System) -> Call:
    """Read one call.

    Raises:
        WaitsError: It is not asked yet.
        InputError: A cell is impossible; the place is its column.
    """
    refuse_errors(row, LABELS)
    for name, mend in _NEEDED.items():
        if is_blank(row[name]):
            raise WaitsError("it is blank", mend, LABELS[name])
    rooms = number(row["rooms"], LABELS["rooms"], 1.0)
    if not 1 <= rooms <= MOST_ROOMS or rooms != int(rooms):
        mend = f"type a whole number from 1 to {MOST_ROOMS}"
        raise RangeError(f"it is {rooms:g}", mend, LABELS["rooms"])
    came = None if is_blank(row["came_to"]) else number(row["came_to"], LABELS["came_to"])
    if came is not None and came <= 0:
        raise RangeError(f"it is {came:g}", "type the price before tax", LABELS["came_to"])
    start = row["could_start"]
    return Call(
        day=read_date(row["call_date"], LABELS["call_date"]),
        finish=text(row["finish"]),
        area=_size(row, "area", system.area, 0.0, MOST_AREA),
        run=_size(row, "run", system.run, -1.0, MOST_RUN),
        rooms=int(rooms),
        soak=_soak(row["substrate"], settings),
        start=None if is_blank(start) else read_date(start, LABELS["could_start"]),
        came_to=came,
    )


def _size(row: Mapping[str, Value], name: str, unit: str, above: float, most: float) -> float:
    value = number(row[name], LABELS[name], 0.0)
    found = units.to_si(value, unit)
    if not above < found <= most:
        raise RangeError(f"it is {value:g}", "check it", LABELS[name])
    return found


def _soak(value: Value, settings: Settings) -> float:
    substrate = "" if is_blank(value) else choice(value, LABELS["substrate"], SUBSTRATES)
    if substrate in (CONCRETE, STONE):
        return settings.drinks
    return USUAL_SOAK.get(substrate, 0.0)
