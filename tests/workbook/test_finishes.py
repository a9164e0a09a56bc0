"""A finish named on Start stands on Layers at once, until it is typed over.

How few cells a first area, first amounts and a first price take is counted by typing exactly those
into the starter. The bands its figures stand in are common practice, no source.
"""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Mapping
from pathlib import Path

import pytest
from openpyxl import load_workbook
from openpyxl.formula.translate import Translator
from openpyxl.utils import get_column_letter
from tests.open_book import OpenBook

from pourbook import units
from pourbook.cells import Address, Value
from pourbook.hosts import headless
from pourbook.job import carry, make
from pourbook.job.fill import fill
from pourbook.shop import starter
from pourbook.tables import reading, rooms
from pourbook.trade import filling
from pourbook.units import SYSTEMS
from pourbook.workbook.check.check import check_file
from pourbook.workbook.layout.laid_out import Layout
from pourbook.workbook.layout.lay_out import lay_out
from pourbook.workbook.read.read import formula_cells, read_book

pytestmark = pytest.mark.in_turn

Key = tuple[str, str, int]
DAY = dt.date(2026, 11, 28)
TOP = {("rooms", "piece", 0): "Top", ("rooms", "a", 0): "8'", ("rooms", "b", 0): "25 1/2"}
SITE = {("site", "temperature", 0): 70, ("site", "crew", 0): 3}
PRICES = {
    ("money", "tax", 0): 0.06,
    ("rates", "labour", 0): 40,
    ("rates", "trip", 0): 30,
    ("packs", "price", 0): 80,
    ("packs", "price", 1): 95,
    ("packs", "price", 2): 130,
}
THREE = "tinted base, clear flood, matte top"
FINISHES = (
    THREE,
    "tinted base, matte top",
    "clear flood over the surface as it is",
    "matte top over an old coat",
    "floor, broadcast",
)


def _begun(system: str = "us") -> dict[Key, object]:
    return dict(starter.entries(system, "job", DAY))


class _Shown:
    """What a job shows, by block, field and row."""

    def __init__(self, plan: Layout, values: Mapping[Address, Value]) -> None:
        self.plan, self.values = plan, values

    def __call__(self, block: str, name: str, index: int = 0) -> Value:
        cell = self.plan.cell(block, name, index)
        return self.values.get((cell.sheet, cell.address))


@pytest.fixture
def show(open_us: OpenBook, plan_us: Layout):  # type: ignore[no-untyped-def]
    """Return what the starter shows with some cells typed into it."""

    def typed(more: Mapping[Key, object]) -> _Shown:
        entries = {**_begun(), **more}
        values = open_us.values(entries)
        return _Shown(plan_us, values)

    return typed


def test_first_area_takes_three_cells(show) -> None:  # type: ignore[no-untyped-def]
    assert len(TOP) == 3
    found = show(TOP)
    assert found("measured", "total") == pytest.approx(96 * 25.5 / 144)  # inches, square feet
    assert found("rooms", "status") == "ok"


def test_first_amounts_take_six_cells(show) -> None:  # type: ignore[no-untyped-def]
    typed = {**TOP, **SITE, ("chosen", "finish_a", 0): THREE}
    assert len(typed) == 6
    found = show(typed)
    assert [found("amounts", "status", row) for row in range(3)] == ["ok"] * 3
    # 17 ft² at 3 US fl oz/ft² is 51 fl oz of 128 to the gallon.
    assert found("amounts", "net", 1) == pytest.approx(51 / 128)


@pytest.mark.parametrize(
    "odd", [f"{THREE} ", f" {THREE.upper()}", THREE.replace(" ", "\u00a0"), f"\u200b{THREE}"]
)
def test_a_finish_with_blanks_nobody_sees_is_the_one_that_is_meant(show, odd: str) -> None:  # type: ignore[no-untyped-def]
    found = show({**TOP, **SITE, ("chosen", "finish_a", 0): odd})
    assert [found("amounts", "status", row) for row in range(3)] == ["ok"] * 3
    assert found("amounts", "net", 1) == pytest.approx(51 / 128)


