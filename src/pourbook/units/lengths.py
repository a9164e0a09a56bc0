r"""Numbers, feet and inches, and unit names as estimators write them.

Contract: text goes in; exact fractions and the names of units come out, and no unit has a size here
but the foot of twelve inches. :func:`tidy` comes first; the other readers take tidied text. What
has two meanings (``1,234``, ``12' 6``, ``12' 14"``, ``oz``) is refused with the way to write it
plainly. :mod:`pourbook.units` is the only caller and gives the units their sizes.
"""

from __future__ import annotations

import difflib
import re
import unicodedata
from fractions import Fraction
from functools import lru_cache
from typing import NamedTuple

from pourbook.errors import InputError

_SIGNS = str.maketrans(
    {
        **dict.fromkeys("′’‘ʹ´`", "'"),
        **dict.fromkeys("″”“ʺ", '"'),
        **dict.fromkeys("−–‐‑", "-"),
        **dict.fromkeys("µμ", "u"),
        "²": "^2",
        "³": "^3",
        "⁄": "/",
        "×": "x",
        "º": "°",
        "℃": "°c",
        "℉": "°f",
    }
)
_DECIMAL = r"(?:[0-9][0-9.,]*|[.,][0-9]+)(?:e[+-]?[0-9]{1,3}(?![0-9]))?"
_FRACTION = r"[0-9]+\s*/\s*[0-9]+"
_NUMBER = rf"(?:[0-9]+(?:\s+|\s*-\s*){_FRACTION}|{_FRACTION}|{_DECIMAL})"
_LEADING = re.compile(rf"(?P<sign>[+-]?)\s*(?P<number>{_NUMBER})\s*")
_FEET_INCHES = re.compile(
    rf"(?P<sign>[+-]?)\s*(?P<feet>{_NUMBER})\s*(?P<foot>'|ft|foot|feet)(?P<gap>[\s,-]*)"
    rf"(?P<inches>{_NUMBER})\s*(?P<mark>\"|in|ins|inch|inches)?"
)
_TWO_NUMBERS = re.compile(r"(?<![a-z^0-9])[0-9]|x ?[0-9]")
_LONGEST = 100
# One meaning however it is read: digits with a point, and letters without another number.
_PLAIN = re.compile(
    r" {0,9}([0-9]{1,15})(?:\.([0-9]{1,15}))? {0,9}((?:[a-zA-Z%°µ][a-zA-Z%°µ²³/ ]{0,40})?)"
)
_PLAIN_FEET = re.compile(r"([0-9]{1,9})' ?([0-9]{1,2})(?: ([0-9]{1,3})/([0-9]{1,3}))?\"")
_SPACES = re.compile(r"\s+")
_STOP = re.compile(r"(?<=[a-z])\.")
_HYPHEN = re.compile(r"(?<=[a-z0-9])-(?=[a-z])")
_BEFORE_POWER = re.compile(r"\s+(\^|$)")
_MIXED = re.compile(r"(?:(?P<whole>[0-9]+)[\s-]+)?(?P<top>[0-9]+)\s*/\s*(?P<bottom>[0-9]+)")


class Term(NamedTuple):
    """A unit: its one spelling, its name in ``shared/units.txt``, and its kind."""

    text: str
    pint: str
    kind: str


