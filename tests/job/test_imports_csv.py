"""Log and receipts from CSV files: every row is taken, or one is named and nothing is changed."""

from __future__ import annotations

import hashlib
import shutil
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.command_line import run

from pourbook import resources
from pourbook.cells import Value
from pourbook.errors import InputError, PourbookError
from pourbook.job import figures, imports, make
from pourbook.job.figures import Way
from pourbook.job.import_headings import Asked
from pourbook.units import SYSTEMS
from pourbook.workbook.check.check import check_file
from pourbook.workbook.layout.laid_out import Layout
from pourbook.workbook.layout.lay_out import lay_out as layout
from pourbook.workbook.read.read import RawBook, RawSheet, read_book
from pourbook.workbook.read.sheet_lines import RawCell

LOG = "Layer,Mixing began,Lot A,Part A weighed"
ROW = "Rolled top coat,2027-01-18 10:00,R-0119,100"
BILL = "Date,From,Invoice or slip,Line,Kind,Product,Holds,Packs,Contents of one,Price of one"
LINE = "2027-01-20,Depot,Q-9,1,bought,Clear flood,kit,1,2,152"
# Rows of the demo that are filled: nine batches, four receipts.
LOGGED, BOUGHT = 9, 4


@pytest.fixture(scope="module")
def book() -> RawBook:
    """The demo as it stands in a file, without its formulas: imports read only what is typed."""
    plan = _plan()
    scenario = make.read_scenario(resources.folder("shared") / "demo" / "us.toml")
    sheets: dict[str, dict[str, RawCell]] = {s.sheet: {} for s in plan.book.sheets}
    from pourbook.job.fill import _stored

    for key, value in scenario.entries.items():
        cell = plan.entry_at[key]
        sheets[cell.sheet][cell.address] = RawCell(_stored(value))
        if key[:2] == ("finish_layers", "layer"):  # the demo's layers stand in the same rows
            offered = plan.entry_at["layers", "layer", key[2]]
            sheets[offered.sheet][offered.address] = RawCell(_stored(value))
    raw = {name: RawSheet(name, False, cells) for name, cells in sheets.items()}
    return RawBook(Path("demo.xlsx"), raw)


def _plan(made: dict[str, Layout] = {}) -> Layout:  # noqa: B006 - made once
    return made.setdefault("us", layout("job", "us", 18))


@pytest.fixture
def file(tmp_path: Path) -> Path:
    return tmp_path / "in.csv"


def _take(
    file: Path, book: RawBook, block: str, content: str | bytes, **asked: Any
) -> imports.Import:
    file.write_bytes(content.encode() if isinstance(content, str) else content)
    return imports.plan_import(file, book, _plan(), block, Asked(**asked))


def _told(file: Path, book: RawBook, block: str, content: str | bytes, **asked: Any) -> str:
    with pytest.raises(PourbookError) as refused:
        _take(file, book, block, content, **asked)
    return str(refused.value)


def _row(found: imports.Import, index: int) -> dict[str, Value]:
    return {name: value for (_, name, at), value in found.entries.items() if at == index}


def test_a_row_goes_below_the_last_one(file: Path, book: RawBook) -> None:
    found = _take(file, book, "log", f"{LOG}\n{ROW}\n")
    assert _row(found, LOGGED) == {
        "layer": "Rolled top coat",
        "started": pytest.approx(46405 + 10 / 24),  # 2027-01-18
        "lot_a": "R-0119",
        "mass_a": 100,
    }
    assert len(found.entries) == 4
    assert found.first.startswith("Used!A")


def test_headings_by_id_and_in_any_order(file: Path, book: RawBook) -> None:
    content = "mass_a;LOT A;started;layer\n100;R-0119;2027-01-18 10:00;rolled TOP coat\n"
    assert _take(file, book, "log", content) == _take(file, book, "log", f"{LOG}\n{ROW}\n")


