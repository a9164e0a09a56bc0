"""What the add-in commands do: each returns an exit code and prints its result.

Contract: as :mod:`pourbook.commands.commands`; no arithmetic here.
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

from rich.markup import escape

from pourbook import resources
from pourbook.commands import terminal
from pourbook.commands.excel_check import acceptance, hidden_excel
from pourbook.errors import UsageError
from pourbook.formats import files
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
