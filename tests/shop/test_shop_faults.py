"""Every check of the shop's Checks sheet fires on a planted fault, and on nothing else."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path

import openpyxl
import pytest
from tests.workbook.checks_said import fired, overall, required, wanted

from pourbook.hosts import headless
from pourbook.job import make
from pourbook.job.make import Scenario
from pourbook.workbook.check.check import check_file
from pourbook.workbook.layout.laid_out import Layout
from pourbook.workbook.template.template import load_book

Entries = Mapping[tuple[str, str, int], object]
Bare = Callable[[Layout, Entries], Path]


@dataclass(frozen=True)
class Fault:
    """What is typed (None clears a cell) or typed over, and every check that must say so."""

    fires: str
    what: str
    entries: tuple[tuple[tuple[str, str, int], object], ...] = ()
    typed_over: tuple[str, str, int] | None = None

    @property
    def checks(self) -> set[str]:
        """Return the checks that must fire; the first is the one under test."""
        return set(self.fires.split())


def _row(
    block: str, index: int, **cells: object
) -> tuple[tuple[tuple[str, str, int], object], ...]:
    return tuple(((block, name, index), value) for name, value in cells.items())


def _moved(index: int, day: str, kind: str, amount: float, value: float, **more: object):  # type: ignore[no-untyped-def]
    cells = {"product": "Tint base", "holds": "kit", "lot": "T-9", **more}
    date = dt.date.fromisoformat(day)
    return _row("movements", index, date=date, kind=kind, amount=amount, value=value, **cells)


FAULTS = (
    Fault("start", "no company", _row("start", 0, company=None)),
    Fault("start", "no crew", _row("site", 0, crew=None)),
    Fault("start", "work ends before it begins", _row("site", 0, work_to=7)),
    Fault("rates", "no labour rate", _row("rates", 0, labour=None)),
    Fault("rates", "no margin", _row("rates", 0, uplift=None)),
    Fault("products", "a name twice", _row("products", 3, product="binder")),
    Fault("prices", "a pattern takes another's row", ((("prices", "seller", 2), "*"),)),
    Fault(
        "movements",
        "a pattern takes another's lot",
        (
            *_moved(7, "2026-11-02", "received", 1, 84),
            *_moved(8, "2026-11-02", "received", 1, 84, lot="T*"),
        ),
    ),
    Fault("movements", "a kind not in its list", _moved(7, "2026-11-01", "issued ", 0.5, 0)),
    Fault("prices", "a price without a day", ((("prices", "from", 2), None),)),
    Fault("prices", "two prices from one day", ((("prices", "from", 0), dt.date(2026, 9, 1)),)),
    Fault("finishes", "a row of no finish", ((("finish_layers", "finish", 9), "sprayed"),)),
    Fault("calls", "a call of less than nothing", ((("calls", "area", 1), -5),)),
    Fault("calls", "a call for a finish there is not", ((("calls", "finish", 0), "sprayed"),)),
    Fault("lists", "a sundry without a number", ((("sundries", "quantity", 1), None),)),
    Fault("lists", "a step without hours", ((("labour", "hours", 1), None),)),
    Fault("movements", "a movement without an amount", ((("movements", "amount", 6), None),)),
    Fault("movements", "less than nothing received", _moved(7, "2026-11-01", "received", -1, 9)),
    Fault(
        "movements",
        "two use-by days of one lot",
        ((("movements", "use_by", 6), dt.date(2027, 7, 1)),),
    ),
    Fault("below", "more issued than there was", _moved(7, "2026-11-01", "issued", 0.5, 0)),
    Fault(
        "below",
        "issued before it came",
        (
            *_moved(7, "2026-11-02", "received", 1, 84),
            *_moved(8, "2026-11-01", "issued", 1, 84),
        ),
    ),
    Fault(
        "expired",
        "a lot past its day",
        _moved(7, "2026-11-02", "received", 1, 84, use_by=dt.date(2026, 11, 23)),
    ),
    Fault(
        "worth",
        "used up at another price",
        (*_moved(7, "2026-11-02", "received", 1, 84), *_moved(8, "2026-11-03", "issued", 1, 80)),
    ),
    Fault(
        "worth",
        "issued for more than it cost",
        (
            *_moved(7, "2026-11-02", "received", 1, 84),
            *_moved(8, "2026-11-03", "issued", 0.9, 90),
        ),
    ),
    Fault("balance", "a lot's amount typed over", typed_over=("lots", "on_amount", 1)),
    Fault("balance", "a lot's worth typed over", typed_over=("lots", "on_value", 1)),
    Fault("balance", "a movement typed over", typed_over=("movements", "signed_amount", 2)),
    Fault("listed balance", "more lots than rows", typed_over=("movements", "lot_no", 2)),
)


def test_every_check_has_a_planted_fault() -> None:
    ids = {c.id for c in load_book("shop").block("checks").checks}
    assert {f.fires.split()[0] for f in FAULTS} == ids


@pytest.mark.parametrize("fault", FAULTS, ids=lambda f: f"{f.fires}: {f.what}")
def test_fault_fires_its_check(
    fault: Fault,
    plan_shop: Layout,
    scenario_shop: Scenario,
    demo_shop: Path,
    write_bare: Bare,
) -> None:
    typed = {**scenario_shop.entries, **dict(fault.entries)}
    path = write_bare(plan_shop, typed)
    if fault.typed_over:
        cell = plan_shop.cell(*fault.typed_over)
        sound = check_file(demo_shop).values[cell.sheet, cell.address]
        assert isinstance(sound, float)
        book = openpyxl.load_workbook(path)
        book[cell.sheet][cell.address] = sound + (100 if "lot_no" in fault.typed_over else 1)
        book.save(path)
    done = headless.engine("fast").recompute(path, wanted(plan_shop))
    assert not done.reasons
    assert fired(plan_shop, done.values) == fault.checks
    first = next(c for c in plan_shop.block("checks").checks if c.id in fault.checks)
    words = f"CHECK: {first.sheet}, {len(fault.checks)} to fix"
    assert overall(plan_shop, done.values) == words


def test_demo_shop_is_clean(demo_shop: Path) -> None:
    checked = check_file(demo_shop)
    assert not checked.findings
    assert overall(checked.plan, checked.values) == "OK"


@pytest.mark.parametrize("key", required("shop"), ids=lambda key: f"{key[0]}.{key[1]}")
def test_required_entry_left_blank_is_noticed(
    key: tuple[str, str, int],
    tmp_path: Path,
    plan_shop: Layout,
    scenario_shop: Scenario,
    shop_rows: int,
) -> None:
    target = tmp_path / "blank.xlsx"
    entries = {**scenario_shop.entries, key: None}
    values = make.make(target, "us", entries, book="shop", pieces=shop_rows)
    assert overall(plan_shop, values) != "OK"
