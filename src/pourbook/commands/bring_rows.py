"""``pourbook log`` and ``receipts``: the rows of a CSV file into a job.

Contract: as of :mod:`.demo`.
"""

from __future__ import annotations

import dataclasses
import sys
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import Any

import click
from rich.markup import escape

from pourbook.cells import word
from pourbook.commands import terminal
from pourbook.commands.terminal import PATH
from pourbook.errors import UnknownError, UsageError
from pourbook.formats import csv_rows
from pourbook.formats import files as files_on_disk
from pourbook.formats.held import held
from pourbook.job import imports, suppliers
from pourbook.job.fill import fill
from pourbook.job.import_headings import LISTS, Asked
from pourbook.job.suppliers import Supplier
from pourbook.shop import suppliers_sheet
from pourbook.workbook.read.read import read_book


def run_import(path: Path, block: str, source: Path, asked: Asked, *, dry: bool) -> int:
    """Take the rows of a CSV file into the log or the receipts of a job."""
    if not dry:
        files_on_disk.refuse_unless_free(path, force=True)
    with held(*([] if dry else [path])):
        book = read_book(path)
        found = imports.plan_import(source, book, book.plan(), block, asked)
        if found.taken and not dry:
            with terminal.progress("import"):
                fill(path, path, found.entries, force=True)
    _say_taken(path, block, found, dry=dry)
    return 0


@dataclasses.dataclass(frozen=True)
class _Of:
    """Whose file it is: the supplier, the shop that knows it, whether to remember how it writes."""

    supplier: str = ""
    shop: Path | None = None
    remember: bool = False


def run_receipts(path: Path, source: Path, asked: Asked, of: _Of, *, dry: bool) -> int:
    """Take a supplier's invoice into a job, as its shop knows it, and remember it if told to."""
    shop = of.shop or _beside(path)
    if of.remember and not (shop and of.supplier):
        mend = "say --supplier NAME, and --shop SHOP.xlsx if it is not shop.xlsx beside the job"
        raise UsageError("nobody knows whose file to remember", mend, "--remember")
    if shop is None:
        if of.supplier:
            mend = "say --shop SHOP.xlsx: its sheet Suppliers knows them"
            raise UsageError("no shop is named", mend, "--supplier")
        return run_import(path, "receipts", source, asked, dry=dry)
    reader, known = suppliers_sheet.read(shop)
    said = asked
    first = csv_rows.read_table(source, said.encoding or _encoding(known, of.supplier))
    found = _whose(known, of.supplier, first)
    if found is None and not of.remember:
        if of.supplier:
            listed = ", ".join(one.name for one in known) or "none yet"
            mend = f"it knows: {listed}; or say --remember"
            raise UnknownError(f"'{of.supplier}' is not on Suppliers of {shop.name}", mend)
        return run_import(path, "receipts", source, asked, dry=dry)
    supplier = found or Supplier(of.supplier)
    asked = suppliers.both(supplier.asked, said)
    if not dry:
        files_on_disk.refuse_unless_free(path, force=True)
    with held(*([] if dry else [path, *([shop] if of.remember else [])])):
        book = read_book(path)
        plan = book.plan()
        arranged = suppliers.arrange(first, supplier, plan, asked)
        rows = imports.Import({})
        if arranged.table.rows:
            rows = imports.plan_table(arranged.table, book, plan, "receipts", arranged.asked)
        others, there = suppliers.other_lines(arranged, supplier, book, plan)
        count = len(arranged.others) - there
        if (rows.taken or others) and not dry:
            with terminal.progress("import"):
                fill(path, path, {**rows.entries, **others}, force=True)
        if of.remember and not dry:
            fill(
                shop, shop, suppliers_sheet.entries(reader, supplier.name, asked, first), force=True
            )
    _say_taken(path, "receipts", rows, dry=dry)
    screen = terminal.console()
    verb = "would go" if dry else "went"
    if arranged.others:
        words = f"{count} other lines of {supplier.name} {verb} to Invoices"
        words += f"; {there} there already, skipped" * bool(there)
        screen.print(escape(words), soft_wrap=True)
    if arranged.skipped:
        screen.print(escape(f"{arranged.skipped} lines left out, as Suppliers says"))
    if of.remember and not dry:
        screen.print(escape(f"Remembered on Suppliers of {shop}: {supplier.name}"), soft_wrap=True)
    return 0


