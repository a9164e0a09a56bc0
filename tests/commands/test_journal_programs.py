"""The journal as programs outside take it: a general ledger imports the CSV, pandas sums it."""

from __future__ import annotations

import csv
import io
import os
import shutil
import subprocess
from dataclasses import replace
from decimal import Decimal
from pathlib import Path

import pandas as pd
import pytest
from tests.archive import making
from tests.command_line import run

from pourbook.workbook.check.check import check_file
from pourbook.workbook.layout.laid_out import Layout
from pourbook.workbook.read.named import NamedCells

RULES = Path(__file__).parents[2] / "shared" / "journal.rules"
CLEARED = "Journal:"


@pytest.fixture(scope="module")
def journals(
    settled_us: Path, plan_us: Layout, demo_us: Path, tmp_path_factory: pytest.TempPathFactory
) -> list[Path]:
    """Return the journals of three jobs, one of them in another currency."""
    folder = tmp_path_factory.mktemp("journals")
    second = making.make(demo_us, folder / "b.xlsx", plan_us, making.SECOND)
    third = replace(making.FIRST, currency="CAD")
    made = making.make(demo_us, folder / "c.xlsx", plan_us, third)
    found = []
    for job, name in ((settled_us, "a"), (second, "b"), (made, "c")):
        found.append(folder / f"{name}.csv")
        assert run("settle", job, "--journal", found[-1]) == 0
    return found


def _ledger(*words: object) -> str:
    """Return what the ledger program prints; where there is none the test is skipped, in CI not."""
    program = shutil.which("hledger")
    if program is None and os.environ.get("CI"):
        pytest.fail("hledger is not installed: no general ledger imports the CSV")
    if program is None:
        pytest.skip("hledger is not installed: no general ledger imports the CSV")
    told = subprocess.run(
        [program, "--rules-file", str(RULES), *map(str, words)],
        capture_output=True, text=True, check=False, env={**os.environ, "LC_ALL": "C.UTF-8"},
    )  # fmt: skip
    assert told.returncode == 0, told.stderr
    return told.stdout


def _sums(journals: list[Path]) -> pd.Series:
    """Return debit less credit of every account and currency, in cents, as pandas reads them."""
    read = pd.concat([pd.read_csv(path, dtype=str, keep_default_na=False) for path in journals])
    cents = {
        side: read[side].map(lambda shown: int(Decimal(shown or 0) * 100))
        for side in ("debit", "credit")
    }
    read["cents"] = cents["debit"] - cents["credit"]
    assert (read.groupby("entry")["cents"].sum() == 0).all(), "an entry is not whole"
    return read.groupby(["account", "currency"])["cents"].sum()


def test_a_general_ledger_imports_the_csv_as_it_is(journals: list[Path]) -> None:
    """Its balances by account and currency are those of the lines; no entry leaves anything."""
    files = [word for path in journals for word in ("-f", path)]
    printed = _ledger(
        *files, "balance", "--flat", "--empty", "-O", "csv", "--no-total", "-c", "1.00"
    )
    told: dict[tuple[str, str], int] = {}
    left = []
    for row in csv.DictReader(io.StringIO(printed)):
        for shown in filter(None, row["balance"].split(", ")):
            code, figure = shown[:3], shown[3:]
            if row["account"].startswith(CLEARED):
                left.append(shown)
            else:
                told[row["account"], code] = int(Decimal(figure) * 100)
    sums = _sums(journals)
    assert {key: cents for key, cents in told.items() if cents} == {
        key: cents for key, cents in sums.items() if cents
    }
    assert {code for _, code in told} == {"USD", "CAD"}
    assert all(not shown.strip("0.") for shown in left), left


def test_pandas_finds_the_figures_of_settle_in_the_journal(
    settled_us: Path, journals: list[Path]
) -> None:
    checked = check_file(settled_us)
    cells = NamedCells(checked.plan, checked.book, checked.values)
    sums = _sums(journals[:1]).droplevel("currency")
    accounts = checked.plan.block("accounts").columns
    seen = 0
    for item in accounts:
        if item.id not in {c.id for c in checked.plan.block("journal_amounts").columns}:
            continue
        expected = round(cells.number("journal_amounts", item.id) * 100)
        assert sums.get(cells.words("accounts", item.id), 0) == expected, item.id
        seen += expected != 0
    assert seen > 5
