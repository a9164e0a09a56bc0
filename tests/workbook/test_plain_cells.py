"""Cells cut out of a sheet the plain way are those that reading it as XML gives."""

from __future__ import annotations

import random
import zipfile
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from lxml import etree

from pourbook.errors import FileUnreadableError
from pourbook.formats.ooxml.lines import lines_of
from pourbook.workbook.read import read, sheet_lines
from pourbook.workbook.read.plain_cells import plain_cells

MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
HEAD = f'<worksheet xmlns="{MAIN}"><sheetData>'
TAIL = "</sheetData></worksheet>"


def sheets(path: Path) -> dict[str, bytes]:
    with zipfile.ZipFile(path) as package:
        names = [n for n in package.namelist() if n.startswith("xl/worksheets/sheet")]
        return {name: package.read(name) for name in names}


def as_xml(content: bytes, monkeypatch: pytest.MonkeyPatch) -> read.RawSheet | str:
    """Return the sheet as it is read from XML, or why it is not."""
    with monkeypatch.context() as patched:
        patched.setattr(sheet_lines, "plain_cells", lambda _: None)
        return either(content)


def either(content: bytes, strings: bytes = b"") -> read.RawSheet | str:
    read._sheet.cache_clear()
    try:
        return read._sheet("Sheet", False, content, strings)
    except FileUnreadableError as error:
        return str(error)
    finally:
        read._sheet.cache_clear()


def same(content: bytes, monkeypatch: pytest.MonkeyPatch) -> None:
    one, two = either(content), as_xml(content, monkeypatch)
    if isinstance(one, str) or isinstance(two, str):
        assert one == two
        return
    assert repr(one.cells) == repr(two.cells)  # a NaN is none of its equals
    assert one.look == two.look


def test_most_sheets_of_a_job_are_written_the_plain_way(demo_us: Path) -> None:
    parts = sheets(demo_us)
    plain = [name for name, content in parts.items() if plain_cells(content)]
    assert len(plain) > 0.9 * len(parts)


