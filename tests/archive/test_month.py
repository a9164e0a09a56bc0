"""The month's workbook from made jobs, to figures worked out by hand; read back by openpyxl.

First:  2 gallons quoted at 50.00 for a film of 0.8, so 2.5 gallons a gallon of film; 90 % of the
        area coated, films read at 125 %; 3 gallons bought at 52.00, 2 back on the shelf.
        area (0.72-0.80) x 2.5 x 50 = -10.00; rate (0.90-0.72) x 2.5 x 50 = 22.50; price (52-50) x 1
        = 2.00; used 156 - 104 = 52.00; waste 52 - 100 + 10 - 22.50 - 2 = -62.50.
        Profit: 1000 - 100 - 300 - 50 = 550; earned 1000 - 52 - 300 - 50 = 598.
Second: 2 gallons at 45.00; 3 bought, 0.8 back: used 135 - 36 = 99.00, all of the 9.00 is waste.
        Profit 2000 - 90 - 350 = 1560; earned 1551.
Third:  litres; 6 bought at 20.00, 1 back: used 100.00 as quoted. Profit 550, twice.
"""

from __future__ import annotations

import datetime as dt
import json
import random
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from tests.archive import making
from tests.command_line import run

from pourbook.archive.folder import Found, look
from pourbook.archive.month import BOOK, roll_up
from pourbook.archive.record import JobRecord, LotRecord, ProductRecord
from pourbook.errors import InputError, UsageError
from pourbook.job.fill import Entry, fill
from pourbook.workbook.check.check import check_file
from pourbook.workbook.read.read import read_book

Printed = pytest.CaptureFixture[str]
SPLIT = ("quoted", "area", "rate", "waste", "price", "used")
US_GALLON_L = 3.785411784  # 231 cubic inches of 25.4 mm: NIST Handbook 44 (from memory)
MADE = dt.date(2027, 3, 1)


class Sheets:
    """A finished month's workbook as openpyxl sees its values."""

    def __init__(self, path: Path) -> None:
        self.plan = read_book(path).plan("month")
        self.book = openpyxl.load_workbook(path, data_only=True)

    def value(self, block: str, name: str, index: int = 0) -> Any:
        cell = self.plan.cell(block, name, index)
        return self.book[cell.sheet][cell.address].value

    def column(self, block: str, name: str) -> list[Any]:
        values = [self.value(block, name, i) for i in range(self.plan.block(block).rows)]
        return [v for v in values if v not in (None, "")]

    def row(self, block: str, name: str, wanted: str) -> int:
        return [self.value(block, name, i) for i in range(self.plan.block(block).rows)].index(
            wanted
        )

    @property
    def overall(self) -> str:
        return str(self.value("overall", "overall"))