def test_units_in_heading_and_cell(file: Path, book: RawBook) -> None:
    head = "Layer;Mixing began;Lot A;Part A (kg);Part B [lb];Air (°C);Humidity (%);Wet film read"
    content = f"{head}\nRolled top coat;2027-01-18 10:00;R;1,2;500 g;20;45;0.1 mm\n"
    row = _row(_take(file, book, "log", content), LOGGED)
    assert row["mass_a"] == pytest.approx(1200)
    assert row["mass_b"] == pytest.approx(500), "the cell's own unit goes before the heading's"
    assert row["air"] == pytest.approx(68)
    assert row["humidity"] == pytest.approx(0.45)
    assert row["wet"] == pytest.approx(0.1 / 0.0254)
    litres = _row(
        _take(file, book, "receipts", f"{BILL}\n{LINE.replace(',2,152', ',5 L,152')}\n"), BOUGHT
    )
    assert litres["contents"] == pytest.approx(5 / 3.785411784)


def test_mapping_and_leaving_out(file: Path, book: RawBook) -> None:
    content = f"Coat,When,Charge,Resin (kg),Weather\n{ROW.replace(',100', ',0.1')},rain\n"
    maps = ["Coat=Layer", "When = Mixing began", "charge=lot_a", "Resin=Part A weighed"]
    found = _take(file, book, "log", content, maps=maps, ignore=["weather"])
    assert _row(found, LOGGED)["mass_a"] == pytest.approx(100)
    assert "the heading 'Weather' is not known" in _told(file, book, "log", content, maps=maps)
    told = _told(file, book, "log", content, maps=[*maps, "Boss=Note"], ignore=["Weather"])
    assert "--map names 'boss', which is no heading" in told
    told = _told(file, book, "log", content, maps=["Coat=Colour"])
    assert "'Coat=Colour' names no heading" in told


@pytest.mark.parametrize(
    ("head", "words"),
    [
        (LOG.replace("Layer", "Coat"), "line 1, column 1: the heading 'Coat' is not known"),
        (LOG.replace(",Lot A", ",layer"), "line 1, column 3: a second column is Layer"),
        (LOG.replace("Lot A", "Lot B"), "line 1: the heading 'Lot A' is missing"),
        (LOG.replace("weighed", "weighed (ft)"), "'ft' is no unit of Part A weighed"),
        ("", "in.csv, line 1"),
    ],
)
def test_a_log_with_a_bad_heading_names_it(
    file: Path, book: RawBook, head: str, words: str
) -> None:
    assert words in _told(file, book, "log", f"{head}\n{ROW}\n")


def test_currency_of_the_heading(file: Path, book: RawBook) -> None:
    head = BILL.replace("Price of one", "Price of one (EUR)")
    assert "'EUR' is no unit of Price of one" in _told(file, book, "receipts", f"{head}\n{LINE}\n")
    _take(file, book, "receipts", f"{head.replace('EUR', 'usd')}\n{LINE}\n")


@pytest.mark.parametrize(
    ("row", "words"),
    [
        (ROW.replace("Rolled", "Poured"), "column 1: Layer: 'Poured top coat' is not in the list"),
        (
            ROW.replace("2027-01-18", "2027-02-30"),
            "Mixing began: '2027-02-30 10:00' is no",
        ),
        (ROW.replace("10:00", "25:00"), "column 2: Mixing began: there is no such time"),
        (ROW.replace("2027-01-18", "18.01.2027"), "say --dates dmy"),
        (ROW.replace("2027-01-18 10:00", "soon"), "column 2: Mixing began: 'soon' is no date"),
        (ROW.replace("100", "much"), "column 4: Part A weighed: 'much' is no number"),
        (ROW.replace("100", "-1"), "column 4: Part A weighed: -1 is out of range"),
        (ROW.replace("100", "1e5"), "column 4: Part A weighed"),
        (ROW.replace("100", "10 mL"), "column 4: Part A weighed"),
        (ROW.replace("100", '"1,234"'), "'1,234' may be 1234 or 1.234"),
        (ROW.replace(",100", ","), "Part A weighed is blank"),
        (ROW.replace("R-0119", ""), "Lot A is blank"),
        (ROW.replace("R-0119", "!x"), "column 3: Lot A: a text may not begin with '!'"),
        (ROW.replace("R-0119", "x" * 201), "column 3: Lot A: 201 characters"),
        (ROW.replace("R-0119", "a\x07b"), "column 3: Lot A: it holds a character"),
        (ROW.replace("R-0119", "(01)02000000000412(10)R"), "Lot A: "),
        (f"{ROW},5", "5 cells under 4 headings"),
        (f'"{ROW}', "cannot be read"),
    ],
)
def test_bad_row_is_named_by_line_and_column(
    file: Path, book: RawBook, row: str, words: str
) -> None:
    told = _told(file, book, "log", f"{LOG}\n{ROW}\n\n{row}\n")
    assert told.startswith("in.csv, line 4"), told
    assert words in told


