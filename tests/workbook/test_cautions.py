"""What the sheets say of safety: nothing that hurts, and the usual cautions where work needs them.

Common practice, no source: water on a floor before it is coated, a draught on a wet coat, a dust
mask against vapour and resin waste in a client's hands are what a master would never say.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from pourbook.functions.batch.mix_cards import cautions
from pourbook.tables.products import Product
from pourbook.workbook.layout.laid_out import Layout

NEVER = ("moving air", "water, not air", "wear a mask", "spread it thin")
SAID = {
    "Layers": (
        *("sensitise", "respirator", "a dust mask is none", "no draught", "heats itself"),
        *("extinguisher", "lead or asbestos", "HEPA", "no dry sweeping", "slippery", "licensed"),
    ),
    "Care": ("sensitive for life", "no flame", "call us", "safety data sheet", "licensed trades"),
}


def _words(plan: Layout, sheet: str) -> str:
    cells = plan.on_sheet[sheet]
    return " ".join(str(c.value) for c in cells if c.value) + " ".join(c.formula for c in cells)


def test_no_sheet_gives_advice_that_hurts(plan_us: Layout) -> None:
    for sheet in plan_us.on_sheet:
        said = _words(plan_us, sheet)
        assert not [words for words in NEVER if words in said], sheet


@pytest.mark.parametrize("sheet", SAID)
def test_the_usual_cautions_stand_where_the_work_is(plan_us: Layout, sheet: str) -> None:
    said = _words(plan_us, sheet)
    assert not [words for words in SAID[sheet] if words not in said]


def test_cards_say_the_usual_cautions_and_what_the_data_sheet_names() -> None:
    coat = Product("Top", "volume", (2.0, 1.0), (1080.0, 1060.0), 0.6, "A")
    for words in ("sensitise", "as its safety data sheet says", "No draught", "heats itself"):
        assert words in cautions(coat)
    assert "extinguisher" in cautions(coat)
    named = cautions(replace(coat, isocyanate=True, flammable=True, respirator="full face"))
    for words in ("Isocyanates", "It burns: no flame, spark", "respirator full face,", "sensitise"):
        assert words in named
    assert "as its safety data sheet says" in named
