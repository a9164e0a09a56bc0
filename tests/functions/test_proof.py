"""PB_PROOF: what a reading comes to, when it was too early, and what is refused."""

from __future__ import annotations

import pytest

from pourbook.cells import Value
from pourbook.functions.batch.plans import EXAMPLE_WORKING
from pourbook.functions.catalogue import catalogue, evaluate
from pourbook.functions.mix import amounts
from pourbook.functions.site.proof_tests import COLUMNS
from pourbook.trade import proof
from pourbook.workbook.template.template import load_book

START = 46399.0


def _judged(start: Value = START, **cells: Value) -> list[Value]:
    row: dict[str, Value] = {
        "panel": "sample board",
        "product": "Clear",
        "test": "Shore D",
        "coated": START + 1.5,
        "tested": START + 12.0,
        "kept_at": 20.0,
        "reading": 78.0,
        "limit": 75.0,
        **cells,
    }
    given = tuple(row.get(name) for name in COLUMNS)
    site: tuple[Value, ...] = (start, 20.0, 15.0, 7.0, 19.0)
    result = evaluate("PB_PROOF", ((given,), (EXAMPLE_WORKING,), ((None,),), "metric", *site))
    assert isinstance(result, list)
    return list(result[0])


@pytest.mark.parametrize(
    ("cells", "verdict"),
    [
        ({"test": "pencil hardness", "reading": "2H", "limit": "H"}, "holds"),
        ({"test": "pencil hardness", "reading": "F", "limit": "at least H"}, "fails"),
        ({"test": "cross-cut", "reading": "4B", "limit": "4b"}, "holds"),
        ({"test": "cross-cut ISO 2409", "reading": 2, "limit": 1}, "fails"),
        ({"test": "gloss at 60°", "reading": 85, "limit": "35 to 70"}, "fails"),
        ({"test": "gloss at 60°", "reading": 8, "limit": "at most 10"}, "holds"),
        ({"test": "household stains", "reading": 5, "limit": 4}, "holds"),
        ({"test": "impact", "reading": "80 in-lb", "limit": "9 J"}, "holds"),  # 9.04 J
        ({"test": "impact", "reading": "79 in-lb", "limit": "9 J"}, "fails"),  # 8.93 J
        ({"test": "solvent rub", "reading": 49, "limit": 50}, "fails"),
        # ISO 19840: mean at least nominal, none under 80 %, fewer than 20 % below nominal.
        (
            {"test": "dry film", "reading": "0.2; 0.21; 0.19; 0.2; 0.2; 0.2", "limit": 0.2},
            "holds",
        ),
        ({"test": "dry film", "reading": "0.3 mm; 0.3; 0.15", "limit": 0.2}, "fails"),
    ],
)
def test_a_proof_test_says_whether_the_film_holds(cells: dict[str, Value], verdict: str) -> None:
    found = _judged(**cells)
    assert found[-1] == "ok"
    assert found[7] == verdict


def test_a_bad_reading_taken_too_early_is_too_early_not_failed() -> None:
    found = _judged(tested=START + 3.0, reading=10.0)
    assert found[7] == "too early"
    # Kept at the temperature its cure is stated for: 7 days after 2027-01-13 12:00.
    assert "test it from 2027-01-20 12:00" in str(found[8])


def test_a_film_may_be_measured_once_it_is_touch_dry() -> None:
    film: dict[str, Value] = {"test": "dry film", "reading": "0.2; 0.2", "limit": 0.2}
    assert _judged(tested=START + 2.4, **film)[7] == "too early"  # 21.6 h of 24
    assert _judged(tested=START + 2.6, **film)[7] == "holds"


def test_a_blank_temperature_is_the_sites() -> None:
    """Half the hours at 15 °C, half at 20 °C: younger than at 20 °C, older than at 15 °C."""
    ages = [float(str(_judged(kept_at=t)[6])) for t in (15.0, None, 20.0)]
    assert ages == sorted(ages)
    assert ages[0] < ages[1] < ages[2]


