"""``pourbook new``: a new job, empty, with rooms, or with another job's entries.

Contract: as of :mod:`.demo`.
"""

from __future__ import annotations

import datetime as dt
import sys
from collections.abc import Sequence
from functools import partial
from pathlib import Path

import click
from rich.markup import escape

from pourbook.commands import terminal
from pourbook.commands.shop_book import from_shop
from pourbook.commands.terminal import DAY, PATH, SYSTEM_NAMES
from pourbook.errors import InputError, UsageError
from pourbook.formats import files as files_on_disk
from pourbook.job import carry, macros, make, rooms_csv, upgrade
from pourbook.shop import starter
from pourbook.workbook.read.read import MOST_PIECES

USUAL = (
    "  Products, finishes, sundries and steps of labour are usual figures, not yours: put in what "
    "the data sheets and your suppliers say. Prices are blank."
)
EXCEL_HINT = "Once on the PC with Excel: pourbook addin excel install. Then enable macros."


def run_new(
    target: Path,
    rooms: Path | None,
    system: str | None,
    pieces: int | None,
    encoding: str,
    *,
    force: bool,
    shop: Path | None = None,
    day: dt.date | None = None,
    empty: bool = False,
    call: int | None = None,
) -> int:
    """Make a job workbook: with usual figures, or from rooms, another job, or the shop's."""
    if target.suffix.lower() not in {".xlsx", macros.SUFFIX}:
        mend = f"name it {target.stem}.xlsx, or {target.stem}{macros.SUFFIX} for Excel"
        raise UsageError(f"a job workbook ends in .xlsx or {macros.SUFFIX}", mend, str(target))
    if day and not shop:
        raise UsageError("--on is the day whose prices hold", "name the shop too: --shop SHOP.xlsx")
    if call is not None and (rooms or not shop):
        mend = "name the shop too: --shop SHOP.xlsx" if not shop else "leave --from out"
        raise UsageError("--call makes a call of the shop a job", mend)
    if rooms is not None and rooms.suffix.lower() in {".xlsx", macros.SUFFIX}:
        if shop:
            mend = "leave one of them out"
            raise UsageError("a job begins from another job or from the shop", mend, str(rooms))
        return _carry(target, rooms, system, pieces, force=force)
    files_on_disk.refuse_unless_free(target, force=force)
    system, taken = (
        from_shop(shop, system or "", day, call) if shop else (system or make.DEFAULT_SYSTEM, None)
    )
    entries = rooms_csv.read_rooms(rooms, system, encoding) if rooms else {}
    pieces_of = {**(taken.entries if taken else {}), **entries}
    needed = 1 + max((index for block, _, index in pieces_of if block == "rooms"), default=-1)
    rows = pieces or max(make.DEFAULT_PIECES, needed)
    if needed > MOST_PIECES:
        mend = "split the list into several jobs"
        raise InputError(f"{needed} pieces are more than {MOST_PIECES}", mend, str(rooms))
    if needed > rows:
        mend = f"say --pieces {needed}, or leave it out"
        raise InputError(f"{needed} pieces do not fit into {rows} rows", mend, str(rooms))
    with terminal.progress("new job") as step:
        begun = taken.entries if taken else {}
        if not shop and not empty:
            begun = starter.entries(system, "job", dt.date.today())
        make.make(target, system, {**begun, **entries}, pieces=rows, force=force, step=step)
    if target.suffix.lower() == macros.SUFFIX:
        terminal.console().print(EXCEL_HINT, soft_wrap=True)
    filled = f" with {needed} row{'s' * (needed > 1)} of pieces" if needed else ""
    screen = terminal.console()
    screen.print(
        f"Written: {escape(str(target))}{filled}. Start on the sheet Start.", soft_wrap=True
    )
    if not shop and not empty:
        screen.print(USUAL, soft_wrap=True)
    for note in taken.notes if taken else ():
        screen.print(escape(f"  From the shop: {note}"), soft_wrap=True)
    return 0


def _carry(
    target: Path, source: Path, system: str | None, pieces: int | None, *, force: bool
) -> int:
    """Make a job with the entries of another one, of any version; that one stays as it is."""
    if target.exists() and source.exists() and target.samefile(source):
        raise UsageError("the new job would replace the old one", "name it anew", str(target))
    carried = carry.read_entries(source, pieces)
    if system and system != carried.system:
        mend = "leave --units out: its numbers mean nothing in other units"
        raise UsageError(f"{source} is a job in {carried.system} units", mend, "--units")
    if pieces is not None and pieces < carried.rows and carried.lost:
        mend = f"say --pieces {carried.rows}, or leave it out"
        raise InputError(f"not all entries fit into {pieces} rows of pieces", mend, str(source))
    rows = pieces or carried.rows
    with terminal.progress("new job") as step:
        entries = carried.entries
        make.make(
            target,
            carried.system,
            entries,
            pieces=rows,
            force=force,
            step=step,
            identity=carried.identity,
        )
    screen = terminal.console()
    screen.print(escape(f"Written: {target}, with {carried.filled} entries of {source}"))
    _print_left(
        ("This version has no place for these; they stay in the old job alone:", carried.lost),
        ("Formulas typed as entries; their values were taken:", carried.worked),
    )
    screen.print(
        escape(
            f"It is the same job as {source.name}, accepted and logged as that: go on with one of "
            f"them. Your own notes on Scratch stay there. Now: pourbook check {target.name}"
        ),
        soft_wrap=True,
    )
    return 0


