"""Accepts a quote: freezes what was quoted as values on Quoted, and keeps earlier acceptances.

Contract: :func:`accept` changes the cells of Quoted that commands write, the stored values of
formulas, and Price's option to offer where another one is named; nothing else that was typed. What
it writes comes from :mod:`pourbook.workbook.check.frozen`.
"""

from __future__ import annotations

import datetime as dt
import tempfile
from collections.abc import Callable, Mapping
from pathlib import Path

from pourbook.cells import Value, text
from pourbook.dates import from_serial
from pourbook.errors import InputError, UsageError
from pourbook.formats import files
from pourbook.formats.held import held
from pourbook.functions.own.entered import RESTS_ON
from pourbook.job.fill import fill
from pourbook.job.make import Scenario
from pourbook.records import dataclass
from pourbook.workbook.check import quoted
from pourbook.workbook.check.check import Checked, check_file
from pourbook.workbook.check.frozen import entries_of, frozen, number_of, records
from pourbook.workbook.check.quoted import Key
from pourbook.workbook.layout.laid_out import Layout
from pourbook.workbook.read.named import NamedCells

_WORKED_OUT = {*RESTS_ON, "Amounts", "Batches", quoted.SHEET}


@dataclass(frozen=True)
class Accepted:
    """What accepting came to.

    ``changed`` is False where the same quote stood accepted already, and the file was left alone.
    ``overall`` is the job's overall check afterwards.
    """

    path: Path
    revision: int
    option: str
    net: float
    gross: float
    currency: str
    on: dt.date
    by: str
    changed: bool
    overall: str


def accept(
    path: Path,
    target: Path | None = None,
    *,
    by: str = "",
    on: dt.date | None = None,
    change: str = "",
    option: str = "",
    force: bool = False,
    step: Callable[[str], None] = lambda _: None,
) -> Accepted:
    """Accept the quote of a job.

    Args:
        path: The job, ending in ``.xlsx`` or ``.xlsm``.
        target: A copy to write; the job itself is changed if left out.
        by: Who accepted it; the client on Start if left out.
        on: The day it was accepted; today if left out, or that of the last one if it is later.
        change: What a change order is for; needed once anything is logged on Used.
        option: The option accepted; the option to offer if left out. Another one becomes the option
            to offer, since batches, cards and buying go by it.
        force: Whether an existing copy may be replaced.
        step: Told of each step, for a progress display.

    Raises:
        FileUnreadableError: The job cannot be read, or a file is open elsewhere.
        UsageError: The target exists, or ends otherwise than the job.
        InputError: Entries are to be mended, the option has no price, or a table of Quoted is full.
    """
    goal = target or path
    if goal.suffix.lower() != path.suffix.lower():
        mend = f"name it {goal.stem}{path.suffix}"
        raise UsageError(f"the job ends in {path.suffix}, its copy does not", mend, str(goal))
    files.refuse_unless_free(goal, force=force or target is None)
    with held(goal):
        return _with_option(path, goal, option, _Said(by, on, change), step)


@dataclass(frozen=True)
class _Said:
    """What is told of an acceptance: by whom, on which day, and what a change order is for.

    ``made_up``: it is a scenario, which is written whole and accepted afterwards.
    """

    by: str
    on: dt.date | None
    change: str
    made_up: bool = False


def _with_option(
    path: Path, goal: Path, option: str, said: _Said, step: Callable[[str], None]
) -> Accepted:
    """Accept an option, in a copy first if it is not the one to offer."""
    checked = check_file(path, step=step, kinds=("job",))
    _refuse_unless_sound(checked)
    wanted = option.upper() or text(_get(checked, "rates", "option")).upper()
    if wanted == text(_get(checked, "rates", "option")).upper():
        return _accept(checked, path, goal, wanted, said, {}, step)
    with tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as folder:
        other = Path(folder) / path.name
        chosen: dict[Key, object] = {("rates", "option", 0): wanted}
        fill(path, other, chosen, force=True)
        checked = check_file(other, step=step)
        return _accept(checked, path, goal, wanted, said, chosen, step)


def accept_scenario(
    path: Path, scenario: Scenario, step: Callable[[str], None] = lambda _: None
) -> None:
    """Accept a job made from a scenario, on the day and by whom the scenario says, if it does."""
    if scenario.accepted:
        on = scenario.accepted.get("on")
        by = text(str(scenario.accepted.get("by", "")))
        day = on if isinstance(on, dt.date) else dt.date.today()
        _with_option(path, path, "", _Said(by, day, "", made_up=True), step)


