"""A row known from another workbook hides nothing: a check finds what it finds unprepared."""

from __future__ import annotations

import random
import re
import zipfile
from collections.abc import Callable, Mapping
from pathlib import Path

import pytest
from tests.conftest import Edit

from pourbook.cells import CellError, Value
from pourbook.errors import FileUnreadableError
from pourbook.formats.ooxml.lines import lines_of
from pourbook.hosts.headless.engine import Recomputed
from pourbook.job import fill
from pourbook.workbook.check import check
from pourbook.workbook.check.check import check_file
from pourbook.workbook.check.findings import Finding
from pourbook.workbook.read import plain_cells, read

MAIN = b"http://schemas.openxmlformats.org/spreadsheetml/2006/main"
ROW = re.compile(rb"<row [^>]*>.*?</row>", re.DOTALL)
Repack = Callable[[Path, Path, Mapping[str, Edit]], Path]


def forget() -> None:
    """Have nothing read be known."""
    for one in (read._sheet, plain_cells._line, plain_cells._met):
        one.cache_clear()


def either(path: Path) -> tuple[Finding, ...] | str:
    """Return what is found and noted, or why the file is refused."""
    try:
        report = check_file(path)
    except FileUnreadableError as error:
        return f"{error.what} {error.mend}"
    return (*report.findings, *report.notes)


def _value(row: bytes, rng: random.Random) -> bytes:
    shown = [match.span(1) for match in re.finditer(rb"<v>([^<]+)</v>", row)]
    start, end = rng.choice(shown or [(0, 0)])
    return row[:start] + b"17" + row[end:] if end else row


def _formula(row: bytes, rng: random.Random) -> bytes:
    ends = [match.start() for match in re.finditer(b"</f>", row)]
    at = rng.choice(ends or [0])
    return row[:at] + b"+1" + row[at:] if at else row


def _gone(row: bytes, rng: random.Random) -> bytes:
    cells = [match.span() for match in re.finditer(rb"<c r=.*?</c>", row)]
    start, end = rng.choice(cells or [(0, 0)])
    return row[:start] + row[end:]


def _style(row: bytes, rng: random.Random) -> bytes:
    styles = [match.span(1) for match in re.finditer(rb' s="(\d+)"', row)]
    start, end = rng.choice(styles or [(0, 0)])
    return row[:start] + b"%d" % rng.randint(0, 60) + row[end:] if end else row


def _text(row: bytes, rng: random.Random) -> bytes:
    return row.replace(b"</t>", b" typed over</t>", rng.randint(1, 3))


def _twice(row: bytes, _: random.Random) -> bytes:
    """Have a row in two, of which the second has its last cell alone."""
    at = row.rfind(b"<c r=")
    head = row[: row.index(b">") + 1]
    return row[:at] + b"</row>" + head + row[at:] if at > 0 else row


def _another(row: bytes, rng: random.Random) -> bytes:
    """Have a row stand a few rows lower, in place of none or beside one that stands there."""
    number = re.search(rb'<row r="(\d+)"', row)
    if number is None:
        return row
    lower = b"%d" % (int(number[1]) + rng.randint(1, 3))
    row = row.replace(b'<row r="' + number[1], b'<row r="' + lower)
    return re.sub(rb'(<c r="[A-Z]+)' + number[1] + rb'"', rb"\g<1>" + lower + b'"', row)


def changing(
    way: Callable[[bytes, random.Random], bytes], rng: random.Random, many: int
) -> Callable[[bytes], bytes]:
    """Return what changes so many rows of a sheet in a way."""

    def changed(sheet: bytes) -> bytes:
        rows = [match.span() for match in ROW.finditer(sheet)]
        for start, end in sorted(rng.sample(rows, many), reverse=True):
            sheet = sheet[:start] + way(sheet[start:end], rng) + sheet[end:]
        return sheet

    return changed


WAYS = (_value, _formula, _gone, _style, _text, _twice, _another)


@pytest.mark.in_turn(2)
@pytest.mark.parametrize("seed", range(24))
def test_a_changed_row_is_found_whatever_is_known(
    seed: int, demo_us: Path, tmp_path: Path, repack: Repack
) -> None:
    rng = random.Random(seed)
    way = WAYS[seed % len(WAYS)]
    changed = changing(way, rng, 2)
    parts = rng.sample(range(1, 25), 4)
    edits = {f"xl/worksheets/sheet{number}.xml": changed for number in parts}
    odd = repack(demo_us, tmp_path / "odd.xlsx", edits)
    forget()
    unprepared = either(odd)
    assert either(demo_us) == ()
    assert either(odd) == unprepared
    forget()
    assert either(demo_us) == ()
    assert either(odd) == unprepared
    assert either(demo_us) == ()


SHEETS = [f"xl/worksheets/sheet{number}.xml" for number in range(1, 25)]
_FIRST = re.compile(rb"(<row [^>]*>.*?<v>)([^<]*)(</v>.*?</row>)", re.DOTALL)


