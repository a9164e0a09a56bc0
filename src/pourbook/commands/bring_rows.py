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
from pourbook.errors import FileUnreadableError, PourbookError, UnknownError, UsageError
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
    try:
        _, known = suppliers_sheet.read(shop)
    except PourbookError:
        if of.shop or of.supplier:
            raise
        return run_import(path, "receipts", source, asked, dry=dry)  # it only stands beside it
    said = asked
    first = _read(source, said, known, of.supplier)
    found = _whose(known, of.supplier, first)
    if found is None and not of.remember:
        if of.supplier:
            listed = ", ".join(one.name for one in known) or "none yet"
            mend = f"it knows: {listed}; or say --remember"
            raise UnknownError(f"'{of.supplier}' is not on Suppliers of {shop.name}", mend)
        return run_import(path, "receipts", source, asked, dry=dry)
    supplier = found or Supplier(of.supplier)
    return _take(path, first, supplier, suppliers.both(supplier.asked, said), of, shop, dry=dry)


def _take(
    path: Path,
    table: csv_rows.Table,
    supplier: Supplier,
    asked: Asked,
    of: _Of,
    shop: Path,
    *,
    dry: bool,
) -> int:
    """Take a file whose supplier is known, and keep how it is written if told to."""
    if not dry:
        files_on_disk.refuse_unless_free(path, force=True)
    learning = of.remember and not dry
    with held(*([] if dry else [path]), *([shop] if learning else [])):
        book = read_book(path)
        plan = book.plan()
        arranged = suppliers.arrange(table, supplier, plan, asked)
        rows = imports.Import({})
        if arranged.table.rows:
            rows = imports.plan_table(arranged.table, book, plan, "receipts", arranged.asked)
        others, there = suppliers.other_lines(arranged, supplier, book, plan)
        if (rows.taken or others) and not dry:
            with terminal.progress("import"):
                fill(path, path, {**rows.entries, **others}, force=True)
        if learning:
            reader, _ = suppliers_sheet.read(shop)
            learned = suppliers_sheet.entries(reader, supplier.name, asked, table)
            fill(shop, shop, learned, force=True)
    _say_taken(path, "receipts", rows, dry=dry)
    _say_others(arranged, supplier, there, dry=dry)
    if learning:
        words = f"Remembered on Suppliers of {shop}: {supplier.name}"
        terminal.console().print(escape(words), soft_wrap=True)
    return 0


def _say_others(arranged: suppliers.Arranged, supplier: Supplier, there: int, *, dry: bool) -> None:
    """Say what went to Invoices, and what was left out."""
    screen = terminal.console()
    if arranged.others:
        verb = "would go" if dry else "went"
        count = len(arranged.others) - there
        words = f"{count} other lines of {supplier.name} {verb} to Invoices"
        words += f"; {there} there already, skipped" * bool(there)
        screen.print(escape(words), soft_wrap=True)
    if arranged.skipped:
        screen.print(escape(f"{arranged.skipped} lines left out, as Suppliers says"))


def _beside(job: Path) -> Path | None:
    """Return the shop's workbook beside a job, if it is called shop.xlsx or shop.xlsm."""
    found = (job.parent / f"shop{suffix}" for suffix in (".xlsx", ".xlsm"))
    return next((path for path in found if path.exists()), None)


def _read(source: Path, said: Asked, known: Sequence[Supplier], name: str) -> csv_rows.Table:
    """Read a file in the encoding that was said, else in that of the supplier who knows it."""
    if said.encoding:
        return csv_rows.read_table(source, said.encoding)
    mine = [one for one in known if not name or word(one.name) == word(name)]
    failed: FileUnreadableError | None = None
    read: csv_rows.Table | None = None
    for encoding in dict.fromkeys([*(one.asked.encoding for one in mine), ""]):
        try:
            table = csv_rows.read_table(source, encoding)
        except FileUnreadableError as error:
            failed = error
            continue
        if any(one.knows(table) for one in mine if one.asked.encoding == encoding):
            return table
        read = table
    if read is None:
        assert failed is not None
        raise failed
    return read


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
@click.option("--hours", is_flag=True, help="Hours of labour by step, into Invoices.")
def log_command(job: Path, source: Path, dry: bool, hours: bool, **asked: Any) -> None:
    """Take batches as they were mixed from a CSV file: pourbook log JOB.xlsx --from BATCHES.csv.

    Its first line holds the headings of the log on Used, in any order: Layer, Mixing began, Lot A
    and Part A weighed are needed. A unit may stand in a heading, Part A (kg), or in a cell, 1.2 kg.
    Rows with the same lots that were mixed at the same time are the same.

    With --hours the file holds hours of labour: Date, Step and Hours are needed, Note (or Who) may
    be there. Rows of one day, step and note are the same.
    """
    _import("worked" if hours else "log", job, source, dry, asked)


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
