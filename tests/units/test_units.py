"""The unit boundary: what it reads, what it refuses and in which words, and the way back."""

import math
import os
import subprocess
import sys
from decimal import Decimal
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pourbook import units
from pourbook.errors import InputError
from pourbook.units import lengths

IN = 0.0254
FT = 0.3048
US_GAL = 231 * IN**3
US_OZ = US_GAL / 128
IMP_GAL = 4.54609e-3
LB = 0.45359237
NEAR = 1e-12


@pytest.mark.parametrize(
    ("text", "inches"),
    [
        ("12' 6 1/2\"", 150.5),
        ("12'6.5\"", 150.5),
        ("12 ft 6.5 in", 150.5),
        ("12ft6.5in", 150.5),
        ("12'-6\"", 150),
        ("12' - 6\"", 150),
        ("12 feet, 6 inches", 150),
        ("12 ft. 6 in.", 150),
        ("12'6-1/2\"", 150.5),
        ("12' 1/2\"", 144.5),
        ("12'-½\"", 144.5),
        ("12′ 6½″", 150.5),
        ("12’ 6 ½”", 150.5),
        ("12' 6''", 150),
        ("12' 0\"", 144),
        ("12'", 144),
        ("12 LF", 144),
        ("12 lin. ft.", 144),
        ('6 1/2"', 6.5),
        ('1/8"', 0.125),
        ("⅛ in", 0.125),
        ("3¼ in", 3.25),
        ("1⁄2 in", 0.5),
        ("3/4-inch", 0.75),
        ("98 1/2", 98.5),
        ("98-1/2", 98.5),
        ("98 - 1/2", 98.5),
        ("98½", 98.5),
        ("98.5", 98.5),
        (".5", 0.5),
        ("98.", 98),
        ("+98", 98),
        ("98\u00a0in", 98),
        ("1e3", 1000),
        ("2.5e-1 in", 0.25),
        ("0", 0),
        ("1,234.5", 1234.5),
        ("1,234,567", 1234567),
        ("1.234,5", 1234.5),
        ("1.234.567", 1234567),
        ("2,50", 2.5),
        ("2,5", 2.5),
        ("0,125", 0.125),
        ("1234,567", 1234.567),
        ("1 yard", 36),
    ],
)
def test_lengths_read_as_estimators_type_them(text: str, inches: float) -> None:
    assert units.read(text, "length", default="in") == pytest.approx(inches * IN, rel=NEAR)