# One spelling, name in shared/units.txt, kind, and every way to type it (tidied, in small letters).
_ROWS = (
    ("in", "inch", "length", 'in|ins|inch|inches|"'),
    ("ft", "foot", "length", "ft|foot|feet|'|lf|lin ft|linear foot|linear feet"),
    ("yd", "yard", "length", "yd|yds|yard|yards"),
    ("mil", "mil", "length", "mil|mils|thou"),
    (
        "µm",
        "micrometre",
        "length",
        "um|micron|microns|micrometre|micrometres|micrometer|micrometers",
    ),
    ("mm", "millimetre", "length", "mm|millimetre|millimetres|millimeter|millimeters"),
    ("cm", "centimetre", "length", "cm|centimetre|centimetres|centimeter|centimeters"),
    ("m", "metre", "length", "m|metre|metres|meter|meters"),
    ("ft²", "foot ** 2", "area", "sf"),
    ("L", "litre", "volume", "l|ltr|litre|litres|liter|liters"),
    ("mL", "millilitre", "volume", "ml|millilitre|millilitres|milliliter|milliliters|cc"),
    ("g", "gram", "mass", "g|gram|grams|gramme|grammes"),
    ("kg", "kilogram", "mass", "kg|kgs|kilo|kilos|kilogram|kilograms"),
    ("lb", "pound", "mass", "lb|lbs|pound|pounds"),
    (
        "oz wt",
        "ounce_avoirdupois",
        "mass",
        "oz wt|ozwt|wt oz|oz weight|oz by weight|oz av|oz avdp|ounce weight|ounces weight"
        "|ounces by weight|avoirdupois ounce|avoirdupois ounces",
    ),
    ("s", "second", "time", "s|sec|secs|second|seconds"),
    ("min", "minute", "time", "min|mins|minute|minutes"),
    ("h", "hour", "time", "h|hr|hrs|hour|hours"),
    ("day", "day", "time", "d|day|days"),
    ("week", "week", "time", "wk|wks|week|weeks"),
    ("Pa", "pascal", "pressure", "pa|pascal|pascals"),
    ("psi", "psi", "pressure", "psi"),
    ("MPa", "megapascal", "pressure", "mpa"),
    ("J", "joule", "energy", "j|joule|joules"),
    ("in-lb", "inch_pound", "energy", "in-lb|in-lbs|in lb|in lbs|in-lbf|in·lb|inch-pounds|lbf-in"),
    ("K", "kelvin", "temperature", "k|kelvin|kelvins"),
    ("°C", "degree_celsius", "temperature", "°c|° c|c|degc|deg c|degree c|degrees c|celsius"),
    ("°F", "degree_fahrenheit", "temperature", "°f|° f|f|degf|deg f|degree f|degrees f|fahrenheit"),
    ("ΔK", "kelvin", "temperature_difference", "δk|delta k"),
    ("Δ°C", "delta_degree_celsius", "temperature_difference", "δ°c|δc|delta °c|delta c"),
    ("Δ°F", "delta_degree_fahrenheit", "temperature_difference", "δ°f|δf|delta °f|delta f"),
    ("%", "percent", "fraction", "%|percent|per cent|pct"),
)
# The measures that differ between the US and the imperial system, by the unit's short name.
_FLUID_ROWS = (
    ("gal", "gallon", "gal|gals|gallon|gallons"),
    ("qt", "quart", "qt|qts|quart|quarts"),
    ("pt", "pint", "pt|pts|pint|pints"),
    ("cup", "cup", "cup|cups"),
    ("fl oz", "fluid_ounce", "fl oz|floz|fl ozs|fluid oz|fluid ounce|fluid ounces"),
)
_SIDES = {"us": ("US", "us|u s|(us)"), "imperial": ("imp", "imp|imperial|uk|u k|(imp)|(uk)")}
_BARE_OUNCES = ("oz", "ozs", "ounce", "ounces")
_POWERS_TO_OFFER = ("sq ft", "sq m", "square feet", "square metres", "cubic feet")
_COMPOUNDS = {
    ("volume", "area"): "volume_per_area",
    ("area", "volume"): "area_per_volume",
    ("mass", "area"): "mass_per_area",
    ("mass", "volume"): "density",
    ("volume", "length"): "volume_per_length",
}
_POWER = re.compile(
    r"(?P<word>square|sq|cubic|cu) ?(?P<after>.+)|(?P<before>.+?)\^?(?P<digit>[23])"
)


def _spellings() -> tuple[dict[str, Term], dict[str, str]]:
    """Return every spelling with its unit, and every bare fluid spelling with its short name."""
    spelt = {s: Term(*row) for *row, ways in _ROWS for s in ways.split("|")}
    bare = {}
    for short, name, ways in _FLUID_ROWS:
        for way in ways.split("|"):
            bare[way] = short
            for side, prefixes in _SIDES.values():
                term = Term(f"{side} {short}", f"{side.lower()}_{name}", "volume")
                for prefix in prefixes.split("|"):
                    spelt |= dict.fromkeys((f"{prefix} {way}", f"{way} {prefix}"), term)
    return spelt, bare


_SPELT, _BARE = _spellings()


def tidy(text: str) -> str:
    r"""Return the text in small letters with one spelling for each mark, fraction and exponent.

    Args:
        text: What was typed, of at most 100 letters.

    Returns:
        Text in which feet are ``'``, inches ``"``, powers ``^2`` and fractions ``1/2``.

    Raises:
        InputError: The text is too long to be one quantity.

    Example:
        >>> tidy("12′ 6½″")
        '12\' 6 1/2"'
        >>> tidy(" 3 Fl. Oz. / Sq.Ft. ")
        '3 fl oz / sq ft'
    """
    if len(text) > _LONGEST:
        what = f"'{text[:39]}…' is longer than {_LONGEST} letters"
        raise InputError(what, "type one value with one unit")
    if not text.isascii():
        text = "".join(
            " " + unicodedata.normalize("NFKC", letter)
            if "VULGAR" in unicodedata.name(letter, "")
            else letter
            for letter in text
        )
    text = text.translate(_SIGNS).lower().replace("''", '"')
    text = _HYPHEN.sub(" ", _STOP.sub(" ", text))
    return _BEFORE_POWER.sub(r"\1", _SPACES.sub(" ", text)).strip()


