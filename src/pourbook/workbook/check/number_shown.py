"""What a number format makes of a value, as far as a reader could be misled by it.

Contract: pure; :func:`hides` knows the formats that show a value truly and takes every other for
one that does not: what is not understood here is told. Source: ECMA-376 part 1, 18.8.31 (number
formats) and the built-in formats of 18.8.30, from memory; the tests ask LibreOffice what it shows.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator
from fractions import Fraction
from functools import lru_cache
from math import isfinite
from typing import Literal, NamedTuple

from pourbook.cells import Value
from pourbook.errors import InputError
from pourbook.tables.limits import LEAST_BARE
from pourbook.units import lengths

Kind = Literal["digit", "point", "comma", "percent", "power", "stroke", "date", "general", "text",
               "literal", "figure", "space", "fill", "colour", "condition", "elapsed",
               "odd"]  # fmt: skip
CLOSE = 0.02
"""How far what is shown may lie from what is held, as a share of it."""
AS_IT_IS = {"general", "@"}
"""Formats, in small letters, that show a number as it stands, and words too."""
_NO_BARE: set[Kind] = {"date", "elapsed", "percent"}
LONGEST = 255
"""Signs a number format may have."""
_TOKENS = re.compile(
    r'(?P<general>general)|"(?P<quoted>[^"]*)"|\\(?P<escaped>.)|(?P<space>_.)|\*(?P<fill>.)'
    r"|\[(?P<bracket>[^\]]*)\]|(?P<power>E[+-])|(?P<point>\.)|(?P<comma>,)|(?P<percent>%)"
    r"|(?P<stroke>/)|(?P<digit>[0#?])|(?P<clock>am/pm|a/p)|(?P<date>[ymdhsegb]+)|(?P<text>@)"
    r"|(?P<plain>.)",
    re.IGNORECASE | re.DOTALL,
)
_SIGNS = {"point": ".", "comma": ",", "percent": "%", "power": "E"}
_PLAIN = re.compile(
    r"(?:%?(?=[0#?])(?:(?:#,?)*|\?*)(?:0,?)*(?<!,)(?:\.0*(?:#*|\?*))?%?|[0#]\.0+#*E0+)"
)
"""What stands between the literals of a part that shows a number, in those signs."""
_FRACTION = re.compile(r"(?:[0#?]+ )?[0#?]+/(\?{1,3}|[1-9]\d{0,3})")
_CONDITION = re.compile(
    r"(<=|>=|<>|<|>|=)\s*(-?[0-9]+(?:\.[0-9]*)?(?:E[+-]?[0-9]+)?)", re.IGNORECASE
)
_COLOURS = {
    "black": "000000", "blue": "0000FF", "cyan": "00FFFF", "green": "00FF00", "magenta": "FF00FF",
    "red": "FF0000", "white": "FFFFFF", "yellow": "FFFF00",
}  # fmt: skip
_NUMBERED = re.compile(r"color ?(\d{1,2})")
_LIKE_A_NUMBER = set(".,'’·٫٬⁄/:")
_MINUS = set("-−–—(")
_LOCALE = re.compile(r"\$(?P<sign>[^-\]]*)(?:-(?P<place>.*))?")
_WORDS = re.compile(r"[^\W\d_]+[²³]?|%|°[^\W\d_]?")


class Sign(NamedTuple):
    """One sign, or run of signs, of a number format: what it is, and what it says."""

    kind: Kind
    said: str


def inks(code: str) -> tuple[str, ...]:
    """Return the colours a number format gives what it shows: RRGGBB, or the number of a palette.

    Example:
        >>> inks("[White]0.00;[Color2]-0.00")
        ('FFFFFF', '2')
    """
    found = (p.said for section in _sections(code) for p in _pieces(section) if p.kind == "colour")
    return tuple(dict.fromkeys(found))


def hides(code: str, value: Value, planned: str = "General", unit: str = "") -> bool:
    """Return whether a number format shows another value than a cell holds, or none.

    Args:
        code: The format.
        value: What the cell holds.
        planned: The format the template gives it, which is right.
        unit: The unit its label names.

    Example:
        >>> [hides(code, 7136.66) for code in (";;;", '"12.50"', "0,", '0"0"', "#,##0.00;-0")]
        [True, True, True, True, False]
        >>> hides("0%", 2.0), hides("0%", 0.2, "0.0%"), hides("yyyy", 5.0, "0")
        (True, False, True)
        >>> hides('0.0" L"', 5.0, "0.0", "gal"), hides('0.0" gal"', 5.0, "0.0", "gal")
        (True, False)
        >>> hides("General", 0.07), hides("General", 0.07, "0%"), hides("@", 46402.0, "yyyy-mm-dd")
        (False, True, True)
    """
    if isinstance(value, bool) or code == planned:
        return False
    as_it_is = code.casefold() in AS_IT_IS
    sections = _sections(code)
    if isinstance(value, str):
        return not as_it_is and _hides_text(sections)
    number = float(value or 0)
    if as_it_is:
        return _is_bare(number, planned)
    if len(code) > LONGEST or not isfinite(number):
        return True
    shown = list(_shown_by(sections, number))
    hidden = (_hides_number(section, number, own, planned, unit) for section, own in shown)
    return not shown or any(hidden)


def needs_own(planned: str) -> bool:
    """Return whether a bare number would be read as another value than the planned format shows.

    Example:
        >>> [needs_own(code) for code in ("yyyy-mm-dd", "0.0%", "#,##0.00", "General")]
        [True, True, False, False]
    """
    return any(piece.kind in _NO_BARE for piece in _pieces(planned))


def _is_bare(number: float, planned: str) -> bool:
    """Return whether a number shown as it is hides a day, or a share of a hundred.

    A share from 5 on can only mean per cent as it stands.
    """
    if not number or not needs_own(planned):
        return False
    shares = {piece.kind for piece in _pieces(planned)} & _NO_BARE == {"percent"}
    return not shares or abs(number) < LEAST_BARE


def _hides_text(sections: list[str]) -> bool:
    """Return whether words are shown otherwise: they have a part of their own, or none."""
    last = _pieces(sections[-1])
    if len(sections) < 4 and not any(piece.kind == "text" for piece in last):
        return False
    kinds = [piece.kind for piece in last if piece.kind not in {"space", "colour"}]
    blank = not any(piece.kind == "literal" and piece.said.strip() for piece in last)
    return [kind for kind in kinds if kind != "literal"] != ["text"] or not blank


def _shown_by(sections: list[str], number: float) -> Iterator[tuple[str, bool]]:
    """Give the parts of a format a number may be shown by, and whether the sign goes along."""
    numbers = sections[:3]
    if len(sections) > 1 and any(piece.kind == "text" for piece in _pieces(sections[-1])):
        numbers = sections[:-1][:3]
    told = [next((p.said for p in _pieces(s) if p.kind == "condition"), "") for s in numbers]
    if not any(told):
        at = 2 if len(numbers) > 2 and number == 0 else 1 if len(numbers) > 1 and number < 0 else 0
        yield numbers[at], at != 1
        return
    for section, condition in zip(numbers, told, strict=True):
        if not condition or _holds(condition, number):
            yield section, len(sections) == 1
        if condition and _holds(condition, number):
            return


def _holds(condition: str, number: float) -> bool:
    sign, against = _CONDITION.fullmatch(condition).groups()  # type: ignore[union-attr]
    bound = float(against)
    return {
        "<": number < bound, "<=": number <= bound, ">": number > bound, ">=": number >= bound,
        "=": number == bound, "<>": number != bound,
    }[sign]  # fmt: skip


def _hides_number(code: str, number: float, signed: bool, planned: str, unit: str) -> bool:
    """Return whether one part of a format hides a number.

    Args:
        code: The part.
        number: What is held.
        signed: Whether a minus is shown without being written in the part.
        planned: The format that is right.
        unit: The unit of the label.
    """
    pieces = [piece for piece in _pieces(code) if piece.kind not in {"colour", "condition"}]
    kinds = {piece.kind for piece in pieces}
    if "stroke" in kinds and not kinds & {"date", "elapsed"}:
        return (number < 0 and not signed) or _hides_fraction(pieces, number)
    if "odd" in kinds or _adds_digits(pieces) or _names_another(pieces, unit):
        return True
    minus = any(piece.kind == "literal" and _MINUS & set(piece.said) for piece in pieces)
    of_days = any(piece.kind == "date" for piece in _pieces(planned))
    if kinds & {"date", "elapsed"}:
        usual = planned.casefold() in {"general", "@"}
        return not usual and (not of_days or _hides_day(pieces))
    if "general" in kinds:
        return len(pieces) != 1 or (number < 0 and not signed) or _is_bare(number, planned)
    if number == 0 and _is_dash(pieces):
        return False
    if minus != (number < 0 and not signed):
        return True
    return _hides_digits(pieces, number, planned)


def _adds_digits(pieces: list[Sign]) -> bool:
    """Return whether digits that are none of the number, or a point of their own, are shown."""
    for at, piece in enumerate(pieces):
        if piece.kind == "figure":
            return True
        if piece.kind not in {"literal", "fill"}:
            continue
        if any(sign.isnumeric() for sign in piece.said):
            return True
        beside = {one.kind for one in pieces[max(at - 1, 0) : at + 2]}
        if "digit" in beside and _LIKE_A_NUMBER & {piece.said[:1], piece.said[-1:]}:
            return True
    digits = [at for at, piece in enumerate(pieces) if piece.kind == "digit"]
    within = pieces[digits[0] : digits[-1]] if digits else []
    return any(piece.kind in {"literal", "fill", "space"} for piece in within)


def _is_dash(pieces: list[Sign]) -> bool:
    """Return whether a part shows a dash, as accounts do for nothing."""
    said = "".join(piece.said for piece in pieces if piece.kind == "literal")
    signs = [sign for sign in said if unicodedata.category(sign) not in {"Sc", "Zs"}]
    others = {piece.kind for piece in pieces} - {"literal", "space", "fill", "digit"}
    zeros = any(piece == ("digit", "0") for piece in pieces)
    return len(signs) == 1 and signs[0] in "-–—" and not others and not zeros


def _names_another(pieces: list[Sign], unit: str) -> bool:
    """Return whether a unit is written beside the number that is not the one of its label."""
    words = _WORDS.findall(" ".join(piece.said for piece in pieces if piece.kind == "literal"))
    if "%" in words:
        return True
    own = {_meant(word) for word in [unit, *_WORDS.findall(unit)]}
    return any(_meant(word) not in {*own, ""} for word in words) if unit else False


@lru_cache(maxsize=256)
def _meant(word: str) -> str:
    """Return the unit a word names, nothing for other words."""
    try:
        return lengths.unit_term(lengths.tidy(word), "us").text
    except InputError:
        return ""


def _hides_day(pieces: list[Sign]) -> bool:
    """Return whether a day is shown without its day or month, or by another calendar."""
    said = "".join(piece.said.casefold() for piece in pieces if piece.kind == "date")
    kinds = {piece.kind for piece in pieces}
    return bool(kinds & {"elapsed", "digit", "percent"} or set(said) & set("egb")) or not (
        "d" in said.replace("ddd", "") and "m" in said
    )


def _hides_fraction(pieces: list[Sign], number: float) -> bool:
    """Return whether a part with a stroke shows another number."""
    said = _FRACTION.fullmatch("".join(piece.said for piece in pieces))
    others = {(piece.kind, piece.said) for piece in pieces if piece.kind in {"literal", "fill"}}
    if said is None or others - {("literal", " ")}:
        return True
    under = said[1]
    if under.isdecimal():
        shown = round(number * int(under)) / int(under)
    else:
        shown = float(Fraction(number).limit_denominator(10 ** len(under) - 1))
    return _is_far(shown, number)


def _hides_digits(pieces: list[Sign], number: float, planned: str) -> bool:
    """Return whether the digits shown are not those of the number."""
    shown_by = [piece for piece in pieces if piece.kind not in {"literal", "fill", "space"}]
    if not _PLAIN.fullmatch("".join(map(_sign, shown_by))):
        return True
    kinds = [piece.kind for piece in shown_by]
    percents = kinds.count("percent")
    if percents > 1 or (percents and "%" not in planned):
        return True
    if not percents and _is_bare(number, planned):
        return True
    scaled = 100.0 if percents else 1.0
    shown = _rounded(kinds, number * scaled) / scaled
    if not shown and not any(piece == ("digit", "0") for piece in pieces):
        return True  # nothing at all
    as_planned = _places(planned)
    if "power" in kinds or as_planned is None:
        return _is_far(shown, number)
    wanted = round(number, as_planned)
    return _is_far(shown, wanted) and abs(shown - wanted) > 0.51 * 10.0**-as_planned


def _sign(piece: Sign) -> str:
    return piece.said if piece.kind == "digit" else _SIGNS.get(piece.kind, "x")


def _is_far(shown: float, number: float) -> bool:
    return abs(shown - number) > CLOSE * abs(number)


def _places(code: str) -> int | None:
    """Return the places of a plain format, as a number is rounded by; None for any other."""
    pieces = [piece.kind for piece in _pieces(_sections(code)[0])]
    if set(pieces) - {"digit", "point", "comma", "percent"}:
        return None
    after = pieces[pieces.index("point") :].count("digit") if "point" in pieces else 0
    return after + 2 * pieces.count("percent")


def _rounded(kinds: list[Kind], number: float) -> float:
    """Return a number as its digits show it."""
    point = kinds.index("point") if "point" in kinds else len(kinds)
    end = kinds.index("power") if "power" in kinds else len(kinds)
    places = kinds[point:end].count("digit")
    return float(f"{number:.{places}{'e' if 'power' in kinds else 'f'}}")


def _sections(code: str) -> list[str]:
    """Return the parts of a format that semicolons part."""
    found = [""]
    for match in _TOKENS.finditer(code):
        if match[0] == ";":
            found.append("")
        else:
            found[-1] += match[0]
    return found


@lru_cache(maxsize=512)
def _pieces(section: str) -> tuple[Sign, ...]:
    return tuple(_piece(match) for match in _TOKENS.finditer(section))


def _piece(match: re.Match[str]) -> Sign:
    kind, said = match.lastgroup or "plain", match[0]
    inner = match[kind] or ""
    if kind in {"quoted", "escaped"}:
        return Sign("literal", inner)
    if kind == "bracket":
        return _bracket(inner)
    if kind == "clock":
        return Sign("date", "")
    if kind == "plain":
        odd: Kind = "odd" if said in '"\\_*[]' else "figure" if said.isnumeric() else "literal"
        return Sign(odd, said)
    return Sign(kind, inner if kind == "fill" else said)  # type: ignore[arg-type]


def _bracket(said: str) -> Sign:
    """Return what stands in brackets: a colour, a condition, a currency, hours that run on."""
    small = said.casefold().strip()
    numbered, currency = _NUMBERED.fullmatch(small), _LOCALE.fullmatch(said)
    if small in _COLOURS:
        return Sign("colour", _COLOURS[small])
    if numbered:
        return Sign("colour", numbered[1])
    if _CONDITION.fullmatch(small):
        return Sign("condition", small.replace(" ", ""))
    if small and not small.strip("hms"):
        return Sign("elapsed", small)
    if small.startswith(("dbnum", "natnum")):
        return Sign("space", "")
    if currency and not _is_other_calendar(currency["place"] or ""):
        return Sign("literal", currency["sign"])
    return Sign("odd", said)


def _is_other_calendar(place: str) -> bool:
    """Return whether a place names a calendar or digits that are not those of the template.

    It is the number of a language, with those of its digits and its calendar before it.
    """
    before = place[:-4] if re.fullmatch(r"[0-9A-Fa-f]{5,8}", place) else ""
    return bool(before.strip("0")) or "," in place
