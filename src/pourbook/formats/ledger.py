"""Journal lines as text: CSV for spreadsheets and accounting, and plain-text double entry.

Contract: amounts are whole cents, above 0 debit and below 0 credit; every transaction balances.
The plain text is the open beancount syntax, checked by its own loader in the tests. Nothing here
reads a workbook.
"""

from __future__ import annotations

import csv
import datetime as dt
import io
import re
from collections.abc import Sequence

from pourbook.errors import InputError
from pourbook.formats.csv_rows import inert
from pourbook.records import dataclass

HEADINGS = ("date", "document", "account", "debit", "credit", "currency", "text", "entry")
ROOTS = ("Assets", "Liabilities", "Equity", "Income", "Expenses")
_LONGEST_CURRENCY = 24
_OPEN = re.compile(r"^(\d{4}-\d\d-\d\d) +open +(\S+)(?: +([A-Z][A-Z0-9'._,-]*))? *(.*)$")
_CURRENCY = re.compile(r"^[A-Z]([A-Z0-9'._-]*[A-Z0-9])$")


@dataclass(frozen=True)
class Posting:
    """One side of a transaction: an account and whole cents, above 0 debit, below 0 credit."""

    account: str
    cents: int


@dataclass(frozen=True)
class Transaction:
    """One entry in the books: its day, the slip it rests on, what it is, and its postings."""

    day: dt.date
    document: str
    text: str
    postings: tuple[Posting, ...]
    payee: str = ""

    @property
    def open(self) -> int:
        """Return debit less credit in cents: 0, or the transaction must not be booked."""
        return sum(posting.cents for posting in self.postings)


def account_fault(name: str) -> str:
    """Return what is wrong with an account's name in plain-text double entry, or nothing.

    Levels are parted by colons, the first is one of :data:`ROOTS`, and each begins with a capital
    letter (a later one may begin with a digit) and holds letters, digits and hyphens alone.

    Example:
        >>> account_fault("Assets:Stock:Coatings"), account_fault("Assets:stock")
        ('', "its level 'stock' must begin with a capital letter and hold letters and digits only")
    """
    levels = name.split(":")
    if levels[0] not in ROOTS:
        return f"its first level must be one of {', '.join(ROOTS)}"
    if len(levels) == 1:
        return "it needs a second level after a colon"
    for level in levels[1:]:
        begins = level[:1].isupper() or level[:1].isdecimal()
        if not begins or not all(c.isalpha() or c.isdecimal() or c == "-" for c in level):
            rule = "must begin with a capital letter and hold letters and digits only"
            return f"its level '{level}' {rule}"
    return ""


def is_currency(code: str) -> bool:
    """Return whether a code can stand in plain-text double entry: such as USD, in capitals."""
    return len(code) <= _LONGEST_CURRENCY and bool(_CURRENCY.match(code))


def amount(cents: int) -> str:
    """Return whole cents as money with a point.

    Example:
        >>> amount(123456), amount(-5)
        ('1234.56', '-0.05')
    """
    sign = "-" if cents < 0 else ""
    return f"{sign}{abs(cents) // 100}.{abs(cents) % 100:02d}"


def to_csv(transactions: Sequence[Transaction], currency: str, mark: str = "") -> str:
    """Return a line a posting, under headings; dates as year-month-day, a point for decimals.

    The lines of one entry have its number in the last column, after what tells this journal from
    others, so that files put together still part into entries and none is taken twice.

    Args:
        transactions: What to book.
        currency: The code of all amounts.
        mark: What tells this journal from others, such as the job's own mark.

    Raises:
        InputError: A transaction does not balance.

    Example:
        >>> lines = (Posting("Stock", 1250), Posting("Owed", -1250))
        >>> one = Transaction(dt.date(2027, 1, 5), "R1", "Binder", lines)
        >>> print(to_csv([one], "USD").splitlines()[1])
        2027-01-05,R1,Stock,12.50,,USD,Binder,1
    """
    _balanced(transactions)
    target = io.StringIO()
    writer = csv.writer(target, lineterminator="\n")
    writer.writerow(HEADINGS)
    for number, one in enumerate(transactions, 1):
        entry = inert(f"{mark}-{number}" if mark else f"{number}")
        for posting in one.postings:
            debit = amount(posting.cents) if posting.cents > 0 else ""
            credit = amount(-posting.cents) if posting.cents < 0 else ""
            text = f"{one.payee}: {one.text}" if one.payee else one.text
            # A line break inside a text parts the line in programs that read line by line.
            words = [inert(_plain(w)) for w in (one.document, posting.account, currency, text)]
            sides = [debit, credit]
            writer.writerow([one.day.isoformat(), *words[:2], *sides, *words[2:], entry])
    return target.getvalue()


