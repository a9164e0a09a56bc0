"""Jobs of another version: what every command says of them, and how their entries come over."""

from __future__ import annotations

import re
import zipfile
from collections.abc import Callable, Mapping
from dataclasses import replace
from pathlib import Path

import openpyxl
import pytest
from tests.command_line import run
from tests.office import saved_by_office

from pourbook import __version__
from pourbook.hosts.excel import vbaproject
from pourbook.hosts.excel.vbaproject import Module
from pourbook.job import carry, macros, make
from pourbook.job.make import Scenario
from pourbook.units import SYSTEMS
from pourbook.workbook.build import build
from pourbook.workbook.check.check import check_file
from pourbook.workbook.layout import marks
from pourbook.workbook.layout.laid_out import Layout
from pourbook.workbook.layout.lay_out import lay_out, plan_book
from pourbook.workbook.layout.marks import IDENTITY_MARK
from pourbook.workbook.read.read import read_book
from pourbook.workbook.template import released
from pourbook.workbook.template.template import Field, load_book

pytestmark = pytest.mark.in_turn(2)

OLD = "0.0.9"
Printed = pytest.CaptureFixture[str]
READING = [
    ["show"],
    ["explain", "Price!B30"],
    ["recompute"],
    ["books", "copy.xlsx"],
    ["export", "--ics", "job.ics"],
]


def _call(command: list[str], path: Path) -> int:
    name, *more = command
    there = [str(path.parent / m) if m.endswith(("x", "s")) and "." in m else m for m in more]
    return run(name, path, *there)


def _rewritten(source: Path, target: Path, changes: Mapping[str, Callable[[bytes], bytes]]) -> Path:
    with zipfile.ZipFile(source) as old:
        parts = {name: old.read(name) for name in old.namelist()}
    with zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED) as new:
        for name, content in parts.items():
            new.writestr(name, changes[name](content) if name in changes else content)
    return target


def _aged(source: Path, target: Path) -> Path:
    """Copy a job as if an older version with the same cells had made it."""

    def older(content: bytes) -> bytes:
        assert content.count(__version__.encode()) == 1
        return content.replace(__version__.encode(), OLD.encode())

    return _rewritten(source, target, {"docProps/custom.xml": older})


def _old_macros(path: Path) -> None:
    with zipfile.ZipFile(path) as package:
        texts = vbaproject.read(package.read(macros.PROJECT))
    texts["xlwings"] = 'Attribute VB_Name = "xlwings"\nPublic Const OLD As String = "0.1"\n'
    project = vbaproject.write(
        [Module(n, "standard" if n.startswith("xlw") else "sheet", t) for n, t in texts.items()]
    )
    _rewritten(path, path, {macros.PROJECT: lambda _: project})


@pytest.fixture
def aged(demo_us: Path, tmp_path: Path) -> Path:
    return _aged(demo_us, tmp_path / "old.xlsx")


@pytest.fixture(scope="session")
def moved_plan(pieces: int) -> Layout:
    """A layout such as an older version may have had: one more field, so that all stands lower."""
    book = load_book("job")
    more = Field("fax", "Fax", "text")
    sheets = []
    for sheet in book.sheets:
        blocks = tuple(
            replace(b, columns=(more, *b.columns)) if b.id == "start" else b for b in sheet.blocks
        )
        sheets.append(replace(sheet, blocks=blocks))
    return plan_book(replace(book, sheets=tuple(sheets)), SYSTEMS["us"], pieces)


