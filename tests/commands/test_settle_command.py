"""``pourbook settle`` as a bookkeeper and a script meet it."""

from __future__ import annotations

import csv
import json
import shutil
from dataclasses import replace
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from beancount import loader
from beancount.core.data import Open
from tests.archive import making
from tests.command_line import run

from pourbook.archive.folder import look
from pourbook.job import fill
from pourbook.job.settle import settled
from pourbook.workbook.check.check import check_file
from pourbook.workbook.layout.laid_out import Layout
from pourbook.workbook.read.read import read_book

Printed = pytest.CaptureFixture[str]
Entries = dict[tuple[str, str, int], object]


def _json(capsys: Printed) -> Any:
    return json.loads(capsys.readouterr().out)


def test_tables_and_both_journals(
    settled_us: Path, plan_us: Layout, tmp_path: Path, capsys: Printed
) -> None:
    job = Path(shutil.copy(settled_us, tmp_path / "job.xlsx"))
    before = job.read_bytes()
    lines, plain = tmp_path / "job.csv", tmp_path / "job.beancount"
    arguments = ("settle", job, "--journal", lines, "--journal", plain, "--on", "2027-02-28")
    assert run(*arguments) == 0
    shown = capsys.readouterr().out
    for words in (
        "Volumes, product by product",
        "Tint base",
        "Margin",
        "Written: ",
        "travel",
    ):
        assert words in shown or words.capitalize() in shown, words
    assert job.read_bytes() == before, "settling writes nothing into the job"

    entries, errors, _ = loader.load_file(str(plain))
    assert not errors
    assert entries[-1].date.isoformat() == "2027-02-28"
    with lines.open(encoding="utf-8", newline="") as stream:
        rows = list(csv.DictReader(stream))
    used = sum(
        float(r["credit"] or 0)
        for r in rows
        if r["document"] == "Settle" and "Stock" in r["account"]
    )
    cell = plan_us.cell("settle_sums", "actual")
    assert used == pytest.approx(read_book(job).sheets[cell.sheet].value(cell.address))

    assert run(*arguments) == 2, "an existing journal is not written over"
    assert "exists already" in capsys.readouterr().err


def test_json_holds_the_tables(settled_us: Path, capsys: Printed) -> None:
    assert run("settle", settled_us, "--json") == 0
    answer = _json(capsys)
    assert answer["status"] == "ok"
    assert [t["title"] for t in answer["settle"]][:2] == [
        "Volumes, product by product",
        "Money, product by product",
    ]
    assert answer["files"] == []


def test_job_that_is_not_accepted_is_refused_with_its_cell(
    demo_us: Path, plan_us: Layout, tmp_path: Path, capsys: Printed
) -> None:
    target = tmp_path / "job.csv"
    assert run("settle", demo_us, "--journal", target, "--json") == 1
    answer = _json(capsys)
    assert [f["id"] for f in answer["findings"]] == ["settle.state"]
    assert answer["findings"][0]["sheet"] == "Quoted"
    assert answer["findings"][0]["cell"] == plan_us.cell("quoted", "state").address
    assert answer["findings"][0]["what"] == "not accepted yet"
    assert "pourbook accept" in answer["findings"][0]["mend"]
    assert not target.exists()


def test_row_to_mend_is_named(settled_us: Path, plan_us: Layout, tmp_path: Path) -> None:
    job = tmp_path / "job.xlsx"
    fill.fill(settled_us, job, {("receipts", "currency", 1): "EUR"}, force=False)
    reason = settled.unready(check_file(job))
    assert reason is not None
    status = plan_us.cell("receipts", "receipt_status", 1)
    assert (reason.sheet, reason.cell) == ("Used", status.address)
    assert "Currency" in reason.what


@pytest.mark.parametrize(
    ("names", "word"),
    [
        (("job.ods",), "ends in .csv, .beancount or .txt"),
        (("job.csv", "job.csv"), "named twice"),
        (("none/job.csv",), "folder does not exist"),
    ],
)
def test_wrong_journal_files_are_refused_at_once(
    names: tuple[str, ...], word: str, tmp_path: Path, capsys: Printed
) -> None:
    journals = [part for name in names for part in ("--journal", tmp_path / name)]
    assert run("settle", tmp_path / "no-job-is-read.xlsx", *journals) == 2
    assert word in capsys.readouterr().err
    assert not list(tmp_path.iterdir())


