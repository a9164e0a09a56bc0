"""Effects worked into the wet film: minutes of the working time, cautions on the card."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from pourbook.cells import Rows, Value
from pourbook.functions.catalogue import evaluate
from pourbook.tables.doing import EFFECTS

Job = Callable[..., list[Value | Rows]]
Table = Callable[[list[Value | Rows]], list[dict[str, Value]]]
DOING, OPTION = 1, 7
PIECES = tuple((f"Board {n}", 2.0, "no") for n in range(1, 7))


def test_an_effect_takes_its_minutes_of_the_working_time(job: Job, table: Table) -> None:
    """Pot life 40 min, 2 to mix: 38 to spread. Six boards of 2 m by 0.5 m with an edge are 6.48 m².

    By one at 12 m²/h a square metre takes 5 min, and 7.6 m² fit into a batch; with 5 min of veining
    it takes 10, and 3.8 m² fit: two batches.
    """
    how: dict[str, Value] = {"bucket": "90 L", "hands": 1, "pace": 12, "share": 1, "carrying": 0}
    plain = table(job({}, how, pieces=PIECES))
    veined = table(job({}, {**how, "effect": "Veining", "effect_pace": 5}, pieces=PIECES))
    assert len(plain) == 1
    assert len(veined) == 2


@pytest.mark.parametrize("effect", EFFECTS)
def test_a_card_names_the_effect_and_its_caution(effect: str, job: Job, table: Table) -> None:
    how: dict[str, Value] = {"bucket": "90 L", "hands": 4, "pace": 900, "heat_passes": 2}
    (card,) = table(job({}, {**how, "effect": effect, "effect_pace": 0.5}, pieces=PIECES[:1]))
    assert f"{effect} while it is wet" in str(card["spread"])
    alcohol = effect == "alcohol mist"
    assert ("flashed off and is out of the room" in str(card["heat"])) is alcohol
    assert ("no flame or spark" in str(card["spread"])) is alcohol


@pytest.mark.parametrize(
    ("cells", "said"),
    [
        ({"effect": "glitter", "effect_pace": 1}, "Effect: 'glitter' is not in the list"),
        ({"effect": "veining"}, "Effect takes: it is blank"),
        ({"effect_pace": 2}, "Effect: it is blank"),
        ({"effect": "veining", "effect_pace": -1}, "Effect takes: it is -1"),
        ({"effect": "veining", "effect_pace": 61}, "Effect takes: it is 61"),
        ({"effect": "veining", "effect_pace": "soon"}, "Effect takes: 'soon' is no number"),
    ],
)
def test_bad_effect_is_named(cells: dict[str, Value], said: str, job: Job) -> None:
    call = job({}, {"bucket": "9 L", "hands": 1, "pace": 12, **cells}, pieces=PIECES[:1])
    found = evaluate("PB_BATCHES", call)
    assert isinstance(found, list)
    assert any(said in str(cell) for cell in found[0])
