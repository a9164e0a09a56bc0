"""Every kind of finding: planted once, found at its sheet and cell, in words that help.

A fault is planted where a person or another program would make it: in an entry, in a stored
value, in the file. ``also`` names what else follows from it; nothing beyond that may be
reported, so a fault that stops being told apart from its neighbours fails too. An id without a
planted fault fails.
"""

from __future__ import annotations

import dataclasses
import datetime as dt
import hashlib
import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path

import pytest
from lxml import etree
from tests.office import saved_by_office

from pourbook.cells import Address, Value
from pourbook.errors import EntryAt
from pourbook.functions import catalogue as catalogue_module
from pourbook.hosts import headless
from pourbook.hosts.excel import basic, vbaproject
from pourbook.hosts.excel.vbaproject import Module
from pourbook.hosts.headless.engine import Engine, Read, Recomputed
from pourbook.job import make
from pourbook.job.fill import fill
from pourbook.job.make import Scenario
from pourbook.workbook.check.check import check_file
from pourbook.workbook.check.findings import IDS, Finding
from pourbook.workbook.layout.laid_out import Layout
from pourbook.workbook.read.read import read_book

Repack = Callable[[Path, Path, Mapping[str, Callable[[bytes], bytes | None]]], Path]
Key = tuple[str, str, int]

Q = "{http://schemas.openxmlformats.org/spreadsheetml/2006/main}"
_CELL = re.compile(r"([A-Z]+)(\d+)")


def _column(letters: str) -> int:
    number = 0
    for letter in letters:
        number = number * 26 + ord(letter) - 64
    return number


class Page:
    """One sheet of a file as XML."""

    def __init__(self, content: bytes) -> None:
        self.root = etree.fromstring(content)
        data = self.root.find(Q + "sheetData")
        assert data is not None
        self.data = data

    def cell(self, address: str) -> etree._Element:
        """Return a cell, made where it belongs if it is not there."""
        for found in self.data.iter(Q + "c"):
            if found.get("r") == address:
                return found
        match = _CELL.fullmatch(address)
        assert match is not None
        number, column = int(match[2]), _column(match[1])
        row = next((r for r in self.data if int(str(r.get("r"))) == number), None)
        if row is None:
            row = etree.Element(Q + "row", r=str(number))
            self.data.insert(sum(int(str(r.get("r"))) < number for r in self.data), row)
        made = etree.Element(Q + "c", r=address)
        before = [c for c in row if _column(str(_CELL.fullmatch(str(c.get("r")))[1])) < column]  # type: ignore[index]
        row.insert(len(before), made)
        return made

    def put(self, address: str, value: str | float, formula: str = "") -> None:
        """Type over a cell; a formula is given without its equals sign."""
        cell = self.cell(address)
        for child in list(cell):
            cell.remove(child)
        cell.attrib.pop("t", "")
        if formula:
            etree.SubElement(cell, Q + "f").text = formula
        if isinstance(value, str):
            cell.set("t", "e" if value.startswith("#") else "str")
        etree.SubElement(cell, Q + "v").text = str(value)

    def store(self, address: str, value: str | None) -> None:
        """Change what is stored beside a formula, or take it away."""
        cell = self.cell(address)
        for entry in cell.findall(Q + "v"):
            cell.remove(entry)
        if value is not None:
            etree.SubElement(cell, Q + "v").text = value

    def insert_row(self, above: int) -> None:
        """Push the rows down, as a spreadsheet program does on inserting one."""
        for row in self.data:
            number = int(str(row.get("r")))
            if number >= above:
                row.set("r", str(number + 1))
                for cell in row:
                    match = _CELL.fullmatch(str(cell.get("r")))
                    assert match is not None
                    cell.set("r", f"{match[1]}{number + 1}")

    def written(self) -> bytes:
        """Return the sheet as the file holds it."""
        return etree.tostring(self.root, xml_declaration=True, encoding="UTF-8", standalone=True)


