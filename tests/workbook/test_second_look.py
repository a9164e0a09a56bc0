"""A look is told at the entry it speaks of, is closed in one place, and opens with its figure."""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Callable, Mapping
from dataclasses import fields, replace
from pathlib import Path

import openpyxl
import pytest
from tests.command_line import run

from pourbook.cells import Address, Value
from pourbook.functions.own import look_rules
from pourbook.functions.own.look_rules import Seen
from pourbook.job import make
from pourbook.job.fill import fill
from pourbook.job.make import Scenario
from pourbook.workbook.check.check import check_file
from pourbook.workbook.layout.laid_out import Layout

pytestmark = pytest.mark.in_turn

Key = tuple[str, str, int]
LOSS = ("layers", "loss", 0)
NAME = "Loss of Tinted base: 0.15 %"


def _said(plan: Layout, values: Mapping[Address, Value], name: str, row: int = 0) -> Value:
    cell = plan.cell("looks", name, row)
    return values[cell.sheet, cell.address]


def _looks(plan: Layout, values: Mapping[Address, Value]) -> dict[str, str]:
    """Return the open looks, and the entry each is about."""
    rows = range(plan.block("looks").rows)
    return {
        str(_said(plan, values, "look", row)): str(_said(plan, values, "look_entry", row))
        for row in rows
        if _said(plan, values, "look_state", row) == "open"
    }


def _at(day: int, hour: int, minute: int = 0) -> dt.datetime:
    return dt.datetime(2027, 1, day, hour, minute)


TYPED = [
    ({("layers", "loss", 0): 0.0015}, "Loss of Tinted base: 0.15 %", LOSS, "15 % may be meant"),
    ({("layers", "loss", 0): 0.35}, "Loss of Tinted base: 35 %", LOSS, "3.5 % may be meant"),
    (
        {("products", "solids", 0): 0.0052},
        "Volume solids of Tint base: 0.52 %",
        ("products", "solids", 0),
        "52 % may be meant",
    ),
    ({("rates", "uplift", 0): 0.003}, "Margin: 0.3 %", ("rates", "uplift", 0), "30 % may be meant"),
    ({("rates", "uplift", 0): 0.01}, "Margin: 1 %", ("rates", "uplift", 0), "digit may be missing"),
    (
        {
            **{("rooms", n, 17): v for n, v in {"room": "kitchen ", "piece": "ISLAND"}.items()},
            **{("rooms", n, 17): v for n, v in {"shape": "rectangle", "a": "7'", "b": 42}.items()},
        },
        "Kitchen, Island (7' x 42) stands 2 times",
        ("rooms", "piece", 17),
        "typed twice",
    ),
    (
        {("rooms", "a", 7): "24", ("rooms", "b", 7): "24 ft", ("rooms", "shape", 7): None},
        "Bar, Bar top, bull-nosed is 24 in by 24 ft",
        ("rooms", "b", 7),
        "inches or mm",
    ),
    (
        {("working", "touch", 0): 40, ("working", "full", 0): "30 h"},
        "Tint base is not cured in order: touch dry 40, light use 36, full cure 30 h",
        ("working", "light", 0),
        "days",
    ),
    (
        {
            ("survey", "substrate", 1): "old coating",
            ("layers", "before", 0): "clean",
            ("layers", "before", 3): "sand 220 and clean",
        },
        "Bar: old coating, and Tinted base (option A) goes on it without sanding",
        ("layers", "before", 0),
        "sand 220",
    ),
    (
        {("labour", "hours", 0): 2.5 / 24},
        "Sand 220 and clean: 0.1042 hours",
        ("labour", "hours", 0),
        "2:30 may be meant: type 2.5",
    ),
    ({("money", "tax", 0): 0.007}, "Tax: 0.7 %", ("money", "tax", 0), "7 % may be meant"),
]
"""What the issue names, each as it is typed."""
LOGGED = [
    ({("log", "mass_b", 0): 1000}, 0, "part B"),
    ({("log", "mass_b", 0): 900}, 0, "part B"),
    ({("log", "ended", 4): _at(12, 12, 10)}, 4, "pot life"),
    ({("log", "surface", 0): 49}, 0, "dew"),
    ({("log", "air", 8): 86}, 8, "the pot life at 30 °C"),
    ({("log", "wet", 5): 46}, 5, "film"),
    ({("log", "started", 5): _at(12, 15), ("log", "ended", 5): _at(12, 15, 20)}, 5, "coat"),
    ({("log", "lot_b", 0): None, ("receipts", "holds", 0): "A"}, 0, "lot"),
    ({("receipts", "expiry", 3): dt.date(2027, 1, 14)}, 8, "use-by day"),
    ({("log", "humidity", 1): None}, 1, "humidity"),
]


