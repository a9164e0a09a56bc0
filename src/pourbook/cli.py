"""The command line: thin wrappers around the workbook engine.

Contract: exit codes are 0 clean, 1 findings or a refused entry, 2 wrong use, 3 unreadable file,
4 a fault of Pourbook. Nothing heavy is imported before a command needs it, so that help is instant.
"""

from __future__ import annotations

import datetime as dt
import json
import sys
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

import click

from pourbook import __version__
from pourbook.commands import addin_cli, archive_cli
from pourbook.errors import FileUnreadableError, PourbookError

SYSTEM_NAMES = ("us", "metric", "imperial")
_FILE = click.Path(path_type=Path)
_DAY = click.DateTime(["%Y-%m-%d"])


@click.group(context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, prog_name="pourbook")
def cli() -> None:
    """Job workbooks for people who resurface tops and floors with two-part coatings."""


@cli.command()
@click.argument("folder", type=_FILE, default=Path("pourbook-demo"))
@click.option("--force", is_flag=True, help="Replace demo files that are there already.")
@click.option("--json", "as_json", is_flag=True, help="Print the summary for a machine.")
def demo(folder: Path, force: bool, as_json: bool) -> None:
    """Run the main job on the demo: build, recompute, check, and show what came out.

    The files stay in FOLDER (pourbook-demo if left out): demo.xlsm for Excel on Windows, demo.xlsx
    for LibreOffice Calc, demo-metric.xlsx, the same job in metric units, demo-books.xlsx, the
    bookkeeper's copy, and shop.xlsx, the shop the job was begun from.
    """
    from pourbook.commands.commands import run_demo  # noqa: PLC0415

    _finish(run_demo(folder, force=force, as_json=as_json))


@cli.command()
@click.argument("job", type=_FILE)
@click.option("--from", "rooms", type=_FILE, help="A CSV file of rooms, or a job to start from.")
@click.option(
    "--units",
    type=click.Choice(SYSTEM_NAMES),
    help="Those of the shop, or of the job with --from, if left out; else us.",
)
@click.option("--shop", type=_FILE, help="The shop's workbook to begin from.")
@click.option(
    "--on", "day", type=_DAY, help="Day of the quote, whose prices hold; today if left out."
)
@click.option(
    "--pieces",
    type=click.IntRange(1, 5000),
    help="Rows on the Rooms sheet; 120, or as many as the CSV file needs.",
)
@click.option("--encoding", default="", help="Encoding of the CSV file, if it is not UTF-8.")
@click.option("--force", is_flag=True, help="Replace the file if it is there already.")
def new(
    job: Path,
    rooms: Path | None,
    units: str | None,
    shop: Path | None,
    day: dt.datetime | None,
    pieces: int | None,
    encoding: str,
    force: bool,
) -> None:
    """Make a new job: empty, with the rooms of a CSV file, or with the entries of another job.

    With --shop it begins with the shop's money, rates, crew, pace, products, sundries and steps of
    labour, the packs at the prices of the day of the quote, and the stock on hand that is not past
    its use-by day. A job in other units than the shop's gets the figures converted.

    Name it JOB.xlsm for Excel with live functions, JOB.xlsx for everything else.

    The CSV file's first line holds headings of the Rooms sheet, in any order: Room, Piece, Shape,
    Size A, Size B, Size C, Size D, How many, Cutouts, Edge run, Edge height, Edge profile,
    Splash run, Splash height, May split, Order. The first four are needed. Comma, semicolon and
    tab all separate. If a row cannot be measured its line is named and nothing is written.

    With --from OLD.xlsx the new job gets the entries of a job of any version, which stays as it is.
    """
    from pourbook.commands.commands import run_new  # noqa: PLC0415

    on = day.date() if day else None
    _finish(run_new(job, rooms, units or "", pieces, encoding, force=force, shop=shop, day=on))


