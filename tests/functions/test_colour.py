"""The colour of a piece: typed on Rooms, read with it, printed on the card of its batch."""

from __future__ import annotations

from collections.abc import Callable

from pourbook.cells import Rows, Value
from pourbook.functions.catalogue import evaluate
from pourbook.tables.measured import ROOM_COLUMNS
from pourbook.units import SYSTEMS

Job = Callable[..., list[Value | Rows]]
Table = Callable[[list[Value | Rows]], list[dict[str, Value]]]
ROOMS = 4
DOING = 1
AT = ROOM_COLUMNS.index("colour")


def _coloured(call: list[Value | Rows], *colours: str) -> list[Value | Rows]:
    rows = call[ROOMS]
    assert isinstance(rows, list)
    made = [[*row[:AT], said, *row[AT + 1 :]] for row, said in zip(rows, colours, strict=True)]
    return [*call[:ROOMS], made, *call[ROOMS + 1 :]]


def test_card_says_what_colour_each_piece_gets(job: Job, table: Table) -> None:
    pieces = (("Top", 1.0, "no"), ("Shelf", 0.5, "no"))
    call = job({}, {"bucket": "9 L", "hands": 4, "pace": 900}, pieces=pieces)
    (plain,) = table(call)
    (found,) = table(_coloured(call, "oyster grey", ""))
    assert plain["pieces"] == "Top; Shelf"
    assert found["pieces"] == "Top in oyster grey; Shelf"
    assert str(found["card_pieces"]).startswith("Bar: Top in oyster grey; Shelf. ")
    changed = {key for key in found if found[key] != plain[key]}
    assert changed == {"pieces", "card_pieces"}, "a colour changes no amount"


def test_a_job_from_before_there_were_colours_is_read_as_it_is(job: Job) -> None:
    call = job({}, {})
    rows = call[ROOMS]
    assert isinstance(rows, list)
    older = [[*row[: AT - 2], *row[AT + 1 : -3]] for row in rows]  # nor what came with it
    label, option = SYSTEMS["metric"].label, call[7]
    how = call[DOING]
    assert isinstance(how, list)
    first = [*call[:ROOMS], older, *call[ROOMS + 1 : 7], option, label]
    first[DOING] = [row[:9] for row in how]  # nor a most area a batch, and no reserve
    stated = call[DOING + 2]
    assert isinstance(stated, list)
    first[DOING + 2] = [row[:14] for row in stated]  # nor times of heating
    coats = call[DOING + 1]
    assert isinstance(coats, list)
    first[DOING + 1] = [row[:14] for row in coats]  # nor what the safety data sheet says
    cards = (evaluate("PB_BATCHES", first), evaluate("PB_BATCHES", call))
    before, now = (
        [row[:20] for row in card if isinstance(row, list)]
        for card in cards
        if isinstance(card, list)
    )
    assert before[0][0] == 1, cards[0]
    assert before == now
    second = [*call[:ROOMS], older, *call[ROOMS + 1 : -1], f"{label}; sheets 2"]
    said = evaluate("PB_BATCHES", second)
    assert isinstance(said, str)
    assert "22 columns instead of 28" in said