@pytest.mark.parametrize(
    ("cells", "words"),
    [
        ({"reading": "soft"}, "Reading"),
        ({"reading": None}, "Reading: it is blank"),
        ({"limit": None}, "Limit agreed: it is blank"),
        ({"limit": "70 to"}, "Limit agreed"),
        ({"limit": "90 to 70"}, "wrong way round"),
        ({"test": "bite"}, "Test"),
        ({"product": "Nothing"}, "Top coat"),
        ({"product": None}, "Top coat: it is blank"),
        ({"tested": START}, "Tested: it was tested before it was coated"),
        ({"tested": "soon"}, "Tested: 'soon' is no day and time"),
        ({"coated": START - 9, "kept_at": None}, "Kept at: it was coated before the work starts"),
        ({"test": "dry film", "reading": "0.2", "limit": "at most 0.2"}, "no least film"),
        ({"test": "dry film", "reading": ";", "limit": "0.2"}, "no film reading"),
        ({"test": "Shore D", "reading": 101}, "off the scale"),
    ],
)
def test_refusals_name_the_column(cells: dict[str, Value], words: str) -> None:
    found = _judged(**cells)
    assert set(found[:-1]) == {"!"}
    assert str(found[-1]).startswith("! ")
    assert words in str(found[-1])


def test_without_a_start_a_board_with_its_own_temperature_is_judged() -> None:
    assert _judged(start=None)[7] == "holds"
    assert "Kept at" in str(_judged(start=None, kept_at=None)[-1])


def test_the_sheet_lists_the_tests_of_the_trade() -> None:
    assert load_book("job").block("tests").field("test").choices == tuple(proof.TESTS)


def _shown(**cells: Value) -> dict[str, Value]:
    ids = [column.id for column in catalogue()["PB_PROOF"].columns]
    return dict(zip(ids, _judged(**cells), strict=True))


def test_a_shop_demonstration_says_that_it_measures_nothing() -> None:
    row = _shown(test="knife", reading="4", limit="3")
    assert row["proof_verdict"] == "holds"
    assert row["method"] == "shop demonstration"
    assert "no standard test" in str(row["proof_reason"])


def test_a_film_over_stone_goes_by_the_ultrasonic_method() -> None:
    row = _shown(test="ultrasonic film", reading="0.2; 0.21", limit="0.2")
    assert row["method"] == "ASTM D6132"
    assert str(row["found"]).startswith("2 read")


def _film(limit: Value, reading: str, option: str = "A") -> list[Value]:
    """Return the row of a dry film of two layers of one product, 0.1 and 0.06 mm, in option A."""
    row: dict[str, Value] = {
        "panel": "bar", "product": "Clear", "test": "dry film", "coated": START + 1.5,
        "tested": START + 12.0, "kept_at": 20.0, "reading": reading, "limit": limit,
    }  # fmt: skip
    ids = [c.id for c in amounts.RESULTS]
    layers: list[dict[str, Value]] = [
        {"option": "A", "product": "clear", "dry": 0.1, "status": "ok"},
        {"option": "A", "product": "Clear", "dry": 0.06, "status": "ok"},
        {"option": "A", "product": "Base", "dry": 0.5, "status": "ok"},
        {"option": "B", "product": "Clear", "dry": 0.9, "status": "ok"},
        {"option": "A", "product": "Clear", "dry": "!", "status": "! fix it"},
    ]
    planned = [[one.get(name) for name in ids] for one in layers]
    given = tuple(row.get(name) for name in COLUMNS)
    site: tuple[Value, ...] = (START, 20.0, 15.0, 7.0, 19.0)
    tail = (planned, option)
    found = evaluate("PB_PROOF", ((given,), (EXAMPLE_WORKING,), ((None,),), "metric", *site, *tail))
    assert isinstance(found, list)
    return list(found[0])


@pytest.mark.parametrize(
    ("limit", "reading", "verdict", "agreed"),
    [
        (None, "0.16; 0.17", "holds", "at least 0.16 mm, as planned"),
        (None, "0.15; 0.15", "fails", "at least 0.16 mm, as planned"),
        (0.001, "0.15; 0.15", "fails", "at least 0.16 mm, as planned"),
        (0.2, "0.17; 0.18", "fails", "at least 0.2 mm"),
        ("0.001 to 0.3", "0.17; 0.18", "holds", "at least 0.16 mm, as planned"),
        ("0.001 to 0.3", "0.9; 0.9", "fails", "at least 0.16 mm, as planned"),
    ],
)
def test_the_limit_of_a_film_is_what_its_layers_leave(
    limit: Value, reading: str, verdict: str, agreed: str
) -> None:
    """0.1 + 0.06 mm in option A; the base and option B are other films."""
    found = _film(limit, reading)
    assert found[-1] == "ok"
    assert (found[7], found[4]) == (verdict, agreed)


def test_a_film_of_a_product_without_a_layer_needs_a_limit() -> None:
    assert "Limit agreed: it is blank" in str(_film(None, "0.2; 0.2", option="C")[-1])
    assert _film(0.1, "0.2; 0.2", option="C")[7] == "holds"
