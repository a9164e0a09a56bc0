"""Hands the add-in to LibreOffice.

Contract: :func:`install` builds the package and has LibreOffice's own ``unopkg`` take it in,
replacing an older one. LibreOffice is looked for on the path and where its installers put it.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import tempfile
from collections.abc import Mapping
from pathlib import Path

from pourbook.errors import UsageError
from pourbook.hosts.calc import bundle

_USUAL = (
    "/usr/lib/libreoffice/program",
    "/usr/lib64/libreoffice/program",
    "/opt/libreoffice/program",
    "/Applications/LibreOffice.app/Contents/MacOS",
    r"C:\Program Files\LibreOffice\program",
    r"C:\Program Files (x86)\LibreOffice\program",
)
_SYSTEM_PATH = "/usr/sbin:/usr/bin:/sbin:/bin"
_PATIENCE = 300


def environment(given: Mapping[str, str]) -> dict[str, str]:
    """Return the environment LibreOffice runs in.

    LibreOffice looks for the library of its own Python along the path: another Python in the way,
    such as a virtual environment, makes every add-in fail.
    """
    kept = {k: v for k, v in given.items() if not k.startswith("PYTHON") and k != "VIRTUAL_ENV"}
    return {**kept, "PATH": _SYSTEM_PATH} if os.name == "posix" else kept


def find_unopkg() -> Path:
    """Return LibreOffice's program for add-ins.

    Raises:
        UsageError: LibreOffice is not where it usually is.
    """
    places = os.pathsep.join([os.environ.get("PATH", ""), *_USUAL])
    found = shutil.which("unopkg", path=places)
    if found is None:
        mend = "install it, or build the package and open it in LibreOffice"
        raise UsageError("LibreOffice (unopkg) is not found", mend)
    return Path(found)


def install(*, shared: bool, profile: Path | None = None) -> None:
    """Build the add-in and install it.

    Args:
        shared: For every user of this computer, which needs the rights for it.
        profile: A LibreOffice profile other than the user's own.

    Raises:
        UsageError: LibreOffice is not found, or refuses the package.
    """
    program = find_unopkg()
    with tempfile.TemporaryDirectory() as name:
        # The installed add-in keeps the file's name.
        file = Path(name) / "pourbook.oxt"
        bundle.build(file)
        command = [str(program), "add", "--force", *(["--shared"] if shared else []), str(file)]
        if profile is not None:
            command.append(f"-env:UserInstallation={profile.resolve().as_uri()}")
        try:
            done = subprocess.run(  # noqa: S603 - LibreOffice's own program, no shell
                command,
                env=environment(os.environ),
                stdin=subprocess.DEVNULL,
                capture_output=True,
                text=True,
                timeout=_PATIENCE,
                check=False,
            )
        except subprocess.TimeoutExpired:
            raise UsageError("LibreOffice did not answer", "close it and try again") from None
    if done.returncode:
        said = " ".join((done.stderr or done.stdout).split())[-300:]
        mend = "close LibreOffice and try again; as administrator, add --shared"
        raise UsageError(f"LibreOffice did not take the add-in ({said})", mend)