@cli.command("new-shop")
@click.argument("shop", type=_FILE)
@click.option("--units", type=click.Choice(SYSTEM_NAMES), default="us", show_default=True)
@click.option(
    "--rows",
    type=click.IntRange(1, 5000),
    default=300,
    show_default=True,
    help="Movements of stock it has room for.",
)
@click.option("--force", is_flag=True, help="Replace the file if it is there already.")
def new_shop(shop: Path, units: str, rows: int, force: bool) -> None:
    """Make a new shop workbook: products, prices, rates, stock, learned losses."""
    from pourbook.commands.shop_commands import run_new_shop  # noqa: PLC0415

    _finish(run_new_shop(shop, units, rows, force=force))


@cli.command()
@click.argument("shop", type=_FILE)
@click.option("--from", "job", type=_FILE, required=True, help="The job whose Used sheet to book.")
@click.option("--dry-run", is_flag=True, help="Show what would be booked; change nothing.")
@click.option(
    "--copied",
    is_flag=True,
    help="The job's file was begun as a copy of another job's: give it a mark of its own.",
)
@click.option("--json", "as_json", is_flag=True, help="Print the movements for a machine.")
def stock(shop: Path, job: Path, dry_run: bool, copied: bool, as_json: bool) -> None:
    """Book in the shop what a job bought, took from the shelf, sent back and put back.

    From the sheet Used of the job: what was bought is received and issued, what came from the shelf
    is issued, what was counted and goes back on the shelf comes back at the price paid. It may be
    run as often as you like: what is booked already is left as it is. What is booked with other
    figures, or would leave a lot below zero, is refused, and then nothing is written.
    """
    from pourbook.commands.shop_commands import run_stock  # noqa: PLC0415

    _finish(run_stock(shop, job, dry_run=dry_run, copied=copied, as_json=as_json))


@cli.command()
@click.argument("files", type=_FILE, nargs=-1, required=True)
@click.option(
    "--engine",
    type=click.Choice(("fast", "plain", "both")),
    default="fast",
    show_default=True,
    help="What recomputes the workbook; with both, a disagreement is a finding.",
)
@click.option("--json", "as_json", is_flag=True, help="Print the findings for a machine.")
def check(files: tuple[Path, ...], engine: str, as_json: bool) -> None:
    """Check workbooks: structure, entries, recomputed values and the job's own checks.

    A look is no fault: it is closed on the sheet Looks, and said all the same. Reading never
    changes a file. Exit codes: 0 clean and every look closed, 1 something to mend or a look open,
    2 wrong use, 3 a file that cannot be read, 4 a fault of Pourbook.
    """
    from pourbook.commands.check_commands import run_check  # noqa: PLC0415

    engines = ("fast", "plain") if engine == "both" else (engine,)
    _finish(run_check(files, engines, as_json=as_json))


@cli.command()
@click.argument("job", type=_FILE)
@click.option("--to", "target", type=_FILE, help="Write another file instead of the job itself.")
@click.option("--force", is_flag=True, help="With --to: replace that file if it is there already.")
def recompute(job: Path, target: Path | None, force: bool) -> None:
    """Work a job out anew and store the values in it; what you typed stays as it is.

    For a workbook filled in where Pourbook's functions are not live: until then it shows the
    numbers of the last time. Without --to the job itself gets the new values.
    """
    from pourbook.commands.commands import run_recompute  # noqa: PLC0415

    _finish(run_recompute(job, target, force=force))


@cli.command()
@click.argument("job", type=_FILE)
@click.option("--by", default="", help="Who accepted it; the client on Start if left out.")
@click.option("--on", type=click.DateTime(["%Y-%m-%d"]), help="The day; today if left out.")
@click.option(
    "--option",
    type=click.Choice(("A", "B", "C"), case_sensitive=False),
    help="The option accepted; it becomes the option to offer on Price.",
)
@click.option("--change", default="", help="What a change order after work has begun is for.")
@click.option("-o", "--to", "target", type=_FILE, help="Write a copy instead of the job itself.")
@click.option("--force", is_flag=True, help="With --to: replace that file if it is there already.")
def accept(
    job: Path,
    by: str,
    on: dt.datetime | None,
    option: str | None,
    change: str,
    target: Path | None,
    force: bool,
) -> None:
    """Freeze what was quoted, when the customer says yes.

    Price, layers, products and packs of the option to offer go onto the sheet Quoted as they stand,
    and later changes do not move them. Accepting again keeps the earlier one as a revision; once
    anything is logged on Used it takes a change order with a name: --change 'island added'.
    """
    from pourbook.commands.quote_commands import run_accept  # noqa: PLC0415

    day = on.date() if on else None
    _finish(run_accept(job, target, by, day, option or "", change=change.strip(), force=force))


