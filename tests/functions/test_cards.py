"""The texts of the mix cards: amounts a person can measure that keep the mix within its ratio."""

from __future__ import annotations

import re
from collections.abc import Callable
from types import SimpleNamespace
from typing import Any, Literal

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from pourbook import units
from pourbook.cells import Rows, Value, ranges_of
from pourbook.functions.batch import batches, mix_cards
from pourbook.tables.colours import Cup, Divided

Job = Callable[..., list[Value | Rows]]
Table = Callable[..., list[dict[str, Value]]]
CUPS = "white 60 at 4 %; grey 30 at 5 %; black 10 at 6 %"


def _grams(text: Value) -> float:
    match = re.search(r": ([\d,.]+) g", str(text))
    assert match, text
    return float(match[1].replace(",", ""))


def _mark(text: Value) -> float:
    match = re.search(r"to the ([\d,]+) mL mark", str(text))
    assert match, text
    return float(match[1].replace(",", ""))


def test_parts_are_poured_in_the_order_of_the_product(job: Job, table: Table) -> None:
    for row in table(job({}, {})):
        assert str(row["first"]).startswith("1. Pour B: ")
        assert str(row["second"]).startswith("2. Pour A: ")
        assert row["third"] == ""


@settings(max_examples=60)
@given(
    st.floats(0.2, 10),
    st.floats(0.7, 2.0),
    st.sampled_from(["volume", "mass"]),
    st.floats(0.005, 0.05),
    st.sampled_from(["A", "B"]),
)
def test_rounded_amounts_keep_the_ratio(
    job: Job,
    table: Table,
    ratio: float,
    density: float,
    basis: Literal["volume", "mass"],
    tolerance: float,
    first: str,
) -> None:
    """B over A as printed, against the ratio as stated on the data sheet: 1 A to ``ratio`` B."""
    product: dict[str, Value] = {
        "basis": basis,
        "ratio": f"1:{ratio}",
        "density_b": density,
        "first": first,
    }
    rows = table(job({}, {}, product, {"tolerance": tolerance}))
    assume(all(row["status"] == "ok" for row in rows))
    by_mass = ratio if basis == "mass" else ratio * density / 1.1
    for row in rows:
        poured = {str(row[n])[8]: row[n] for n in ("first", "second")}
        off = _grams(poured["B"]) / _grams(poured["A"]) / by_mass - 1
        assert abs(off) <= tolerance
        if "mark" in str(row["first"]):
            low, high = _mark(row["first"]), _mark(row["second"])
            marked = {first: low, {"A": "B", "B": "A"}[first]: high - low}
            off = marked["B"] * density / (marked["A"] * 1.1) / by_mass - 1
            assert abs(off) <= tolerance
            assert "WEIGH IT" not in str(row["note"])
        else:
            assert "WEIGH IT" in str(row["note"])


def test_small_second_part_must_be_weighed(job: Job, table: Table) -> None:
    """50 : 1 in a litre: some 20 mL of B, which a mark of 5 mL cannot hold to 1 %."""
    product: dict[str, Value] = {"ratio": "50:1", "first": "A"}
    rows = table(job({}, {}, product, {"tolerance": 0.02}))
    assert any("WEIGH IT" in str(row["note"]) for row in rows)
    for row in rows:
        if "WEIGH IT" in str(row["note"]):
            assert "mark" not in str(row["first"]) + str(row["second"])


def test_cups_are_what_was_weighed(job: Job, table: Table) -> None:
    for row in table(job({}, {"cups": CUPS})):
        poured = _grams(row["first"]) + _grams(row["second"])
        divided = re.findall(r"(?:white|grey|black) ([\d,.]+) g \+", str(row["card_cups"]))
        assert len(divided) == 3
        assert sum(float(g.replace(",", "")) for g in divided) == pytest.approx(poured, abs=1e-6)


def test_use_by_is_rounded_down(job: Job, table: Table) -> None:
    for row in table(job({}, {}, work={"pot_life": 40.9})):
        assert row["use_by"] == pytest.approx(40.9)
        assert "worked by 40 min after the start of mixing" in str(row["spread"])


def test_out_of_the_bucket_comes_before_worked(job: Job, table: Table) -> None:
    """40 min for 200 g; 1.2 L is some 1.3 kg, which stays hot: the film has 40, the bucket less."""
    call = job({}, {"share": 0.5, "carrying": 1}, work={"pot_mass": "200 g", "pot_life": 400})
    for row in table(call):
        life = float(str(row["use_by"]))
        assert life < 400
        assert f"out of the bucket by {int(life / 2)}, worked by 400 min" in str(row["spread"])


