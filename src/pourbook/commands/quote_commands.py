"""What the commands around an accepted quote do: each returns an exit code and prints its result.

Contract: as :mod:`pourbook.commands.commands`; no arithmetic here.
"""

from __future__ import annotations

import datetime as dt
from pathlib import Path

from rich.markup import escape

from pourbook.commands import terminal
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
