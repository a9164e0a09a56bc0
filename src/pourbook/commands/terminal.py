"""What a person sees in the terminal: tables, findings and progress.

Contract: standard output carries the result, standard error the progress; colour is never the only
signal and is off under NO_COLOR or away from a terminal.
"""

from __future__ import annotations

import json
import sys
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

import click

from pourbook.workbook.check.findings import LOOKS, NOTES, Finding

if TYPE_CHECKING:
    from rich.console import Console
    from rich.table import Table

WIDE = 140
MOST_SHOWN = 30
SYSTEM_NAMES = ("us", "metric", "imperial")
PATH = click.Path(path_type=Path)
DASK = click.option(
    "--dask",
    default="",
    metavar="ADDRESS",
    help="Read on a Dask cluster whose workers see the same folder, such as tcp://10.0.0.5:8786.",
)
DAY = click.DateTime(["%Y-%m-%d"])


def console() -> Console:
    """Return a console for results; a pipe gets a fixed width, so that nothing is cut."""
    from rich.console import Console  # noqa: PLC0415 - a clean check prints without it

    width = None if sys.stdout.isatty() else WIDE
    return Console(width=width, highlight=False, soft_wrap=False)


def print_json(content: object) -> None:
    """Print one JSON document."""
    sys.stdout.write(json.dumps(content, ensure_ascii=False, indent=2) + "\n")


@contextmanager
def progress(title: str) -> Iterator[Callable[[str], None]]:
    """Show what is being done, on a terminal's standard error, and nowhere else."""
    if not sys.stderr.isatty():
        yield lambda _: None
        return
    from rich.console import Console  # noqa: PLC0415 - of a terminal alone

    screen = Console(stderr=True)
    with screen.status(title) as status:
        yield lambda step: status.update(f"{title}: {step}")


@contextmanager
def bar(title: str) -> Iterator[Callable[[int, int], None]]:
    """Show how many of how many are done, on a terminal's standard error, and nowhere else."""
    from rich.console import Console  # noqa: PLC0415 - of the commands with many files alone
    from rich.progress import Progress  # noqa: PLC0415

    screen = Console(stderr=True)
    with Progress(console=screen, transient=True, disable=not screen.is_terminal) as shown:
        task = shown.add_task(title, total=None)
        yield lambda done, of: shown.update(task, completed=done, total=of)


def table(title: str, headings: Sequence[str], rows: Iterable[Sequence[str]], right: str) -> Table:
    """Return a table; ``right`` holds ``r`` or ``l`` for each column."""
    from rich.markup import escape  # noqa: PLC0415 - of what prints tables alone
    from rich.table import Table  # noqa: PLC0415

    made = Table(title=title, title_justify="left", title_style="bold", show_edge=False)
    for heading, side in zip(headings, right, strict=True):
        made.add_column(heading, justify="right" if side == "r" else "left", overflow="fold")
    for row in rows:
        made.add_row(*(escape(cell) for cell in row))
    return made


def print_findings(findings: Sequence[Finding]) -> None:
    """Print findings, the first of them in full, looks after what is to mend."""
    if not findings:
        return
    from rich.markup import escape  # noqa: PLC0415 - a clean check prints without it

    screen = console()
    ordered = sorted(findings, key=lambda f: f.id in LOOKS)
    for finding in ordered[:MOST_SHOWN]:
        place = f"{finding.file}, {finding.place}" if finding.place else finding.file
        sign = "LOOK" if finding.id in LOOKS else "SAID" if finding.id in NOTES else "CHECK"
        screen.print(escape(f"{sign:<5}  {place}: {finding.what}"), soft_wrap=True)
        screen.print(escape(f"       {finding.mend}  [{finding.id}]"), soft_wrap=True)
    if len(findings) > MOST_SHOWN:
        screen.print(f"... and {len(findings) - MOST_SHOWN} more; see them all with --json")