@pytest.mark.parametrize(
    ("text", "kind", "si"),
    [
        ("2.5 m", "length", 2.5),
        ("2500 mm", "length", 2.5),
        ("250 centimetres", "length", 2.5),
        ("12 ft2", "area", 12 * FT**2),
        ("12 ft^2", "area", 12 * FT**2),
        ("12 ft ²", "area", 12 * FT**2),
        ("12 sq ft", "area", 12 * FT**2),
        ("12 Sq.Ft.", "area", 12 * FT**2),
        ("12 sqft", "area", 12 * FT**2),
        ("12 square feet", "area", 12 * FT**2),
        ("12 SF", "area", 12 * FT**2),
        ("12 m²", "area", 12),
        ("2 yd³", "volume", 2 * 0.9144**3),
        ("2 cu in", "volume", 2 * IN**3),
        ("2 cubic feet", "volume", 2 * FT**3),
        ("2 m3", "volume", 2),
        ("1.5 US gal", "volume", 1.5 * US_GAL),
        ("1.5 U.S. gallons", "volume", 1.5 * US_GAL),
        ("1.5 gal (US)", "volume", 1.5 * US_GAL),
        ("1.5 imperial gallons", "volume", 1.5 * IMP_GAL),
        ("3 UK fl. oz.", "volume", 3 * IMP_GAL / 160),
        ("750 mL", "volume", 7.5e-4),
        ("2 litres", "volume", 2e-3),
        ("2 Liters", "volume", 2e-3),
        ("9 lbs", "mass", 9 * LB),
        ("9 pounds", "mass", 9 * LB),
        ("16 oz wt", "mass", LB),
        ("16 oz av", "mass", LB),
        ("120 grams", "mass", 0.12),
        ("1.1 kg/L", "density", 1100),
        ("1.1 kg per litre", "density", 1100),
        ("1.1 kg/cm3", "density", 1.1e6),
        ("38 mil", "film", 38 * IN / 1000),
        ("38 mils", "film", 38 * IN / 1000),
        ("38 thou", "film", 38 * IN / 1000),
        ("500 µm", "film", 5e-4),
        ("500 μm", "film", 5e-4),
        ("500 microns", "film", 5e-4),
        ("1/8 in", "film", IN / 8),
        ("3 US fl oz/ft²", "volume_per_area", 3 * US_OZ / FT**2),
        ("150 mL/m²", "volume_per_area", 1.5e-4),
        ("5.2 m²/L", "area_per_volume", 5200),
        ("40 ft²/US gal", "area_per_volume", 40 * FT**2 / US_GAL),
        ("120 g/m²", "mass_per_area", 0.12),
        ("0.5 lb per sq ft", "mass_per_area", 0.5 * LB / FT**2),
        ("2 US fl oz/ft", "volume_per_length", 2 * US_OZ / FT),
        ("40 psi", "pressure", 40 * LB * 9.80665 / IN**2),
        ("70 °F", "temperature", (70 + 459.67) / 1.8),
        ("70 F", "temperature", (70 + 459.67) / 1.8),
        ("70℉", "temperature", (70 + 459.67) / 1.8),
        ("70 deg F", "temperature", (70 + 459.67) / 1.8),
        ("21 C", "temperature", 294.15),
        ("-5 °C", "temperature", 268.15),
        ("−5 °C", "temperature", 268.15),
        ("300 K", "temperature", 300),
        ("18 °F", "temperature_difference", 10),
        ("-18 Δ°F", "temperature_difference", -10),
        ("10 C", "temperature_difference", 10),
        ("15 min", "time", 900),
        ("2 h", "time", 7200),
        ("24 hours", "time", 86400),
        ("90 secs", "time", 90),
        ("7 days", "time", 604800),
        ("1 week", "time", 604800),
        ("8 %", "fraction", 0.08),
        ("8%", "fraction", 0.08),
        ("8 per cent", "fraction", 0.08),
        ("0.08", "fraction", 0.08),
        ("1/4", "fraction", 0.25),
        ("2.5", "number", 2.5),
        ("-2.5", "number", -2.5),
    ],
)
def test_units_of_every_kind_are_read(text: str, kind: str, si: float) -> None:
    assert units.read(text, kind) == pytest.approx(si, rel=NEAR)


@pytest.mark.parametrize(
    ("text", "kind", "us", "imperial"),
    [
        ("1 gal", "volume", US_GAL, IMP_GAL),
        ("2 gallons", "volume", 2 * US_GAL, 2 * IMP_GAL),
        ("1 qt", "volume", US_GAL / 4, IMP_GAL / 4),
        ("1 pint", "volume", US_GAL / 8, IMP_GAL / 8),
        ("1 cup", "volume", US_GAL / 16, IMP_GAL / 16),
        ("1 fl oz", "volume", US_GAL / 128, IMP_GAL / 160),
        ("3 fl oz/ft²", "volume_per_area", 3 * US_OZ / FT**2, 3 * IMP_GAL / 160 / FT**2),
        ("3 fl oz per sq ft", "volume_per_area", 3 * US_OZ / FT**2, 3 * IMP_GAL / 160 / FT**2),
        ("40 sq ft/gal", "area_per_volume", 40 * FT**2 / US_GAL, 40 * FT**2 / IMP_GAL),
        ("9.2 lb/gal", "density", 9.2 * LB / US_GAL, 9.2 * LB / IMP_GAL),
    ],
)
def test_bare_measures_follow_fluids_and_named_ones_do_not(
    text: str, kind: str, us: float, imperial: float
) -> None:
    assert units.read(text, kind, fluids="us") == pytest.approx(us, rel=NEAR)
    assert units.read(text, kind, fluids="imperial") == pytest.approx(imperial, rel=NEAR)
    with pytest.raises(InputError, match="may be US or imperial"):
        units.read(text, kind)


def test_a_named_measure_is_honoured_in_the_other_system() -> None:
    assert units.read("1 imp gal", "volume", fluids="us") == IMP_GAL
    assert units.read("1 US gal", "volume", fluids="imperial") == 0.003785411784


OZ = ("'oz' may be fluid or weight", "type 'US fl oz', 'imp fl oz' or 'oz wt'")
GAL = ("'gal' may be US or imperial", "type 'US gal' or 'imp gal'")
LENGTH = "type a length, such as '98 1/2 in'"
ONE = "type one value with one unit"


