"""What ``pourbook check`` does: checks workbooks one by one, and jobs against each other.

Contract: as of :mod:`.commands`; one file that cannot be read never stops the others.
"""

from __future__ import annotations

import sys
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from functools import partial
from pathlib import Path

import click

from pourbook.archive import told
from pourbook.archive.told import OneFile
from pourbook.archive.twice import Trace, shared
from pourbook.commands import terminal
from pourbook.commands.terminal import PATH, print_findings
from pourbook.errors import UsageError
from pourbook.formats import files as files_
from pourbook.workbook.check.findings import Finding

MANY = 3
"""Of more files than this it is said how many there are of each kind."""


def run_check(
    files: Sequence[Path],
    engines: tuple[str, ...],
    *,
    as_json: bool,
    report: Path | None = None,
    since: Path | None = None,
    dask: str = "",
) -> int:
    """Check workbooks and report findings; one unreadable file does not stop the others."""
    if report is not None and report.suffix.lower() not in told.WRITERS:
        mend = f"name it {report.stem}.json, .csv or .xml (JUnit)"
        raise UsageError("a report ends in .json, .csv or .xml", mend, str(report))
    known = told.earlier(since) if since is not None else {}
    listed = _together(_all(files, engines, known, dask))
    findings = [f for one in listed for f in one.findings]
    notes = [f for one in listed for f in one.notes]
    worst = (told.UNREADABLE, told.FINDINGS)
    status = next((s for s in worst if any(one.status == s for one in listed)), told.OK)
    if report is not None:
        text = told.WRITERS[report.suffix.lower()](listed)
        files_.replace_file(report, lambda new: _write(new, text), force=True)
    if as_json:
        found, noted = ([f.as_json() for f in some] for some in (findings, notes))
        content = {"status": status, "findings": found, "notes": noted}
        terminal.print_json({**content, "files": [_as_json(one) for one in listed]})
    else:
        print_findings(findings)
        print_findings(notes)
        _print(listed)
    if any(one.failed for one in listed):
        return 4
    return 3 if status == told.UNREADABLE else int(bool(findings))


def _all(
    files: Sequence[Path],
    engines: tuple[str, ...],
    known: Mapping[tuple[str, str], OneFile],
    dask: str,
) -> list[OneFile]:
    """Check every file, and every workbook of every folder; those that did not change stay."""
    listed: list[OneFile] = []
    work: list[tuple[Path, bool]] = []
    for path in files:
        if not path.is_dir():
            work.append((path, False))
            continue
        below, closed = _below(path)
        work += [(one, True) for one in below]
        listed += closed
    fresh = []
    for path, passing in work:
        same = known.get((str(path), told.digest_of(path))) if known else None
        if same is None:
            fresh.append((path, passing))
        else:
            listed.append(same)
    if len(work) == 1 and not dask:
        with terminal.progress("check") as step:
            step(work[0][0].name)
            return [*listed, *(told.tell(path, engines, passing=p) for path, p in fresh)]
    from pourbook.archive import cluster  # noqa: PLC0415 - of many files alone

    passed = {path for path, passing in fresh if passing}
    paths = [path for path, _ in fresh]
    named = {str(path.resolve()): str(path) for path in paths} if dask else {}
    tell = partial(_tell, engines, frozenset(p.resolve() if dask else p for p in passed))
    with terminal.bar("check") as shown:
        shown(0, len(paths))
        for one in cluster.anywhere(tell, paths, told.ended, address=dask):
            listed.append(replace(one, file=named.get(one.file, one.file)))
            shown(len(listed), len(work))
    order = {str(path): place for place, (path, _) in enumerate(work)}
    return sorted(listed, key=lambda one: order.get(one.file, -1))


def _below(path: Path) -> tuple[list[Path], list[OneFile]]:
    """Return the workbooks below a folder, and what cannot be looked at.

    Raises:
        UsageError: There is neither.
    """
    from pourbook.archive import folder  # noqa: PLC0415 - it brings all that reads many jobs

    below, closed = folder.find(path)
    read = [one for one in below if folder.is_read(one)]
    if not read and not closed:
        mend = "name a job, or the folder that holds the jobs"
        raise UsageError("there is no workbook in this folder", mend, str(path))
    return read, [OneFile(one.file, told.UNREADABLE, one.why) for one in closed]


def _tell(engines: tuple[str, ...], passing: frozenset[Path], path: Path) -> OneFile:
    return told.tell(path, engines, passing=path in passing)


def _together(listed: list[OneFile]) -> list[OneFile]:
    """Add what stands in two of the jobs; of several files of one job the last is held to it."""
    last = {one.mark: one for one in listed if one.mark}
    found: dict[str, list[Finding]] = {}
    for finding in _twice({one.file: one.traces for one in last.values()}):
        found.setdefault(finding.file, []).append(finding)
    named = {one.file: Path(one.file).name for one in listed}
    return [
        one.with_more([replace(f, file=named[one.file]) for f in found.get(one.file, [])])
        for one in listed
    ]


def _as_json(one: OneFile) -> dict[str, object]:
    if one.message:
        return {"file": one.file, "status": one.status, "message": one.message}
    count = len(one.findings)
    return {"file": one.file, "status": one.status, "findings": count, "said": one.said}


def _print(listed: Sequence[OneFile]) -> None:
    for one in listed:
        words = one.message or {told.OK: "OK", told.FINDINGS: "CHECK"}[one.status]
        words = f"passed over: {words}" if one.status == told.PASSED else words
        said = f", {one.said}" if one.said else ""
        click.echo(f"{one.file}: {words}{said}")
    if len(listed) > MANY:
        counts = Counter(one.status for one in listed)
        told_of = ", ".join(f"{count} {status}" for status, count in counts.items())
        click.echo(f"{len(listed)} files: {told_of}")


def _write(path: Path, text: str) -> None:
    path.write_text(text, encoding="utf-8", newline="")


def _twice(jobs: Mapping[str, Sequence[Trace]]) -> Iterator[Finding]:
    """Report what stands in two of the jobs that were checked together."""
    for file, found in shared(jobs).items():
        for one in found:
            mend = "take it out of the job it does not belong to"
            at = one.trace
            yield Finding("archive.twice", file, at.sheet, at.cell, one.words, mend)


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
@click.option("--report", type=PATH, help="Write a report: .json, .csv, or .xml as JUnit has it.")
@click.option(
    "--since", type=PATH, help="Check only what changed since a report that ends in .json."
)
@terminal.DASK
def check_command(
    files: tuple[Path, ...],
    engine: str,
    as_json: bool,
    report: Path | None,
    since: Path | None,
    dask: str,
) -> None:
    """Check workbooks: structure, entries, recomputed values and the job's own checks.

    Of a folder every workbook is checked, and of those below it, in several processes.

    A look is no fault: it is closed on the sheet Looks, and said all the same. Reading never
    changes a file. Exit codes: 0 clean and every look closed, 1 something to mend or a look open,
    2 wrong use, 3 a file that cannot be read, 4 a fault of Pourbook.
    """
    engines = ("fast", "plain") if engine == "both" else (engine,)
    more = {"report": report, "since": since}
    sys.exit(run_check(files, engines, as_json=as_json, dask=dask, **more))