@pytest.fixture(scope="module")
def clean(settled_folder: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    target = tmp_path_factory.mktemp("clean") / "month.xlsx"
    assert run("month", settled_folder, target) == 0
    return target


@pytest.fixture(scope="module")
def sheets(clean: Path) -> Sheets:
    return Sheets(clean)


@pytest.fixture(scope="module")
def mixed(mixed_folder: Path, tmp_path_factory: pytest.TempPathFactory) -> Sheets:
    target = tmp_path_factory.mktemp("mixed-out") / "month.xlsx"
    assert run("month", mixed_folder, target) == 1
    return Sheets(target)


def test_money_of_the_jobs_by_hand(sheets: Sheets) -> None:
    rows = {
        job: tuple(sheets.value("job_coatings", n, sheets.row("jobs", "job", job)) for n in SPLIT)
        for job in ("First", "Second", "Third")
    }
    assert rows == {
        "First": (100.0, -10.0, 22.5, -62.5, 2.0, 52.0),
        "Second": (90.0, 0.0, 0.0, 9.0, 0.0, 99.0),
        "Third": (100.0, 0.0, 0.0, 0.0, 0.0, 100.0),
    }


def test_sums_by_hand(sheets: Sheets) -> None:
    sums = tuple(sheets.value("sums", name) for name in SPLIT)
    assert sums == (290.0, -10.0, 22.5, -53.5, 2.0, 251.0)
    assert tuple(sheets.value("product_sums", name) for name in SPLIT) == sums
    assert sheets.value("sums", "jobs") == 3
    assert sheets.value("sums", "margin_quoted") == pytest.approx((550 + 1560 + 550) / 4000)
    assert sheets.value("sums", "margin_earned") == pytest.approx((598 + 1551 + 550) / 4000)
    assert sheets.overall == "OK"


def test_volumes_of_a_product_in_one_unit(sheets: Sheets) -> None:
    assert sheets.column("by_product", "product") == [making.PRODUCT]
    assert sheets.value("product_volumes", "by_count") == pytest.approx(3.2 + 5 / US_GALLON_L)
    assert sheets.value("product_volumes", "volume_quoted") == pytest.approx(4 + 5 / US_GALLON_L)
    assert sheets.value("by_product", "jobs") == 3


def test_margins_and_days_of_a_job(sheets: Sheets) -> None:
    row = sheets.row("jobs", "job", "First")
    assert sheets.value("jobs", "client", row) == "Client one"
    assert sheets.value("jobs", "settled_on", row) == dt.datetime(2027, 1, 25)
    assert sheets.value("jobs", "accepted_on", row) == dt.datetime(2027, 1, 5)
    assert sheets.value("jobs", "margin_earned", row) == pytest.approx(0.598)


def test_metric_and_another_order(settled_folder: Path, tmp_path: Path) -> None:
    target = tmp_path / "metric.xlsx"
    assert run("month", settled_folder, target, "--units", "metric") == 0
    found = Sheets(target)
    assert found.plan.system.name == "metric"
    assert found.value("product_volumes", "by_count") == pytest.approx(3.2 * US_GALLON_L + 5)
    assert found.value("sums", "used") == 251.0


def test_dates_choose_the_jobs(settled_folder: Path, tmp_path: Path, capsys: Printed) -> None:
    target = tmp_path / "february.xlsx"
    days = ("--from", "2027-02-01", "--to", "2027-02-10")
    assert run("month", settled_folder, target, *days, "--json") == 0
    told = json.loads(capsys.readouterr().out)
    taken = {f["file"]: f["taken"] for f in told["files"]}
    assert taken == {
        "first.xlsx": "outside the dates",
        "later/third.xlsx": "outside the dates",
        "second.xlsx": "in the totals",
    }
    found = Sheets(target)
    assert found.value("sums", "used") == 99.0
    assert found.overall == "OK"
    assert "M-1" in found.column("lots", "lot"), "a recall does not ask for dates"


def test_files_that_are_not_in_the_totals(mixed: Sheets) -> None:
    taken = dict(zip(mixed.column("files", "file"), mixed.column("files", "taken"), strict=True))
    assert taken == {
        "asked.xlsx": "not settled",
        "broken.xlsx": "left out",
        "cad.xlsx": "left out",
        "first backup.xlsx": "left out",
        "first books.xlsx": "passed over",
        "first.xlsx": "in the totals",
        "live.xlsm": "in the totals",
        "old.ods": "passed over",
        "prices.xlsx": "passed over",
        "second.xlsx": "in the totals",
        "typed over.xlsx": "not settled",
        "~$second.xlsx": "passed over",
    }
    why = mixed.value("files", "why", mixed.row("files", "file", "cad.xlsx"))
    assert (
        why == "its currency is CAD, this workbook holds USD; make one of its own: --currency CAD"
    )
    assert mixed.value("sums", "used") == 52.0 + 99.0 + 99.0
    assert mixed.overall == "CHECK: 2 to fix"
    assert mixed.value("files", "stale", mixed.row("files", "file", "second.xlsx")) == 1


def test_another_currency_on_its_own(mixed_folder: Path, tmp_path: Path) -> None:
    target = tmp_path / "cad.xlsx"
    assert run("month", mixed_folder, target, "--currency", "cad") == 1
    found = Sheets(target)
    assert found.value("roll", "currency") == "CAD"
    assert (found.value("sums", "jobs"), found.value("sums", "used")) == (1, 52.0)


def test_a_lot_is_traced_to_its_jobs(clean: Path, tmp_path: Path) -> None:
    target = tmp_path / "traced.xlsx"
    fill(clean, target, {("trace", "lot", 0): "l-77"}, force=False)
    found = Sheets(target)
    assert found.value("trace", "count") == 2
    assert found.column("traced", "job") == ["First", "Second"]
    assert found.column("traced", "document") == ["INV-1 Supplier", "INV-2 Supplier"]
    assert found.column("traced", "first") == [
        dt.datetime(2027, 1, 20),
        dt.datetime(2027, 2, 5),
    ]


@pytest.mark.parametrize("lot", ["L-7", "L-7?", "*", "L-78"])
def test_a_lot_is_compared_as_a_whole(clean: Path, tmp_path: Path, lot: str) -> None:
    target = tmp_path / "traced.xlsx"
    fill(clean, target, {("trace", "lot", 0): lot}, force=False)
    found = Sheets(target)
    assert found.value("trace", "told") == "no job in this roll-up had it"
    assert not found.column("traced", "job")


@pytest.mark.plain
def test_both_engines_agree(clean: Path) -> None:
    assert check_file(clean, ("fast", "plain")).findings == ()


def test_the_file_is_not_replaced_unless_told(clean: Path, settled_folder: Path) -> None:
    before = clean.read_bytes()
    assert run("month", settled_folder, clean) == 2
    assert clean.read_bytes() == before


def test_wrong_use_is_told(settled_folder: Path, tmp_path: Path) -> None:
    assert run("month", settled_folder, tmp_path / "month.csv") == 2
    days = ("--from", "2027-02-02", "--to", "2027-02-01")
    assert run("month", settled_folder, tmp_path / "m.xlsx", *days) == 2
    assert not list(tmp_path.iterdir())


def test_made_into_its_own_folder_it_is_passed_over(
    settled_folder: Path, clean: Path, tmp_path: Path
) -> None:
    (tmp_path / "month.xlsx").write_bytes(clean.read_bytes())
    (tmp_path / "first.xlsx").write_bytes((settled_folder / "first.xlsx").read_bytes())
    found = {one.file: one.kind for one in look(tmp_path, processes=1)}
    assert found == {"first.xlsx": "job", "month.xlsx": "passed over"}


# Many jobs, as records


def records(count: int, seed: int = 7) -> list[Found]:
    """Return settled jobs that never were, with figures that add up."""
    dice = random.Random(seed)
    found = []
    for number in range(count):
        products = []
        for name in dice.sample(["Base", "Flood", "Top", "flood"], 2):
            parts = [round(dice.uniform(-90, 900), 2) for _ in range(5)]
            volumes = [dice.uniform(0, 9) for _ in range(6)]
            figures = [*volumes, *parts, round(sum(parts), 2), 1.25]
            products.append(ProductRecord(name, *figures))
        money = [round(sum(getattr(p, n) for p in products), 2) for n in (*SPLIT, "unexplained")]
        sums = ProductRecord("", *[*[0.0] * 6, *money])
        lots = tuple(
            LotRecord(f"L{dice.randint(1, 5)}", "Base", 46400.4, None, 1, ()) for _ in "ab"
        )
        job = JobRecord(
            f"Job {number}", "Client", "settled", "", "A", "USD", "us", f"{number}", "", 46380.0,
            46400.0, 0, 0, sums, (1000.0, 1000.0), (400.0, 380.0), tuple(products), lots,
        )  # fmt: skip
        found.append(Found(f"{number:04}.xlsx", "job", "", 1.8e9, job))
    return found


def _column(entries: Mapping[Entry, Any], block: str, name: str) -> list[Any]:
    return [
        v
        for (b, n, _), v in sorted(entries.items(), key=lambda e: e[0][2])
        if (b, n) == (block, name)
    ]


def test_every_job_and_product_has_its_row() -> None:
    roll = roll_up(records(40), "f", made=MADE)
    assert len(_column(roll.entries, "jobs", "job")) == 40
    assert len(_column(roll.entries, "detail", "product")) == 80
    names = _column(roll.entries, "by_product", "product")
    assert len(names) == len({n.casefold() for n in names}) == 3, "sums do not tell capitals apart"
    assert roll.pieces == 40


def test_the_rows_of_a_lot_stand_together() -> None:
    lots = _column(roll_up(records(40), "f", made=MADE).entries, "lots", "lot")
    assert lots == sorted(lots)
    assert len(lots) == 80


def test_too_many_for_one_workbook_is_refused() -> None:
    with pytest.raises(InputError, match="more than a workbook holds"):
        roll_up(records(5001), "f", made=MADE)


def test_no_job_at_all_is_refused() -> None:
    with pytest.raises(UsageError, match="broken"):
        roll_up([Found("broken.xlsx", "left out", "it is broken", 0.0)], "f", made=MADE)


# Planted faults: each check of the roll-up fires on one


FAULTS: dict[str, tuple[dict[Entry, object], set[str]]] = {
    "ties": ({("job_coatings", "unexplained", 0): 99.0}, set()),
    "split_jobs": ({("job_coatings", "area", 0): 5.0}, {"ties"}),
    "split_products": ({("detail", "rate", 0): 5.0}, {"ties"}),
    "counted": ({("jobs", "state", 0): "not settled"}, set()),
    "all_files": ({("file_counts", "listed", 0): 9}, set()),
    "left_out": ({("files", "taken", 3): "left out"}, set()),
    "unsettled": ({("files", "taken", 3): "not settled"}, set()),
}


@pytest.fixture(scope="module")
def small(tmp_path_factory: pytest.TempPathFactory) -> Path:
    from pourbook.archive.month import write

    target = tmp_path_factory.mktemp("small") / "month.xlsx"
    passed = Found("prices.xlsx", "passed over", "no job", 1.8e9)
    roll = roll_up([*records(3), passed], "f", made=MADE)
    write(roll, target, force=False, made=dt.datetime(2027, 3, 1))
    return target


def _fired(path: Path) -> set[str]:
    found = Sheets(path)
    checks = found.plan.block("checks").checks
    said = {c.id: found.value("checks", "result", i) for i, c in enumerate(checks)}
    assert set(said.values()) <= {"OK", "CHECK"}
    return {name for name, word in said.items() if word == "CHECK"}


def test_a_sound_roll_up_fires_nothing(small: Path) -> None:
    assert _fired(small) == set()


def test_every_check_has_a_planted_fault(small: Path) -> None:
    assert {c.id for c in Sheets(small).plan.block("checks").checks} == set(FAULTS)


@pytest.mark.parametrize("check", FAULTS)
def test_fault_fires_its_check(small: Path, tmp_path: Path, check: str) -> None:
    entries, also = FAULTS[check]
    target = tmp_path / "faulty.xlsx"
    fill(small, target, entries, force=False)
    assert _fired(target) == {check} | also


def test_a_typed_over_sum_is_found(small: Path, tmp_path: Path) -> None:
    from tests.archive.conftest import type_over

    plan = read_book(small).plan(BOOK)
    cell = plan.cell("sums", "used")
    target = tmp_path / "typed.xlsx"
    type_over(small, target, cell.sheet, cell.address, 1.0)
    assert "structure.formula" in {f.id for f in check_file(target).findings}


JOB_ONLY = {
    "export": ("--ics", "out.ics"),
    "accept": (),
    "settle": (),
    "log": ("--from", "none.csv"),
    "receipts": ("--from", "none.csv"),
}


@pytest.mark.parametrize("command", JOB_ONLY)
def test_a_roll_up_is_no_job(small: Path, tmp_path: Path, capsys: Printed, command: str) -> None:
    target = tmp_path / "month.xlsx"
    target.write_bytes(small.read_bytes())
    (tmp_path / "none.csv").write_text("Layer\n", encoding="utf-8")
    options = [str(tmp_path / o) if "." in o else o for o in JOB_ONLY[command]]
    assert run(command, target, *options) == 3
    assert "this is a month's workbook" in capsys.readouterr().err
    assert target.read_bytes() == small.read_bytes()


def test_a_roll_up_is_shown_in_tables(small: Path, capsys: Printed) -> None:
    assert run("show", small, "--json") == 0
    titles = [table["title"] for table in json.loads(capsys.readouterr().out)]
    assert titles == [
        "Settled jobs in all", "Job by job", "Product by product", "Files", "Checks",
    ]  # fmt: skip