@pytest.mark.parametrize(
    ("value", "kind", "what", "mend"),
    [
        ("30 oz", "volume", *OZ),
        ("30 oz", "mass", *OZ),
        ("3 oz/ft²", "volume_per_area", *OZ),
        ("3 ounces", "volume", "'ounces' may be fluid or weight", OZ[1]),
        ("3 gal", "volume", *GAL),
        ("40 ft²/gal", "area_per_volume", *GAL),
        (
            "3 fl oz",
            "volume",
            "'fl oz' may be US or imperial",
            "type 'US fl oz' or 'imp fl oz'",
        ),
        ("3 cups", "volume", "'cups' may be US or imperial", "type 'US cup' or 'imp cup'"),
        (
            "1,234 in",
            "length",
            "'1,234' may be 1234 or 1.234",
            "type '1234' if the comma marks thousands, or '1.234' if it marks decimals",
        ),
        ("12,34,5 in", "length", "'12,34,5' is not a number", "type it without commas"),
        ("1,23.5 in", "length", "'1,23.5' is not a number", "type it without commas"),
        ("12, in", "length", "'12,' is not a number", "type it without commas"),
        ("40 ft²", "length", "'40 ft²' is an area where a length belongs", LENGTH),
        ("40 ft", "area", "'40 ft' is a length where an area belongs", "type an area, such as"),
        ("12' 6\"", "area", "'12' 6\"' is a length where an area belongs", "such as '40 ft²'"),
        (
            "3 US fl oz/ft²",
            "length",
            "'3 US fl oz/ft²' is a volume per area where a length belongs",
            LENGTH,
        ),
        (
            "3 mL/m²",
            "film",
            "'3 mL/m²' is a volume per area where a film thickness belongs",
            "such as '38 mil'",
        ),
        (
            "38 mil",
            "volume_per_area",
            "'38 mil' is a length where a volume per area belongs",
            "such as '3 US fl oz/ft²'",
        ),
        (
            "2 m²",
            "volume_per_length",
            "'2 m²' is an area where a volume per length belongs",
            "such as '2 US fl oz/ft'",
        ),
        (
            "5 Δ°F",
            "temperature",
            "'5 Δ°F' is a temperature difference where a temperature belongs",
            "such as '70 °F'",
        ),
        ("8 %", "number", "'8 %' is a share where a plain number belongs", "such as '2.5'"),
        ("8 ft", "fraction", "'8 ft' is a length where a share belongs", "such as '8 %'"),
        ("-5 in", "length", "'-5 in' is below zero", "type a length of 0 or more"),
        ("-1' 6\"", "length", "'-1' 6\"' is below zero", "type a length of 0 or more"),
        ("-8 %", "fraction", "'-8 %' is below zero", "type a share of 0 or more"),
        (-5, "length", "'-5' has no unit", LENGTH),
        ("-500 °F", "temperature", "'-500 °F' is colder than anything", "such as '70 °F'"),
        ("12' 14\"", "length", "12' 14\"' has 12 inches or more after", "type 13' 2\""),
        ("12' 12\"", "length", "12' 12\"' has 12 inches or more after", "type 13' 0\""),
        ("12' 14.3\"", "length", "has 12 inches or more after", "type 13' 2.3\""),
        ("12' 6", "length", "'12' 6' has a second number without a mark", "type 12' 6\""),
        ("12.5' 6\"", "length", "has a part of a foot and inches", "type whole feet"),
        ("12 flooz", "length", "'flooz' is not a unit", "type 'floz' if that is meant"),
        ("12 inchs", "length", "'inchs' is not a unit", "type 'inches' if that is meant"),
        ("12 square foots", "area", "'square foots' is not a unit", "type 'square feet'"),
        ("12 bananas", "length", "'bananas' is not a unit Pourbook knows", "type one such as"),
        ("12 sq gal", "area", "'sq gal' is not a unit Pourbook knows", "if that is meant"),
        ("12 USgal", "volume", "'usgal' is not a unit Pourbook knows", "type 'us gal'"),
        ("12 ft²/ft", "length", "'ft^2/ft' is not a unit Pourbook knows", "type"),
        ("12 lb/gal/ft", "density", "'gal/ft' is not a unit Pourbook knows", "type"),
        ("12 lb/", "density", "a unit is missing", "type a unit such as"),
        ("12 ft x 3 ft", "area", "'12 ft x 3 ft' has two values", ONE),
        ("12x3", "area", "'12x3' has two values", ONE),
        ("3 4", "number", "'3 4' has two values", ONE),
        ("3-4 in", "length", "'3-4 in' has two values", ONE),
        ("1 234", "number", "'1 234' has two values", ONE),
        ("5 lb 3 oz wt", "mass", "'5 lb 3 oz wt' has two values", ONE),
        ("1/0 in", "length", "'1/0' divides by 0", "type a fraction such as '1/2'"),
        ("98 3/2 in", "length", "a fraction of one or more", "such as '98 1/2'"),
        ("98", "length", "'98' has no unit", LENGTH),
        (98.5, "length", "'98.5' has no unit", LENGTH),
        ("", "length", "nothing is typed", LENGTH),
        ("   ", "length", "nothing is typed", LENGTH),
        (None, "length", "nothing is typed", LENGTH),
        (True, "number", "'True' is not a number", "such as '2.5'"),
        (False, "number", "'False' is not a number", "such as '2.5'"),
        (["1"], "number", "'['1']' is not a number", "such as '2.5'"),
        (Decimal(1), "number", "'1' is not a number", "such as '2.5'"),
        (math.nan, "number", "'nan' is not a number to work with", "type a number"),
        (-math.inf, "number", "'-inf' is not a number to work with", "type a number"),
        ("nan", "number", "'nan' does not begin with a number", "such as '2.5'"),
        ("inf in", "length", "'inf in' does not begin with a number", LENGTH),
        ("about 5 in", "length", "'about 5 in' does not begin with a number", LENGTH),
        ("$5", "number", "'$5' does not begin with a number", "such as '2.5'"),
        ("٣ in", "length", "'٣ in' does not begin with a number", LENGTH),
        ("1e999", "number", "'1e999' is too large", "type a smaller number"),
        ("1e9999", "number", "'e9999' is not a unit", "type"),
        (10**400, "number", "'the number' is too large", "type a smaller number"),
        ("9" * 101, "number", "9…' is longer than 100 letters", ONE),
    ],
)
def test_bad_input_is_refused_in_an_estimators_words(
    value: object, kind: str, what: str, mend: str
) -> None:
    with pytest.raises(InputError) as refusal:
        units.read(value, kind)
    assert what in refusal.value.what
    assert mend in refusal.value.mend
    assert not refusal.value.mend.endswith(".")