def _beside(job: Path) -> Path | None:
    """Return the shop's workbook beside a job, if it is called shop.xlsx or shop.xlsm."""
    found = (job.parent / f"shop{suffix}" for suffix in (".xlsx", ".xlsm"))
    return next((path for path in found if path.exists()), None)


def _encoding(known: Sequence[Supplier], name: str) -> str:
    return next((one.asked.encoding for one in known if word(one.name) == word(name)), "")


def _whose(known: Sequence[Supplier], name: str, table: csv_rows.Table) -> Supplier | None:
    """Return the supplier that is named, or the only one that is known by these headings."""
    if name:
        return next((one for one in known if word(one.name) == word(name)), None)
    alike = [one for one in known if one.knows(table)]
    return alike[0] if len(alike) == 1 else None


def _say_taken(path: Path, block: str, found: imports.Import, *, dry: bool) -> None:
    """Say how many rows were taken, and from where on."""
    taken, skipped = len(found.taken), len(found.skipped)
    verb = "would be taken" if dry else "taken"
    words = f"{taken} row{'s' * (taken != 1)} {verb} into {LISTS[block].words} of {path}"
    words += f", from {found.first} on" if found.taken else ""
    words += f"; {skipped} there already, skipped" if skipped else ""
    words += f"; {found.read_as} (else say --decimal)" if found.read_as else ""
    terminal.console().print(escape(words), soft_wrap=True)


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
        click.option("--from", "source", type=PATH, required=True, help="The CSV file."),
        click.argument("job", type=PATH),
    ):
        command = give(command)
    return command


def _import(block: str, job: Path, source: Path, dry: bool, asked: Mapping[str, Any]) -> None:
    given = Asked(**{name: value for name, value in asked.items() if value})
    sys.exit(run_import(job, block, source, given, dry=dry))


@click.command("log")
@_import_options
def log_command(job: Path, source: Path, dry: bool, **asked: Any) -> None:
    """Take batches as they were mixed from a CSV file: pourbook log JOB.xlsx --from BATCHES.csv.

    Its first line holds the headings of the log on Used, in any order: Layer, Mixing began, Lot A
    and Part A weighed are needed. A unit may stand in a heading, Part A (kg), or in a cell, 1.2 kg.
    Rows with the same lots that were mixed at the same time are the same.
    """
    _import("log", job, source, dry, asked)


@click.command("receipts")
@_import_options
@click.option("--supplier", default="", help="Whose file it is, as Suppliers of the shop knows it.")
@click.option("--shop", type=PATH, help="The shop's workbook; shop.xlsx beside the job else.")
@click.option("--remember", is_flag=True, help="Keep on Suppliers how this file is written.")
def receipts_command(
    job: Path,
    source: Path,
    dry: bool,
    supplier: str,
    shop: Path | None,
    remember: bool,
    **asked: Any,
) -> None:
    """Take receipts from a CSV file: pourbook receipts JOB.xlsx --from INVOICE.csv.

    Its first line holds the headings of Receipts on Used, in any order: Date, Invoice or slip,
    Kind, Product, Holds, Packs, Contents of one and Price of one are needed. Rows with the same
    document and line are the same.

    With --remember --supplier NAME the shop keeps how this file is written; the next one of that
    supplier is known by its headings and needs nothing said. Suppliers of the shop also holds their
    words for returns, freight and deposits (those lines go to Invoices), their item numbers, and
    lines to leave out.
    """
    given = Asked(**{name: value for name, value in asked.items() if value})
    of = _Of(supplier.strip(), shop, remember)
    sys.exit(run_receipts(job, source, given, of, dry=dry))
