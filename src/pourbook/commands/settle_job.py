"""What ``pourbook settle`` does: prints a settled job and writes its journal.

Contract: as of :mod:`.commands`; no journal file is written unless all of them can be.
"""

from __future__ import annotations

import dataclasses
import datetime as dt
import sys
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

import click
from rich.markup import escape

from pourbook.archive.layer_record import JobReader
from pourbook.archive.still_open import stand_of
from pourbook.commands import terminal
from pourbook.commands.terminal import PATH, print_findings
from pourbook.errors import FileUnreadableError, InputError, UsageError
from pourbook.formats import files as files_on_disk
from pourbook.formats.held import held
from pourbook.formats.ledger import Transaction, to_beancount, to_csv, with_openings
from pourbook.job.settle import close, settled
from pourbook.records import dataclass
from pourbook.shop.stock_job import short
from pourbook.workbook.check.check import Checked, check_file
from pourbook.workbook.check.closed import ClosedRow, closings
from pourbook.workbook.check.findings import Finding, counted
from pourbook.workbook.layout.marks import IDENTITY_MARK

CSV, PLAIN_TEXT = {".csv"}, {".beancount", ".txt"}


def run_settle(
    path: Path,
    journals: Sequence[Path],
    on: dt.date | None,
    *,
    force: bool,
    as_json: bool,
    closing: _How | None = None,
    accounts: Path | None = None,
) -> int:
    """Print a settled job in tables, close it if told to, and write its journal."""
    _refuse(path, journals, force=force)
    if accounts and not any(target.suffix.lower() in PLAIN_TEXT for target in journals):
        mend = "add --journal JOB.beancount"
        raise UsageError("accounts are opened for a plain-text journal alone", mend, "--accounts")
    with terminal.progress("settle") as step:
        checked = check_file(path, step=step, kinds=("job",))
    stopping = settled.obstacles(checked)
    if stopping:
        _print_refused(path, stopping, as_json=as_json)
        return 1
    done = None
    if closing:
        if not closing.as_it_is:
            _refuse_lacking(checked, path)
        with terminal.progress("close") as step:
            done = close.close(path, by=closing.by, on=on, why=closing.why, step=step)
        checked = check_file(path, kinds=("job",))
    if on and closings(checked.plan, checked.book) and not closing:
        mend = "leave --on out, or book what came after on that day: --close"
        raise UsageError("the job is closed: its entries have their own days", mend, "--on")
    contents = _contents(checked, journals, on, opening=accounts is None)
    with held(*([accounts] if accounts else [])):
        more = {accounts: _accounts(checked, accounts, on)} if accounts else {}
        for target, content in (contents | more).items():
            files_on_disk.replace_file(target, _writer(content), force=force or target == accounts)
    contents |= more
    found = settled.tables(checked)
    before = closings(checked.plan, checked.book)
    if as_json:
        status = "findings" if checked.findings else "ok"
        listed = [f.as_json() for f in checked.findings]
        shown = [dataclasses.asdict(table) for table in found]
        names = [str(target) for target in contents]
        told = [close.describe(one) for one in before]
        terminal.print_json(
            {"status": status, "findings": listed, "files": names, "settle": shown, "closed": told}
        )
        return 0
    screen = terminal.console()
    for one in found:
        if one.rows:
            screen.print()
            screen.print(terminal.table(one.title, one.headings, one.rows, one.sides))
    screen.print()
    _say_closed(path, before, done)
    for target in contents:
        screen.print(escape(f"Written: {target}"), soft_wrap=True)
    if contents:
        screen.print(settled.SAID)
    if checked.findings:
        words = f"CHECK: {counted(checked.findings)}; see: pourbook check {path}"
        screen.print(escape(words), soft_wrap=True)
    return 0


@dataclass(frozen=True)
class _How:
    """How a settlement is to be closed: by whom, why, and whether something may be missing."""

    by: str
    why: str
    as_it_is: bool


def _refuse_lacking(checked: Checked, path: Path) -> None:
    """Refuse to close a job that lacks something it could still be asked for.

    Raises:
        InputError: Names the first of it.
    """
    lacking = [one for one in stand_of(JobReader(checked)).missing if one.needed]
    if lacking:
        first, more = lacking[0], len(lacking) - 1
        also = f" (and {more} more: pourbook open {path.parent})" if more else ""
        mend = f"type it, or close the job all the same: --as-it-is{also}"
        raise InputError(first.what, mend, f"{first.sheet}!{first.cell}")


def _say_closed(path: Path, before: Sequence[ClosedRow], done: close.ClosingDone | None) -> None:
    """Say what was closed, and what is booked with it."""
    screen = terminal.console()
    for one in before:
        screen.print(escape(f"{one.number}: {close.describe(one)}"), soft_wrap=True)
    if done and not done.changed:
        screen.print("Nothing has changed since then. Nothing written.")
    elif done:
        count = len(done.lines)
        screen.print(escape(f"Written: {path}; {count} entries booked with it"), soft_wrap=True)


def _print_refused(path: Path, findings: Sequence[Finding], *, as_json: bool) -> None:
    """Say why the job is not settled: figures that rest on a finding are not booked."""
    if as_json:
        listed = [f.as_json() for f in findings]
        terminal.print_json({"status": "findings", "findings": listed, "files": []})
        return
    print_findings(findings)
    words = f"Not settled: fix these first; pourbook show {path} shows the figures"
    terminal.console().print(escape(words), soft_wrap=True)


