"""What ``pourbook check`` does: checks workbooks one by one, and jobs against each other.

Contract: as of :mod:`.commands`; one file that cannot be read never stops the others.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator, Mapping, Sequence
from pathlib import Path

import click
from rich.markup import escape

from pourbook.archive import twice
from pourbook.archive.twice import Trace, shared
from pourbook.commands import terminal
from pourbook.commands.terminal import PATH, print_findings
from pourbook.errors import FileUnreadableError
from pourbook.workbook.build.build import IDENTITY_MARK
from pourbook.workbook.check.check import check_file
from pourbook.workbook.check.findings import Finding, counted
from pourbook.workbook.check.reader import Reader


def run_check(files: Sequence[Path], engines: tuple[str, ...], *, as_json: bool) -> int:
    """Check workbooks and report findings; one unreadable file does not stop the others."""
    findings: list[Finding] = []
    notes: list[Finding] = []
    listed: list[dict[str, object]] = []
    unreadable = failed = False
    together: dict[str, tuple[str, tuple[Trace, ...]]] = {}
    with terminal.progress("check") as step:
        for path in files:
            try:
                checked = check_file(path, engines, _named(step, path.name))
            except FileUnreadableError as error:
                unreadable = True
                message = ": ".join(words for words in (error.what, error.mend) if words)
                listed.append({"file": str(path), "status": "unreadable", "message": message})
                continue
            if checked.plan.book.book == "job" and checked.values:
                mark = checked.book.marks.get(IDENTITY_MARK) or str(path)
                together[mark] = (path.name, twice.traces(Reader(checked)))
            findings += checked.findings
            notes += checked.notes
            failed = failed or any(f.id == "function.failed" for f in checked.findings)
            status = "findings" if checked.findings else "ok"
            count, said = len(checked.findings), counted(checked.findings)
            listed.append({"file": str(path), "status": status, "findings": count, "said": said})
    findings += _twice(dict(together.values()))
    status = "unreadable" if unreadable else "findings" if findings else "ok"
    if as_json:
        found, noted = ([f.as_json() for f in some] for some in (findings, notes))
        terminal.print_json({"status": status, "findings": found, "notes": noted, "files": listed})
    else:
        print_findings(findings)
        print_findings(notes)
        screen = terminal.console()
        for entry in listed:
            words = entry.get("message") or {"ok": "OK", "findings": "CHECK"}[str(entry["status"])]
            said = f", {entry['said']}" if entry.get("said") else ""
            screen.print(escape(f"{entry['file']}: {words}{said}"), soft_wrap=True)
    return 4 if failed else 3 if unreadable else int(bool(findings))


def _twice(jobs: Mapping[str, Sequence[Trace]]) -> Iterator[Finding]:
    """Report what stands in two of the jobs that were checked together."""
    for file, found in shared(jobs).items():
        for one in found:
            mend = "take it out of the job it does not belong to"
            at = one.trace
            yield Finding("archive.twice", file, at.sheet, at.cell, one.words, mend)


def _named(step: Callable[[str], None], name: str) -> Callable[[str], None]:
    return lambda text: step(f"{name}, {text}")


@click.command("check")
@click.argument("files", type=PATH, nargs=-1, required=True)
@click.option(
    "--engine",
    type=click.Choice(("fast", "plain", "both")),
    default="fast",
    show_default=True,
    help="What recomputes the workbook; with both, a disagreement is a finding.",
)
@click.option("--json", "as_json", is_flag=True, help="Print the findings for a machine.")
def check_command(files: tuple[Path, ...], engine: str, as_json: bool) -> None:
    """Check workbooks: structure, entries, recomputed values and the job's own checks.

    A look is no fault: it is closed on the sheet Looks, and said all the same. Reading never
    changes a file. Exit codes: 0 clean and every look closed, 1 something to mend or a look open,
    2 wrong use, 3 a file that cannot be read, 4 a fault of Pourbook.
    """
    engines = ("fast", "plain") if engine == "both" else (engine,)
    sys.exit(run_check(files, engines, as_json=as_json))
