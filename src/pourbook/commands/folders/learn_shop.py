"""What ``pourbook learn`` does: prints what settled jobs teach and writes it to the shop.

Contract: as of :mod:`.commands`. The shop workbook is changed only with ``--shop``, in its
sheet Learned, with ``--finishes`` in its finishes too, and only after everything was worked out.
"""

from __future__ import annotations

import datetime as dt
import sys
from collections.abc import Sequence
from pathlib import Path

import click
from rich.markup import escape

from pourbook.archive import finish_lessons, learned_sheet
from pourbook.archive import folder as archive
from pourbook.archive.finish_lessons import ForFinish
from pourbook.archive.learn import CONFIDENCE, Lesson, Skipped, lessons, usual_prior
from pourbook.archive.record import SETTLED
from pourbook.commands import terminal
from pourbook.commands.terminal import PATH
from pourbook.errors import UsageError
from pourbook.formats.held import held
from pourbook.job.fill import fill
from pourbook.units import SYSTEMS, System

HEADS = ("Product", "Layer", "Surfaces", "Jobs", "Film read", "Loss", "Plan with", "Scatter")
SAID = (
    "Loss is all that was mixed and did not stay on the surface: bucket, tools and run-off too.",
    "Where you plan with it, leave those other losses of Layers blank.",
)


def run_learn(
    folder: Path,
    shop_path: Path | None,
    confidence: float | None,
    *,
    as_json: bool,
    finishes: bool = False,
    dask: str = "",
) -> int:
    """Learn losses and pace from the settled jobs of a folder."""
    if finishes and not shop_path:
        raise UsageError("the finishes are those of a shop", "add --shop SHOP.xlsx", "--finishes")
    with held(*([shop_path] if shop_path else [])):
        return _learn(folder, shop_path, confidence, as_json=as_json, finishes=finishes, dask=dask)


def _learn(
    folder: Path,
    shop_path: Path | None,
    confidence: float | None,
    *,
    as_json: bool,
    finishes: bool,
    dask: str,
) -> int:
    shop = learned_sheet.read(shop_path) if shop_path else None
    with terminal.bar("reading jobs") as step:
        found = archive.look(folder, step, dask=dask)
    prior = shop.prior if shop else usual_prior()
    share = confidence or (shop.confidence if shop else CONFIDENCE)
    learned, skipped = lessons(found, prior, share, shop.own if shop else None)
    settled = [f for f in found if f.kind == archive.JOB and f.job and f.job.state == SETTLED]
    left = [f for f in found if f.kind == archive.LEFT_OUT]
    systems = [f.job.system for f in settled if f.job]
    system = shop.system if shop else SYSTEMS[systems[0] if systems else "us"]
    rows: list[ForFinish] = []
    if shop and shop_path and learned:
        with terminal.progress("learn"):
            rows = finish_lessons.for_finishes(shop, learned)
            today = dt.date.today()
            written = learned_sheet.entries(shop, learned, today)
            if finishes:
                written |= finish_lessons.entries(rows, today)
            fill(shop_path, shop_path, written, force=True)
    code = int(bool(skipped or left))
    if as_json:
        terminal.print_json(
            {
                "status": "findings" if code else "ok",
                "jobs": len(settled),
                "confidence": share,
                "prior": {"loss": prior.typical, "spread": prior.spread, "jobs": prior.worth},
                "kinds": [_as_json(lesson, system) for lesson in learned],
                "finishes": [_row_as_json(one, taken=finishes) for one in rows],
                "skipped": [{"file": s.file, **_names(s), "why": s.why} for s in skipped],
                "left_out": [{"file": f.file, "why": f.why} for f in left],
            }
        )
        return code
    _print(learned, skipped, system, share)
    screen = terminal.console()
    for one in left:
        screen.print(escape(f"CHECK  {one.file}: left out: {one.why}"), soft_wrap=True)
    for one in found:
        if one.job and one.kind == archive.JOB and one.job.state != SETTLED:
            screen.print(escape(f"{one.file}: {one.job.state}: {one.why}"), soft_wrap=True)
    words = f"{len(settled)} settled jobs. Usual loss {prior.typical:.1%}, worth {prior.worth:g}"
    screen.print(escape(f"{words} jobs."), soft_wrap=True)
    if shop_path and learned:
        screen.print(escape(f"Written to Learned of {shop_path}"), soft_wrap=True)
        _print_finishes(rows, folder, shop_path, taken=finishes)
    return code