@pytest.fixture
def moved(
    moved_plan: Layout, scenario_us: Scenario, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> Path:
    """The demo as that version would have left it, with a word in the field that is no more."""
    entries = {**make.defaults(moved_plan), **scenario_us.entries, ("start", "fax", 0): "555"}
    monkeypatch.setattr(build, "__version__", OLD)
    target = tmp_path / "old.xlsx"
    from tests.conftest import MADE

    build.write(moved_plan, entries, target, made=MADE)
    monkeypatch.undo()
    return target


def _entries(path: Path) -> dict[tuple[str, str, int], object]:
    book = read_book(path)
    return {
        key: book.sheets[c.sheet].value(c.address)
        for key, c in book.plan().entry_at.items()
        if book.sheets[c.sheet].value(c.address) not in {None, ""}  # nothing, or nothing offered
    }


class TestSameCells:
    def test_check_has_nothing_to_say_of_it(self, aged: Path) -> None:
        assert check_file(aged).findings == ()

    @pytest.mark.parametrize("command", READING, ids=lambda c: str(c[0]))
    def test_it_can_be_worked_with(self, aged: Path, command: list[str], capsys: Printed) -> None:
        assert _call(command, aged) == 0
        assert "Traceback" not in capsys.readouterr().err

    def test_the_command_named_makes_a_clean_job(
        self, aged: Path, tmp_path: Path, capsys: Printed
    ) -> None:
        before = aged.read_bytes()
        new = tmp_path / "new.xlsx"
        assert run("new", new, "--from", aged) == 0
        told = capsys.readouterr().out
        assert "no place" not in told
        assert check_file(new).findings == ()
        assert _entries(new) == _entries(aged)
        assert aged.read_bytes() == before


class TestOtherCells:
    def test_check_reports_the_version_and_reads_nothing_else(
        self, moved: Path, capsys: Printed
    ) -> None:
        checked = check_file(moved)
        (found,) = checked.findings
        assert found.id == "structure.version"
        assert f"made by Pourbook {OLD}, this is {__version__}; its cells stand" in found.what
        assert checked.values == {}
        assert run("check", moved) == 1
        assert "pourbook upgrade old.xlsx" in capsys.readouterr().out

    @pytest.mark.parametrize("command", READING, ids=lambda c: str(c[0]))
    def test_no_command_misreads_it(self, moved: Path, command: list[str], capsys: Printed) -> None:
        before = moved.read_bytes()
        assert _call(command, moved) == 3
        printed = capsys.readouterr()
        assert printed.out == ""
        assert f"made by Pourbook {OLD}" in printed.err
        assert "pourbook upgrade old.xlsx" in printed.err
        assert moved.read_bytes() == before
        assert [p.name for p in moved.parent.iterdir()] == [moved.name]

    def test_a_job_of_this_version_number_but_other_cells(
        self, moved_plan: Layout, tmp_path: Path
    ) -> None:
        target = tmp_path / "job.xlsx"
        from tests.conftest import MADE

        build.write(moved_plan, make.defaults(moved_plan), target, made=MADE)
        assert [f.id for f in check_file(target).findings] == ["structure.version"]

    def test_the_entries_come_over_by_their_ids(
        self, moved: Path, demo_us: Path, tmp_path: Path, capsys: Printed
    ) -> None:
        new = tmp_path / "new.xlsx"
        assert run("new", new, "--from", moved) == 0
        told = capsys.readouterr().out
        assert "Start!B32: '555'" in told, "what has no place must be named"
        assert _entries(new) == _entries(demo_us)
        assert check_file(new).findings == ()

    def test_upgrade_keeps_the_original_beside_it(
        self, moved: Path, demo_us: Path, capsys: Printed
    ) -> None:
        before = moved.read_bytes()
        assert run("upgrade", moved) == 0
        told = capsys.readouterr().out
        assert "Start!B32: '555'" in told, "what has no place must be named"
        assert moved.with_name("old (before upgrade).xlsx").read_bytes() == before
        assert _entries(moved) == _entries(demo_us)
        assert check_file(moved).findings == ()
        after = moved.read_bytes()
        assert run("upgrade", moved) == 0
        assert "nothing was changed" in capsys.readouterr().out
        assert moved.read_bytes() == after

    def test_upgrade_names_what_stands_on_scratch_and_never_replaces_an_original(
        self, moved: Path, capsys: Printed
    ) -> None:
        book = openpyxl.load_workbook(moved)
        book["Scratch"]["A40"] = "ask for the key"
        book.save(moved)
        earlier = moved.with_name("old (before upgrade).xlsx")
        earlier.write_bytes(b"mine")
        assert run("upgrade", moved) == 0
        assert "Scratch!A40: 'ask for the key'" in capsys.readouterr().out
        assert earlier.read_bytes() == b"mine"
        assert moved.with_name("old (before upgrade 2).xlsx").exists()

    def test_upgrade_of_what_is_no_job_changes_nothing(
        self, tmp_path: Path, capsys: Printed
    ) -> None:
        other = tmp_path / "prices.xlsx"
        openpyxl.Workbook().save(other)
        before = other.read_bytes()
        assert run("upgrade", other) == 3
        assert "did not make" in capsys.readouterr().err
        assert other.read_bytes() == before
        assert [p.name for p in tmp_path.iterdir()] == [other.name]

    def test_a_job_of_a_newer_version_is_refused(
        self, demo_us: Path, tmp_path: Path, capsys: Printed
    ) -> None:
        newer = tmp_path / "newer.xlsx"

        def later(content: bytes) -> bytes:
            head, mark, rest = content.partition(b'"pourbook template"')
            assert mark
            return head + mark + rest.replace(f">{released.CURRENT}</".encode(), b">99</", 1)

        _rewritten(demo_us, newer, {"docProps/custom.xml": later})
        assert run("check", newer) == 3
        assert "a newer Pourbook made this workbook" in capsys.readouterr().out


class TestMacros:
    @pytest.fixture
    def live(self, aged: Path) -> Path:
        target = aged.with_name("old.xlsm")
        macros.enable(aged, target)
        _old_macros(target)
        return target

    def test_old_macros_are_told(self, live: Path) -> None:
        (old,) = check_file(live).findings
        assert old.id == "package.macros.old"
        assert old.mend.endswith("pourbook addin excel refresh old.xlsm")

    def test_the_two_commands_mend_it(self, live: Path, tmp_path: Path) -> None:
        assert run("addin", "excel", "refresh", live) == 0
        assert check_file(live).findings == ()
        new = tmp_path / "new.xlsm"
        assert run("new", new, "--from", live) == 0
        assert check_file(new).findings == ()

    def test_a_job_with_other_cells_keeps_its_macros(
        self, moved: Path, tmp_path: Path, capsys: Printed
    ) -> None:
        """New macros would hand the wrong ranges to the functions."""
        live = tmp_path / "live.xlsm"
        macros.enable(moved, live)
        _old_macros(live)
        before = live.read_bytes()
        assert run("addin", "excel", "refresh", live) == 3
        assert "pourbook upgrade live.xlsm" in capsys.readouterr().err
        assert live.read_bytes() == before
        ids = [f.id for f in check_file(live).findings]
        assert ids == ["structure.version", "package.macros.old"]


class TestCarrying:
    def test_an_accepted_quote_and_the_mark_of_the_job_come_over(
        self, accepted_us: Path, tmp_path: Path, plan_us: Layout, capsys: Printed
    ) -> None:
        new = tmp_path / "new.xlsx"
        assert run("new", new, "--from", accepted_us) == 0
        assert "the same job" in capsys.readouterr().out
        before, after = read_book(accepted_us), read_book(new)
        for key, cell in plan_us.kept_at.items():
            was = before.sheets[cell.sheet].value(cell.address)
            assert after.sheets[cell.sheet].value(cell.address) == was, key
        assert after.marks[IDENTITY_MARK] == before.marks[IDENTITY_MARK]
        assert not check_file(new).findings

    def test_a_blank_stays_blank_where_a_new_job_has_a_default(
        self, demo_us: Path, tmp_path: Path, plan_us: Layout
    ) -> None:
        key = next(k for k in make.defaults(plan_us) if k[0] == "site")
        cell = plan_us.entry_at[key]
        book = openpyxl.load_workbook(demo_us)
        book[cell.sheet][cell.address] = None
        book.save(tmp_path / "job.xlsx")
        assert run("new", tmp_path / "new.xlsx", "--from", tmp_path / "job.xlsx") == 0
        assert read_book(tmp_path / "new.xlsx").sheets[cell.sheet].value(cell.address) is None

    def test_a_formula_typed_as_an_entry_is_told(
        self, demo_us: Path, tmp_path: Path, plan_us: Layout, capsys: Printed
    ) -> None:
        cell = plan_us.cell("site", "crew")

        def typed(content: bytes) -> bytes:
            found = re.search(rb'<c r="%s"[^>]*>' % cell.address.encode(), content)
            assert found is not None
            return content.replace(found[0], found[0] + b"<f>1+1</f>", 1)

        changed = {"xl/worksheets/sheet1.xml": typed}
        source = _rewritten(demo_us, tmp_path / "job.xlsx", changed)
        assert run("new", tmp_path / "new.xlsx", "--from", source) == 0
        told = capsys.readouterr().out
        assert "Formulas typed as entries" in told
        assert f"Start!{cell.address}" in told
        new, old = read_book(tmp_path / "new.xlsx"), read_book(source)
        assert new.sheets["Start"].value(cell.address) == old.sheets["Start"].value(cell.address)

    def test_more_rows_on_request(self, demo_us: Path, tmp_path: Path, pieces: int) -> None:
        new = tmp_path / "new.xlsx"
        assert run("new", new, "--from", demo_us, "--pieces", pieces + 9) == 0
        assert read_book(new).plan().pieces == pieces + 9
        assert _entries(new) == _entries(demo_us)

    def test_fewer_rows_than_are_filled_are_refused(
        self, demo_us: Path, tmp_path: Path, capsys: Printed
    ) -> None:
        assert run("new", tmp_path / "new.xlsx", "--from", demo_us, "--pieces", 3) == 1
        assert "not all entries fit into 3 rows" in capsys.readouterr().err
        assert list(tmp_path.iterdir()) == []

    def test_rows_below_a_table_are_named(
        self, demo_us: Path, tmp_path: Path, plan_us: Layout, capsys: Printed
    ) -> None:
        book = openpyxl.load_workbook(demo_us)
        below = plan_us.places["rooms"].last + 1
        book["Rooms"].cell(below, 2).value = "Attic"
        book.save(tmp_path / "job.xlsx")
        assert run("new", tmp_path / "new.xlsx", "--from", tmp_path / "job.xlsx") == 0
        assert f"Rooms!B{below}: 1 row stands below" in capsys.readouterr().out

    def test_other_units_are_refused(
        self, demo_metric: Path, tmp_path: Path, capsys: Printed
    ) -> None:
        assert run("new", tmp_path / "a.xlsx", "--from", demo_metric, "--units", "us") == 2
        assert "metric" in capsys.readouterr().err
        assert run("new", tmp_path / "b.xlsx", "--from", demo_metric) == 0
        assert read_book(tmp_path / "b.xlsx").plan().system.name == "metric"

    def test_the_old_job_is_never_replaced(self, aged: Path, capsys: Printed) -> None:
        before = aged.read_bytes()
        assert run("new", aged, "--from", aged, "--force") == 2
        assert "replace the old one" in capsys.readouterr().err
        assert aged.read_bytes() == before

    def test_inserted_rows_are_refused(
        self, demo_us: Path, tmp_path: Path, capsys: Printed
    ) -> None:
        book = openpyxl.load_workbook(demo_us)
        book["Layers"].insert_rows(2)
        book.save(tmp_path / "job.xlsx")
        assert run("new", tmp_path / "new.xlsx", "--from", tmp_path / "job.xlsx") == 3
        assert "the headings of the sheet 'Layers'" in capsys.readouterr().err

    @pytest.mark.parametrize("kind", ["no marks", "damaged", "books", "other"])
    def test_what_does_not_say_where_its_entries_stand(
        self, demo_us: Path, tmp_path: Path, capsys: Printed, kind: str
    ) -> None:
        source = tmp_path / "job.xlsx"
        if kind == "books":
            assert run("books", demo_us, source) == 0
        elif kind == "other":
            openpyxl.Workbook().save(source)
        else:
            spoilt = {
                "no marks": lambda c: c.replace(b"pourbook at ", b"else "),
                "damaged": lambda c: c.replace(b"|down|", b"|", 1),
            }[kind]
            _rewritten(demo_us, source, {"docProps/custom.xml": spoilt})
        capsys.readouterr()
        assert run("new", tmp_path / "new.xlsx", "--from", source) == 3
        told = capsys.readouterr().err
        assert "Traceback" not in told
        assert "pourbook: " in told
        assert not (tmp_path / "new.xlsx").exists()

    @pytest.mark.libreoffice
    def test_a_job_saved_by_libreoffice_still_says_it(self, demo_us: Path, tmp_path: Path) -> None:
        saved = saved_by_office(demo_us, tmp_path)
        assert read_book(saved).marks[marks.LAYOUT] == read_book(demo_us).marks[marks.LAYOUT]
        mine, theirs = carry.read_entries(demo_us), carry.read_entries(saved)
        assert theirs.lost == theirs.worked == []
        assert theirs.entries.keys() == mine.entries.keys()
        for key, value in mine.entries.items():
            near = isinstance(value, float) and not isinstance(value, bool)
            wanted = pytest.approx(value, rel=1e-14) if near else value  # it stores 15 digits
            assert theirs.entries[key] == wanted, key


class TestMarks:
    @pytest.mark.parametrize("system", list(SYSTEMS))
    @pytest.mark.parametrize("rows", [1, 700])
    def test_they_name_every_entry_and_its_heading(self, system: str, rows: int) -> None:
        layout = lay_out("job", system, rows)
        written = marks.marks(layout)
        assert max(map(len, written.values())) <= 255, "Excel takes no longer property"
        found = {}
        for block in marks.places(written):
            for place in block.places:
                heading = layout.by_address[place.sheet, place.heading]
                assert heading.field is not None
                assert heading.field.id == place.field
                for index in range(place.count):
                    found[place.block, place.field, index] = (place.sheet, place.cell(index))
        known = {**layout.entry_at, **layout.kept_at}
        assert found == {k: (c.sheet, c.address) for k, c in known.items()}

    def test_the_fingerprint_sees_what_moved(self, plan_us: Layout, moved_plan: Layout) -> None:
        assert plan_us.fingerprint != moved_plan.fingerprint
        assert plan_us.fingerprint == lay_out("job", "metric", 18).fingerprint
