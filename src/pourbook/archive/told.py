"""What a check says of each of many workbooks, and reports of it that can be taken up again.

Contract: :func:`tell` checks one file and never raises for what is wrong with it; a
:class:`OneFile` holds all a report needs and nothing of the workbook itself. :func:`earlier` reads
a report of this Pourbook back: of a file that is the same to the byte it still holds.
"""

from __future__ import annotations

import csv
import hashlib
import io
import json
from collections.abc import Sequence
from dataclasses import asdict, replace
from pathlib import Path

from lxml import etree

from pourbook import __version__
from pourbook.archive import twice
from pourbook.archive.twice import Trace
from pourbook.errors import EntryAt, FileUnreadableError
from pourbook.formats.csv_rows import inert
from pourbook.records import dataclass
from pourbook.workbook.check.check import check_file
from pourbook.workbook.check.findings import LOOKS, Finding, counted
from pourbook.workbook.check.reader import Reader
from pourbook.workbook.layout.marks import IDENTITY_MARK
from pourbook.workbook.read.read import COPY_MARK, KINDS, read_book

OK, FINDINGS, UNREADABLE, PASSED = "ok", "findings", "unreadable", "passed over"
KIND = "pourbook check"
HEADINGS = ("file", "status", "kind", "sheet", "cell", "what", "mend")


@dataclass(frozen=True)
class OneFile:
    """What is said of one file; ``failed`` is a fault of Pourbook, ``traces`` those of a job."""

    file: str
    status: str
    message: str = ""
    findings: tuple[Finding, ...] = ()
    notes: tuple[Finding, ...] = ()
    failed: bool = False
    digest: str = ""
    mark: str = ""
    traces: tuple[Trace, ...] = ()

    def with_more(self, more: Sequence[Finding]) -> OneFile:
        """Return the same with more findings."""
        found = (*self.findings, *more)
        return replace(self, findings=found, status=FINDINGS) if more else self

    @property
    def said(self) -> str:
        """Return how many findings there are, in words."""
        return counted(self.findings)


def tell(path: Path, engines: tuple[str, ...] = ("fast",), *, passing: bool = False) -> OneFile:
    """Check one file.

    Args:
        path: The file.
        engines: What recomputes it.
        passing: Whether a workbook that is not Pourbook's is passed over, as in a folder.
    """
    file = str(path)
    try:
        digest = digest_of(path)
        book = read_book(path)
        known = book.marks.get("pourbook book", "") in KINDS
        if passing and (COPY_MARK in book.marks or not known):
            why = "a books copy" if known else "Pourbook did not make this workbook"
            return OneFile(file, PASSED, why, digest=digest)
        checked = check_file(path, engines, book=book, copy=True)
    except FileUnreadableError as error:
        words = ": ".join(part for part in (error.what, error.mend) if part)
        return OneFile(file, UNREADABLE, words)
    except Exception as error:  # noqa: BLE001 - one odd file must not silence the others
        words = f"Pourbook failed on it: {type(error).__name__}: {error}; send it to us"
        return OneFile(file, UNREADABLE, words, failed=True)
    mark = ""
    found: tuple[Trace, ...] = ()
    if checked.plan.book.book == "job" and checked.values:
        mark = checked.book.marks.get(IDENTITY_MARK) or file
        found = twice.traces(Reader(checked))
    return OneFile(
        file,
        FINDINGS if checked.findings else OK,
        "",
        checked.findings,
        checked.notes,
        any(f.id == "function.failed" for f in checked.findings),
        digest,
        mark,
        found,
    )


def ended(path: Path) -> OneFile:
    """Return what is said of a file that ended the process that read it."""
    return OneFile(str(path), UNREADABLE, "it could not be read: it ended the program that tried")


def digest_of(path: Path) -> str:
    """Return what tells the content of a file from any other; nothing where it cannot be read."""
    if not path.is_file():
        return ""
    try:
        with path.open("rb") as stream:
            return hashlib.file_digest(stream, "sha256").hexdigest()
    except OSError:
        return ""