@pytest.mark.parametrize(("typed", "name", "entry", "meant"), TYPED)
def test_odd_entry_is_looked_at(
    typed: Mapping[Key, object],
    name: str,
    entry: Key,
    meant: str,
    tmp_path: Path,
    scenario_us: Scenario,
    plan_us: Layout,
    pieces: int,
) -> None:
    target = tmp_path / "job.xlsx"
    values = make.make(target, "us", {**scenario_us.entries, **typed}, pieces=pieces)
    assert _looks(plan_us, values) == {name: ".".join(map(str, entry))}
    assert meant in str(_said(plan_us, values, "look_meant"))
    top = plan_us.cell("overall", "overall")
    assert values[top.sheet, top.address] == "CHECK: 1 to look at", "a look is no fault"


@pytest.mark.parametrize("shape", ["void", "round void ", "Grout lines", "mould"])
def test_what_is_to_be_filled_and_no_layer_fills_is_looked_at(shape: str) -> None:
    """A shape typed with a blank too: the finishes do not know it, and leave their filling out."""
    nothing = {field.name: () for field in fields(Seen)}
    rooms: list[look_rules.Row] = [
        {"piece": "Top", "shape": None},
        {"piece": "Knots", "shape": shape},
    ]
    flood = {"layer": "Flood", "surfaces": "top"}
    job = Seen(**{**nothing, "rooms": rooms, "layers": [flood]})  # type: ignore[arg-type]
    (look,) = look_rules._unfilled(job)
    assert look.entry == ("rooms", "shape", 1)
    assert look.name == "Knots is to be filled, and no layer fills"
    filling = replace(job, layers=[flood, {"layer": "Fill", "surfaces": "fills"}])
    assert not list(look_rules._unfilled(filling))
    assert not list(look_rules._unfilled(replace(job, rooms=rooms[:1])))


@pytest.mark.parametrize(("typed", "row", "words"), LOGGED)
def test_batch_is_looked_at(
    typed: Mapping[Key, object],
    row: int,
    words: str,
    tmp_path: Path,
    logged_us: Scenario,
    plan_us: Layout,
    pieces: int,
) -> None:
    target = tmp_path / "job.xlsx"
    values = make.make(target, "us", {**logged_us.entries, **typed}, pieces=pieces)
    found = {entry: look for look, entry in _looks(plan_us, values).items()}
    assert words in found[f"log.layer.{row}"], found
    assert f"Batch {row + 1} of 2027-01-1" in found[f"log.layer.{row}"]


def test_look_is_closed_in_one_place_and_opens_with_its_figure(
    tmp_path: Path, scenario_us: Scenario, pieces: int, check: Check
) -> None:
    target = tmp_path / "job.xlsx"
    odd = {**scenario_us.entries, LOSS: 0.0015, ("layers", "loss", 1): 0.002}
    make.make(target, "us", odd, pieces=pieces)
    assert _end(check(target)) == (1, "CHECK, 2 to look at")
    both = (NAME, "Loss of Clear flood coat: 0.2 %")
    for row, name in enumerate(both):
        fill(target, target, _closing(row, name.upper() + " ", initials=""), force=True)
    assert _end(check(target)) == (1, "CHECK, 2 to fix, 2 to look at"), "no initials"
    for row, name in enumerate(both):
        fill(target, target, _closing(row, name), force=True)
    assert _end(check(target)) == (0, "OK")
    notes = json.loads("\n".join(check(target, "--json")[1]))["notes"]
    assert [n["id"] for n in notes] == ["look.closed"] * 2
    assert notes[0]["what"] == f"{NAME}: RK: a level top"
    fill(target, target, {LOSS: 0.0016}, force=True)
    assert _end(check(target)) == (1, "CHECK, 1 to look at"), "another figure, another look"


