"""Atheris, which watches what code is reached, on every reader of what comes from outside.

Run by hand: ``pip install -e '.[fuzz]'``, then ``python -m tests.fuzz_readers --seconds 300``. Of
each input the first byte says which reader gets it: a part of a workbook, a whole package, a CSV
file, an amount with its unit, a date, a scanned code, the formula of a cell. Read or refused in one
line is well; anything else ends the run and prints the input, which then becomes a case of
``tests/formats/test_hostile.py``. It begins from the parts of
a small workbook. Atheris itself takes more memory the longer it runs; the readers do not.
"""

from __future__ import annotations

import argparse
import datetime as dt
import io
import sys
import tempfile
import zipfile
from collections.abc import Callable
from contextlib import suppress
from functools import partial
from pathlib import Path

import atheris
import formualizer
from openpyxl import Workbook
from tests.formats.test_fuzz import packed

with atheris.instrument_imports(include=["pourbook"]):
    from pourbook import dates
    from pourbook.errors import PourbookError
    from pourbook.formats import csv_rows, gs1
    from pourbook.formats.ooxml.package import open_package
    from pourbook.units import measures
    from pourbook.units.systems import KINDS
    from pourbook.workbook.audit.infer import Reading, infer
    from pourbook.workbook.audit.sorts import ANY, UnitError
    from pourbook.workbook.read.read import read_book

WORKSHEET = "xl/worksheets/sheet1.xml"
STYLES = "xl/styles.xml"
BOOK = "xl/workbook.xml"


def _small() -> dict[str, bytes]:
    """Return the parts of a workbook of a few cells."""
    book, held = Workbook(), io.BytesIO()
    for row in (["Day", "Hours"], [dt.date(2026, 11, 29), 7.5], ["sum", "=SUM(B2:B2)*2"]):
        book.active.append(row)
    book.save(held)
    with zipfile.ZipFile(held) as package:
        return {name: package.read(name) for name in package.namelist()}


def readers(folder: Path, demo: dict[str, bytes]) -> list[Callable[[bytes], object]]:
    """Return the readers; each takes bytes."""
    book, table = folder / "book.xlsx", folder / "table.csv"

    def part(name: str) -> Callable[[bytes], object]:
        return lambda content: read_book(packed(book, {**demo, name: content}))

    def whole(content: bytes) -> object:
        book.write_bytes(content)
        return open_package(book)

    def rows(content: bytes) -> object:
        table.write_bytes(content)
        return csv_rows.read_table(table)

    def text(read: Callable[[str], object]) -> Callable[[bytes], object]:
        return lambda content: read(content.decode("utf-8", "replace"))

    def measure(kind: str, said: str) -> object:
        return measures.read(said, kind)

    def formula(said: str) -> object:
        with suppress(UnitError, formualizer.ParserError, formualizer.TokenizerError):
            return infer("=" + said, Reading(lambda _: ANY, lambda _, __: None, typed=ANY))
        return None

    return [
        part(WORKSHEET), part(STYLES), part(BOOK), part("xl/sharedStrings.xml"), whole, rows,
        *(text(partial(measure, kind)) for kind in KINDS),
        text(lambda said: dates.read_date(said, "day")),
        text(lambda said: dates.read_moment(said, "moment")),
        text(lambda said: gs1.read_scan(said, dt.date(2026, 11, 29))),
        text(formula),
    ]  # fmt: skip


def main() -> None:
    """Run from the command line."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seconds", type=int, default=300)
    given, more = parser.parse_known_args()
    with tempfile.TemporaryDirectory() as made:
        folder = Path(made)
        demo = _small()
        known = readers(folder, demo)
        corpus = folder / "corpus"
        corpus.mkdir()
        for number, name in enumerate((WORKSHEET, STYLES, BOOK)):
            (corpus / f"{number}").write_bytes(bytes([number]) + demo[name])

        def one(content: bytes) -> None:
            if content:
                with suppress(PourbookError):
                    known[content[0] % len(known)](content[1:])

        limits = [f"-max_total_time={given.seconds}", "-rss_limit_mb=0", "-timeout=20"]
        atheris.Setup([sys.argv[0], *limits, *more, str(corpus)], one)
        atheris.Fuzz()


if __name__ == "__main__":
    main()
