"""What ``pourbook month`` does: rolls a folder of jobs up into one workbook.

Contract: as of :mod:`.commands`. A file that is missing in the totals is a finding; the
workbook is written all the same and says so.
"""

from __future__ import annotations

import datetime as dt
import sys
from pathlib import Path

import click
from rich.markup import escape

from pourbook.archive import folder as archive
from pourbook.archive import month
from pourbook.cells import Address, Value
from pourbook.commands import terminal
from pourbook.commands.terminal import DAY, PATH, SYSTEM_NAMES, print_findings
from pourbook.errors import UsageError
from pourbook.formats import files as files_on_disk
from pourbook.workbook.check.findings import Finding
from pourbook.workbook.layout.lay_out import lay_out
from pourbook.workbook.tell.summary import shown

AGAIN = "fix it, then make the roll-up again"


def run_month(
    folder: Path,
    target: Path,
    *,
    first: dt.date | None,
    last: dt.date | None,
    system: str,
    currency: str,
    force: bool,
    as_json: bool,
    dask: str = "",
) -> int:
    """Write the roll-up of a folder and tell what is in it and what is not."""
    if target.suffix.lower() != ".xlsx":
        raise UsageError("a roll-up ends in .xlsx", f"name it {target.stem}.xlsx", str(target))
    files_on_disk.refuse_unless_free(target, force=force)
    with terminal.bar("reading jobs") as step:
        found = archive.look(folder, step, dask=dask)
    now = dt.datetime.now()
    roll = month.roll_up(
        found,
        str(folder),
        system=system,
        currency=currency,
        first=first,
        last=last,
        made=now.date(),
    )
    with terminal.progress("month") as said:
        values = month.write(roll, target, force=force, made=now, step=said)
    findings = [_finding(one) for one in roll.files if one.is_fault]
    totals = _totals(roll, values)
    if as_json:
        files = [{"file": one.found.file, "taken": one.taken, "why": one.why} for one in roll.files]
        terminal.print_json(
            {
                "status": "findings" if findings else "ok",
                "findings": [f.as_json() for f in findings],
                "files": files,
                "totals": totals,
            }
        )
        return int(bool(findings))
    screen = terminal.console()
    rows = [(label, amount) for label, amount in totals.items()]
    screen.print(terminal.table("Settled jobs in all", ("", "Amount"), rows, "lr"))
    screen.print()
    for one in roll.files:
        if not one.is_fault and (one.why or one.taken != month.IN):
            why = f": {one.why}" if one.why else ""
            screen.print(escape(f"{one.found.file}: {one.taken}{why}"), soft_wrap=True)
    print_findings(findings)
    screen.print(escape(f"Written: {target}"), soft_wrap=True)
    return int(bool(findings))


def _finding(one: month.Taken) -> Finding:
    kind = "archive.unsettled" if one.taken == month.NOT_SETTLED else "archive.left"
    return Finding(kind, one.found.file, "", "", f"{one.taken}: {one.why}", AGAIN)


def _totals(roll: month.RollUp, values: dict[Address, Value]) -> dict[str, str]:
    """Return the sums as the workbook shows them, by their headings with unit."""
    layout = lay_out(month.BOOK, roll.system, roll.pieces)
    found = {}
    for item in layout.block("sums").columns:
        cell = layout.cell("sums", item.id)
        unit = item.unit.replace("@money", roll.currency)
        label = item.header if unit in {"jobs", "%"} else f"{item.header}, {unit}"
        found[label] = shown(item, values[cell.sheet, cell.address])
    return found


@click.command("month")
@click.argument("folder", type=PATH)
@click.argument("target", type=PATH, metavar="OUT.XLSX")
@click.option("--from", "first", type=DAY, help="First day: of a job its last date on Used.")
@click.option("--to", "last", type=DAY, help="Last day.")
@click.option(
    "--units", type=click.Choice(SYSTEM_NAMES), help="Those of the first job if left out."
)
@click.option("--currency", default="", help="That of most jobs if left out; others stay out.")
@click.option("--force", is_flag=True, help="Replace the file if it is there already.")
@click.option("--json", "as_json", is_flag=True, help="Print the totals for a machine.")
@terminal.DASK
def month_command(
    folder: Path,
    target: Path,
    first: dt.datetime | None,
    last: dt.datetime | None,
    units: str | None,
    currency: str,
    *,
    force: bool,
    as_json: bool,
    dask: str,
) -> None:
    """Roll the jobs of a folder up into one workbook: money, products, lots, and every file.

    The folders below it count too. Each job is worked out anew; none is changed. Exit codes: 0 all
    is in it, 1 a job is not settled or was left out (the sheet Files says why), 2 wrong use.
    """
    code = run_month(
        folder,
        target,
        first=first.date() if first else None,
        last=last.date() if last else None,
        system=units or "",
        currency=currency,
        force=force,
        as_json=as_json,
        dask=dask,
    )
    sys.exit(code)
