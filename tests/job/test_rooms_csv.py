"""Rooms from a CSV file: all of it is read, or one line is named and nothing is written."""

from __future__ import annotations

from pathlib import Path

import openpyxl
import pytest

from pourbook.commands.new_job import run_new
from pourbook.errors import FileUnreadableError, InputError, PourbookError
from pourbook.formats import csv_rows
from pourbook.job import rooms_csv
from pourbook.workbook.check.check import check_file
from pourbook.workbook.read.read import read_book

HEAD = "Room,Piece,Shape,Size A,Size B"
WORDS = [
    "Room",
    "Piece",
    "Shape",
    "Size A",
    "Size B",
    "Size C",
    "Size D",
    "How many",
    "Cutouts",
    "Edge run",
    "Edge height",
    "Edge profile",
    "Backsplash run",
    "Backsplash height",
    "May split",
    "Pour order",
]
ROW = {
    ("rooms", "room", 0): "Küche",
    ("rooms", "piece", 0): "Top",
    ("rooms", "shape", 0): "rectangle",
    ("rooms", "a", 0): 98.5,
    ("rooms", "b", 0): 25,
}


@pytest.fixture
def file(tmp_path: Path) -> Path:
    return tmp_path / "rooms.csv"


def _read(file: Path, content: str | bytes, system: str = "us", encoding: str = "") -> object:
    file.write_bytes(content.encode() if isinstance(content, str) else content)
    return rooms_csv.read_rooms(file, system, encoding)


def _told(file: Path, content: str | bytes, system: str = "us", encoding: str = "") -> str:
    with pytest.raises(PourbookError) as refused:
        _read(file, content, system, encoding)
    return str(refused.value)


PLAIN = f"{HEAD}\nKüche,Top,rectangle,98.5,25\n"


@pytest.mark.parametrize("separator", [",", ";", "\t"])
@pytest.mark.parametrize("end", ["\n", "\r\n"])
def test_every_separator_and_line_end(file: Path, separator: str, end: str) -> None:
    content = PLAIN.replace(",", separator).replace("\n", end)
    assert _read(file, content) == ROW


@pytest.mark.parametrize("head", [HEAD, "room,piece,shape,a,b", "ROOM, Piece ,shape,SIZE A,B"])
def test_headings_by_words_and_ids(file: Path, head: str) -> None:
    assert _read(file, PLAIN.replace(HEAD, head)) == ROW


def test_headings_in_any_order(file: Path) -> None:
    content = "Size B,Shape,Size A,Piece,Room\n25,rectangle,98.5,Top,Küche\n"
    assert _read(file, content) == ROW


def test_every_heading_of_the_help_is_known(file: Path) -> None:
    cells = "Bar,Top,L-shape,96,25,60,25,2,round 2,8 ft,1.5,square,4 ft,4,yes,1"
    found = _read(file, ",".join(WORDS) + f"\n{cells}\n")
    assert isinstance(found, dict)
    assert len(found) == len(WORDS)
    assert found["rooms", "may_split", 0] == "yes"
    assert found["rooms", "order", 0] == 1


@pytest.mark.parametrize("coding", ["utf-8-sig", "utf-16", "utf-16-le", "utf-16-be"])
def test_encodings_with_a_byte_mark_are_seen(file: Path, coding: str) -> None:
    mark = "\ufeff" if coding in {"utf-16-le", "utf-16-be"} else ""
    assert _read(file, (mark + PLAIN).encode(coding)) == ROW


@pytest.mark.parametrize("coding", ["cp1252", "latin-1", "mac-roman"])
def test_encoding_that_is_named(file: Path, coding: str) -> None:
    assert _read(file, PLAIN.encode(coding), encoding=coding) == ROW


def test_byte_mark_goes_before_a_named_utf_8(file: Path) -> None:
    assert _read(file, PLAIN.encode("utf-8-sig"), encoding="utf-8") == ROW


def test_wrong_encoding_names_the_line(file: Path) -> None:
    content = f"{HEAD}\nBar,Top,rectangle,98,25\nKüche,Top,rectangle,98,25\n".encode("cp1252")
    with pytest.raises(FileUnreadableError, match=r"rooms\.csv, line 3.*--encoding cp1252"):
        _read(file, content)