def _print_left(*left: tuple[str, Sequence[str]]) -> None:
    """Print what was not carried as it stood, each list under its title."""
    for title, listed in left:
        if listed:
            over = len(listed) - terminal.MOST_SHOWN
            more = [f"... and {over} more"] * (over > 0)
            for line in (title, *listed[: terminal.MOST_SHOWN], *more):
                terminal.console().print(escape(line), soft_wrap=True)


@click.command("new")
@click.argument("job", type=PATH)
@click.option("--from", "rooms", type=PATH, help="A CSV file of rooms, or a job to start from.")
@click.option(
    "--units",
    type=click.Choice(SYSTEM_NAMES),
    help="Those of the shop, or of the job with --from, if left out; else us.",
)
@click.option("--shop", type=PATH, help="The shop's workbook to begin from.")
@click.option(
    "--on", "day", type=DAY, help="Day of the quote, whose prices hold; today if left out."
)
@click.option(
    "--pieces",
    type=click.IntRange(1, 5000),
    help="Rows on the Rooms sheet; 120, or as many as the CSV file needs.",
)
@click.option("--encoding", default="", help="Encoding of the CSV file, if it is not UTF-8.")
@click.option("--call", type=int, help="With --shop: the No. of a call on its sheet Calls.")
@click.option("--empty", is_flag=True, help="Begin bare, without usual products and finishes.")
@click.option("--force", is_flag=True, help="Replace the file if it is there already.")
def new_command(
    job: Path,
    rooms: Path | None,
    units: str | None,
    shop: Path | None,
    day: dt.datetime | None,
    pieces: int | None,
    encoding: str,
    call: int | None,
    empty: bool,
    force: bool,
) -> None:
    """Make a new job: from usual figures, the shop, rooms in a CSV file, or another job.

    Without --shop it begins with generic products, finishes, sundries and steps of labour, as
    common practice has them, to be replaced from the data sheets; prices are blank. --empty
    leaves them out.

    With --shop it begins with the shop's money, rates, crew, pace, products, finishes, sundries and
    steps of labour, the packs at the prices of the day of the quote, and the stock on hand that is
    not past its use-by day. A job in other units than the shop's gets the figures converted.
    --call 12 makes call 12 of its sheet Calls a job: client, site, finish, and the tops as said.

    Name it JOB.xlsm for Excel with live functions, JOB.xlsx for everything else.

    The CSV file's first line holds headings of the Rooms sheet, in any order: Room, Piece, Shape,
    Size A, Size B, Size C, Size D, How many, Cutouts, Edge run, Edge height, Edge profile,
    Backsplash run, Backsplash height, May split, Pour order. The first four are needed. Comma,
    semicolon and tab all separate. If a row cannot be measured its line is named and nothing is
    written.

    With --from OLD.xlsx the new job gets the entries of a job of any version, which stays as it is.
    """
    on = day.date() if day else None
    make_job = partial(run_new, job, rooms, units or "", pieces, encoding, force=force)
    sys.exit(make_job(shop=shop, day=on, empty=empty, call=call))


def run_upgrade(path: Path) -> int:
    """Carry a workbook over to the templates of this version; the original is kept beside it."""
    screen = terminal.console()
    with terminal.progress("upgrade") as step:
        done = upgrade.upgrade(path, step)
    if done is None:
        screen.print(escape(f"{path} is of this version already; nothing was changed"))
        return 0
    words = f"Written: {path}, with {done.filled} entries. As it was: {done.original.name}"
    screen.print(escape(words), soft_wrap=True)
    _print_left(
        ("This version has no place for these; they stay in the original alone:", done.lost),
        ("Formulas typed as entries; their values were taken:", done.worked),
    )
    screen.print(escape(f"Now: pourbook check {path.name}"), soft_wrap=True)
    return 0


@click.command("upgrade")
@click.argument("job", type=PATH, metavar="FILE")
def upgrade_command(job: Path) -> None:
    """Carry a job or shop of an earlier version over to the sheets of this one.

    It is not needed to go on with an older job: every command reads it as it is. The file gets the
    sheets of this version with the same entries, accepted quote and log; the original stays beside
    it as 'NAME (before upgrade)', and what has no place in the new sheets is listed.
    """
    sys.exit(run_upgrade(job))
