"""What may just be typed is read; what lies just beyond is refused, with the figure it was given.

The bounds are those that the sheets' own help and the refusals name; each is tried from both sides.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Callable, Mapping
from typing import Any

import pytest

from pourbook import units
from pourbook.cells import Value, ranges_of
from pourbook.dates import day_number
from pourbook.errors import PourbookError
from pourbook.functions.calls import call_rows
from pourbook.tables import colours, limits, reading, site
from pourbook.tables.buy.settled_losses import COLUMNS as LOSS_COLUMNS
from pourbook.tables.buy.settled_losses import settled_losses
from pourbook.tables.doing import DOING, EFFECTS, read_doing
from pourbook.tables.products import COLUMNS as PRODUCT_COLUMNS
from pourbook.tables.products import read_product
from pourbook.tables.substrates import Surveyed

METRIC, US = units.SYSTEMS["metric"], units.SYSTEMS["us"]
CLEAR: dict[str, Value] = {
    **dict.fromkeys(PRODUCT_COLUMNS),
    **{"product": "Clear", "parts": 2.0, "basis": "volume", "ratio": "2:1", "solids": 1.0},
    **{"density_a": "1.1 kg/L", "density_b": "1 kg/L"},
}
HOW: dict[str, Value] = {**dict.fromkeys(DOING), "bucket": "5 L", "pace": 6.0}
LOSS: dict[str, Value] = {**dict.fromkeys(LOSS_COLUMNS), "loss_of": "Clear"}
START = float(day_number(dt.date(2026, 12, 7)))
SITE: dict[str, Value] = {
    **{"start": START, "crew": 2.0, "days_off": None, "weekdays": "Mon-Fri", "temperature": 20.0},
    **{"humidity": None, "night": None, "day_from": None, "day_to": None, "surface": None},
    **{"work_from": 8.0, "work_to": 16.0},
}
PACE: dict[str, Value] = {"prepare": 1.0, "sand": 5.0, "clean": 5.0, "heat_pass": 1.0, "gap": 1.0}


def product(row: dict[str, Value]) -> object:
    return read_product(row, METRIC)


def doing(row: dict[str, Value]) -> object:
    return read_doing(row, 3.0, METRIC)


def loss(row: dict[str, Value]) -> object:
    (found,) = settled_losses([[row[name] for name in LOSS_COLUMNS]]).values()
    if isinstance(found, PourbookError):
        raise found
    return found


def on_site(row: dict[str, Value]) -> object:
    return site.read_site(row, METRIC)


def pace(row: dict[str, Value]) -> object:
    return site.read_pace(row, METRIC)


CALL: dict[str, Value] = {
    **dict.fromkeys(call_rows.LABELS),
    **{"call_date": START, "finish": "Clear top", "area": 4.0},
}
BLANK_SETTINGS: dict[str, Value] = dict.fromkeys(call_rows.SETTINGS)


def settings(row: dict[str, Value]) -> call_rows.Settings:
    return call_rows.read_settings([[row[name]] for name in call_rows.SETTINGS], METRIC)


def call(row: dict[str, Value]) -> call_rows.Call:
    return call_rows.read_call(row, settings(BLANK_SETTINGS), METRIC)


Reader = Callable[[dict[str, Value]], Any]
EFFECT: dict[str, Value] = {**HOW, "effect": EFFECTS[0]}
BOUNDS: list[tuple[Reader, Mapping[str, Value], str, list[Value], dict[Value, str]]] = [
    (product, CLEAR, "parts", [2.0], {0.0: "'0' parts", 2.5: "'2.5' parts", 4.0: "'4' parts"}),
    (product, CLEAR, "solids", [0.001, 1.0], {0.0: "0 of 1", 1.001: "1.001 of 1", -0.1: "-0.1 of"}),
    (product, CLEAR, "minutes", [0.5, 9.0], {0.0: "it is 0", -1.0: "it is -1"}),
    (
        product,
        CLEAR,
        "density_a",
        ["0.3 kg/L", "5 kg/L"],
        {"0.29 kg/L": "0.29 kg/L is no coating", "5.1 kg/L": "5.1 kg/L is no coating"},
    ),
    (product, CLEAR, "density_c", [None], {"1 kg/L": "there is no part C"}),
    (product, CLEAR, "voc", [0.0, 2000.0], {-1.0: "it is -1", 2001.0: "it is 2001"}),
    (product, CLEAR, "respirator", ["x" * 40], {"x" * 41: "it has 41 letters"}),
    (doing, HOW, "pace", [0.1], {0.0: "it is 0", -2.0: "it is -2"}),
    (doing, HOW, "mixers", [1.0, 9.0], {0.0: "it is 0", 10.0: "it is 10", 1.5: "it is 1.5"}),
    (doing, HOW, "hands", [1.0, 12.0], {0.0: "it is 0", 1.5: "it is 1.5"}),
    (doing, HOW, "heat_passes", [0.0, 99.0], {-1.0: "it is -1", 100.0: "it is 100", 0.5: "it is"}),
    (doing, HOW, "most_area", [0.1], {0.0: "it is 0", -1.0: "it is -1"}),
    (doing, HOW, "share", [0.01, 1.0], {0.0: "it is 0 %", 1.01: "it is 101 %"}),
    (doing, HOW, "joined", [0.01, 1.0], {0.0: "it is 0 %", 1.5: "it is 150 %"}),
    (doing, HOW, "carrying", [0.0, 5.0], {-1.0: "it is -1"}),
    (doing, EFFECT, "effect_pace", [0.0, 60.0], {-1.0: "it is -1", 61.0: "it is 61"}),
    (loss, LOSS, "settled_spread", [0.01, 3.0], {0.0: "it is 0", 3.1: "it is 3.1"}),
    (loss, LOSS, "settled_jobs", [0.0, 10_000.0], {-1.0: "it is -1", 10_001.0: "it is 10001"}),
    (loss, LOSS, "settled_loss", [0.001, 0.99], {0.0009: "0.09 %", 1.0: "100 %"}),
    (on_site, SITE, "crew", [1.0, 2.0], {0.0: "it is 0", 1.5: "it is 1.5"}),
    (on_site, SITE, "humidity", [0.01, 1.0, 5.0, 100.0], {0.0: "it is 0 %", 4.0: "it is 400 %"}),
    (pace, PACE, "prepare", [0.0, 10_000.0], {-1.0: "it is -1", 10_001.0: "it is 10001"}),
    (pace, PACE, "heat_pass", [0.0, 10_000.0], {-1.0: "it is -1", 10_001.0: "it is 10001"}),
    (pace, PACE, "gap", [0.0, 10_000.0], {-1.0: "it is -1", 10_001.0: "it is 10001"}),
    (settings, BLANK_SETTINGS, "lead", [0.0, 730.0], {-1.0: "it is -1", 731.0: "it is 731"}),
    (settings, BLANK_SETTINGS, "ready", [0.0, 1000.0], {-1.0: "it is -1", 1001.0: "it is 1001"}),
    (settings, BLANK_SETTINGS, "off", [0.001, 2.0], {0.0009: "it is 0.0009", 2.1: "it is 2.1"}),
    (settings, BLANK_SETTINGS, "sure", [0.5, 0.99], {0.49: "it is 0.49", 0.995: "it is 0.995"}),
    (settings, BLANK_SETTINGS, "edge", ["1 m", 1000.0], {"1.01 m": "it is more than a metre"}),
    (call, CALL, "rooms", [1.0, 100.0], {0.0: "it is 0", 101.0: "it is 101", 1.5: "it is 1.5"}),
    (call, CALL, "area", [0.1, 10_000.0], {0.0: "it is 0", 10_001.0: "it is 10001"}),
    (call, CALL, "run", [0.0, 30_000.0], {-1.0: "it is -1", 30_001.0: "it is 30001"}),
    (call, CALL, "came_to", [0.01], {0.0: "it is 0", -5.0: "it is -5"}),
    (call, CALL, "finish", ["x"], {" ": "it is blank"}),
    (pace, PACE, "sand", [0.1, None], {0.0: "it is 0", -1.0: "it is -1"}),
    (pace, PACE, "clean", [0.1, None], {0.0: "it is 0", -1.0: "it is -1"}),
]
NAMES = [f"{read.__name__} {name}" for read, _, name, *_ in BOUNDS]


@pytest.mark.parametrize("case", range(len(BOUNDS)), ids=NAMES)
def test_what_may_just_be_typed_is_read_and_no_more(case: int) -> None:
    read, row, name, right, wrong = BOUNDS[case]
    for value in right:
        assert read({**row, name: value})
    for value, said in wrong.items():
        with pytest.raises(PourbookError) as caught:
            read({**row, name: value})
        assert caught.value.what.startswith(said)
        assert caught.value.mend
        assert caught.value.where


def test_what_is_left_blank_is_as_the_sheets_say() -> None:
    """The helps of Products and Layers: 2 minutes, part A first, no pigment, one mixer, 70 %."""
    made = read_product(CLEAR, METRIC)
    assert (made.minutes, made.first, made.shake) == (2.0, "A", "none")
    assert (made.isocyanate, made.flammable, made.respirator) == (False, False, "")
    assert (made.voc, made.vertical) == (None, None)
    how = read_doing(HOW, 3.0, METRIC)
    assert (how.hands, how.mixers, how.heat_passes, how.batch_loss) == (2, 1, 0, 0.0)
    assert (how.share, how.joined, how.carrying) == (0.7, 1 / 3, 60.0)
    assert (how.most_area, how.keep_order, how.cups, how.effect) == (None, False, (), "")
    assert read_doing(HOW, 1.0, METRIC).hands == 1
    assert read_doing({**HOW, "mixers": 2.0}, 5.0, METRIC).hands == 3
    assert read_doing({**HOW, "cups": "white 1; grey 1"}, 3.0, METRIC).carrying == 180.0
    found = site.read_site(SITE, METRIC)
    assert (found.day, found.night, found.day_from, found.day_to) == (293.15, 293.15, 0.0, 24.0)
    assert (found.humidity, found.surface, found.crew) == (None, None, 2)


def test_jobs_of_templates_1_keep_no_reserve_of_the_pot_life() -> None:
    with ranges_of(1):
        how = read_doing(HOW, 3.0, METRIC)
        typed = read_doing({**HOW, "carrying": 2.0}, 3.0, METRIC)
    assert (how.share, how.carrying, typed.carrying) == (1.0, 0.0, 120.0)


def test_figures_are_read_in_the_units_of_the_job() -> None:
    """6 m²/h are 6/3600 m²/s; a square foot is 0.3048² m²."""
    assert math.isclose(read_doing(HOW, 3.0, METRIC).pace, 6 / 3600)
    assert math.isclose(read_doing(HOW, 3.0, US).pace, 6 * 0.3048**2 / 3600)
    area = {**HOW, "most_area": 10.0}
    assert read_doing(area, 3.0, METRIC).most_area == 10.0
    assert math.isclose(read_doing(area, 3.0, US).most_area or 0, 10 * 0.3048**2)
    slowed = read_doing({**EFFECT, "effect_pace": 10.0}, 3.0, METRIC).pace
    assert math.isclose(slowed, 1 / (600 + 600))  # 10 min/m² to spread, 10 more to work it in
    told = site.read_pace(PACE, METRIC)
    assert (told.prepare, told.heat_pass, told.gap) == (3600.0, 60.0, 60.0)
    assert told.sand is not None
    assert math.isclose(told.sand, 5 / 3600)


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ("white 0", "white has a share of 0"),
        ("white 60 at 100 %", "white has 100 % pigment"),
        (f"{'w' * 25} 60", "'wwwwwwwwwwwwwwwwwwwwwwwww' is long"),
        ("white 60; White 40", "'White' is there twice"),
        ("; ".join(f"c{'abcdefghijklm'[n]} 1" for n in range(13)), "13 colours"),
        ("white", "'white' is no colour cup"),
    ],
)
def test_colour_cups_that_cannot_be(typed: str, said: str) -> None:
    with pytest.raises(PourbookError) as caught:
        colours.read(typed)
    assert caught.value.what == said


def test_colour_cups_that_just_can_be() -> None:
    assert colours.read("white 1 at 99.5 %")[0].pigment == 0.995
    assert colours.read(f"{'w' * 24} 60")[0].share == 1.0
    assert len(colours.read("; ".join(f"c{'abcdefghijkl'[n]} 1" for n in range(12)))) == 12


@pytest.mark.parametrize(("value", "share"), [(0.01, 0.01), (1.0, 1.0), (5.0, 0.05), (100.0, 1.0)])
def test_a_humidity_is_a_share_or_per_cent(value: float, share: float) -> None:
    assert limits.humidity(value, "Humidity") == share


@pytest.mark.parametrize(
    ("value", "said"), [(1.5, "it is 150 %"), (4.9, "it is 490 %"), (100.5, "it is 10050 %")]
)
def test_a_humidity_between_or_beyond_is_refused(value: float, said: str) -> None:
    with pytest.raises(PourbookError) as caught:
        limits.humidity(value, "Humidity")
    assert caught.value.what == said


def test_no_step_is_longer_than_any_may_be() -> None:
    """10,000 h are 36,000,000 s."""
    assert site.minutes_up(36e6) == 36e6
    with pytest.raises(PourbookError) as caught:
        site.minutes_up(36e6 + 3600.0)
    assert caught.value.what == "it takes 1e+04 h"


def test_hours_typed_hold_for_their_hour_alone() -> None:
    """Day 20 °C from 8 to 18 h, night 10 °C; typed: the tenth hour 30 °C (from 9 to 10 h)."""
    found = site.read_site({**SITE, "night": 10.0, "day_from": 8.0, "day_to": 18.0}, METRIC)
    rows: list[list[Value]] = [[None] for _ in range(24)]
    rows[9] = [30.0]
    warm = site.read_history(rows, found, METRIC)
    hours = {7.5: 283.15, 8.5: 293.15, 9.0: 303.15, 9.9: 303.15, 10.0: 293.15, 18.5: 283.15}
    hours |= {24 + 9.5: 293.15, 24 + 19.0: 283.15}
    assert {hour: warm.at(hour * 3600.0) for hour in hours} == hours


def test_an_hour_of_0_degrees_is_typed() -> None:
    """Day 20 °C; typed: the tenth hour 0 °C alone."""
    found = site.read_site({**SITE, "night": 20.0, "day_from": 8.0, "day_to": 18.0}, METRIC)
    rows: list[list[Value]] = [[None] for _ in range(24)]
    rows[9] = [0.0]
    warm = site.read_history(rows, found, METRIC)
    assert [warm.at(hour * 3600.0) for hour in (8.5, 9.5, 10.5)] == [293.15, 273.15, 293.15]


def test_a_day_that_turns_in_the_midst_of_an_hour_turns_there_beside_typed_hours() -> None:
    """Day 20 °C from 8:30 to 18 h, night 10 °C; typed: the first hour 30 °C."""
    found = site.read_site({**SITE, "night": 10.0, "day_from": 8.5, "day_to": 18.0}, METRIC)
    warm = site.read_history([[30.0], [" "], [""]], found, METRIC)
    hours = {0.5: 303.15, 1.5: 283.15, 8.4: 283.15, 8.6: 293.15, 24 + 8.4: 283.15, 24 + 8.6: 293.15}
    assert {hour: warm.at(hour * 3600.0) for hour in hours} == hours


def test_settings_of_the_calls_left_blank_are_the_usual_ones() -> None:
    """70 °F are 294.261 K, 1 1/2 in are 38.1 mm: what the help of Calls says of blank cells."""
    usual = settings(BLANK_SETTINGS)
    assert usual.warmth == pytest.approx(294.2611, abs=1e-4)
    assert (usual.lead, usual.edge, usual.drinks, usual.ready) == (14, 0.0381, 0.0, 0.0)
    assert (usual.off, usual.sure) == (0.08, 0.8)
    typed = settings({**BLANK_SETTINGS, "warm": 25.0, "edge": 40.0, "drinks": "0.1 L/m²"})
    assert typed.warmth == pytest.approx(298.15)
    assert (typed.edge, typed.drinks) == pytest.approx((0.04, 1e-4))
    with pytest.raises(PourbookError, match="no number"):
        settings({**BLANK_SETTINGS, "warm": "hot"})


def test_a_call_left_blank_is_of_one_room_that_drinks_nothing() -> None:
    made = call(CALL)
    assert (made.rooms, made.run, made.soak) == (1, 0.0, 0.0)
    assert (made.start, made.came_to) == (None, None)
    assert (made.area, made.day) == (4.0, dt.date(2026, 12, 7))


def test_cutouts_as_they_are_typed() -> None:
    found = reading.holes(
        "area 0.1 m²; 2 of area 500 cm²; 40 x 30; 2 of round 40; oval 40 x 20", METRIC
    )
    areas = [0.1, 0.05, 0.05, 0.0012, math.pi * 4e-4, math.pi * 4e-4, math.pi * 2e-4]
    assert [hole.area for hole in found] == pytest.approx(areas)
    shapes = ["", "", "", "rectangle", "circle", "circle", "ellipse"]
    assert [hole.shape for hole in found] == shapes
    assert len(reading.holes("99 of round 19", METRIC)) == 99


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ("100 of round 19", "100 cutouts of one kind"),
        ("0 of round 19", "0 cutouts of one kind"),
        ("round 19 x 16", "'round 19 x 16' has 2 sizes"),
        ("40", "'40' has 1 size"),
        ("oval 40", "'oval 40' has 1 size"),
    ],
)
def test_cutouts_that_cannot_be(typed: str, said: str) -> None:
    with pytest.raises(PourbookError) as caught:
        reading.holes(typed, METRIC)
    assert caught.value.what == said


def test_doses_as_they_are_typed() -> None:
    """A bare number a batch is grams where it is weighed and millilitres where it is measured."""
    for typed, what, basis, amount in (
        ("30 per batch", "mass", "per batch", 0.03),
        ("30 g per batch", "mass", "per batch", 0.03),
        ("30 per batch", "volume", "per batch", 3e-5),
        ("2 % mass", "mass", "share", 0.02),
        ("5 % vol", "volume", "share", 0.05),
        ("200 g/m²", "mass", "per area", 0.2),
    ):
        found = reading.dose(typed, what, "Pigment", METRIC)  # type: ignore[arg-type]
        assert found.basis == basis, typed
        assert found.amount == pytest.approx(amount), typed
    ounces = reading.dose("1 per batch", "mass", "Pigment", US)
    assert ounces.amount == pytest.approx(units.to_si(1.0, US.small_mass))


@pytest.mark.parametrize(
    ("typed", "what", "said"),
    [
        ("2 % vol", "mass", "'2 % vol' is by volume"),
        ("2 % mass", "volume", "'2 % mass' is by mass"),
        ("30", "mass", "'30' has no unit"),
        ("30 m", "mass", "'30 m' is no dose"),
    ],
)
def test_doses_that_cannot_be(typed: str, what: str, said: str) -> None:
    with pytest.raises(PourbookError) as caught:
        reading.dose(typed, what, "Pigment", METRIC)  # type: ignore[arg-type]
    assert caught.value.what == said
    assert caught.value.where == "Pigment"
    weighed = "it is weighed: type '2 % mass', '30 g per batch' or '200 g/m²'"
    measured = "it is measured: type '5 % vol' or '30 mL per batch'"
    assert caught.value.mend == (weighed if what == "mass" else measured)


@pytest.mark.parametrize(
    ("substrate", "soak", "drinks"), [("", None, 0.0), ("", 2e-4, 2e-4), ("metal", 0.0, 0.0)]
)
def test_what_nobody_knows_of_drinks_nothing(
    substrate: str, soak: float | None, drinks: float
) -> None:
    assert Surveyed("Den", substrate, soak).drinks() == drinks
