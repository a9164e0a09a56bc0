"""``pourbook show``, ``explain`` and ``export``: a job in tables, one number, and its calendar.

Contract: as of :mod:`.demo`.
"""

from __future__ import annotations

import dataclasses
import datetime as dt
import sys
from collections.abc import Callable, Sequence
from pathlib import Path

import click
from rich.markup import escape

from pourbook.commands import terminal
from pourbook.commands.terminal import PATH
from pourbook.errors import UsageError
from pourbook.formats import files as files_on_disk
from pourbook.job.export import board_text, calendar_text
from pourbook.workbook.check.check import Checked, check_file
from pourbook.workbook.check.findings import counted
from pourbook.workbook.check.structure import refuse_other_layout
from pourbook.workbook.read.read import KINDS
from pourbook.workbook.tell import summary
from pourbook.workbook.tell.explain import explain


def _checked(
    path: Path, step: Callable[[str], None] = lambda _: None, kinds: Sequence[str] = tuple(KINDS)
) -> Checked:
    """Check a workbook whose cells are going to be read."""
    checked = check_file(path, step=step, kinds=tuple(kinds))
    refuse_other_layout(checked.plan, checked.book)
    return checked


def run_show(path: Path, *, as_json: bool, whole: bool) -> int:
    """Show where a job stands, or all of it in tables."""
    with terminal.progress("show") as step:
        checked = _checked(path, step)
    if as_json:
        terminal.print_json([dataclasses.asdict(t) for t in summary.tables(checked)])
    else:
        print_tables(summary.tables(checked) if whole else summary.brief(checked))
        if checked.findings:
            count = counted(checked.findings)
            words = escape(f"\nCHECK: {count}; see: pourbook check {path}")
            terminal.console().print(words, soft_wrap=True)
    return 0


def run_explain(path: Path, cell: str, *, as_json: bool) -> int:
    """Say how a number came about."""
    checked = _checked(path)
    lines = explain(checked.plan, checked.book, checked.values, cell)
    if as_json:
        terminal.print_json([dataclasses.asdict(line) for line in lines])
        return 0
    screen = terminal.console()
    for line in lines:
        lead = "  " * line.depth
        how = f"   ({line.how})" if line.how else ""
        screen.print(escape(f"{lead}{line.what} = {line.value}{how}"), soft_wrap=True)
    return 0


def run_export(path: Path, target: Path, *, force: bool) -> int:
    """Write the calendar of a job, or of a whole board, as a calendar file."""
    if target.suffix.lower() != ".ics":
        raise UsageError("a calendar file ends in .ics", f"name it {target.stem}.ics", str(target))
    files_on_disk.refuse_unless_free(target, force=force)
    with terminal.progress("export") as step:
        checked = _checked(path, step, ("job", "board"))
        stamp = dt.datetime.now(dt.UTC).replace(tzinfo=None, microsecond=0)
        written = board_text if checked.plan.book.book == "board" else calendar_text
        content = written(checked, stamp).encode()
        files_on_disk.replace_file(target, lambda file: _write(file, content), force=force)
    screen = terminal.console()
    screen.print(f"Written: {escape(str(target))}", soft_wrap=True)
    if checked.findings:
        count = counted(checked.findings)
        screen.print(escape(f"CHECK: {count}; see: pourbook check {path}"), soft_wrap=True)
    return 0


def _write(path: Path, content: bytes) -> None:
    path.write_bytes(content)


def print_tables(tables: Sequence[summary.Shown]) -> None:
    """Print the tables of a job that have rows."""
    screen = terminal.console()
    for found in tables:
        if found.rows:
            screen.print()
            screen.print(terminal.table(found.title, found.headings, found.rows, found.sides))


@click.command("show")
@click.argument("job", type=PATH)
@click.option("--all", "whole", is_flag=True, help="Show every table.")
@click.option("--json", "as_json", is_flag=True, help="Print every table for a machine.")
def show_command(job: Path, whole: bool, as_json: bool) -> None:
    """Show where a job stands on one screen: what is next, area, price, batches, dates.

    With --all in tables: pieces, layers, parts, prices, survey and calendar.
    """
    sys.exit(run_show(job, as_json=as_json, whole=whole))


@click.command("explain")
@click.argument("job", type=PATH)
@click.argument("cell")
@click.option("--json", "as_json", is_flag=True, help="Print the lines for a machine.")
def explain_command(job: Path, cell: str, as_json: bool) -> None:
    """Say how a number came about: pourbook explain JOB.xlsx 'Price!B30'."""
    sys.exit(run_explain(job, cell, as_json=as_json))


@click.command("export")
@click.argument("job", type=PATH)
@click.option("--ics", "target", type=PATH, required=True, help="The calendar file to write.")
@click.option("--force", is_flag=True, help="Replace the file if it is there already.")
def export_command(job: Path, target: Path, *, force: bool) -> None:
    """Write the calendar of a job for calendar programs: pourbook export JOB.xlsx --ics JOB.ics.

    Of a board (pourbook board) it is every date on site of every job.
    """
    sys.exit(run_export(job, target, force=force))
