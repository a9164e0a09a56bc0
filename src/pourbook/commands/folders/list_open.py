"""What ``pourbook open`` does: tells of each job of a folder where it stands and what it lacks.

Contract: as of :mod:`.commands`; nothing is changed. That a job lacks something is no finding: the
exit code is 1 only where a file could not be read, or a job has findings that stop its settling.
"""

from __future__ import annotations

import sys
from collections.abc import Sequence
from pathlib import Path

import click
from rich.markup import escape

from pourbook.archive import folder as archive
from pourbook.archive.record import FINDINGS
from pourbook.archive.still_open import DONE, PHASES, Missing, Stand
from pourbook.commands import terminal
from pourbook.commands.terminal import PATH
from pourbook.dates import from_serial
from pourbook.errors import UsageError

HEADS = ("Job", "Phase", "Lacks", "Ask", "Where")
NOTHING = "nothing: pourbook settle --close"


def run_open(folder: Path, phase: str, *, as_json: bool, dask: str = "") -> int:
    """Print what every job of a folder lacks."""
    with terminal.bar("reading jobs") as step:
        found = archive.look(folder, step, dask=dask)
    jobs = [one for one in found if one.kind == archive.JOB and one.job]
    if not jobs:
        said = "; ".join(f"{one.file}: {one.why}" for one in found[:3])
        raise UsageError(f"no job could be read ({said})", "name another folder", str(folder))
    left = [one for one in found if one.kind == archive.LEFT_OUT]
    stopped = [one for one in jobs if one.job and one.job.state == FINDINGS]
    shown = [one for one in jobs if _stand(one).phase == phase or (not phase and _is_open(one))]
    code = int(bool(left or stopped))
    if as_json:
        terminal.print_json(
            {
                "status": "findings" if code else "ok",
                "jobs": [_as_json(one) for one in shown],
                "left_out": [{"file": one.file, "why": one.why} for one in left],
            }
        )
        return code
    screen = terminal.console()
    if shown:
        rows = [row for one in shown for row in _rows(one)]
        screen.print(terminal.table("What is open", HEADS, rows, "lllll"))
        screen.print()
    for one in stopped:
        screen.print(escape(f"CHECK  {one.file}: {one.why}"), soft_wrap=True)
    for one in left:
        screen.print(escape(f"CHECK  {one.file}: left out: {one.why}"), soft_wrap=True)
    screen.print(_counted(jobs))
    return code


def _stand(one: archive.Found) -> Stand:
    assert one.job is not None
    assert one.job.stand is not None
    return one.job.stand


def _is_open(one: archive.Found) -> bool:
    return _stand(one).phase != DONE


def _rows(one: archive.Found) -> list[Sequence[str]]:
    """Return a row for each thing a job lacks; its name and phase stand in the first."""
    stand = _stand(one)
    assert one.job is not None
    listed = [(m.what if m.needed else f"({m.what})", m.ask, _place(m)) for m in stand.missing]
    first = (NOTHING, "", "")
    if (
        stand.phase != DONE
        and not any(m.needed for m in stand.missing)
        and one.job.state != FINDINGS
    ):
        listed = [first, *listed]
    listed = listed or [("", "", "")]
    heads = [(f"{one.job.job}\n{one.file}", stand.phase), *[("", "")] * len(listed)]
    return [(*head, *row) for head, row in zip(heads, listed, strict=False)]


def _place(missing: Missing) -> str:
    return f"{missing.sheet}!{missing.cell}"


def _as_json(one: archive.Found) -> dict[str, object]:
    stand, job = _stand(one), one.job
    assert job is not None
    accepted = None if job.accepted_on is None else from_serial(job.accepted_on).date()
    return {
        "file": one.file,
        "job": job.job,
        "client": job.client,
        "phase": stand.phase,
        "accepted_on": accepted and accepted.isoformat(),
        "why": one.why,
        "missing": [
            {"what": m.what, "ask": m.ask, "sheet": m.sheet, "cell": m.cell, "needed": m.needed}
            for m in stand.missing
        ],
    }


def _counted(jobs: Sequence[archive.Found]) -> str:
    counts: dict[str, int] = {}
    for one in jobs:
        counts[_stand(one).phase] = counts.get(_stand(one).phase, 0) + 1
    return f"{len(jobs)} jobs: " + ", ".join(f"{count} {name}" for name, count in counts.items())


@click.command("open")
@click.argument("folder", type=PATH)
@click.option("--phase", type=click.Choice(PHASES), help="Only the jobs of one phase.")
@click.option("--json", "as_json", is_flag=True, help="Print the list for a machine.")
@terminal.DASK
def open_command(folder: Path, phase: str | None, *, as_json: bool, dask: str) -> None:
    """Tell of every job of a folder where it stands and what it lacks to be settled.

    Closed jobs are counted, and listed with --phase closed.
    What to ask for stands in the order to ask for it, with whom to ask and the cell it goes into;
    in brackets is what may stay blank. Exit codes: 0 all was read, 1 a file could not be read or a
    job's figures are wrong, 2 wrong use.
    """
    sys.exit(run_open(folder, phase or "", as_json=as_json, dask=dask))