@dataclass
class Bench:
    """Makes faulty copies of the demo."""

    folder: Path
    source: Path
    plan: Layout
    scenario: Scenario
    repack: Repack
    pieces: int
    accepted: Path

    def at(self, block: str, name: str, index: int = 0) -> Address:
        """Return sheet and address of a field."""
        cell = self.plan.cell(block, name, index)
        return cell.sheet, cell.address

    def typed(self, entries: Mapping[Key, object]) -> Path:
        """Return the demo with other entries, recomputed and saved; None clears an entry."""
        merged = {**self.scenario.entries, **entries}
        target = self.folder / "typed.xlsx"
        make.make(target, self.scenario.system, merged, pieces=self.pieces)
        return target

    def part(self, sheet: str) -> str:
        """Return the part of a sheet."""
        names = [s.sheet for s in self.plan.book.sheets]
        return f"xl/worksheets/sheet{names.index(sheet) + 1}.xml"

    def paged(self, sheet: str, change: Callable[[Page], None]) -> Path:
        """Return the demo with one sheet changed in the file."""

        def edit(content: bytes) -> bytes:
            page = Page(content)
            change(page)
            return page.written()

        return self.parts({self.part(sheet): edit})

    def parts(self, edits: Mapping[str, Callable[[bytes], bytes | None]]) -> Path:
        """Return the demo with parts changed."""
        return self.repack(self.source, self.folder / "parts.xlsx", edits)

    def swapped(self, part: str, old: str, new: str) -> Path:
        """Return the demo with a text of a part changed everywhere."""

        def edit(content: bytes) -> bytes:
            assert old.encode() in content, f"the demo's {part} holds no {old}"
            return content.replace(old.encode(), new.encode())

        return self.parts({part: edit})


@dataclass(frozen=True)
class Fault:
    """What is planted, where it must be found, and the words that must stand there.

    ``place`` is the entry or computed cell (block, field, index), or a sheet and address; ``words``
    are patterns that must be found in what and mend together.
    """

    id: str
    name: str
    plant: Callable[[Bench], Path]
    place: Key | tuple[str, str]
    words: tuple[str, ...]
    also: tuple[str, ...] = ()
    engines: tuple[str, ...] = ("fast",)


def typed(entries: Mapping[Key, object]) -> Callable[[Bench], Path]:
    return lambda bench: bench.typed(entries)


def paged(sheet: str, change: Callable[[Page], None]) -> Callable[[Bench], Path]:
    return lambda bench: bench.paged(sheet, change)


def over(key: Key, value: str | float, formula: str = "") -> Callable[[Bench], Path]:
    """Type over a cell of the finished file; what hangs on it is recomputed by the check alone."""

    def plant(bench: Bench) -> Path:
        sheet, address = bench.at(*key)
        return bench.paged(sheet, lambda page: page.put(address, value, formula))

    return plant


def stored(key: Key, value: str | None) -> Callable[[Bench], Path]:
    def plant(bench: Bench) -> Path:
        sheet, address = bench.at(*key)
        return bench.paged(sheet, lambda page: page.store(address, value))

    return plant


def _without_sheet(name: str) -> Callable[[Bench], Path]:
    def edit(content: bytes) -> bytes:
        root = etree.fromstring(content)
        found = [s for s in root.iter(Q + "sheet") if s.get("name") == name]
        for sheet in found:
            parent = sheet.getparent()
            assert parent is not None
            parent.remove(sheet)
        assert found
        return etree.tostring(root, xml_declaration=True, encoding="UTF-8")

    return lambda bench: bench.parts({"xl/workbook.xml": edit})


def _adding(part: str) -> Callable[[Bench], Path]:
    return lambda bench: bench.parts({part: lambda _: b"<x/>"})


def _old_macros() -> bytes:
    texts = basic.sources() | {"xlwings": 'Attribute VB_Name = "xlwings"\nSub Old()\nEnd Sub\n'}
    return vbaproject.write([Module(name, "standard", text) for name, text in texts.items()])


def _compiled_macros() -> bytes:
    """Pourbook's macros with a cache of compiled code, whose head is of a version of Excel."""
    texts = basic.sources().items()
    made = vbaproject.write([Module(name, "standard", text) for name, text in texts])
    bare = bytes.fromhex("cc61ffff000100")
    assert made.count(bare) == 1
    return made.replace(bare, bytes.fromhex("cc61b2000003ff"))


def _hidden(bench: Bench, sheet: str, block: str) -> Path:
    """Hide the row of a price."""
    row = bench.plan.cell(block, "gross").row
    return bench.swapped(bench.part(sheet), f'<row r="{row}"', f'<row r="{row}" hidden="1"')


def _swapped(part: str, old: str, new: str) -> Callable[[Bench], Path]:
    return lambda bench: bench.swapped(part, old, new)


def since(entries: Mapping[Key, object]) -> Callable[[Bench], Path]:
    """Type into a job whose quote was accepted."""

    def plant(bench: Bench) -> Path:
        target = bench.folder / "since.xlsx"
        fill(bench.accepted, target, entries, force=False)
        return target

    return plant


