"""Packages made to be read in two ways, to cost more than they weigh, or to carry something along.

Each case was planted in a demo that is in order; a refusal is exit 3 with one line, and whatever a
spreadsheet program would read or run and no job holds is a finding.
"""

from __future__ import annotations

import os
import re
import subprocess
import sys
import zipfile
from collections.abc import Callable, Mapping
from pathlib import Path

import pytest
from tests.command_line import run

from pourbook.errors import FileUnreadableError
from pourbook.hosts.excel import basic, vbaproject
from pourbook.hosts.excel.vbaproject import Module
from pourbook.workbook.check.check import check_file

Repack = Callable[[Path, Path, Mapping[str, Callable[[bytes], bytes | None]]], Path]
Edit = Callable[[bytes], bytes]
BOOK, ROOMS, PRICE = "xl/workbook.xml", "xl/worksheets/sheet3.xml", "xl/worksheets/sheet10.xml"
TYPES, LINKS, ROOT = "[Content_Types].xml", "xl/_rels/workbook.xml.rels", "_rels/.rels"
RELATION = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
MOST_SECONDS, MOST_KILOBYTES = 20, 500_000


@pytest.fixture
def file(tmp_path: Path) -> Path:
    return tmp_path / "job.xlsx"


def _swap(old: str, new: str, count: int = 1) -> Edit:
    def edit(content: bytes) -> bytes:
        assert old.encode() in content, old
        return content.replace(old.encode(), new.encode(), count)

    return edit


def _first(pattern: str, new: str) -> Edit:
    def edit(content: bytes) -> bytes:
        changed, count = re.subn(pattern.encode(), new.encode(), content, count=1)
        assert count == 1, pattern
        return changed

    return edit


_NUMBER = r'(?: t="n")?(>(?:<f[^>]*>[^<]*</f>)?<v>)(\d[^<]*)'
_SUM = r"(<f[^>]*>[^<]*SUM\([^<]*)</f>"


def _refused(path: Path) -> str:
    with pytest.raises(FileUnreadableError) as told:
        check_file(path)
    assert told.value.exit_code == 3
    return str(told.value)


