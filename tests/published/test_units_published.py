"""Unit sizes against published values.

Each value says where it comes from and how it was checked:

* "read": the source was read for this project;
* "from memory": recalled from the named source, and an independent oracle agrees;
* "computed": worked out here from the definitions named.

H44 is NIST Handbook 44, Appendix C. SP 811 is NIST Special Publication 811, Appendix B. The
independent oracle is ``scipy.constants``, whose floats differ from ours in their last bits.
"""

import math

import pytest
from astropy import units as astronomical
from astropy.units import imperial
from scipy import constants

from pourbook import units
from pourbook.errors import InputError

NEAR = 1e-12

EXACT = [
    # label and status, a number of a unit, the same in another unit, relative tolerance
    ("U1 H44 read", (1, "US gal"), (231, "in³"), NEAR),
    ("U1 H44 read", (1, "US gal"), (3.785411784, "L"), NEAR),
    ("U2 H44 read", (1, "US fl oz"), (29.5735295625, "mL"), NEAR),
    ("U2 H44 read", (1, "US fl oz"), (1.8046875, "in³"), NEAR),
    ("U2 H44 read", (1, "US gal"), (128, "US fl oz"), NEAR),
    ("U3 H44 read", (1, "imp gal"), (4.54609, "L"), NEAR),
    ("U3 H44 read", (1, "imp gal"), (277.419433, "in³"), 2e-9),
    ("U3 H44 read", (1, "imp gal"), (160, "imp fl oz"), NEAR),
    ("U3 H44 read", (1, "imp fl oz"), (28.4130625, "mL"), NEAR),
    ("U4 computed from U1 and U3", (1, "imp gal"), (1.200950, "US gal"), 5e-7),
    ("U4 computed from U2 and U3", (1, "US fl oz"), (1.040843, "imp fl oz"), 5e-7),
    ("U5 computed from U1 and U7", (1, "ft³"), (7.48051948, "US gal"), 1e-9),
    ("U5 H44 read, prints 7.481", (1, "ft³"), (7.481, "US gal"), 1e-4),
    ("U5 computed from U7", (1, "ft³"), (28.316846592, "L"), NEAR),
    ("U5 H44 read, prints 28.316", (1, "ft³"), (28.316, "L"), 5e-5),
    ("U6 computed from U7", (1, "in³"), (16.387064, "mL"), NEAR),
    ("U6 H44 read, prints 16.387", (1, "in³"), (16.387, "mL"), 1e-5),
    ("U6 computed from U2", (1, "in³"), (0.554113, "US fl oz"), 1e-6),
    ("U6 H44 read, prints .554", (1, "in³"), (0.554, "US fl oz"), 1e-3),
    ("U7 SP 811 from memory", (1, "ft"), (0.3048, "m"), NEAR),
    ("U7 SP 811 from memory", (1, "in"), (25.4, "mm"), NEAR),
    ("U7 SP 811 from memory", (1, "mil"), (25.4, "µm"), NEAR),
    ("U8 SP 811 from memory", (1, "lb"), (0.45359237, "kg"), NEAR),
    ("U8 SP 811 from memory", (1, "oz wt"), (28.349523125, "g"), NEAR),
    ("U8 SP 811 from memory", (1, "lb"), (16, "oz wt"), NEAR),
    ("U9 computed from U1 and U8", (1, "lb/US gal"), (0.1198264273, "kg/L"), 5e-10),
    ("U10 H44 read", (1, "US cup"), (8, "US fl oz"), NEAR),
    ("U10 H44 read, rounded to 237", (1, "US cup"), (237, "mL"), 0.5 / 237),
    ("U11 SP 811 from memory", (212, "°F"), (100, "°C"), NEAR),
    ("U11 SP 811 from memory", (70, "°F"), ((70 - 32) / 1.8, "°C"), NEAR),
    ("U11 SP 811 from memory", (5, "Δ°F"), (2.7778, "Δ°C"), 1e-5),
    ("F9 computed from U1 and U7", (1, "m²/L"), (40.7458, "ft²/US gal"), 1e-6),
]


@pytest.mark.parametrize(("source", "left", "right", "near"), EXACT)
def test_published_value_holds_both_ways(
    source: str, left: tuple[float, str], right: tuple[float, str], near: float
) -> None:
    assert units.convert(*left, right[1]) == pytest.approx(right[0], rel=near)
    assert units.convert(*right, left[1]) == pytest.approx(left[0], rel=near)


ORACLE = [
    ("US gal", constants.gallon),
    ("US fl oz", constants.fluid_ounce),
    ("imp gal", constants.gallon_imp),
    ("imp fl oz", constants.fluid_ounce_imp),
    ("ft", constants.foot),
    ("in", constants.inch),
    ("mil", constants.mil),
    ("yd", constants.yard),
    ("lb", constants.pound),
    ("oz wt", constants.oz),
    ("psi", constants.psi),
    ("in-lb", constants.pound_force * constants.inch),
    ("Δ°F", constants.degree_Fahrenheit),
    ("min", constants.minute),
    ("h", constants.hour),
    ("day", constants.day),
    ("week", constants.week),
]


@pytest.mark.parametrize(("unit", "si"), ORACLE)
def test_scipy_agrees(unit: str, si: float) -> None:
    assert units.to_si(1, unit) == pytest.approx(si, rel=NEAR)
    assert units.express(si, unit) == pytest.approx(1, rel=NEAR)


