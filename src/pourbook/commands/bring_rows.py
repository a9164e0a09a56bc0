"""``pourbook log`` and ``receipts``: the rows of a CSV file into a job.

Contract: as of :mod:`.demo`.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

import click
from rich.markup import escape

from pourbook.commands import terminal
from pourbook.commands.terminal import PATH
from pourbook.formats import files as files_on_disk
from pourbook.formats.held import held
from pourbook.job import imports
from pourbook.job.fill import fill
from pourbook.job.import_headings import LISTS, Asked
from pourbook.workbook.read.read import read_book


def run_import(path: Path, block: str, source: Path, asked: Asked, *, dry: bool) -> int:
    """Take the rows of a CSV file into the log or the receipts of a job."""
    if not dry:
        files_on_disk.refuse_unless_free(path, force=True)
    with held(*([] if dry else [path])):
        book = read_book(path)
        found = imports.plan_import(source, book, book.plan(), block, asked)
        if found.taken and not dry:
            with terminal.progress("import"):
                fill(path, path, found.entries, force=True)
    taken, skipped = len(found.taken), len(found.skipped)
    verb = "would be taken" if dry else "taken"
    into = LISTS[block].words
    words = f"{taken} row{'s' * (taken != 1)} {verb} into {into} of {path}"
    words += f", from {found.first} on" if found.taken else ""
    words += f"; {skipped} there already, skipped" if skipped else ""
    words += f"; {found.read_as} (else say --decimal)" if found.read_as else ""
    terminal.console().print(escape(words), soft_wrap=True)
    return 0


def _import_options(command: Callable[..., None]) -> Callable[..., None]:
    """Give a command the arguments and options of an import."""
    choice = click.Choice
    for give in (
        click.option("--dry-run", "dry", is_flag=True, help="Say what would be done, do nothing."),
        click.option("--encoding", default="", help="Encoding of the file, if it is not UTF-8."),
        click.option("--dates", type=choice(("dmy", "mdy")), help="Order of dates, if not ISO."),
        click.option("--decimal", type=choice((",", ".")), help="Decimal sign, where unclear."),
        click.option("--ignore", multiple=True, help="A heading to leave out; may be repeated."),
        click.option("--map", "maps", multiple=True, help="'Their heading=Our heading'."),
        click.option("--from", "source", type=PATH, required=True, help="The CSV file."),
        click.argument("job", type=PATH),
    ):
        command = give(command)
    return command


def _import(block: str, job: Path, source: Path, dry: bool, asked: Mapping[str, Any]) -> None:
    given = Asked(**{name: value for name, value in asked.items() if value})
    sys.exit(run_import(job, block, source, given, dry=dry))


@click.command("log")
@_import_options
def log_command(job: Path, source: Path, dry: bool, **asked: Any) -> None:
    """Take batches as they were mixed from a CSV file: pourbook log JOB.xlsx --from BATCHES.csv.

    Its first line holds the headings of the log on Used, in any order: Layer, Mixing began, Lot A
    and Part A weighed are needed. A unit may stand in a heading, Part A (kg), or in a cell, 1.2 kg.
    Rows with the same lots that were mixed at the same time are the same.
    """
    _import("log", job, source, dry, asked)


@click.command("receipts")
@_import_options
def receipts_command(job: Path, source: Path, dry: bool, **asked: Any) -> None:
    """Take receipts from a CSV file: pourbook receipts JOB.xlsx --from INVOICE.csv.

    Its first line holds the headings of Receipts on Used, in any order: Date, Invoice or slip,
    Kind, Product, Holds, Packs, Contents of one and Price of one are needed. Rows with the same
    document and line are the same.
    """
    _import("receipts", job, source, dry, asked)