def test_a_bare_number_takes_the_default_unit() -> None:
    assert units.read(98, "length", default="in") == 98 * IN
    assert units.read(98.5, "length", default="mm") == 0.0985
    assert units.read(Fraction(1, 2), "length", default="m") == 0.5
    assert units.read("3", "volume", default="gal", fluids="us") == 0.011356235352
    assert units.read(8, "fraction", default="%") == 0.08
    assert units.read("98 ft", "length", default="in") == pytest.approx(98 * FT, rel=NEAR)
    assert units.read(0, "length", default="in") == 0
    with pytest.raises(InputError, match="'98' is an area where a length belongs"):
        units.read(98, "length", default="ft²")
    with pytest.raises(InputError, match=r"'-1\.5' is below zero"):
        units.read(-1.5, "length", default="in")


@pytest.mark.parametrize(
    ("text", "kind"),
    [
        ("38 mil", "length"),
        ("mm", "length"),
        ("12' 6\"", "length"),
        ('"', "length"),
        ("3 fl oz/ft²", "volume_per_area"),
        ("fl oz per sq ft", "volume_per_area"),
        ("40 ft²/gal", "area_per_volume"),
        ("120 g/m²", "mass_per_area"),
        ("9 lb/gal", "density"),
        ("mL/m", "volume_per_length"),
        ("8 %", "fraction"),
    ],
)
def test_kind_of_follows_how_the_unit_is_written(text: str, kind: str) -> None:
    assert units.kind_of(text, fluids="us") == kind


def test_kind_of_refuses_what_has_no_kind() -> None:
    with pytest.raises(InputError, match="a unit is missing"):
        units.kind_of("98 1/2")
    with pytest.raises(InputError, match="may be US or imperial"):
        units.kind_of("3 fl oz/ft²")