def other_values(repack: Repack, source: Path, target: Path) -> Path:
    """Have a value of each row be another, so that after both the shape of each is known."""

    def changed(sheet: bytes) -> bytes:
        return _FIRST.sub(lambda match: match[1] + b"7" + match[2] + match[3], sheet)

    return repack(source, target, dict.fromkeys(SHEETS, changed))


def prepared(*paths: Path) -> None:
    """Have all rows of some files be known, and nothing else."""
    forget()
    for path in paths:
        either(path)


@pytest.mark.in_turn(2)
@pytest.mark.parametrize("seed", range(14))
def test_a_changed_row_is_found_whatever_shapes_are_known(
    seed: int, demo_us: Path, tmp_path: Path, repack: Repack
) -> None:
    rng = random.Random(1000 + seed)
    way = WAYS[seed % len(WAYS)]
    changed = changing(way, rng, 3)
    odd = repack(demo_us, tmp_path / "odd.xlsx", dict.fromkeys(rng.sample(SHEETS, 5), changed))
    others = other_values(repack, demo_us, tmp_path / "others.xlsx")
    oddly = other_values(repack, odd, tmp_path / "oddly.xlsx")
    forget()
    unprepared = either(odd)
    forget()
    in_others = either(oddly)
    prepared(demo_us, others)
    assert either(oddly) == in_others
    assert either(odd) == unprepared
    prepared(odd, oddly, others)
    assert either(demo_us) == ()
    assert either(odd) == unprepared


def test_a_look_is_that_of_the_styles_of_its_own_file(
    demo_us: Path, tmp_path: Path, repack: Repack
) -> None:
    """Every row is as before, and a format that is used hides what it is given."""

    def hiding(styles: bytes) -> bytes:
        return re.sub(rb'formatCode="[^"]*0\.00[^"]*"', b'formatCode=";;;"', styles)

    hidden = repack(demo_us, tmp_path / "hidden.xlsx", {"xl/styles.xml": hiding})
    others = other_values(repack, demo_us, tmp_path / "others.xlsx")
    more = other_values(repack, others, tmp_path / "more.xlsx")
    hidden_more = repack(more, tmp_path / "hidden_more.xlsx", {"xl/styles.xml": hiding})
    for one in (hidden, hidden_more):
        forget()
        unprepared = either(one)
        assert "appearance.look" in str(unprepared) or one is hidden_more
        prepared(demo_us, others)
        assert either(one) == unprepared
    prepared(hidden, hidden_more)
    assert either(demo_us) == ()


@pytest.mark.parametrize("number", [3, 5, 7, 10, 12])
def test_a_row_right_in_another_system_is_found(
    number: int, demo_us: Path, demo_metric: Path, tmp_path: Path, repack: Repack
) -> None:
    """A sheet of the job in US units stands in the metric one: right there, and wrong here."""
    part = f"xl/worksheets/sheet{number}.xml"
    with zipfile.ZipFile(demo_us) as package:
        ours = package.read(part)
    odd = repack(demo_metric, tmp_path / "odd.xlsx", {part: lambda _: ours})
    others = other_values(repack, demo_us, tmp_path / "others.xlsx")
    more = other_values(repack, others, tmp_path / "more.xlsx")
    with zipfile.ZipFile(more) as package:
        changed = package.read(part)
    oddly = repack(demo_metric, tmp_path / "oddly.xlsx", {part: lambda _: changed})
    for one in (odd, oddly):
        forget()
        unprepared = either(one)
        assert unprepared
        prepared(demo_us, others, demo_metric)
        assert either(one) == unprepared
    prepared(odd, oddly)
    assert either(demo_metric) == ()
    assert either(demo_us) == ()


@pytest.mark.parametrize(("number", "place"), [(3, 5), (7, 12), (10, 6)])
def test_a_row_right_on_another_sheet_is_found(
    number: int, place: int, demo_us: Path, tmp_path: Path, repack: Repack
) -> None:
    others = other_values(repack, demo_us, tmp_path / "others.xlsx")
    more = other_values(repack, others, tmp_path / "more.xlsx")
    for source in (demo_us, more):
        with zipfile.ZipFile(source) as package:
            rows = b"".join(ROW.findall(package.read(SHEETS[number - 1])))

        def elsewhere(sheet: bytes, rows: bytes = rows) -> bytes:
            data = re.compile(rb"(<sheetData>).*(</sheetData>)", re.DOTALL)
            return data.sub(lambda match: match[1] + rows + match[2], sheet)

        odd = repack(demo_us, tmp_path / f"{source.stem}.odd.xlsx", {SHEETS[place - 1]: elsewhere})
        forget()
        unprepared = either(odd)
        assert unprepared
        prepared(demo_us, others)
        assert either(odd) == unprepared
        prepared(odd, others)
        assert either(demo_us) == ()


def test_the_plants_are_found(demo_us: Path, tmp_path: Path, repack: Repack) -> None:
    """Each way of changing rows is found where many are: the test above compares something."""
    rng = random.Random(1)
    calm = []
    for way in WAYS:

        def changed(sheet: bytes, way: Callable[[bytes, random.Random], bytes] = way) -> bytes:
            return ROW.sub(lambda match: way(match[0], rng), sheet, count=40)

        odd = tmp_path / f"{way.__name__}.xlsx"
        if not either(repack(demo_us, odd, {"xl/worksheets/sheet6.xml": changed})):
            calm.append(way.__name__)
    assert calm == ["_twice"]  # a row in two says the same


