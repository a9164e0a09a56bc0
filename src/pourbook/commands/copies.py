"""``pourbook recompute``, ``books`` and ``papers``: fresh values, a copy, pages to hand over.

Contract: as of :mod:`.demo`.
"""

from __future__ import annotations

import datetime as dt
import sys
from collections.abc import Sequence
from pathlib import Path

import click
from rich.markup import escape

from pourbook.commands import terminal
from pourbook.commands.terminal import PATH
from pourbook.errors import UsageError
from pourbook.job import books as bookkeeping
from pourbook.job import take
from pourbook.papers import write
from pourbook.workbook.check.check import check_file
from pourbook.workbook.check.structure import refuse_unlike


def run_recompute(path: Path, target: Path | None, *, force: bool) -> int:
    """Store fresh values in a job, or in a copy of it."""
    with terminal.progress("recompute"):
        count = bookkeeping.store(path, target or path, force=force or target is None)
    words = f"{count} values stored in {target or path}"
    terminal.console().print(escape(words), soft_wrap=True)
    return 0


def run_books(path: Path, target: Path, *, force: bool) -> int:
    """Write the bookkeeper's copy of a job."""
    if target.suffix.lower() != ".xlsx":
        mend = f"name it {target.stem}.xlsx"
        raise UsageError("a books copy ends in .xlsx", mend, str(target))
    with terminal.progress("books copy"):
        made = dt.datetime.now()
        bookkeeping.books_copy(path, target, force=force, made=made)
    terminal.console().print(escape(f"Written: {target}"), soft_wrap=True)
    return 0


@click.command("recompute")
@click.argument("job", type=PATH)
@click.option("--to", "target", type=PATH, help="Write another file instead of the job itself.")
@click.option("--force", is_flag=True, help="With --to: replace that file if it is there already.")
def recompute_command(job: Path, target: Path | None, force: bool) -> None:
    """Work a job out anew and store the values in it; what you typed stays as it is.

    For a workbook filled in where Pourbook's functions are not live: until then it shows the
    numbers of the last time. Without --to the job itself gets the new values.
    """
    sys.exit(run_recompute(job, target, force=force))


@click.command("books")
@click.argument("job", type=PATH)
@click.argument("target", type=PATH)
@click.option("--force", is_flag=True, help="Replace the copy if it is there already.")
def books_command(job: Path, target: Path, force: bool) -> None:
    """Write the bookkeeper's copy of a job: it needs nothing but a spreadsheet program.

    What Pourbook's functions gave are values in it; every other formula is live. Print from it
    wherever the functions are not live.
    """
    sys.exit(run_books(job, target, force=force))


def run_papers(path: Path, folder: Path, readers: tuple[str, ...], *, force: bool) -> int:
    """Write the papers of a job."""
    with terminal.progress("papers") as step:
        checked = check_file(path, step=step, kinds=("job",))
        refuse_unlike(checked.plan, checked.book)
        step("writing the papers")
        done = write.write(checked, folder, readers or tuple(write.READERS), force=force)
    screen = terminal.console()
    for file in done.files:
        screen.print(escape(f"Written: {file}"), soft_wrap=True)
    if not done.office:
        screen.print("No PDF: LibreOffice is not installed here. Print the workbooks instead.")
    return 0


@click.command("papers")
@click.argument("job", type=PATH)
@click.argument("folder", type=PATH)
@click.option(
    "--for",
    "readers",
    type=click.Choice(tuple(write.READERS)),
    multiple=True,
    help="For whom; all of them if left out. May be said more than once.",
)
@click.option("--force", is_flag=True, help="Replace files that are there already.")
def papers_command(job: Path, folder: Path, readers: tuple[str, ...], force: bool) -> None:
    """Write what is handed over: a workbook for each reader, with only that reader's pages.

    For the client the quote as a letter, the work day by day and the care of the tops; for the crew
    the mix cards, the steps and a list to shop from; for the bookkeeper what was accepted and what
    was used. A PDF of each is written beside it where LibreOffice is installed.
    """
    sys.exit(run_papers(job, folder, readers, force=force))


def run_take(copy: Path, job: Path, by: str, *, dry_run: bool, as_json: bool) -> int:
    """List what a books copy has otherwise than its job, and take it."""
    with terminal.progress("take"):
        found = take.differences(copy, job)
    refused = [one for one in found if one.accepted or one.formula]
    if found and not dry_run and not by.strip():
        raise UsageError("nobody is named", "say who takes it: --by NAME", "--by")
    if not as_json:
        _print_differences(found, copy)
    if found and not dry_run:
        with terminal.progress("take"):
            take.take(copy, job, by=by.strip(), now=dt.datetime.now(), wanted=found)
    if as_json:
        terminal.print_json(
            {
                "status": "findings" if refused else "ok",
                "taken": [] if dry_run else [one.what for one in found],
                "differences": [
                    {
                        "what": one.what,
                        "sheet": one.sheet,
                        "cell": one.cell,
                        "old": one.old,
                        "new": one.new,
                        "refused": bool(one.accepted or one.formula),
                    }
                    for one in found
                ],
            }
        )
    elif not found:
        terminal.console().print(escape(f"{copy} and {job} hold the same entries."))
    elif dry_run:
        terminal.console().print("Nothing written.")
    else:
        words = f"{len(found)} entries taken into {job}; noted on Changes"
        terminal.console().print(escape(words), soft_wrap=True)
    return int(bool(refused))


def _print_differences(found: Sequence[take.Different], copy: Path) -> None:
    if not found:
        return
    rows = [
        (
            one.what,
            f"{one.sheet}!{one.cell}",
            take.shown(one.old) or "blank",
            one.formula or take.shown(one.new) or "blank",
            "an accepted quote rests on it" if one.accepted else "a formula" * bool(one.formula),
        )
        for one in found
    ]
    heads = ("Entry", "Cell", "In the job", "In the copy", "Refused")
    terminal.console().print(
        terminal.table(f"What {copy.name} has otherwise", heads, rows, "lllll")
    )


@click.command("take")
@click.argument("copy", type=PATH)
@click.argument("job", type=PATH)
@click.option("--by", default="", help="Who takes it; it is noted on Changes.")
@click.option("--dry-run", is_flag=True, help="Only list what differs.")
@click.option("--json", "as_json", is_flag=True, help="Print the list for a machine.")
def take_command(copy: Path, job: Path, by: str, *, dry_run: bool, as_json: bool) -> None:
    """Take what was typed in a books copy back into the job it was made from.

    Every entry that differs is listed, then all of them are taken or none: what an accepted quote
    rests on is refused, for that is a change order, and so is what the job would call wrong.
    """
    sys.exit(run_take(copy, job, by, dry_run=dry_run, as_json=as_json))
