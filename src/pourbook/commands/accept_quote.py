"""What the commands around an accepted quote do: each returns an exit code and prints its result.

Contract: as :mod:`.demo`; no arithmetic here.
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
from pourbook.job import accept


def run_accept(
    path: Path,
    target: Path | None,
    by: str,
    on: dt.date | None,
    option: str,
    *,
    change: str = "",
    force: bool = False,
) -> int:
    """Freeze the quote of a job as accepted."""
    if on and on > dt.date.today():
        raise UsageError(f"{on} is yet to come", "give the day it was accepted", "--on")
    with terminal.progress("accept") as step:
        done = accept.accept(
            path, target, by=by, on=on, change=change, option=option, force=force, step=step
        )
    by_whom = f" by {done.by}" if done.by else ""
    price = f"{done.net:,.2f} {done.currency} before tax, {done.gross:,.2f} with tax"
    quote = f"option {done.option}, {price}, accepted {done.on:%Y-%m-%d}{by_whom}"
    words = f"Revision {done.revision}: {quote}. Written: {done.path}"
    if not done.changed:
        words = f"Nothing has changed since revision {done.revision}: {quote}. Nothing written."
    screen = terminal.console()
    screen.print(escape(words), soft_wrap=True)
    if done.overall != "OK":
        hint = f"{done.overall}; see: pourbook check {done.path}"
        screen.print(escape(hint), soft_wrap=True)
    return 0


@click.command("accept")
@click.argument("job", type=PATH)
@click.option("--by", default="", help="Who accepted it; the client on Start if left out.")
@click.option(
    "--on",
    type=click.DateTime(["%Y-%m-%d"]),
    help="The day; today if left out.",
)
@click.option(
    "--option",
    type=click.Choice(("A", "B", "C"), case_sensitive=False),
    help="The option accepted; it becomes the option to offer on Price.",
)
@click.option("--change", default="", help="What a change order after work has begun is for.")
@click.option("-o", "--to", "target", type=PATH, help="Write a copy instead of the job itself.")
@click.option("--force", is_flag=True, help="With --to: replace that file if it is there already.")
def accept_command(
    job: Path,
    by: str,
    on: dt.datetime | None,
    option: str | None,
    change: str,
    target: Path | None,
    force: bool,
) -> None:
    """Freeze what was quoted, when the customer says yes.

    Price, layers, products and packs of the option to offer go onto the sheet Quoted as they stand,
    and later changes do not move them. Accepting again keeps the earlier one as a revision; once
    anything is logged on Used it takes a change order with a name: --change 'island added'.
    """
    day = on.date() if on else None
    sys.exit(run_accept(job, target, by, day, option or "", change=change.strip(), force=force))
