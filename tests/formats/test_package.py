"""Hostile and damaged files: a clear refusal or findings, never another error, never a hang."""

from __future__ import annotations

import datetime as dt
import random
import re
import signal
import struct
import subprocess
import sys
import zipfile
from collections.abc import Callable, Iterator, Mapping
from pathlib import Path

import pytest

from pourbook.errors import FileUnreadableError
from pourbook.formats.ooxml import package
from pourbook.job import books, macros
from pourbook.job.accept import accept
from pourbook.job.fill import fill
from pourbook.workbook.check.check import check_file
from pourbook.workbook.read import read as read_module
from pourbook.workbook.read.read import read_book
from pourbook.workbook.template.template import load_book

pytestmark = pytest.mark.in_turn

Repack = Callable[[Path, Path, Mapping[str, Callable[[bytes], bytes | None]]], Path]
BOOK = "xl/workbook.xml"
PAGE = "xl/worksheets/sheet1.xml"
ROOMS = "xl/worksheets/sheet3.xml"
MARKS = "docProps/custom.xml"
SECONDS = 60


@pytest.fixture(autouse=True)
def no_hang() -> Iterator[None]:
    """End a test that hangs."""

    def late(*_: object) -> None:
        pytest.fail(f"it took longer than {SECONDS} seconds")

    before = signal.signal(signal.SIGALRM, late)
    signal.setitimer(signal.ITIMER_REAL, SECONDS)
    yield
    signal.setitimer(signal.ITIMER_REAL, 0)
    signal.signal(signal.SIGALRM, before)


@pytest.fixture
def file(tmp_path: Path) -> Path:
    return tmp_path / "job.xlsx"


def _told(path: Path) -> str:
    with pytest.raises(FileUnreadableError) as refused:
        check_file(path)
    assert refused.value.exit_code == 3
    assert str(refused.value).startswith(f"{path}: ")
    return str(refused.value)


def _zip(path: Path, parts: Mapping[str, bytes]) -> Path:
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as made:
        for name, content in parts.items():
            made.writestr(name, content)
    return path


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"", "no workbook"),
        (b"PK", "no workbook"),
        (b"PK\x03\x04 and no more", "no workbook"),
        (b"Room,Piece\nBar,Top\n", "no workbook"),
        (b"%PDF-1.7\n" * 100, "no workbook"),
        (b"\x00" * 4096, "no workbook"),
        (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + b"\x00" * 2048, "password or an old .xls"),
    ],
)
def test_other_things_named_xlsx(file: Path, content: bytes, words: str) -> None:
    file.write_bytes(content)
    assert words in _told(file)


def test_missing_file_and_folder(tmp_path: Path) -> None:
    assert "no such file" in _told(tmp_path / "none.xlsx")
    assert "this is a folder" in _told(tmp_path)


def test_file_that_may_not_be_read(file: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    file.write_bytes(b"PK")

    def refused(*_: object, **__: object) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "open", refused)
    assert "cannot be opened" in _told(file)


def test_zip_without_a_workbook(file: Path) -> None:
    assert "no workbook" in _told(_zip(file, {"word/document.xml": b"<x/>"}))


def test_workbook_of_another_program(file: Path, demo_us: Path, repack: Repack) -> None:
    told = _told(repack(demo_us, file, {MARKS: lambda _: None}))
    assert "Pourbook did not make this workbook" in told
    assert "pourbook new" in told


@pytest.mark.parametrize("pieces", ["0", "-1", "5001", "many", "", "1.5", "9" * 30])
def test_marks_without_sense(file: Path, demo_us: Path, repack: Repack, pieces: str) -> None:
    def edit(content: bytes) -> bytes:
        assert b">18<" in content
        return content.replace(b">18<", f">{pieces}<".encode())

    assert "did not make" in _told(repack(demo_us, file, {MARKS: edit}))