@pytest.mark.parametrize(
    "edit",
    [
        _first(_SUM, r"\1<!-- -->*0.5</f>"),
        _first(_SUM, r"\1<x/>*0.5</f>"),
        _first(_SUM, r"\1<?x y?>*0.5</f>"),
        _first(_SUM, r"\1</f><f>0</f>"),
        _first(r"<f[^>]*>[^<]*</f>", "<f/>"),
        _first(r'<f t="array"', '<f t="+array"'),
        _first(r'<f t="array" ref="[^"]*"', '<f t="array"'),
        _first(r"<f[^>]*>[^<]*</f>", "<f></f>"),
        _first(r"<f[^>]*>[^<]*</f>", '<f t="shared" si="77"/>'),
        _first(r"<v>(\d)(\d*\.?\d*)</v>", r"<v>\1<!-- -->0</v>"),
        _first(r"<v>(\d)(\d*\.?\d*)</v>", r"<v>\1\2</v><v>0</v>"),
        _first(r"<v>(\d*\.?\d*)</v>", r"<v>\1</v><x:v xmlns:x='urn:x'>0</x:v>"),
        _first(r'(<c r="[A-Z]+\d+"[^>]*><v>\d)', r'<c r="B12"><v>9</v></c>\1'),
        _first(r"</sheetData>", r'</sheetData><sheetData><row r="9"><c r="B9"/></row></sheetData>'),
        _first(r"</sheetData>", r'</sheetData><x><c r="B12"><v>40</v></c></x>'),
        _first(r"<is><t>([^<]+)</t></is>", r"<is><t>\1</t><t>\1</t></is>"),
        _first(r"<is><t>([^<]+)</t></is>", r"<is><t>\1</t><r><t>\1</t></r></is>"),
        _first(r"<is><t>([^<]+)</t></is>", r"<is><x:t xmlns:x='urn:x'>\1</x:t></is>"),
        _first(r"<is><t>([^<]+)</t></is>", r"<is><x><t>\1</t></x></is>"),
        _first(r"<is><t>([^<]+)</t></is>", r"<is><r><x/><t>\1</t></r></is>"),
        _first(_NUMBER, r' t="array"\1\2'),
        _first(r't="inlineStr"><is>', r't="inline"><is>'),
        _first(r't="str"(><f>[^<]*</f><v>[^<]+</v>)', r't="d"\1'),
        _first(_NUMBER, r' t="b"\1true'),
        _first(_NUMBER, r' t="n"\g<1>1_0'),
        _first(_NUMBER, ' t="n"\\1\u0661'),
        _first(_NUMBER, r' t="n"\g<1>0x1'),
        _first(_NUMBER, r' t="n"\g<1>1e400'),
        _first(_NUMBER, r' t="n"\g<1>NaN'),
        _first(_NUMBER, r' t="s"\g<1>99999'),
        _first(r' s="(\d+)"([^>]*><v>)', r' s="\1.0"\2'),
        _first(r' s="(\d+)"([^>]*><v>)', r' s="\1E+0"\2'),
        _first(r' s="\d+"([^>]*><v>)', ' s="\u0661"\\1'),
        _first(r'<row r="9"', r'<row r="I9"'),
        _first(r'<row r="9"', r'<row r=""'),
        _first(r'<c r="A9"', r'<c r=""'),
    ],
    ids=[
        *("comment in f", "element in f", "instruction in f", "two f", "f alone", "f odd"),
        *("f of no area", "f empty", "f of none", "comment in v", "two v"),
        "v of another kind",
        *("cell twice", "two sheetData", "cell elsewhere"),
        *("two t", "t and parts", "t of another kind", "t wrapped", "element in a part"),
        *(
            "kind",
            "kind of a text",
            "kind of a day",
            "switch",
            "number of Python",
            "digits of others",
            "by 16",
            "too large",
            "none",
        ),
        *("text that is not there", "look 7.0", "look 7E+0", "look of other digits"),
        *("row by a cell", "row by nothing", "cell by nothing"),
    ],
)
def test_what_programs_read_differently_is_refused(
    file: Path, demo_us: Path, repack: Repack, edit: Edit
) -> None:
    _refused(repack(demo_us, file, {PRICE: edit}))


def test_a_table_of_values_tried_by_excel_is_what_it_holds(
    file: Path, demo_us: Path, repack: Repack
) -> None:
    """The estimator made one on Scratch; it has no formula that anybody could work out."""
    made = '<c r="B900"><f t="dataTable" ref="B900:B902" dt2D="0" dtr="0" r1="B5"/><v>12.5</v></c>'
    edit = _swap("</sheetData>", f'<row r="900">{made}</row></sheetData>')
    scratch = "xl/worksheets/sheet30.xml"
    assert check_file(repack(demo_us, file, {scratch: edit})).findings == ()


@pytest.mark.parametrize("name", ["protection", "xf", "numFmt", "font"])
def test_looks_that_programs_read_differently_are_refused(
    file: Path, demo_us: Path, repack: Repack, name: str
) -> None:
    """LibreOffice showed a share of 6.25 % as 0.0625, and days as numbers."""
    newer = "http://schemas.openxmlformats.org/markup-compatibility/2006"
    wrap = rf'<m:AlternateContent xmlns:m="{newer}"><m:Choice>\1</m:Choice></m:AlternateContent>'
    edit = _first(rf"(<{name} [^>]*/>|<{name}>.*?</{name}>)", wrap)
    told = _refused(repack(demo_us, file, {"xl/styles.xml": edit}))
    assert "programs read differently" in told


def test_a_comment_in_a_shared_text_is_refused(file: Path, demo_us: Path, repack: Repack) -> None:
    strings = (
        b'<sst xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main">'
        b"<si><t>4<!-- -->0</t></si></sst>"
    )
    kind = f'<Relationship Id="rS" Type="{RELATION}/sharedStrings" Target="sharedStrings.xml"/>'
    edits: dict[str, Callable[[bytes], bytes | None]] = {
        LINKS: _swap("</Relationships>", f"{kind}</Relationships>"),
        TYPES: _typed("xl/sharedStrings.xml", TEXTS),
        ROOMS: _first(r"</row>", r'<c r="AZ1" t="s"><v>0</v></c></row>'),
        "xl/sharedStrings.xml": lambda _: strings,
    }
    assert "differently" in _refused(repack(demo_us, file, edits))


