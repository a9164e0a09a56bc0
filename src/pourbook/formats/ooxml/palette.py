"""Colours as a workbook names them, as RRGGBB, and how far two of them stand apart.

Contract: pure. A colour is named by itself, by its place in the theme or in a palette of old, and
may be tinted. Source: ECMA-376 part 1, 18.8.3, 18.8.19 and 18.8.27, from memory.
"""

from __future__ import annotations

import colorsys
import re
from functools import cache

from lxml import etree

from pourbook.compiled import kept
from pourbook.formats.ooxml.attributes import number_of, whole
from pourbook.records import dataclass

WHITE, BLACK = "FFFFFF", "000000"
_IN_THEME = ("lt1", "dk1", "lt2", "dk2", *(f"accent{n}" for n in range(1, 7)), "hlink", "folHlink")
_PAPER, _INK = 65, 64
"""The numbers of what a program shows where nothing is said."""
_UNREAD, _FAINT, _ALIKE = 1.1, 1.3, 150
"""Contrast nobody reads, contrast that is read by the hue alone, and the least such hue."""
_RGB = re.compile(r"(?:[0-9A-Fa-f]{2})?([0-9A-Fa-f]{6})")


@dataclass(frozen=True)
class Palette:
    """The colours a workbook names by number: those of its theme, and those of old."""

    theme: tuple[str, ...] = (WHITE, BLACK)
    numbered: tuple[str, ...] = ()

    def by_number(self, number: int) -> str | None:
        """Return a colour of old by its number; nothing where there is none."""
        if number in {_PAPER, _INK}:
            return WHITE if number == _PAPER else BLACK
        numbered = self.numbered or _numbered()
        return numbered[number] if 0 <= number < len(numbered) else None


@cache
def _numbered() -> tuple[str, ...]:
    """Return the palette every program knows."""

    def listed() -> tuple[str, ...]:
        from openpyxl.styles.colors import COLOR_INDEX  # noqa: PLC0415 - 0.1 s, wanted once

        return tuple(one[-6:].upper() for one in COLOR_INDEX)

    return kept("numbered colours", listed)


def palette(styles: etree._Element, theme: etree._Element | None) -> Palette:
    """Return the palette of a workbook.

    Args:
        styles: Its styles.
        theme: Its theme, if it has one.
    """
    own = (one.get("rgb", "") for one in styles.iterfind("{*}colors/{*}indexedColors/{*}rgbColor"))
    numbered = tuple(map(_plain, own))
    if theme is None:
        return Palette(numbered=numbered)
    scheme = next(iter(theme.iter("{*}clrScheme")), None)
    said = {} if scheme is None else {etree.QName(one).localname: one for one in scheme}
    named = tuple(_in_theme(said.get(name)) for name in _IN_THEME)
    return Palette(named if named[0] and named[1] else Palette().theme, numbered)


def _in_theme(named: etree._Element | None) -> str:
    if named is None or len(named) == 0:
        return ""
    said = named[0].get("lastClr") or named[0].get("val") or ""
    return _plain(said)


def _plain(said: str) -> str:
    """Return a colour that is named by itself as RRGGBB; nothing for what is none."""
    rgb = _RGB.fullmatch(said)
    return rgb[1].upper() if rgb else ""


def colour(said: etree._Element | None, known: Palette) -> str | None:
    """Return a colour as RRGGBB; nothing where it is not known.

    Args:
        said: The element that names it.
        known: The colours that have numbers.
    """
    if said is None:
        return None
    plain: str | None = _plain(said.get("rgb", ""))
    if not plain:
        theme, indexed = whole(said.get("theme")), whole(said.get("indexed"))
        if theme >= 0:
            plain = known.theme[theme] if theme < len(known.theme) else None
        else:
            plain = known.by_number(indexed)
    return tinted(plain, number_of(said.get("tint"), 0.0)) if plain else None


def tinted(plain: str, tint: float) -> str:
    """Return a colour made lighter (up to 1) or darker (down to -1).

    Example:
        >>> tinted("000000", 1.0), tinted("FFFFFF", -0.5), tinted("4F81BD", 0.0)
        ('FFFFFF', '808080', '4F81BD')
    """
    if not tint:
        return plain
    hue, light, much = colorsys.rgb_to_hls(*(one / 255 for one in _rgb(plain)))
    by = max(-1.0, min(1.0, tint))
    light = light * (1 + by) if by < 0 else light * (1 - by) + by
    return "".join(f"{round(one * 255):02X}" for one in colorsys.hls_to_rgb(hue, light, much))


def contrast(ink: str, paper: str) -> float:
    """Return the WCAG 2.1 contrast ratio of two colours, from 1 to 21.

    Source: WCAG 2.1, definitions of contrast ratio and relative luminance (from memory).

    Example:
        >>> round(contrast("000000", "FFFFFF"), 1)
        21.0
    """
    light, dark = sorted((_luminance(ink), _luminance(paper)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def is_close(ink: str, paper: str) -> bool:
    """Return whether words of one colour can hardly be told from a paper of the other.

    Example:
        >>> is_close("FEFEFE", "FFFFFF"), is_close("FFFF00", "FFFFFF"), is_close("00FF00", "E3EBF2")
        (True, True, False)
    """
    apart = contrast(ink, paper)
    hue = sum(abs(a - b) for a, b in zip(_rgb(ink), _rgb(paper), strict=True))
    return apart < _UNREAD or (apart < _FAINT and hue < _ALIKE)


def _rgb(said: str) -> tuple[int, ...]:
    return tuple(int(said[at : at + 2], 16) for at in (0, 2, 4))


def _luminance(said: str) -> float:
    parts = [one / 255 for one in _rgb(said)]
    linear = [c / 12.92 if c <= 0.03928 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]
