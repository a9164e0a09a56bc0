"""What the commands do: each returns an exit code and prints its result.

Contract: no arithmetic here; everything comes from the workbook engine.
"""

from __future__ import annotations

import dataclasses
import datetime as dt
import uuid
from collections.abc import Callable, Sequence
from pathlib import Path

from rich.markup import escape

from pourbook import resources
from pourbook.commands import terminal
from pourbook.commands.shop_commands import from_shop, make_demo_shop
from pourbook.errors import InputError, UsageError
from pourbook.formats import files as files_on_disk
from pourbook.formats.held import held
from pourbook.functions.catalogue import catalogue
from pourbook.functions.declare import Function
from pourbook.job import books as bookkeeping
from pourbook.job import carry, imports, macros, make, rooms_csv
from pourbook.job.accept import accept_scenario
from pourbook.job.export import calendar_text
from pourbook.job.fill import fill
from pourbook.job.import_headings import LISTS, Asked
from pourbook.workbook.check.check import Checked, check_file
from pourbook.workbook.check.findings import LOOK, NOTES, Finding, counted
from pourbook.workbook.check.structure import refuse_other_layout
from pourbook.workbook.read.read import KINDS, MOST_PIECES, read_book
from pourbook.workbook.tell import summary
from pourbook.workbook.tell.explain import explain

MOST_SHOWN = 30
EXCEL_HINT = "Once on the PC with Excel: pourbook addin excel install. Then enable macros."
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
        _print_tables(done[0])
        screen.print("\nWritten and checked:")
        for file, words in FOR_WHOM.items():
            screen.print(escape(f"{folder / file}: {words}"), soft_wrap=True)
        print_findings(findings)
        screen.print("Open one and begin on the sheet Start.")
    return int(bool(findings))


def run_new(
    target: Path,
    rooms: Path | None,
    system: str | None,
    pieces: int | None,
    encoding: str,
    *,
    force: bool,
    shop: Path | None = None,
    day: dt.date | None = None,
) -> int:
    """Make a job workbook: empty, or from rooms, another job, or the shop's workbook."""
    if target.suffix.lower() not in {".xlsx", macros.SUFFIX}:
        mend = f"name it {target.stem}.xlsx, or {target.stem}{macros.SUFFIX} for Excel"
        raise UsageError(f"a job workbook ends in .xlsx or {macros.SUFFIX}", mend, str(target))
    if day and not shop:
        raise UsageError("--on is the day whose prices hold", "name the shop too: --shop SHOP.xlsx")
    if rooms is not None and rooms.suffix.lower() in {".xlsx", macros.SUFFIX}:
        if shop:
            mend = "leave one of them out"
            raise UsageError("a job begins from another job or from the shop", mend, str(rooms))
        return _carry(target, rooms, system, pieces, force=force)
    files_on_disk.refuse_unless_free(target, force=force)
    system, taken = (
        from_shop(shop, system or "", day) if shop else (system or make.DEFAULT_SYSTEM, None)
    )
    entries = rooms_csv.read_rooms(rooms, system, encoding) if rooms else {}
    needed = 1 + max((index for _, _, index in entries), default=-1)
    rows = pieces or max(make.DEFAULT_PIECES, needed)
    if needed > MOST_PIECES:
        mend = "split the list into several jobs"
        raise InputError(f"{needed} pieces are more than {MOST_PIECES}", mend, str(rooms))
    if needed > rows:
        mend = f"say --pieces {needed}, or leave it out"
        raise InputError(f"{needed} pieces do not fit into {rows} rows", mend, str(rooms))
    with terminal.progress("new job") as step:
        entries = {**(taken.entries if taken else {}), **entries}
        make.make(target, system, entries, pieces=rows, force=force, step=step)
    if target.suffix.lower() == macros.SUFFIX:
        terminal.console().print(EXCEL_HINT, soft_wrap=True)
    filled = f" with {needed} row{'s' * (needed > 1)} of pieces" if needed else ""
    screen = terminal.console()
    screen.print(
        f"Written: {escape(str(target))}{filled}. Start on the sheet Start.", soft_wrap=True
    )
    for note in taken.notes if taken else ():
        screen.print(escape(f"  From the shop: {note}"), soft_wrap=True)
    return 0


