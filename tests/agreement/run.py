"""The same random jobs through the pipeline and three hosts, and whether they all agree.

Run by hand with ``python tests/agreement/run.py --jobs 200 --seed 1``, with LibreOffice and
python3-uno installed. It prints its progress, every disagreement with job seed, sheet and cell, and
one line of figures; it ends with 1 when anything disagrees. ``--kept FILE`` keeps what was compared
so far: the same command goes on from there, so long as nothing of the program or of this folder is
another.
"""

from __future__ import annotations

import argparse
import hashlib
import json
import shutil
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import asdict
from functools import cache
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(ROOT)]  # run as a script

from tests.agreement import hosts, jobs  # noqa: E402
from tests.agreement.compare import Tally, compare  # noqa: E402
from tests.hosts.calc_live import calc_program  # noqa: E402
from tests.plain_memory import remembering  # noqa: E402

from pourbook.cells import Address, Value  # noqa: E402
from pourbook.formats.files import replace_file  # noqa: E402

Found = dict[str, dict[Address, Value]]
PATIENCE = 120
"""Seconds LibreOffice may take for one workbook more before it is given up."""


SLOW = frozenset({"Mix cards", "Hours"})
"""Sheets whose many formulas only the other two hosts work out, but for every tenth job."""


def write(task: tuple[int, Path]) -> None:
    """Write the workbook of one seed."""
    hosts.write(jobs.make(task[0]), task[1])


def work_out(task: tuple[int, Path, Path, bool]) -> Found:
    """Return the pipeline's and the headless engines' cells of one job.

    The task is its seed, its workbook, a folder for a copy under the one name all have, and whether
    the engine that takes its time is left out.
    """
    seed, book, folder, quick = task
    sample = jobs.make(seed)
    every_tenth = seed % 10 == 0
    without = frozenset() if every_tenth else SLOW
    if quick:
        (hosts.write if every_tenth else hosts.write_quickly)(sample, book)
    with tempfile.TemporaryDirectory(dir=folder) as own, remembering(without):
        copy = Path(shutil.copy(book, Path(own) / "job.xlsx"))
        fast = hosts.engine("fast", copy, sample.system)
        plain = {} if quick else hosts.engine("plain", copy, sample.system, without)
        code = hosts.confirmed(copy, sample.system, fast)
    found = {"formualizer": fast, "formulas": plain, "code": code}
    return {"pipeline": hosts.expected(sample), **found}


def run(
    seeds: Sequence[int],
    folder: Path,
    *,
    program: str | None,
    workers: int,
    say: Callable[[str], object],
    quick: bool = False,
    keep: Callable[[Tally], object] = bool,
    tally: Tally | None = None,
) -> Tally:
    """Take jobs through all hosts.

    Args:
        seeds: The seeds of the jobs.
        folder: Where to put files.
        program: LibreOffice, or None to leave it out.
        workers: Processes beside LibreOffice; 0 works in this one.
        say: Is told of the progress.
        quick: Whether the engine that takes its time is left out.
        keep: Is given what was compared, every 20 jobs and at the end.
        tally: What was compared before; it is added to.
    """
    books = [folder / f"job-{seed}.xlsx" for seed in seeds]
    answers = [folder / f"job-{seed}.json" for seed in seeds]
    tally = Tally() if tally is None else tally
    whole = tally.jobs + len(books)
    with ProcessPoolExecutor(max(workers, 1)) as pool:
        spread = pool.map if workers else map
        if not quick:  # else each is written in its turn
            for _ in spread(write, zip(seeds, books, strict=True)):
                pass
            say(f"{len(books)} workbooks written")
        office = None
        if program:
            office = hosts.start_calc(program, folder, list(zip(books, answers, strict=True)))
        tasks = [(seed, book, folder, quick) for seed, book in zip(seeds, books, strict=True)]
        try:
            for seed, answer, found in zip(seeds, answers, spread(work_out, tasks), strict=True):
                system = jobs.system_of(seed)
                pipeline = found.pop("pipeline")
                if office:
                    _wait(answer, office)
                    found["LibreOffice"] = hosts.calc_answer(answer, system)
                    answer.unlink()
                compare(seed, jobs.layout(system), found, pipeline, tally)
                say(f"job {seed} ({system}): {tally.cells} cells, {len(tally.apart)} apart")
                Path(folder / f"job-{seed}.xlsx").unlink()
                if tally.jobs % 20 == 0:
                    say(figures(tally))
                    keep(tally)
            keep(tally)
        finally:
            if office:
                if len(tally.apart) or tally.jobs < whole:
                    office.terminate()
                office.communicate(timeout=PATIENCE)
    return tally


