"""What ``pourbook desk`` does: opens the window for a shop PC."""

from __future__ import annotations

from pathlib import Path

import click

from pourbook.commands.desk.desk_link import make_link
from pourbook.commands.terminal import PATH
from pourbook.errors import UsageError
from pourbook.hosts.steps import WORK


@click.command("desk")
@click.argument("job", type=PATH, required=False)
@click.option(
    "--step", type=click.Choice([step.name for step in WORK]), help="Press this button at once."
)
@click.option("--link", is_flag=True, help="Put an icon for the window on the desktop instead.")
@click.option("--force", is_flag=True, help="Replace the icon if it is there already.")
def desk_command(job: Path | None, step: str | None, *, link: bool, force: bool) -> None:
    """Open a window with a button for every step of the work: no terminal is needed.

    A job may be named, or dropped on the icon of this command; the Pourbook menu of Calc and the
    tab of Excel open it with the button pressed. Every button runs the command of its
    name; what it says stands in the window, and it can be stopped.
    """
    if link:
        click.echo(f"Written: {make_link(force=force)}. It opens the window; drop a job onto it.")
        return
    try:
        from pourbook.commands.desk import desk_window  # noqa: PLC0415 - not every Python has it
    except ImportError as error:
        mend = "install it (Debian: python3-tk), or use the commands in a terminal"
        raise UsageError("this Python has no tkinter, which draws windows", mend) from error
    from tkinter import TclError  # noqa: PLC0415

    try:
        desk_window.show(str(job) if job else "", step or "")
    except TclError as error:
        mend = "start it where there is a screen"
        raise UsageError(f"no window can be opened ({error})", mend) from error