def _carry(
    target: Path, source: Path, system: str | None, pieces: int | None, *, force: bool
) -> int:
    """Make a job with the entries of another one, of any version; that one stays as it is."""
    if target.exists() and source.exists() and target.samefile(source):
        raise UsageError("the new job would replace the old one", "name it anew", str(target))
    carried = carry.read_entries(source, pieces)
    if system and system != carried.system:
        mend = "leave --units out: its numbers mean nothing in other units"
        raise UsageError(f"{source} is a job in {carried.system} units", mend, "--units")
    if pieces is not None and pieces < carried.rows and carried.lost:
        mend = f"say --pieces {carried.rows}, or leave it out"
        raise InputError(f"not all entries fit into {pieces} rows of pieces", mend, str(source))
    rows = pieces or carried.rows
    with terminal.progress("new job") as step:
        entries = carried.entries
        make.make(
            target,
            carried.system,
            entries,
            pieces=rows,
            force=force,
            step=step,
            identity=carried.identity,
        )
    screen = terminal.console()
    screen.print(escape(f"Written: {target}, with {carried.filled} entries of {source}"))
    for title, listed in (
        ("This version has no place for these; they stay in the old job alone:", carried.lost),
        ("Formulas typed as entries; their values were taken:", carried.worked),
    ):
        if listed:
            more = [f"... and {len(listed) - MOST_SHOWN} more"] * (len(listed) > MOST_SHOWN)
            for line in (title, *listed[:MOST_SHOWN], *more):
                screen.print(escape(line), soft_wrap=True)
    screen.print(
        escape(
            f"It is the same job as {source.name}, accepted and logged as that: go on with one of "
            f"them. Your own notes on Scratch stay there. Now: pourbook check {target.name}"
        ),
        soft_wrap=True,
    )
    return 0


def _checked(
    path: Path, step: Callable[[str], None] = lambda _: None, kinds: Sequence[str] = tuple(KINDS)
) -> Checked:
    """Check a workbook whose cells are going to be read."""
    checked = check_file(path, step=step, kinds=tuple(kinds))
    refuse_other_layout(checked.plan, checked.book)
    return checked


def run_show(path: Path, *, as_json: bool) -> int:
    """Show a job in tables."""
    with terminal.progress("show") as step:
        checked = _checked(path, step)
    if as_json:
        terminal.print_json([dataclasses.asdict(t) for t in summary.tables(checked)])
    else:
        _print_tables(checked)
        if checked.findings:
            count = counted(checked.findings)
            words = escape(f"\nCHECK: {count}; see: pourbook check {path}")
            terminal.console().print(words, soft_wrap=True)
    return 0


def run_recompute(path: Path, target: Path | None, *, force: bool) -> int:
    """Store fresh values in a job, or in a copy of it."""
    with terminal.progress("recompute"):
        count = bookkeeping.store(path, target or path, force=force or target is None)
    words = f"{count} values stored in {target or path}"
    terminal.console().print(escape(words), soft_wrap=True)
    return 0


def run_books(path: Path, target: Path, *, force: bool) -> int:
    """Write the bookkeeper's copy of a job."""
    if target.suffix.lower() != ".xlsx":
        mend = f"name it {target.stem}.xlsx"
        raise UsageError("a books copy ends in .xlsx", mend, str(target))
    with terminal.progress("books copy"):
        made = dt.datetime.now()
        bookkeeping.books_copy(path, target, force=force, made=made)
    terminal.console().print(escape(f"Written: {target}"), soft_wrap=True)
    return 0


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
    taken, skipped = len(found.taken), len(found.skipped)
    verb = "would be taken" if dry else "taken"
    into = LISTS[block].words
    words = f"{taken} row{'s' * (taken != 1)} {verb} into {into} of {path}"
    words += f", from {found.first} on" if found.taken else ""
    words += f"; {skipped} there already, skipped" if skipped else ""
    words += f"; {found.read_as} (else say --decimal)" if found.read_as else ""
    terminal.console().print(escape(words), soft_wrap=True)
    return 0


def run_explain(path: Path, cell: str, *, as_json: bool) -> int:
    """Say how a number came about."""
    checked = _checked(path)
    lines = explain(checked.plan, checked.book, checked.values, cell)
    if as_json:
        terminal.print_json([dataclasses.asdict(line) for line in lines])
        return 0
    screen = terminal.console()
    for line in lines:
        lead = "  " * line.depth
        how = f"   ({line.how})" if line.how else ""
        screen.print(escape(f"{lead}{line.what} = {line.value}{how}"), soft_wrap=True)
    return 0