PRICE = ("price", "net", 0)
TOP = ("rooms", "top", 1)
DIFFERS = ("recompute.differs",)
WAITS = ("job.check",)
ROWS = ("job.row", *WAITS)  # the rows that wait for the faulty one

FAULTS = (
    Fault("package.macros", "macros", _adding("xl/vbaProject.bin"), ("", ""), ("macros", "save")),
    Fault(
        "package.macros.old",
        "macros of another Pourbook",
        lambda bench: bench.parts({"xl/vbaProject.bin": lambda _: _old_macros()}),
        ("", ""),
        ("not those of this Pourbook", "pourbook addin excel refresh"),
    ),
    Fault(
        "package.links",
        "a link to another workbook",
        _adding("xl/externalLinks/externalLink1.xml"),
        ("", ""),
        ("a link to another workbook", "break the links"),
    ),
    Fault(
        "package.links",
        "a formula that asks another program",
        paged("Scratch", lambda page: page.put("B30", "0", "cmd|'/c calc'!A1")),
        ("Scratch", "B30"),
        ("reaches outside the workbook", "type what it gives"),
        also=DIFFERS,
    ),
    Fault(
        "own.units",
        "litres added to an area on a sheet of one's own",
        paged("Scratch", lambda page: page.put("B30", "0", "Amounts!$E$8+Amounts!$N$8")),
        ("Scratch", "B30"),
        ("its units do not fit", "ft² and US gal are added", "PB_CONVERT"),
        also=DIFFERS,
    ),
    Fault(
        "package.parts",
        "a connection to data outside",
        _adding("xl/connections.xml"),
        ("", ""),
        ("a connection to data outside", "take it out"),
    ),
    Fault(
        "package.dates",
        "days that count from 1904",
        _swapped("xl/workbook.xml", "<workbookPr/>", '<workbookPr date1904="1"/>'),
        ("", ""),
        ("1904", "type the dates anew"),
    ),
    Fault(
        "package.settings",
        "figures as they are shown",
        _swapped("xl/workbook.xml", "<calcPr", '<calcPr fullPrecision="0"'),
        ("", ""),
        ("figures as they are shown", "put the options"),
    ),
    Fault(
        "package.macros.compiled",
        "code that a program compiled",
        lambda bench: bench.parts({"xl/vbaProject.bin": lambda _: _compiled_macros()}),
        ("", ""),
        ("code as Excel compiled it", "pourbook addin excel refresh"),
    ),
    Fault(
        "appearance.lies",
        "a hidden row of the quote",
        lambda bench: _hidden(bench, "Quote", "quote_price"),
        ("Quote", "A35"),
        ("a row that holds something is hidden", "show the row"),
    ),
    Fault(
        "appearance.look",
        "a hidden row of the price",
        lambda bench: _hidden(bench, "Price", "price"),
        ("Price", "A42"),
        ("a row that holds something is hidden", "show the row"),
    ),
    Fault(
        "structure.version",
        "another version",
        lambda bench: bench.swapped("docProps/custom.xml", bench.plan.fingerprint, "0" * 16),
        ("", ""),
        ("made by Pourbook", "its cells stand elsewhere", "pourbook upgrade"),
    ),
    Fault(
        "structure.sheet",
        "a sheet renamed",
        _swapped("xl/workbook.xml", 'name="Care"', 'name="Upkeep"'),
        ("Care", ""),
        ("not there", "'Upkeep'", "'Care'"),
    ),
    Fault("structure.sheet", "a sheet deleted", _without_sheet("About"), ("About", ""), ("About",)),
    Fault(
        "structure.hidden",
        "a sheet hidden",
        _swapped(
            "xl/workbook.xml",
            'name="Products" sheetId="25" state="visible"',
            'name="Products" sheetId="25" state="hidden"',
        ),
        ("Products", ""),
        ("hidden", "unhide"),
    ),
    Fault(
        "structure.moved",
        "a row inserted above the quote",
        paged("Quote", lambda page: page.insert_row(3)),
        ("Quote", ""),
        ("not where they belong", "inserted", "undo"),  # and of no other cell anything is said
    ),
    Fault(
        "structure.formula",
        "a price typed over with a number",
        over(PRICE, 7000.0),
        PRICE,
        ("Price before tax", "typed over", "'7000'", r"type it again: =IF\("),
        also=DIFFERS,
    ),
    Fault(
        "structure.formula",
        "a formula changed",
        over(PRICE, 7000.0, "8750*0.8"),
        PRICE,
        ("Price before tax", r"changed to =8750\*0\.8"),
        also=DIFFERS,
    ),
    Fault(
        "structure.formula",
        "a cell of a block typed over with a formula",
        over(TOP, 2.0, "1+1"),
        TOP,
        ("'Top' in row 2 of Pieces", r"=1\+1", "one array formula"),
        also=("job.error", "job.row", *DIFFERS, *WAITS),  # the array cannot spill over it
    ),
    Fault(
        "structure.heading",
        "a heading changed",
        paged("Rooms", lambda page: page.put("B15", "Chamber")),
        ("Rooms", "B15"),
        ("'Room'", "'Chamber'", "type it again: Room"),
    ),
    Fault(
        "structure.words",
        "a caution rewritten",
        paged("Layers", lambda page: page.put("A40", "Gloves are not needed")),
        ("Layers", "A40"),
        ("'Resins and hardeners can sensitise", "'Gloves are not needed'", "type it again: Resins"),
    ),
    Fault(
        "structure.heading",
        "what a client is told of the care rewritten",
        paged("Care", lambda page: page.put("A27", "")),
        ("Care", "A27"),
        ("The safety data sheet of each product is kept", "changed to ''", "type it again: The"),
    ),
    Fault(
        "structure.below",
        "a row below the table",
        paged("Rooms", lambda page: page.put("B35", "Hall")),
        ("Rooms", "B35"),
        ("below the 18 rows of Pieces", "count for nothing", "--pieces 19"),
    ),
    Fault(
        "structure.stray",
        "a note beside the prices",
        paged("Price", lambda page: page.put("N50", "ask again")),
        ("Price", "N50"),
        ("'ask again'", "read by nothing", "Scratch"),
    ),
    Fault(
        "entry.missing",
        "no job name",
        typed({("start", "job", 0): None}),
        ("start", "job", 0),
        ("Job is blank",),
        also=WAITS,
    ),
    Fault(
        "entry.missing",
        "a layer without a product",
        typed({("layers", "product", 1): None}),
        ("layers", "product", 1),
        ("Product is blank", "Products sheet|[Cc]hoose"),
        also=WAITS,
    ),
    Fault(
        "entry.text",
        "too long",
        typed({("start", "client", 0): "x" * 201}),
        ("start", "client", 0),
        ("Client", "201 characters", "at most 200"),
    ),
    Fault(
        "entry.text",
        "looks like a refusal",
        typed({("start", "client", 0): "! urgent"}),
        ("start", "client", 0),
        ("Client", "'!'"),
    ),
    Fault(
        "entry.number",
        "a text for a number",
        typed({("site", "crew", 0): "two"}),
        ("site", "crew", 0),
        ("Crew", "'two' is no number", "whole number"),
        also=WAITS,
    ),
    Fault(
        "entry.number",
        "half a person",
        typed({("site", "crew", 0): 2.5}),
        ("site", "crew", 0),
        ("Crew", r"2\.5 is out of range", "whole number"),
        also=WAITS,
    ),
    Fault(
        "entry.ratio",
        "a ratio that became a time of day",
        typed({("products", "ratio", 1): 4 / 24 + 1 / 1440}),
        ("products", "ratio", 1),
        (r"Ratio: '0\.167", "a time or a date, no ratio", "such as 2:1"),
        also=ROWS,
    ),
    Fault(
        "entry.ratio",
        "a bare number for a ratio",
        typed({("products", "ratio", 1): 2}),
        ("products", "ratio", 1),
        ("Ratio: '2' is a number", "such as 2:1"),
        also=ROWS,
    ),
    Fault(
        "entry.ratio",
        "a ratio that became a date",
        typed({("products", "ratio", 1): dt.date(2027, 2, 1)}),
        ("products", "ratio", 1),
        ("Ratio: '46419' is a number, a time or a date", "such as 2:1"),
        also=ROWS,
    ),
    Fault(
        "entry.ratio",
        "a ratio of 0",
        typed({("products", "ratio", 1): "2:0"}),
        ("products", "ratio", 1),
        ("Ratio: '2:0' has a part that is 0 or less", "such as 2:1"),
        also=ROWS,
    ),
    Fault(
        "entry.number",
        "all of it lost",
        typed({("layers", "loss", 1): 1}),
        ("layers", "loss", 1),
        ("Loss", "100 % is out of range", "below 100 %"),
        also=WAITS,
    ),
    Fault(
        "entry.number",
        "more than all of it lost",
        typed({("layers", "loss", 1): 1.25}),
        ("layers", "loss", 1),
        ("Loss", "125 % is out of range", "below 100 %"),
        also=WAITS,
    ),
    Fault(
        "entry.measure",
        "a length in kilograms",
        typed({("rooms", "edge_run", 1): "38 kg"}),
        ("rooms", "edge_run", 1),
        ("Edge run", "38 kg"),
        also=WAITS,
    ),
    Fault(
        "entry.measure",
        "an ounce of what",
        typed({("doing", "batch_loss", 1): "30 oz"}),
        ("doing", "batch_loss", 1),
        ("Bucket hold-back", "'oz' may be fluid or weight", "US fl oz", "oz wt"),
        also=WAITS,
    ),
    Fault(
        "entry.choice",
        "a product that is not there",
        typed({("layers", "product", 1): "Mystery"}),
        ("layers", "product", 1),
        ("Product", "'Mystery' is not in the list", "[Cc]hoose"),
        also=WAITS,
    ),
    Fault(
        "entry.choice",
        "a shape that is not there",
        typed({("rooms", "shape", 1): "blob"}),
        ("rooms", "shape", 1),
        ("Shape", "'blob' is not in the list", "list of the cell"),
        also=WAITS,
    ),
    Fault(
        "entry.choice",
        "a finish with a space too many, which formulas read as meant",
        paged("Start", lambda page: page.put("B51", "base with flakes, rolled top\u00a0")),
        ("chosen", "finish_b", 0),
        ("has a space too many", "Choose"),
        also=DIFFERS,
    ),
    Fault(
        "entry.date",
        "a date as text",
        typed({("start", "date", 0): "next week"}),
        ("start", "date", 0),
        ("Date of this quote", "'next week' is no date", "2026-11-24"),
        also=WAITS,
    ),
    Fault(
        "entry.error",
        "an error value pasted in",
        over(("site", "temperature", 0), "#REF!"),
        ("site", "temperature", 0),
        ("Day temperature", "#REF!", "[Tt]ype a number"),
        also=(*DIFFERS, *WAITS),
    ),
    Fault(
        "recompute.novalue",
        "no stored value",
        stored(PRICE, None),
        PRICE,
        ("1 formulas? ", "no stored value", "pourbook recompute"),
    ),
    Fault(
        "recompute.differs",
        "a stored value edited",
        stored(PRICE, "4000"),
        PRICE,
        ("Price before tax", "shows 4000", r"gives 6770\.13", "pourbook recompute"),
    ),
    Fault(
        "recompute.differs",
        "a cell of a block typed over with a number",
        over(TOP, 99.0),
        TOP,
        ("'Top' in row 2 of Pieces", "shows 99", r"gives 6\.817"),
    ),
    Fault(
        "recompute.differs",
        "an entry typed and not worked out since: one finding for all it moves",
        over(("rooms", "a", 1), 40.0),
        ("Start", "B7"),
        (r"^\d+ cells show old values, on Start, Rooms, ", r"coat' .*shows 174\.8", "recompute"),
    ),
    Fault(
        "job.row",
        "a size missing",
        typed({("rooms", "b", 1): None}),
        ("rooms", "b", 1),
        ("Size B", "blank", "rectangle needs it"),
        also=WAITS,
    ),
    Fault(
        "job.row",
        "a layer with nothing to coat",
        typed(
            {
                ("layers", "surfaces", 1): "backsplash",
                ("layers", "rooms", 1): "Bar",
            }
        ),
        ("layers", "surfaces", 1),
        ("no backsplash to coat", "other surfaces"),
        also=WAITS,
    ),
    Fault(
        "job.error",
        "a division by nothing",
        over(("price", "per_area", 0), 1.0, "1/0"),
        ("price", "per_area", 0),
        ("Price before tax per area", "#DIV/0!", "fix the entries"),
        also=("structure.formula", *DIFFERS),
    ),
    Fault(
        "job.check",
        "a quote that ends before it is made",
        typed({("start", "until", 0): dt.date(2026, 11, 1)}),
        ("checks", "result", 5),
        ("The quote does not end before",),
    ),
    Fault(
        "job.look",
        "a high loss",
        typed({("layers", "loss", 0): 0.35}),
        ("layers", "loss", 0),
        ("Loss of .*: 35 %", "usual: 5 to 12 %", "3.5 % may be meant", "close it on Looks"),
    ),
    Fault(
        "job.proof",
        "a board softer than agreed",
        typed({("tests", "reading", 0): "2B"}),
        ("tests", "reading", 0),
        ("fails", "test again"),
    ),
    Fault(
        "quoted.changed",
        "a labour rate after the quote was accepted",
        since({("rates", "labour", 0): 50, ("start", "contact", 0): "555-0199"}),
        ("quoted", "digest", 0),
        (
            "changed on Start, Price since",
            "Labour and 1[0-9] figures",
            "pourbook accept since.xlsx",
        ),
    ),
    Fault(
        "quoted.changed",
        "a telephone number after the quote was accepted",
        since({("start", "contact", 0): "555-0199"}),
        ("quoted", "digest", 0),
        ("changed on Start since", "no figure moved", "pourbook accept since.xlsx"),
    ),
    Fault(
        "quoted.sealed",
        "an accepted price changed by hand",
        since({("quoted_lines", "amount", 13): 4000.0}),
        ("quoted_lines", "amount", 13),
        ("'Quoted' in row 14 of The price, then and now", r"it was 6770\.13", "pourbook accept"),
        also=WAITS,
    ),
    Fault(
        "quoted.sealed",
        "an accepted pack cleared by hand",
        since({("quoted_packs", "holds", 1): None}),
        ("quoted_packs", "holds", 1),
        ("'Holds' in row 2 of Its packs", "it was kit"),
    ),
    Fault(
        "quoted.sealed",
        "a name changed by hand",
        since({("quoted", "accepted_by", 0): "Somebody else"}),
        ("quoted", "revision", 0),
        ("a figure of 'The quote that was accepted'", "changed by hand"),
    ),
    Fault(
        "quoted.sealed",
        "a digest changed by hand",
        since({("quoted_sheets", "digest", 2): "0123456789abcdef"}),
        ("quoted", "seal", 0),
        ("a digest of this sheet was changed by hand",),
        also=WAITS,  # that sheet is not what it says
    ),
    Fault(
        "closed.sealed",
        "a closing written by hand",
        since({("closings", "what", 0): "closed", ("closings", "no", 0): 1.0}),
        ("closings", "no", 0),
        ("a figure of closing 1 was changed by hand", "handed over"),
        also=WAITS,  # and what Settle says was not booked
    ),
)

