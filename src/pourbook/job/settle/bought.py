"""What was bought as entries in the books: invoices whole, and receipts without one line by line.

Contract: every amount stands on Used or Invoices; what is owed for an invoice is its total to the
cent. A row from the shelf was in stock already and is no entry.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator

from pourbook.cells import is_blank, text, word
from pourbook.dates import from_serial
from pourbook.errors import BlankError, InputError
from pourbook.formats.ledger import Posting, Transaction
from pourbook.workbook.layout.laid_out import Layout
from pourbook.workbook.tell.summary import TableReader

_KINDS = {
    "additive": "additives",
    "sundry": "sundries",
    "freight": "freight",
    "tax": "tax",
    "deposit": "deposits",
}
"""The account of each kind of line; a credit goes where what it is for stands."""


def charged(plan: Layout) -> str:
    """Return the block whose ``cost`` is what a receipt costs: with its share of freight, or bare.

    Jobs of templates 1 have no invoices to share it.
    """
    return "landed" if "landed" in plan.places else "receipts"


class Accounts(TableReader):
    """Reads names of accounts and amounts in cents."""

    def cell_of(self, name: str) -> str:
        """Return where the name of an account stands."""
        cell = self.plan.cell("accounts", name)
        return f"{cell.sheet}!{cell.address}"

    def name(self, name: str) -> str:
        """Return the name of an account.

        Raises:
            InputError: It has none.
        """
        found = text(self.value("accounts", name, 0)).strip()
        if not found:
            raise InputError("the account has no name", "type one", self.cell_of(name))
        return found

    def cents(self, block: str, name: str, index: int = 0) -> int:
        """Return an amount in whole cents.

        Raises:
            InputError: The cell holds none.
        """
        found = self.value(block, name, index)
        if isinstance(found, bool) or not isinstance(found, int | float):
            cell = self.plan.cell(block, name, index)
            where = f"{cell.sheet}!{cell.address}"
            raise InputError(f"it holds no amount ({text(found)})", "see: pourbook check", where)
        return round(found * 100)

    def day(self, block: str, index: int) -> dt.date:
        """Return the date of a row.

        Raises:
            BlankError: There is none.
        """
        day = self.value(block, "date", index)
        if isinstance(day, bool) or not isinstance(day, int | float):
            cell = self.plan.cell(block, "date", index)
            raise BlankError("there is no date", "type one", f"{cell.sheet}!{cell.address}")
        return from_serial(day).date()


def bought(reader: Accounts) -> Iterator[Transaction]:
    """Give an entry for each invoice, and one for each line of a receipt that is on none."""
    whole: set[str] = set()
    if "invoices" in reader.plan.places:
        for row in reader.rows("ties", "at"):
            whole.add(word(reader.value("ties", "at", row)))
            yield _invoice(reader, row)
    for index in reader.rows("receipts", "product"):
        if whole and word(reader.value("landed", "at", index)) in whole:
            continue
        yield from _line(reader, index)


def _invoice(reader: Accounts, row: int) -> Transaction:
    """Return the entry of one invoice; what is owed is its total."""
    at = word(reader.value("ties", "at", row))
    amounts = {reader.name("stock"): 0}
    for index in reader.rows("receipts", "product"):
        if word(reader.value("landed", "at", index)) == at and reader.cents("landed", "own", index):
            amounts[reader.name("stock")] += sum(
                reader.cents("landed", name, index) for name in ("own", "share")
            )
    for index in reader.rows("extras", "kind"):
        if word(reader.value("extra_ties", "at", index)) != at:
            continue
        kind = word(reader.value("extras", "kind", index))
        if kind == "credit":
            if not is_blank(reader.value("extras", "product", index)):
                amounts[reader.name("stock")] += reader.cents("extras", "booked", index)
            continue
        account = reader.name(_KINDS[kind])
        amounts[account] = amounts.get(account, 0) + reader.cents("extras", "cost", index)
    total = reader.cents("invoices", "total", row)
    owed = reader.name("suppliers")
    amounts[owed] = amounts.get(owed, 0) - total
    postings = tuple(Posting(name, cents) for name, cents in amounts.items() if cents)
    document, payee = (text(reader.value("invoices", n, row)) for n in ("document", "supplier"))
    said = "Invoice" if total >= 0 else "Credit note"
    return Transaction(reader.day("invoices", row), document, said, postings, payee)


def _line(reader: Accounts, index: int) -> Iterator[Transaction]:
    """Give the entry of one line of a receipt, if it is one."""
    kind = word(reader.value("receipts", "kind", index))
    cents = reader.cents(charged(reader.plan), "cost", index)
    if kind == "from shelf" or not cents:
        return
    words = [text(reader.value("receipts", name, index)) for name in ("product", "lot")]
    line = reader.value("receipts", "line", index)
    document = text(reader.value("receipts", "document", index))
    document += f", line {line:.0f}" if isinstance(line, int | float) else ""
    said = ", lot ".join(part for part in words if part) + f", {kind}" * (kind == "sent back")
    pair = (Posting(reader.name("stock"), cents), Posting(reader.name("suppliers"), -cents))
    payee = text(reader.value("receipts", "supplier", index))
    yield Transaction(reader.day("receipts", index), document, said, pair, payee)