def test_a_layer_that_fills_stands_only_where_there_is_something_to_fill(show) -> None:  # type: ignore[no-untyped-def]
    """A finish whose second layer fills knots, in a job without and with a round void."""
    second = {
        **{("finish_layers", "surfaces", 1): "fills", ("finish_layers", "spread", 1): None},
        **TOP,
        **SITE,
        ("chosen", "finish_a", 0): THREE,
    }
    found = show(second)
    assert [found("layers", "layer", row) or "" for row in range(3)][1] == ""
    assert [found("amounts", "status", row) or "" for row in range(3)] == ["ok", "", "ok"]
    void = {"piece": "Knot", "shape": "round void", "a": "2", "b": "1/2"}
    more = {("rooms", name, 1): value for name, value in void.items()}
    found = show({**second, **more})
    assert found("layers", "surfaces", 1) == "fills"
    assert [found("amounts", "status", row) for row in range(3)] == ["ok"] * 3


def test_every_shape_that_is_filled_is_known_to_the_finishes(plan_us: Layout) -> None:
    """The layer is left out by the words of these shapes: a new one needs a word there too."""
    filled = {*filling.FILLS, filling.MOULD}
    assert filled <= set(rooms.TABLE.choices["shape"])
    told = plan_us.block("picked").field("row").formula
    assert set(re.findall(r'{rooms.shape},"([^"]+)"', told)) == filled


def test_first_price_takes_twelve_cells(show) -> None:  # type: ignore[no-untyped-def]
    typed = {**TOP, **SITE, **PRICES, ("chosen", "finish_a", 0): THREE}
    assert len(typed) == 12
    found = show(typed)
    net = found("price", "net")
    assert isinstance(net, float)
    # One kit of each is enough for 17 ft²: 305; and no sundry has a price yet.
    assert found("price", "material") == 80 + 95 + 130
    assert found("price", "sundries") == 0
    assert found("price", "gross") == pytest.approx(net * 1.06, abs=0.005)
    # A price is seen, and no quote is printed by it.
    assert found("standing", "priced") == "ok"
    assert found("standing", "quote") == "! see Quote"


def test_a_kitchen_from_a_shop_with_two_options_takes_twenty_cells(show) -> None:  # type: ignore[no-untyped-def]
    """What a shop holds (prices, rates, tax, crew) is no cell of the job."""
    shop = {**PRICES, ("site", "crew", 0): 3}
    tops = (("Sink run", "10'", "25 1/2"), ("Range run", "8'", "25 1/2"), ("Island", "5'", "28"))
    typed: dict[Key, object] = {("start", "job", 0): "Kitchen", ("site", "temperature", 0): 70}
    typed |= {("start", "client", 0): "A client"}
    for row, (piece, a, b) in enumerate(tops):
        typed |= {("rooms", "piece", row): piece, ("rooms", "a", row): a, ("rooms", "b", row): b}
        typed |= {("rooms", "edge_run", row): a, ("rooms", "edge_height", row): "1 1/2"}
    typed |= {("chosen", "finish_a", 0): THREE, ("chosen", "finish_b", 0): FINISHES[1]}
    assert len(typed) == 20
    found = show({**shop, **typed})
    inches = 120 * 25.5 + 96 * 25.5 + 60 * 28
    assert found("measured", "top") == pytest.approx(inches / 144)  # 49.9 square feet
    for option in (0, 1):
        assert isinstance(found("price", "gross", option), float)
        assert float(found("price", "gross", option)) > 0


