"""Readings of surface and air: units, verdicts, and what is refused.

Expected verdicts follow from comparing two numbers; conversions are computed from exact definitions
(1 psi is 6894.757 Pa, 1 lb/(1000 ft² · 24 h) is 56.51 µg/(s·m²)), not taken from our output.
"""

from __future__ import annotations

import pytest

from pourbook import units
from pourbook.cells import Value
from pourbook.errors import FAILED, PourbookError
from pourbook.functions.batch.plans import EXAMPLE_WORKING
from pourbook.functions.catalogue import catalogue, evaluate
from pourbook.functions.mix.amounts import EXAMPLE_PRODUCT
from pourbook.functions.site import survey
from pourbook.functions.site.damp import COLUMNS as AIR_COLUMNS
from pourbook.trade.air import SURVEY_TESTS


def _read(test: Value, reading: Value, limit: Value, system: str = "us") -> dict[str, Value]:
    found = evaluate("PB_SURVEY", [[["Bath", test, reading, limit, None]], system])
    assert isinstance(found, list)
    names = [c.id for c in catalogue()["PB_SURVEY"].columns]
    return dict(zip(names, found[0], strict=True))


@pytest.mark.parametrize(
    ("test", "reading", "limit", "verdict"),
    [
        ("ASTM F2170", 75.0, 75.0, "go"),
        ("ASTM F2170", 75.1, 75.0, "wait"),
        ("ASTM F2170", "80 % RH", "75 %", "wait"),
        ("ASTM F1869", 3.0, 3.0, "go"),
        ("ASTM F1869", 3.2, 3.0, "wait"),
        ("ASTM D4263", "dry", "dry", "go"),
        ("ASTM D4263", "Damp", "dry", "wait"),
        ("ASTM D3359", "4B", "4B", "go"),
        ("ASTM D3359", "3b", "4B", "don't"),
        ("ASTM D7234", 250.0, 200.0, "go"),
        ("ASTM D4541", 150.0, 200.0, "don't"),
        ("ASTM D7234", "1.5 MPa", "200 psi", "go"),  # 1.5 MPa is 217.6 psi
        ("ASTM D7234", "1.3 MPa", "200 psi", "don't"),  # 1.3 MPa is 188.5 psi
    ],
)
def test_a_reading_on_survey_says_go_wait_or_not(
    test: str, reading: Value, limit: Value, verdict: str
) -> None:
    row = _read(test, reading, limit)
    assert (row["verdict"], row["survey_status"]) == (verdict, "ok")


def test_a_number_is_read_in_the_unit_shown() -> None:
    assert _read("ASTM D7234", 200.0, 200.0, "us")["test_unit"] == "psi"
    assert _read("ASTM D7234", 1.5, 1.5, "metric")["test_unit"] == "MPa"
    assert _read("ASTM F1869", 3.0, 3.0, "us")["test_unit"] == "lb/1000 ft² in 24 h"
    assert _read("ASTM F1869", 170.0, 170.0, "metric")["test_unit"] == "µg/(s·m²)"
    three = survey.read_measure(3.0, "ASTM F1869", "Limit", units.SYSTEMS["us"])
    assert three == pytest.approx(3 * 56.5096e-9, rel=1e-5)


def test_reason_names_test_reading_and_limit() -> None:
    reason = _read("ASTM D4541", 150.0, 200.0)["reason"]
    assert reason == (
        "pull-off strength on metal is 150 psi, less than 200 psi: prepare the surface again"
    )
    assert "damp" in str(_read("ASTM D4263", "damp", "dry")["reason"])


@pytest.mark.parametrize(
    ("test", "reading", "limit", "words"),
    [
        ("ASTM F2170", 78.0, None, "Limit: it is blank: type the limit the product states"),
        ("ASTM F2170", None, 75.0, "Reading: it is blank"),
        ("ASTM F2170", 0.78, 75.0, "type 78 for 78 % RH"),
        ("ASTM F2170", 101.0, 75.0, "Reading: it is 101 % RH"),
        ("ASTM D3359", "6B", "4B", "type 0B to 5B"),
        ("ASTM D3359", 4.0, "4B", "type 0B to 5B"),
        ("ASTM D4263", 0.0, "dry", "choose dry, damp"),
        ("ASTM F1869", -1.0, 3.0, "Reading: it is -1"),
        ("ASTM D7234", "200 ft", 200.0, "Reading"),
        ("ASTM X1", 1.0, 1.0, "Test: 'ASTM X1' is not in the list"),
        (None, 1.0, 1.0, "Test: it is blank"),
        ("ASTM D7234", 250.0, 0.0, "above 0"),
    ],
)
def test_bad_reading_is_refused(test: Value, reading: Value, limit: Value, words: str) -> None:
    row = _read(test, reading, limit)
    assert words in str(row["survey_status"])
    assert {row[k] for k in ("test_unit", "verdict", "reason")} == {FAILED}


