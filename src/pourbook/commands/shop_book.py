"""What the commands about the shop's workbook do: make it, and book what a job took.

Contract: as :mod:`.commands`: each returns an exit code and prints its result; nothing is
worked out here.
"""

from __future__ import annotations

import dataclasses
import datetime as dt
import sys
from collections.abc import Callable
from pathlib import Path

import click
from rich.markup import escape

from pourbook import resources
from pourbook.commands import terminal
from pourbook.commands.terminal import PATH, SYSTEM_NAMES
from pourbook.errors import UsageError
from pourbook.formats import files as files_on_disk
from pourbook.job import macros, make
from pourbook.shop import call_job, shop, starter, stock_job
from pourbook.shop.stock import Movement
from pourbook.workbook.check.check import check_file
from pourbook.workbook.check.reader import Reader

ROWS = 300


def run_new_shop(target: Path, system: str, rows: int, *, force: bool, empty: bool = False) -> int:
    """Make a shop workbook for today, with usual figures unless it is to be empty."""
    if target.suffix.lower() not in {".xlsx", macros.SUFFIX}:
        mend = f"name it {target.stem}.xlsx, or {target.stem}{macros.SUFFIX} for Excel"
        raise UsageError(f"a shop workbook ends in .xlsx or {macros.SUFFIX}", mend, str(target))
    today = dt.date.today()
    entries: make.Entries = {} if empty else starter.entries(system, "shop", today)
    entries["start", "day", 0] = today
    with terminal.progress("new shop") as step:
        make.make(target, system, entries, book="shop", pieces=rows, force=force, step=step)
    screen = terminal.console()
    screen.print(escape(f"Written: {target}, with room for {rows} movements of stock"))
    screen.print("Fill in Start, Products and Prices; then: pourbook new JOB.xlsx --shop SHOP.xlsx")
    return 0


def make_demo_shop(target: Path, *, force: bool, step: Callable[[str], None]) -> None:
    """Make the demo's shop: the products and prices of the demo job."""
    scenario = make.read_scenario(resources.folder("shared") / "demo" / "shop.toml")
    make.make(
        target,
        scenario.system,
        scenario.entries,
        book="shop",
        pieces=ROWS,
        force=force,
        step=step,
    )


def from_shop(
    path: Path, system: str, day: dt.date | None, call: int | None = None
) -> tuple[str, shop.FromShop]:
    """Return the measure system of a new job and what it takes from a shop.

    Args:
        path: The shop's workbook.
        system: The system asked for; that of the shop if blank.
        day: The day of the quote; today if None.
        call: The number of a call that becomes the job.
    """
    checked = check_file(path)
    if checked.plan.book.book != "shop":
        mend = "name a shop workbook; make one with: pourbook new-shop SHOP.xlsx"
        raise UsageError("this is no shop workbook", mend, str(path))
    chosen = system or checked.plan.system.name
    reader = Reader(checked)
    taken = shop.entries_for(reader, chosen, day or dt.date.today())
    if call is None:
        return chosen, taken
    asked = call_job.entries_of(reader, call, chosen)
    notes = (*asked.notes, *taken.notes)
    return chosen, shop.FromShop({**taken.entries, **asked.entries}, notes)


def run_stock(path: Path, source: Path, *, dry_run: bool, copied: bool, as_json: bool) -> int:
    """Book what a job took from the shelf and gave back."""
    if not dry_run:
        for file in (path, source) if copied else (path,):
            files_on_disk.refuse_unless_free(file, force=True)
    with terminal.progress("stock"):
        done = stock_job.book(path, source, dry_run=dry_run, copied=copied)
    if as_json:
        terminal.print_json(
            {
                "status": "ok",
                "dry_run": dry_run,
                "booked": [_listed(one) for one in done.new],
                "already": done.already,
            }
        )
        return 0
    screen = terminal.console()
    if done.new:
        heads = ("Day", "Kind", "Product", "Holds", "Lot", "Amount", "Value")
        rows = [
            (
                str(one.date),
                one.kind,
                one.product,
                one.holds,
                one.lot,
                f"{one.amount:,.3f}",
                f"{one.value:,.2f}",
            )
            for one in done.new
        ]
        screen.print(terminal.table("Movements", heads, rows, "lllllrr"))
    said = "would be booked" if dry_run else "booked"
    words = f"{len(done.new)} movements {said} in {path}, {done.already} were there already"
    screen.print(escape(words), soft_wrap=True)
    return 0


def _listed(one: Movement) -> dict[str, object]:
    days = {"date": one.date.isoformat(), "use_by": one.use_by and one.use_by.isoformat()}
    return {**dataclasses.asdict(one), **days}


@click.command("new-shop")
@click.argument("shop", type=PATH)
@click.option("--units", type=click.Choice(SYSTEM_NAMES), default="us", show_default=True)
@click.option(
    "--rows",
    type=click.IntRange(1, 5000),
    default=300,
    show_default=True,
    help="Movements of stock it has room for.",
)
@click.option("--empty", is_flag=True, help="Begin bare, without usual products and finishes.")
@click.option("--force", is_flag=True, help="Replace the file if it is there already.")
def new_shop_command(shop: Path, units: str, rows: int, empty: bool, force: bool) -> None:
    """Make a new shop workbook: finishes, products, prices, rates, stock, learned losses.

    It begins with generic products, finishes, sundries and steps of labour, as common practice has
    them, to be replaced from the data sheets; prices are blank. --empty leaves them out.
    """
    sys.exit(run_new_shop(shop, units, rows, force=force, empty=empty))


@click.command("stock")
@click.argument("shop", type=PATH)
@click.option("--from", "job", type=PATH, required=True, help="The job whose Used sheet to book.")
@click.option("--dry-run", is_flag=True, help="Show what would be booked; change nothing.")
@click.option(
    "--copied",
    is_flag=True,
    help="The job's file was begun as a copy of another job's: give it a mark of its own.",
)
@click.option("--json", "as_json", is_flag=True, help="Print the movements for a machine.")
def stock_command(shop: Path, job: Path, dry_run: bool, copied: bool, as_json: bool) -> None:
    """Book in the shop what a job bought, took from the shelf, sent back and put back.

    From the sheet Used of the job: what was bought is received and issued, what came from the shelf
    is issued, what was counted and goes back on the shelf comes back at the price paid. It may be
    run as often as you like: what is booked already is left as it is. What is booked with other
    figures, or would leave a lot below zero, is refused, and then nothing is written.
    """
    sys.exit(run_stock(shop, job, dry_run=dry_run, copied=copied, as_json=as_json))