def test_usual_figures_are_counted_and_hold_the_cards_back(show) -> None:  # type: ignore[no-untyped-def]
    typed = {**TOP, **SITE, ("chosen", "finish_a", 0): THREE, ("money", "tax", 0): 0}
    found = show(typed)
    assert found("decision", "usual") == 3
    replaced = {("products", "figures", row): "data sheet" for row in range(3)}
    own = show({**typed, **replaced})
    assert own("decision", "usual") == 0
    assert (found("standing", "cards"), own("standing", "cards")) == ("ok", "ok")
    assert (found("standing", "mixing"), own("standing", "mixing")) == ("! see Products", "ok")
    cell = found.plan.cell("mix_cards", "title", 0)
    assert found.values[cell.sheet, cell.address] == "! see Products"
    assert str(own.values[cell.sheet, cell.address]).startswith("Batch 1 of")


def test_what_is_next_goes_in_the_order_of_the_sheets(show) -> None:  # type: ignore[no-untyped-def]
    said = [
        str(show(typed)("decision", "next")).partition(":")[0]
        for typed in (
            {},
            TOP,
            {**TOP, **SITE, ("money", "tax", 0): 0},
            {**TOP, **SITE, ("money", "tax", 0): 0, ("chosen", "finish_a", 0): THREE},
        )
    ]
    assert said == ["type the first piece on Rooms", "Start", "Amounts", "Mix cards"]


def test_options_stand_one_below_the_other(show) -> None:  # type: ignore[no-untyped-def]
    chosen = {
        ("chosen", f"finish_{letter}", 0): FINISHES[n]
        for letter, n in zip("abc", (1, 3, 0), strict=True)
    }
    found = show({**TOP, **SITE, **chosen})
    assert "".join(str(found("picked", "letter", row)) for row in range(12)) == "AABCCC"
    assert [found("picked", "row", row) for row in range(6)] == [4, 5, 7, 1, 2, 3]


def test_a_blank_finish_in_the_middle_is_left_out(show) -> None:  # type: ignore[no-untyped-def]
    chosen = {("chosen", "finish_a", 0): FINISHES[3], ("chosen", "finish_c", 0): FINISHES[2]}
    found = show({**TOP, **SITE, **chosen})
    assert [found("picked", "letter", row) for row in range(3)] == ["A", "C", ""]


def test_rows_of_a_finish_that_are_apart_are_refused(show) -> None:  # type: ignore[no-untyped-def]
    found = show({("finish_layers", "finish", 9): THREE})
    assert found("finish_layers", "together", 0) == "ok"
    said = str(found("finish_layers", "together", 9))
    assert said.startswith("! Finish: ")
    assert "rows together" in said
    unknown = show({("finish_layers", "finish", 9): "sprayed"})
    assert str(unknown("finish_layers", "together", 9)).startswith("! ")


def test_no_figure_stands_on_rows_of_another_finish(show) -> None:  # type: ignore[no-untyped-def]
    typed = {**TOP, **SITE, **PRICES, ("chosen", "finish_a", 0): THREE}
    assert show(typed)("standing", "amounts") == "ok"
    found = show({**typed, ("finish_layers", "finish", 1): FINISHES[1]})
    assert found("standing", "amounts") == "! see Finishes"
    assert found("price", "net") == "! see Finishes"
    assert str(found("overall", "overall")).startswith("CHECK: ")


def test_what_is_typed_goes_before_the_finish(show) -> None:  # type: ignore[no-untyped-def]
    typed = {**TOP, **SITE, ("chosen", "finish_a", 0): THREE}
    twice = show({**typed, ("layers", "spread", 1): "6 fl oz/ft²"})
    assert twice("amounts", "net", 1) == pytest.approx(2 * 51 / 128)
    assert twice("amounts", "net", 0) == show(typed)("amounts", "net", 0)


def _made(folder: Path, typed: Mapping[Key, object]) -> Path:
    target = folder / "job.xlsx"
    entries = {**_begun(), **TOP, **SITE, ("chosen", "finish_a", 0): THREE, **typed}
    make.make(target, "us", entries, pieces=4, force=True)
    return target


