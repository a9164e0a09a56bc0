"""``pourbook recompute``, ``books`` and ``papers``: fresh values, a copy, pages to hand over.

Contract: as of :mod:`.demo`.
"""

from __future__ import annotations

import datetime as dt
import sys
from pathlib import Path

import click
from rich.markup import escape

from pourbook.commands import terminal
from pourbook.commands.terminal import PATH
from pourbook.errors import UsageError
from pourbook.job import books as bookkeeping
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