@pytest.mark.parametrize(
    ("text", "unit"),
    [
        ("Sq. Ft.", "ft²"),
        ("in^3", "in³"),
        ("µm", "µm"),
        ("gallons", "US gal"),
        ("imperial gallon", "imp gal"),
        ("pounds per gallon", "lb/US gal"),
        ("degrees F", "°F"),
        ("ounces by weight", "oz wt"),
    ],
)
def test_canonical_unit_gives_one_spelling(text: str, unit: str) -> None:
    assert units.canonical_unit(text, fluids="us") == unit


def test_convert_keeps_to_one_kind() -> None:
    assert units.convert(1, "gal", "qt", "us") == 4
    assert units.convert(1, "imp gal", "fl oz", "imperial") == 160
    assert units.convert(212, "F", "C") == 100
    assert units.convert(-40, "C", "F") == -40
    assert units.convert(9, "Δ°F", "Δ°C") == 5
    for old, new, words in (
        ("ft²", "ft", "'ft²' is an area and 'ft' is a length"),
        ("mm", "mL/m²", "'mm' is a length and 'mL/m²' is a volume per area"),
        ("oz wt", "US fl oz", "'oz wt' is a weight and 'US fl oz' is a volume"),
        ("°F", "Δ°F", "'°F' is a temperature and 'Δ°F' is a temperature difference"),
    ):
        with pytest.raises(InputError) as refusal:
            units.convert(1, old, new)
        assert refusal.value.what == words
        assert refusal.value.mend == "convert between two units of one kind"


FIELDS = {
    "run": "length",
    "film": "length",
    "small_volume": "volume",
    "small_mass": "mass",
}


@pytest.mark.parametrize("system", units.SYSTEMS.values(), ids=lambda system: system.name)
def test_every_display_unit_reads_back_as_itself_with_no_help(system: units.System) -> None:
    shown = {k: v for k, v in vars(system).items() if k not in ("name", "label", "fluids")}
    assert len(shown) == 13
    for field, unit in shown.items():
        assert units.kind_of(f"2 {unit}") == FIELDS.get(field, field)
        assert units.canonical_unit(unit) == unit
    other = {"us": "imp ", "imperial": "US "}.get(system.name)
    assert other is None or not any(other in unit for unit in shown.values())
    assert units.SYSTEMS[system.name] is system


@pytest.mark.parametrize("kind", units.KINDS)
def test_every_kind_has_a_readable_si_unit_and_example(kind: str) -> None:
    entry = units.KINDS[kind]
    assert math.isfinite(units.read(entry.example, kind))
    if entry.si:
        assert units.read(f"2 {entry.si}", kind) == 2
        assert units.express(2, entry.si) == 2


def test_the_way_back_to_text() -> None:
    assert units.feet_inches(3.8227) == "12' 6 1/2\""
    assert units.feet_inches(12 * FT) == "12' 0\""
    assert units.feet_inches(0) == '0"'
    assert units.feet_inches(0.5 * IN) == '1/2"'
    assert units.feet_inches(11.99 * IN) == "1' 0\""
    assert units.feet_inches(-18 * IN) == "-1' 6\""
    assert units.feet_inches(6.26 * IN, denominator=4) == '6 1/4"'
    assert units.show(3 * US_GAL, "US gal", 2) == "3.00 US gal"
    assert units.show(-1e-9, "m", 2) == "0.00 m"
    assert units.show(0.08, "%", 1) == "8.0 %"


@pytest.mark.parametrize("bad", [math.nan, math.inf, -math.inf])
def test_no_number_out_of_what_is_not_finite(bad: float) -> None:
    for call in (
        lambda: units.express(bad, "in"),
        lambda: units.to_si(bad, "in"),
        lambda: units.convert(bad, "in", "ft"),
        lambda: units.feet_inches(bad),
        lambda: units.show(bad, "in", 2),
    ):
        with pytest.raises(InputError, match="is not a number to work with"):
            call()


def test_the_way_back_needs_a_settled_unit() -> None:
    with pytest.raises(InputError, match="may be US or imperial"):
        units.express(1, "gal")
    with pytest.raises(InputError, match="may be fluid or weight"):
        units.to_si(1, "oz")
    with pytest.raises(InputError, match="is too large"):
        units.express(1e308, "µm")


SHOWN = sorted({unit for s in units.SYSTEMS.values() for unit in list(vars(s).values())[3:]})
SANE = st.floats(1e-6, 1e6)


@given(SANE, st.sampled_from(SHOWN))
def test_express_undoes_to_si(number: float, unit: str) -> None:
    assert units.express(units.to_si(number, unit), unit) == pytest.approx(number, rel=1e-9)