BY_HAND = {
    "engines.disagree",
    "function.failed",
    "settle.state",
    "archive.left",
    "archive.twice",
    "archive.unsettled",
    "look.closed",
    "entry.worked",
}
"""Kinds only a fault of Pourbook brings about, or another command; they have tests of their own."""


@pytest.fixture
def bench(
    tmp_path: Path,
    demo_us: Path,
    plan_us: Layout,
    scenario_us: Scenario,
    repack: Repack,
    pieces: int,
    accepted_us: Path,
) -> Bench:
    return Bench(tmp_path, demo_us, plan_us, scenario_us, repack, pieces, accepted_us)


def _hash(path: Path) -> str:
    return hashlib.sha256(path.read_bytes()).hexdigest()


def _one(findings: Iterable[Finding], kind: str, place: tuple[str, str]) -> Finding:
    listed = list(findings)
    found = [f for f in listed if f.id == kind and (f.sheet, f.cell) == place]
    assert len(found) == 1, f"{kind} at {place}: {found or listed}"
    return found[0]


def _reads_well(finding: Finding) -> None:
    assert finding.what
    assert finding.mend
    words = f"{finding.what} {finding.mend}"
    assert not re.search(r"\bNone\b|\{[a-z@]|@[a-z]|Traceback|<[a-z]|\bnan\b", words), words


