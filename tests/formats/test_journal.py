"""The journal's lines: beancount's own loader takes every one, and they tie to Settle."""

from __future__ import annotations

import csv
import datetime as dt
import io
from dataclasses import replace
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from beancount import loader
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.job.settling import Bench, Entry, receipt

from pourbook.errors import InputError
from pourbook.formats.ledger import (
    HEADINGS,
    ROOTS,
    Posting,
    Transaction,
    account_fault,
    is_currency,
    to_beancount,
    to_csv,
)
from pourbook.job.settle import settled
from pourbook.workbook.layout.laid_out import Layout
from pourbook.workbook.tell.summary import TableReader

FEW = settings(max_examples=15)
DAYS = st.dates(dt.date(2000, 1, 1), dt.date(2099, 12, 31))
NAMES = st.text(max_size=12)


def _loaded(text: str) -> list[Any]:
    """Return beancount's entries; it must have nothing to say against the text."""
    entries, errors, _ = loader.load_string(text)
    assert not errors, f"{errors[0].message}\n{text}"
    return list(entries)


def _balances(entries: list[Any]) -> dict[str, Decimal]:
    found: dict[str, Decimal] = {}
    for entry in entries:
        for posting in getattr(entry, "postings", None) or ():
            units = posting.units
            found[posting.account] = found.get(posting.account, Decimal(0)) + units.number
    return found


@st.composite
def _transactions(draw: st.DrawFn) -> list[Transaction]:
    accounts = draw(
        st.lists(
            st.builds(
                lambda root, rest: ":".join([root, *rest]),
                st.sampled_from(ROOTS),
                st.lists(st.text("AÄbé1-Z", min_size=1, max_size=6), min_size=1, max_size=3),
            ).filter(lambda name: not account_fault(name)),
            min_size=2,
            max_size=5,
            unique=True,
        )
    )
    made = []
    for _ in range(draw(st.integers(1, 4))):
        cents = draw(st.lists(st.integers(-(10**9), 10**9), min_size=1, max_size=4).filter(any))
        sides = [Posting(draw(st.sampled_from(accounts)), c) for c in cents if c]
        sides.append(Posting(accounts[0], -sum(cents)))
        day, number, said, payee = draw(DAYS), draw(NAMES), draw(NAMES), draw(NAMES)
        made.append(Transaction(day, number, said, tuple(sides), payee))
    return made


@given(_transactions(), st.sampled_from(["USD", "EUR", "X-1"]))
def test_beancount_takes_whatever_is_written(lines: list[Transaction], code: str) -> None:
    assert is_currency(code)
    entries = _loaded(to_beancount(lines, code, ["a note\nwith a break"]))
    wanted: dict[str, Decimal] = {}
    for line in lines:
        for posting in line.postings:
            number = Decimal(posting.cents) / 100
            wanted[posting.account] = wanted.get(posting.account, Decimal(0)) + number
    assert _balances(entries) == wanted
    assert sum(type(e).__name__ == "Transaction" for e in entries) == len(lines)


@given(st.text(":ABab1 -_é§Äß²", max_size=14), st.sampled_from([*ROOTS, "Stock", "assets"]))
def test_names_we_take_beancount_takes(rest: str, root: str) -> None:
    name = f"{root}:{rest}"
    if account_fault(name):
        return
    _loaded(f"2027-01-05 open {name} USD\n")


@pytest.mark.parametrize(
    "name",
    ["Stock:Coatings", "Assets", "Assets:", "Assets:stock", "Assets:A b", "4400", "Assets::B"],
)
def test_names_beancount_refuses_are_refused(name: str) -> None:
    assert account_fault(name)
    _, errors, _ = loader.load_string(f"2027-01-05 open {name} USD\n")
    assert errors


@given(_transactions())
def test_csv_balances_and_reads_back(lines: list[Transaction]) -> None:
    rows = list(csv.DictReader(io.StringIO(to_csv(lines, "USD"), newline="")))
    assert tuple(rows[0]) == HEADINGS
    assert len(rows) == sum(len(line.postings) for line in lines)
    debit = sum(Decimal(row["debit"] or 0) for row in rows)
    assert debit == sum(Decimal(row["credit"] or 0) for row in rows)
    for row, posting in zip(rows, (p for line in lines for p in line.postings), strict=True):
        assert Decimal(row["debit"] or 0) - Decimal(row["credit"] or 0) == (
            Decimal(posting.cents) / 100
        )
        assert dt.date.fromisoformat(row["date"])


def test_what_does_not_balance_is_refused() -> None:
    one = Transaction(dt.date(2027, 1, 5), "R1", "Binder", (Posting("Assets:A", 1),))
    with pytest.raises(InputError, match=r"differ by 0\.01"):
        to_csv([one], "USD")
    with pytest.raises(InputError, match=r"differ by 0\.01"):
        to_beancount([one], "USD", [])


# From a workbook


@pytest.fixture(scope="module")
def bench(settled_us: Path, plan_us: Layout, tmp_path_factory: pytest.TempPathFactory) -> Bench:
    return Bench(settled_us, plan_us, tmp_path_factory.mktemp("bench"))


