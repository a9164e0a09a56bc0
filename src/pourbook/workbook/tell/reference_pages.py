"""Writes the reference pages from the catalogue and the templates, the only places they are kept.

Contract: :func:`pages` gives each page's text by its file name; a test holds the files in
``workbook_templates`` to it. To renew them, in a checkout:
``python -m pourbook.workbook.tell.reference_pages``.
"""

from __future__ import annotations

from collections.abc import Iterator

from pourbook import resources
from pourbook.functions.catalogue import catalogue
from pourbook.functions.declare import Function
from pourbook.workbook.layout.laid_out import Layout
from pourbook.workbook.layout.lay_out import lay_out
from pourbook.workbook.layout.mending import mend
from pourbook.workbook.template.template import Block, Field, Sheet

_RENEW = (
    "Made by `python -m pourbook.workbook.tell.reference_pages`; "
    "edit the catalogue or the templates instead.\n"
)


def pages() -> dict[str, str]:
    """Return the text of every reference page by its file name."""
    job = lay_out("job", "us", 120)
    return {
        "FUNCTIONS.md": "\n".join(_functions()),
        "SHEETS.md": "\n".join(_sheets(job, "job")),
        "SHOP.md": "\n".join(_sheets(lay_out("shop", "us", 300), "shop", but=("Products",))),
        "MONTH.md": "\n".join(_sheets(lay_out("month", "us", 12), "month")),
        "BOARD.md": "\n".join(_sheets(lay_out("board", "us", 42), "board")),
    }


def _functions() -> Iterator[str]:
    yield "# Worksheet functions\n"
    yield _RENEW
    yield "A refusal is a text that begins with `!` and says what to fix; a status that begins"
    yield "with `waits:` needs nothing but the row it names, one with `CHECK` a look."
    yield "Measures carry a unit"
    yield "(`12' 6 1/2\"`, `2.5 m`, `3 US fl oz/ft²`); in the tables of a job a bare number takes"
    yield "the unit of its column.\n"
    for function in catalogue().values():
        yield from _function(function)


def _function(function: Function) -> Iterator[str]:
    names = [f"[{a.name}]" if a.optional else a.name for a in function.arguments]
    yield f"## {function.name}({', '.join(names)})\n"
    yield f"{function.summary}\n"
    yield "| argument | kind | what |\n|---|---|---|"
    for argument in function.arguments:
        kind = argument.dimension.replace("_", " ") or argument.kind
        yield f"| {argument.name} | {kind} | {argument.help} |"
    yield f"\nGives {function.result}.\n"
    if function.columns:
        yield "| result column | what | unit |\n|---|---|---|"
        for column in function.columns:
            unit = column.unit.replace("_", " ")
            yield f"| {column.id} | {column.help} | {unit} |"
        yield ""
    yield f"Valid for: {function.valid}.  \nSource: {function.source}.\n"
    if not function.columns:
        for example in function.examples:
            yield f"    ={example.typed(function.name)}  gives  {example.result}"
        yield ""


def _sheets(job: Layout, kind: str, but: tuple[str, ...] = ()) -> Iterator[str]:
    yield f"# Sheets of a {kind} workbook\n"
    yield _RENEW
    yield f"Units are those of a {kind} in US units; imperial and metric {kind}s have their own.\n"
    for sheet in job.book.sheets:
        yield f"## {sheet.sheet}\n"
        if sheet.sheet in but:
            yield "As in a job workbook: see [SHEETS.md](SHEETS.md).\n"
            continue
        yield f"{job.text(sheet.purpose)}\n"
        for block in sheet.blocks:
            yield from _block(job, sheet, block)


def _block(job: Layout, sheet: Sheet, block: Block) -> Iterator[str]:
    title = job.text(block.title) or sheet.title
    if block.checks:
        yield f"### {title}\n"
        yield "| check | how to fix |\n|---|---|"
        for check in block.checks:
            yield f"| {job.text(check.label)} | {job.text(check.mend)} |"
        yield ""
    fields = block.all_fields()
    if not fields:
        return
    rows = f" ({block.rows} rows)" if block.rows else ""
    yield f"### {title}{rows}\n"
    if block.fill:
        yield f"The last {len(block.fill.columns)} columns are filled by `{block.fill.function}`.\n"
    yield "| field | kind | unit | what |\n|---|---|---|---|"
    filled = {f.id for f in block.fill.columns} if block.fill else set()
    for item in fields:
        kind = "result" if item.id in filled else item.kind
        kind = "result, aside" if item.aside else kind
        unit = job.unit(item.unit).replace("@money", "currency")
        yield f"| {job.text(item.header)} | {kind} | {unit} | {_what(job, item, kind)} |"
    yield ""


def _what(job: Layout, item: Field, kind: str) -> str:
    if kind == "formula":
        return "`" + item.formula.replace("|", "\\|") + "`"
    words = [job.text(item.help)]
    if kind in {"number", "choice", "date"} and not item.kept:
        words.append(mend(job, item))
    if item.required:
        words.append("Needed.")
    return " ".join(w for w in words if w).replace("|", "\\|")


if __name__ == "__main__":
    base = resources.folder("workbook_templates")
    for name, content in pages().items():
        (base / name).write_text(content, encoding="utf-8")