def _closing(row: int, name: str, *, initials: str = "RK") -> dict[Key, object]:
    closed = {"look": name, "initials": initials, "reason": "a level top"}
    return {("closed", column, row): value for column, value in closed.items()}


Check = Callable[..., tuple[int, list[str]]]


@pytest.fixture
def check(capsys: pytest.CaptureFixture[str]) -> Check:
    """Run ``pourbook check``: exit code and lines."""

    def said(path: Path, *more: str) -> tuple[int, list[str]]:
        return run("check", path, *more), capsys.readouterr().out.strip().splitlines()

    return said


def _end(done: tuple[int, list[str]]) -> tuple[int, str]:
    """Return the exit code, and what the last line says of the file."""
    return done[0], done[1][-1].partition(": ")[2]


def test_looks_stand_apart_from_faults(
    tmp_path: Path, scenario_us: Scenario, pieces: int, check: Check
) -> None:
    target = tmp_path / "job.xlsx"
    odd = {LOSS: 0.0015, ("start", "until", 0): dt.date(2026, 11, 1)}
    make.make(target, "us", {**scenario_us.entries, **odd}, pieces=pieces)
    assert _end(check(target)) == (1, "CHECK, 1 to fix, 1 to look at")
    shown = check(target)[1]
    assert [line[:5] for line in shown if line[:5].strip()][:2] == ["CHECK", "LOOK "]


def test_formula_in_a_cell_for_typing_is_said(
    demo_us: Path, tmp_path: Path, plan_us: Layout
) -> None:
    target = tmp_path / "job.xlsx"
    book = openpyxl.load_workbook(demo_us)
    cell = plan_us.cell("rooms", "a", 2)
    book[cell.sheet][cell.address] = "=15*2"
    book.save(target)
    fill(target, target, {}, force=True)
    checked = check_file(target)
    assert checked.findings == ()
    (note,) = checked.notes
    assert (note.id, note.sheet, note.cell) == ("entry.worked", cell.sheet, cell.address)
    assert "=15*2 and counts as 30" in note.what


def _left(entries: dict[Key, object], counted: str, **cells: object) -> dict[Key, object]:
    """Return the entries with other cells in the rows that count a product."""
    rows = [k[2] for k, v in entries.items() if k[:2] == ("left", "product") and v == counted]
    assert rows
    return {**entries, **{("left", name, row): v for name, v in cells.items() for row in rows}}


def test_product_left_out_of_the_count(
    tmp_path: Path, logged_us: Scenario, plan_us: Layout, pieces: int
) -> None:
    entries = dict(logged_us.entries)
    last = max(row for block, name, row in entries if (block, name) == ("left", "product"))
    product = str(entries["left", "product", last])
    nothing = dict.fromkeys(("product", "lot", "date", "rest", "goes"))
    target = tmp_path / "without.xlsx"
    make.make(target, "us", _left(entries, product, **nothing), pieces=pieces)
    found = [f for f in check_file(target).findings if f.id == "job.look"]
    assert [f.cell for f in found] == [plan_us.cell("left", "product", last).address]
    assert f"{product}: " in found[0].what
    assert "issued, and not counted" in found[0].what
    assert "0 if nothing is" in found[0].mend
    none_left = tmp_path / "none_left.xlsx"
    make.make(none_left, "us", _left(entries, product, rest=0), pieces=pieces)
    assert not [f for f in check_file(none_left).findings if f.id == "job.look"]


def test_demo_needs_none(tmp_path: Path, logged_us: Scenario, pieces: int) -> None:
    target = tmp_path / "job.xlsx"
    make.make(target, "us", logged_us.entries, pieces=pieces)
    assert not [f for f in check_file(target).findings if f.id == "job.look"]
