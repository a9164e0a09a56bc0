"""The Working and curing table of Products: pot life, largest mix, cure times and limits.

Contract: :func:`working_by_name` reads the table into SI records; what a data sheet does not state
is None, never guessed. A missing activation energy means the ten-degree rule: twice as fast for
each ten degrees Celsius, taken as the energy that does so just above the stated temperature.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from functools import lru_cache

from pourbook import units
from pourbook.cells import Rows, Value, is_blank, number, refuse_errors, text
from pourbook.errors import BlankError, EntryLabel, InputError, PourbookError, RangeError
from pourbook.once import once
from pourbook.records import dataclass
from pourbook.tables import reading
from pourbook.tables.declared import declared
from pourbook.tables.row_loop import by_name, one_of_name
from pourbook.trade.cure import curing, heat

TABLE = declared("working")
COLUMNS, LABELS = TABLE.columns, TABLE.labels
USUAL_TOLERANCE = 0.02
USUAL_MARGIN = 3.0
USUAL_HEAT = (300.0, 900.0)
"""Earliest and latest first heat pass after a batch is spread, s (common practice, no source)."""
MINUTE, HOUR, TEN_DEGREES = 60.0, 3600.0, 10.0


_pot_life = lru_cache(maxsize=4096)(heat.pot_life_of_batch)
"""Many batches of a job weigh the same."""


@dataclass(frozen=True)
class Working:
    """How a coating works and cures, SI: times in s, temperatures in K, energy in J/mol."""

    name: str
    pot_life: float | None
    pot_mass: float | None
    pot_temp: float | None
    safe_mix: float | None
    tolerance: float
    cure_temp: float | None
    touch: float | None
    recoat_from: float | None
    recoat_until: float | None
    light: float | None
    full: float | None
    energy: float | None
    margin: float
    pot_volume: float | None = None
    """The mix the pot life is stated for, m³, where the data sheet gives a volume."""
    heat_from: float = USUAL_HEAT[0]
    heat_until: float = USUAL_HEAT[1]
    """When the first heat pass may come after a batch is spread, s."""
    thinnest: float | None = None
    thickest: float | None = None
    """The wet film of one pass, m, as the data sheet states it."""

    def of(self, density: float) -> Working:
        """Return it for a mix of some density, kg/m³: a stated volume of mix has a mass then.

        Example:
            >>> row = {"name": "x"} | dict.fromkeys(COLUMNS[1:]) | {"pot_mass": "1 L"}
            >>> read_working(row, units.SYSTEMS["metric"]).of(1100.0).pot_mass
            1.1
        """
        if self.pot_volume is None:
            return self
        return replace(self, pot_mass=self.pot_volume * density)

    def energy_at(self, reference: float) -> float:
        """Return the stated activation energy, or the ten-degree rule's just above ``reference``.

        Example:
            >>> row = {"name": "x"} | dict.fromkeys(COLUMNS[1:])
            >>> round(read_working(row, units.SYSTEMS["us"]).energy_at(298.15) / 1000, 1)
            52.9
        """
        if self.energy is not None:
            return self.energy
        return curing.ten_degree_energy(reference, reference + TEN_DEGREES)

    def standing_at(self, kelvin: float, pot_life: float) -> float:
        """Return how long a mix may stand by its rate alone, s, from its cautious pot life.

        What is judged for heat is judged over the longer of the two.
        """
        if self.pot_temp is None:
            return pot_life
        energy = self.energy_at(self.pot_temp)
        return pot_life * heat.self_heating_caution(kelvin, self.pot_temp, energy)

    def pot_life_at(self, kelvin: float, mass: float) -> float:
        """Return the pot life of a batch, s: moved to its temperature, and cut if it is large.

        Args:
            kelvin: Temperature of the mix, K.
            mass: Mass of the batch, kg.

        Raises:
            InputError: The data sheet's pot life or its temperature is missing.
        """
        if self.pot_life is None:
            mend = "type it from the data sheet"
            raise BlankError("it is blank", mend, LABELS["pot_life"].of(self.name))
        if self.pot_temp is None:
            mend = "type the temperature the pot life is stated at"
            at = LABELS["pot_temp"].of(self.name).place
            raise BlankError("it is blank", mend, EntryLabel(f"Pot life of {self.name}, at", at))
        energy = self.energy_at(self.pot_temp)
        return _pot_life(
            mass,
            kelvin,
            stated=self.pot_life,
            stated_mass=self.pot_mass,
            reference=self.pot_temp,
            energy=energy,
        ).value

    def film_life_at(self, kelvin: float, mass: float) -> float:
        """Return how long a batch may be worked once it is poured out, s.

        A film gives its heat away: it keeps the stated pot life at its temperature, whatever the
        mass of its batch; a batch that may stand longer in its bucket gets no more.

        Raises:
            InputError: As :meth:`pot_life_at`.
        """
        stated = self.pot_mass if self.pot_mass is not None else mass
        return self.pot_life_at(kelvin, min(mass, stated))


def read_working(row: dict[str, Value], system: units.System) -> Working:
    """Read one row of the table.

    Raises:
        InputError: A cell cannot be, or the recoat window closes before it opens.
    """
    refuse_errors(row, LABELS)

    def time(name: str, unit: str) -> float | None:
        if is_blank(row[name]):
            return None
        value = reading.labelled(row[name], "time", LABELS[name], unit, system.fluids)
        if value == 0 and name not in {"recoat_from", "heat_from"}:
            raise RangeError("it is 0", "type more than 0, or clear it", LABELS[name])
        return value

    def kelvin(name: str) -> float | None:
        if is_blank(row[name]):
            return None
        return units.to_si(number(row[name], LABELS[name]), system.temperature)

    def measure(name: str, kind: str, unit: str) -> float | None:
        if is_blank(row[name]):
            return None
        value = reading.labelled(row[name], kind, LABELS[name], unit, system.fluids)
        if value <= 0:
            raise RangeError("it is 0", "type more than 0, or clear it", LABELS[name])
        return value

    def stated() -> tuple[float | None, float | None]:
        """Return mass and volume of the mix the pot life is stated for; one of them at most."""
        if is_blank(row["pot_mass"]):
            return None, None
        try:
            found, kind = reading.one_of(
                row["pot_mass"], "mass volume", system.small_mass, system.fluids
            )
        except PourbookError as error:
            raise error.at(LABELS["pot_mass"]) from None
        if found <= 0:
            raise RangeError("it is 0", "type more than 0, or clear it", LABELS["pot_mass"])
        return (None, found) if kind == "volume" else (found, None)

    pot_mass, pot_volume = stated()
    heat_from, heat_until = (
        usual if (typed := time(name, "min")) is None else typed
        for name, usual in zip(("heat_from", "heat_until"), USUAL_HEAT, strict=True)
    )
    thinnest, thickest = (measure(name, "film", system.film) for name in ("thinnest", "thickest"))
    if thinnest is not None and thickest is not None and thickest < thinnest:
        mend = "check both against the data sheet"
        raise InputError("it is less than the thinnest pass", mend, LABELS["thickest"])
    if heat_until <= heat_from:
        mend = "let the latest first pass come after the earliest"
        raise InputError("heating ends before it begins", mend, LABELS["heat_until"])
    opens, closes = time("recoat_from", "h"), time("recoat_until", "h")
    if opens is not None and closes is not None and closes <= opens:
        mend = "check both against the data sheet"
        raise InputError("the window closes before it opens", mend, LABELS["recoat_until"])
    return Working(
        name=text(row["name"]),
        pot_life=time("pot_life", "min"),
        pot_mass=pot_mass,
        pot_temp=kelvin("pot_temp"),
        safe_mix=measure("safe_mix", "volume", system.volume),
        tolerance=number(row["tolerance"], LABELS["tolerance"], USUAL_TOLERANCE),
        cure_temp=kelvin("cure_temp"),
        touch=time("touch", "h"),
        recoat_from=opens,
        recoat_until=closes,
        light=time("light", "h"),
        full=time("full", "h"),
        energy=_energy(row),
        margin=_margin(row, system),
        pot_volume=pot_volume,
        thinnest=thinnest,
        thickest=thickest,
        heat_from=heat_from,
        heat_until=heat_until,
    )


def _energy(row: dict[str, Value]) -> float | None:
    """Return the activation energy, J/mol, from kJ/mol."""
    if is_blank(row["energy"]):
        return None
    value = number(row["energy"], LABELS["energy"])
    if value <= 0:
        raise RangeError(f"it is {value:g}", "type a number above 0", LABELS["energy"])
    return value * 1000.0


def _margin(row: dict[str, Value], system: units.System) -> float:
    """Return the dew margin, K: a difference, so a degree Fahrenheit is 5/9 of a kelvin."""
    if is_blank(row["margin"]):
        return USUAL_MARGIN
    value = number(row["margin"], LABELS["margin"])
    return units.to_si(value, "Δ" + system.temperature)


@once
def working_by_name(rows: Rows, system: units.System) -> Mapping[str, Working | PourbookError]:
    """Return every row of the table by product in small letters; a bad one as its refusal."""

    def read(row: dict[str, Value]) -> Working:
        try:
            return read_working(row, system)
        except PourbookError as error:
            raise error.of(text(row["name"])) from None

    return by_name(rows, COLUMNS, "name", read, _twice)


def _twice(name: str) -> InputError:
    what, mend = f"'{name}' has two rows", "leave one under Working and curing"
    return InputError(what, mend, LABELS["name"])


def find(known: Mapping[str, Working | PourbookError], product: str, label: str) -> Working:
    """Return the record of a product.

    Raises:
        InputError: There is none, or its row cannot be read.
    """
    what = f"nothing is known of how '{product}' works"
    mend = "fill in its row under Working and curing on Products"
    return one_of_name(known, product, InputError(what, mend, label))