def test_a_row_known_right_is_looked_at_anew_where_its_list_is_another(
    demo_us: Path, tmp_path: Path
) -> None:
    """A product has another name on Products: the rows that choose it stay as they are."""
    other = tmp_path / "other.xlsx"
    fill.fill(demo_us, other, {("products", "product", 0): "Another clear"}, force=False)
    forget()
    unprepared = either(other)
    wrong = [one for one in unprepared if isinstance(one, Finding) and one.id == "entry.choice"]
    assert {one.sheet for one in wrong} >= {"Survey", "Buying"}
    forget()
    assert either(demo_us) == ()
    assert either(other) == unprepared
    assert either(demo_us) == ()


def test_a_row_that_is_gone_is_found(demo_us: Path, tmp_path: Path, repack: Repack) -> None:
    """Its words and formulas have to stand somewhere, and it is none that is known."""
    assert either(demo_us) == ()

    def changed(sheet: bytes) -> bytes:
        row = next(one[0] for one in ROW.finditer(sheet) if one[0].count(b"<f>") > 1)
        return sheet.replace(row, b"")

    odd = repack(demo_us, tmp_path / "odd.xlsx", {"xl/worksheets/sheet10.xml": changed})
    assert [one for one in either(odd) if isinstance(one, Finding) and "structure" in one.id]


def test_what_is_worked_out_in_an_entry_is_told_every_time(
    demo_us: Path, tmp_path: Path, repack: Repack
) -> None:
    cell = read.read_book(demo_us).plan("job").cell("rates", "labour", 0)
    place = f'<c r="{cell.address}"'.encode()

    def changed(sheet: bytes) -> bytes:
        start = sheet.index(b"<v>", sheet.index(place))
        return sheet[:start] + b"<f>40+6</f>" + sheet[start:]

    odd = repack(demo_us, tmp_path / "odd.xlsx", {"xl/worksheets/sheet10.xml": changed})
    for _ in range(2):
        assert [one.cell for one in check_file(odd).notes if one.id == "entry.worked"] == [
            cell.address
        ]


def test_a_text_that_looks_like_an_error_is_none(demo_us: Path) -> None:
    """Python holds an error value and its text for equal."""
    book = read.read_book(demo_us)
    plan = book.plan("job")
    one, two = [c for c in plan.cells if c.fill and c.block][:2]
    values: dict[tuple[str, str], Value] = {
        (one.sheet, one.address): "#N/A",
        (two.sheet, two.address): CellError("#N/A"),
    }
    assert check._refused(plan, book, Recomputed(values)) == [two]


def test_rows_that_are_the_same_are_the_same_object(
    demo_us: Path, tmp_path: Path, repack: Repack
) -> None:
    def changed(sheet: bytes) -> bytes:
        return sheet.replace(b"<v>", b"<v>1", 1)

    odd = repack(demo_us, tmp_path / "odd.xlsx", {"xl/worksheets/sheet6.xml": changed})
    one, two = (read.read_book(path).sheets for path in (demo_us, odd))
    known = {id(line) for sheet in one.values() for line in lines_of(sheet.cells)}
    lines = {id(line) for sheet in two.values() for line in lines_of(sheet.cells)}
    assert len(lines - known) == 1


def test_rows_longer_than_any_of_a_job_are_not_kept() -> None:
    """A file of very long rows is read, and leaves nothing in memory."""
    head = (
        '<worksheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"><sheetData>'
    )
    forget()
    for letters, kept in ((100, 1), (plain_cells.LONGEST_KEPT, 0)):
        row = f'<row r="1"><c r="A1" t="str"><v>{"x" * letters}</v></c></row>'
        found = plain_cells.plain_cells(f"{head}{row}</sheetData></worksheet>".encode())
        assert found is not None
        assert found.lines[0].form.cells[0].value == "x" * letters
        assert plain_cells._line.cache_info().currsize == kept
        assert plain_cells._met.cache_info().currsize == kept
        forget()


def test_texts_that_are_named_by_number_are_those_of_the_same_file() -> None:
    """The same row, and other texts behind its numbers: each file has its own."""
    head = (
        '<worksheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"><sheetData>'
    )
    row = '<row r="1"><c r="A1" t="s"><v>0</v></c><c r="B1"><v>7</v></c></row>'
    part = f"{head}{row}</sheetData></worksheet>".encode()
    texts = [b"<sst xmlns='%s'><si><t>%s</t></si></sst>" % (MAIN, one) for one in (b"Bar", b"Den")]
    for _ in range(2):
        for strings, said in zip(texts, ("Bar", "Den"), strict=True):
            cells = read._sheet("Sheet", False, part, strings).cells
            assert [cells["A1"].value, cells["B1"].value] == [said, 7.0]
            read._sheet.cache_clear()