@pytest.mark.parametrize(
    ("part", "edit"),
    [
        (ROOT, _swap("xl/workbook.xml", "xl/other.xml")),
        (ROOT, _swap("docProps/custom.xml", "docProps/marks.xml")),
        (
            LINKS,
            _swap(
                "</Relationships>",
                f'<Relationship Id="rS" Type="{RELATION}/sharedStrings" Target="texts.xml"/>'
                "</Relationships>",
            ),
        ),
        (LINKS, _swap(f'Type="{RELATION}/worksheet"', f'Type="-{RELATION}/worksheet"')),
        (LINKS, _first(r"<Relationship ([^>]*sheet3[^>]*)/>", r"<x:Relationship xmlns:x='x' \1/>")),
        (LINKS, _first(r"(<Relationship [^>]*sheet3[^>]*/>)", r"<x>\1</x>")),
        (LINKS, _first(r"(<Relationship [^>]*sheet3)(\.xml[^>]*/>)", r"\1\2\1\2")),
        (LINKS, _first(r"<Relationship [^>]*styles\.xml[^>]*/>", "")),
        (TYPES, _first(r'(sheet3\.xml" ContentType="[^"]*)spreadsheetml.worksheet', r"\1drawing")),
        (TYPES, _first(r"<Override [^>]*sheet3\.xml[^>]*/>", "")),
        (TYPES, _swap('<Types xmlns="', '<Types xmlns="x')),
        (LINKS, _swap('<Relationships xmlns="', '<Relationships xmlns="x')),
        (TYPES, _first(r"<Override ([^>]*sheet3\.xml[^>]*)/>", r"<x:Override xmlns:x='x' \1/>")),
    ],
    ids=[
        *("workbook", "marks", "texts", "kind", "kind of another sort", "wrapped", "twice"),
        *("looks not led to", "a sheet that is a drawing", "of no type", "no types", "no links"),
        "types of another sort",
    ],
)
def test_a_decoy_is_refused(
    file: Path, demo_us: Path, repack: Repack, part: str, edit: Edit
) -> None:
    told = _refused(repack(demo_us, file, {part: edit}))
    assert "other parts" in told or "does not begin with" in told


@pytest.mark.parametrize(
    "edit",
    [
        _first(r"(<sheet [^>]*/>)", r"\1\1"),
        _first(r"(<sheet [^>]*/>)", r"<x>\1</x>"),
        _first(r"(<sheet [^>]*/>)", r"\1<x:sheet xmlns:x='x'/>"),
        _first(r'(<sheet [^>]*name="Rooms"[^>]*/>)', r"\1<x:sheets xmlns:x='x'/>"),
        _first(r'name="Price"', 'name="rooms"'),
        _first(r'(<workbook [^>]*?xmlns=")', r"\1x"),
        _first(r'(<definedName [^>]*)localSheetId="\d+"', r'\1localSheetId="99"'),
        _first(r'<definedName name="[^"]*"', "<definedName"),
    ],
    ids=[
        *("twice", "wrapped", "of another sort", "two lists", "a name twice"),
        *("no workbook", "a name of no sheet", "a name of none"),
    ],
)
def test_a_list_of_sheets_that_programs_read_differently_is_refused(
    file: Path, demo_us: Path, repack: Repack, edit: Edit
) -> None:
    told = _refused(repack(demo_us, file, {BOOK: edit}))
    assert any(said in told for said in ("lists a sheet", "does not begin with", "not there"))


def _macros() -> bytes:
    texts = basic.sources() | {"xlwings": 'Attribute VB_Name = "xlwings"\nSub Old()\nEnd Sub\n'}
    return vbaproject.write([Module(name, "standard", text) for name, text in texts.items()])


def _typed(name: str, kind: str) -> Edit:
    return _swap("</Types>", f'<Override PartName="/{name}" ContentType="{kind}"/></Types>')