def as_json(told: Sequence[OneFile]) -> str:
    """Return a report a later check can take up."""
    content = {"kind": KIND, "version": __version__, "files": [asdict(one) for one in told]}
    return json.dumps(content, ensure_ascii=False, indent=1) + "\n"


def as_csv(told: Sequence[OneFile]) -> str:
    """Return a line a finding, and one for every file without any."""
    target = io.StringIO()
    writer = csv.writer(target, lineterminator="\n")
    writer.writerow(HEADINGS)
    for one in told:
        lines = [(f.id, f.sheet, f.cell, f.what, f.mend) for f in one.findings]
        for line in lines or [("", "", "", one.message, "")]:
            writer.writerow([inert(word) for word in (one.file, one.status, *line)])
    return target.getvalue()


_COUNTED = {"failure": "failures", "error": "errors", "skipped": "skipped"}


def as_junit(told: Sequence[OneFile]) -> str:
    """Return a report as test runners write it: a case a file; looks fail none."""
    root = etree.Element("testsuite", name=KIND, tests=str(len(told)))
    counts = dict.fromkeys(_COUNTED.values(), 0)
    for one in told:
        case = etree.SubElement(root, "testcase", classname=KIND, name=_clean(one.file))
        faults = [f for f in one.findings if f.id not in LOOKS]
        kind = {UNREADABLE: "error", PASSED: "skipped"}.get(one.status, "failure" if faults else "")
        if not kind:
            continue
        counts[
            "failures" if kind == "failure" else "skipped" if kind == "skipped" else "errors"
        ] += 1
        words = [f"{f.place}: {f.what}: {f.mend} [{f.id}]" for f in faults] or [one.message]
        told_of = etree.SubElement(case, kind, message=_clean(one.said or one.message))
        told_of.text = _clean("\n".join(words))
    for name, count in counts.items():
        root.set(name, str(count))
    return etree.tostring(root, encoding="unicode", pretty_print=True)


def _clean(text: str) -> str:
    return "".join(c if c.isprintable() or c == "\n" else "?" for c in text)


_NO_REPORT = "this is no report of a check"
_NAME_ONE = "name a .json file that --report wrote"
WRITERS = {".json": as_json, ".csv": as_csv, ".xml": as_junit}
"""How a report is written, by how its name ends."""


def earlier(path: Path) -> dict[tuple[str, str], OneFile]:
    """Return what an earlier report says, by file and digest; nothing of another version's.

    Raises:
        FileUnreadableError: It is no report of a check.
    """
    try:
        content = json.loads(path.read_text(encoding="utf-8"))
        ours, same = content["kind"] == KIND, content["version"] == __version__
        told = [_told(one) for one in content["files"]] if ours and same else []
    except (OSError, ValueError, KeyError, TypeError, AttributeError) as error:
        raise FileUnreadableError(_NO_REPORT, _NAME_ONE, str(path)) from error
    if not ours:
        raise FileUnreadableError(_NO_REPORT, _NAME_ONE, str(path))
    return {(one.file, one.digest): one for one in told if one.digest}


def _told(one: dict[str, object]) -> OneFile:
    made = OneFile(**one)  # type: ignore[arg-type]
    return replace(
        made,
        findings=tuple(map(_finding, made.findings)),  # type: ignore[arg-type]
        notes=tuple(map(_finding, made.notes)),  # type: ignore[arg-type]
        traces=tuple(
            Trace(tuple(t["key"]), t["what"], t["sheet"], t["cell"])  # type: ignore[index]
            for t in made.traces
        ),
    )


def _finding(one: dict[str, object]) -> Finding:
    at = one.pop("entry")
    return Finding(**one, entry=EntryAt(**at) if isinstance(at, dict) else None)  # type: ignore[arg-type]