def test_a_job_reads_the_same_both_ways(
    demo_us: Path, demo_metric: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for content in (*sheets(demo_us).values(), *sheets(demo_metric).values()):
        same(content, monkeypatch)


@pytest.mark.parametrize("seed", range(40))
def test_a_sheet_that_was_tampered_with_reads_the_same_both_ways(
    seed: int, demo_us: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    rng = random.Random(seed)
    parts = sheets(demo_us)
    for _ in range(12):
        content = bytearray(parts[rng.choice(sorted(parts))][:60_000])
        if b"</sheetData>" not in content:  # a short sheet is cut off where a row ends
            end = content.rfind(b"</row>") + len(b"</row>")
            content[end:] = TAIL.encode()
        for _ in range(rng.randint(1, 3)):
            _tamper(content, rng)
        same(bytes(content), monkeypatch)


PIECES = [
    *(b"<!-- -->", b"<?x?>", b"<![CDATA[1]]>", b"&amp;", b"&#65;", b"&x;", b"]]>", b"\r\n", b"\t"),
    *(b"<v>1</v>", b"<f>1</f>", b"<c/>", b'<c r="A1"><v>1</v></c>', b"<row>", b"</row>", b"<x/>"),
    *(b' r="A2"', b' t="s"', b' t="b"', b' s="99999999"', b' ht="0"', b' hidden="1"', b"x:", b'"'),
    *(
        b"<sheetData>",
        b"</sheetData>",
        b"<is><t> a </t></is>",
        b"\xff",
        "é\u0085".encode(),
        b"\x01",
    ),
    *(b' xmlns="x"', b' xmlns:x="y"', b"<is><r><t>a</t></r></is>", b' t="array" ref="A1:B2"'),
]


def _tamper(content: bytearray, rng: random.Random) -> None:
    """Put something in, take something out, or change a letter, mostly beside a mark of XML."""
    marks = [at for at, one in enumerate(content) if one in b'<>"=/']
    at = rng.choice(marks) + rng.randint(0, 1)
    way = rng.random()
    if way < 0.6:
        content[at:at] = rng.choice(PIECES)
    elif way < 0.8:
        del content[at : at + rng.randint(1, 12)]
    else:
        content[at : at + 1] = bytes([rng.choice(b'<>/="& 19AZaz')])


_VALUE = st.one_of(
    st.none(),
    st.text(st.characters(codec="utf-8", exclude_characters="<&"), max_size=6),
    st.sampled_from(
        ["1", "1e3", "nan", "0x1", " 1", "&lt;", "&amp;lt;", "&#60;", "1]]>", "\r", "\x7f", "\t"]
    ),
)


_KEPT = st.sampled_from(["", "", "", ' xml:space="preserve"'])


@st.composite
def cells(draw: st.DrawFn) -> str:
    column, row = (
        draw(st.sampled_from(["A", "B", "AA", "XFD", "XFE", "a"])),
        draw(st.integers(0, 3)),
    )
    formula, value, text = draw(_VALUE), draw(_VALUE), draw(_VALUE)
    parts = [
        *([] if formula is None else [f"<f>{formula}</f>"]),
        *([] if value is None else [f"<v{draw(_KEPT)}>{value}</v>"]),
        *([] if text is None else [f"<is><t>{text}</t></is>"]),
    ]
    kind = draw(
        st.sampled_from(["", ' t="n"', ' t="s"', ' t="str"', ' t="inlineStr"', ' t="e"', ' t="b"'])
    )
    style = draw(st.sampled_from(["", ' s="3"', ' s="-1"']))
    if draw(st.integers(0, 9)) == 0:
        parts.reverse()
    return f'<c r="{column}{row}"{style}{kind}>{"".join(parts)}</c>'


@st.composite
def bodies(draw: st.DrawFn) -> str:
    rows = draw(st.lists(st.tuples(st.integers(0, 3), st.lists(cells(), max_size=3)), max_size=3))
    ends = draw(
        st.sampled_from(["", ' spans="1:3"', ' ht="0"', ' hidden="1"', ' x14ac:a="1"', ' r="2"'])
    )
    return "".join(f'<row r="{row}"{ends}>{"".join(held)}</row>' for row, held in rows)


@settings(max_examples=400)
@given(body=bodies())
def test_any_sheet_reads_the_same_both_ways(body: str) -> None:
    with pytest.MonkeyPatch.context() as patched:
        same(f"{HEAD}{body}{TAIL}".encode(errors="replace"), patched)


@pytest.mark.parametrize(
    "content",
    [
        f"<!-- {HEAD} -->{HEAD}{TAIL}",
        f"{HEAD}</sheetData><sheetData>{TAIL}",
        f'<worksheet xmlns="x">{HEAD}{TAIL}</worksheet>',
        f"{HEAD}<row r='1'><c r='A1'><v>1</v></c></row>{TAIL}",
        HEAD.replace("<sheetData>", "<extLst><sheetData>") + TAIL.replace("</w", "</extLst></w"),
        HEAD.replace("xmlns", "xmlns:m") + TAIL,
        f'{HEAD}<row r="1"><c r="A1"><v>1</v></c></row></sheetData><c/></worksheet>',
        f'{HEAD}<row r="1" xmlns="x"><c r="A1"><v>1</v></c></row>{TAIL}',
        f'{HEAD}<row r="1" r="1"><c r="A1"><v>1</v></c></row>{TAIL}',
        f'{HEAD}<row r="1" ht="0"><c r="A1"><v>1</v></c></row>{TAIL}',
        "",
        "<",
    ],
)
def test_an_odd_frame_reads_the_same_both_ways(
    content: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    same(content.encode(), monkeypatch)


@pytest.mark.parametrize(
    "row",
    [
        '<row r="1\u0662"><c r="A1\u0662"><v>5</v></c></row>',
        '<row r="12"><c r="A1\u0662"><v>5</v></c></row>',
        '<row r="1"><c r="A1" s="\u0662"><v>5</v></c></row>',
        '<row r="1" ht="\u0662"><c r="A1"><v>5</v></c></row>',
        '<row r="9999999"></row>',
        '<row r="9999999"/><row r="2"><c r="A2"><v>5</v></c></row>',
        '<row r="9999999"><c r="A9999999"/></row>',
        '<row r="1048577"><c r="A1048577"><v>1</v></c></row>',
        '<row r="1"><c r="XFE1"/></row>',
        '<row r="1"><c r="XFD1"></c><c r="A1"></c></row>',
    ],
)
def test_an_odd_row_reads_the_same_both_ways(row: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """Digits of another alphabet are none to a spreadsheet; nothing lies beyond the last row."""
    same(f"{HEAD}{row}{TAIL}".encode(), monkeypatch)


def test_too_many_cells_are_refused_both_ways(monkeypatch: pytest.MonkeyPatch) -> None:
    """Three cells that hold something, and one that only has a look, which does not count."""
    cells = "".join(f'<c r="{column}1" s="1"><v>5</v></c>' for column in "ABC")
    content = f'{HEAD}<row r="1">{cells}<c r="D1" s="1"/></row>{TAIL}'.encode()
    for most, refused in ((3, False), (2, True)):
        monkeypatch.setattr(sheet_lines, "MOST_CELLS", most)
        for found in (either(content), as_xml(content, monkeypatch)):
            assert isinstance(found, str) is refused
            assert not refused or "far more cells" in str(found)


def test_what_stands_in_no_row_is_not_cut() -> None:
    for body in ("<c r='A1'/>", '<c r="A1"><v>1</v></c>', "</row>", '<row r="1"><row r="2"></row>'):
        assert plain_cells(f"{HEAD}{body}{TAIL}".encode()) is None


def test_what_is_left_is_whole_xml(demo_us: Path) -> None:
    for content in sheets(demo_us).values():
        plain = plain_cells(content)
        if plain is not None:
            rows = len(etree.fromstring(plain.left).findall(f".//{{{MAIN}}}row"))
            assert rows == content.count(b"<row ")


_TAB = '<v xml:space="preserve">\t</v>'
_ROWS_OF_ONE_FORM = (
    f'<c r="A1" t="str"><v>\t</v></c><c r="B1" t="str">{_TAB}</c>',
    f'<c r="A1" t="str"><v>x</v></c><c r="B1" t="str">{_TAB}</c>',
    f'<c r="A1" t="str">{_TAB}</c><c r="B1"><v>7</v></c>',
    f'<c r="A1" t="s">{_TAB}</c><c r="B1" t="s"><v>0</v></c>',
    '<c r="A1"><v>1</v></c><c r="B1"><v></v></c>',
    '<c r="A1"><v></v></c><c r="B1"><v>1</v></c>',
    '<c r="A1"><v></v></c><c r="A1"><v>1</v></c>',
    '<c r="A1"><f>1+1</f><v>2</v></c><c r="B1"><v>2</v></c>',
    '<c r="A1"><f>1+1</f></c><c r="B1"><v>2</v></c>',
    '<c r="A1"><f></f><v>2</v></c><c r="B1"><v>2</v></c>',
    '<c r="A1" t="b"><v>1</v></c><c r="B1" t="e"><v>#N/A</v></c>',
    '<c r="A1" t="b"><v>0</v></c><c r="B1" t="e"><v></v></c>',
    '<c r="A1" t="s"><v>0</v></c><c r="B1" t="s"><v>9</v></c>',
)


@pytest.mark.parametrize("row", _ROWS_OF_ONE_FORM)
def test_values_of_a_row_are_its_own_whatever_form_was_read_before(
    row: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Each row after all the others: what looks as a value of its own in a form is none."""
    for one in (*_ROWS_OF_ONE_FORM, row):
        same(f'{HEAD}<row r="1">{one}</row>{TAIL}'.encode(), monkeypatch)


def test_rows_that_differ_in_values_alone_have_one_shape() -> None:
    rows = [
        '<row r="5"><c r="A5" s="3"><f>B5*2</f><v>{}</v></c><c r="B5"><v>{}</v></c></row>'.format(
            *v
        )
        for v in ((4, 2), (6, 3), ("", 3))
    ]
    other = rows[0].replace("B5*2", "B5*3")
    first = f"{HEAD}{rows[0].replace('>4<', '>9<')}{TAIL}"  # the second of them makes the shape
    assert lines_of(read._sheet("S", False, first.encode(), b"").cells)[0].shape is None
    found = [read._sheet("S", False, f"{HEAD}{one}{TAIL}".encode(), b"") for one in (*rows, other)]
    lines = [lines_of(sheet.cells)[0] for sheet in found]
    shape = lines[0].shape
    assert shape is lines[1].shape is lines[2].shape
    assert shape is not None
    assert lines[3].shape is None
    assert [line.cells["A5"].value for line in lines] == [4.0, 6.0, None, 4.0]
    assert [(at, *cell[1:]) for at, cell in shape.cells.items()] == [
        ("A5", "=B5*2", "", 3), ("B5", "", "", 0)
    ]  # fmt: skip


_STRINGS = tuple(
    f'<sst xmlns="{MAIN}">{"".join(f"<si><t>{word}</t></si>" for word in words)}</sst>'.encode()
    for words in (("one", "two", "three"), ("uno", "due", "tre"))
)
_NAMED = '<c r="A1"><v>{}</v></c><c r="B1" t="s"><v>{}</v></c><c r="C1"><v>{}</v></c>'
_NAMED_ODDLY = '<c r="A1" t="s"><v xml:space="preserve">1</v></c><c r="B1"><v>{}</v></c>{}{}'
_AFTER_A_FORMULA = (
    '<c r="A1"><f>1+1</f></c><c r="B1"><v>{}</v></c><c r="C1" t="s"><v>{}</v></c>'
    '<c r="D1"><v>{}</v></c>'
)
_TWICE = '<c r="A1"><v>{}</v></c><c r="A1"><v>{}</v></c><c r="B1"><v>{}</v></c>'


@pytest.mark.parametrize("row", [_NAMED, _AFTER_A_FORMULA, _NAMED_ODDLY, _TWICE])
def test_rows_of_one_form_name_their_own_texts_and_stand_once(
    row: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The third row has a form by then; the same rows name other texts in another file."""
    for values in (("5", "0", ""), ("6", "1", ""), ("7", "2", ""), ("", "2", "4")):
        held = row.format(*values) if row is not _NAMED_ODDLY else row.format(values[1], "", "")
        content = f'{HEAD}<row r="1">{held}</row>{TAIL}'.encode()
        for strings in (*_STRINGS, *_STRINGS):
            one = either(content, strings)
            with monkeypatch.context() as patched:
                patched.setattr(sheet_lines, "plain_cells", lambda _: None)
                two = either(content, strings)
            if isinstance(one, str) or isinstance(two, str):
                assert one == two
                assert row is _TWICE
            else:
                assert repr(one.cells) == repr(two.cells)