def test_all_bad_lines_are_listed(file: Path, book: RawBook) -> None:
    bad = ROW.replace("100", "x")
    told = _told(file, book, "log", f"{LOG}\n{bad}\n{ROW}\n{bad}\n{bad}\n")
    assert told.count("Part A weighed: 'x' is no number: type a number such as 12.5") == 3
    assert [f"line {n}, column 4" in told for n in (2, 3, 4, 5)] == [True, False, True, True]


def test_all_faults_of_a_row_are_named_at_once(file: Path, book: RawBook) -> None:
    bad = ROW.replace("100", "x").replace("2027-01-18 10:00", "soon")
    told = _told(file, book, "log", f"{LOG}\n{bad}\n{ROW}\n{ROW},2\n")
    assert "'soon' is no date" in told
    assert "'x' is no number" in told
    assert "line 4: 5 cells under 4 headings" in told


def test_a_long_list_of_faults_is_cut(file: Path, book: RawBook) -> None:
    bad = ROW.replace("100", "x")
    told = _told(file, book, "log", "\n".join([LOG, *[bad] * 25]))
    assert told.count("'x' is no number") == 20
    assert told.endswith("and 5 more")


def test_end_before_the_beginning(file: Path, book: RawBook) -> None:
    told = _told(file, book, "log", f"{LOG},All spread at\n{ROW},2027-01-18 09:59\n")
    assert "line 2: All spread at: it is before mixing began" in told


def test_another_currency_is_named(file: Path, book: RawBook) -> None:
    told = _told(file, book, "receipts", f"{BILL},Currency\n{LINE},EUR\n")
    assert "line 2: Currency: 'EUR' is not the job's USD: convert its prices first" in told
    _take(file, book, "receipts", f"{BILL},Currency\n{LINE},usd\n")


@pytest.mark.parametrize(
    ("text", "way", "value"),
    [
        ("1.5", Way(), 1.5),
        ("1,5", Way(), 1.5),
        (",5", Way(), 0.5),
        ("0,125", Way(), 0.125),
        ("1234,5", Way(), 1234.5),
        ("1.234,5", Way(), 1234.5),
        ("1,234.5", Way(), 1234.5),
        ("1.234.567", Way(), 1234567),
        ("1,234", Way(decimal="."), 1234),
        ("1,234", Way(decimal=","), 1.234),
        ("1.234", Way(decimal=","), 1234),
        ("1.234", Way(), 1.234),
        ("-2,5", Way(), -2.5),
    ],
)
def test_a_comma_means_what_the_rest_of_the_file_says(text: str, way: Way, value: float) -> None:
    assert float(figures.number(text, way)) == value


@pytest.mark.parametrize(
    ("text", "way"),
    [
        ("1,234", Way()),
        ("1.234", Way(commas=True)),
        ("1,5", Way(decimal=".")),
        ("1.5", Way(decimal=",")),
        ("1,23,4", Way()),
        ("12.34,56,7", Way()),
        ("1..5", Way()),
        (".", Way()),
        ("1,234,5", Way(decimal=",")),
        ("9" * 400, Way()),
    ],
)
def test_numbers_that_are_refused(text: str, way: Way) -> None:
    with pytest.raises(InputError):
        figures.number(text, way)


