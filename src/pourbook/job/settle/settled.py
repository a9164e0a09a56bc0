"""A settled job, read from its recomputed sheets: tables to print and journal lines to book.

Contract: every figure comes from the sheet Settle or a receipt on Used; the only sums made here
prove that the lines balance and tie to Settle. A job that cannot be settled is a finding with its
cell.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator

from pourbook.cells import OK, is_refused, text, unmarked
from pourbook.dates import from_serial
from pourbook.errors import BlankError, InputError, MisreadError
from pourbook.formats.ledger import Posting, Transaction, account_fault, is_currency
from pourbook.job.settle.bought import Accounts, bought
from pourbook.workbook.check.check import Checked
from pourbook.workbook.check.findings import Finding
from pourbook.workbook.tell.summary import Shown, TableReader

SAID = "Coatings, and what else stands on Invoices: labour, travel and overhead are not in it."
SHEETS = {"Start", "Products", "Layers", "Quoted", "Used", "Invoices", "Settle"}
"""The sheets whose figures are booked and rolled up, and those they rest on."""
HARMLESS = {"structure.stray", "structure.hidden", "structure.version"}
CHECKED = {"Used", "Invoices", "Settle"}
UNEXPLAINED = "settle_unexplained"
"""A check that only asks to count again: the figures tie all the same."""
SETTLEMENT, CORRECTION = "Settle", "correction: "
"""What the entry of a settlement is called instead of a slip, and what a correction begins with."""
_DIFFERENCES = ("area", "rate", "waste", "price")
_ROWS = (
    ("receipts", "receipt_status"),
    ("used", "used_status"),
    ("left", "left_status"),
    ("invoices", "invoice_status"),
    ("extras", "extra_status"),
    ("worked", "worked_status"),
)
DATES = (
    ("receipts", "date"),
    ("log", "started"),
    ("log", "ended"),
    ("left", "date"),
    ("invoices", "date"),
    ("worked", "date"),
)
"""The days a job's use and its invoices are noted by; older jobs lack the last ones."""


def tables(checked: Checked) -> list[Shown]:
    """Return the tables of a settled job."""
    reader = TableReader(checked)
    volumes = tuple(f.id for f in checked.plan.block("settle").columns)
    money = tuple(f.id for f in checked.plan.block("settle_money").columns)
    sums = tuple(f.id for f in checked.plan.block("settle_sums").columns)
    ordered: list[Shown] = []
    if "changes" in checked.plan.places and reader.number_or_none("changes", "change_no", 1):
        names = tuple(f.id for f in checked.plan.block("changes").columns if f.kind != "index")
        ordered = [reader.table("changes", "Original, changes and now", names, "change_no")]
    return [
        *ordered,
        reader.table("settle", "Volumes, product by product", volumes, "product"),
        reader.table("settle_money", "Money, product by product", money, "product"),
        *_waste(checked, reader),
        reader.form("settle_sums", "In all", sums),
        reader.lines("margin", "Margin, as quoted and as earned", lead=""),
        *_beside(checked, reader),
        reader.table(
            "journal", "Journal of the coatings", ("account", "debit", "credit"), "account"
        ),
    ]


def _waste(checked: Checked, reader: TableReader) -> Iterator[Shown]:
    """Give what the waste is made of; jobs of templates 1 do not say it."""
    if "settle_waste" in checked.plan.places:
        names = tuple(f.id for f in checked.plan.block("settle_waste").columns)
        yield reader.table("settle_waste", "What waste is made of", names, "product")


def _beside(checked: Checked, reader: TableReader) -> Iterator[Shown]:
    """Give labour by step and what else is told beside the coatings; older jobs have neither."""
    for block, title in (
        ("settle_steps", "Labour by step, hours"),
        ("settle_beside", "Beside the coatings: earned less quoted"),
    ):
        if block not in checked.plan.places:
            continue
        names = tuple(f.id for f in checked.plan.block(block).columns)
        if block == "settle_steps":
            yield reader.table(block, title, names, "step")
        else:
            yield reader.form(block, title, names)


def unready(checked: Checked) -> Finding | None:
    """Return why a job cannot be settled yet, with the cell to begin at; None when it can."""
    reader = TableReader(checked)
    state = text(reader.value("settle_state", "state", 0))
    if state == OK:
        return None
    what, mend = unmarked(state), "fill in Used, then settle again"
    cell = checked.plan.cell("receipts", "date", 0)
    if text(reader.value("quoted", "state", 0)) != OK:
        cell = checked.plan.cell("quoted", "state")
        what, mend = "not accepted yet", f"pourbook accept {checked.book.path.name}"
    else:
        for block, name in _ROWS:
            if block not in checked.plan.places:
                continue
            for index in range(checked.plan.block(block).rows):
                said = text(reader.value(block, name, index))
                if is_refused(said):
                    cell = checked.plan.cell(block, name, index)
                    what, mend = unmarked(said), f"fix this row of {cell.sheet}"
                    return _finding(checked, cell.sheet, cell.address, what, mend)
    return _finding(checked, cell.sheet, cell.address, what, mend)