@pytest.mark.parametrize("share", [0.1, 0.5, 0.9, 0.999])
def test_a_file_cut_short_is_one_clear_refusal(file: Path, demo_us: Path, share: float) -> None:
    content = demo_us.read_bytes()
    file.write_bytes(content[: int(len(content) * share)])
    assert "no workbook" in _told(file)


def test_file_too_large(file: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(package, "LARGEST_FILE", 1000)
    file.write_bytes(b"PK" + bytes(1000))
    assert "too large" in _told(file)


def test_part_that_swells(file: Path, demo_us: Path, repack: Repack) -> None:
    bomb = bytes(package.LARGEST_RATIO * 20_000)  # zeros shrink about a thousand times
    assert "unpacks to far more" in _told(repack(demo_us, file, {"xl/bomb.xml": lambda _: bomb}))


def test_parts_that_are_too_much_together(
    file: Path, demo_us: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(package, "LARGEST_UNPACKED", 50_000)
    file.write_bytes(demo_us.read_bytes())
    assert "unpacks to far more" in _told(file)


def test_part_that_lies_about_its_size(file: Path, demo_us: Path) -> None:
    """The directory says 10 bytes, the part unpacks to far more."""
    content = bytearray(demo_us.read_bytes())
    place = content.find(b"PK\x01\x02")
    while place >= 0:
        content[place + 24 : place + 28] = struct.pack("<I", 10)
        place = content.find(b"PK\x01\x02", place + 4)
    file.write_bytes(content)
    assert "damaged" in _told(file) or "no workbook" in _told(file)


def test_too_many_parts(file: Path) -> None:
    parts = {f"xl/p{n}.xml": b"" for n in range(package.MOST_PARTS + 1)}
    assert "too many parts" in _told(_zip(file, parts))


@pytest.mark.parametrize("part", [BOOK, PAGE, MARKS, "xl/_rels/workbook.xml.rels"])
@pytest.mark.parametrize(
    "doctype",
    [
        '<!DOCTYPE x [<!ENTITY a "aaaa"><!ENTITY b "&a;&a;&a;">]>',
        '<!DOCTYPE x SYSTEM "file:///etc/passwd">',
        '<!DOCTYPE x [<!ENTITY a SYSTEM "file:///etc/passwd">]>',
        "<!DOCTYPE x>",
    ],
)
def test_document_type_is_refused(
    file: Path, demo_us: Path, repack: Repack, part: str, doctype: str
) -> None:
    def edit(content: bytes) -> bytes:
        start = content.find(b"<", content.find(b"?>")) if content.startswith(b"<?") else 0
        return content[:start] + doctype.encode() + content[start:]

    told = _told(repack(demo_us, file, {part: edit}))
    assert "document type" in told
    assert "root:" not in told


@pytest.mark.parametrize(
    "content",
    [b"", b"no xml", b"<unclosed>", b"\xff\xfe\x00", b"<a>" * 5000 + b"</a>" * 5000],
)
@pytest.mark.parametrize("part", [BOOK, PAGE, MARKS])
def test_part_that_is_no_xml(
    file: Path, demo_us: Path, repack: Repack, part: str, content: bytes
) -> None:
    assert "damaged" in _told(repack(demo_us, file, {part: lambda _: content}))


def test_an_encrypted_workbook_is_one_clear_refusal(file: Path, demo_us: Path) -> None:
    content = bytearray(demo_us.read_bytes())
    place = content.find(b"PK\x01\x02")
    content[place + 8] |= 1
    file.write_bytes(content)
    assert "password" in _told(file)


def test_sheet_that_is_missing_inside(file: Path, demo_us: Path, repack: Repack) -> None:
    assert "'Rooms' is missing inside it" in _told(repack(demo_us, file, {ROOMS: lambda _: None}))


def test_too_many_cells(file: Path, demo_us: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(read_module, "MOST_CELLS", 100)
    file.write_bytes(demo_us.read_bytes())
    assert "far more cells" in _told(file)


def _cell(old: bytes, new: bytes) -> Callable[[bytes], bytes]:
    def edit(content: bytes) -> bytes:
        assert old in content
        return content.replace(old, new, 1)

    return edit


def _any_but_another_error(path: Path) -> None:
    """Check a file; only a refusal of it, or findings, may come of it."""
    try:
        checked = check_file(path)
    except FileUnreadableError:
        return
    assert not [f for f in checked.findings if not (f.what and f.mend)]


@pytest.mark.parametrize(
    "address", ["XFD1048576", "A1048577", "XFE1", "ZZZZZ99999999999", "A0", "17", "A", "", "Ä1"]
)
def test_cell_past_the_ends_of_a_sheet(
    file: Path, demo_us: Path, repack: Repack, address: str
) -> None:
    cell = f'<c r="{address}" t="str"><v>x</v></c></row>'.encode()
    path = repack(demo_us, file, {PAGE: _cell(b"</row>", cell)})
    _any_but_another_error(path)


AREA = b'ref="U17:AC34"'  # what PB_ROOMS fills in the demo of the tests


@pytest.mark.parametrize("area", ["S17", "X32:S17", "x", "", "A1:", "S17:ZZZZ9"])
def test_array_formula_over_any_area(file: Path, demo_us: Path, repack: Repack, area: str) -> None:
    path = repack(demo_us, file, {ROOMS: _cell(AREA, f'ref="{area}"'.encode())})
    _any_but_another_error(path)


def test_array_formula_over_a_whole_sheet_takes_no_memory(
    file: Path, demo_us: Path, repack: Repack
) -> None:
    """Seventeen thousand million cells: a process of its own, so that only it can run out."""
    repack(demo_us, file, {ROOMS: _cell(AREA, b'ref="A1:XFD1048576"')})
    limited = (
        "import resource; resource.setrlimit(resource.RLIMIT_AS, (3 << 30, 3 << 30));"
        f"from pourbook.cli import main; main(['check', {str(file)!r}])"
    )
    done = subprocess.run(
        [sys.executable, "-c", limited], capture_output=True, text=True, timeout=20, check=False
    )
    assert done.returncode in {1, 3}, done.stderr[-300:]


@pytest.mark.parametrize(
    "formula",
    [
        "",
        "(",
        ")",
        "1+",
        '"',
        "'",
        "[",
        "{",
        "}",
        "A1:A1:A1",
        "\u00b2",
        "SUM(",
        "#",
        "B6",
        "x" * 9000,
    ],
)
def test_formula_without_sense(file: Path, demo_us: Path, repack: Repack, formula: str) -> None:
    cell = f'<c r="H3"><f>{formula}</f><v>1</v></c></row>'.encode()
    price = _cell(b"</row>", b"</row><row r='300'>" + cell)
    path = repack(demo_us, file, {"xl/worksheets/sheet6.xml": price})
    _any_but_another_error(path)


@pytest.mark.parametrize("formula", ["(", ")", "1+", '"', "[", "}", "\u00b2", "SUM("])
def test_planned_formula_made_senseless(
    file: Path, demo_us: Path, repack: Repack, formula: str
) -> None:
    def edit(content: bytes) -> bytes:
        start = content.index(b"<f>", content.index(b'r="B31"'))
        return content[: start + 3] + formula.encode() + content[content.index(b"</f>", start) :]

    _any_but_another_error(repack(demo_us, file, {"xl/worksheets/sheet10.xml": edit}))


def test_formula_of_a_cell_without_an_address(file: Path, demo_us: Path, repack: Repack) -> None:
    """The format allows it: such a cell comes after the one before it."""
    cell = b"<c><f>1+1</f><v>2</v></c></row>"
    path = repack(demo_us, file, {PAGE: _cell(b"</row>", cell)})
    (told,) = check_file(path).findings
    assert (told.id, told.place) == ("structure.stray", "Start!B1")


@pytest.mark.parametrize("shared", ['si="0"', 'si=""', "", 'si="0" ref="A1:XFD1048576"'])
def test_shared_formula_without_a_master(
    file: Path, demo_us: Path, repack: Repack, shared: str
) -> None:
    cell = f'<c r="G9"><f t="shared" {shared}/><v>1</v></c></row>'.encode()
    _any_but_another_error(repack(demo_us, file, {PAGE: _cell(b"</row>", cell)}))


@pytest.mark.parametrize("value", ["inf", "nan", "1e999", "\u00b2", "x", "9" * 5000, "-0", "1_0"])
@pytest.mark.parametrize("kind", ["n", "s", "b", "e", "str", "d", "odd"])
def test_value_without_sense(
    file: Path, demo_us: Path, repack: Repack, value: str, kind: str
) -> None:
    cell = f'<c r="H18" t="{kind}"><v>{value}</v></c>'.encode()

    def edit(content: bytes) -> bytes:
        start = content.index(b'<c r="H18"')
        return content[:start] + cell + content[content.index(b'<c r="I18"', start) :]

    strings = b'<sst xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"/>'
    path = repack(demo_us, file, {ROOMS: edit, "xl/sharedStrings.xml": lambda _: strings})
    _any_but_another_error(path)


@pytest.mark.parametrize(
    "part", ["xl/_rels/workbook.xml.rels", BOOK, ROOMS, MARKS, "xl/worksheets/sheet6.xml"]
)
def test_comments_and_instructions_inside_are_harmless(
    file: Path, demo_us: Path, repack: Repack, part: str
) -> None:
    """XML comments are allowed everywhere."""

    def edit(content: bytes) -> bytes:
        start = content.index(b">", content.index(b"<", content.find(b"?>") + 1)) + 1
        return content[:start] + b"<!-- hello --><?any thing?>" + content[start:]

    assert check_file(repack(demo_us, file, {part: edit})).findings == ()


def test_two_sheets_of_one_name(file: Path, demo_us: Path, repack: Repack) -> None:
    edit = _cell(b'name="Care"', b'name="Price"')
    _any_but_another_error(repack(demo_us, file, {BOOK: edit}))


def test_part_that_is_there_twice(file: Path, demo_us: Path) -> None:
    file.write_bytes(demo_us.read_bytes())
    with (
        zipfile.ZipFile(file, "a") as package_file,
        pytest.warns(UserWarning, match="Duplicate name"),
    ):
        package_file.writestr(PAGE, b"<x/>")
    _any_but_another_error(file)


@pytest.mark.parametrize("seed", range(60))
def test_flipped_bytes(file: Path, demo_us: Path, seed: int) -> None:
    """Some bytes anywhere in the file are another value."""
    chance = random.Random(seed)
    content = bytearray(demo_us.read_bytes())
    for _ in range(chance.choice([1, 1, 2, 8, 64])):
        content[chance.randrange(len(content))] ^= 1 << chance.randrange(8)
    file.write_bytes(content)
    _any_but_another_error(file)


@pytest.mark.parametrize("seed", range(60))
def test_flipped_bytes_inside_a_part(file: Path, demo_us: Path, repack: Repack, seed: int) -> None:
    """Some bytes of one part are another value, with the checksum set right again."""
    chance = random.Random(1000 + seed)
    part = chance.choice([BOOK, PAGE, ROOMS, MARKS, "xl/worksheets/sheet6.xml"])

    def edit(content: bytes) -> bytes:
        changed = bytearray(content)
        for _ in range(chance.choice([1, 2, 8])):
            changed[chance.randrange(len(changed))] = chance.choice(b"<>&\"'=09AZaz:!$/ ")
        return bytes(changed)

    _any_but_another_error(repack(demo_us, file, {part: edit}))


def test_refusal_leaves_the_file_as_it_was(file: Path, demo_us: Path) -> None:
    content = demo_us.read_bytes()[:-100]
    file.write_bytes(content)
    _told(file)
    assert file.read_bytes() == content


def test_reading_a_sound_file_gives_every_sheet(demo_us: Path) -> None:
    book = read_book(demo_us)
    assert list(book.sheets)[:3] == ["Start", "Survey", "Rooms"]
    assert list(book.sheets) == [sheet.sheet for sheet in load_book("job").sheets]
    assert book.odd == ()


def test_every_chart_says_what_excel_would_else_make_up(demo_us: Path) -> None:
    """No title over the plot, no round corners, and the legend beside it."""
    with zipfile.ZipFile(demo_us) as job:
        charts = [job.read(n).decode() for n in job.namelist() if n.startswith("xl/charts/chart")]
    assert len(charts) == 5
    for chart in charts:
        assert '<roundedCorners val="0"' in chart
        assert '<autoTitleDeleted val="1"' in chart
        assert "<ser>" in chart
        assert chart.count("<overlay") == len(re.findall('<overlay val="0"', chart))
        assert ("<overlay" in chart) is ("<legend>" in chart)  # the drawing has none


CHAIN = (
    '<calcChain xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main">'
    '<c r="B3" i="1"/></calcChain>'
)
SETTINGS = "xl/printerSettings/printerSettings1.bin"


@pytest.fixture
def excels(demo_us: Path, repack: Repack, tmp_path: Path) -> Path:
    """A job with the parts that Excel adds when it saves: an order of calculation, a printer."""
    relation = "http://schemas.openxmlformats.org/officeDocument/2006/relationships/calcChain"
    kind = "application/vnd.openxmlformats-officedocument.spreadsheetml.calcChain+xml"
    bare = repack(
        demo_us,
        tmp_path / "bare.xlsx",
        {
            "xl/_rels/workbook.xml.rels": lambda c: c.replace(
                b"</Relationships>",
                f'<Relationship Id="rId99" Type="{relation}" Target="calcChain.xml"/>'.encode()
                + b"</Relationships>",
            ),
            "[Content_Types].xml": lambda c: c.replace(
                b"</Types>",
                f'<Override PartName="/xl/calcChain.xml" ContentType="{kind}"/>'.encode()
                + b'<Default Extension="bin" ContentType="application/vnd.openxmlformats-office'
                b'document.spreadsheetml.printerSettings"/></Types>',
            ),
        },
    )
    with zipfile.ZipFile(bare, "a") as job:
        job.writestr("xl/calcChain.xml", CHAIN)
        job.writestr(SETTINGS, b"\x00printer")
    return bare


@pytest.mark.parametrize("command", ["books", "fill", "accept", "xlsm"])
def test_no_order_of_calculation_outlives_its_formulas(
    excels: Path, tmp_path: Path, command: str
) -> None:
    target = tmp_path / ("new.xlsm" if command == "xlsm" else "new.xlsx")
    if command == "books":
        books.books_copy(excels, target, force=False, made=dt.datetime(2027, 1, 1))
    elif command == "fill":
        fill(excels, target, {("site", "crew", 0): 3.0}, force=False)
    elif command == "accept":
        accept(excels, target, on=dt.date(2026, 12, 1))
    else:
        macros.enable(excels, target)
    with zipfile.ZipFile(target) as done:
        names = set(done.namelist())
        named = done.read("[Content_Types].xml") + done.read("xl/_rels/workbook.xml.rels")
        assert done.read(SETTINGS) == b"\x00printer", "what Excel keeps there stays"
    kept = "xl/calcChain.xml" in names
    assert kept == (named.count(b"calcChain.xml") == 2)
    assert kept == (b"calcChain" in named)
    assert kept == (command == "xlsm"), "all its formulas are still there"
    assert check_file(excels).findings == ()