def test_point_is_unclear_beside_a_decimal_comma(file: Path, book: RawBook) -> None:
    head = LOG.replace(",", ";")
    one, two = ROW.replace(",", ";"), ROW.replace(",", ";").replace("10:00", "11:00")
    content = f"{head}\n{one.replace('100', '1,5')}\n{two.replace('100', '1.234')}\n"
    assert "line 3, column 4: Part A weighed: '1.234' may be 1234 or 1.234" in _told(
        file, book, "log", content
    )
    found = _take(file, book, "log", content, decimal=",")
    assert [_row(found, LOGGED + n)["mass_a"] for n in (0, 1)] == [1.5, 1234]


@pytest.mark.parametrize(
    ("sure", "weight", "words"),
    [
        ("0,939", 1.086, "the comma of '1,086' was read as marking decimals"),
        ("12.5", 1086.0, "the comma of '1,086' was read as marking thousands"),
    ],
)
def test_one_number_settles_the_commas_of_the_file(
    file: Path, book: RawBook, sure: str, weight: float, words: str
) -> None:
    head = LOG.replace(",", ";")
    one, two = ROW.replace(",", ";"), ROW.replace(",", ";").replace("10:00", "11:00")
    lines = [head, one.replace("100", sure), two.replace("100", "1,086")]
    found = _take(file, book, "log", "\n".join(lines))
    assert _row(found, LOGGED + 1)["mass_a"] == weight
    assert found.read_as.startswith(words)
    assert f"'{sure}'" in found.read_as
    told = _take(file, book, "log", "\n".join(lines), decimal="," if "," in sure else ".")
    assert told.read_as == ""


def test_both_signs_in_a_file_settle_nothing(file: Path, book: RawBook) -> None:
    head = LOG.replace(",", ";")
    rows = [ROW.replace(",", ";").replace("10:00", f"1{n}:00") for n in range(3)]
    cells = ("0,939", "12.5", "1,086")
    lines = [row.replace("100", cell) for row, cell in zip(rows, cells, strict=True)]
    assert "'1,086' may be 1086 or 1.086" in _told(file, book, "log", "\n".join([head, *lines]))


@pytest.mark.parametrize(
    ("text", "dates", "day"),
    [
        ("2027-01-02", "", 46389),
        ("2027-1-2 12:00", "", 46389.5),
        ("2027-01-02T18:00:00", "", 46389.75),
        ("02.01.2027", "dmy", 46389),
        ("01/02/2027 6:00 pm", "mdy", 46389.75),
        ("1-2-2027 12:00 AM", "mdy", 46389),
    ],
)
def test_dates_mean_the_day_they_say(text: str, dates: Any, day: float) -> None:
    assert figures.moment(text, Way(dates=dates)) == pytest.approx(day, abs=1e-9)


@pytest.mark.parametrize(
    ("text", "dates"),
    [
        ("01/02/2027", ""),
        ("13/31/2027", "mdy"),
        ("31.04.2027", "dmy"),
        ("1.2.27", "dmy"),
        ("2027-01-02 24:00", ""),
        ("2027-01-02 13:00 pm", ""),
        ("2027-01-02T10:00:00Z", ""),
        ("46389", ""),
    ],
)
def test_dates_that_are_refused(text: str, dates: Any) -> None:
    with pytest.raises(InputError):
        figures.moment(text, Way(dates=dates))


def test_same_rows_are_skipped_and_counted(file: Path, book: RawBook) -> None:
    known = "Clear flood coat,2027-01-13 10:12,C-0231,3023"
    found = _take(file, book, "log", f"{LOG},Lot B\n{known},c-0231\n{ROW},R\n{ROW},R\n")
    assert (len(found.taken), len(found.skipped)) == (1, 2)
    line = "2027-01-06,Quayside depot,Q-2207,2,bought,Clear flood,kit,1,2,152"
    bare = line.replace("Quayside depot", "")
    found = _take(file, book, "receipts", f"{BILL}\n{line}\n{LINE}\n{bare}\n")
    assert (len(found.taken), len(found.skipped)) == (1, 2)
    other = line.replace("Quayside depot", "Another depot")
    assert len(_take(file, book, "receipts", f"{BILL}\n{other}\n").taken) == 1


