"""The kinds of quantities and the systems of units a workbook can be made in.

Contract: plain data. :data:`KINDS` says what SI unit the floats of each kind are in,
:data:`SYSTEMS` how a workbook of each system writes it; every unit text there is one that
:mod:`pourbook.units.measures` reads again.
"""

from __future__ import annotations

from typing import NamedTuple

from pourbook.records import dataclass


class Kind(NamedTuple):
    """What one kind of quantity is: its SI unit, its plain words, and an example to type."""

    si: str
    words: str
    example: str


KINDS = {
    "length": Kind("m", "a length", "98 1/2 in"),
    "area": Kind("m²", "an area", "40 ft²"),
    "volume": Kind("m³", "a volume", "1.5 US gal"),
    "mass": Kind("kg", "a weight", "5 lb"),
    "density": Kind("kg/m³", "a density", "1.1 kg/L"),
    "film": Kind("m", "a film thickness", "38 mil"),
    "volume_per_area": Kind("m³/m²", "a volume per area", "3 US fl oz/ft²"),
    "area_per_volume": Kind("m²/m³", "an area per volume", "40 ft²/US gal"),
    "mass_per_area": Kind("kg/m²", "a weight per area", "120 g/m²"),
    "volume_per_length": Kind("m³/m", "a volume per length", "2 US fl oz/ft"),
    "pressure": Kind("Pa", "a pressure", "40 psi"),
    "energy": Kind("J", "an energy", "160 in-lb"),
    "temperature": Kind("K", "a temperature", "70 °F"),
    "temperature_difference": Kind("ΔK", "a temperature difference", "5 °F"),
    "time": Kind("s", "a time", "15 min"),
    "fraction": Kind("", "a share", "8 %"),
    "number": Kind("", "a plain number", "2.5"),
}
"""Each kind of quantity: the SI unit its floats are in, what to call it, and how to type one."""

PLAIN_NUMBERS = ("fraction", "number")  # no unit is needed


@dataclass(frozen=True)
class System:
    """One system of units: how a workbook writes each kind, and whose gallon a bare ``gal`` is.

    Every unit string is exactly what a workbook's headers show, and reads back without ``fluids``.
    ``run`` is for edges and ``small_volume`` and ``small_mass`` are for one batch.
    """

    name: str
    label: str
    fluids: str
    length: str
    run: str
    area: str
    film: str
    volume: str
    small_volume: str
    mass: str
    small_mass: str
    volume_per_area: str
    area_per_volume: str
    mass_per_area: str
    density: str
    temperature: str


def _system(name: str, label: str, fluids: str, units: str) -> System:
    """Return a system whose units stand in one line, in the order of the fields."""
    return System(name, label, fluids, *units.split(" | "))


SYSTEMS = {
    "us": _system(
        "us",
        "US units: feet, inches, US gallons, pounds",
        "us",
        "in | ft | ft² | mil | US gal | US fl oz | lb | g"
        " | US fl oz/ft² | ft²/US gal | lb/ft² | lb/US gal | °F",
    ),
    "imperial": _system(
        "imperial",
        "Imperial units: feet, inches, imperial gallons, pounds",
        "imperial",
        "in | ft | ft² | mil | imp gal | imp fl oz | lb | g"
        " | imp fl oz/ft² | ft²/imp gal | lb/ft² | lb/imp gal | °C",
    ),
    "metric": _system(
        "metric",
        "Metric units: metres, millimetres, litres, kilograms",
        "",
        "mm | m | m² | mm | L | mL | kg | g | mL/m² | m²/L | g/m² | kg/L | °C",
    ),
}
"""The systems of units a workbook can be made in, by name."""