@given(SANE, st.sampled_from([u for u in SHOWN if not u.startswith("°")]))
def test_to_si_and_reading_agree(number: float, unit: str) -> None:
    kind = units.kind_of(unit)
    expected = units.to_si(number, unit)
    assert units.read(f"{number!r} {unit}", kind) == expected
    assert units.read(number, kind, default=unit) == expected


@given(st.floats(0, 500), st.sampled_from([1, 2, 4, 8, 16, 32, 64]))
def test_feet_inches_reads_back_to_the_nearest_fraction(si: float, denominator: int) -> None:
    shown = units.feet_inches(si, denominator)
    back = units.read(shown, "length")
    assert abs(back - si) <= IN / denominator / 2 * (1 + 1e-9)
    assert units.feet_inches(back, denominator) == shown


@given(st.integers(0, 10**9), st.integers(0, 4), st.sampled_from(SHOWN))
def test_shown_text_reads_back(thousandths: int, places: int, unit: str) -> None:
    si = units.to_si(thousandths / 1000, unit)
    back = units.read(units.show(si, unit, places), units.kind_of(unit))
    assert units.express(back, unit) == pytest.approx(thousandths / 1000, abs=0.6 * 10**-places)


def finite_or_mended(text: str, kind: str, default: str | None, fluids: str) -> bool:
    """Tell whether text gives a finite number or a whole refusal, with no other way out."""
    try:
        return math.isfinite(units.read(text, kind, default=default, fluids=fluids))
    except InputError as refusal:
        return bool(refusal.what and refusal.mend)


@given(st.text(max_size=110), st.sampled_from(sorted(units.KINDS)))
def test_any_text_is_read_or_refused(text: str, kind: str) -> None:
    assert finite_or_mended(text, kind, units.KINDS[kind].si or None, "")


TYPED = st.text(alphabet="0123456789 .,/-'\"½²xe^%°ftinlbozgalmsqper", max_size=30)


@given(TYPED, st.sampled_from(sorted(units.KINDS)), st.sampled_from(["us", "imperial", ""]))
def test_near_misses_are_read_or_refused(text: str, kind: str, fluids: str) -> None:
    assert finite_or_mended(text, kind, None, fluids)


@pytest.mark.parametrize("name", ["oz", "ounce", "gal", "gallon", "qt", "pt", "cup", "floz", "kkg"])
def test_the_registry_has_no_name_with_two_meanings(name: str) -> None:
    assert name not in units.registry()


def test_there_is_one_registry_and_importing_units_does_not_load_pint() -> None:
    assert units.registry() is units.registry()
    code = "import sys, pourbook.units; print('pint' in sys.modules)"
    source = str(Path(units.__file__).parents[2])
    done = subprocess.run(
        [sys.executable, "-c", code],
        capture_output=True,
        text=True,
        check=True,
        timeout=60,
        env={**os.environ, "PYTHONPATH": source},
    )
    assert done.stdout.strip() == "False"


@given(
    st.decimals(min_value=0, max_value=10**9, places=4),
    st.sampled_from(["ft", " US gal", "  m²/L", " kg/L ", "%", "", " °F", " sq ft", " E", " ft x"]),
)
def test_plain_text_is_taken_apart_as_the_long_way_does(number: Decimal, unit: str) -> None:
    text = f"{number}{unit}"
    found = lengths.quantity(text)
    assert found is not None
    assert (found[0], lengths.tidy(found[1])) == lengths.leading_number(lengths.tidy(text))


@pytest.mark.parametrize(
    "text",
    ["1,234 g", "2 1/2 in", "½ in", "3e2 g", "1.2.3 g", "5-ft", "4 ft 6", "7 x 8 in", "-1 m"],
)
def test_anything_else_goes_the_long_way(text: str) -> None:
    assert lengths._PLAIN.fullmatch(text) is None


@given(
    st.floats(min_value=1e-9, max_value=1e9),
    st.sampled_from(["ft", "US gal", "°F", "Δ°F", "lb/imp gal"]),
)
def test_whole_numbers_divide_as_exactly_as_fractions(number: float, unit: str) -> None:
    quantity = units.registry().Quantity
    term = lengths.unit_term(lengths.tidy(unit), "")
    exact = quantity(Fraction(repr(number)), term.pint).to_base_units().magnitude
    assert units.to_si(number, unit) == float(exact)