def _refuse(path: Path, journals: Sequence[Path], *, force: bool) -> None:
    """Refuse targets that cannot be written before anything is worked out."""
    for target in journals:
        if target.suffix.lower() not in CSV | PLAIN_TEXT:
            mend = f"name it {target.stem}.csv, or {target.stem}.beancount for plain-text entries"
            raise UsageError("a journal ends in .csv, .beancount or .txt", mend, str(target))
        if target.resolve() == path.resolve():
            raise UsageError("the journal would replace the job", "give another name", str(target))
        files_on_disk.refuse_unless_free(target, force=force)
    if len({target.resolve() for target in journals}) < len(journals):
        raise UsageError("a journal file is named twice", "name each file once", "--journal")


def _lines(checked: Checked, on: dt.date | None) -> list[Transaction]:
    """Return what is booked: of a job that was closed, what was closed."""
    before = closings(checked.plan, checked.book)
    return close.booked(before) if before else settled.transactions(checked, on)


def _accounts(checked: Checked, target: Path, on: dt.date | None) -> str:
    """Return a file of accounts with those of this job added."""
    before = ""
    if target.exists():
        try:
            before = target.read_text(encoding="utf-8")
        except (OSError, UnicodeDecodeError) as error:
            mend = "name a text file, or one that is not there yet"
            raise FileUnreadableError("it cannot be read as text", mend, str(target)) from error
    code = settled.currency(checked, plain_text=True)
    return with_openings(before, _lines(checked, on), code, "Accounts of all jobs, by Pourbook.")


def _contents(
    checked: Checked, journals: Sequence[Path], on: dt.date | None, *, opening: bool
) -> dict[Path, str]:
    """Return the text of every journal file."""
    if not journals:
        return {}
    plain = any(target.suffix.lower() in PLAIN_TEXT for target in journals)
    if plain:
        settled.refuse_accounts(checked)
    code = settled.currency(checked, plain_text=plain)
    lines = _lines(checked, on)
    mark = short(checked.book.marks.get(IDENTITY_MARK) or checked.book.path.stem)
    notes = (f"Journal of {checked.book.path.name}, by Pourbook.", settled.SAID)
    return {
        target: to_beancount(lines, code, notes, opening=opening)
        if target.suffix.lower() in PLAIN_TEXT
        else to_csv(lines, code, mark)
        for target in journals
    }


def _writer(content: str) -> Callable[[Path], None]:
    def write(file: Path) -> None:
        file.write_text(content, encoding="utf-8", newline="\n")

    return write


@click.command("settle")
@click.argument("job", type=PATH)
@click.option(
    "--journal",
    "journals",
    type=PATH,
    multiple=True,
    help="A file for the journal lines: .csv, or .beancount or .txt for plain-text double entry.",
)
@click.option(
    "--on",
    type=click.DateTime(["%Y-%m-%d"]),
    help="The day of the settlement; the last date on Used if left out.",
)
@click.option(
    "--accounts",
    type=PATH,
    help="A file that opens the accounts of all jobs: those of this one are added to it.",
)
@click.option("--close", "closing", is_flag=True, help="Close it, or book what came after.")
@click.option("--by", default="", help="Who closes it.")
@click.option("--why", default="", help="What a correction is for.")
@click.option("--as-it-is", is_flag=True, help="Close it though something could be asked for.")
@click.option("--force", is_flag=True, help="Replace journal files that are there already.")
@click.option("--json", "as_json", is_flag=True, help="Print the tables for a machine.")
def settle_command(
    job: Path,
    journals: tuple[Path, ...],
    on: Any,
    accounts: Path | None,
    by: str,
    why: str,
    *,
    closing: bool,
    as_it_is: bool,
    force: bool,
    as_json: bool,
) -> None:
    """Settle a job: used against quoted in tables, and its journal lines in a file.

    The journal holds an entry for each invoice, stock and its other lines against suppliers (or one
    for each line of a receipt that is on no invoice), and one for the settlement, the job as quoted
    and its differences against stock. Labour, travel and overhead are not in it. Say --journal
    twice for both kinds of file. Plain-text files of many jobs go together with one --accounts
    file that opens their accounts.

    With --close the figures stand on Closed and stay: a later receipt, credit or count is booked by
    --close again, as a correction with its own date, and the journal holds both.
    """
    told = _How(by.strip(), why.strip(), as_it_is) if closing else None
    if not closing and (by or why or as_it_is):
        raise UsageError(
            "it is not closed without --close", "add --close, or leave it out", "settle"
        )
    day = on.date() if on else None
    code = run_settle(
        job, journals, day, force=force, as_json=as_json, closing=told, accounts=accounts
    )
    sys.exit(code)


@click.command("reopen")
@click.argument("job", type=PATH)
@click.option("--by", required=True, help="Who reopens it.")
@click.option("--why", required=True, help="Why.")
@click.option("--on", type=click.DateTime(["%Y-%m-%d"]), help="The day; today if left out.")
def reopen_command(job: Path, by: str, why: str, on: Any) -> None:
    """Reopen a job whose settlement was closed; what was closed stays and who and why is noted.

    No figure changes by it. What is typed afterwards is booked when the job is closed again.
    """
    for name, said in (("--by", by), ("--why", why)):
        if not said.strip():
            raise UsageError("it is blank", "say who reopens it, and why", name)
    with terminal.progress("reopen"):
        day = on.date() if on else dt.date.today()
        done = close.reopen(job, by=by.strip(), why=why.strip(), on=day)
    words = f"Reopened {done.on} by {by.strip()}: {why.strip()}. Written: {job}"
    terminal.console().print(escape(words), soft_wrap=True)
