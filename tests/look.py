"""Renders every sheet of a workbook to pictures, to look at what a person will see.

Run it by hand: ``python tests/look.py JOB.xlsx FOLDER``. It needs LibreOffice and pdftoppm. The
functions' values are kept as values, since LibreOffice without the add-in cannot work them out.
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
from pathlib import Path

from pourbook.job.books import without_functions

PLAIN = {"PATH": "/usr/sbin:/usr/bin:/sbin:/bin", "HOME": str(Path.home())}


def look(job: Path, folder: Path, dots: int = 80) -> list[Path]:
    """Render a workbook; return the pictures in page order."""
    folder.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory() as name:
        copy = Path(name) / job.name
        without_functions(job, copy)
        profile = f"-env:UserInstallation=file://{name}/profile"
        convert = ["soffice", profile, "--headless", "--convert-to", "pdf", "--outdir", name]
        for _ in range(2):  # the first start of a new profile may end without converting
            subprocess.run([*convert, str(copy)], env=PLAIN, check=False, capture_output=True)
        pages = ["pdftoppm", "-png", "-r", str(dots), str(copy.with_suffix(".pdf"))]
        subprocess.run([*pages, str(folder / job.stem)], env=PLAIN, check=True)
    return sorted(folder.glob(f"{job.stem}-*.png"))


if __name__ == "__main__":
    for picture in look(Path(sys.argv[1]), Path(sys.argv[2])):
        print(picture)
