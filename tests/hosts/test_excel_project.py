"""The VBA project we write, read by other people's libraries, and the project we read."""

from __future__ import annotations

import random
import struct
import zipfile
from pathlib import Path

import pyopenvba
import pytest
import xlwings
from oletools import olevba

from pourbook.hosts.excel import basic, compound, squeeze, vbaproject
from pourbook.hosts.excel.vbaproject import Module
from pourbook.workbook.template.template import load_book

XLWINGS = Path(xlwings.__file__).parent
BOOK = [Module("ThisWorkbook", "book"), Module("Sheet1", "sheet"), Module("Chart1", "chart")]


@pytest.mark.parametrize("size", [0, 1, 2, 3, 17, 590, 700, 4095, 4096, 4097, 9000, 50_000])
def test_compression_is_undone_by_both(size: int) -> None:
    chance = random.Random(size)
    text = bytes(chance.choice(b"abcdefgh =()\r\n") for _ in range(size))
    packed = squeeze.compress(text)
    assert squeeze.decompress(packed) == text
    if size:
        assert bytes(olevba.decompress_stream(bytearray(packed))) == text


def test_what_does_not_compress_is_refused() -> None:
    with pytest.raises(ValueError, match="does not compress"):
        squeeze.compress(random.Random(1).randbytes(8000))


@pytest.mark.parametrize(
    "content", [b"", b"\0abc", b"\x01\xff\xbf\xff\0\0", b"\x01\x02\xb0\x01\x05"]
)
def test_damaged_sources_are_refused(content: bytes) -> None:
    with pytest.raises(ValueError, match="source"):
        squeeze.decompress(content)


def test_a_source_that_swells_is_refused() -> None:
    chunk = b"\x03\xb0" + b"\x02a" + struct.pack("<H", 0x0FFF)  # one letter, 4098 times
    with pytest.raises(ValueError, match="too large"):
        squeeze.decompress(b"\x01" + chunk * 2000)


@pytest.mark.parametrize("count", [1, 2, 3, 4, 7, 8, 20, 40])
def test_a_compound_file_comes_back(count: int) -> None:
    chance = random.Random(count)
    streams = {
        f"Stream{i}": chance.randbytes(chance.choice([0, 5, 4095, 4096, 70_000]))
        for i in range(count)
    }
    content = compound.write({"Folder": streams, "Alone": b"x" * 100})
    wanted = {f"Folder/{name}": data for name, data in streams.items()} | {"Alone": b"x" * 100}
    assert compound.read(content) == wanted


def test_a_compound_file_is_read_by_olefile() -> None:
    import olefile

    streams = {f"S{i}": bytes([i]) * (i * 700) for i in range(12)}
    with olefile.OleFileIO(compound.write({"VBA": streams})) as file:
        assert file.parsing_issues == []
        for name, data in streams.items():
            assert file.openstream(["VBA", name]).read() == data


def test_damage_never_escapes() -> None:
    """Whatever byte is changed, reading ends, and only in a ValueError."""
    content = basic.project(BOOK)
    chance = random.Random(7)
    for _ in range(300):
        broken = bytearray(content)
        for _ in range(chance.choice([1, 4, 40])):
            at = chance.choice([chance.randrange(512), chance.randrange(len(broken))])
            broken[at] = chance.randrange(256)
        try:
            vbaproject.read(bytes(broken[: chance.choice([len(broken), len(broken) // 2])]))
        except ValueError:
            continue


def test_projects_of_others_are_read() -> None:
    """A workbook delivered with xlwings, with Excel's own layout of streams."""
    for name in ("quickstart_standalone.xlsm", "quickstart.xlsm"):
        content = zipfile.ZipFile(XLWINGS / name).read("xl/vbaProject.bin")
        ours = vbaproject.read(content)
        parser = olevba.VBA_Parser(name, data=content)
        theirs = {n.rpartition(".")[0]: code for _, _, n, code in parser.extract_all_macros()}
        assert ours.keys() == theirs.keys()
        for module, text in ours.items():
            assert text.splitlines() == theirs[module].splitlines()
        assert not basic.are_pourbooks(content)


def test_same_input_same_bytes() -> None:
    assert basic.project(BOOK) == basic.project(BOOK)


@pytest.mark.parametrize(
    ("modules", "words"),
    [
        ([Module("1st", "sheet")], "not a name"),
        ([Module("A", "sheet"), Module("a", "sheet")], "one name"),
        ([Module("A", "standard", "Sub B()\n")], "must begin"),
    ],
)
def test_what_vba_refuses_is_refused(modules: list[Module], words: str) -> None:
    with pytest.raises(ValueError, match=words):
        vbaproject.write(modules)


class TestOurMacros:
    def test_they_are_known(self) -> None:
        content = basic.project(BOOK)
        assert basic.are_current(content)
        assert basic.are_pourbooks(content)

    def test_they_are_known_after_an_editor_respaced_them(self) -> None:
        changed = [
            Module(name, "standard", text.replace(" = ", "  =  ").replace("PYTHON", "Python"))
            for name, text in basic.sources().items()
        ]
        lines = [Module(m.name, m.kind, _named(m)) for m in changed]
        assert basic.are_current(vbaproject.write([*BOOK, *lines]))

    def test_a_changed_line_is_noticed(self) -> None:
        texts = dict(basic.sources())
        texts["xlwings_udfs"] = texts["xlwings_udfs"].replace("PB_ROOMS", "PB_RUMS")
        content = vbaproject.write([*BOOK, *(Module(n, "standard", t) for n, t in texts.items())])
        assert not basic.are_current(content)
        assert basic.are_pourbooks(content)

    def test_a_module_of_somebody_else_is_noticed(self) -> None:
        ours = [Module(n, "standard", t) for n, t in basic.sources().items()]
        other = Module(
            "Other", "standard", 'Attribute VB_Name = "Other"\nSub Auto_Open()\nEnd Sub\n'
        )
        content = vbaproject.write([*BOOK, *ours, other])
        assert not basic.are_current(content)
        assert not basic.are_pourbooks(content)

    def test_code_in_a_sheet_is_noticed(self) -> None:
        """Our writer puts none there; to the reader a sheet's module is one like any other."""
        ours = [Module(n, "standard", t) for n, t in basic.sources().items()]
        text = 'Attribute VB_Name = "Sheet9"\nPrivate Sub Worksheet_Activate()\nEnd Sub\n'
        content = vbaproject.write([*BOOK, *ours, Module("Sheet9", "standard", text)])
        assert not basic.are_pourbooks(content)

    def test_nonsense_is_not_ours(self) -> None:
        assert not basic.are_current(b"")
        assert not basic.are_pourbooks(b"PK\x03\x04")


def _named(module: Module) -> str:
    """Give a respaced module its first line back."""
    _, _, rest = module.source.partition("\n")
    return f'Attribute VB_Name = "{module.name}"\n{rest}'


def test_olevba_and_pyopenvba_agree(excel_job: Path) -> None:
    parser = olevba.VBA_Parser(str(excel_job))
    found = {name: code for _, _, name, code in parser.extract_all_macros()}
    sheets = [name for name in found if name.startswith("Sheet")]
    assert list(found) == ["ThisWorkbook.cls", *sheets, *(f"{name}.bas" for name in basic.MODULES)]
    assert len(sheets) == len(load_book("job").sheets)
    for name, text in basic.sources().items():
        assert found[f"{name}.bas"].splitlines() == text.splitlines()
    report = pyopenvba.check_file(str(excel_job))
    assert report.ok
    assert not report.warnings