def test_a_finish_changed_in_the_file_changes_the_layers(tmp_path: Path) -> None:
    job = _made(tmp_path, {})
    fill(job, job, {("chosen", "finish_a", 0): FINISHES[3]}, force=True)
    book = read_book(job)
    plan = book.plan()
    layers = [plan.cell("layers", "layer", row) for row in range(2)]
    assert [book.sheets["Layers"].value(cell.address) for cell in layers] == ["Matte top", ""]
    for name in headless.NAMES:
        values = headless.engine(name).recompute(job, formula_cells(book)).values
        assert [values["Layers", cell.address] for cell in layers] == ["Matte top", ""]


def test_a_new_job_from_it_keeps_what_was_typed_and_offers_the_rest(tmp_path: Path) -> None:
    job = _made(tmp_path, {("layers", "loss", 0): 0.11, ("layers", "thinner", 2): None})
    carried = carry.read_entries(job)
    assert carried.entries["layers", "loss", 0] == 0.11
    assert carried.entries["layers", "thinner", 2] is None  # cleared on purpose
    assert ("layers", "spread", 0) not in carried.entries
    assert carried.worked == []
    target = tmp_path / "new.xlsx"
    make.make(target, "us", carried.entries, pieces=4)
    old, new = read_book(job), read_book(target)
    for cell in old.plan().entries:
        one, other = (book.sheets[cell.sheet].cells.get(cell.address) for book in (old, new))
        assert (one.formula if one else "") == (other.formula if other else ""), cell.address


def test_a_value_typed_by_a_command_takes_the_formula_away(tmp_path: Path) -> None:
    job = _made(tmp_path, {})
    fill(job, job, {("layers", "loss", 1): 0.2}, force=True)
    book = read_book(job)
    cell = book.sheets["Layers"].cells[book.plan().cell("layers", "loss", 1).address]
    assert (cell.value, cell.formula) == (0.2, "")


def test_another_formula_in_such_a_cell_is_told(tmp_path: Path) -> None:
    job = _made(tmp_path, {})
    at = read_book(job).plan().cell("layers", "loss", 1).address
    book = load_workbook(job)
    book["Layers"][at] = "=0.04*2"
    book.save(job)
    fill(job, job, {}, force=True)
    told = [f for f in check_file(job).notes if f.id == "entry.worked"]
    assert [(f.sheet, f.cell) for f in told] == [("Layers", at)]


def test_cells_that_differ_are_marked(tmp_path: Path) -> None:
    job = _made(tmp_path, {("layers", "loss", 1): 0.2})
    page = load_workbook(job)["Layers"]
    at = read_book(job).plan().cell("layers", "loss", 0).address
    rules = [
        rule
        for area in page.conditional_formatting
        for rule in area.rules
        if str(area.sqref).startswith(f"{at}:") and rule.dxf.font and rule.dxf.font.i
    ]
    assert len(rules) == 1
    assert f'{at}&""<>' in rules[0].formula[0]


def test_a_mark_compares_each_cell_with_its_own_offer(plan_us: Layout, demo_us: Path) -> None:
    """A rule is written for the first cell of its area; for the others references move along."""
    found: dict[tuple[str, str], str] = {}
    for page in load_workbook(demo_us):
        for area in page.conditional_formatting:
            for rule in area.rules:
                if rule.dxf and rule.dxf.font and rule.dxf.font.i:
                    (where,) = area.sqref.ranges
                    first = where.coord.partition(":")[0]
                    moved = Translator("=" + rule.formula[0], first)
                    for row, column in where.cells:
                        at = f"{get_column_letter(column)}{row}"
                        found[page.title, at] = moved.translate_formula(at)
    offered = [cell for cell in plan_us.entries if cell.offer]
    assert {(cell.sheet, cell.address) for cell in offered} == set(found)
    for cell in offered:
        assert f'{cell.address}&""<>{cell.offer[1:]}&""' in found[cell.sheet, cell.address]