def to_beancount(
    transactions: Sequence[Transaction],
    currency: str,
    notes: Sequence[str],
    *,
    opening: bool = True,
) -> str:
    """Return plain-text double entry: notes, the accounts opened, one entry a transaction.

    Args:
        transactions: What to book; account names must pass :func:`account_fault`.
        currency: The code of all amounts; it must pass :func:`is_currency`.
        notes: Lines of comment for the top.
        opening: Whether the accounts are opened here, and not in a file of their own.

    Raises:
        InputError: A transaction does not balance.

    Example:
        >>> lines = (Posting("Assets:Stock", 1250), Posting("Liabilities:Owed", -1250))
        >>> one = Transaction(dt.date(2027, 1, 5), "R1", "Binder", lines, "North")
        >>> print(to_beancount([one], "USD", ["Coatings only"]))
        ; Coatings only
        <BLANKLINE>
        2027-01-05 open Assets:Stock USD
        2027-01-05 open Liabilities:Owed USD
        <BLANKLINE>
        2027-01-05 * "North" "Binder"
          document-no: "R1"
          Assets:Stock  12.50 USD
          Liabilities:Owed  -12.50 USD
        <BLANKLINE>
    """
    _balanced(transactions)
    lines = [f"; {_plain(note)}" for note in notes]
    if transactions and opening:
        lines += ["", *_openings(transactions, currency)]
    for one in transactions:
        payee = f"{_quoted(one.payee)} " if one.payee else ""
        lines += ["", f"{one.day} * {payee}{_quoted(one.text)}"]
        if one.document:
            lines.append(f"  document-no: {_quoted(one.document)}")
        lines += [f"  {p.account}  {amount(p.cents)} {currency}" for p in one.postings]
    return "\n".join(lines) + "\n"


def with_openings(
    before: str, transactions: Sequence[Transaction], currency: str, note: str
) -> str:
    r"""Return a file of accounts that opens those of some more transactions too.

    Lines that open no account stay as they are. An account is opened on the first day any file uses
    it, in every currency that does.

    Args:
        before: The file as it is; nothing for a new one.
        transactions: What is booked in the file that goes with it.
        currency: The code of their amounts.
        note: The line of comment a new file begins with.

    Example:
        >>> lines = (Posting("Assets:Stock", 1250), Posting("Liabilities:Owed", -1250))
        >>> one = Transaction(dt.date(2027, 1, 5), "R1", "Binder", lines)
        >>> before = "2027-02-01 open Assets:Stock CAD ; ours\n"
        >>> print(with_openings(before, [one], "USD", "Accounts"))
        2027-01-05 open Assets:Stock CAD,USD ; ours
        2027-01-05 open Liabilities:Owed USD
        <BLANKLINE>
    """
    lines = before.splitlines() or [f"; {_plain(note)}", ""]
    at = {found[2]: n for n, line in enumerate(lines) if (found := _OPEN.match(line))}
    for new in _openings(transactions, currency):
        fresh = _OPEN.match(new)
        assert fresh is not None
        if fresh[2] not in at:
            at[fresh[2]] = len(lines)
            lines.append(new)
            continue
        old = _OPEN.match(lines[at[fresh[2]]])
        assert old is not None
        codes = [code for code in (old[3] or "").split(",") if code]
        if codes:  # an account without any holds every currency
            codes = list(dict.fromkeys([*codes, currency]))
        head = f"{min(old[1], fresh[1])} open {old[2]}"
        lines[at[fresh[2]]] = " ".join(part for part in (head, ",".join(codes), old[4]) if part)
    return "\n".join(lines) + "\n"


def _openings(transactions: Sequence[Transaction], currency: str) -> list[str]:
    """Return a line for each account, opened on the first day it is used."""
    if not transactions:
        return []
    first = min(one.day for one in transactions)
    names = dict.fromkeys(p.account for one in transactions for p in one.postings)
    return [f"{first} open {name} {currency}" for name in names]


def _balanced(transactions: Sequence[Transaction]) -> None:
    for one in transactions:
        if one.open:
            what = f"debit and credit of '{one.text}' differ by {amount(one.open)}"
            raise InputError(what, "run pourbook check: it names the cell that was typed over")


def _plain(text: str) -> str:
    return " ".join("".join(c if c.isprintable() else " " for c in text).split())


def _quoted(text: str) -> str:
    escaped = _plain(text).replace("\\", "\\\\").replace('"', '\\"')
    return f'"{escaped}"'
