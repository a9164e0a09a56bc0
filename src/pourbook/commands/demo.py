"""``pourbook demo``: the main job on the demo, built, recomputed, checked and shown.

Contract: returns an exit code and prints the result; no arithmetic.
"""

from __future__ import annotations

import dataclasses
import datetime as dt
import sys
import uuid
from pathlib import Path

import click
from rich.markup import escape

from pourbook import resources
from pourbook.commands import terminal
from pourbook.commands.shop_book import make_demo_shop
from pourbook.commands.tell_job import print_tables
from pourbook.commands.terminal import PATH
from pourbook.errors import UsageError
from pourbook.formats import files as files_on_disk
from pourbook.job import books as bookkeeping
from pourbook.job import macros, make
from pourbook.job.accept import accept_scenario
from pourbook.workbook.check.check import Checked, check_file
from pourbook.workbook.tell import summary

DEMO_SHOP = "shop.xlsx"


DEMO = {"us": "demo.xlsx", "metric": "demo-metric.xlsx"}


DEMO_EXCEL, DEMO_BOOKS = "demo.xlsm", "demo-books.xlsx"


FOR_WHOM = {
    DEMO_EXCEL: "for the estimator with Excel on Windows; live after: pourbook addin excel install",
    DEMO["us"]: "for the estimator with LibreOffice Calc; live after: pourbook addin calc install",
    DEMO["metric"]: "the Calc workbook once more, in metric units",
    DEMO_BOOKS: "for the bookkeeper, and to print from: any spreadsheet program, no Pourbook",
    DEMO_SHOP: "the shop the job comes from: products, prices, stock",
}


def run_demo(folder: Path, *, force: bool, as_json: bool) -> int:
    """Build, recompute and check the demo and its metric twin, and show the job."""
    if folder.exists() and not folder.is_dir():
        raise UsageError("this is a file", "name a folder", str(folder))
    folder.mkdir(parents=True, exist_ok=True)
    for file in FOR_WHOM:
        files_on_disk.refuse_unless_free(folder / file, force=force)
    done: list[Checked] = []
    one_job = uuid.uuid4().hex  # the metric twin is the same job once more
    with terminal.progress("demo") as step:
        for name, file in DEMO.items():
            scenario = make.read_scenario(resources.folder("shared") / "demo" / f"{name}.toml")
            target = folder / file
            make.make(
                target,
                scenario.system,
                scenario.entries,
                force=force,
                step=step,
                identity=one_job,
            )
            accept_scenario(target, scenario, step)
            done.append(check_file(target, step=step))
        plain, live, copy = (folder / f for f in (DEMO["us"], DEMO_EXCEL, DEMO_BOOKS))
        files_on_disk.replace_file(live, lambda new: macros.enable(plain, new), force=force)
        done.append(check_file(live, step=step))
        bookkeeping.books_copy(plain, copy, force=force, made=dt.datetime.now())
        make_demo_shop(folder / DEMO_SHOP, force=force, step=step)
    findings = [f for checked in done for f in checked.findings]
    if as_json:
        terminal.print_json(
            {
                "status": "findings" if findings else "ok",
                "findings": [f.as_json() for f in findings],
                "files": [str(c.book.path) for c in done],
                "books": str(copy),
                "job": [dataclasses.asdict(t) for t in summary.tables(done[0])],
            }
        )
    else:
        screen = terminal.console()
        print_tables(summary.brief(done[0]))
        screen.print("\nWritten and checked:")
        for file, words in FOR_WHOM.items():
            screen.print(escape(f"{folder / file}: {words}"), soft_wrap=True)
        terminal.print_findings(findings)
        screen.print("Open one and begin on the sheet Start.")
    return int(bool(findings))


@click.command("demo")
@click.argument("folder", type=PATH, default=Path("pourbook-demo"))
@click.option("--force", is_flag=True, help="Replace demo files that are there already.")
@click.option("--json", "as_json", is_flag=True, help="Print the summary for a machine.")
def demo_command(folder: Path, force: bool, as_json: bool) -> None:
    """Run the main job on the demo: build, recompute, check, and show what came out.

    The files stay in FOLDER (pourbook-demo if left out): demo.xlsm for Excel on Windows, demo.xlsx
    for LibreOffice Calc, demo-metric.xlsx, the same job in metric units, demo-books.xlsx, the
    bookkeeper's copy, and shop.xlsx, the shop the job was begun from.
    """
    sys.exit(run_demo(folder, force=force, as_json=as_json))
