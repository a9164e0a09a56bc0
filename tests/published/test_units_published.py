"""Unit sizes against published values.

Each value says where it comes from and how it was checked:

* "read": the source was read for this project;
* "from memory": recalled from the named source, and an independent oracle agrees;
* "computed": worked out here from the definitions named.

H44 is NIST Handbook 44, Appendix C. SP 811 is NIST Special Publication 811, Appendix B. The
independent oracle is ``scipy.constants``, whose floats differ from ours in their last bits.
"""

import pytest
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
