"""Colours that name nothing end no check."""

from __future__ import annotations

import pytest
from lxml import etree

from pourbook.formats.ooxml.palette import BLACK, Palette, colour, palette


@pytest.mark.parametrize(
    "said", ['theme="{}"'.format("9" * 5000), 'indexed="-1"', 'rgb="zz"', 'theme="²"', ""]
)
def test_a_colour_nobody_knows_is_none(said: str) -> None:
    assert not colour(etree.fromstring(f"<color {said}/>"), Palette())


def test_a_tint_that_is_no_number_tints_nothing() -> None:
    assert colour(etree.fromstring('<color theme="1" tint="nan"/>'), Palette()) == BLACK


def test_colours_of_a_palette_of_its_own_that_are_none() -> None:
    own = '<s><colors><indexedColors><rgbColor rgb="x"/></indexedColors></colors></s>'
    assert not colour(
        etree.fromstring('<color indexed="0"/>'), palette(etree.fromstring(own), None)
    )
