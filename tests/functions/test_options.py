"""Options beside the one to offer are planned too: what cannot be mixed or kept has no price."""

from __future__ import annotations

import math
from collections.abc import Mapping
from pathlib import Path

import pytest
from tests.agreement.pipeline import Pipeline

from pourbook.cells import Address, Value
from pourbook.functions.catalogue import evaluate
from pourbook.functions.days import calendar
from pourbook.job import make
from pourbook.job.make import Scenario
from pourbook.workbook.layout.laid_out import Layout

Key = tuple[str, str, int]
_LOOK = "! see Price"


def _of(
    plan: Layout, values: Mapping[Address, Value], block: str, name: str, index: int = 1
) -> Value:
    cell = plan.cell(block, name, index)
    return values[cell.sheet, cell.address]


@pytest.mark.parametrize(
    ("typed", "column", "why", "net"),
    [
        ({("working", "recoat_from", 2): None}, "calendar", "Recoat from", _LOOK),
        ({("products", "ratio", 2): "30000:1"}, "batches", "off its ratio", _LOOK),
        ({("working", "margin", 2): 30}, "air", "dew point", None),
    ],
)
def test_option_that_is_not_offered(
    typed: Mapping[Key, object],
    column: str,
    why: str,
    net: str | None,
    tmp_path: Path,
    scenario_us: Scenario,
    plan_us: Layout,
    pieces: int,
) -> None:
    """Option B alone has the flakes in resin; the option to offer, A, is sound."""
    entries = {**scenario_us.entries, **typed}
    values = make.make(tmp_path / "job.xlsx", "us", entries, pieces=pieces)
    said = {
        name: _of(plan_us, values, "options", f"option_{name}")
        for name in ("batches", "calendar", "air", "why")
    }
    assert said[column] == "CHECK", said
    assert why in str(said["why"]), said
    shown = _of(plan_us, values, "quote_price", "net")
    assert shown == net if net else isinstance(shown, float)
    assert _of(plan_us, values, "quote_price", "net", 0) == 6770.13
    assert _of(plan_us, values, "overall", "overall", 0) != "OK"


def test_options_of_the_demo_are_all_planned(
    tmp_path: Path, scenario_us: Scenario, plan_us: Layout, pieces: int
) -> None:
    values = make.make(tmp_path / "job.xlsx", "us", scenario_us.entries, pieces=pieces)
    rows = [
        [_of(plan_us, values, "options", f"option{name}", row) for name in ("", "_batches")]
        for row in range(3)
    ]
    assert rows == [["A", "offered"], ["B", "ok"], ["C", ""]]


def _settled(scenario: Scenario, plan: Layout, may_split: str, charge: str = "") -> Pipeline:
    """The demo's job in small buckets, all its pieces to be split or not, nothing on the shelf."""
    left_out = {"stock", "survey", "readings", "weighed"}
    typed = {key: value for key, value in scenario.entries.items() if key[0] not in left_out}
    for block, name, row in list(typed):
        if (block, name) == ("rooms", "piece"):
            typed["rooms", "may_split", row] = may_split
        if (block, name) == ("rooms", "joins"):
            del typed[block, name, row]
    typed |= {("doing", "bucket", row): "0.5 US gal" for row in range(7)}
    typed["rates", "charge", 0] = charge or None
    return Pipeline(plan, typed)


@pytest.mark.parametrize("charge", ["packs opened", "amounts used"])
def test_a_first_price_is_that_of_the_job_were_its_pieces_split(
    scenario_us: Scenario, plan_us: Layout, charge: str
) -> None:
    """To the tens it is the price of the same job with pieces split, less its additives."""
    whole, apart = (_settled(scenario_us, plan_us, word, charge) for word in ("no", "yes"))
    for place in range(2):
        rough = whole.get("options", "option_rough", place)
        assert isinstance(rough, float | int)
        assert str(whole.get("price", "net", place)).startswith("!")
        costs = [apart.get("price", name, place) for name in ("cost", "additives")]
        cost, additives = (float(one) for one in costs if isinstance(one, float | int))
        rate, margin = (
            float(str(scenario_us.entries["rates", n, 0])) for n in ("overhead", "uplift")
        )
        price = (cost - additives * (1 + rate)) / (1 - margin)
        assert rough - 10 < price <= rough + 0.01, place
        taxed = math.ceil(round(rough * 1.0625, 9))
        said = f"some {taxed:,} without batches settled"
        assert whole.get("board", "gross", place) == said
        assert apart.get("options", "option_rough", place) == ""
        assert isinstance(apart.get("board", "gross", place), float)


def test_no_first_price_without_the_prices_of_packs(scenario_us: Scenario, plan_us: Layout) -> None:
    job = _settled(scenario_us, plan_us, "no")
    for key in list(job.entries):
        if key[:2] == ("packs", "price"):
            del job.entries[key]
    assert job.get("options", "option_rough", 0) == ""
    assert job.get("board", "gross", 0) == "not worked out yet"


@pytest.mark.parametrize(
    ("site", "row"),
    [
        ({}, ["A", "ok", "ok", "ok", "ok"]),
        ({"work_from": 16.0, "work_to": 8.0}, ["A", "ok", "CHECK", "", _LOOK]),
        ({"humidity": 0.99, "temperature": 3.0}, ["A", "ok", "ok", "CHECK", "ok"]),
    ],
)
def test_only_without_a_plan_an_option_has_no_price(
    site: dict[str, Value], row: list[Value]
) -> None:
    """What the air does not allow at its hour is told, and priced all the same."""
    given = [*calendar.EXAMPLE]
    given[7] = "B"
    for name, value in site.items():
        given[8 + calendar.SITE.index(name)] = value
    found = evaluate("PB_OPTIONS", given)
    assert isinstance(found, list)
    assert found[0][:5] == row