def _wait(answer: Path, office: hosts.Office) -> None:
    end = time.monotonic() + PATIENCE
    while not answer.exists():
        code = office.poll()
        if code is not None and not answer.exists():
            raise RuntimeError(f"LibreOffice ended ({code}): {office.communicate()[1]}")
        if time.monotonic() > end:
            raise RuntimeError(f"LibreOffice gave no {answer.name} in {PATIENCE} s")
        time.sleep(0.1)


def figures(tally: Tally) -> str:
    """Return the one line of figures."""
    largest = ", ".join(
        f"{name} {far:.1e} of {tally.by_host[name]} cells"
        for name, (far, _) in sorted(tally.largest.items())
    )
    return (
        f"{tally.jobs} jobs, {tally.cells} cells compared ({tally.numbers} numbers, "
        f"{tally.refusals} refusals; {tally.native} worked out a second time by the pipeline, "
        f"{tally.called} of blocks held to a plain call of their function); "
        f"largest relative difference: {largest}; "
        f"{len(tally.apart)} cells apart, {tally.cents} cents differing, "
        f"{len(tally.edges)} at a rounding edge"
    )


def _lines(tally: Tally) -> Iterator[str]:
    for kind, listed in (("apart", tally.apart), ("rounding edge", tally.edges)):
        yield from (f"{kind}: {line}" for line in listed[:50])
        if len(listed) > 50:
            yield f"{kind}: and {len(listed) - 50} more"
    for name, (far, place) in sorted(tally.largest.items()):
        yield f"largest, {name}: {far:.3g} at {place}"


@cache
def _version() -> str:
    """Return a digest of the program, its templates, and what stands beside this file, as run."""
    found = hashlib.sha256()
    for folder in ("src/pourbook", "workbook_templates", "tests/agreement"):
        for path in sorted((ROOT / folder).rglob("*.*")):
            if path.suffix in {".py", ".toml"}:
                found.update(path.read_bytes())
    return found.hexdigest()


def read_kept(file: Path, first: int) -> Tally:
    """Return what was compared before, by the file it was kept in; nothing when there is none.

    Raises:
        SystemExit: It is of another version, or began with another job.
    """
    if not file.exists():
        return Tally()
    kept = json.loads(file.read_text(encoding="utf-8"))
    if (kept["version"], kept["first"]) != (_version(), first):
        raise SystemExit(f"{file} is of another version or of other jobs: give another name")
    kept["tally"]["largest"] = {n: tuple(far) for n, far in kept["tally"]["largest"].items()}
    return Tally(**kept["tally"])


def write_kept(file: Path, first: int, tally: Tally) -> None:
    """Keep what was compared so far in a file."""
    kept = {"version": _version(), "first": first, "tally": asdict(tally)}
    replace_file(file, lambda part: _write(part, json.dumps(kept)), force=True)


def _write(file: Path, text: str) -> None:
    file.write_text(text, encoding="utf-8")


def main() -> int:
    """Run from the command line."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--jobs", type=int, default=200)
    parser.add_argument("--seed", type=int, default=1, help="the seed of the first job")
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--without-libreoffice", action="store_true")
    said = "the fast engine and the code of formulas alone: ten thousand jobs in a night"
    parser.add_argument("--quick", action="store_true", help=said)
    parser.add_argument("--kept", type=Path, help="where to keep what was compared, to go on")
    given = parser.parse_args()
    program, reason = calc_program()
    if given.without_libreoffice or given.quick:
        program = None
    elif program is None:
        parser.error(f"{reason}; or run --without-libreoffice")
    start = time.perf_counter()
    kept: Path | None = given.kept
    before = read_kept(kept, given.seed) if kept else Tally()
    seeds = range(given.seed + before.jobs, given.seed + given.jobs)
    print("jobs by system:", dict(Counter(jobs.system_of(seed) for seed in seeds)))

    def say(text: str) -> None:
        print(f"{time.perf_counter() - start:6.0f} s  {text}", flush=True)

    def keep(tally: Tally) -> None:
        if kept:
            write_kept(kept, given.seed, tally)

    with tempfile.TemporaryDirectory() as folder:
        tally = run(
            seeds, Path(folder), program=program, workers=given.workers, say=say, quick=given.quick,
            keep=keep, tally=before,
        )  # fmt: skip
    for line in _lines(tally):
        print(line)
    print(f"{figures(tally)}; {time.perf_counter() - start:.0f} s")
    return 1 if tally.apart or tally.jobs < given.jobs else 0


if __name__ == "__main__":
    sys.exit(main())