@pytest.mark.parametrize("kind", sorted(IDS))
def test_every_kind_has_a_planted_fault(kind: str) -> None:
    assert kind in {f.id for f in FAULTS} | BY_HAND, f"plant a fault for {kind}"


def test_no_fault_names_a_kind_that_is_gone() -> None:
    assert {f.id for f in FAULTS} | {a for f in FAULTS for a in f.also} | BY_HAND <= set(IDS)


@pytest.mark.in_turn
@pytest.mark.parametrize("fault", FAULTS, ids=lambda f: f"{f.id}: {f.name}")
def test_fault_is_found(fault: Fault, bench: Bench) -> None:
    path = fault.plant(bench)
    before = _hash(path)
    findings = check_file(path, fault.engines).findings
    place = bench.at(*fault.place) if len(fault.place) == 3 else fault.place
    found = _one(findings, fault.id, place)
    words = f"{found.what} | {found.mend}"
    for pattern in fault.words:
        assert re.search(pattern, words), f"{pattern!r} is not in: {words}"
    assert found.file == path.name
    if len(fault.place) == 3 and fault.place in bench.plan.entry_at:
        assert found.entry == EntryAt(*fault.place)
    for finding in findings:
        _reads_well(finding)
    assert {f.id for f in findings} == {fault.id, *fault.also}, findings
    assert _hash(path) == before
    assert sorted(p.name for p in path.parent.iterdir()) == [path.name]


