"""The icon on the desktop: it opens the window, with the job that is dropped onto it.

Contract: a command file on Windows, a desktop entry (freedesktop.org) elsewhere; it names the
Python that wrote it. Where the desktop is, platformdirs knows.
"""

from __future__ import annotations

import os
import re
import sys
from pathlib import Path

import platformdirs

from pourbook.formats import files
from pourbook.hosts.excel.add_to_excel import command_file

NAME = "Pourbook desk"
WINDOWS = os.name == "nt"
_CALLED = "-m pourbook desk"
_NAMED = re.compile(r"pythonw?\.exe$", re.IGNORECASE)


def windows_link(python: str) -> str:
    r"""Return the command file that opens the window, without a console behind it.

    Args:
        python: The interpreter to run; its own windowless twin lies beside it.

    Example:
        >>> windows_link("C:\\py\\python.exe").splitlines()[3]
        'if "%~1"=="" (start "" "C:\\py\\pythonw.exe" -m pourbook desk & exit /b)'
    """
    quiet = _NAMED.sub("pythonw.exe", python)
    start = f'start "" "{quiet.replace("%", "%%")}" {_CALLED}'
    return command_file(
        "rem Opens Pourbook's window; a job may be dropped onto this file.",
        f'if "%~1"=="" ({start} & exit /b)',
        f'{start} "%~1"',
    )


def desktop_entry(python: str) -> str:
    """Return the desktop entry that opens the window.

    Args:
        python: The interpreter to run.

    Example:
        >>> print(desktop_entry("/opt/our py/python"))
        [Desktop Entry]
        Type=Application
        Name=Pourbook desk
        Comment=A button for every step of a coating job
        Exec="/opt/our py/python" -m pourbook desk %f
        Terminal=false
        <BLANKLINE>
    """
    quoted = python.replace("\\", "\\\\").replace('"', '\\"').replace("%", "%%")
    return (
        f"[Desktop Entry]\nType=Application\nName={NAME}\n"
        "Comment=A button for every step of a coating job\n"
        f'Exec="{quoted}" {_CALLED} %f\nTerminal=false\n'
    )


def make_link(*, force: bool) -> Path:
    """Put the icon on the desktop of this user.

    Raises:
        UsageError: It is there already, and may not be replaced.
        FileUnreadableError: It cannot be written.
    """
    content = (windows_link if WINDOWS else desktop_entry)(sys.executable)
    target = Path(platformdirs.user_desktop_dir()) / f"{NAME}{'.cmd' if WINDOWS else '.desktop'}"
    target.parent.mkdir(parents=True, exist_ok=True)

    def write(new: Path) -> None:
        new.write_bytes(content.encode())
        new.chmod(0o755)  # file managers start no entry that may not be run

    files.replace_file(target, write, force=force)
    return target
