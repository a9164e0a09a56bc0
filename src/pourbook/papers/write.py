"""Writes the papers of a job: a workbook for each reader, and a PDF of it where that can be made.

Contract: :func:`write` refuses a job whose papers would say what no sheet may say yet, and replaces
no file unless told to. A PDF needs LibreOffice on the PC; without it the workbooks are written, and
that is said.
"""

from __future__ import annotations

import contextlib
import shutil
import subprocess
import tempfile
from collections.abc import Callable
from functools import partial
from pathlib import Path

from openpyxl import Workbook

from pourbook.cells import unmarked
from pourbook.errors import InputError, UsageError
from pourbook.formats import files
from pourbook.papers import for_books, for_client, for_crew
from pourbook.papers.job_words import JobWords
from pourbook.records import dataclass
from pourbook.workbook.check.check import Checked

READERS: dict[str, Callable[[Workbook, JobWords], None]] = {
    "client": for_client.pages,
    "crew": for_crew.pages,
    "books": for_books.pages,
}
RESTS_ON = {"client": "quote", "crew": "mixing"}
"""Which line of what may go on paper a reader's papers rest on."""
OFFICE = ("soffice", "libreoffice")
_SECONDS = 120


@dataclass(frozen=True)
class Written:
    """The files that were written, and whether PDFs could be made."""

    files: tuple[Path, ...]
    office: bool


def write(checked: Checked, folder: Path, readers: tuple[str, ...], *, force: bool) -> Written:
    """Write the papers of a job into a folder.

    Args:
        checked: The job, checked.
        folder: Where to write; it is made if it is not there.
        readers: Some of :data:`READERS`.
        force: Whether files that are there may be replaced.

    Raises:
        InputError: A price or a card may not go on paper yet; the sheet to look at is named.
        UsageError: A file is there already, the folder is a file, or the job is of sheets that had
            no papers yet.
    """
    file = checked.book.path.name
    if "paper" not in checked.plan.places:
        what = f"it has the sheets {checked.plan.version}, and papers are made of later ones"
        raise UsageError(what, f"carry it over: pourbook upgrade {file}", file)
    if folder.exists() and not folder.is_dir():
        raise UsageError("this is a file", "name a folder for the papers", str(folder))
    job = JobWords(checked)
    for reader in readers:
        line = RESTS_ON.get(reader)
        said = job.words("standing", line) if line else "ok"
        if said != "ok":
            what = f"the papers for the {reader} wait: {unmarked(said)}"
            raise InputError(what, f"pourbook check {file} names what to fix", file)
    office = next((found for name in OFFICE if (found := shutil.which(name))), None)
    folder.mkdir(parents=True, exist_ok=True)
    stem = checked.book.path.stem
    targets = [folder / f"{stem} {reader}.xlsx" for reader in readers]
    printed = [target.with_suffix(".pdf") for target in targets] if office else []
    for target in (*targets, *printed):
        files.refuse_unless_free(target, force=force)
    for reader, target in zip(readers, targets, strict=True):
        book = Workbook()
        book.remove(book.worksheets[0])
        READERS[reader](book, job)
        book.properties.creator = "Pourbook"
        book.properties.title = f"{job.name}, {reader}"
        files.replace_file(target, book.save, force=force)
    for target, pdf in zip(targets, printed, strict=False):
        files.replace_file(pdf, partial(_print, str(office), target), force=force)
    return Written((*targets, *printed), bool(office))


def _print(office: str, source: Path, target: Path) -> None:
    """Have LibreOffice print a workbook, with a profile of its own so that an open one is none."""
    with tempfile.TemporaryDirectory(prefix="pourbook-") as work:
        command = [
            office,
            "--headless",
            "--norestore",
            f"-env:UserInstallation={(Path(work) / 'profile').as_uri()}",
        ]
        command += ["--convert-to", "pdf", "--outdir", work, str(source)]
        made = Path(work) / source.with_suffix(".pdf").name
        for _ in range(2):  # the first start of a new profile may end before it has printed
            with contextlib.suppress(subprocess.TimeoutExpired):
                subprocess.run(  # noqa: S603 - a program of this PC, by its full path
                    command, capture_output=True, timeout=_SECONDS, check=False
                )
            if made.exists():
                break
        else:
            what = "LibreOffice did not print it"
            raise InputError(what, "print the workbook from a spreadsheet program", str(source))
        shutil.copyfile(made, target)