def obstacles(checked: Checked) -> list[Finding]:
    """Return why a job's figures may not be booked or rolled up; nothing where they may.

    One rule for ``settle`` and ``month``: it is ready, nothing its figures rest on was typed over,
    is wrong or fails a check, and it splits to the last cent. A row that only needs a second look
    stops nothing.
    """
    reason = unready(checked)
    if reason is not None:
        return [reason]
    found = [f for f in checked.findings if _spoils(checked, f)]
    reader = TableReader(checked)
    for block, name in (("settle_sums", "residual"), ("settle_state", "tie")):
        if not found and reader.value(block, name, 0) != 0.0:
            cell = checked.plan.cell(block, name)
            label = checked.plan.text(checked.plan.block(block).field(name).header)
            what, mend = f"{label} is not 0", "run pourbook check, and send us the job if it is OK"
            found.append(_finding(checked, cell.sheet, cell.address, what, mend))
    return found


def _spoils(checked: Checked, finding: Finding) -> bool:
    """Return whether a finding makes the figures of a settlement unsafe."""
    if finding.id in {"quoted.sealed", "closed.sealed"}:
        return True
    if finding.id == "job.check":
        failed = (c for c in checked.plan.cells if (c.sheet, c.address) == _at(finding))
        return any(
            check.sheet in CHECKED and check.id != UNEXPLAINED
            for cell in failed
            for check in checked.plan.block(cell.block).checks[cell.index : cell.index + 1]
        )
    kinds = ("structure.", "entry.", "job.row", "job.error")
    counts = finding.id.startswith(kinds) and finding.id not in HARMLESS
    return counts and finding.sheet in SHEETS


def _at(finding: Finding) -> tuple[str, str]:
    return finding.sheet, finding.cell


def _finding(checked: Checked, sheet: str, cell: str, what: str, mend: str) -> Finding:
    return Finding("settle.state", checked.book.path.name, sheet, cell, what, mend)


def transactions(checked: Checked, on: dt.date | None = None) -> list[Transaction]:
    """Return what a settled job books as it stands: an entry a receipt line and one for the use.

    A receipt goes from what is owed to suppliers into stock, one from the shelf was in stock
    already; the settlement takes what was used out of stock, as quoted and by its differences.

    Args:
        checked: The job, recomputed, ready to settle.
        on: The day of the settlement; the last date on Used if left out.

    Raises:
        InputError: An account has no name, the figures do not tie, or there is no date.
    """
    reader = Accounts(checked)
    _tied(reader)
    found = list(bought(reader))
    postings = [Posting(reader.name("job"), reader.cents("settle_sums", "quoted"))]
    for name in _DIFFERENCES:
        postings.append(Posting(reader.name(name), reader.cents("settle_sums", name)))
    postings.append(Posting(reader.name("stock"), -reader.cents("settle_sums", "actual")))
    posted = tuple(p for p in postings if p.cents)
    if posted:
        job = text(reader.value("start", "job", 0)) or checked.book.path.stem
        revision = reader.value("quoted", "revision", 0)
        number = f", revision {revision:.0f} of the quote" if isinstance(revision, float) else ""
        said = f"Job {job}: coatings settled{number}"
        found.append(Transaction(on or last_day(checked), SETTLEMENT, said, posted))
    return found


def currency(checked: Checked, *, plain_text: bool) -> str:
    """Return the job's currency code in capitals.

    Raises:
        InputError: It cannot stand in plain-text double entry.
    """
    reader = TableReader(checked)
    code = text(reader.value("money", "currency", 0)).strip().upper()
    if plain_text and not is_currency(code):
        cell = checked.plan.cell("money", "currency")
        mend = "type its code of letters, such as USD"
        raise MisreadError(f"'{code}' is no currency code", mend, f"{cell.sheet}!{cell.address}")
    return code


def refuse_accounts(checked: Checked) -> None:
    """Refuse account names that plain-text double entry cannot hold.

    Raises:
        InputError: It names the cell to mend.
    """
    reader = Accounts(checked)
    for item in checked.plan.block("accounts").columns:
        name = reader.name(item.id)
        fault = account_fault(name)
        if fault:
            mend = "type it as Assets:Stock:Coatings, or write a .csv file alone"
            raise MisreadError(
                f"'{name}' is no account name: {fault}", mend, reader.cell_of(item.id)
            )


def _tied(reader: Accounts) -> None:
    """Refuse to book what does not add up."""
    for block, name in (
        ("settle_sums", "residual"),
        ("settle_state", "tie"),
        ("journal_total", "open"),
    ):
        if reader.cents(block, name):
            cell = reader.plan.cell(block, name)
            what = f"{reader.heading(reader.plan.block(block).field(name))} is not 0"
            mend = "run pourbook check: it names what to fix"
            raise InputError(what, mend, f"{cell.sheet}!{cell.address}")


def last_day(checked: Checked) -> dt.date:
    """Return the last day noted on Used.

    Raises:
        InputError: There is none.
    """
    reader = TableReader(checked)
    days = [
        value
        for block, name in DATES
        if block in checked.plan.places
        for index in range(reader.plan.block(block).rows)
        for value in [reader.value(block, name, index)]
        if isinstance(value, int | float) and not isinstance(value, bool)
    ]
    if not days:
        raise BlankError("there is no date on Used", "say --on 2027-01-31", "Used")
    return from_serial(max(days)).date()