def test_encoding_that_is_none(file: Path) -> None:
    assert "there is no encoding 'klingon'" in _told(file, PLAIN, encoding="klingon")


@pytest.mark.parametrize("coding", ["base64", "rot13", "hex", "idna"])
def test_codec_that_is_no_encoding_of_text(file: Path, coding: str) -> None:
    assert "rooms.csv" in _told(file, PLAIN, encoding=coding)


def test_decimal_comma_in_a_file_with_semicolons(file: Path) -> None:
    content = "Room;Piece;Shape;Size A;Size B\nBar;Top;rectangle;2,5 m;62,5 cm\n"
    found = _read(file, content, "metric")
    assert isinstance(found, dict)
    assert found["rooms", "a", 0] == "2,5 m"
    bare = _told(file, content.replace(" m", "").replace(" cm", ""), "metric")
    assert "it reads 2.5 mm, which is too small" in bare


def test_decimal_comma_measures_what_it_says(tmp_path: Path, file: Path) -> None:
    file.write_text("Room;Piece;Shape;Size A;Size B\nBar;Top;rectangle;2,5 m;50 cm\n")
    target = tmp_path / "job.xlsx"
    assert run_new(target, file, "metric", 4, "", force=False) == 0
    checked = check_file(target)
    cell = checked.plan.cell("rooms", "top", 0)
    assert checked.values[cell.sheet, cell.address] == pytest.approx(2.5 * 0.5, rel=1e-12)


def test_comma_that_may_mark_thousands_is_refused(file: Path) -> None:
    told = _told(file, "Room;Piece;Shape;Size A;Size B\nBar;Top;rectangle;1,234;25\n")
    assert told.startswith("rooms.csv, line 2: Size A")
    assert "'1,234' may be 1234 or 1.234" in told


@pytest.mark.parametrize(
    ("row", "words"),
    [
        ("Bar,Top,rectangle,98", "Size B"),
        ("Bar,Top,blob,98,25", "'blob' is not in the list"),
        ("Bar,Top,rectangle,30 kg,25", "weight where a length"),
        ("Bar,Top,rectangle,0,25", "Size A (length): it is 0"),
        ("Bar,Top,rectangle,-98,25", "Size A"),
        ("Bar,,rectangle,98,25", "Piece"),
        ("Bar,! Top,rectangle,98,25", "begins with '!'"),
        (f"Bar,{'x' * 201},rectangle,98,25", "too long"),
        ("Bar,Top,rectangle,98,25,1", "6 cells under 5 headings"),
        ('Bar,"Top" x,rectangle,98,25', "cannot be read"),
        ('Bar,"Top,rectangle,98,25', "cannot be read"),
        ("Bar,#REF!,rectangle,inf,25", "Size A"),
        ("Bar,Top,rectangle,1e400,25", "Size A"),
    ],
)
def test_bad_row_is_named_by_its_line_and_nothing_is_written(
    tmp_path: Path, file: Path, row: str, words: str
) -> None:
    file.write_text(f"{HEAD}\nBar,Good,rectangle,98,25\n\n{row}\n")
    target = tmp_path / "job.xlsx"
    with pytest.raises(InputError) as refused:
        run_new(target, file, "us", None, "", force=False)
    assert str(refused.value).startswith("rooms.csv, line 4: "), refused.value
    assert words in str(refused.value)
    assert [p.name for p in tmp_path.iterdir()] == ["rooms.csv"]


@pytest.mark.parametrize("count", ["0", "1.5", "two", "-1", "inf", "nan"])
def test_count_that_is_none_is_named_by_its_line(file: Path, count: str) -> None:
    told = _told(file, f"{HEAD},How many\nBar,Top,rectangle,98,25,{count}\n")
    assert told.startswith("rooms.csv, line 2: How many")


def test_line_is_that_of_the_editor_after_a_cell_of_two_lines(file: Path) -> None:
    told = _told(file, f'{HEAD}\nBar,"Top\nleft",rectangle,98,25\nBar,Low,rectangle,98,\n')
    assert told.startswith("rooms.csv, line 4: Size B")


