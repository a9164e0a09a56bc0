"""Running short, through PB_BUY: chance, one more pack, and the advice, by hand.

2 L stay on the surface. One kit of 2 L, one pack of B of 0.5 L and 0.1 L of A in stock make 2.2 L:
it runs short beyond a loss of 1/11. Figures of Student's t: scipy.
"""

from __future__ import annotations

import math

import pytest
from scipy.stats import t

from pourbook import units
from pourbook.cells import Value
from pourbook.functions.buy import running_short
from pourbook.functions.buy.buy_list import PB_BUY
from pourbook.functions.catalogue import evaluate
from pourbook.tables.buy.settled_losses import USUAL_SPREAD, WORTH, SettledLoss
from pourbook.workbook.template.template import load_book

NAMES = [argument.name for argument in PB_BUY.arguments]


def _told(**changed: object) -> dict[str, Value]:
    given = dict(zip(NAMES, PB_BUY.examples[0].arguments, strict=True)) | changed
    found = evaluate("PB_BUY", [given[name] for name in NAMES])  # type: ignore[misc]
    assert isinstance(found, list), found
    return dict(zip([column.id for column in PB_BUY.columns], found[0], strict=True))


def _logit(share: float) -> float:
    return math.log(share / (1 - share))


def _chance(have: float, loss: float, spread: float, jobs: float) -> float:
    weight = jobs + 4
    width = spread * math.sqrt((weight + 1) / weight)
    return float(t.sf((_logit(1 - 2.0 / have) - _logit(loss)) / width, weight))


@pytest.mark.parametrize(
    ("settled", "loss", "spread", "jobs"),
    [
        (("Clear", 0.1, 0.3, 0), 0.1, 0.3, 0),
        (("clear", 0.05, 0.2, 12), 0.05, 0.2, 12),
        (("Clear", None, None, None), 0.2 / 2.2, 0.3, 0),  # 0.2 of 2.2 L, as planned
        (("Other", 0.5, 0.3, 0), 0.2 / 2.2, 0.3, 0),
    ],
)
def test_chance_is_that_of_the_learned_loss(
    settled: tuple[Value, ...], loss: float, spread: float, jobs: float
) -> None:
    found = _told(settled=[settled])
    assert found["short_chance"] == pytest.approx(_chance(2.2, loss, spread, jobs), abs=1e-9)
    # one more kit of 2 L: of A 2.1 L, of B 2.5, which make 4.2 L of mix
    assert found["short_more"] == "1 x kit 2"
    assert found["short_cost"] == 60.0
    assert found["short_then"] == pytest.approx(_chance(4.2, loss, spread, jobs), abs=1e-9)
    assert found["short_state"] == "ok"


@pytest.mark.parametrize(
    ("trip", "advice"),
    [
        (400.0, "one more"),  # 0.614 x 400 is 246 for a kit of 60
        (97.0, "enough"),  # 59.6
        (0.0, "enough"),
        (None, "type what a second trip costs, on Start"),
    ],
)
def test_advice_weighs_the_pack_against_the_trip(trip: Value, advice: str) -> None:
    assert _told(trip=trip)["short_advice"] == advice


def test_parts_alone_are_bought_one_of_each() -> None:
    packs = [("Clear", "A", "1 L", 30.0, None, None), ("Clear", "B", "0.5 L", 14.0, None, None)]
    found = _told(packs=packs)
    assert (found["short_more"], found["short_cost"]) == ("1 x A 1; 1 x B 0.5", 44.0)


def test_nothing_more_to_be_had_is_said() -> None:
    packs = [("Clear", "kit", "2.2 L", 60.0, None, 1)]
    found = _told(packs=packs, stock=[[None] * 6])
    assert (found["short_more"], found["short_advice"]) == ("", "no pack holds it")


def test_stock_past_its_day_does_not_count() -> None:
    stock = [("Clear", "7", "kit", "5 L", 46000.0, None)]
    packs = [("Clear", "kit", "2.2 L", 60.0, None, None)]
    assert _told(stock=stock, packs=packs)["short_chance"] == pytest.approx(
        _chance(2.2, 0.1, 0.3, 0), abs=1e-9
    )
    fresh = [("Clear", "7", "kit", "5 L", 47000.0, None)]
    assert _told(stock=fresh, packs=packs)["short_chance"] == pytest.approx(
        _chance(5.0, 0.1, 0.3, 0), abs=1e-9
    )


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"settled": [("Clear", 1.5, None, None)]}, "Loss"),
        ({"settled": [("Clear", "much", None, None)]}, "Loss"),
        ({"settled": [("Clear", 0.1, 0, None)]}, "Scatter"),
        ({"settled": [("Clear", 0.1, 0.3, -1)]}, "Jobs"),
        ({"settled": [("Clear", 0.1, 0.3, 1), ("Clear", 0.2, 0.3, 1)]}, "two rows"),
        ({"settled": [("Clear", 0.1)]}, "columns"),
        ({"trip": "dear"}, "A second trip costs"),
        ({"trip": -5.0}, "A second trip costs"),
    ],
)
def test_wrong_figures_are_named_and_the_purchase_stands(
    changed: dict[str, object], said: str
) -> None:
    found = _told(**changed)
    assert str(found["short_state"]).startswith("! ")
    assert said in str(found["short_state"])
    assert (found["short_chance"], found["buy_status"]) == ("!", "ok")


def test_option_without_the_product_says_nothing() -> None:
    assert _told(option="B")["short_state"] == ""
    assert _told(option=None, amounts=None, settled=None, trip=None)["short_state"] == ""


def test_usual_figures_are_those_of_a_new_shop() -> None:
    form = load_book("shop").block("learning")
    assert form.field("prior_spread").default == USUAL_SPREAD
    assert form.field("prior_jobs").default == WORTH


def test_what_is_learned_begins_with_the_loss_that_was_planned() -> None:
    """9 of 10 L stay: a tenth is lost; none and all of it count as the least and the most."""

    def typical(net: float, known: dict[str, SettledLoss] | None = None) -> float:
        risk = running_short.Risk({"clear": net}, {"clear": 10.0}, known or {}, None)
        return risk.learned("Clear").typical()

    assert typical(9.0) == pytest.approx(0.1)
    assert typical(7.5) == pytest.approx(0.25)
    assert 0 < typical(10.0) < 0.01
    assert 0.5 < typical(1e-9) < 1
    assert typical(9.0, {"clear": SettledLoss(0.05)}) == pytest.approx(0.05)


@pytest.mark.parametrize(
    ("net", "mixed", "read"), [(2.0, 2.0, True), (0.0, 2.0, False), (2.1, 2.0, False)]
)
def test_amounts_nobody_can_mean_are_refused(net: float, mixed: float, read: bool) -> None:
    cells: dict[str, Value] = {"option": "A", "product": "Clear", "status": "ok"}
    row = [{**cells, "net": net, "mixed": mixed}.get(c) for c in running_short.AMOUNT_COLUMNS]
    found = running_short.read_risk([row], (), "A", None, units.SYSTEMS["metric"])
    assert isinstance(found, running_short.Risk) is read
