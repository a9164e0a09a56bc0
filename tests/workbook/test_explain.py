"""Explaining a number: its place in words, its figures with units, the values as recomputed."""

from __future__ import annotations

import datetime as dt
import math
import re
from itertools import pairwise
from pathlib import Path

import pytest

from pourbook.errors import InputError
from pourbook.job import make
from pourbook.job.make import Scenario
from pourbook.workbook.check.check import Checked, check_file
from pourbook.workbook.tell.explain import ExplainedLine, explain

GALLON = 231  # cubic inches


@pytest.fixture(scope="module")
def us(demo_us: Path) -> Checked:
    return check_file(demo_us)


@pytest.fixture(scope="module")
def metric(demo_metric: Path) -> Checked:
    return check_file(demo_metric)


def _lines(checked: Checked, place: str) -> list[ExplainedLine]:
    return explain(checked.plan, checked.book, checked.values, place)


def _place(checked: Checked, block: str, name: str, index: int = 0) -> str:
    cell = checked.plan.cell(block, name, index)
    return f"{cell.sheet}!{cell.address}"


def _of(checked: Checked, block: str, name: str, index: int = 0) -> list[ExplainedLine]:
    return _lines(checked, _place(checked, block, name, index))


def _number(line: ExplainedLine) -> float:
    return float(line.value.split(" ")[0].replace(",", ""))


def _named(lines: list[ExplainedLine], what: str) -> ExplainedLine:
    found = [line for line in lines if line.what == what]
    assert len(found) == 1, f"{what}: {lines}"
    return found[0]


def test_entry_is_told_as_typed(us: Checked) -> None:
    (line,) = _of(us, "rooms", "a", 1)
    assert line.what == f"{_place(us, 'rooms', 'a', 1)}, 'Size A' in row 2 of Pieces"
    assert line.value == "3' 2 1/2\""
    assert line.how == "typed"
    assert line.depth == 0


@pytest.mark.parametrize(
    ("block", "name", "value"),
    [
        ("start", "date", "2026-11-24"),
        ("money", "tax", "6.25 %"),
        ("site", "crew", "3 people"),
        ("site", "hours", "8 h/day"),
        ("rates", "labour", "46.00 USD/h"),
        ("rates", "uplift", "30 %"),
        ("site", "humidity", "45 %"),
    ],
)
def test_entry_carries_its_unit(us: Checked, block: str, name: str, value: str) -> None:
    assert _of(us, block, name)[0].value == value


def test_a_blank_entry_is_explained_as_blank(us: Checked) -> None:
    (line,) = _of(us, "rooms", "c", 1)
    assert line.value == "blank"


def test_piece_is_worked_out_step_by_step(us: Checked) -> None:
    lines = _of(us, "rooms", "top", 1)
    assert "worked out by PB_ROOMS" in lines[0].how
    # 3' 2 1/2" by 25 1/2": 38.5 in x 25.5 in over 144
    assert _number(lines[0]) == pytest.approx(38.5 * 25.5 / 144, rel=1e-5)
    assert lines[0].value.endswith(" ft²")
    assert _named(lines, "Size A (length)").value == "38.5 in"
    assert _named(lines, "Size B (width)").value == "25.5 in"
    assert _number(_named(lines, "Top")) == pytest.approx(38.5 * 25.5 / 144, rel=1e-5)
    assert {line.depth for line in lines[1:]} == {1}


def test_layer_is_worked_out_step_by_step(us: Checked) -> None:
    """The clear flood coat: 3 US fl oz a square foot, 5 % lost, 5 batches that leave 3 fl oz."""
    lines = _of(us, "amounts", "mixed", 1)
    area = _number(_named(lines, "Area"))
    edges = area - _number(_of(us, "measured", "top", 0)[0])
    film = 3 / 128 * GALLON / 144 * 1000  # mil
    over = edges * 144 * (film - 12) / 1000 / GALLON  # an edge holds 12 mil, the rest runs off
    net = area * 3 / 128 - over
    run = _number(_named(lines, "Edge run"))
    off = run * 0.4 / 128 + over
    left = 5 * 3 / 128
    mixed = _number(lines[0])
    lost = _number(_named(lines, "Loss"))
    assert _number(_named(lines, "Net mix")) == pytest.approx(net, rel=1e-5)
    assert _number(_named(lines, "Edge run-off")) == pytest.approx(off, rel=1e-5)
    assert _number(_named(lines, "Bucket hold-back")) == pytest.approx(left, rel=1e-5)
    assert mixed == pytest.approx(net + off + left + lost, rel=1e-5)
    # 3 fl oz on a square foot: 3/128 of 231 in³ over 144 in², in thousandths of an inch
    assert _number(_named(lines, "Wet film")) == pytest.approx(
        3 / 128 * GALLON / 144 * 1000, rel=1e-5
    )
    assert _named(lines, "Wet film").value.endswith(" mil")
    assert _named(lines, "Mixed").value == lines[0].value


