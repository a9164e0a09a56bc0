"""What ``pourbook board`` does: puts the jobs of a folder on one calendar, with a shop's stock.

Contract: as of :mod:`.commands`. A file that is missing on the board is a finding, and so is what
the board's own checks say; the workbook is written all the same.
"""

from __future__ import annotations

import datetime as dt
import sys
from pathlib import Path

import click
from rich.markup import escape

from pourbook.archive import board
from pourbook.archive import folder as archive
from pourbook.cells import CHECK
from pourbook.commands import terminal
from pourbook.commands.terminal import DAY, PATH, SYSTEM_NAMES, print_findings
from pourbook.errors import UsageError
from pourbook.formats import files as files_on_disk
from pourbook.job import make
from pourbook.workbook.check.check import check_file
from pourbook.workbook.check.findings import Finding
from pourbook.workbook.check.reader import Reader
from pourbook.workbook.tell.summary import tables

AGAIN = "fix it, then make the board again"
_DATES = "Date by date"
_SHOWN = ("In all", "Job by job", _DATES, "What to buy")
"""What is shown on the screen; of the dates only those that clash."""


def run_board(
    folder: Path,
    target: Path,
    *,
    shop: Path | None,
    first: dt.date | None,
    system: str,
    force: bool,
    as_json: bool,
    dask: str = "",
) -> int:
    """Write the board of a folder and tell what it says."""
    if target.suffix.lower() != ".xlsx":
        raise UsageError("a board ends in .xlsx", f"name it {target.stem}.xlsx", str(target))
    files_on_disk.refuse_unless_free(target, force=force)
    stock = board.stock_of(Reader(check_file(shop, kinds=("shop",)))) if shop else []
    with terminal.bar("reading jobs") as step:
        found = archive.look(folder, step, dask=dask)
    now = dt.datetime.now()
    made = board.board_of(
        found,
        str(folder),
        stock,
        shop=shop.name if shop else "",
        system=system,
        first=first,
        made=now.date(),
    )
    with terminal.progress("board") as said:
        make.make(
            target,
            made.system,
            made.entries,
            book=board.BOOK,
            pieces=made.pieces,
            force=force,
            made=now,
            step=said,
        )
    checked = check_file(target)
    left = [one for one in made.files if one.taken == archive.LEFT_OUT]
    findings = [
        Finding("archive.left", one.found.file, "", "", f"{one.taken}: {one.why}", AGAIN)
        for one in left
    ]
    said_there = [f for f in checked.findings if not (left and f.sheet == "Files")]
    if as_json:
        listed = [f.as_json() for f in (*findings, *said_there)]
        files = [{"file": o.found.file, "taken": o.taken, "why": o.why} for o in made.files]
        terminal.print_json(
            {"status": "findings" if listed else "ok", "findings": listed, "files": files}
        )
        return int(bool(listed))
    screen = terminal.console()
    for one in tables(checked):
        rows = one.rows
        if one.title == _DATES:
            rows = tuple(row for row in rows if row[-1].startswith(CHECK))
        if one.title in _SHOWN and rows:
            screen.print(terminal.table(one.title, one.headings, rows, one.sides))
            screen.print()
    for item in made.files:
        if item.taken not in {board.ON_BOARD, archive.LEFT_OUT}:
            why = f": {item.why}" if item.why else ""
            screen.print(escape(f"{item.found.file}: {item.taken}{why}"), soft_wrap=True)
    print_findings([*findings, *said_there])
    screen.print(escape(f"Written: {target}"), soft_wrap=True)
    return int(bool(findings or said_there))


@click.command("board")
@click.argument("folder", type=PATH)
@click.argument("target", type=PATH, metavar="OUT.XLSX")
@click.option("--shop", type=PATH, help="The shop's workbook, for its stock and what is on order.")
@click.option("--from", "first", type=DAY, help="First day; else that of the next date on site.")
@click.option(
    "--units", type=click.Choice(SYSTEM_NAMES), help="Those of the first job if left out."
)
@click.option("--force", is_flag=True, help="Replace the file if it is there already.")
@click.option("--json", "as_json", is_flag=True, help="Print what it says for a machine.")
@terminal.DASK
def board_command(
    folder: Path,
    target: Path,
    shop: Path | None,
    first: dt.datetime | None,
    units: str | None,
    *,
    force: bool,
    as_json: bool,
    dask: str,
) -> None:
    """Put every quoted, accepted and running job of a folder on one calendar, by day and crew.

    It names crews that are to be in two places at once, jobs that are back in use after the day
    that was promised, and with --shop whose the stock is, job by job, and what is to be bought.
    Exit codes: 0 nothing stands against it, 1 a clash, a promise, something to buy this week or a
    file that was left out, 2 wrong use. A calendar of it: pourbook export OUT.xlsx --ics OUT.ics.
    """
    code = run_board(
        folder,
        target,
        shop=shop,
        first=first.date() if first else None,
        system=units or "",
        force=force,
        as_json=as_json,
        dask=dask,
    )
    sys.exit(code)
