"""The two headless engines agree on every cell, and neither swallows a failure.

They are independent programs, one compiled and one in Python, so that their agreement says
something; LibreOffice is the third (test_libreoffice.py).
"""

from __future__ import annotations

import dataclasses
import zipfile
from collections.abc import Callable, Mapping
from pathlib import Path

import openpyxl
import pytest

from pourbook.cells import Address, CellError, Value
from pourbook.errors import FileUnreadableError, UsageError
from pourbook.functions.catalogue import JOINTS, catalogue
from pourbook.hosts import headless
from pourbook.hosts.headless.engine import INTERNAL, Recomputed
from pourbook.job.make import Scenario
from pourbook.units import SYSTEMS
from pourbook.workbook.layout.laid_out import Layout
from pourbook.workbook.layout.lay_out import lay_out, plan_book
from pourbook.workbook.template.template import load_book

pytestmark = pytest.mark.plain

Entries = Mapping[tuple[str, str, int], object]
Bare = Callable[[Layout, Entries], Path]

MOST_CALLS = 16
SHORT = {"movements": 9, "lots": 5, "prices": 12}


def _wanted(layout: Layout) -> list[Address]:
    return [(c.sheet, c.address) for c in layout.cells if c.formula or c.fill]


def _recompute(engine: str, path: Path, layout: Layout) -> Recomputed:
    return headless.engine(engine).recompute(path, _wanted(layout))


def _agree(one: Value, other: Value) -> bool:
    if isinstance(one, float) and isinstance(other, float):
        return abs(one - other) <= 1e-9 * max(1.0, abs(one), abs(other))
    return type(one) is type(other) and one == other


def _both(path: Path, layout: Layout) -> tuple[Recomputed, Recomputed]:
    """Recompute with both engines and hold every cell of one against the other."""
    fast, plain = (_recompute(name, path, layout) for name in headless.NAMES)
    assert fast.values.keys() == plain.values.keys() == set(_wanted(layout))
    apart = {
        f"{sheet}!{address}": (fast.values[sheet, address], plain.values[sheet, address])
        for sheet, address in _wanted(layout)
        if not _agree(fast.values[sheet, address], plain.values[sheet, address])
    }
    assert not apart, f"fast and plain differ: {apart}"
    assert all(v is not None for v in fast.values.values()), "a formula gave nothing"
    return fast, plain


@pytest.mark.parametrize(
    ("one", "other"), [(1.0, 1.0 + 1e-8), ("ok", "OK"), (0.0, ""), (1.0, True)]
)
def test_difference_is_noticed(one: Value, other: Value) -> None:
    assert not _agree(one, other)
    assert _agree(one, one)


def test_engines_agree_on_the_demo(
    plan_us: Layout, scenario_us: Scenario, write_bare: Bare
) -> None:
    fast, plain = _both(write_bare(plan_us, scenario_us.entries), plan_us)
    assert not fast.reasons
    assert not plain.reasons
    assert 4 < fast.calls <= MOST_CALLS
    assert 4 < plain.calls <= MOST_CALLS
    assert fast.values["Checks", plan_us.cell("overall", "overall").address] == "OK"
    assert sum(isinstance(v, float) for v in fast.values.values()) > 250


@pytest.mark.in_turn(2)
def test_engines_agree_on_the_twin(
    plan_metric: Layout, scenario_metric: Scenario, write_bare: Bare
) -> None:
    fast, plain = _both(write_bare(plan_metric, scenario_metric.entries), plan_metric)
    assert not fast.reasons
    assert not plain.reasons
    assert fast.values["Checks", plan_metric.cell("overall", "overall").address] == "OK"