def test_day_of_the_settlement_must_be_a_day(tmp_path: Path, capsys: Printed) -> None:
    assert run("settle", tmp_path / "job.xlsx", "--on", "31.01.2027") == 2
    assert "--on" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("entries", "place"),
    [
        ({("receipts", "currency", 1): "EUR"}, "Used!"),
        ({("start", "date", 0): "soon"}, "Start!"),
        ({("left", "rest", 0): 1e6}, "Used!"),
        ({("log", "humidity", 0): None}, ""),
    ],
)
def test_month_leaves_out_what_settle_refuses_and_names_it(
    settled_us: Path, tmp_path: Path, capsys: Printed, entries: Entries, place: str
) -> None:
    """A row to mend, a date that is none, more left than issued; a look stops neither."""
    job = tmp_path / "job.xlsx"
    fill.fill(settled_us, job, entries, force=False)
    refused = run("settle", job, "--journal", tmp_path / "job.csv") == 1
    said = capsys.readouterr()
    record = look(tmp_path, processes=1)[0].job
    assert record is not None
    assert refused == bool(place) == (record.state != "settled")
    if place:
        assert place in record.why
        assert place in said.out
        assert not (tmp_path / "job.csv").exists()


def test_the_files_of_many_jobs_go_together_in_one_ledger(
    settled_us: Path, plan_us: Layout, demo_us: Path, tmp_path: Path, capsys: Printed
) -> None:
    """One file of accounts, one a job, currencies apart: beancount's own checker passes them."""
    early = making.FIRST
    made = making.make(demo_us, tmp_path / "b.xlsx", plan_us, replace(early, currency="CAD"))
    accounts = tmp_path / "accounts.beancount"
    accounts.write_text("; ours\n2026-01-01 open Assets:Bank CAD\n", encoding="utf-8")
    for job, name in ((settled_us, "a"), (made, "b"), (settled_us, "a")):
        words = ("--journal", tmp_path / f"{name}.beancount", "--accounts", accounts, "--force")
        assert run("settle", job, *words) == 0
    book = tmp_path / "all.beancount"
    names = ("accounts", "a", "b")
    book.write_text("".join(f'include "{n}.beancount"\n' for n in names), encoding="utf-8")
    entries, errors, _ = loader.load_file(str(book))
    assert not errors
    opened = {e.account: e.currencies for e in entries if isinstance(e, Open)}
    assert opened["Assets:Bank"] == ["CAD"]
    assert set(opened["Assets:Stock:Coatings"]) == {"USD", "CAD"}
    assert accounts.read_text(encoding="utf-8").startswith("; ours\n2026-01-01 open Assets:Bank")
    sums: dict[tuple[str, str], Decimal] = {}
    for entry in entries:
        for posting in getattr(entry, "postings", ()):
            key = posting.account, posting.units.currency
            sums[key] = sums.get(key, Decimal(0)) + posting.units.number
    # by hand, see tests/archive/test_month.py: 3 gallons at 52.00, 2 of them back on the shelf
    assert sums["Liabilities:Suppliers", "CAD"] == -156
    assert sums["Assets:Stock:Coatings", "CAD"] == 104
    capsys.readouterr()
    assert run("settle", made, "--accounts", accounts) == 2
    assert "add --journal" in capsys.readouterr().err
    accounts.write_bytes(b"\xff\xfe\x00")
    assert run("settle", made, "--journal", tmp_path / "c.txt", "--accounts", accounts) == 3
    assert not (tmp_path / "c.txt").exists()


def test_entries_of_a_csv_journal_are_numbered_under_the_jobs_own_mark(
    settled_us: Path, tmp_path: Path
) -> None:
    target = tmp_path / "job.csv"
    assert run("settle", settled_us, "--journal", target) == 0
    with target.open(encoding="utf-8", newline="") as stream:
        rows = list(csv.DictReader(stream))
    sums: dict[str, Decimal] = {}
    for row in rows:
        more = Decimal(row["debit"] or 0) - Decimal(row["credit"] or 0)
        sums[row["entry"]] = sums.get(row["entry"], Decimal(0)) + more
    assert set(sums.values()) == {0}
    assert len(sums) == len({(r["document"], r["text"]) for r in rows})
