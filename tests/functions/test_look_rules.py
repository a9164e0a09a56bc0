"""Odd entries: what just still passes, what just does not, and what is said to be meant instead.

The bounds are those of the module's own usual ranges (common practice, no source); what may be
meant is worked out by hand from what is typed: 0.7 % for 7 %, 2:30 for 2.5 hours.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import fields
from typing import Any

import pytest

from pourbook import units
from pourbook.cells import Value, word
from pourbook.functions.own import looks as looks_sheet
from pourbook.functions.own.look_rules import Look, Seen, seen

METRIC, US = units.SYSTEMS["metric"], units.SYSTEMS["us"]


def row(**cells: Value) -> Any:
    """Return a row in which all else is blank."""
    return defaultdict(lambda: None, cells)


def looks(**typed: Any) -> list[Look]:
    """Return the looks of a job in which nothing else is typed."""
    blank: dict[str, Any] = {one.name: [] for one in fields(Seen)}
    blank |= {"rates": row(), "tax": None, "system": METRIC}
    return seen(Seen(**(blank | typed)))


def names(**typed: Any) -> list[str]:
    return [look.name for look in looks(**typed)]


def meant(**typed: Any) -> list[str]:
    return [look.meant for look in looks(**typed)]


@pytest.mark.parametrize("loss", [None, 0, 0.01, 0.12, 0.3, 1.0, "x"])
def test_a_usual_loss_is_no_look(loss: Value) -> None:
    assert looks(layers=[row(layer="Flood", loss=loss)]) == []


@pytest.mark.parametrize(
    ("loss", "name", "said"),
    [
        (0.0012, "Loss of Flood: 0.12 %", "12 % may be meant"),
        (0.0099, "Loss of Flood: 0.99 %", "99 % may be meant"),
        (0.35, "Loss of Flood: 35 %", "3.5 % may be meant"),
        (0.31, "Loss of Flood: 31 %", "3.1 % may be meant"),
    ],
)
def test_an_unusual_loss_is_looked_at(loss: float, name: str, said: str) -> None:
    (look,) = looks(layers=[row(), row(layer="Flood", loss=loss)])
    assert (look.name, look.meant) == (name, said)
    assert (look.entry, look.where) == (("layers", "loss", 1), "Layers, row 2 of its table")
    assert looks(layers=[row(layer=" ", loss=loss)]) == []


def test_solids_as_low_as_no_product_has() -> None:
    assert looks(products=[row(product="Clear", solids=0.1), row(product="", solids=0.01)]) == []
    (look,) = looks(products=[row(), row(product="Clear", solids=0.099)])
    assert look.name == "Volume solids of Clear: 9.9 %"
    assert (look.meant, look.entry) == ("a digit may be missing", ("products", "solids", 1))
    assert meant(products=[row(product="Clear", solids=0.0098)]) == ["98 % may be meant"]


def test_rates_that_are_usual() -> None:
    assert looks(tax=0.01, rates=row(overhead=0.01, uplift=0.05)) == []
    assert looks(tax=0.3, rates=row(overhead=0.5, uplift=0.7, uplift_is="margin")) == []
    assert looks(tax=0, rates=row(overhead=0, uplift=0)) == []
    assert looks(rates=row(uplift=2.5, uplift_is="markup")) == []
    assert looks(rates=row(uplift=-0.2)) == []


@pytest.mark.parametrize(
    ("tax", "said"),
    [(0.007, "7"), (0.003, "30"), (0.0031, "3.1"), (0.0099, "9.9"), (0.0009, "9")],
)
def test_a_tax_a_hundred_or_ten_times_too_small(tax: float, said: str) -> None:
    """No tax is above 30 %: 0.31 % is rather 3.1 than 31 %."""
    (look,) = looks(tax=tax)
    assert look.name == f"Tax: {tax * 100:.4g} %"
    assert (look.meant, look.entry) == (f"{said} % may be meant", ("money", "tax", 0))


def test_rates_that_are_not() -> None:
    (low,) = looks(rates=row(overhead=0.0099))
    assert (low.name, low.meant) == ("Overhead: 0.99 %", "99 % may be meant")
    assert low.entry == ("rates", "overhead", 0)
    (small,) = looks(rates=row(uplift=0.049))
    assert (small.name, small.meant) == ("Margin: 4.9 %", "a digit may be missing")
    assert small.usual == "30 to 50 % of the price, small jobs"
    (large,) = looks(rates=row(uplift=0.71))
    assert (large.name, large.meant) == ("Margin: 71 %", "7.1 % may be meant")
    (added,) = looks(rates=row(uplift=2.6, uplift_is="markup"))
    assert (added.name, added.meant) == ("Markup: 260 %", "26 % may be meant")
    assert added.usual == "43 to 100 % of the cost, small jobs"


HOURS: list[Value] = [0.25, 0.5, 0.1042, 1, 1.0, 0, None, True, 4 / 3, 11 / 7]


def test_hours_that_are_a_clock_time() -> None:
    """2:30 typed is 2.5 of 24 hours, 0:50 is 50 of 1,440 minutes; 0.1042 and 4/3 are hours."""
    usual = [row(step="Sand", hours=hours) for hours in HOURS]
    assert looks(labour=usual) == []
    first, second = looks(
        labour=[row(step="Sand", hours=2.5 / 24), row(step="Mask", hours=50 / 1440)]
    )
    assert (first.name, first.meant) == ("Sand: 0.1042 hours", "2:30 may be meant: type 2.5")
    assert (second.name, second.meant) == (
        "Mask: 0.0347 hours",
        "0:50 may be meant: type 0.8333",
    )
    assert (first.entry, second.entry) == (("labour", "hours", 0), ("labour", "hours", 1))
    assert second.where == "Price, row 2 of its table"


@pytest.mark.parametrize(
    ("a", "b"),
    [("3 m", "1.5 m"), ("3 m", "5 ft"), ("5 ft", "12 ft"), ("5 ft", "3 m"), ("x", "9 m")],
)
def test_a_top_as_deep_as_one_may_be(a: str, b: str) -> None:
    assert looks(rooms=[row(piece="Island top", a=a, b=b)]) == []


@pytest.mark.parametrize(
    ("a", "b"), [("3 m", "1.53 m"), ("1 m", "3.7 m"), ("5.01 ft", "5.01 ft"), ("13 ft", "13 ft")]
)
def test_a_top_deeper_than_any_is_looked_at(a: str, b: str) -> None:
    """No top is deeper than 5 ft (1.524 m), or has a second side above 12 ft (3.658 m)."""
    (look,) = looks(rooms=[row(room="Den", piece="Bar", a=a, b=b)])
    assert look.name == f"Den, Bar is {a} by {b}"
    assert (look.entry, look.usual) == (("rooms", "b", 0), "no top is more than 1.5 m deep")
    assert looks(rooms=[row(room="Den", piece="Floor", a=a, b=b)]) == []
    assert looks(rooms=[row(room="Den", piece="Panel", a=a, b=b)]) == []
    assert looks(rooms=[row(room="Den", piece="Bar floor", a=a, b=b)]) == []
    assert looks(rooms=[row(room="Den", piece="Bar", shape="circle", a=a, b=b)]) == []
    edged = row(room="Den", piece="Slab", a=a, b=b, edge_run="1 m")
    assert len(looks(rooms=[edged])) == 1


def test_a_bare_size_is_told_with_its_unit() -> None:
    bare = row(room="Den", piece="Bars", a=2000, b="9000")
    assert names(rooms=[bare]) == ["Den, Bars is 2000 mm by 9000 mm"]
    inches = row(room="Den", piece="Bar", a=200, b=90)
    assert names(rooms=[inches], system=US) == ["Den, Bar is 200 in by 90 in"]


def test_pieces_of_one_name_and_size() -> None:
    bar = {"room": "Den", "piece": "Bar", "shape": "rectangle", "a": "2 m", "b": "1 m"}
    rows = [row(**bar), row(**(bar | {"b": "0.9 m"})), row(**(bar | {"piece": " BAR "}))]
    (look,) = looks(rooms=[*rows, row(room="Den"), row(room="Den")])
    assert look.name == "Den, Bar (2 m x 1 m) stands 2 times"
    assert look.entry == ("rooms", "piece", 2)


def test_what_is_hollow_needs_a_layer_that_fills() -> None:
    hollow = [row(piece="Bar"), row(piece="Knot", shape="void"), row(piece="Hole", shape="void")]
    flood, fill = row(layer="Flood", surfaces="top"), row(layer="Fill", surfaces="fills")
    assert looks(rooms=hollow) == looks(rooms=hollow, layers=[flood, fill]) == []
    (look,) = looks(rooms=hollow, layers=[flood, row(surfaces="fills")])
    assert look.name == "Knot is to be filled, and no layer fills"
    assert look.entry == ("rooms", "shape", 1)


def test_an_old_coat_is_sanded_before_the_first_layer_of_each_option() -> None:
    survey = [row(survey_room="Den", substrate="old coating"), row(substrate="wood")]
    sanded = row(option="A", layer="Base", before="sand 220 and clean")
    clean = row(option="A", layer="Flood", before="clean")
    assert looks(survey=survey, layers=[sanded, clean]) == []
    other = row(option="B", layer="Tint", before="clean")
    elsewhere = row(option="C", layer="Top", before="clean", rooms="Kitchen, Hall")
    (look,) = looks(survey=survey, layers=[sanded, clean, other, elsewhere])
    assert look.name == "Den: old coating, and Tint (option B) goes on it without sanding"
    assert look.entry == ("layers", "before", 2)
    assert len(looks(survey=survey, layers=[clean, sanded])) == 1
    here = row(option="C", layer="Top", before="clean", rooms="Kitchen, den")
    assert len(looks(survey=survey, layers=[here])) == 1


def test_a_cure_in_order() -> None:
    right = row(name="Clear", touch="4 h", light="1 d", full=168)
    assert looks(working=[right, row(name="Tint", touch=4, light=4, full=4), row()]) == []
    wrong = row(name="Clear", touch=40, light="1 d", full="30 h")
    (look,) = looks(working=[right, wrong])
    assert look.name == ("Clear is not cured in order: touch dry 40, light use 1 d, full cure 30 h")
    assert look.entry == ("working", "light", 1)
    assert looks(working=[row(name="Clear", touch=40, light="x", full=50)]) == []


def test_a_batch_judged_to_look_at() -> None:
    """Day 46,398.5 is 11 January 2027 at noon."""
    log = [
        row(batch=3, layer="Flood", started=46398.5),
        row(layer="Top", started=2958465),
        row(layer="Tint", started=-1),
        row(layer="Fill", started=0.5),
        row(batch=1, layer="Base"),
        row(layer="Seal", started=0),
    ]
    verdicts = ["look", " look ", "look", "look", "ok", "look"]
    found = looks(log=log, verdicts=verdicts, reasons=["hot", "cold", "", "", "x", "wet"])
    assert [look.name for look in found] == [
        "Batch 3 of 2027-01-11 12:00, Flood: hot",
        "A batch, Top: cold",
        "A batch, Tint:",
        "A batch of 1899-12-30 12:00, Fill:",
        "A batch, Seal: wet",
    ]
    assert [look.entry[2] for look in found] == [0, 1, 2, 3, 5]


def test_a_product_that_was_not_counted() -> None:
    issued = [row(product="Clear", came=12.5), row(product="Tint", came=3.0)]
    assert looks(issued=issued, counted=[None, None]) == []
    assert looks(issued=issued, counted=["TINT ", "clear", None]) == []
    (look,) = looks(issued=[*issued, row(product="Top", came=0.0)], counted=["Tint", None, None])
    assert look.name == "Clear: 12.5 L issued, and not counted: taken as 0 left"
    assert (look.entry, look.where) == (("left", "product", 1), "Used, row 2 of its table")
    (full,) = looks(issued=issued, counted=["Tint", "Base"])
    assert full.entry == ("left", "product", 1)
    assert looks(issued=[row(product="Top", came="x"), row(came=3.0)], counted=["Tint"]) == []


def test_an_amount_is_told_alike_whatever_the_last_digit_a_program_holds() -> None:
    """Job 107019 of the agreement run: five kits of 2.943 L, added up in two ways."""
    said = {
        look.name.split(" issued")[0]
        for came in (14.715, 14.714999999999998, 14.715000000000002)
        for look in looks(issued=[row(product="Clear", came=came)], counted=["Tint", None])
    }
    assert said == {"Clear: 14.72 L"}


def test_a_long_name_is_cut_and_stays_its_own() -> None:
    long = ["x" * 90 + "1", "x" * 90 + "2"]
    found = names(layers=[row(layer=one, loss=0.001) for one in long])
    assert len({*found}) == 2
    assert all(len(name) == 100 + 3 + 1 + 4 for name in found)
    (short,) = names(layers=[row(layer="x" * 83, loss=0.001)])
    assert short == f"Loss of {'x' * 83}: 0.1 %"


def test_more_looks_than_the_sheet_has_rows_are_counted_as_open_or_closed() -> None:
    many = [Look(f"look {n}", ("rooms", "a", n), "Rooms") for n in range(looks_sheet.ROWS + 2)]
    shut = {word(one.name): looks_sheet.Closing("ab", "seen") for one in many}
    state = 4
    for closings, closed in (
        ({}, False),
        (shut, True),
        ({word(many[3].name): looks_sheet.Closing("ab", "seen")}, False),
    ):
        rows = looks_sheet._listed(many, closings)
        assert len(rows) == looks_sheet.ROWS
        assert rows[-1][0] == "3 more"
        assert rows[-1][state] == (looks_sheet.CLOSED if closed else looks_sheet.OPEN)
    half = {word(one.name): looks_sheet.Closing("ab", "seen") for one in many[:10]}
    rows = looks_sheet._listed(many[: looks_sheet.ROWS], half)
    states = [row[state] for row in rows]
    assert states == [looks_sheet.OPEN] * (looks_sheet.ROWS - 10) + [looks_sheet.CLOSED] * 10
    assert [row[0] for row in looks_sheet._listed([], {})] == [""] * looks_sheet.ROWS