def test_a_line_with_and_without_its_number_is_one(file: Path, book: RawBook) -> None:
    line = "2027-01-06,Quayside depot,Q-2207,{},bought,Clear flood,kit,1,2,152"
    bare, numbered = line.format(""), line.format(2)
    assert len(_take(file, book, "receipts", f"{BILL}\n{bare}\n").skipped) == 1
    twice = _take(file, book, "receipts", f"{BILL}\n{bare}\n{numbered}\n")
    assert len(twice.skipped) == 2, "by its number it is known all the same"
    other = bare.replace(",1,2,152", ",1,2,153")
    assert len(_take(file, book, "receipts", f"{BILL}\n{other}\n").taken) == 1, "another price"
    fresh = LINE.replace(",1,bought", ",,bought")
    first = _take(file, book, "receipts", f"{BILL}\n{fresh}\n")
    assert len(first.taken) == 1
    both = _take(file, book, "receipts", f"{BILL}\n{bare}\n{line.format(7)}\n{bare}\n")
    assert (len(both.taken), len(both.skipped)) == (2, 1), "each row of the job stands for one"


def test_same_lot_scanned_and_typed_is_the_same(file: Path, book: RawBook) -> None:
    head = f"{LOG},Lot B"
    typed = "Rolled top coat,2027-01-15 10:22,R-0119,1887,r-0119"
    assert len(_take(file, book, "log", f"{head}\n{typed}\n").skipped) == 1


def test_same_key_with_other_figures_is_refused_with_both_places(file: Path, book: RawBook) -> None:
    known = "Clear flood coat,2027-01-13 10:12,C-0231,3024,C-0231"
    told = _told(file, book, "log", f"{LOG},Lot B\n{known}\n")
    cell = _plan().cell("log", "layer", 5)
    assert told.startswith("in.csv, line 2: Used!" + cell.address)
    assert "but another Part A weighed" in told
    told = _told(file, book, "log", f"{LOG}\n{ROW}\n{ROW.replace('100', '101')}\n")
    assert "line 3: in.csv, line 2 has the same" in told


def test_too_many_rows_are_refused(file: Path, book: RawBook) -> None:
    rows = "\n".join(ROW.replace("10:00", f"10:{n:02}") for n in range(52))
    told = _told(file, book, "log", f"{LOG}\n{rows}\n")
    assert "52 new rows do not fit: 51 are free" in told
    found = _take(file, book, "log", f"{LOG}\n{rows.rpartition(chr(10))[0]}\n")
    assert len(found.taken) == 51


def test_scanners_raw_code_becomes_brackets(file: Path, book: RawBook) -> None:
    raw = "]d2010200000000041110R-1\x1d17270705"
    found = _take(file, book, "log", f"{LOG}\n{ROW.replace('R-0119', raw)}\n")
    assert _row(found, LOGGED)["lot_a"] == "(01)02000000000411(17)270705(10)R-1"


@pytest.mark.parametrize("coding", ["utf-8-sig", "utf-16"])
def test_letters_survive_every_encoding_of_a_file(file: Path, book: RawBook, coding: str) -> None:
    content = f"{LOG},Note\n{ROW},Tür\n"
    assert _row(_take(file, book, "log", content.encode(coding)), LOGGED)["note"] == "Tür"
    named = _take(file, book, "log", content.encode("cp1252"), encoding="cp1252")
    assert _row(named, LOGGED)["note"] == "Tür"
    assert "--encoding cp1252" in _told(file, book, "log", content.encode("cp1252"))


def test_file_without_rows(file: Path, book: RawBook) -> None:
    assert "there is no row" in _told(file, book, "log", f"{LOG}\n\n")


