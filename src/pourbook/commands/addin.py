"""``pourbook addin``: Pourbook's functions live in a spreadsheet program.

Contract: as of :mod:`.demo`.
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

import click
from rich.markup import escape

from pourbook import resources
from pourbook.commands import terminal
from pourbook.commands.excel_check import acceptance, hidden_excel
from pourbook.commands.terminal import PATH
from pourbook.errors import UsageError
from pourbook.formats import files
from pourbook.formats import files as files_on_disk
from pourbook.formats.ooxml import rewrite
from pourbook.hosts.excel import add_to_excel
from pourbook.job import macros, make


def _say(text: str) -> None:
    terminal.console().print(escape(text), soft_wrap=True)


def run_guide() -> int:
    """Print the page for a PC without internet."""
    _say((resources.folder("shared") / "offline_pc.md").read_text(encoding="utf-8"))
    return 0


def run_excel_install() -> int:
    """Write the settings of this Python for Excel."""
    _say(f"Written: {add_to_excel.install()}. Now prove it: pourbook addin excel check")
    return 0


def run_excel_check() -> int:
    """Prove the live functions with the Excel of this PC."""
    add_to_excel.refuse_unless_ready()
    scenario = make.read_scenario(resources.folder("shared") / "demo" / "us.toml")
    with tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as folder:
        full, bare = Path(folder) / "full.xlsm", Path(folder) / "check.xlsm"
        with terminal.progress("excel check") as step:
            values = make.make(full, scenario.system, scenario.entries, step=step)
            # No stored number is left that Excel could show without working it out.
            rewrite.inject(full, bare, dict.fromkeys(values))
            step("Excel works it out")
            with hidden_excel() as app:
                proof = acceptance(app, bare, values)
    for line in proof.differences:
        _say(f"CHECK  {line}")
    if proof.differences:
        _say(f"Excel {proof.version}: not all of {proof.cells} cells are as Pourbook has them")
        return 1
    _say(f"OK: Excel {proof.version} worked out {proof.cells} cells as Pourbook does")
    return 0


def run_excel_refresh(path: Path) -> int:
    """Renew the macros in a job."""
    renewed = macros.refresh(path)
    _say(f"Renewed: {path}" if renewed else f"The macros of {path} are those of this Pourbook")
    return 0


def run_excel_shortcut(target: Path, *, force: bool) -> int:
    """Write a command file to drop jobs onto."""
    add_to_excel.refuse_unless_windows()
    if target.suffix.lower() != ".cmd":
        mend = f"name it {target.stem}.cmd"
        raise UsageError("a command file ends in .cmd", mend, str(target))
    content = add_to_excel.shortcut(sys.executable).encode()

    def write(new: Path) -> None:
        new.write_bytes(content)

    files.replace_file(target, write, force=force)
    _say(f"Written: {target}. Drop a job workbook onto it.")
    return 0


def run_build_calc(target: Path, *, force: bool) -> int:
    """Build the add-in for LibreOffice Calc."""
    if target.suffix.lower() != ".oxt":
        raise UsageError("an add-in ends in .oxt", f"name it {target.stem}.oxt", str(target))
    from pourbook.hosts.calc import bundle  # noqa: PLC0415

    files_on_disk.replace_file(target, bundle.build, force=force)
    terminal.console().print(
        f"Written: {escape(str(target))}. Open it in LibreOffice to install it.", soft_wrap=True
    )
    return 0


def run_install_calc(*, shared: bool) -> int:
    """Build the add-in for LibreOffice Calc and install it."""
    from pourbook.hosts.calc import add_to_calc  # noqa: PLC0415

    with terminal.progress("add-in"):
        add_to_calc.install(shared=shared)
    terminal.console().print("Installed. Start LibreOffice: Pourbook's functions are live in it.")
    return 0


@click.group("addin")
def addin_command() -> None:
    """Make Pourbook's functions live in a spreadsheet program."""


@addin_command.command()
def guide() -> None:
    """Print how to set up a PC without internet, and what to do when it does not work."""
    sys.exit(run_guide())


@addin_command.group()
def calc() -> None:
    """Pourbook's functions in LibreOffice Calc 7.4 or newer."""


@calc.command("build")
@click.argument("target", type=PATH, metavar="OUT.OXT")
@click.option("--force", is_flag=True, help="Replace the file if it is there already.")
def calc_build(target: Path, *, force: bool) -> None:
    """Build the add-in as one file; open it in LibreOffice to install it."""
    sys.exit(run_build_calc(target, force=force))


@calc.command("install")
@click.option("--shared", is_flag=True, help="For every user; needs the rights of the computer.")
def calc_install(*, shared: bool) -> None:
    """Build the add-in and install it in LibreOffice, which must be closed."""
    sys.exit(run_install_calc(shared=shared))


@addin_command.group()
def excel() -> None:
    """Excel on Windows: workbooks that end in .xlsm carry the macro that calls Pourbook.

    Nothing is added to Excel itself. On the PC, once: pourbook addin excel install
    """


@excel.command("install")
def excel_install() -> None:
    """Tell Excel's macro which Python runs Pourbook; once on every PC, and after moving Python."""
    sys.exit(run_excel_install())


@excel.command("check")
def check_excel() -> None:
    """Prove the live functions with the Excel of this PC.

    Opens a demo job without any stored number in a hidden Excel, has it work everything out, and
    compares every cell with what Pourbook gives. Exit codes: 0 all the same, 1 differences.
    """
    sys.exit(run_excel_check())


@excel.command()
@click.argument("job", type=PATH)
def refresh(job: Path) -> None:
    """Renew the macros in a job after an update of Pourbook; entries and numbers stay."""
    sys.exit(run_excel_refresh(job))


@excel.command()
@click.argument("target", type=PATH, default=Path("Pourbook.cmd"))
@click.option("--force", is_flag=True, help="Replace the file if it is there already.")
def shortcut(target: Path, force: bool) -> None:
    """Write a .cmd file: a job dropped onto it is worked out anew and checked."""
    sys.exit(run_excel_shortcut(target, force=force))