def _named(name: str, text: str, more: str = "") -> dict[str, Edit]:
    made = f'<definedName name="{name}"{more}>{text}</definedName></definedNames>'
    return {BOOK: _swap("</definedNames>", made)}


def _led(kind: str, target: str, more: str = "") -> Edit:
    made = f'<Relationship Id="rX" Type="{kind}" Target="{target}"{more}/></Relationships>'
    return _swap("</Relationships>", made)


OFFICE = "http://schemas.microsoft.com/office"
TEXTS = "application/vnd.openxmlformats-officedocument.spreadsheetml.sharedStrings+xml"
LINK = "application/vnd.openxmlformats-officedocument.spreadsheetml.externalLink+xml"
VBA = "application/vnd.ms-office.vbaProject"
CARRIED: dict[str, tuple[str, dict[str, Edit]]] = {
    "macros under another name": (
        "package.macros",
        {TYPES: _typed("xl/styles2.bin", VBA), "xl/styles2.bin": lambda _: b"VBA"},
    ),
    "macros in other letters": ("package.macros", {"xl/VBAPROJECT.BIN": lambda _: b"VBA"}),
    "macros by a relationship": (
        "package.macros",
        {
            LINKS: _led(f"{OFFICE}/2006/relationships/vbaProject", "theme/theme9.xml"),
            "xl/theme/theme9.xml": lambda _: b"<x/>",
        },
    ),
    "an external link elsewhere": (
        "package.links",
        {TYPES: _typed("xl/l/l1.xml", LINK), "xl/l/l1.xml": lambda _: b"<x/>"},
    ),
    "a relationship to the outside": (
        "package.links",
        {LINKS: _led(f"{RELATION}/x", "file:///s/prices.xlsx", ' TargetMode="External"')},
    ),
    "another program in a name": ("package.links", _named("Rate", "cmd|'/c calc'!A1")),
    "another workbook in a name": ("package.links", _named("Rate", "[1]Prices!$A$1")),
    "a name that starts by itself": ("package.parts", _named("Auto_Open", "Price!$A$1")),
    "a name that is a macro": ("package.parts", _named("Go", "Price!$A$1", ' function="1"')),
    "a name in place of a function": ("package.parts", _named("pb_rooms", "LAMBDA(a,b,1)")),
    "connections": ("package.parts", {"xl/connections.xml": lambda _: b"<x/>"}),
    "an embedded object": ("package.parts", {"xl/embeddings/oleObject1.bin": lambda _: b"x"}),
    "buttons of its own": (
        "package.parts",
        {ROOT: _led(f"{OFFICE}/2007/relationships/ui/extensibility", "customUI/customUI14.xml")},
    ),
    "days from 1904": (
        "package.dates",
        {BOOK: _swap("<workbookPr/>", '<workbookPr date1904="1"/>')},
    ),
    "figures as shown": (
        "package.settings",
        {BOOK: _swap("<calcPr ", '<calcPr fullPrecision="0" ')},
    ),
    "by hand": ("package.settings", {BOOK: _swap("<calcPr ", '<calcPr calcMode="manual" ')}),
}


@pytest.mark.parametrize("case", CARRIED)
def test_what_no_job_holds_is_told(file: Path, demo_us: Path, repack: Repack, case: str) -> None:
    kind, edits = CARRIED[case]
    findings = check_file(repack(demo_us, file, dict(edits))).findings
    assert kind in {f.id for f in findings}
    assert all(f.what and f.mend for f in findings)


def test_macros_that_were_changed_are_not_ours(file: Path, demo_us: Path, repack: Repack) -> None:
    path = repack(demo_us, file, {"xl/vbaProject.bin": lambda _: _macros()})
    assert "package.macros.old" in {f.id for f in check_file(path).findings}


def _sheet(rows: str) -> bytes:
    head = '<worksheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main">'
    return f"{head}<sheetData>{rows}</sheetData></worksheet>".encode()