def test_steps_are_numbered_without_gaps(job: Job, table: Table) -> None:
    call = job(
        {"thinner": "5 % vol", "broadcast": "200 g/m\u00b2", "pigment": "2 % mass"},
        {"heat_passes": 3},
        {"shake": "A"},
    )
    order = ("first", "second", "pigment", "thinner", "mixing", "spread", "heat", "broadcast")
    for row in table(call):
        assert [str(row[n]).split(".")[0] for n in order] == [str(n) for n in range(1, 9)]
        assert "3 passes" in str(row["heat"])
        assert row["shake"] == "Shake part A well before opening"


def test_long_list_of_pieces_is_cut_and_says_so(job: Job, table: Table) -> None:
    pieces = tuple((f"A shelf of some length {chr(97 + n)}", 0.3, "no") for n in range(20))
    (row,) = table(job({}, {"bucket": "20 L", "pace": 900}, pieces=pieces))
    assert len(str(row["card_pieces"])) <= mix_cards.LONGEST_PIECES + 30
    shown = str(row["card_pieces"]).count("A shelf")
    assert (
        str(row["card_pieces"]).partition(". ")[0].endswith(f"and {20 - shown} more, see Batches")
    )


def test_title_counts_the_whole_job(job: Job, table: Table) -> None:
    rows = table(job({}, {}))
    for number, row in enumerate(rows, start=1):
        assert row["title"] == f"Batch {number} of {len(rows)}: Flood"


def test_batch_too_small_to_weigh_keeps_its_amounts_and_has_no_card(job: Job, table: Table) -> None:
    """300 : 1 in 60 mL is 0.2 mL of B: a scale that shows 0.1 g cannot weigh it to half of 1 %."""
    product: dict[str, Value] = {"ratio": "300:1", "first": "A"}
    pieces = (("Chip", 0.1, "no"),)
    (row,) = table(job({}, {"batch_loss": None}, product, {"tolerance": 0.01}, pieces=pieces))
    assert str(row["status"]).startswith("CHECK: ")
    assert len(str(row["status"])) > 30
    assert row["title"] == row["first"] == row["note"] == "!"
    volumes = [row["volume_a"], row["volume_b"]]
    assert all(isinstance(v, float) and v > 0 for v in volumes)
    assert volumes[0] == pytest.approx(300 * float(str(volumes[1])), rel=1e-6)


@pytest.mark.parametrize(
    ("film", "us", "metric"),
    [  # 1 mil is 25.4 µm exactly
        (0.000762, "30 mil (750 µm)", "750 µm"),
        (0.0001016, "4 mil (100 µm)", "100 µm"),
        (0.00006, "2.5 mil (60 µm)", "60 µm"),
    ],
)
def test_a_film_is_told_in_the_steps_of_a_gauge(film: float, us: str, metric: str) -> None:
    assert mix_cards.gauge(film, units.SYSTEMS["us"]) == us
    assert mix_cards.gauge(film, units.SYSTEMS["metric"]) == metric


def test_a_card_says_room_pieces_area_and_film(job: Job, table: Table) -> None:
    rows = table(job({}, {"bucket": "3 L"}, pieces=(("Run", 3.0, "no"), ("Sill", 1.0, "no"))))
    # 4 m of 0.5 m top and 40 mm edge are 2.16 m²; 1 mm of film.
    assert [str(row["card_pieces"]) for row in rows] == ["Bar: Run; Sill. 2.2 m², 1000 µm wet"]


@pytest.mark.parametrize(
    ("passes", "today", "before"),
    [
        (1, "1 pass; ", "1 pass, a minute or two apart; "),
        (2, "2 passes, a minute or two apart; ", "2 passes, a minute or two apart; "),
    ],
)
def test_passes_of_the_torch_are_told(passes: int, today: str, before: str) -> None:
    """From 5 to 15 min after it is spread; cards of templates 1 do not say when."""
    mix: Any = SimpleNamespace(
        planned=SimpleNamespace(
            doing=SimpleNamespace(heat_passes=passes),
            working=SimpleNamespace(heat_from=300.0, heat_until=900.0),
        )
    )
    assert mix_cards._heating(mix) == f"first 5 to 15 min after it is spread; {today}"
    with ranges_of(1):
        assert mix_cards._heating(mix) == before


@pytest.mark.parametrize(
    ("system", "said"),
    [
        ("us", "white 50 %: 16.9 US fl oz; grey 50 %: 16.9 US fl oz"),
        ("metric", "white 50 %: 500 mL; grey 50 %: 500 mL"),
    ],
)
def test_cups_are_told_in_tenths_of_an_ounce_or_millilitres(system: str, said: str) -> None:
    """A litre is 33.814 US fluid ounces, 16.9 each."""
    cups = [Divided(Cup(name, 0.5, 0.0), 0.0005, 0.0) for name in ("white", "grey")]
    mix: Any = SimpleNamespace(cups=cups, batch=SimpleNamespace(mixed=0.001))
    assert batches.cups_text(mix, units.SYSTEMS[system]) == said