def test_engines_agree_on_the_shop(scenario_shop: Scenario, write_bare: Bare) -> None:
    """The shop with short tables, because the plain engine takes its time with every row."""
    whole = load_book("shop")
    sheets = tuple(
        dataclasses.replace(
            sheet,
            blocks=tuple(
                dataclasses.replace(b, rows=SHORT.get(b.id, b.rows), grows=False)
                for b in sheet.blocks
            ),
        )
        for sheet in whole.sheets
    )
    layout = plan_book(dataclasses.replace(whole, sheets=sheets), SYSTEMS["us"], 1)
    fast, plain = _both(write_bare(layout, scenario_shop.entries), layout)
    assert not fast.reasons
    assert not plain.reasons
    assert fast.values["Checks", layout.cell("overall", "overall").address] == "OK"
    assert sum(isinstance(v, float) for v in fast.values.values()) > 100


@pytest.mark.in_turn(2)
def test_engines_agree_on_an_empty_job(write_bare: Bare) -> None:
    layout = lay_out("job", "imperial", 3)
    fast, plain = _both(write_bare(layout, {}), layout)
    assert not fast.reasons
    assert not plain.reasons
    overall = str(fast.values["Checks", layout.cell("overall", "overall").address])
    assert overall == "not worked out yet: type the first piece on Rooms"
    errors = {f"{s}!{a}": v for (s, a), v in fast.values.items() if isinstance(v, CellError)}
    assert not errors, f"an empty job shows error values: {errors}"


BAD: dict[tuple[str, str, int], object] = {
    ("rooms", "shape", 0): "hexagon",
    ("rooms", "b", 1): "25 oz",
    ("rooms", "cutouts", 2): "9' x 9'",
    ("rooms", "count", 6): "many",
    ("layers", "product", 1): "Unknown",
    ("layers", "spread", 4): "x",
    ("products", "density_a", 3): 90,
    ("labour", "per", 0): "moon",
    ("labour", "hours", 1): "some",
    ("sundries", "quantity", 1): "many",
    ("site", "crew", 0): 0,
    ("rates", "uplift", 0): 1,
    ("start", "until", 0): "soon",
}


@pytest.mark.in_turn(2)
def test_engines_agree_on_bad_rows(
    plan_us: Layout, scenario_us: Scenario, write_bare: Bare
) -> None:
    fast, plain = _both(write_bare(plan_us, {**scenario_us.entries, **BAD}), plan_us)
    assert not fast.reasons
    assert not plain.reasons
    for block, field, index in [
        ("rooms", "status", 0), ("rooms", "status", 1), ("rooms", "status", 2),
        ("rooms", "status", 6), ("products", "status", 3), ("amounts", "status", 1),
        ("parts", "part_status", 4), ("labour", "hours_a", 0), ("labour", "hours_a", 1),
        ("sundries", "cost_a", 1), ("measured", "total", 0),
    ]:  # fmt: skip
        cell = plan_us.cell(block, field, index)
        said = fast.values[cell.sheet, cell.address]
        assert isinstance(said, str), f"{block}.{field} {index}: {said!r}"
        assert said.startswith("! "), f"{block}.{field} {index}: {said!r}"


@pytest.mark.parametrize("engine", headless.NAMES)
def test_finished_file_recomputes_to_what_it_says(
    engine: str, demo_us: Path, plan_us: Layout
) -> None:
    """The values stored in a file get in no engine's way."""
    stored = openpyxl.load_workbook(demo_us, data_only=True)
    done = _recompute(engine, demo_us, plan_us)
    apart = {}
    for (sheet, address), value in done.values.items():
        kept = stored[sheet][address].value
        if isinstance(kept, int | float) and not isinstance(kept, bool):
            kept = float(kept)
        cell = plan_us.by_address[sheet, address]
        if hasattr(kept, "year") or (value == "" and kept is None):
            continue  # openpyxl gives dates as dates and an empty text as nothing
        if not _agree(value, kept):
            apart[f"{sheet}!{address} ({cell.role})"] = (value, kept)
    assert not apart


def _boom(*_given: object) -> float:
    raise ZeroDivisionError("planted")