@lru_cache(maxsize=4096)
def quantity(text: str) -> tuple[Fraction, str] | None:
    r"""Return the number a text begins with, and the unit after it as :func:`unit_term` takes it.

    Args:
        text: What was typed, tidied or not; feet and inches come as inches.

    Returns:
        The exact number and the unit, or None if the text begins with no number.

    Raises:
        InputError: As :func:`tidy`, :func:`feet_and_inches` and :func:`leading_number`.

    Example:
        >>> quantity("2.5 US gal"), quantity("12'-6 1/2\"")
        ((Fraction(5, 2), 'US gal'), (Fraction(301, 2), 'in'))
    """
    plain = _PLAIN.fullmatch(text)
    if plain is not None:
        whole, part, unit = plain[1], plain[2] or "", plain[3]
        return Fraction(int(whole + part), 10 ** len(part)), unit
    feet = _PLAIN_FEET.fullmatch(text)
    if feet is not None:
        inch, top, bottom = int(feet[2]), int(feet[3] or 0), int(feet[4] or 1)
        if inch < 12 and top < bottom:  # anything else is refused below, in words
            return Fraction((12 * int(feet[1]) + inch) * bottom + top, bottom), "in"
    tidied = tidy(text)
    inches = feet_and_inches(tidied)
    return (inches, "in") if inches is not None else leading_number(tidied)


def leading_number(text: str) -> tuple[Fraction, str] | None:
    """Return the number tidied text begins with, and the text after it.

    Args:
        text: Tidied text.

    Returns:
        The exact number and the rest, or None if the text begins with no number.

    Raises:
        InputError: The number has two meanings or none, or a second number follows.

    Example:
        >>> leading_number("98-1/2 in")
        (Fraction(197, 2), 'in')
        >>> leading_number("1.234,5 g")
        (Fraction(2469, 2), 'g')
    """
    match = _LEADING.match(text)
    if match is None:
        return None
    if _TWO_NUMBERS.search(text, match.end()):
        raise InputError(f"'{text}' has two values", "type one value with one unit")
    number = _number(match["number"])
    return (-number if match["sign"] == "-" else number), text[match.end() :]


def feet_and_inches(text: str) -> Fraction | None:
    r"""Return the inches in tidied text that gives feet and then inches.

    Args:
        text: Tidied text.

    Returns:
        Exact inches, or None if the text is not feet followed by a second number.

    Raises:
        InputError: The inches have no mark or are 12 or more, or the feet are not whole.

    Example:
        >>> feet_and_inches("12'-6 1/2\"")
        Fraction(301, 2)
    """
    match = _FEET_INCHES.fullmatch(text)
    if match is None or match["foot"] + match["gap"] + (match["mark"] or "") == "ft":  # "ft2"
        return None
    feet, inches = _number(match["feet"]), _number(match["inches"])
    if feet.denominator != 1:
        mend = "type whole feet before the inches, such as 12' 6\""
        raise InputError(f"'{text}' has a part of a foot and inches as well", mend)
    total = 12 * feet + inches
    if match["mark"] is None:
        mend = f"type {feet_inches_text(total)} if it is inches"
        raise InputError(f"'{text}' has a second number without a mark", mend)
    if inches >= 12:
        mend = f"type {feet_inches_text(total)}"
        raise InputError(f"'{text}' has 12 inches or more after the feet", mend)
    return -total if match["sign"] == "-" else total


def feet_inches_text(inches: Fraction) -> str:
    r"""Return exact inches as feet and inches.

    Args:
        inches: Any exact number of inches; below zero it gets a minus sign.

    Returns:
        Text with the part of an inch as a fraction where a tape shows it (halves to 64ths), else as
        a decimal.

    Example:
        >>> print(feet_inches_text(Fraction(301, 2)), feet_inches_text(Fraction(29, 2)))
        12' 6 1/2" 1' 2 1/2"
    """
    feet, rest = divmod(abs(inches), 12)
    whole, part = divmod(rest, 1)
    if 64 % part.denominator:
        words = f"{float(rest):.6g}"
    else:
        words = " ".join(str(n) for n in (whole, part) if n) or "0"
    sign = "-" if inches < 0 else ""
    return f"{sign}{feet}' {words}\"" if feet else f'{sign}{words}"'


