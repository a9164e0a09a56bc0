"""Additives by hand: what each option takes of pigment, thinner and flakes, and its packs."""

from __future__ import annotations

from collections.abc import Sequence

import pytest

from pourbook.cells import Rows, Value, row_of
from pourbook.functions.catalogue import evaluate
from pourbook.functions.mix import parts
from pourbook.tables import doing, layers
from pourbook.tables.buy.additives import COLUMNS

PARTS = tuple(c.id for c in parts.RESULTS)
FLAKES: dict[str, Value] = {
    "additive": "Flakes",
    "serves": "broadcast",
    "pack": "5 kg",
    "pack_price": 40.0,
}
WHITE: dict[str, Value] = {
    "additive": "White",
    "serves": "pigment",
    "pack": "100 g",
    "pack_price": 12.0,
}
GREY: dict[str, Value] = {
    "additive": "grey",
    "serves": "pigment",
    "pack": "100 g",
    "pack_price": 15.0,
}
Rowed = list[list[Value]]


def _layer(option: str, name: str, cups: str | None = None, **amounts: Value) -> tuple[Value, ...]:
    """Return an option, a layer, its colour cups and its row of PB_PARTS, as one to take apart."""
    figures = dict.fromkeys(
        ("mass_a", "mass_b", "mass_c", "pigment_mass", "thinner_volume", "broadcast_mass"), 0.0
    )
    told: dict[str, Value] = {**figures, "part_status": "ok", **amounts}
    return option, name, cups, *(told.get(c) for c in PARTS)


def _asked(coats: Sequence[tuple[Value, ...]], *rows: dict[str, Value]) -> Rowed:
    given: list[Value | Rows] = [
        [row_of(layers.COLUMNS, option=c[0], layer=c[1]) for c in coats],
        [row_of(doing.DOING, name=c[0], layer_name=c[1], cups=c[2]) for c in coats],
        [c[3:] for c in coats],
        [row_of(COLUMNS, **row) for row in rows],
        "metric",
    ]
    found = evaluate("PB_ADDITIVES", given)
    assert isinstance(found, list), found
    return [list(row) for row in found]


def test_flakes_of_each_option_are_bought_in_whole_packs_after_what_is_left() -> None:
    """A takes 11 kg and 1.5 kg, B 4 kg; 2 kg are left: 10.5 kg are 3 packs of 5, 2 kg are 1."""
    coats = (
        _layer("A", "Base", broadcast_mass=11_000.0),
        _layer("A", "Top", broadcast_mass=1_500.0),
        _layer("B", "Base", broadcast_mass=4_000.0),
    )
    (row,) = _asked(coats, {**FLAKES, "left": 2.0})
    assert row == ["kg", 12.5, 4.0, 0.0, 120.0, 40.0, 0.0, "A 3; B 1", "ok", "ok"]


def test_a_colour_cup_takes_the_pigment_of_its_name() -> None:
    """8 kg and 2 kg of mix, 60 : 40; white 6 kg at 4 % is 240 g, grey 4 kg at 5 % is 200 g."""
    cups = "white 60 at 4 %; Grey 40 at 5 %"
    coats = (_layer("A", "Base", cups, mass_a=8_000.0, mass_b=2_000.0),)
    white, grey = _asked(coats, WHITE, GREY)
    assert [white[1], grey[1]] == pytest.approx([0.24, 0.2])
    assert [white[4], white[7], grey[4], grey[7]] == [36.0, "A 3", 30.0, "A 2"]
    (white,) = _asked(coats, WHITE)
    assert white[-1] == "CHECK: 0.20 kg of Grey pigment in 'Base', option A, is in no row"


def test_one_that_names_its_layer_goes_before_one_for_all() -> None:
    coats = (
        _layer("A", "Base", pigment_mass=50.0),
        _layer("A", "Top", pigment_mass=30.0),
    )
    every, only = _asked(coats, WHITE, {**GREY, "for_layer": "top"})
    assert [every[1], only[1]] == pytest.approx([0.05, 0.03])
    assert [every[-1], only[-1]] == ["ok", "ok"]


def test_water_needs_no_row_and_a_thinner_is_bought_by_volume() -> None:
    coats = (_layer("A", "Top", thinner_volume=250.0),)
    (row,) = _asked(coats, FLAKES)
    assert row[1:5] == [0.0, 0.0, 0.0, 0.0]
    assert row[-1] == "ok"
    thinner: dict[str, Value] = {
        "additive": "Thinner", "serves": "water or thinner", "pack": "100 mL", "pack_price": 4.0,
    }  # fmt: skip
    (row,) = _asked(coats, thinner)
    assert row[:2] == ["L", 0.25]
    assert (row[4], row[7]) == (12.0, "A 3")
    (row,) = _asked(coats, {**thinner, "pack": "1 kg"})
    assert "it is sold by weight, and goes into 'Top' by volume" in str(row[8])


@pytest.mark.parametrize(
    ("cells", "said"),
    [
        ({"additive": None}, "Additive: it is blank"),
        ({"serves": "salt"}, "Goes in as: 'salt' is not in the list"),
        ({"pack": None}, "Pack holds: it is blank"),
        ({"pack": "many"}, "Pack holds: 'many' is no weight and no volume"),
        ({"pack": 0}, "Pack holds: a pack holds 0"),
        ({"pack_price": None}, "Price: it is blank"),
        ({"pack_price": -1}, "Price: it is -1"),
        ({"left": "1 L"}, "In stock: a pack is sold by weight, what is left is a volume"),
    ],
)
def test_bad_row_says_where_and_how_to_mend_it(cells: dict[str, Value], said: str) -> None:
    row, sound = _asked((), {**FLAKES, **cells}, WHITE)
    assert said in str(row[8])
    assert str(row[8]).startswith("! ")
    assert (set(row[:8]), sound[8]) == ({"!"}, "ok")


def test_a_layer_that_is_not_in_order_takes_nothing_yet() -> None:
    refused = _layer("A", "Base", broadcast_mass="!", part_status="! fix it")
    (row,) = _asked((refused,), FLAKES)
    assert row[1:] == [0.0, 0.0, 0.0, 0.0, 0.0, 0.0, "", "ok", ""]


def test_what_in_no_row_is_found_is_said_of_each_layer() -> None:
    coats = (
        _layer("A", "Base", pigment_mass=50.0),
        _layer("B", "Base", broadcast_mass=70.0),
    )
    first, second = _asked(coats, FLAKES, {})
    assert first[-1] == "CHECK: 0.05 kg of pigment in 'Base', option A, is in no row"
    assert second == ["", "", "", "", "", "", "", "", "", "ok"]