@cli.command()
@click.argument("job", type=_FILE)
@click.argument("target", type=_FILE)
@click.option("--force", is_flag=True, help="Replace the copy if it is there already.")
def books(job: Path, target: Path, force: bool) -> None:
    """Write the bookkeeper's copy of a job: it needs nothing but a spreadsheet program.

    What Pourbook's functions gave are values in it; every other formula is live. Print from it
    wherever the functions are not live.
    """
    from pourbook.commands.commands import run_books  # noqa: PLC0415

    _finish(run_books(job, target, force=force))


def _import_options(command: Callable[..., None]) -> Callable[..., None]:
    """Give a command the arguments and options of an import."""
    choice = click.Choice
    for give in (
        click.option("--dry-run", "dry", is_flag=True, help="Say what would be done, do nothing."),
        click.option("--encoding", default="", help="Encoding of the file, if it is not UTF-8."),
        click.option("--dates", type=choice(("dmy", "mdy")), help="Order of dates, if not ISO."),
        click.option("--decimal", type=choice((",", ".")), help="Decimal sign, where unclear."),
        click.option("--ignore", multiple=True, help="A heading to leave out; may be repeated."),
        click.option("--map", "maps", multiple=True, help="'Their heading=Our heading'."),
        click.option("--from", "source", type=_FILE, required=True, help="The CSV file."),
        click.argument("job", type=_FILE),
    ):
        command = give(command)
    return command


def _import(block: str, job: Path, source: Path, dry: bool, asked: Mapping[str, Any]) -> None:
    from pourbook.commands.commands import run_import  # noqa: PLC0415
    from pourbook.job.import_headings import Asked  # noqa: PLC0415

    given = Asked(**{name: value for name, value in asked.items() if value})
    _finish(run_import(job, block, source, given, dry=dry))


@cli.command()
@_import_options
def log(job: Path, source: Path, dry: bool, **asked: Any) -> None:
    """Take batches as they were mixed from a CSV file: pourbook log JOB.xlsx --from BATCHES.csv.

    Its first line holds the headings of the log on Used, in any order: Layer, Mixing began, Lot A
    and Part A weighed are needed. A unit may stand in a heading, Part A (kg), or in a cell, 1.2 kg.
    Rows with the same lots that were mixed at the same time are the same.
    """
    _import("log", job, source, dry, asked)


@cli.command()
@_import_options
def receipts(job: Path, source: Path, dry: bool, **asked: Any) -> None:
    """Take receipts from a CSV file: pourbook receipts JOB.xlsx --from INVOICE.csv.

    Its first line holds the headings of Receipts on Used, in any order: Date, Invoice or slip,
    Kind, Product, Holds, Packs, Contents of one and Price of one are needed. Rows with the same
    document and line are the same.
    """
    _import("receipts", job, source, dry, asked)


@cli.command()
@click.argument("job", type=_FILE)
@click.option("--json", "as_json", is_flag=True, help="Print the tables for a machine.")
def show(job: Path, as_json: bool) -> None:
    """Show a job in tables: pieces, layers, parts, prices, survey and calendar."""
    from pourbook.commands.commands import run_show  # noqa: PLC0415

    _finish(run_show(job, as_json=as_json))


@cli.command()
@click.argument("job", type=_FILE)
@click.argument("cell")
@click.option("--json", "as_json", is_flag=True, help="Print the lines for a machine.")
def explain(job: Path, cell: str, as_json: bool) -> None:
    """Say how a number came about: pourbook explain JOB.xlsx 'Price!B30'."""
    from pourbook.commands.commands import run_explain  # noqa: PLC0415

    _finish(run_explain(job, cell, as_json=as_json))


