"""``pourbook functions`` and ``completion``.

Contract: as of :mod:`.demo`.
"""

from __future__ import annotations

import dataclasses
import sys

import click
from rich.markup import escape

from pourbook.commands import terminal
from pourbook.errors import UsageError
from pourbook.functions.catalogue import catalogue
from pourbook.functions.declare import Function


def run_functions(name: str | None, *, as_json: bool) -> int:
    """List the worksheet functions, or show one."""
    known = catalogue()
    chosen = list(known.values())
    if name is not None:
        wanted = name.upper()
        if wanted not in known:
            raise UsageError(f"there is no function '{name}'", "see: pourbook functions")
        chosen = [known[wanted]]
    if as_json:
        terminal.print_json([_described(f) for f in chosen])
        return 0
    screen = terminal.console()
    if name is None:
        rows = [(f.name, ", ".join(a.name for a in f.arguments), f.summary) for f in chosen]
        screen.print(terminal.table("Functions", ("Name", "Arguments", "Gives"), rows, "lll"))
        return 0
    function = chosen[0]
    screen.print(escape(f"{function.name}: {function.summary}"), soft_wrap=True)
    for argument in function.arguments:
        may = " (may be left out)" if argument.optional else ""
        screen.print(escape(f"  {argument.name}: {argument.help}{may}"), soft_wrap=True)
    for label, words in (
        ("Gives", function.result),
        ("Valid for", function.valid),
        ("Source", function.source),
    ):
        screen.print(escape(f"  {label}: {words}"), soft_wrap=True)
    return 0


def _described(function: Function) -> dict[str, object]:
    return {
        "name": function.name,
        "summary": function.summary,
        "arguments": [dataclasses.asdict(a) for a in function.arguments],
        "result": function.result,
        "valid": function.valid,
        "source": function.source,
    }


@click.command("functions")
@click.argument("name", required=False)
@click.option("--json", "as_json", is_flag=True, help="Print the catalogue for a machine.")
def functions_command(name: str | None, as_json: bool) -> None:
    """List the worksheet functions, or show one of them."""
    sys.exit(run_functions(name, as_json=as_json))


@click.command("completion")
@click.argument("shell", type=click.Choice(("bash", "zsh", "fish")))
def completion_command(shell: str) -> None:
    """Print what makes the shell complete pourbook's commands and options.

    For bash: pourbook completion bash >> ~/.bashrc
    """
    from click.shell_completion import get_completion_class  # noqa: PLC0415

    found = get_completion_class(shell)
    assert found is not None  # the choice above names only shells click knows
    root = click.get_current_context().find_root().command
    click.echo(found(root, {}, "pourbook", "_POURBOOK_COMPLETE").source())
