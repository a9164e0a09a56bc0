"""The command line: it gathers the commands, runs one, and ends with its exit code.

Contract: exit codes are 0 clean, 1 findings or a refused entry, 2 wrong use, 3 unreadable file,
4 a fault of Pourbook. The module of a command is loaded when the command is asked for.
"""

from __future__ import annotations

import ast
import json
import sys
from importlib import import_module
from importlib.util import find_spec
from pathlib import Path
from textwrap import shorten
from typing import Any

import click

from pourbook import __version__
from pourbook.errors import FileUnreadableError, PourbookError
from pourbook.formats import bounded

MODULES = {
    "demo": "demo",
    "new": "new_job",
    "upgrade": "new_job",
    "new-shop": "shop_book",
    "stock": "shop_book",
    "check": "check_files",
    "recompute": "copies",
    "accept": "accept_quote",
    "books": "copies",
    "papers": "copies",
    "take": "copies",
    "log": "bring_rows",
    "receipts": "bring_rows",
    "show": "tell_job",
    "explain": "tell_job",
    "export": "tell_job",
    "settle": "settle_job",
    "reopen": "settle_job",
    "functions": "list_functions",
    "completion": "list_functions",
    "addin": "addin",
    "open": "folders.list_open",
    "month": "folders.roll_month",
    "board": "folders.make_board",
    "learn": "folders.learn_shop",
    "desk": "desk.open_desk",
}
"""Every command, and the module of :mod:`pourbook.commands` it stands in."""


def _said_of(command: str) -> str:
    """Return what a command's own help begins with, without loading its module."""
    spec = find_spec(f"pourbook.commands.{MODULES[command]}")
    assert spec is not None
    assert spec.origin is not None
    tree = ast.parse(Path(spec.origin).read_text(encoding="utf-8"))
    name = command.replace("-", "_") + "_command"
    found = (n for n in tree.body if isinstance(n, ast.FunctionDef) and n.name == name)
    return ast.get_docstring(next(found)) or ""


class _Commands(click.Group):
    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """List the commands at once: loading them all takes half a second."""
        room = formatter.width - 6 - max(map(len, MODULES))
        rows = [
            (name, shorten(_said_of(name).partition("\n")[0], room, placeholder="..."))
            for name in self.list_commands(ctx)
        ]
        with formatter.section("Commands"):
            formatter.write_dl(rows)

    def list_commands(self, ctx: click.Context) -> list[str]:  # noqa: ARG002
        """Return the names of the commands as they are listed."""
        return sorted(MODULES)

    def get_command(
        self,
        ctx: click.Context,  # noqa: ARG002
        cmd_name: str,
    ) -> click.Command | None:
        """Load the module of a command."""
        if cmd_name not in MODULES:
            return None
        module = import_module(f"pourbook.commands.{MODULES[cmd_name]}")
        found = getattr(module, cmd_name.replace("-", "_") + "_command")
        assert isinstance(found, click.Command)
        return found


@click.group(cls=_Commands, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, prog_name="pourbook")
def cli() -> None:
    """Job workbooks for people who resurface tops and floors with two-part coatings."""


def main(arguments: list[str] | None = None) -> None:
    """Run the command line and end the process with its exit code."""
    given = sys.argv[1:] if arguments is None else arguments
    wants_json = "--json" in given
    if arguments is None:
        bounded.begin(lambda told: _tell(str(told), told.exit_code, as_json=wants_json))
    try:
        cli.main(given, prog_name="pourbook", standalone_mode=False)
    except click.exceptions.Exit as end:
        sys.exit(end.exit_code)
    except click.Abort:
        _say("stopped; nothing was changed", 130, as_json=wants_json)
    except click.ClickException as error:
        if wants_json:
            _say(error.format_message(), 2, as_json=True)
        error.show()
        sys.exit(2)
    except PourbookError as error:
        _say(str(error), error.exit_code, as_json=wants_json)
    except OSError as error:
        what = error.strerror or str(error)
        mend = "see whether the disk is full or was taken away"
        told = FileUnreadableError(what, mend, str(error.filename or ""))
        _say(str(told), told.exit_code, as_json=wants_json)
    except Exception as error:  # noqa: BLE001 - the last stop: say it plainly, with the trace below
        import traceback  # noqa: PLC0415

        traceback.print_exc()
        message = (
            f"Pourbook failed: {type(error).__name__}: {error}; please send us the lines above"
        )
        _say(message, 4, as_json=wants_json)


def _say(message: str, code: int, *, as_json: bool) -> None:
    _tell(message, code, as_json=as_json)
    sys.exit(code)


def _tell(message: str, code: int, *, as_json: bool) -> None:
    if as_json:
        status = {3: "unreadable", 2: "usage", 1: "refused"}.get(code, "failed")
        answer: dict[str, Any] = {"status": status, "message": message, "findings": [], "files": []}
        click.echo(json.dumps(answer, ensure_ascii=False))
    else:
        click.echo(f"pourbook: {message}", err=True)
