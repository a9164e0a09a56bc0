"""The gates before the first step on site, as PB_SURVEY gives them beside the readings."""

from __future__ import annotations

import pytest

from pourbook.cells import Value, row_of
from pourbook.functions.catalogue import evaluate
from pourbook.functions.site import survey
from pourbook.functions.site.gates import NAMES
from pourbook.tables import substrates

SOUND: dict[str, Value] = {
    "old": "yes", "lead": "tested: none", "asbestos": "Left to those licensed",
    "gas": "nothing there", "electric": "disconnected", "plumbing": "nothing there",
    "by_whom": "the owners' trades",
}  # fmt: skip
DRY = ("Bath", "slab humidity (ASTM F2170)", 60, 75)
DAMP = ("bath", "plastic sheet (ASTM D4263)", "damp", "dry")
HELD = ("Bar", "cross-cut (ASTM D3359)", "5B", "4B")


def _gates(
    answers: dict[str, Value],
    rooms: dict[str, str] | None = None,
    *readings: tuple[Value, ...],
) -> dict[str, str]:
    rows = [row_of(survey.COLUMNS, **dict(zip(survey.COLUMNS, r, strict=False))) for r in readings]
    rows += [(None,) * len(survey.COLUMNS)] * (7 - len(rows))
    there = [
        row_of(substrates.COLUMNS, survey_room=room, substrate=of, soak="0 mL/m²")
        for room, of in (rooms or {}).items()
    ]
    given = [[answers.get(name)] for name in NAMES]
    found = evaluate("PB_SURVEY", [rows, "metric", there, given])
    assert isinstance(found, list), found
    return {str(row[4]): str(row[5]) for row in found}


def test_all_that_is_answered_says_ok() -> None:
    found = _gates(SOUND, {"Bath": "concrete", "Bar": "old coating"}, DRY, HELD)
    assert len(found) == 7
    assert set(found.values()) == {"ok"}


@pytest.mark.parametrize(
    ("typed", "gate", "said"),
    [
        ({"lead": None}, "Lead", "waits: a test for lead before anything old is touched, by those"),
        ({"asbestos": None}, "Asbestos", "waits: a test for asbestos"),
        ({"old": None}, "Lead", "waits: say whether anything old is sanded"),
        ({"gas": None}, "Gas", "waits: say whether anything has to be disconnected"),
        ({"by_whom": None}, "Electric", "waits: say who disconnects it"),
        ({"plumbing": "off"}, "Plumbing", "! Plumbing: 'off' is not in the list"),
        ({"old": "maybe"}, "Asbestos", "! Old is sanded: 'maybe' is not in the list"),
    ],
)
def test_what_is_open_waits(typed: dict[str, Value], gate: str, said: str) -> None:
    assert _gates({**SOUND, **typed})[gate].startswith(said)


def test_nothing_old_needs_no_test() -> None:
    found = _gates({**SOUND, "old": "no", "lead": None, "asbestos": None})
    assert (found["Lead"], found["Asbestos"]) == ("ok", "ok")


def test_concrete_is_read_for_moisture_and_an_old_coating_for_adhesion() -> None:
    found = _gates(SOUND, {"Bath": "concrete", "Bar": "old coating"})
    assert "'Bath', concrete" in found["Moisture"]
    assert "'Bar', old coating" in found["Adhesion"]
    other = _gates(SOUND, {"Bath": "concrete", "Hall": "concrete"}, DRY)
    assert "'Hall'" in other["Moisture"]
    assert _gates(SOUND, {"Bath": "concrete"}, HELD)["Moisture"].startswith("waits:")


def test_one_reading_against_it_keeps_the_gate_shut() -> None:
    assert "'Bath'" in _gates(SOUND, {"Bath": "concrete"}, DRY, DAMP)["Moisture"]


def test_the_number_of_a_test_alone_will_do() -> None:
    """As in jobs of templates 1."""
    for typed in ("ASTM F2170", "astm f2170", "slab humidity (ASTM F2170)"):
        row = ("Bath", typed, 60, 75, None)
        found = evaluate("PB_SURVEY", [[row], "us"])
        assert isinstance(found, list)
        assert found[0][:2] == ["% RH", "go"]