@pytest.mark.parametrize(
    ("head", "words"),
    [
        ("Room,Piece,Shape,Size A,Depth", "line 1, column 5: the heading 'Depth' is not known"),
        ("Room,Piece,Shape,Size A,", "line 1, column 5"),
        ("Room,Piece,Shape,Size A,a", "line 1: the heading 'a' is there twice"),
        ("Room,Piece,Shape,Size B,Size C", "line 1: the heading 'Size A' is missing"),
        ("Piece,Shape,Size A,Size B,Size C", "line 1: the heading 'Room' is missing"),
    ],
)
def test_rooms_with_a_bad_heading_name_it(file: Path, head: str, words: str) -> None:
    told = _told(file, f"{head}\nBar,Top,rectangle,98,25\n")
    assert f"rooms.csv, {words}" in told


@pytest.mark.parametrize("content", ["", "\n", f"{HEAD}\n", f"{HEAD}\n,,,,\n\n"])
def test_file_without_rows(file: Path, content: str) -> None:
    assert "rooms.csv" in _told(file, content)


def test_blank_lines_are_skipped(file: Path) -> None:
    content = PLAIN.replace("\nK", "\n\n,,,,\n   \nK") + "\n\n,,,,\n"
    assert _read(file, content) == ROW


def test_formulas_stay_texts(tmp_path: Path, file: Path) -> None:
    texts = ["=1+1", "+1", "@SUM(A1)", "-2+3", '=HYPERLINK("http://x")']
    cells = [text.replace('"', '""') for text in texts]
    rows = "".join(f'"{cell}","{cell}",rectangle,98,25\n' for cell in cells)
    file.write_text(f"{HEAD}\n{rows}")
    target = tmp_path / "job.xlsx"
    assert run_new(target, file, "us", 6, "", force=False) == 0
    book = read_book(target)
    plan = book.plan()
    opened = openpyxl.load_workbook(target)
    for index, text in enumerate(texts):
        for name in ("room", "piece"):
            place = plan.cell("rooms", name, index)
            raw = book.sheets[place.sheet].cells[place.address]
            assert (raw.value, raw.formula) == (text, "")
            shown = opened[place.sheet][place.address]
            assert (shown.value, shown.data_type) == (text, "s")
    assert not [f for f in check_file(target).findings if f.sheet == "Rooms"]


def test_three_hundred_rows_make_a_job_of_three_hundred(tmp_path: Path, file: Path) -> None:
    rows = "".join(f"Bar,Shelf {n},rectangle,24,12\n" for n in range(300))
    file.write_text(f"{HEAD}\n{rows}")
    target = tmp_path / "job.xlsx"
    assert run_new(target, file, "us", None, "", force=False) == 0
    checked = check_file(target)
    assert checked.plan.pieces == 300
    cell = checked.plan.cell("measured", "top")
    # 24 in x 12 in are two square feet
    assert checked.values[cell.sheet, cell.address] == pytest.approx(600, rel=1e-12)
    assert not [f for f in checked.findings if f.sheet == "Rooms"]


def test_too_few_pieces_are_refused(tmp_path: Path, file: Path) -> None:
    rows = "".join(f"Bar,Shelf {n},rectangle,24,12\n" for n in range(5))
    file.write_text(f"{HEAD}\n{rows}")
    with pytest.raises(InputError, match=r"5 pieces do not fit into 4 rows: say --pieces 5"):
        run_new(tmp_path / "job.xlsx", file, "us", 4, "", force=False)
    assert not (tmp_path / "job.xlsx").exists()


def test_more_pieces_than_a_job_can_hold_are_refused(tmp_path: Path, file: Path) -> None:
    rows = "".join(f"Bar,Shelf {n},rectangle,24,12\n" for n in range(5001))
    file.write_text(f"{HEAD}\n{rows}")
    with pytest.raises(PourbookError, match="5000"):
        run_new(tmp_path / "job.xlsx", file, "us", None, "", force=False)
    assert not (tmp_path / "job.xlsx").exists()


def test_missing_and_huge_files(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    with pytest.raises(FileUnreadableError, match="cannot be opened"):
        rooms_csv.read_rooms(tmp_path / "none.csv", "us")
    with pytest.raises(FileUnreadableError, match="cannot be opened"):
        rooms_csv.read_rooms(tmp_path, "us")
    monkeypatch.setattr(csv_rows, "MOST_BYTES", 10)
    (tmp_path / "big.csv").write_text(PLAIN)
    with pytest.raises(FileUnreadableError, match="too large"):
        rooms_csv.read_rooms(tmp_path / "big.csv", "us")