def test_plan_is_worked_out_step_by_step(us: Checked) -> None:
    """The clear flood coat: two of three spread 150 ft² an hour each, the bucket binds."""
    lines = _of(us, "plan", "limit", 1)
    assert "PB_PLAN" in lines[0].how
    time = _number(_named(lines, "Time to spread it"))
    life = _number(_named(lines, "Pot life of the largest batch"))
    assert time == pytest.approx(0.7 * life - 2 - 1)  # 2 min of mixing, 1 of carrying
    area = 2 * 150 * time / 60
    rooms = [
        [us.values["Rooms", us.plan.cell("rooms", name, row).address] for row in range(15)]
        for name in ("run", "top", "edge")
    ]
    runs = [[float(str(cell)) for cell in column] for column in rooms]
    run_off = 0.4 * min(run / (top + edge) for run, top, edge in zip(*runs, strict=True))
    spread = area * (3 + run_off) / 128 / 0.95 + 3 / 128  # the least run-off, the bucket's rest
    assert _number(_named(lines, "Spreadable in that time")) == pytest.approx(spread, rel=1e-4)
    assert _named(lines, "Largest batch").value == _named(lines, "Bucket").value == lines[0].value
    assert "bucket" in _named(lines, "Largest batch").how
    assert _number(_named(lines, "No fewer than")) <= _number(_named(lines, "Batches"))


def test_batch_is_worked_out_step_by_step(us: Checked) -> None:
    lines = _of(us, "batches", "mixed", 7)
    assert "PB_BATCHES" in lines[0].how
    spread = _number(_named(lines, "Coverage"))
    assert _number(_named(lines, "Bucket hold-back")) == pytest.approx(3 / 128, rel=1e-5)
    assert _number(lines[0]) == pytest.approx(spread + 3 / 128, rel=1e-5)
    parts = _number(_named(lines, "Part A weighs")) + _number(_named(lines, "Part B weighs"))
    assert parts == pytest.approx(_number(_named(lines, "Mix weighs")), rel=1e-4)
    assert _named(lines, "Use by").value.endswith(" min")
    out, use = (_number(_named(lines, name)) for name in ("Out of the bucket by", "Use by"))
    assert out == pytest.approx(0.7 * use)


def test_card_not_in_use_has_nothing_to_tell(us: Checked) -> None:
    (line,) = _of(us, "batches", "title", 23)
    assert line.value == "blank"


def test_part_is_worked_out_step_by_step(us: Checked) -> None:
    lines = _of(us, "parts", "volume_a", 2)
    assert "PB_PARTS" in lines[0].how
    mixed = _number(_of(us, "amounts", "mixed", 2)[0])
    assert _number(_named(lines, "Part A")) == pytest.approx(mixed * 2 / 3, rel=1e-5)
    assert _number(_named(lines, "Part B")) == pytest.approx(mixed / 3, rel=1e-5)


def test_purchase_is_told_from_need_to_pack(us: Checked) -> None:
    lines = _of(us, "buying", "cost_b", 2)
    assert "PB_BUY" in lines[0].how
    for part in ("A", "B"):
        need = _number(_named(lines, f"Option B, part {part} needed"))
        stock = _number(_named(lines, f"Option B, part {part} from stock"))
        assert need == pytest.approx(
            _number(_of(us, "parts", f"volume_{part.lower()}", 5)[0]), rel=1e-5
        )
        assert _number(_named(lines, f"Option B, part {part} to buy")) == pytest.approx(
            need - stock, rel=1e-5
        )
    assert _named(lines, "Option B, kit 1.5 US gal").value == "118"


def test_pack_and_lot_tell_of_their_product(us: Checked) -> None:
    assert _named(_of(us, "packs", "pack_cost", 3), "Option A, part A needed")
    assert _named(_of(us, "stock", "used", 0), "Option B, part B needed")


def test_product_is_worked_out_step_by_step(metric: Checked) -> None:
    lines = _of(metric, "products", "mix_density", 0)
    assert "PB_PRODUCTS" in lines[0].how
    assert len(lines) > 1
    assert all(line.value for line in lines)


def test_blank_row_of_a_block_is_blank(us: Checked) -> None:
    lines = _of(us, "amounts", "mixed", 11)
    assert [line.value for line in lines] == ["blank"]


def test_price_is_told_with_what_it_hangs_on(us: Checked) -> None:
    lines = _of(us, "price", "net", 0)
    assert lines[0].value.endswith(" USD")
    assert "{" not in lines[0].how
    depths = [line.depth for line in lines]
    assert depths[0] == 0
    assert max(depths) <= 3
    assert all(b - a <= 1 for a, b in pairwise(depths))
    cost = next(x for x in lines if x.what.startswith(_place(us, "price", "cost", 0) + ","))
    margin = next(x for x in lines if x.what.startswith(_place(us, "rates", "uplift") + ","))
    share = float(margin.value.removesuffix(" %")) / 100
    assert _number(lines[0]) == pytest.approx(_number(cost) / (1 - share), rel=1e-5)


