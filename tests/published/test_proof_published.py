"""Scales of finished-film tests, and the age of a test, against published figures."""

from __future__ import annotations

import pytest

from pourbook.cells import Value
from pourbook.functions.catalogue import evaluate
from pourbook.functions.site.proof_tests import COLUMNS
from pourbook.trade import proof
from pourbook.trade.proof import CROSS_CUTS, ISO_CUTS, TESTS

# The grades of ASTM D3359 method B, most of the area of the squares detached first, as a university
# prints them (pslc.ws/ret2003/adtable.html, read); a gauge maker's manual sets ISO 0 to 3
# beside 5B to 2B (manualslib.mx/manual/382742, read), the rest follows in the same order.
DETACHED = ["0B", "1B", "2B", "3B", "4B", "5B"]
SAME_STEP = {"5B": "0", "4B": "1", "3B": "2", "2B": "3"}


def test_cross_cut_grades_fall_with_the_area_detached() -> None:
    test = TESTS["cross-cut"]
    assert sorted(CROSS_CUTS, key=lambda g: proof.grade(test, g)) == DETACHED
    assert set(CROSS_CUTS) == set(DETACHED)


@pytest.mark.parametrize(("astm", "iso"), SAME_STEP.items())
def test_astm_and_iso_count_the_same_steps(astm: str, iso: str) -> None:
    assert CROSS_CUTS.index(astm) == ISO_CUTS.index(iso)


def test_pencil_grades() -> None:
    """The 14 grades of ASTM D3363 from soft to hard (from memory)."""
    listed = ["6B", "5B", "4B", "3B", "2B", "B", "HB", "F", "H", "2H", "3H", "4H", "5H", "6H"]
    assert sorted(listed, key=lambda g: proof.grade(TESTS["pencil hardness"], g)) == listed


# Cure is so many times faster than at 25 °C with an activation energy of 55 kJ/mol; computed from
# exp(E/R (1/T1 - 1/T2)) with R = 8.314462618 J/(mol K), apart from the program.
FACTORS = {5.0: 0.2028, 10.0: 0.3087, 15.0: 0.4630, 20.0: 0.6849, 30.0: 1.4419, 35.0: 2.0544}
WORKING = ("Clear", 40, None, 25, None, None, 25, 24, 8, 24, 72, 168, 55, *[None] * 5)


@pytest.mark.parametrize(("celsius", "factor"), FACTORS.items())
def test_age_at_the_test_is_the_equivalent_age(celsius: float, factor: float) -> None:
    row: dict[str, Value] = {
        "panel": "sample board",
        "product": "Clear",
        "test": "Shore D",
        "coated": 46400.0,
        "tested": 46410.0,
        "kept_at": celsius,
        "reading": 78.0,
        "limit": 75.0,
    }
    cells = tuple(row.get(name) for name in COLUMNS)
    result = evaluate("PB_PROOF", ((cells,), (WORKING,), ((None,),), "metric"))
    assert isinstance(result, list)
    (found,) = result
    assert found[6] == pytest.approx(10 * factor, rel=3e-4)
    # 168 h of hard use are 7 days: ten days at 20 °C are just too few.
    assert found[7] == ("too early" if 10 * factor < 7 else "holds")