def run_export(path: Path, target: Path, *, force: bool) -> int:
    """Write the calendar of a job as a calendar file."""
    if target.suffix.lower() != ".ics":
        raise UsageError("a calendar file ends in .ics", f"name it {target.stem}.ics", str(target))
    files_on_disk.refuse_unless_free(target, force=force)
    with terminal.progress("export") as step:
        checked = _checked(path, step, ("job",))
        stamp = dt.datetime.now(dt.UTC).replace(tzinfo=None, microsecond=0)
        content = calendar_text(checked, stamp).encode()
        files_on_disk.replace_file(target, lambda file: _write(file, content), force=force)
    screen = terminal.console()
    screen.print(f"Written: {escape(str(target))}", soft_wrap=True)
    if checked.findings:
        count = counted(checked.findings)
        screen.print(escape(f"CHECK: {count}; see: pourbook check {path}"), soft_wrap=True)
    return 0


def _write(path: Path, content: bytes) -> None:
    path.write_bytes(content)


def run_build_calc(target: Path, *, force: bool) -> int:
    """Build the add-in for LibreOffice Calc."""
    if target.suffix.lower() != ".oxt":
        raise UsageError("an add-in ends in .oxt", f"name it {target.stem}.oxt", str(target))
    from pourbook.hosts.calc import bundle  # noqa: PLC0415

    files_on_disk.replace_file(target, bundle.build, force=force)
    terminal.console().print(
        f"Written: {escape(str(target))}. Open it in LibreOffice to install it.", soft_wrap=True
    )
    return 0


def run_install_calc(*, shared: bool) -> int:
    """Build the add-in for LibreOffice Calc and install it."""
    from pourbook.hosts.calc import add_to_calc  # noqa: PLC0415

    with terminal.progress("add-in"):
        add_to_calc.install(shared=shared)
    terminal.console().print("Installed. Start LibreOffice: Pourbook's functions are live in it.")
    return 0


def run_functions(name: str | None, *, as_json: bool) -> int:
    """List the worksheet functions, or show one."""
    known = catalogue()
    chosen = list(known.values())
    if name is not None:
        wanted = name.upper()
        if wanted not in known:
            raise UsageError(f"there is no function '{name}'", "see: pourbook functions")
        chosen = [known[wanted]]
    if as_json:
        terminal.print_json([_described(f) for f in chosen])
        return 0
    screen = terminal.console()
    if name is None:
        rows = [(f.name, ", ".join(a.name for a in f.arguments), f.summary) for f in chosen]
        screen.print(terminal.table("Functions", ("Name", "Arguments", "Gives"), rows, "lll"))
        return 0
    function = chosen[0]
    screen.print(escape(f"{function.name}: {function.summary}"), soft_wrap=True)
    for argument in function.arguments:
        may = " (may be left out)" if argument.optional else ""
        screen.print(escape(f"  {argument.name}: {argument.help}{may}"), soft_wrap=True)
    for label, words in (
        ("Gives", function.result),
        ("Valid for", function.valid),
        ("Source", function.source),
    ):
        screen.print(escape(f"  {label}: {words}"), soft_wrap=True)
    return 0


def _described(function: Function) -> dict[str, object]:
    return {
        "name": function.name,
        "summary": function.summary,
        "arguments": [dataclasses.asdict(a) for a in function.arguments],
        "result": function.result,
        "valid": function.valid,
        "source": function.source,
    }


def _print_tables(checked: Checked) -> None:
    screen = terminal.console()
    for found in summary.tables(checked):
        if found.rows:
            screen.print()
            screen.print(terminal.table(found.title, found.headings, found.rows, found.sides))


def print_findings(findings: Sequence[Finding]) -> None:
    """Print findings, the first of them in full, looks after what is to mend."""
    screen = terminal.console()
    ordered = sorted(findings, key=lambda f: f.id == LOOK)
    for finding in ordered[:MOST_SHOWN]:
        place = f"{finding.file}, {finding.place}" if finding.place else finding.file
        sign = "LOOK" if finding.id == LOOK else "SAID" if finding.id in NOTES else "CHECK"
        screen.print(escape(f"{sign:<5}  {place}: {finding.what}"), soft_wrap=True)
        screen.print(escape(f"       {finding.mend}  [{finding.id}]"), soft_wrap=True)
    if len(findings) > MOST_SHOWN:
        screen.print(f"... and {len(findings) - MOST_SHOWN} more; see them all with --json")