def _costly(case: str) -> Edit:
    long = "1" + "+1" * 4000
    row = '<row r="{0}"><c r="A{0}">{1}</c></row>'
    cells = {
        "shared": f'<row r="1"><c r="A1"><f t="shared" si="0" ref="A1:A60000">{long}</f></c></row>'
        + "".join(row.format(n, '<f t="shared" si="0"/>') for n in range(2, 60_000)),
        "tags": "<row>" + "<c/>" * 4_000_000 + "</row>",
        "cells": "".join(row.format(n, "<v>1</v>") for n in range(1, 1_000_000)),
        "deep": f'<row r="1"><c r="A1"><f>{"(" * 4000}1{")" * 4000}</f></c></row>',
        "long": f'<row r="1"><c r="A1"><f>{long * 2}</f></c></row>',
        "unclosed": '<row r="1"><c r="A1"><f t="shared" si="0" ref="A1:A2">"a</f></c></row>'
        '<row r="2"><c r="A2"><f t="shared" si="0"/></c></row>',
        "array": '<row r="1"><c r="A1"><f t="array" ref="A1:XFD1048576">1</f></c></row>',
    }
    return lambda _: _sheet(cells[case])


COSTLY = ("shared", "tags", "cells", "deep", "long", "unclosed", "array")


def _limited(path: Path, command: str = "check", *more: str) -> subprocess.CompletedProcess[str]:
    """Run a command in a process of its own and say what it took at most."""
    told = (
        "import re, sys; from pourbook.cli import main\n"
        "try: main(sys.argv[1:])\n"
        "except SystemExit as done: code = done.code\n"
        "print('KB', *re.findall(r'VmHWM:\\s*(\\d+)', open('/proc/self/status').read()))\n"
        "sys.exit(code)"
    )
    return subprocess.run(
        [sys.executable, "-c", told, command, str(path), *more],
        capture_output=True,
        text=True,
        timeout=MOST_SECONDS,
        check=False,
    )


@pytest.mark.parametrize("case", COSTLY)
def test_cost_is_bounded_before_it_is_paid(
    file: Path, demo_us: Path, repack: Repack, case: str
) -> None:
    done = _limited(repack(demo_us, file, {ROOMS: _costly(case)}))
    assert done.returncode == 3, done.stdout[-300:] + done.stderr[-300:]
    assert "Traceback" not in done.stderr
    assert int(done.stdout.rpartition("KB ")[2]) < MOST_KILOBYTES


def test_a_directory_that_lies_is_not_believed(file: Path, demo_us: Path) -> None:
    """It says 60 bytes of a part that inflates to 200 MB."""
    with (
        zipfile.ZipFile(demo_us) as source,
        zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as made,
    ):
        for name in source.namelist():
            made.writestr(name, b" " * 200_000_000 if name == ROOMS else source.read(name))
        size = made.getinfo(ROOMS).compress_size
    content = bytearray(file.read_bytes())
    at = content.rindex(ROOMS.encode()) - 46
    content[at + 24 : at + 28] = (60).to_bytes(4, "little")
    assert size < 300_000
    file.write_bytes(content)
    done = _limited(file)
    assert done.returncode == 3, done.stderr[-300:]
    assert int(done.stdout.rpartition("KB ")[2]) < MOST_KILOBYTES


@pytest.mark.parametrize("packed", [zipfile.ZIP_LZMA, zipfile.ZIP_BZIP2])
def test_other_ways_of_packing_are_refused(file: Path, demo_us: Path, packed: int) -> None:
    with zipfile.ZipFile(demo_us) as source, zipfile.ZipFile(file, "w", packed) as made:
        for name in source.namelist():
            made.writestr(name, source.read(name))
    assert "packed" in _refused(file)


@pytest.mark.parametrize("encoding", ["utf-16", "utf-16-le", "utf-32", "utf-7"])
def test_a_document_type_in_another_encoding_is_refused(
    file: Path, demo_us: Path, repack: Repack, encoding: str
) -> None:
    text = f'<?xml version="1.0" encoding="{encoding}"?><!DOCTYPE x [<!ENTITY a "b">]><x>&a;</x>'
    _refused(repack(demo_us, file, {"xl/styles.xml": lambda _: text.encode(encoding)}))