def _print_finishes(rows: Sequence[ForFinish], folder: Path, shop: Path, *, taken: bool) -> None:
    """Say what the finishes took, or which of their figures the jobs have overtaken."""
    screen = terminal.console()
    fresh = [one for one in rows if one.differs and (taken or one.surer)]
    if not fresh:
        return
    if taken:
        screen.print("Finishes plan with what was learned; run-off and hold-back are in the loss:")
    else:
        screen.print("Surer by now than what is typed on Finishes:")
    for one in fresh:
        screen.print(escape(f"  {one.describe()}"), soft_wrap=True)
    if not taken:
        words = f"Let the finishes take it: pourbook learn {folder} --shop {shop} --finishes"
        screen.print(escape(words), soft_wrap=True)


def _row_as_json(one: ForFinish, *, taken: bool) -> dict[str, object]:
    return {
        "finish": one.finish,
        "cell": one.place,
        "before": one.before,
        "loss": one.loss,
        "pace": one.pace,
        "jobs": one.lesson.jobs,
        "surer": one.surer,
        "taken": taken and one.differs,
    }


def _print(
    learned: Sequence[Lesson], skipped: Sequence[Skipped], system: System, share: float
) -> None:
    screen = terminal.console()
    unit = f"{system.area}/h"
    heads = (*HEADS, f"Pace, {unit}", f"Plan with, {unit}", "Jobs")
    rows = [
        (
            lesson.kind.product,
            lesson.kind.layer or "all",
            lesson.kind.surface or "all",
            str(lesson.jobs),
            str(lesson.read),
            f"{lesson.loss:.1%}",
            f"{lesson.suggested:.1%}",
            f"{lesson.spread:.2f}",
            _shown(learned_sheet.pace_in(lesson.pace, system)),
            _shown(learned_sheet.pace_in(lesson.slow_pace, system)),
            str(lesson.pace_jobs),
        )
        for lesson in learned
    ]
    if rows:
        title = f"Learned; planned with, the mix is enough {share:.0%} of the time"
        screen.print(terminal.table(title, heads, rows, "lllrrrrrrrr"))
        screen.print()
        screen.print("\n".join(SAID))
    else:
        screen.print("Nothing learned yet: no settled job tells film and mix of a layer.")
    for one in skipped:
        kind = ", ".join(word for word in _names(one).values() if word)
        screen.print(escape(f"CHECK  {one.file}: {kind}: left out: {one.why}"), soft_wrap=True)


def _names(one: Lesson | Skipped) -> dict[str, str]:
    kind = one.kind
    return {"product": kind.product, "layer": kind.layer, "surface": kind.surface}


def _shown(value: float | None) -> str:
    return "" if value is None else f"{value:,.1f}"


def _as_json(lesson: Lesson, system: System) -> dict[str, object]:
    return {
        **_names(lesson),
        "jobs": lesson.jobs,
        "film_read": lesson.read,
        "loss": lesson.loss,
        "suggested": lesson.suggested,
        "spread": lesson.spread,
        "pace": learned_sheet.pace_in(lesson.pace, system),
        "suggested_pace": learned_sheet.pace_in(lesson.slow_pace, system),
        "pace_spread": lesson.pace_spread,
        "pace_jobs": lesson.pace_jobs,
        "pace_unit": f"{system.area}/h",
    }


@click.command("learn")
@click.argument("folder", type=PATH)
@click.option("--shop", type=PATH, help="The shop's workbook: write to its sheet Learned.")
@click.option(
    "--confidence",
    type=click.FloatRange(0.5, 0.999),
    help="How often the suggested loss is to be enough; the shop's if left out, else 0.9.",
)
@click.option("--json", "as_json", is_flag=True, help="Print what was learned for a machine.")
@click.option("--finishes", is_flag=True, help="Let the shop's finishes take loss and pace.")
@terminal.DASK
def learn_command(
    folder: Path,
    shop: Path | None,
    confidence: float | None,
    *,
    as_json: bool,
    finishes: bool,
    dask: str,
) -> None:
    """Learn from the settled jobs of a folder what is lost of each product, and the pace.

    By product, layer and surfaces: few jobs lean on the shop's own figure. Exit codes: 0 all was
    used, 1 a file or a layer of a settled job was left out (it is said why).

    With --finishes the shop's finishes plan with what was learned: the loss in place of run-off and
    hold-back, the pace where the row says how many hands; each row keeps in words since when, from
    how many jobs, and what it planned with before.
    """
    sys.exit(run_learn(folder, shop, confidence, as_json=as_json, finishes=finishes, dask=dask))