@pytest.mark.in_turn(2)
@pytest.mark.parametrize(
    ("engine", "function", "block", "field"),
    [
        ("fast", "PB_ROOMS", "rooms", "top"),
        ("fast", "PB_PRODUCTS", "products", "mix_density"),
        ("plain", "PB_ROOMS", "rooms", "top"),
    ],
)
def test_fault_of_ours_is_recorded(
    engine: str,
    function: str,
    block: str,
    field: str,
    scenario_us: Scenario,
    write_bare: Bare,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    layout = lay_out("job", "us", 18)
    path = write_bare(layout, scenario_us.entries)
    known = catalogue()
    monkeypatch.setitem(known, function, dataclasses.replace(known[function], compute=_boom))
    done = _recompute(engine, path, layout)
    called = next(
        (name for name, (_, *guests) in JOINTS.items() if (block, function) in guests), ""
    )
    assert {(r.function, r.message) for r in done.reasons} == {
        (called or function, "ZeroDivisionError: planted")
    }
    cell = layout.cell(block, field)
    assert done.values[cell.sheet, cell.address] == INTERNAL
    untouched = layout.cell("readings", "survey_status")
    assert done.values[untouched.sheet, untouched.address] == "ok"


@pytest.mark.parametrize("engine", headless.NAMES)
@pytest.mark.parametrize("kind", ["text", "empty", "other package", "missing", "cut short"])
def test_file_that_is_no_workbook_is_refused(
    engine: str, kind: str, tmp_path: Path, demo_us: Path
) -> None:
    path = tmp_path / "job.xlsx"
    if kind == "text":
        path.write_text("not a workbook at all\n", encoding="utf-8")
    elif kind == "empty":
        path.write_bytes(b"")
    elif kind == "other package":
        with zipfile.ZipFile(path, "w") as package:
            package.writestr("hello.txt", "hello")
    elif kind == "cut short":
        path.write_bytes(demo_us.read_bytes()[:5000])
    with pytest.raises(FileUnreadableError) as caught:
        headless.engine(engine).recompute(path, [("Start", "A1")])
    assert str(path) in str(caught.value)


def test_unknown_engine_is_refused() -> None:
    with pytest.raises(UsageError, match="steam"):
        headless.engine("steam")


@pytest.mark.in_turn(2)
@pytest.mark.parametrize("engine", headless.NAMES)
def test_error_cells_arrive_as_refusals(
    engine: str, scenario_us: Scenario, write_bare: Bare
) -> None:
    """An error typed in, and one worked out, in a table and in a single cell."""
    layout = lay_out("job", "us", 18)
    path = write_bare(layout, scenario_us.entries)
    book = openpyxl.load_workbook(path)
    typed, worked, lone = (
        layout.cell("rooms", "a", 1), layout.cell("rooms", "b", 3), ("Scratch", "F4"),
    )  # fmt: skip
    book[typed.sheet][typed.address] = "#N/A"
    assert book[typed.sheet][typed.address].data_type == "e"
    book[worked.sheet][worked.address] = "=1/0"
    book[lone[0]][lone[1]] = "=1/0"
    book[lone[0]]["F5"] = '=PB_READ(F4,"m")'
    book[lone[0]]["F6"] = '=PB_READ("2 ft 6 in","in")'
    book.save(path)
    own = [("Scratch", "F5"), ("Scratch", "F6")]
    scratch = headless.engine(engine).recompute(path, own).values
    assert "#DIV/0!" in str(scratch[own[0]])
    assert scratch[own[1]] == 30
    done = _recompute(engine, path, layout)
    assert not done.reasons
    for index, word, column in ((1, "#N/A", "Size A"), (3, "#DIV/0!", "Size B")):
        status = layout.cell("rooms", "status", index)
        said = str(done.values[status.sheet, status.address])
        assert said.startswith(f"! {column}: "), said
        assert word in said
    sound = layout.cell("rooms", "status", 0)
    assert done.values[sound.sheet, sound.address] == "ok"
    top = layout.cell("overall", "overall")
    assert str(done.values[top.sheet, top.address]).startswith("CHECK: ")