def test_range_is_told_by_its_sum(us: Checked) -> None:
    lines = _of(us, "price", "material", 0)
    first, last = _place(us, "buying", "cost_a"), us.plan.cell("buying", "cost_a", 11).address
    found = next(line for line in lines if line.what.startswith(f"{first}:{last}"))
    assert found.value == f"3 numbers, together {lines[0].value}"


@pytest.mark.parametrize("block", ["rooms", "amounts", "parts", "price", "quote_price"])
def test_every_number_is_the_recomputed_one(us: Checked, block: str) -> None:
    told = 0
    for cell in us.plan.cells:
        value = us.values.get((cell.sheet, cell.address))
        if cell.block != block or not isinstance(value, float) or cell.index > 2:
            continue
        line = _lines(us, f"{cell.sheet}!{cell.address}")[0]
        assert cell.field is not None
        near = 0.005 if " USD" in line.value else 1e-9  # money is told to the cent
        scale = 100 if line.value.endswith(" %") else 1
        if re.match(r"\d{4}-", line.value):
            continue
        assert math.isclose(_number(line), value * scale, rel_tol=1e-5, abs_tol=near), line
        unit = us.plan.unit(cell.field.unit).replace("@money", "USD")
        assert line.value.endswith(unit), line
        told += 1
    assert told >= 4


@pytest.mark.parametrize("spelled", ["Rooms!Q18", "rooms!q18", "'Rooms'!$Q$18", " Rooms!Q18 "])
def test_place_may_be_spelled_as_formulas_do(us: Checked, spelled: str) -> None:
    assert _lines(us, spelled) == _lines(us, "Rooms!Q18")


def test_cell_of_ones_own(us: Checked) -> None:
    (line,) = _lines(us, "Scratch!A60")
    assert "a cell of your own" in line.what
    assert line.value == "blank"


def test_text_of_the_template_is_told_as_such(us: Checked) -> None:
    (line,) = _lines(us, "Amounts!A1")
    assert line.how == "part of the template"
    assert "check" not in line.what, "the title of a sheet is no check"


@pytest.mark.parametrize(
    "place", ["", "Q12", "Rooms", "Rooms!", "!Q12", "Rooms!12", "A1:B2!", "Price!A1:B3"]
)
def test_what_is_no_cell(us: Checked, place: str) -> None:
    with pytest.raises(InputError, match=r"is no cell: type it as Rooms!Q12"):
        _lines(us, place)


@pytest.mark.parametrize("place", ["Price!B0", "Price!XFE1", "Price!A1048577", "Price!ZZZ9999999"])
def test_cell_no_sheet_has(us: Checked, place: str) -> None:
    with pytest.raises(InputError, match="is no cell"):
        _lines(us, place)


def test_sheet_that_is_not_there(us: Checked) -> None:
    with pytest.raises(InputError, match=r"no sheet 'Attic': the sheets are Start, Survey, Rooms"):
        _lines(us, "Attic!A1")


def test_row_that_cannot_be_worked_out_says_why(
    tmp_path: Path, scenario_us: Scenario, pieces: int
) -> None:
    target = tmp_path / "bad.xlsx"
    make.make(target, "us", {**scenario_us.entries, ("rooms", "b", 1): None}, pieces=pieces)
    checked = check_file(target)
    lines = _of(checked, "rooms", "top", 1)
    assert lines[0].value == "!"
    why = _named(lines, "it cannot be worked out")
    assert "Size B" in why.value + why.how
    assert "blank" in why.value + why.how


@pytest.mark.parametrize(
    "sheet", ["Rooms", "Layers", "Products", "Amounts", "Price", "Quote", "Checks"]
)
def test_every_planned_cell_can_be_explained(metric: Checked, sheet: str) -> None:
    cells = [c for c in metric.plan.cells if c.sheet == sheet and c.index <= 1]
    assert cells
    for cell in cells:
        for line in _lines(metric, f"{sheet}!{cell.address}"):
            assert line.what
            assert line.value
            assert "''" not in line.what, line
            assert "@money" not in line.value, line


@pytest.mark.parametrize(("name", "stated"), [("light_use", 72), ("touch_dry", 24)])
def test_a_curing_time_is_told_from_what_the_can_says_to_the_clock(
    us: Checked, name: str, stated: float
) -> None:
    """The flood coat of the demo, third row of the layers: its own hours at its own temperature."""
    told = _of(us, "spans", name, 2)
    assert _number(_named(told, "Age needed")) == stated
    clock = _number(_named(told, "Time by the clock"))
    assert clock > stated  # the site is cooler than the temperature the hours are stated at
    ends = dt.datetime.strptime(
        _named(told, "Age needed").how.rpartition("which ends ")[2], "%Y-%m-%d %H:%M"
    )
    reached = dt.datetime.strptime(told[0].value, "%Y-%m-%d %H:%M")
    assert (reached - ends) / dt.timedelta(hours=1) == pytest.approx(clock, abs=0.02)


def test_an_entry_offered_by_a_finish_is_told_as_such(us: Checked) -> None:
    (line,) = _of(us, "layers", "spread", 1)
    assert line.value == "3 fl oz/ft²"
    assert line.how == "offered by the sheet; it may be typed over"