def test_a_document_type_in_any_part_is_refused(file: Path, demo_us: Path, repack: Repack) -> None:
    text = b'<!DOCTYPE x [<!ENTITY a "b">]><x>&a;</x>'
    assert "document type" in _refused(repack(demo_us, file, {"xl/styles.xml": lambda _: text}))


@pytest.mark.skipif(os.name != "posix", reason="pipes and devices are those of POSIX")
@pytest.mark.parametrize("part", ["[Content_Types].xml", PRICE, "xl/styles.xml"])
@pytest.mark.parametrize("at", [0.03, 0.5])
def test_a_sign_that_is_no_xml_is_refused_in_one_line(
    file: Path, demo_us: Path, repack: Repack, part: str, at: float
) -> None:
    """The XML library tells of it in two lines."""

    def edit(content: bytes) -> bytes:
        where = int(len(content) * at)
        return content[:where] + b"\x00" + content[where:]

    assert len(_refused(repack(demo_us, file, {part: edit})).splitlines()) == 1


@pytest.mark.parametrize("command", ["check", "show", "settle", "recompute"])
def test_a_pipe_or_a_device_is_no_file(tmp_path: Path, command: str) -> None:
    pipe = tmp_path / "job.xlsx"
    os.mkfifo(pipe)
    assert _limited(pipe, command).returncode == 3
    assert _limited(Path("/dev/zero"), command).returncode == 3


def test_one_bad_file_does_not_silence_the_others(
    tmp_path: Path, demo_us: Path, repack: Repack, capsys: pytest.CaptureFixture[str]
) -> None:
    bad = repack(demo_us, tmp_path / "bad.xlsx", {ROOMS: _costly("unclosed")})
    assert run("check", bad, demo_us) == 3
    told = capsys.readouterr()
    assert f"{demo_us}: OK" in told.out
    assert "bad.xlsx" in told.out + told.err


@pytest.mark.parametrize("sign", ["\x00", "\x07", "\x1b", "\x0c", "\uffff"])
def test_a_sign_no_workbook_holds_is_refused_at_its_line(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], sign: str
) -> None:
    rooms = tmp_path / "rooms.csv"
    rooms.write_text(f"room,piece,shape,a,b\nK,Top,rectangle,98,25\nK,Bar{sign}x,rectangle,98,25\n")
    assert run("new", tmp_path / "new.xlsx", "--from", rooms) == 1
    assert "rooms.csv, line 3: Piece: it holds a character" in capsys.readouterr().err
    assert not (tmp_path / "new.xlsx").exists()


@pytest.mark.skipif(os.name != "posix", reason="links are those of POSIX")
def test_a_link_stays_a_link(tmp_path: Path, demo_us: Path) -> None:
    real, link = tmp_path / "real" / "job.xlsx", tmp_path / "job.xlsx"
    real.parent.mkdir()
    real.write_bytes(demo_us.read_bytes())
    before = real.stat().st_mtime_ns
    link.symlink_to(real)
    assert run("recompute", link) == 0
    assert link.is_symlink()
    assert real.stat().st_mtime_ns != before
    assert check_file(link).findings == ()


def test_a_file_whose_name_is_not_in_utf_8(tmp_path: Path, demo_us: Path) -> None:
    odd = os.fsencode(tmp_path) + b"/\xff.xlsx"
    try:
        with open(odd, "wb") as made:  # noqa: PTH123 - a path that is no text
            made.write(demo_us.read_bytes())
    except OSError:
        pytest.skip("this file system takes no such name")
    told = subprocess.run(
        [sys.executable, "-m", "pourbook", "check", odd], capture_output=True, check=False
    )
    assert told.returncode == 0, told.stderr[-300:]
    assert b"Traceback" not in told.stderr


def test_the_last_row_of_a_sheet_is_one(file: Path, demo_us: Path, repack: Repack) -> None:
    """Somebody typed where Ctrl and the arrow led: an entry below its table, no damaged file."""
    row = r'<row r="1048576"><c r="A1048576"><v>1</v></c></row></sheetData>'
    path = repack(demo_us, file, {PRICE: _first(r"</sheetData>", row)})
    (told,) = check_file(path).findings
    assert told.id == "structure.below"
    assert told.place == "Price!A1048576"