def unit_term(text: str, fluids: str) -> Term:
    """Return the unit a tidied text names, which may be one unit over another.

    Args:
        text: Tidied text without a number.
        fluids: Whose measure a bare ``gal`` is: ``"us"``, ``"imperial"``, or ``""`` to refuse it.

    Raises:
        InputError: The unit is unknown or has two meanings.

    Example:
        >>> unit_term("fl oz per sq ft", "us")
        Term(text='US fl oz/ft²', pint='us_fluid_ounce / (foot ** 2)', kind='volume_per_area')
    """
    if text in _SPELT or text in _BARE:
        return _term(text, fluids)
    parts = re.split(r"/|\bper\b", text, maxsplit=1)
    terms = [_term(part.strip(), fluids) for part in parts]
    if len(terms) == 1:
        return terms[0]
    top, bottom = terms
    kind = _COMPOUNDS.get((top.kind, bottom.kind))
    if kind is None:
        raise _unknown(text)
    return Term(f"{top.text}/{bottom.text}", f"{top.pint} / ({bottom.pint})", kind)


def _term(text: str, fluids: str) -> Term:
    """Return the unit on one side of a stroke, settling whose gallon is meant."""
    if text in _SPELT:
        return _SPELT[text]
    if text in _BARE_OUNCES:
        raise InputError(
            f"'{text}' may be fluid or weight", "type 'US fl oz', 'imp fl oz' or 'oz wt'"
        )
    if text in _BARE:
        short = _BARE[text]
        if fluids not in _SIDES:
            us, imperial = (f"'{side} {short}'" for side, _ in _SIDES.values())
            raise InputError(f"'{text}' may be US or imperial", f"type {us} or {imperial}")
        return _SPELT[f"{_SIDES[fluids][0].lower()} {short}"]
    match = _POWER.fullmatch(text)
    base = _SPELT.get(match["after"] or match["before"]) if match else None
    if match is None or base is None or base.kind != "length":
        raise _unknown(text)
    square = match["digit"] == "2" or (match["word"] or "").startswith("sq")
    text, power, kind = ("²", 2, "area") if square else ("³", 3, "volume")
    return Term(base.text + text, f"{base.pint} ** {power}", kind)


def _unknown(text: str) -> InputError:
    """Return the refusal of a unit nobody knows, with the nearest known spelling."""
    if not text:
        return InputError("a unit is missing", "type a unit such as 'ft', 'ft²', 'US gal' or 'lb'")
    near = difflib.get_close_matches(text, [*_SPELT, *_BARE, *_POWERS_TO_OFFER], n=1, cutoff=0.7)
    mend = f"type '{near[0]}' if that is meant" if near else "type one such as 'ft', 'm²' or 'lb'"
    return InputError(f"'{text}' is not a unit Pourbook knows", mend)


def _number(text: str) -> Fraction:
    """Return the exact value of an unsigned number: ``98 1/2``, ``1/8``, ``1,234.5`` or ``1e3``."""
    match = _MIXED.fullmatch(text)
    if match is None:
        return _decimal(text)
    top, bottom = int(match["top"]), int(match["bottom"])
    if bottom == 0:
        raise InputError(f"'{text}' divides by 0", "type a fraction such as '1/2'")
    if match["whole"] and top >= bottom:
        mend = "type the fraction smaller than one, such as '98 1/2'"
        raise InputError(f"'{text}' has a whole number and a fraction of one or more", mend)
    return int(match["whole"] or 0) + Fraction(top, bottom)


def _decimal(text: str) -> Fraction:
    """Return the exact value of digits, telling a thousands comma from a decimal comma."""
    if text.isdecimal():
        return Fraction(int(text))
    digits, mark, exponent = text.partition("e")
    if re.fullmatch(r"[1-9][0-9]{0,2},[0-9]{3}", digits):
        plain, point = digits.replace(",", ""), digits.replace(",", ".")
        raise InputError(
            f"'{text}' may be {plain} or {point}",
            f"type '{plain}' if the comma marks thousands, or '{point}' if it marks decimals",
        )
    for point, group in ((".", ","), (",", ".")):
        plain = rf"[0-9]+\.?|[0-9]*\{point}[0-9]+"
        grouped = rf"[1-9][0-9]{{0,2}}(?:\{group}[0-9]{{3}})+\{point}[0-9]+"
        millions = rf"[1-9][0-9]{{0,2}}(?:\{group}[0-9]{{3}}){{2,}}"
        if re.fullmatch(rf"{plain}|{grouped}|{millions}", digits):
            value = digits.replace(group, "").replace(point, ".").rstrip(".")
            return Fraction(f"{value}{mark}{exponent}")
    raise InputError(f"'{text}' is not a number", "type it without commas, such as '1234.5'")
