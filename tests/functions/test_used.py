"""The log of batches judged row by row: figures worked by hand, and what must always hold."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from types import SimpleNamespace
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pourbook import units
from pourbook.cells import Value, choice
from pourbook.errors import BlankError, CellText, PourbookError, UnknownError
from pourbook.functions.catalogue import catalogue, evaluate
from pourbook.functions.used import used, used_checks
from pourbook.job.make import Scenario
from pourbook.tables import products as product_table
from pourbook.tables import works as working_table
from pourbook.tables.buy import packs
from pourbook.tables.used import log_rows, lots
from pourbook.trade import mixing
from pourbook.workbook.template.template import load_book

DAY = 46398.0  # 2027-01-11
RESULTS = [c.id for c in catalogue()["PB_USED"].columns]
SCAN = "(01)02000000000411(17)270131(10)K-7"


def _cells(columns: Sequence[str], **given: Value) -> list[Value]:
    assert set(given) <= set(columns)
    return [given.get(name) for name in columns]


def _log(**given: Value) -> list[Value]:
    usual: dict[str, Value] = {
        "layer": "Top",
        "started": DAY + 9 / 24,
        "ended": DAY + 9.5 / 24,
        "lot_a": "K-7",
        "lot_b": "K-7",
        "mass_a": 1000.0,
        "mass_b": 500.0,
        "air": 20.0,
        "humidity": 0.5,
    }
    return _cells(log_rows.COLUMNS, **{**usual, **given})


def _product(**given: Value) -> list[Value]:
    usual: dict[str, Value] = {
        "product": "Clear",
        "parts": 2,
        "basis": "mass",
        "ratio": "2:1",
        "density_a": 1.0,
        "density_b": 1.0,
        "solids": 1,
    }
    return _cells(product_table.COLUMNS, **{**usual, **given})


def _working(**given: Value) -> list[Value]:
    usual: dict[str, Value] = {"name": "Clear", "pot_life": 40, "pot_temp": 20}
    return _cells(working_table.COLUMNS, **{**usual, **given})


def _receipt(**given: Value) -> list[Value]:
    usual: dict[str, Value] = {
        "date": DAY,
        "document": "R",
        "kind": "bought",
        "product": "Clear",
        "holds": "kit",
        "lot": "K-7",
    }
    return _cells(lots.RECEIPTS, **{**usual, **given})


LAYERS: list[list[Value]] = [
    ["A", "Base", "Clear", "roll", "top", None, "clean", "1 mm", *[None] * 8],
    ["A", "Top", "Clear", "roll", "top + edge", None, "clean", "1 mm", *[None] * 8],
]
TOP: list[Value] = ["A", 2, "Top", "Clear", 2.0, 2.0, 1.0, 1.0, 2.0, 0, 0, 0, 0, 2.0, 1, "ok"]


def _used(
    *log: list[Value],
    receipts: Sequence[list[Value]] | None = None,
    stock: Sequence[list[Value]] = (),
    layers: list[list[Value]] = LAYERS,
    product: list[Value] | None = None,
    working: list[Value] | None = None,
    accepted: Value = None,
    film_off: Value = 0.2,
    tell: Callable[[CellText], None] = lambda _: None,
) -> list[dict[str, Any]]:
    result = evaluate(
        "PB_USED",
        [
            list(log),
            [_receipt()] if receipts is None else list(receipts),
            list(stock) or [[None] * len(packs.STOCK)],
            layers,
            [product or _product()],
            [working or _working()],
            [TOP],
            "metric",
            "A",
            accepted,
            film_off,
        ],
        tell,
    )
    assert isinstance(result, list), result
    return [dict(zip(RESULTS, row, strict=True)) for row in result]


def _one(*log: list[Value], **given: Any) -> dict[str, Any]:
    return _used(*log, **given)[-1]


def test_a_good_row_is_ok() -> None:
    found = _one(_log())
    assert (found["verdict"], found["reason"], found["used_status"]) == ("ok", "", "ok")
    assert found["used_volume"] == pytest.approx(1.5)  # 1 kg and 0.5 kg of 1 kg/L
    assert (found["took"], found["lots"]) == (30.0, "K-7")


@pytest.mark.parametrize(
    ("product", "masses", "off"),
    [
        # 2 : 1 by weight: 1000 g call for 500 g; 510 is 2 % over, 475 is 5 % short
        ({}, (1000, 510), 0.02),
        ({}, (1000, 475), -0.05),
        # 2 : 1 by volume at 1.2 and 0.9 kg/L: 1200 g are 1 L, half a litre of B weighs 450 g
        ({"basis": "volume", "density_a": 1.2, "density_b": 0.9}, (1200, 459), 0.02),
        ({"basis": "volume", "density_a": 1.2, "density_b": 0.9}, (1200, 450), 0.0),
        # 4 : 2 : 1 by weight: 1000 g call for 500 and 250; the worst part is C, 10 % over
        (
            {"parts": 3, "ratio": "4:2:1", "density_c": 1.0},
            (1000, 510, 275),
            0.1,
        ),
        # a part left out is short of all of it
        ({}, (1000, 0), -1.0),
        # one part has no ratio
        ({"parts": 1, "ratio": None, "density_b": None}, (1000,), 0.0),
    ],
)
def test_off_ratio_by_hand(product: dict[str, Value], masses: Sequence[float], off: float) -> None:
    cells = {f"mass_{part}": mass for part, mass in zip("abc", masses, strict=False)}
    found = _one(_log(**{"mass_b": None, **cells, "lot_c": "K-7"}), product=_product(**product))
    assert found["off_ratio"] == pytest.approx(off, abs=1e-12)
    assert (found["verdict"] == "look") == (abs(off) > 0.02 + 1e-12)  # the usual tolerance


def test_tolerance_is_the_products_own() -> None:
    row = _log(mass_b=520.0)  # 4 % over
    assert _one(row, working=_working(tolerance=0.04))["verdict"] == "ok"
    assert (
        "part B is 4.0 % over, 3 % is allowed"
        in _one(row, working=_working(tolerance=0.03))["reason"]
    )


def test_pot_life_follows_air_and_weight() -> None:
    # the ten-degree rule: at 30 °C half of the 40 min at 20 °C, and 1.6 times less: it heats itself
    warm = _one(_log(air=30.0))
    assert warm["pot_life"] == pytest.approx(12.5)
    words = "30 min from mixing to poured, the pot life at 30 °C (86 °F) was 12 min"
    assert warm["reason"] == words
    # twice the weight it is stated for: half the time; half the weight: no more time
    assert _one(_log(), working=_working(pot_mass="750 g"))["pot_life"] == pytest.approx(20.0)
    assert _one(_log(), working=_working(pot_mass="3 kg"))["pot_life"] == pytest.approx(40.0)
    assert _one(_log(ended=DAY + (9 + 40 / 60) / 24))["verdict"] == "ok"  # to the minute


def test_what_was_not_written_down_is_looked_at() -> None:
    for name, words in (
        ("ended", "all was spread"),
        ("air", "pot life"),
        ("humidity", "dew point"),
    ):
        found = _one(_log(**{name: None}))
        assert found["verdict"] == "look"
        assert words in found["reason"], name
    assert _one(_log(wet=None))["film_share"] == ""


def test_surface_is_the_airs_where_blank() -> None:
    damp = _log(air=20.0, surface=None, humidity=1.0)
    assert _one(damp)["above_dew"] == pytest.approx(0.0, abs=1e-9)
    assert "condenses" in _one(damp)["reason"]


@pytest.mark.parametrize(("wet", "fine"), [(1.2, True), (0.8, True), (1.21, False), (0.79, False)])
def test_wet_film_within_its_span(wet: float, fine: bool) -> None:
    found = _one(_log(wet=wet))
    assert found["film_share"] == pytest.approx(wet)
    assert (found["verdict"] == "ok") == fine


def _over(hours: float, air: float = 20.0, **how: Value) -> dict[str, Any]:
    """A top coat mixed so many hours after the base was spread, both at one temperature."""
    began = DAY + 9.5 / 24 + hours / 24
    window: dict[str, Value] = {"cure_temp": 20, "recoat_from": 8, "recoat_until": 24, **how}
    return _one(
        _log(layer="Base", air=air),
        _log(started=began, ended=began + 0.1 / 24, air=air),
        working=_working(**window),
    )


def test_recoat_window_at_the_temperature_of_the_sheet() -> None:
    words = "Base: the coat below was too fresh: 7.9 h old, recoat from 8.0 h"
    assert _over(7.9)["reason"] == words + " (hours at 20 °C (68 °F))"
    assert [_over(h)["verdict"] for h in (8, 24)] == ["ok", "ok"]
    late = _over(25)
    assert late["since_coat"] == pytest.approx(25)
    assert "had closed: 25.0 h old, recoat until 24.0 h; was it sanded?" in late["reason"]


def test_recoat_window_moves_with_the_temperatures_in_the_log() -> None:
    # the ten-degree rule: at 30 °C four hours count as eight, and thirteen as more than 24
    assert [_over(h, air=30.0)["verdict"] for h in (4.01, 11.9)] == ["ok", "ok"]
    assert "too fresh" in _over(3.9, air=30.0)["reason"]
    assert "was it sanded?" in _over(12.1, air=30.0)["reason"]


def test_sanding_before_a_coat_opens_a_closed_window_and_waits_for_touch_dry() -> None:
    sanded = [LAYERS[0], [*LAYERS[1][:6], "sand 220 and clean", *LAYERS[1][7:]]]
    began = DAY + 9.5 / 24 + 25 / 24
    rows = (_log(layer="Base"), _log(started=began, ended=began + 0.1 / 24))
    window = {"cure_temp": 20, "recoat_from": 8, "recoat_until": 24}
    assert _one(*rows, layers=sanded, working=_working(**window))["verdict"] == "ok"
    wet = _one(*rows, layers=sanded, working=_working(touch=26, **window))
    assert "recoat from 26.0 h" in wet["reason"]


def test_a_coat_over_other_surfaces_has_no_coat_below() -> None:
    apart = [[*LAYERS[0][:4], "splash", *LAYERS[0][5:]], LAYERS[1]]
    found = _one(_log(layer="Base"), _log(started=DAY + 10 / 24, ended=None), layers=apart)
    assert found["since_coat"] == ""
    rooms = [[*LAYERS[0][:5], "Bath", *LAYERS[0][6:]], [*LAYERS[1][:5], "Bar", *LAYERS[1][6:]]]
    found = _one(_log(layer="Base"), _log(started=DAY + 10 / 24, ended=None), layers=rooms)
    assert found["since_coat"] == ""


def test_a_coat_before_the_coat_below() -> None:
    found = _used(_log(), _log(layer="Base", started=DAY + 1, ended=DAY + 1.01))[0]
    assert found["reason"] == "it was mixed before the coat below, Base, was spread"


def test_second_pass_waits_for_the_first() -> None:
    twice = [LAYERS[0], [*LAYERS[1][:9], 2, *LAYERS[1][10:]]]
    second = _log(started=DAY + 15 / 24, ended=DAY + 15.5 / 24)
    working = _working(cure_temp=20, recoat_from=8)
    found = _one(_log(), second, layers=twice, working=working)
    assert found["since_coat"] == pytest.approx(5.5)
    assert "Top: the coat below was too fresh: 5.5 h old" in found["reason"]


def test_a_lot_is_held_against_its_receipt() -> None:
    late = _one(_log(), receipts=[_receipt(date=DAY + 1)])
    assert late["reason"] == "lot K-7 was used before it was bought"
    assert _one(_log(), receipts=[_receipt(date=DAY + 1), _receipt()])["verdict"] == "ok"
    strange = _one(_log(lot_a="K-9", lot_b="K-9"))
    assert (strange["verdict"], strange["reason"]) == ("ok", "lot K-9 is on no receipt")
    assert _one(_log(lot_a="K-9", lot_b="K-9"), receipts=[_receipt(lot=None)])["reason"] == ""
    shelf = _cells(packs.STOCK, product="Clear", lot="K-9", holds="kit", amount=1, expiry=DAY - 1)
    assert _one(_log(lot_a="k-9"), stock=[shelf])["reason"] == "lot k-9 was past its use-by day"
    swapped = [_receipt(holds="B"), _receipt(holds="A", lot="K-8")]
    assert (
        "lot K-7 was bought as part B, used as part A" in _one(_log(), receipts=swapped)["reason"]
    )
    assert _one(_log(lot_b=None))["verdict"] == "ok", "a kit is one lot"
    assert _one(_log(lot_b=None), receipts=[_receipt(holds="A")])["reason"] == "no lot of part B"
    assert (
        "was used before"
        in _one(_log(), receipts=[_receipt(kind="sent back"), _receipt(date=DAY + 3)])["reason"]
    )


@pytest.mark.parametrize(
    ("given", "over"),
    [
        ([{"packs": 1, "contents": 4.0}], [False, False]),  # two batches of 2 L, one pack of 4 L
        ([{"packs": 1, "contents": 3.93}], [False, False]),  # what a scale may be off
        ([{"packs": 1, "contents": 3.9}], [False, True]),
        ([{"packs": 1, "contents": 1.9}], [True, True]),
        ([{"packs": 2, "contents": 1.9}, {"packs": 1, "contents": 0.2}], [False, False]),
        (
            [{"packs": 2, "contents": 2.0}, {"packs": 1, "contents": 2.0, "kind": "sent back"}],
            [False, True],
        ),
        ([{"packs": None, "contents": None}], [False, False]),  # its own row says what is missing
    ],
)
def test_more_mixed_from_a_lot_than_was_issued(
    given: list[dict[str, Value]], over: list[bool]
) -> None:
    """1.2 kg of A and 0.6 kg of B at 0.9 kg/L: 2 L a batch, both parts of one kit."""
    product = _product(density_a=0.9, density_b=0.9)
    log = [
        _log(mass_a=1200.0, mass_b=600.0, lot_b=None, started=DAY + s, ended=DAY + s + 0.01)
        for s in (0.4, 0.8)
    ]
    rows = _used(*log, receipts=[_receipt(**cells) for cells in given], product=product)
    assert ["of lot K-7 mixed by then" in row["reason"] for row in rows] == over
    assert [row["verdict"] == "look" for row in rows] == over


def test_parts_bought_apart_are_counted_apart() -> None:
    bought = [
        _receipt(holds="A", packs=1, contents=1.0),
        _receipt(holds="B", lot="B-1", packs=1, contents=0.5),
    ]
    row = _one(_log(mass_a=1200.0, mass_b=600.0, lot_b="B-1"), receipts=bought)
    assert row["reason"] == (
        "1.2 L of lot K-7 mixed by then, 1 issued; 0.6 L of lot B-1 mixed by then, 0.5 issued"
    )


def test_a_scanned_can_gives_its_lot_and_use_by_day() -> None:
    found = _one(_log(lot_a=SCAN))
    assert (found["lots"], found["verdict"]) == ("K-7", "ok")
    after = DAY + 21.4  # 2027-02-01, the day after
    late = _one(_log(lot_a=SCAN, started=after, ended=after + 0.01))
    assert late["reason"] == "lot K-7 was past its use-by day"
    last = DAY + 20.4
    assert _one(_log(lot_a=SCAN, started=last, ended=last + 0.01))["verdict"] == "ok"
    by_receipt = _one(_log(started=after, ended=after + 0.01), receipts=[_receipt(lot=SCAN)])
    assert by_receipt["reason"] == "lot K-7 was past its use-by day"
    wrong = _one(_log(lot_a=SCAN.replace("0411", "0412")))
    assert wrong["used_status"].startswith("! Lot A: ")


@pytest.mark.parametrize(
    ("row", "words"),
    [
        ({"layer": None}, "Layer: it is blank"),
        ({"layer": "Attic"}, "Layer: 'Attic' is no layer of the option"),
        ({"started": None}, "Mixing began: it is blank"),
        ({"started": "noon"}, "Mixing began: 'noon' is no date"),
        ({"ended": DAY}, "All spread at: it is before mixing began"),
        ({"mass_a": 0.0}, "Part A weighed: it is 0"),
        ({"mass_a": None}, "Part A weighed: it is blank"),
        ({"mass_b": -1.0}, "Part B weighed: it is -1"),
        ({"mass_c": 5.0}, "Part C weighed: 'Clear' has no part C"),
        ({"humidity": 450.0}, "Humidity: it is 45000 %"),
        ({"wet": 0.0}, "Wet film read: it is 0"),
    ],
)
def test_row_that_cannot_be_read(row: dict[str, Value], words: str) -> None:
    good, bad = _used(_log(), _log(**row))
    assert good["used_status"] == "ok"
    assert bad["used_status"].startswith("! " + words), bad["used_status"]


def test_option_is_the_accepted_one_and_layers_are_told_apart() -> None:
    other = [*LAYERS, ["B", "Seal", "Clear", "roll", "top", None, None, "1 mm", *[None] * 8]]
    assert _one(_log(layer="Seal"), layers=other, accepted="B")["used_status"] == "ok"
    assert "no layer" in _one(_log(layer="Seal"), layers=other)["used_status"]
    twice = [*LAYERS, LAYERS[1]]
    assert "'Top' is there twice in option A" in _one(_log(), layers=twice)["used_status"]


MASS = st.floats(1.0, 1e5)


@given(a=MASS, b=MASS, by=st.floats(0.5, 2.0))
def test_ratio_does_not_know_how_much_was_mixed(a: float, b: float, by: float) -> None:
    one, two = _used(_log(mass_a=a, mass_b=b), _log(mass_a=a * by, mass_b=b * by))
    assert two["off_ratio"] == pytest.approx(one["off_ratio"], rel=1e-9, abs=1e-9)
    assert two["used_volume"] == pytest.approx(one["used_volume"] * by, rel=1e-9)


@given(
    volume=st.floats(0.01, 50), density=st.floats(0.8, 2.0), by=st.sampled_from(["mass", "volume"])
)
def test_a_batch_split_as_the_card_says_is_on_ratio(volume: float, density: float, by: Any) -> None:
    shares = mixing.split(volume / 1000, [2.0, 1.0], [density * 1000, 1000.0], by)
    row = _log(mass_a=shares[0].mass * 1000, mass_b=shares[1].mass * 1000)
    found = _one(row, product=_product(basis=by, density_a=density))
    assert found["off_ratio"] == pytest.approx(0, abs=1e-9)
    assert found["used_volume"] == pytest.approx(volume, rel=1e-9)


@given(hours=st.floats(0.1, 200), air=st.floats(11.0, 40.0))
def test_warmth_only_ages_a_coat(hours: float, air: float) -> None:
    """What is too soon at some temperature is too soon at every colder one."""
    soon = "too fresh" in _over(hours, air)["reason"]
    colder = "too fresh" in _over(hours, air - 10)["reason"]
    assert colder or not soon


@given(st.permutations(range(5)))
def test_rows_are_judged_in_any_order(order: list[int]) -> None:
    rows = [
        _log(layer="Top" if n > 2 else "Base", started=DAY + n, ended=DAY + n + 0.02)
        for n in range(5)
    ]
    straight = _used(*rows, working=_working(cure_temp=20, recoat_from=8))
    mixed = _used(*[rows[n] for n in order], working=_working(cure_temp=20, recoat_from=8))
    assert [mixed[order.index(n)] for n in range(5)] == straight
    assert all(math.isfinite(r["used_volume"]) for r in straight)


@pytest.mark.parametrize("block", ["log", "receipts", "left", "coated", "spent"])
def test_metric_twin_of_the_demo_says_the_same(
    block: str, logged_us: Scenario, logged_metric: Scenario
) -> None:
    """Every entry is the same, or the same amount in the other unit."""
    fields = {f.id: f.unit.removeprefix("@") for f in load_book("job").block(block).columns}
    here = {k: v for k, v in logged_us.entries.items() if k[0] == block}
    there = {k: v for k, v in logged_metric.entries.items() if k[0] == block}
    assert here.keys() == there.keys()
    assert here
    for key, value in here.items():
        ours, theirs = (getattr(units.SYSTEMS[s], fields[key[1]], "") for s in ("us", "metric"))
        if ours and isinstance(value, int | float):
            amount = units.convert(value, ours, theirs)
            assert there[key] == pytest.approx(amount, rel=1e-12), key
        else:
            assert there[key] == value, key


@pytest.mark.parametrize(
    ("typed", "kind"),
    [
        ({"layer": "Nowhere"}, "unknown"),
        ({"layer": None}, "blank"),
        ({"started": None}, "blank"),
        ({"mass_a": -1.0}, "range"),
        ({"mass_a": "heavy"}, "misread"),
        ({"ended": DAY}, "input"),
    ],
)
def test_a_refused_batch_says_of_which_kind_its_fault_is(
    typed: dict[str, Value], kind: str
) -> None:
    told: list[CellText] = []
    shown = _one(_log(**typed), tell=told.append)["used_status"]
    assert [one.refusal.kind for one in told if str(one) == shown] == [kind]


@pytest.mark.parametrize(("word", "kind"), [("", BlankError), ("nowhere", UnknownError)])
def test_a_word_that_is_none_of_a_list_is_blank_or_unknown(
    word: str, kind: type[PourbookError]
) -> None:
    assert choice("Top", "Surfaces", ("top", "edge")) == "top"
    with pytest.raises(kind) as refusal:
        choice(word, "Surfaces", ("top", "edge"))
    assert refusal.value.mend == "choose top, edge"


def test_words_that_fit_a_cell_stay_whole_and_longer_ones_are_cut() -> None:
    """A cell shows 250 letters: 246 and a mark."""
    assert used._short("x" * 250) == "x" * 250
    assert used._short("x" * 251) == "x" * 246 + " ..."


def test_a_ratio_is_held_against_what_part_a_calls_for() -> None:
    """2 A : 1 B by weight: 1 kg of A calls for 0.5 kg of B."""

    def noticed(b: float, tolerance: float = 0.05) -> used_checks.Noticed:
        product = SimpleNamespace(ratio=(2.0, 1.0), densities=(1e3, 1e3), basis="mass")
        batch: Any = SimpleNamespace(masses=(1.0, b), coat=SimpleNamespace(product=product))
        return used_checks.ratio(batch, tolerance)

    assert noticed(0.525).value == pytest.approx(0.05)
    assert not noticed(0.525).wrong
    assert not noticed(0.475).wrong
    assert noticed(0.55).wrong == ("part B is 10.0 % over, 5 % is allowed",)
    assert noticed(0.4).wrong == ("part B is 20.0 % short, 5 % is allowed",)
    assert noticed(4e5).wrong == ("part B is 79999900.0 % over, 5 % is allowed",)
    with pytest.raises(PourbookError) as caught:
        noticed(6e5)
    assert caught.value.what == "it is more than 1,000,000 times what part A calls for"