@pytest.mark.plain
def test_clean_demo_has_no_finding_in_either_engine(demo_us: Path) -> None:
    before = _hash(demo_us)
    assert check_file(demo_us, ("fast", "plain")).findings == ()
    assert _hash(demo_us) == before


def test_clean_metric_twin_has_no_finding(demo_metric: Path) -> None:
    assert check_file(demo_metric).findings == ()


def test_engines_that_disagree_are_found(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    place = bench.at(*PRICE)
    real = headless.engine("fast")

    class Doubting:
        name = "plain"

        def recompute(
            self, path: Path, wanted: Iterable[Address], read: Read | None = None
        ) -> Recomputed:
            done = real.recompute(path, wanted, read)
            value = done.values[place]
            assert isinstance(value, float)
            done.values[place] = value * (1 + 1e-6)
            return done

    def chosen(name: str) -> Engine:
        return real if name == "fast" else Doubting()

    monkeypatch.setattr(headless, "engine", chosen)
    found = check_file(bench.source, ("fast", "plain")).findings
    assert [f.id for f in found] == ["engines.disagree"]
    assert (found[0].sheet, found[0].cell) == place
    assert re.search(r"fast and plain give 6770\.13 and 6770\.13", found[0].what)
    assert "send us" in found[0].mend


def test_function_that_fails_inside_is_found(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    known = dict(catalogue_module.catalogue())

    def broken(*_: object) -> Value:
        raise ZeroDivisionError("planted")

    known["PB_PARTS"] = dataclasses.replace(known["PB_PARTS"], compute=broken)
    monkeypatch.setattr(catalogue_module, "catalogue", lambda: known)
    found = check_file(bench.source).findings
    failed = [f for f in found if f.id == "function.failed"]
    assert len(failed) == 1
    assert "PB_PARTS" in failed[0].what
    assert "ZeroDivisionError: planted" in failed[0].what
    assert "fault of Pourbook" in failed[0].mend


def test_three_hundred_rows_pasted_into_a_hundred_and_twenty(
    tmp_path: Path, scenario_us: Scenario, repack: Repack, plan_us: Layout
) -> None:
    source = tmp_path / "long.xlsx"
    make.make(source, "us", scenario_us.entries)
    first = plan_us.places["rooms"].first

    def paste(content: bytes) -> bytes:
        page = Page(content)
        for row in range(first + 14, first + 300):
            page.put(f"B{row}", "Hall")
            page.put(f"C{row}", f"Shelf {row}")
            page.put(f"D{row}", "rectangle")
            page.put(f"E{row}", 30.0)
            page.put(f"F{row}", 12.0)
        return page.written()

    path = repack(source, tmp_path / "pasted.xlsx", {"xl/worksheets/sheet3.xml": paste})
    found = [f for f in check_file(path).findings if f.id.startswith("structure.")]
    assert [f.id for f in found] == ["structure.below"]
    assert found[0].place == f"Rooms!B{first + 120}"
    assert found[0].what.startswith("180 rows stand below the 120 rows of Pieces")
    assert "--pieces 300" in found[0].mend


def test_rename_that_the_formulas_follow_is_told_first(bench: Bench) -> None:
    """A spreadsheet program rewrites every formula when a sheet is renamed."""

    def follow(content: bytes) -> bytes:
        return content.replace(b"Rooms!", b"Spaces!")

    names = [bench.part(s.sheet) for s in bench.plan.book.sheets]
    edits: dict[str, Callable[[bytes], bytes | None]] = dict.fromkeys(names, follow)
    edits["xl/workbook.xml"] = lambda c: follow(c).replace(b'name="Rooms"', b'name="Spaces"')
    findings = check_file(bench.parts(edits)).findings
    named = _one(findings, "structure.sheet", ("Rooms", ""))
    assert "'Spaces'" in named.mend
    assert findings[0] == named, "the cause stands before what follows from it"
    assert {f.id for f in findings} == {"structure.sheet"}


@pytest.mark.parametrize("word", ["inf", "nan"])
def test_word_that_is_no_finite_number_is_an_entry_to_mend(bench: Bench, word: str) -> None:
    sheet, address = bench.at("rooms", "count", 1)
    path = bench.paged(sheet, lambda page: page.put(address, word))
    findings = check_file(path).findings
    found = _one(findings, "entry.number", (sheet, address))
    assert f"'{word}' is no number" in found.what
    assert "function.failed" not in {f.id for f in findings}


def test_one_wrong_size_is_told_once(bench: Bench) -> None:
    findings = check_file(bench.typed({("rooms", "b", 1): "38 kg"})).findings
    assert {f.id for f in findings} == {"entry.measure", "job.check"}, len(findings)


def test_no_finding_repeats_its_fault_as_its_mend(bench: Bench) -> None:
    findings = check_file(bench.typed({("rooms", "d", 1): 12})).findings
    assert next(f.place for f in findings if f.id == "job.row") == "Rooms!H18"
    own = [f for f in findings if f.id == "job.row" and f.sheet == "Rooms"]
    assert [(f.what, f.mend) for f in own] == [
        ("Size D: a rectangle has no such size", "clear it, or choose another shape")
    ]


@pytest.fixture(scope="module")
def saved_again(demo_us: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demo as LibreOffice saves it."""
    return saved_by_office(demo_us, tmp_path_factory.mktemp("office"))


@pytest.mark.libreoffice
def test_file_saved_again_by_another_program_is_still_a_job(
    saved_again: Path, plan_us: Layout
) -> None:
    before = _hash(saved_again)
    assert read_book(saved_again).plan() == plan_us
    findings = check_file(saved_again).findings
    for finding in findings:
        _reads_well(finding)
    kinds = {f.id for f in findings}
    untouched = ("entry.", "package.", "structure.sheet", "structure.heading", "structure.moved")
    assert not {k for k in kinds if k.startswith(untouched)}, kinds
    assert _hash(saved_again) == before


@pytest.mark.libreoffice
def test_file_saved_again_by_another_program_keeps_its_formulas(saved_again: Path) -> None:
    found = [f for f in check_file(saved_again).findings if f.id.startswith("structure.")]
    assert not found


@pytest.mark.libreoffice
def test_functions_another_program_does_not_know_are_told_in_short(saved_again: Path) -> None:
    found = [f for f in check_file(saved_again).findings if f.id.startswith("recompute.")]
    assert 1 <= len(found) <= 20


@pytest.mark.parametrize(
    ("entries", "cause"),
    [
        ({("rooms", "a", 0): "28 ftt"}, ("rooms", "a", 0)),
        ({("working", "pot_life", 1): None}, ("working", "pot_life", 1)),
        ({("layers", "product", 0): "Tnt base"}, ("layers", "product", 0)),
    ],
)
def test_one_cause_is_one_line_and_counts_what_waits(
    demo_us: Path, plan_us: Layout, tmp_path: Path, entries: Mapping[Key, object], cause: Key
) -> None:
    fill(demo_us, tmp_path / "job.xlsx", entries, force=False)
    found = check_file(tmp_path / "job.xlsx").findings
    cell = plan_us.entry_at[cause]
    assert found[0].place == f"{cell.sheet}!{cell.address}"
    assert [f.id for f in found[1:]] == ["job.check"]
    assert f"may only wait for {found[0].place}: " in found[1].what
    assert not any("typed over" in f.mend for f in found), "nobody typed over anything"


def test_a_blank_pot_life_is_named_beside_other_blanks(
    demo_us: Path, plan_us: Layout, tmp_path: Path
) -> None:
    blank = dict.fromkeys([("working", "pot_life", 1), ("rates", "labour", 0)])
    fill(demo_us, tmp_path / "job.xlsx", blank, force=False)
    found = check_file(tmp_path / "job.xlsx").findings
    assert len(found) == 3
    cells = [plan_us.entry_at[key] for key in blank]
    assert {f.place for f in found[:2]} == {f"{c.sheet}!{c.address}" for c in cells}


def test_a_script_knows_a_refusal_and_its_entry_without_reading_words(
    demo_us: Path, tmp_path: Path
) -> None:
    wrong = {
        ("rooms", "b", 1): None,
        ("layers", "surfaces", 1): "backsplash",
        ("layers", "rooms", 1): "Bar",
    }
    fill(demo_us, tmp_path / "job.xlsx", wrong, force=False)
    found = [f.as_json() for f in check_file(tmp_path / "job.xlsx").findings if f.id == "job.row"]
    assert [(f["refusal"], f["entry"]) for f in found] == [
        ("blank", {"table": "rooms", "field": "b", "row": 2}),
        ("unknown", {"table": "layers", "field": "surfaces", "row": 2}),
    ]