@st.composite
def _uses(draw: st.DrawFn) -> dict[Entry, object]:
    found: dict[Entry, object] = {}
    for row in range(9):
        found |= receipt(
            row,
            draw(st.sampled_from(["Tint base", "Clear flood", "Roll-on top", "Binder"])),
            draw(st.integers(0, 9)),
            draw(st.sampled_from([0.25, 1.0, 3.785])),
            draw(st.integers(0, 10**6)) / 100,
            kind=draw(st.sampled_from(["bought", "bought", "from shelf", "sent back"])),
            supplier=draw(st.text("ab\\\"'é;\n", max_size=6)),
        )
    for row in range(3):
        found["left", "rest", row] = draw(st.integers(0, 3000)) / 1000
    return found


@FEW
@given(uses=_uses())
def test_journal_of_any_job_ties_to_settle(bench: Bench, uses: dict[Entry, object]) -> None:
    checked = bench.run(uses)
    reader = TableReader(checked)
    lines = settled.transactions(checked)
    entries = _loaded(to_beancount(lines, settled.currency(checked, plain_text=True), []))
    balances = _balances(entries)

    def amount(block: str, name: str) -> Decimal:
        found = reader.value(block, name, 0)
        assert isinstance(found, int | float)
        return Decimal(round(found * 100)) / 100

    for item in bench.plan.block("accounts").columns:
        account = str(reader.value("accounts", item.id, 0))
        assert balances.get(account, Decimal(0)) == amount("journal_amounts", item.id), account
    bought = amount("settle_state", "receipts") - amount("settle_state", "from_shelf")
    assert -balances.get("Liabilities:Suppliers", Decimal(0)) == bought


def test_settlement_falls_on_the_last_day_unless_told(bench: Bench) -> None:
    checked = bench.run({("left", "date", 0): dt.date(2027, 3, 1)})
    assert settled.transactions(checked)[-1].day == dt.date(2027, 3, 1)
    assert settled.transactions(checked, dt.date(2027, 2, 2))[-1].day == dt.date(2027, 2, 2)
    assert settled.transactions(checked)[0].day == dt.date(2027, 1, 5)


def test_from_the_shelf_is_not_booked_again(bench: Bench) -> None:
    checked = bench.run({("receipts", "kind", 0): "from shelf"})
    lines = settled.transactions(checked)
    assert [line.document for line in lines] == ["R101, line 1", "R102, line 1", "Settle"]


@pytest.mark.parametrize(
    ("key", "name", "word"),
    [
        ("area", "Expenses:jobs", "'jobs' must begin with a capital letter"),
        ("stock", "Stock", "its first level must be one of Assets"),
    ],
)
def test_account_that_cannot_be_named_so(
    bench: Bench, plan_us: Layout, key: str, name: str, word: str
) -> None:
    checked = bench.run({("accounts", key, 0): name})
    cell = plan_us.cell("accounts", key)
    with pytest.raises(InputError, match=word) as refused:
        settled.refuse_accounts(checked)
    assert refused.value.where == f"Used!{cell.address}"
    assert settled.transactions(checked), "a CSV file takes any name"


def test_blank_account_is_refused(bench: Bench, plan_us: Layout) -> None:
    with pytest.raises(InputError, match="no name") as refused:
        settled.transactions(bench.run({("accounts", "waste", 0): None}))
    assert refused.value.where == f"Used!{plan_us.cell('accounts', 'waste').address}"


def test_currency_is_a_code_in_capitals(bench: Bench, plan_us: Layout) -> None:
    code = {("money", "currency", 0): "usd"}
    assert settled.currency(bench.run(code), plain_text=True) == "USD"
    sign = bench.run({("money", "currency", 0): "$"})
    with pytest.raises(InputError, match="no currency code") as refused:
        settled.currency(sign, plain_text=True)
    assert refused.value.where == f"Start!{plan_us.cell('money', 'currency').address}"
    assert settled.currency(sign, plain_text=False) == "$"


def test_figures_typed_over_are_not_booked(bench: Bench, plan_us: Layout) -> None:
    checked = bench.run({})
    cell = plan_us.cell("settle_state", "tie")
    typed = {**checked.values, (cell.sheet, cell.address): 20.0}
    with pytest.raises(InputError, match="is not 0") as refused:
        settled.transactions(replace(checked, values=typed))
    assert refused.value.where == f"Settle!{cell.address}"


@pytest.mark.parametrize("text", ['=HYPERLINK("http://x","y")', "+1", "-1", "@x", "\uff1d1+1"])
def test_no_text_of_the_csv_is_a_formula(text: str) -> None:
    lines = (Posting("Stock", 1250), Posting("Owed", -1250))
    one = Transaction(dt.date(2027, 1, 5), text, text, lines, text)
    for row in csv.reader(to_csv([one], "USD").splitlines()[1:]):
        assert row[1] == f"'{text}"
        assert not any(cell.startswith(("=", "+", "-", "@", "\uff1d")) for cell in row)
