"""Makes a Windows PC ready for workbooks with live functions: one configuration file.

Contract: :func:`install` needs Windows, xlwings and pywin32, and refuses in clear words without
them. It writes the file xlwings' macro reads (its own keys only; whatever else is in it stays) and
changes nothing in Excel. :func:`refuse_unless_ready` says what is missing before anything is done.
"""

from __future__ import annotations

import importlib.metadata
import platform
import re
import sys
from collections.abc import Mapping
from pathlib import Path

from pourbook.errors import FileUnreadableError, UsageError

UDFS = "pourbook.hosts.excel.udfs"
XLWINGS = "0.37.8"
_LINE = re.compile(r'^"([^"]*)","([^"]*)"\s*$', re.MULTILINE)
_ANSI = "mbcs"


def configuration() -> Path:
    """Return the file xlwings' macro reads its settings from."""
    return Path.home() / ".xlwings" / "xlwings.conf"


def settings(old: str, wanted: Mapping[str, str]) -> str:
    r"""Return the configuration with some keys set and all others kept.

    No blank lines: the macro that reads the file trips on them.

    Example:
        >>> settings('"PYTHONPATH","C:\\x"\n\n"UDF MODULES","old"\n', {"UDF MODULES": "new"})
        '"PYTHONPATH","C:\\x"\r\n"UDF MODULES","new"\r\n'
    """
    kept = dict(_LINE.findall(old)) | dict(wanted)
    return "".join(f'"{key}","{value}"\r\n' for key, value in kept.items())


def refuse_unless_windows() -> None:
    """Refuse where there can be no Excel that calls Python.

    Raises:
        UsageError: This is no Windows.
    """
    if platform.system() != "Windows":
        mend = "run this on the Windows PC with Excel; pourbook new JOB.xlsm works here too"
        raise UsageError("live functions in Excel need Windows", mend)


def refuse_unless_ready() -> None:
    """Refuse where Excel cannot call Pourbook.

    Raises:
        UsageError: This is no Windows, or what xlwings needs is not there.
    """
    refuse_unless_windows()
    try:
        found = importlib.metadata.version("xlwings")
        importlib.metadata.version("pywin32")
    except importlib.metadata.PackageNotFoundError as error:
        mend = "install Pourbook anew with: py -3.11 -m pip install --force-reinstall pourbook"
        raise UsageError(f"the package {error.name} is not installed", mend) from error
    if found != XLWINGS:
        mend = f"py -3.11 -m pip install xlwings=={XLWINGS}"
        raise UsageError(f"xlwings {found} is installed, the workbooks need {XLWINGS}", mend)
    if "WindowsApps" in sys.executable:
        mend = "install Python from python.org, and Pourbook in it"
        raise UsageError("Python from the Microsoft Store cannot serve Excel", mend, sys.executable)
    if not libraries(Path(sys.executable)):
        mend = "install xlwings anew, without --user, and see whether the virus scanner took them"
        raise UsageError("the libraries Excel loads are not beside Python", mend, sys.executable)


def libraries(python: Path) -> list[Path]:
    """Return the libraries the macro loads, both kinds, from where it looks for them.

    Args:
        python: The interpreter; the macro looks in its folder, then one above.

    Returns:
        Two files of one folder, or nothing if they are not there.
    """
    names = [f"xlwings{bits}-{XLWINGS}.dll" for bits in (32, 64)]
    for folder in (python.parent, python.parent.parent):
        found = [folder / name for name in names]
        if all(path.is_file() for path in found):
            return found
    return []


def install() -> Path:
    """Write the settings of this Python for Excel.

    Returns:
        The configuration file.

    Raises:
        UsageError: See :func:`refuse_unless_ready`.
        FileUnreadableError: The file cannot be written, or a path in it not be spelt.
    """
    refuse_unless_ready()
    file = configuration()
    wanted = {
        "INTERPRETER_WIN": sys.executable,
        "UDF MODULES": UDFS,
        "ADD_WORKBOOK_TO_PYTHONPATH": "False",
    }
    try:
        file.parent.mkdir(exist_ok=True)
        old = file.read_text(encoding=_ANSI) if file.exists() else ""
        file.write_bytes(settings(old, wanted).encode(_ANSI))
    except UnicodeError as error:
        mend = "install Python in a folder whose name has plain letters only, such as C:\\Python311"
        raise FileUnreadableError(
            "Excel's macro cannot spell its path", mend, sys.executable
        ) from error
    except OSError as error:
        mend = "close Excel and try again"
        raise FileUnreadableError(f"it cannot be written ({error})", mend, str(file)) from error
    return file


def command_file(*lines: str) -> str:
    """Return a command file of Windows that says nothing of its own and reads all letters.

    Example:
        >>> command_file("pause").splitlines()
        ['@echo off', 'chcp 65001 >nul', 'pause']
    """
    return "".join(f"{line}\r\n" for line in ("@echo off", "chcp 65001 >nul", *lines))


def shortcut(python: str) -> str:
    r"""Return a command file that brings a job dropped onto it up to date.

    Args:
        python: The interpreter to run.

    Example:
        >>> shortcut("C:\\py\\python.exe").splitlines()[3]
        '"C:\\py\\python.exe" -m pourbook recompute "%~1"'
    """
    python = python.replace("%", "%%")
    return command_file(
        'if "%~1"=="" (echo Drop a job workbook onto this file.& pause & exit /b 2)',
        f'"{python}" -m pourbook recompute "%~1"',
        f'"{python}" -m pourbook check "%~1"',
        "pause",
    )