@pytest.mark.parametrize(
    ("finish", "system"),
    [*((finish, "us") for finish in FINISHES), (FINISHES[0], "imperial"), (FINISHES[4], "metric")],
)
def test_every_finish_of_the_starter_is_priced_in_every_system(
    finish: str, system: str, tmp_path: Path
) -> None:
    top = {("rooms", "a", 0): "8 ft", ("rooms", "b", 0): "25 1/2 in", ("rooms", "piece", 0): "Top"}
    warm = 70 if system == "us" else 21
    more = {("packs", "price", 3): 110, ("money", "currency", 0): "USD"}
    typed = {**_begun(system), **top, **SITE, **PRICES, **more}
    typed |= {("site", "temperature", 0): warm, ("chosen", "finish_a", 0): finish}
    flakes = {"additive": "Flakes", "serves": "broadcast", "pack": "25 lb", "pack_price": 90}
    typed |= {("additives", name, 0): value for name, value in flakes.items()}
    target = tmp_path / "job.xlsx"
    values = make.make(target, system, typed, pieces=4)
    shown = _Shown(lay_out("job", system, 4), values)
    assert shown("amounts", "status") == "ok"
    assert isinstance(shown("price", "net"), float), shown("price", "state")


def test_the_starter_says_the_same_in_every_system() -> None:
    us, metric = _begun("us"), _begun("metric")
    area = units.to_si(1, "ft²")
    assert metric["pace", "sand", 0] == pytest.approx(us["pace", "sand", 0] * area)  # type: ignore[operator]
    assert metric["labour", "hours", 0] == pytest.approx(us["labour", "hours", 0] / area)  # type: ignore[operator]
    assert us.keys() - metric.keys() == {("money", "currency", 0)}


def test_the_starter_has_no_price_no_company_and_no_stock() -> None:
    for book in ("job", "shop"):
        found = starter.entries("us", book, DAY)
        assert not {key[:2] for key in found} & {
            *(("packs", "price"), ("prices", "price"), ("sundries", "each"), ("rates", "labour")),
            *(("start", "company"), ("start", "contact"), ("rates", "trip"), ("money", "tax")),
        }
        assert not {key[0] for key in found} & {"stock", "lots", "movements", "rooms"}
        assert all(
            found["products", "figures", row] == "usual"
            for block, name, row in found
            if (block, name) == ("products", "product")
        )


BANDS = {
    "Clear flood": ("pour", 2.5, 4.0, 0.05, 0.12, 30, 75),
    "Tinted base": ("trowel", 1.5, 3.0, 0.05, 0.12, 30, 75),
    "Matte top": ("roll", 128 / 400, 128 / 250, 0.1, 0.15, 100, 200),
    "Bonding primer": ("roll", 128 / 400, 128 / 200, 0.1, 0.15, 100, 200),
}
"""By product: how it is put on; US fl oz of mix a square foot, loss, square feet an hour of one
(common practice, no source)."""


def test_the_starter_stays_within_usual_bands() -> None:
    found = starter.entries("us", "job", DAY)
    rows = sorted(row for block, name, row in found if (block, name) == ("finish_layers", "layer"))
    assert len(rows) == 10
    for row in rows:
        line = {
            name: value
            for (block, name, at), value in found.items()
            if (block, at) == ("finish_layers", row)
        }
        method, low, high, least, most, slow, quick = BANDS[str(line["product"])]
        spread = reading.spread(str(line["spread"]), SYSTEMS["us"])
        ounces = units.express(spread.amount, "US fl oz/ft²")
        assert (line["method"], True) == (method, low <= round(ounces, 6) <= high), line
        assert least <= float(str(line["loss"])) <= most, line
        assert slow <= float(str(line["pace"])) <= quick, line