@cli.command()
@click.argument("job", type=_FILE)
@click.option("--ics", "target", type=_FILE, required=True, help="The calendar file to write.")
@click.option("--force", is_flag=True, help="Replace the file if it is there already.")
def export(job: Path, target: Path, *, force: bool) -> None:
    """Write the calendar of a job for calendar programs: pourbook export JOB.xlsx --ics JOB.ics."""
    from pourbook.commands.commands import run_export  # noqa: PLC0415

    _finish(run_export(job, target, force=force))


@cli.command()
@click.argument("job", type=_FILE)
@click.option(
    "--journal",
    "journals",
    type=_FILE,
    multiple=True,
    help="A file for the journal lines: .csv, or .beancount or .txt for plain-text double entry.",
)
@click.option(
    "--on",
    type=click.DateTime(["%Y-%m-%d"]),
    help="The day of the settlement; the last date on Used if left out.",
)
@click.option("--force", is_flag=True, help="Replace journal files that are there already.")
@click.option("--json", "as_json", is_flag=True, help="Print the tables for a machine.")
def settle(job: Path, journals: tuple[Path, ...], on: Any, *, force: bool, as_json: bool) -> None:
    """Settle a job: used against quoted in tables, and its journal lines in a file.

    Only coatings go into the journal: a transaction for each line of a receipt, stock against
    suppliers, and one for the settlement, the job as quoted and its differences against stock.
    Sundries, labour, travel, overhead and tax do not. Say --journal twice for both kinds of file.
    """
    from pourbook.commands.settle_commands import run_settle  # noqa: PLC0415

    _finish(run_settle(job, journals, on.date() if on else None, force=force, as_json=as_json))


@cli.command()
@click.argument("name", required=False)
@click.option("--json", "as_json", is_flag=True, help="Print the catalogue for a machine.")
def functions(name: str | None, as_json: bool) -> None:
    """List the worksheet functions, or show one of them."""
    from pourbook.commands.commands import run_functions  # noqa: PLC0415

    _finish(run_functions(name, as_json=as_json))


@cli.command()
@click.argument("shell", type=click.Choice(("bash", "zsh", "fish")))
def completion(shell: str) -> None:
    """Print what makes the shell complete pourbook's commands and options.

    For bash: pourbook completion bash >> ~/.bashrc
    """
    from click.shell_completion import get_completion_class  # noqa: PLC0415

    found = get_completion_class(shell)
    assert found is not None  # the choice above names only shells click knows
    click.echo(found(cli, {}, "pourbook", "_POURBOOK_COMPLETE").source())


cli.add_command(addin_cli.addin)
cli.add_command(archive_cli.month)
cli.add_command(archive_cli.learn)


def _finish(code: int) -> None:
    sys.exit(code)


def main(arguments: list[str] | None = None) -> None:
    """Run the command line and end the process with its exit code."""
    given = sys.argv[1:] if arguments is None else arguments
    wants_json = "--json" in given
    try:
        cli.main(given, prog_name="pourbook", standalone_mode=False)
    except click.exceptions.Exit as end:
        sys.exit(end.exit_code)
    except click.Abort:
        _say("stopped; nothing was changed", 130, as_json=wants_json)
    except click.ClickException as error:
        if wants_json:
            _say(error.format_message(), 2, as_json=True)
        error.show()
        sys.exit(2)
    except PourbookError as error:
        _say(str(error), error.exit_code, as_json=wants_json)
    except OSError as error:
        what = error.strerror or str(error)
        mend = "see whether the disk is full or was taken away"
        told = FileUnreadableError(what, mend, str(error.filename or ""))
        _say(str(told), told.exit_code, as_json=wants_json)
    except Exception as error:  # noqa: BLE001 - the last stop: say it plainly, with the trace below
        import traceback  # noqa: PLC0415

        traceback.print_exc()
        message = (
            f"Pourbook failed: {type(error).__name__}: {error}; please send us the lines above"
        )
        _say(message, 4, as_json=wants_json)


def _say(message: str, code: int, *, as_json: bool) -> None:
    if as_json:
        status = {3: "unreadable", 2: "usage", 1: "refused"}.get(code, "failed")
        answer: dict[str, Any] = {"status": status, "message": message, "findings": [], "files": []}
        click.echo(json.dumps(answer, ensure_ascii=False))
    else:
        click.echo(f"pourbook: {message}", err=True)
    sys.exit(code)