def _accept(
    checked: Checked,
    path: Path,
    goal: Path,
    option: str,
    said: _Said,
    chosen: Mapping[Key, object],
    step: Callable[[str], None],
) -> Accepted:
    plan, book, values = checked.plan, checked.book, checked.values
    before = quoted.kept(plan, book)
    fresh = frozen(plan, book, values, option)
    if _stands(plan, before, fresh):
        overall = text(_get(checked, "overall", "overall"))
        return _told(plan, goal, before, changed=False, overall=overall)
    if not (said.change or said.made_up):
        _refuse_begun(checked)
    day = _day(before, said.on)
    by = said.by or text(_get(checked, "start", "client"))
    entries = entries_of(plan, before, fresh, by, day, said.change)
    step("writing Quoted")
    after = fill(path, goal, {**entries, **chosen}, force=True)
    cell = plan.cell("overall", "overall")
    stored = {key: value for key, value in entries.items() if value is not None}
    overall = text(after[cell.sheet, cell.address])
    return _told(plan, goal, stored, changed=True, overall=overall)


def _get(checked: Checked, block: str, name: str, index: int = 0) -> Value:
    return NamedCells(checked.plan, checked.book, checked.values).value(block, name, index)


def _refuse_unless_sound(checked: Checked) -> None:
    """Refuse a job whose entries or formulas are to be mended first.

    Raises:
        InputError: Names the first of them.
    """
    stopping = [
        f
        for f in checked.findings
        if (f.id.startswith("entry.") and f.sheet in RESTS_ON)
        or (f.id.startswith("structure.") and f.sheet in _WORKED_OUT)
        or f.id in {"structure.sheet", "function.failed"}
    ]
    if stopping:
        first = stopping[0]
        more = f" (and {len(stopping) - 1} more: pourbook check)" if len(stopping) > 1 else ""
        raise InputError(first.what, first.mend + more, f"{first.file}, {first.place}")


def _refuse_begun(checked: Checked) -> None:
    """Refuse to move what a job under way is held against without saying why.

    Raises:
        InputError: Something is logged on Used already; names the first row.
    """
    for block, name in (("log", "layer"), ("receipts", "product"), ("left", "product")):
        for index in range(checked.plan.block(block).rows):
            if text(_get(checked, block, name, index)):
                cell = checked.plan.cell(block, name, index)
                title = checked.plan.text(checked.plan.block(block).title)
                what = f"work has begun: '{title}' is not empty"
                mend = "say what changed: pourbook accept JOB --change 'island added'"
                raise InputError(what, mend, f"{cell.sheet}!{cell.address}")


def _day(before: Mapping[Key, Value], on: dt.date | None) -> dt.date:
    """Return the day of an acceptance, which never lies before the last: a clock may be set back.

    Raises:
        InputError: The day given lies before it.
    """
    number = before.get(("quoted", "accepted_on", 0))
    last = dt.date.min
    if isinstance(number, int | float):
        last = from_serial(number).date()
    if on is None:
        return max(dt.date.today(), last)
    if on < last:
        revision = int(number_of(before.get(("quoted", "revision", 0))))
        what = f"{on} lies before the day revision {revision} was accepted, {last}"
        raise InputError(what, "give that day or a later one: --on")
    return on


def _stands(plan: Layout, before: Mapping[Key, Value], fresh: Mapping[Key, Value]) -> bool:
    """Return whether what is accepted already is what accepting now would write, seal and all."""
    if not before or quoted.seal(plan, before) != text(before.get(("quoted", "seal", 0))):
        return False
    return all(
        quoted.close(before.get(key), fresh.get(key))
        for key in plan.kept_at
        if key in fresh or not (key[0].startswith("revision") or _left_to_the_day(key))
    )


def _left_to_the_day(key: Key) -> bool:
    block, name, row = key
    seals = block == "quoted_sheets" and row >= len(RESTS_ON)
    return seals or (block == "quoted" and name in quoted.OF_THE_DAY)


def _told(
    plan: Layout, path: Path, stored: Mapping[Key, Value], *, changed: bool, overall: str
) -> Accepted:
    price = {line["item"]: line.get("amount") for line in records(stored, "quoted_lines")}
    wanted = {f.id: plan.text(f.header) for f in plan.block("price").columns}
    day = number_of(stored.get(("quoted", "accepted_on", 0)))
    return Accepted(
        path=path,
        revision=int(number_of(stored.get(("quoted", "revision", 0)))),
        option=text(stored.get(("quoted", "option", 0))),
        net=number_of(price.get(wanted["net"])),
        gross=number_of(price.get(wanted["gross"])),
        currency=text(stored.get(("quoted", "currency", 0))),
        on=from_serial(day).date(),
        by=text(stored.get(("quoted", "accepted_by", 0))),
        changed=changed,
        overall=overall,
    )
