"""The commands that make Pourbook's functions live in a spreadsheet program: ``pourbook addin``.

Contract: as of :mod:`pourbook.cli`, which lists them; nothing heavy is imported before
it is needed.
"""

from __future__ import annotations

import sys
from pathlib import Path

import click

_FILE = click.Path(path_type=Path)


@click.group()
def addin() -> None:
    """Make Pourbook's functions live in a spreadsheet program."""


@addin.command()
def guide() -> None:
    """Print how to set up a PC without internet, and what to do when it does not work."""
    from pourbook.commands.addin_commands import run_guide  # noqa: PLC0415

    sys.exit(run_guide())


@addin.group()
def calc() -> None:
    """Pourbook's functions in LibreOffice Calc 7.4 or newer."""


@calc.command("build")
@click.argument("target", type=_FILE, metavar="OUT.OXT")
@click.option("--force", is_flag=True, help="Replace the file if it is there already.")
def calc_build(target: Path, *, force: bool) -> None:
    """Build the add-in as one file; open it in LibreOffice to install it."""
    from pourbook.commands.commands import run_build_calc  # noqa: PLC0415

    sys.exit(run_build_calc(target, force=force))


@calc.command("install")
@click.option("--shared", is_flag=True, help="For every user; needs the rights of the computer.")
def calc_install(*, shared: bool) -> None:
    """Build the add-in and install it in LibreOffice, which must be closed."""
    from pourbook.commands.commands import run_install_calc  # noqa: PLC0415

    sys.exit(run_install_calc(shared=shared))


@addin.group()
def excel() -> None:
    """Excel on Windows: workbooks that end in .xlsm carry the macro that calls Pourbook.

    Nothing is added to Excel itself. On the PC, once: pourbook addin excel install
    """


@excel.command("install")
def excel_install() -> None:
    """Tell Excel's macro which Python runs Pourbook; once on every PC, and after moving Python."""
    from pourbook.commands.addin_commands import run_excel_install  # noqa: PLC0415

    sys.exit(run_excel_install())


@excel.command("check")
def excel_check() -> None:
    """Prove the live functions with the Excel of this PC.

    Opens a demo job without any stored number in a hidden Excel, has it work everything out, and
    compares every cell with what Pourbook gives. Exit codes: 0 all the same, 1 differences.
    """
    from pourbook.commands.addin_commands import run_excel_check  # noqa: PLC0415

    sys.exit(run_excel_check())


@excel.command()
@click.argument("job", type=_FILE)
def refresh(job: Path) -> None:
    """Renew the macros in a job after an update of Pourbook; entries and numbers stay."""
    from pourbook.commands.addin_commands import run_excel_refresh  # noqa: PLC0415

    sys.exit(run_excel_refresh(job))


@excel.command()
@click.argument("target", type=_FILE, default=Path("Pourbook.cmd"))
@click.option("--force", is_flag=True, help="Replace the file if it is there already.")
def shortcut(target: Path, force: bool) -> None:
    """Write a .cmd file: a job dropped onto it is worked out anew and checked."""
    from pourbook.commands.addin_commands import run_excel_shortcut  # noqa: PLC0415

    sys.exit(run_excel_shortcut(target, force=force))
