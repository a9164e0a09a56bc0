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

from pourbook.commands import terminal
from pourbook.commands.terminal import PATH, print_findings
from pourbook.errors import UsageError
from pourbook.formats import files as files_on_disk
from pourbook.formats.ledger import to_beancount, to_csv
from pourbook.job import settled
from pourbook.workbook.check.check import Checked, check_file
from pourbook.workbook.check.findings import Finding, counted

CSV, PLAIN_TEXT = {".csv"}, {".beancount", ".txt"}


def run_settle(
    path: Path, journals: Sequence[Path], on: dt.date | None, *, force: bool, as_json: bool
) -> int:
    """Print a settled job in tables and write its journal."""
    _refuse(path, journals, force=force)
    with terminal.progress("settle") as step:
        checked = check_file(path, step=step, kinds=("job",))
    stopping = settled.obstacles(checked)
    if stopping:
        _print_refused(path, stopping, as_json=as_json)
        return 1
    contents = _contents(checked, journals, on)
    for target, content in contents.items():
        files_on_disk.replace_file(target, _writer(content), force=force)
    found = settled.tables(checked)
    if as_json:
        status = "findings" if checked.findings else "ok"
        listed = [f.as_json() for f in checked.findings]
        shown = [dataclasses.asdict(table) for table in found]
        names = [str(target) for target in contents]
        terminal.print_json({"status": status, "findings": listed, "files": names, "settle": shown})
        return 0
    screen = terminal.console()
    for one in found:
        if one.rows:
            screen.print()
            screen.print(terminal.table(one.title, one.headings, one.rows, one.sides))
    screen.print()
    for target in contents:
        screen.print(escape(f"Written: {target}"), soft_wrap=True)
    if contents:
        screen.print(settled.SAID)
    if checked.findings:
        words = f"CHECK: {counted(checked.findings)}; see: pourbook check {path}"
        screen.print(escape(words), soft_wrap=True)
    return 0


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


def _contents(checked: Checked, journals: Sequence[Path], on: dt.date | None) -> dict[Path, str]:
    """Return the text of every journal file."""
    if not journals:
        return {}
    plain = any(target.suffix.lower() in PLAIN_TEXT for target in journals)
    if plain:
        settled.refuse_accounts(checked)
    code = settled.currency(checked, plain_text=plain)
    lines = settled.transactions(checked, on)
    notes = (f"Journal of {checked.book.path.name}, by Pourbook.", settled.SAID)
    return {
        target: to_beancount(lines, code, notes)
        if target.suffix.lower() in PLAIN_TEXT
        else to_csv(lines, code)
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
@click.option("--force", is_flag=True, help="Replace journal files that are there already.")
@click.option("--json", "as_json", is_flag=True, help="Print the tables for a machine.")
def settle_command(
    job: Path, journals: tuple[Path, ...], on: Any, *, force: bool, as_json: bool
) -> None:
    """Settle a job: used against quoted in tables, and its journal lines in a file.

    Only coatings go into the journal: a transaction for each line of a receipt, stock against
    suppliers, and one for the settlement, the job as quoted and its differences against stock.
    Sundries, labour, travel, overhead and tax do not. Say --journal twice for both kinds of file.
    """
    sys.exit(run_settle(job, journals, on.date() if on else None, force=force, as_json=as_json))
