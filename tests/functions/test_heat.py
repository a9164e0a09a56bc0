"""The heat of the largest batch, aside in PB_PLAN: it only ever makes a plan more cautious."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pourbook import units
from pourbook.cells import OK, Rows, Value
from pourbook.errors import FAILED, PourbookError
from pourbook.functions.batch import bucket_heat
from pourbook.functions.batch.plans import EXAMPLE_WORKING
from pourbook.functions.catalogue import catalogue, evaluate
from pourbook.tables.works import COLUMNS as WORKING
from pourbook.trade.cure.heat import Bucket, time_to_temperature

FUNCTION = catalogue()["PB_PLAN"]
IDS = [c.id for c in FUNCTION.columns]
SAFE: dict[str, Value] = {
    "product": "Clear",
    "heat": 350,
    "specific": 1.75,
    "a1": 1e4,
    "e1": 55,
    "n": 1,
    "loss": 8,
    "source": "invented",
}
KINOPT: dict[str, Value] = {"a1": 1.666e8, "e1": 80, "a2": 1.666e13, "e2": 120, "m": 1, "n": 0.7}
"""The constants of an open dataset, see tests/published."""


def _heat(day: float = 20.0, **cells: Value) -> dict[str, Value]:
    given_to: list[Value | Rows] = [*FUNCTION.examples[0].arguments]
    if cells:
        row: list[Value] = [{**SAFE, **cells}.get(c) for c in bucket_heat.COLUMNS]
        given_to[8] = [row]
    given_to[5] = day
    found = evaluate("PB_PLAN", given_to)
    assert isinstance(found, list), found
    return dict(zip(IDS, found[0], strict=True))


def _float(value: Value) -> float:
    assert isinstance(value, int | float)
    return float(value)


def test_rise_is_heat_over_specific_heat() -> None:
    """350 J/g over 1.75 J/(g·K) is 200 K, and 360 degrees Fahrenheit."""
    assert _heat(source="x")["rise"] == pytest.approx(200.0)


def test_without_kinetics_it_says_what_stands_in() -> None:
    found = _heat()
    assert found["heat_verdict"] == OK
    assert "no kinetics" in str(found["heat_says"])
    assert [found[c] for c in ("rise", "semenov", "runaway", "tame", "warmest")] == [""] * 5
    assert found["heat_mass"] == pytest.approx(1.155)


def test_critical_is_one_over_e() -> None:
    assert _heat(source="x")["critical"] == pytest.approx(math.exp(-1))


def test_semenov_number_by_hand() -> None:
    """First order: fastest when fresh. psi = E·m·H·k/(R·T²·h·A), A = 1.25·pi·d², d³ = 4V/pi."""
    volume, kelvin = 1.1e-3, 293.15
    width = (4 * volume / math.pi) ** (1 / 3)
    rate = 1e4 * math.exp(-55e3 / (8.31446 * kelvin))
    made = 1.155 * 350e3 * rate
    wanted = 55e3 * made / (8.31446 * kelvin**2 * 8 * 1.25 * math.pi * width**2)
    assert _heat(source="x")["semenov"] == pytest.approx(wanted, rel=1e-5)


def test_slow_mix_is_tame_and_says_from_where() -> None:
    found = _heat(a1=1e3, source="laboratory, 2026")
    assert found["heat_verdict"] == OK
    assert found["tame"] == pytest.approx(1.2)
    assert found["runaway"] == ""
    assert str(found["heat_says"]) == "laboratory, 2026"


def test_open_dataset_is_tame_at_room_temperature() -> None:
    """A mix for hot cure: nothing happens at 20 °C within the pot life."""
    found = _heat(20.0, **KINOPT)
    assert found["heat_verdict"] == OK
    assert _float(found["warmest"]) < 21


def test_hot_mix_says_how_small_a_batch_is_tame() -> None:
    found = _heat(a1=5e5)
    tame = _float(found["tame"])
    assert 0 < tame < 1.1
    status = str(found["heat_verdict"])
    assert status.startswith("CHECK: ")
    stated = float(status.split("no more than ")[1].split(" ", maxsplit=1)[0])
    fine = 100 if tame >= 1 else 1000
    assert stated == math.floor(tame * fine) / fine
    assert _float(found["warmest"]) > 60
    assert 0 < _float(found["runaway"]) < 40
    assert "runs away" in str(found["heat_says"])


def test_stated_tame_batch_does_stay_below() -> None:
    row = {**SAFE, "a1": 5e5}
    data = bucket_heat.read_heat(
        {c: row.get(c) for c in bucket_heat.COLUMNS}, units.SYSTEMS["metric"]
    )
    tame = _float(_heat(a1=5e5)["tame"]) * 1e-3

    def reached(volume: float) -> float | None:
        bucket: Bucket = bucket_heat.bucket_of(volume, 1050.0, data, 293.15)
        return time_to_temperature(data.kinetics, bucket, data.hottest, 40 * 60.0)

    assert reached(tame) is None
    assert reached(tame * 1.02) is not None


def test_warmer_day_and_lower_limit_are_more_cautious() -> None:
    usual = _float(_heat(a1=3e5)["tame"])
    assert _float(_heat(a1=3e5, day=22.0)["tame"]) <= usual
    assert _float(_heat(a1=3e5, hottest=50)["tame"]) < usual
    assert _float(_heat(a1=3e5, loss=6)["tame"]) <= usual


@pytest.mark.parametrize(
    ("cells", "said"),
    [
        ({"heat": 0}, "Heat of cure"),
        ({"heat": None}, "Heat of cure"),
        ({"specific": -1}, "Specific heat"),
        ({"a1": "fast"}, "A1"),
        ({"a1": 0}, "never begin"),
        ({"loss": 0}, "Heat loss"),
        ({"source": None}, "Where from"),
        ({"product": None}, "Product"),
        ({"a1": 1e29}, "even a batch"),
        ({"hottest": 10}, "even a batch"),
    ],
)
def test_bad_kinetics_are_refused(cells: dict[str, Value], said: str) -> None:
    found = _heat(20.0, **cells)
    assert str(found["heat_verdict"]).startswith("! ")
    assert said in str(found["heat_verdict"])
    assert found["tame"] == FAILED


def test_product_twice_is_refused() -> None:
    rows = [[SAFE.get(c) for c in bucket_heat.COLUMNS]] * 2
    found = bucket_heat.heat_by_name(rows, units.SYSTEMS["metric"])
    assert "twice" in str(found["clear"])


@settings(max_examples=15)
@given(st.floats(1e3, 1e6), st.floats(45, 70), st.floats(0, 1e6), st.floats(0.8, 2.0))
def test_status_follows_the_figures(a1: float, e1: float, a2: float, n: float) -> None:
    found = _heat(a1=a1, e1=e1, a2=a2, e2=55, m=1, n=n)
    status = str(found["heat_verdict"])
    if status == OK:
        assert _float(found["tame"]) >= _float(found["largest"])
        assert _float(found["warmest"]) <= 60.0 + 1e-6
    elif status.startswith("CHECK"):
        assert _float(found["tame"]) < _float(found["largest"])
    else:
        assert "even a batch" in status


def test_limit_is_the_same_in_every_system() -> None:
    for name, limit in (("metric", 50.0), ("us", 122.0), ("imperial", 50.0)):
        row = {**SAFE, "hottest": limit}
        cells = {c: row.get(c) for c in bucket_heat.COLUMNS}
        data = bucket_heat.read_heat(cells, units.SYSTEMS[name])
        assert data.hottest == pytest.approx(323.15)


def test_constants_that_gel_at_another_time_than_is_stated_are_not_used() -> None:
    """One kilogram at 20 °C is stated to gel in 40 min; these constants say never, or at once."""
    arguments = [argument.name for argument in FUNCTION.arguments]
    given: list[Value | Rows] = [*FUNCTION.examples[0].arguments]
    row = list(EXAMPLE_WORKING)
    row[WORKING.index("pot_mass")] = "1 kg"
    given[arguments.index("working")] = [row]

    def says(a1: float) -> str:
        kinetics = {**SAFE, "a1": a1}
        given[arguments.index("kinetics")] = [[kinetics.get(c) for c in bucket_heat.COLUMNS]]
        found = evaluate("PB_PLAN", given)
        assert isinstance(found, list), found
        return str(dict(zip(IDS, found[0], strict=True))["heat_says"])

    begins, stated = "CHECK: by these constants 1.0 kg at 20 °C gel in ", "and 40 min of pot life "
    assert says(1e-3).startswith(f"{begins}more than a day, {stated}are stated: they are not used")
    assert says(1e10).startswith(f"{begins}0 min, {stated}are stated: they are not used")


@pytest.mark.parametrize(
    ("name", "value", "said"),
    [
        ("a1", -1.0, "type a number from 0 up to"),
        ("loss", 0.0, "type a number above 0 up to"),
        ("specific", 0.0, "type a number above 0 up to"),
    ],
)
def test_a_constant_out_of_range_says_from_where_it_counts(
    name: str, value: float, said: str
) -> None:
    row = {c: ({**SAFE, name: value}).get(c) for c in bucket_heat.COLUMNS}
    with pytest.raises(PourbookError) as caught:
        bucket_heat.read_heat(row, units.SYSTEMS["metric"])
    assert caught.value.mend.startswith(said)
    assert caught.value.what == f"it is {value:g}"