@pytest.mark.parametrize("fahrenheit", [-40.0, 0.0, 32.0, 70.0, 98.6])
def test_scipy_agrees_on_temperatures(fahrenheit: float) -> None:
    kelvin = float(constants.convert_temperature(fahrenheit, "Fahrenheit", "Kelvin"))
    assert units.to_si(fahrenheit, "°F") == pytest.approx(kelvin, rel=NEAR)
    assert units.read(f"{fahrenheit} °F", "temperature") == pytest.approx(kelvin, rel=NEAR)
    assert units.convert(fahrenheit, "°F", "°C") == pytest.approx(kelvin - 273.15, abs=1e-9)


def test_us_and_imperial_fluid_ounces_never_mix() -> None:
    # U2 and U3: the two differ by 4 %, so neither may stand in for the other.
    us, imperial = 29.5735295625e-6, 28.4130625e-6
    assert units.read("1 fl oz", "volume", fluids="us") == pytest.approx(us, rel=NEAR)
    assert units.read("1 fl oz", "volume", fluids="imperial") == pytest.approx(imperial, rel=NEAR)
    assert units.read("1 imp fl oz", "volume", fluids="us") == pytest.approx(imperial, rel=NEAR)
    assert units.read("1 US fl oz", "volume", fluids="imperial") == pytest.approx(us, rel=NEAR)
    with pytest.raises(InputError, match="may be US or imperial"):
        units.read("1 fl oz", "volume")


# Factors of SP 811 Appendix B.8 as it prints them, to seven figures: from memory, and astropy or
# scipy agrees with each unit they are made of.
SP_811 = [
    (1, "ft²", 9.290304e-2, "m²"),
    (1, "in²", 6.4516e-4, "m²"),
    (1, "yd", 0.9144, "m"),
    (1, "yd²", 0.8361274, "m²"),
    (1, "yd³", 0.7645549, "m³"),
    (1, "ft³", 2.831685e-2, "m³"),
    (1, "in³", 1.638706e-5, "m³"),
    (1, "US gal", 3.785412e-3, "m³"),
    (1, "US qt", 9.463529e-4, "m³"),
    (1, "US pt", 4.731765e-4, "m³"),
    (1, "US cup", 2.365882e-4, "m³"),
    (1, "US fl oz", 2.957353e-5, "m³"),
    (1, "imp gal", 4.54609e-3, "m³"),
    (1, "imp fl oz", 2.841306e-5, "m³"),
    (1, "lb", 0.4535924, "kg"),
    (1, "oz wt", 2.834952e-2, "kg"),
    (1, "lb/ft²", 4.882428, "kg/m²"),
    (1, "oz wt/ft²", 0.3051517, "kg/m²"),
    (1, "oz wt/yd²", 3.390575e-2, "kg/m²"),
    (1, "lb/ft³", 16.01846, "kg/m³"),
    (1, "lb/US gal", 119.8264, "kg/m³"),
    (1, "lb/imp gal", 99.77637, "kg/m³"),
    (1, "psi", 6894.757, "Pa"),
    (1, "in-lb", 0.1129848, "J"),
    (1, "mil", 2.54e-5, "m"),
]


@pytest.mark.parametrize(("count", "unit", "factor", "si"), SP_811)
def test_the_factor_sp_811_prints(count: float, unit: str, factor: float, si: str) -> None:
    half = 0.51 * 10 ** (math.floor(math.log10(factor)) - 6)  # of the last figure printed
    assert units.convert(count, unit, si) == pytest.approx(factor, abs=half, rel=0)


ASTROPY = [
    ("in", imperial.inch),
    ("ft", imperial.foot),
    ("yd", imperial.yard),
    ("mil", imperial.mil),
    ("ft²", imperial.foot**2),
    ("in²", imperial.inch**2),
    ("ft³", imperial.foot**3),
    ("in³", imperial.inch**3),
    ("US gal", imperial.gallon),
    ("US qt", imperial.quart),
    ("US pt", imperial.pint),
    ("US cup", imperial.cup),
    ("US fl oz", imperial.fluid_oz),
    ("lb", imperial.pound),
    ("oz wt", imperial.ounce),
    ("psi", imperial.psi),
    ("in-lb", imperial.psi * imperial.inch**3),
    ("lb/US gal", imperial.pound / imperial.gallon),
    ("lb/ft²", imperial.pound / imperial.foot**2),
    ("US fl oz/ft²", imperial.fluid_oz / imperial.foot**2),
    ("ft²/US gal", imperial.foot**2 / imperial.gallon),
    ("L", astronomical.liter),
    ("mL/m²", astronomical.ml / astronomical.m**2),
    ("m²/L", astronomical.m**2 / astronomical.liter),
    ("kg/L", astronomical.kg / astronomical.liter),
    ("g/m²", astronomical.g / astronomical.m**2),
    ("h", astronomical.hour),
    ("days", astronomical.day),
]


@pytest.mark.parametrize(("unit", "other"), ASTROPY, ids=str)
def test_astropy_agrees(unit: str, other: astronomical.UnitBase) -> None:
    """A definition each, and none shared: astropy has its own list of units (computed, live).

    It rounds its gallon at the ninth figure and its psi at the eighth.
    """
    assert units.to_si(1, unit) == pytest.approx(float(other.si.scale), rel=2e-8)