@given(st.lists(st.lists(st.text(max_size=12), max_size=6), max_size=5), st.sampled_from(",;\t"))
def test_any_file_is_taken_or_refused(
    book: RawBook, tmp_path_factory: pytest.TempPathFactory, rows: Sequence[Any], mark: str
) -> None:
    file = tmp_path_factory.mktemp("fuzz") / "in.csv"
    body = "\n".join(mark.join(row) for row in rows)
    content = f"{LOG.replace(',', mark)}\n{body}\n".encode("utf-8", "replace")
    said = ""
    try:
        found = _take(file, book, "log", content)
        assert found.taken or found.skipped
    except PourbookError as refused:
        said = str(refused)
    assert not said or "in.csv" in said


@given(st.text(alphabet="0123456789.,+-eE kgL%", max_size=12), st.sampled_from(["", ",", "."]))
def test_any_figure_is_read_or_refused(text: str, decimal: Any) -> None:
    try:
        value = figures.figure(text, "@volume", "", SYSTEMS["metric"], Way(decimal=decimal))
    except InputError:
        return
    assert isinstance(value, float)


@given(st.decimals(0, 99999, places=3, allow_nan=False))
def test_written_either_way_a_number_stays_itself(number: Any) -> None:
    """With the sign named, grouped or not, in either style, the number comes back."""
    english = f"{number:,.3f}"
    german = english.translate(str.maketrans(",.", ".,"))
    assert float(figures.number(english, Way(decimal="."))) == float(number)
    assert float(figures.number(german, Way(decimal=","))) == float(number)


# --- the commands, on a real workbook


def test_commands_write_in_place_once(
    tmp_path: Path, demo_us: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    target = tmp_path / "job.xlsx"
    shutil.copy(demo_us, target)
    before = hashlib.sha256(target.read_bytes()).hexdigest()
    log, bill = tmp_path / "log.csv", tmp_path / "bill.csv"
    log.write_text(f"{LOG},Note\n{ROW},=1+1\n")
    bill.write_text(f"{BILL}\n{LINE}\n")

    assert run("log", target, "--from", log, "--dry-run") == 0
    assert "1 row would be taken into the log" in capsys.readouterr().out
    assert hashlib.sha256(target.read_bytes()).hexdigest() == before

    lock = tmp_path / ".~lock.job.xlsx#"
    lock.touch()
    assert run("log", target, "--from", log) == 3
    assert "open in a spreadsheet program" in capsys.readouterr().err
    lock.unlink()
    assert hashlib.sha256(target.read_bytes()).hexdigest() == before

    assert run("log", target, "--from", log) == 0
    assert run("receipts", target, "--from", bill) == 0
    assert "1 row taken into the receipts" in capsys.readouterr().out
    book = read_book(target)
    note = book.plan().cell("log", "note", 0)  # nothing was logged yet
    assert book.sheets["Used"].cells[note.address] == RawCell("=1+1")
    checked = check_file(target)
    cell = checked.plan.cell("receipts", "volume", 0)
    assert checked.values[cell.sheet, cell.address] == pytest.approx(2.0)
    assert not [f for f in checked.findings if f.id.startswith(("entry", "recompute", "structure"))]
    status = checked.plan.cell("used", "used_status", 0)
    said = str(checked.values[status.sheet, status.address])
    assert said.startswith("! Part B weighed: it is blank")
    assert [f.cell for f in checked.findings if "Part B weighed" in f.what] == [f"I{note.row}"]

    after = hashlib.sha256(target.read_bytes()).hexdigest()
    assert run("log", target, "--from", log) == 0
    assert "0 rows taken" in capsys.readouterr().out
    bill.write_text(f"{BILL}\n{LINE.replace(',Q-9', ',Q-10')}\n{LINE.replace('152', 'x')}\n")
    assert run("receipts", target, "--from", bill) == 1
    assert "bill.csv, line 3, column 10" in capsys.readouterr().err
    assert hashlib.sha256(target.read_bytes()).hexdigest() == after
    assert sorted(p.name for p in tmp_path.iterdir()) == ["bill.csv", "job.xlsx", "log.csv"]