def test_no_limit_is_built_in() -> None:
    """Every test of the list asks for its limit."""
    for test in SURVEY_TESTS:
        reading = {"ASTM D4263": "dry", "ASTM D3359": "5B"}.get(test, 50.0)
        assert "type the limit" in str(_read(test, reading, None)["survey_status"])


def _air(**cells: Value) -> dict[str, Value]:
    sound: dict[str, Value] = {
        "air_product": "Clear",
        "air": 20.0,
        "surface": 20.0,
        "air_humidity": 0.5,
    }
    product = [*EXAMPLE_PRODUCT[:11], 15.0, 28.0, 0.8, *EXAMPLE_PRODUCT[14:]]
    row = [(sound | cells)[name] for name in AIR_COLUMNS]
    found = evaluate("PB_AIR", [[row], [product], [list(EXAMPLE_WORKING)], "metric"])
    assert isinstance(found, list)
    return dict(zip([c.id for c in catalogue()["PB_AIR"].columns], found[0], strict=True))


def test_air_that_is_fit() -> None:
    row = _air()
    assert row["air_verdict"] == "go"
    assert row["dew"] == pytest.approx(9.26, abs=0.01)  # WMO's formula by hand: 20 °C, 50 %
    assert isinstance(row["dew"], float)
    assert row["dew_margin"] == pytest.approx(20.0 - row["dew"])


@pytest.mark.parametrize(
    ("cells", "verdict", "words"),
    [
        ({"surface": 11.0}, "don't", "only 1.7 °C"),
        ({"surface": 14.0}, "don't", "surface is 14 °C"),
        ({"air": 29.0, "air_humidity": 0.3}, "wait", "air is 29 °C"),
        ({"air_humidity": 0.81}, "wait", "humidity is 81 %"),
    ],
)
def test_air_that_is_not(cells: dict[str, Value], verdict: str, words: str) -> None:
    row = _air(**cells)
    assert row["air_verdict"] == verdict
    assert words in str(row["air_reason"])


@pytest.mark.parametrize(
    ("cells", "words"),
    [
        ({"air_humidity": 1.2}, "Humidity: it is 120 %"),
        ({"air_humidity": 0.0}, "Humidity: it is 0 %"),
        ({"air_humidity": None}, "Humidity: it is blank"),
        ({"air": 2.0, "air_humidity": 0.3}, "frost point"),
        ({"air_product": "Other"}, "not on the Products sheet"),
        ({"air_product": None}, "Product: it is blank"),
        ({"surface": "warm"}, "Surface: 'warm' is no number"),
        ({"air": 90.0}, "air temperature"),
    ],
)
def test_air_that_cannot_be_judged(cells: dict[str, Value], words: str) -> None:
    row = _air(**cells)
    assert words in str(row["air_status"])
    assert row["dew"] == row["air_verdict"] == FAILED


@pytest.mark.parametrize(
    ("typed", "share"), [(1.5, 0.015), ("1.01 % RH", 0.0101), ("75%", 0.75), (100, 1.0), (0, 0.0)]
)
def test_a_humidity_inside_a_slab_is_per_cent(typed: Value, share: float) -> None:
    found = survey.read_measure(typed, "ASTM F2170", "Reading", units.SYSTEMS["us"])
    assert found == pytest.approx(share)


@pytest.mark.parametrize(
    ("typed", "what", "mend"),
    [
        (0.75, "0.75 may be a share or per cent", "type 75 for 75 % RH"),
        (1.0, "1 may be a share or per cent", "type 100 for 100 % RH"),
        (101.0, "it is 101 % RH", "type 0 to 100"),
        (-1.0, "it is -1 % RH", "type 0 to 100"),
    ],
)
def test_a_humidity_that_is_none_says_what_to_type(typed: Value, what: str, mend: str) -> None:
    with pytest.raises(PourbookError) as caught:
        survey.read_measure(typed, "ASTM F2170", "Reading", units.SYSTEMS["us"])
    assert (caught.value.what, caught.value.mend) == (what, mend)
