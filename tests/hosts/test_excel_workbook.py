"""Jobs that carry macros: made, checked, refreshed, copied, and opened by LibreOffice."""

from __future__ import annotations

import contextlib
import importlib.metadata
import platform
import sys
import zipfile
from collections.abc import Mapping
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import openpyxl
import pytest
from lxml import etree
from oletools import olevba
from tests.command_line import run
from tests.office import saved_by_office

from pourbook.cells import Address, Value
from pourbook.commands import addin
from pourbook.commands.excel_check import acceptance
from pourbook.errors import UsageError
from pourbook.formats.ooxml import rewrite
from pourbook.formats.ooxml.addresses import split
from pourbook.functions.catalogue import catalogue
from pourbook.hosts.excel import add_to_excel, basic, vbaproject
from pourbook.hosts.excel.vbaproject import Module
from pourbook.job import books, macros
from pourbook.job.make import Scenario, make
from pourbook.workbook.check.check import check_file
from pourbook.workbook.read.read import RawBook, formula_cells, read_book
from pourbook.workbook.template.template import load_book

PROJECT = macros.PROJECT
Printed = pytest.CaptureFixture[str]


def _parts(path: Path) -> dict[str, bytes]:
    with zipfile.ZipFile(path) as package:
        return {name: package.read(name) for name in package.namelist()}


def _with_project(path: Path, content: bytes) -> None:
    parts = _parts(path) | {PROJECT: content}
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as package:
        for name, part in parts.items():
            package.writestr(name, part)


def _modules(path: Path) -> dict[str, str]:
    return vbaproject.read(_parts(path)[PROJECT])


def _project(path: Path, changed: Mapping[str, str]) -> bytes:
    """Return a job's project with some standard modules changed or added."""
    texts = {**_modules(path), **changed}
    return vbaproject.write(
        [
            Module(name, "standard" if name in changed or name.startswith("xlw") else "sheet", text)
            for name, text in texts.items()
        ]
    )


OLD = 'Attribute VB_Name = "xlwings"\nPublic Const XLWINGS_VERSION As String = "0.1"\n'
OTHER = 'Attribute VB_Name = "Other"\nSub Auto_Open()\nEnd Sub\n'


def _contents(book: RawBook) -> dict[Address, object]:
    return {(s.name, a): cell for s in book.sheets.values() for a, cell in s.cells.items()}


class TestMaking:
    def test_new_makes_a_macro_enabled_job(self, tmp_path: Path, capsys: Printed) -> None:
        job = tmp_path / "job.xlsm"
        assert run("new", job, "--pieces", "5") == 0
        assert "addin excel install" in capsys.readouterr().out
        assert {"xlwings", "xlwings_udfs"} < _modules(job).keys()
        assert [p.name for p in tmp_path.iterdir()] == ["job.xlsm"]

    def test_only_macro_enabled_jobs_carry_macros(self, demo_us: Path) -> None:
        assert PROJECT not in _parts(demo_us)

    def test_content_types(self, excel_demo: Path) -> None:
        root = etree.fromstring(_parts(excel_demo)["[Content_Types].xml"])
        types = {e.get("PartName"): e.get("ContentType") for e in root}
        assert types["/xl/workbook.xml"] == "application/vnd.ms-excel.sheet.macroEnabled.main+xml"
        assert types[f"/{PROJECT}"] == "application/vnd.ms-office.vbaProject"
        relations = etree.fromstring(_parts(excel_demo)["xl/_rels/workbook.xml.rels"])
        ids = [r.get("Id") for r in relations]
        assert len(set(ids)) == len(ids)
        assert [r.get("Target") for r in relations].count("vbaProject.bin") == 1

    def test_every_sheet_has_its_own_module(self, excel_demo: Path) -> None:
        book = openpyxl.load_workbook(excel_demo)
        names = [page.sheet_properties.codeName for page in book.worksheets]
        assert book.code_name == "ThisWorkbook"
        assert len(set(names)) == len(names) == len(load_book("job").sheets)
        assert list(_modules(excel_demo)) == ["ThisWorkbook", *names, *basic.MODULES]

    def test_cells_are_those_of_the_plain_job(self, excel_demo: Path, demo_us: Path) -> None:
        assert _contents(read_book(excel_demo)) == _contents(read_book(demo_us))

    @pytest.mark.in_turn(2)
    @pytest.mark.plain
    def test_check_is_clean(self, excel_demo: Path) -> None:
        checked = check_file(excel_demo, ("fast", "plain"))
        assert checked.findings == ()
        assert checked.values


class TestMacrosOfOthers:
    def test_changed_macros_are_reported_with_the_mend(self, excel_job: Path) -> None:
        _with_project(excel_job, _project(excel_job, {"xlwings": OLD}))
        (found,) = check_file(excel_job).findings
        assert found.id == "package.macros.old"
        assert found.mend.endswith("pourbook addin excel refresh job.xlsm")

    @pytest.mark.parametrize("kind", ["beside ours", "alone", "nonsense"])
    def test_macros_of_others_are_reported_and_never_replaced(
        self, excel_job: Path, kind: str, capsys: Printed
    ) -> None:
        content = _project(excel_job, {"Other": OTHER})
        if kind == "alone":
            content = vbaproject.write([Module("Other", "standard", OTHER)])
        elif kind == "nonsense":
            content = b"<x/>"
        _with_project(excel_job, content)
        assert [f.id for f in check_file(excel_job).findings] == ["package.macros"]
        before = excel_job.read_bytes()
        assert run("addin", "excel", "refresh", excel_job) == 2
        assert "not Pourbook's" in capsys.readouterr().err
        assert excel_job.read_bytes() == before


class TestRefresh:
    def test_it_renews_macros_and_keeps_all_else(self, excel_job: Path, capsys: Printed) -> None:
        before = _contents(read_book(excel_job))
        fresh = _modules(excel_job)
        _with_project(excel_job, _project(excel_job, {"xlwings": OLD}))
        old = _parts(excel_job)
        assert run("addin", "excel", "refresh", excel_job) == 0
        assert "Renewed" in capsys.readouterr().out
        assert _modules(excel_job) == fresh
        assert _contents(read_book(excel_job)) == before
        new = _parts(excel_job)
        assert new.keys() == old.keys()
        sheets = [name for name in old if name.startswith("xl/worksheets/")]
        assert len(sheets) > 17
        assert all(new[name] == old[name] for name in sheets)
        assert check_file(excel_job).findings == ()

    def test_code_names_of_another_language_stay(self, excel_job: Path) -> None:
        parts = _parts(excel_job)
        part = "xl/worksheets/sheet3.xml"
        parts[part] = parts[part].replace(b'codeName="Sheet3"', b'codeName="Tabelle3"')
        parts[PROJECT] = vbaproject.write(
            [
                Module(n, "standard" if n.startswith("xlw") else "sheet", t)
                for n, t in (_modules(excel_job) | {"xlwings": OLD}).items()
            ]
        )
        with zipfile.ZipFile(excel_job, "w") as package:
            for name, content in parts.items():
                package.writestr(name, content)
        assert macros.refresh(excel_job)
        assert list(_modules(excel_job))[3] == "Tabelle3"
        assert _parts(excel_job)[part] == parts[part]

    def test_nothing_to_renew(self, excel_job: Path, capsys: Printed) -> None:
        before = excel_job.read_bytes()
        assert run("addin", "excel", "refresh", excel_job) == 0
        assert "are those of this Pourbook" in capsys.readouterr().out
        assert excel_job.read_bytes() == before

    def test_a_plain_job_is_refused(self, demo_us: Path) -> None:
        with pytest.raises(UsageError, match="xlsm"):
            macros.refresh(demo_us)


class TestCopies:
    def test_the_books_copy_carries_no_macros(self, excel_job: Path, tmp_path: Path) -> None:
        copy = tmp_path / "books.xlsx"
        assert run("books", excel_job, copy) == 0
        parts = _parts(copy)
        assert not [name for name in parts if "vba" in name]
        assert b"vba" not in parts["xl/_rels/workbook.xml.rels"]
        assert b"vba" not in parts["[Content_Types].xml"]
        assert b"macroEnabled" not in parts["[Content_Types].xml"]
        assert openpyxl.load_workbook(copy).sheetnames[0] == "Start"

    def test_recompute_keeps_the_macros(self, excel_job: Path) -> None:
        before = _parts(excel_job)[PROJECT]
        assert run("recompute", excel_job) == 0
        assert _parts(excel_job)[PROJECT] == before
        assert check_file(excel_job).findings == ()

    def test_a_copy_of_another_kind_is_refused(self, excel_job: Path, tmp_path: Path) -> None:
        """Excel opens no file whose name and kind disagree."""
        with pytest.raises(UsageError, match=r"ends in \.xlsm"):
            books.store(excel_job, tmp_path / "copy.xlsx", force=False)


@pytest.mark.libreoffice
def test_libreoffice_opens_it_and_lists_the_modules(excel_job: Path, tmp_path: Path) -> None:
    saved = _parts(saved_by_office(excel_job, tmp_path, "ods"))
    listed = {Path(n).stem for n in saved if n.startswith("Basic/VBAProject/")}
    assert listed - {"script-lb"} == set(_modules(excel_job))
    text = etree.fromstring(saved["Basic/VBAProject/xlwings_udfs.xml"]).text or ""
    for name in catalogue():
        assert f"Function {name}(" in text
    assert b'table:name="Mix cards"' in saved["content.xml"]


class Stand:
    """Stands in for Excel: shows the values it is given, and works typed calls out."""

    def __init__(self, values: Mapping[Address, Value], typed: Mapping[str, Value]) -> None:
        self.values, self.typed = values, typed
        self.rebuilt = self.closed = False
        self.api = SimpleNamespace(Version="16.0", CalculateFullRebuild=self._rebuild)
        self.books = SimpleNamespace(open=lambda _: self)
        self.sheets = self

    def _rebuild(self) -> None:
        self.rebuilt = True

    def __getitem__(self, name: str) -> Any:
        cells = {split(a): v for (sheet, a), v in self.values.items() if sheet == name}

        def area(address: str) -> Any:
            rows, columns = split(address.partition(":")[2])
            content = tuple(
                tuple(cells.get((r, c)) for c in range(1, columns + 1)) for r in range(1, rows + 1)
            )
            return SimpleNamespace(Value2=content if rows * columns > 1 else content[0][0])

        return SimpleNamespace(api=SimpleNamespace(Range=area))

    def add(self) -> Any:
        typed = self.typed

        class Cell:
            Formula = ""

            @property
            def Value2(self) -> Value:  # noqa: N802 - the name COM has
                return typed.get(self.Formula)

        return SimpleNamespace(api=SimpleNamespace(Range=lambda _: Cell()))

    def close(self) -> None:
        self.closed = True


@pytest.fixture(scope="module")
def values(excel_demo: Path) -> Mapping[Address, Value]:
    """Return what Pourbook gives for every computed cell."""
    return check_file(excel_demo).values


class TestAcceptance:
    @pytest.fixture
    def typed(self) -> dict[str, Value]:
        return {
            f"={example.typed(name)}": example.result
            for name, function in catalogue().items()
            if not function.columns
            for example in function.examples
            if not isinstance(example.result, tuple)
        }

    def test_an_excel_that_agrees(
        self, values: Mapping[Address, Value], typed: dict[str, Value], excel_demo: Path
    ) -> None:
        excel = Stand(values, typed)
        proof = acceptance(excel, excel_demo, values)
        assert proof.differences == ()
        assert proof.cells == len(values) + len(typed)
        assert excel.rebuilt
        assert excel.closed

    def test_an_excel_that_differs(
        self, values: Mapping[Address, Value], typed: dict[str, Value], excel_demo: Path
    ) -> None:
        place, value = next(
            (p, v) for p, v in values.items() if isinstance(v, float) and v > 1 and p[0] == "Price"
        )
        typed["=PB_PHR(50,200)"] = "Could not find Interpreter!"
        excel = Stand(dict(values) | {place: value + 0.01}, typed)
        told = acceptance(excel, excel_demo, values).differences
        assert len(told) == 2
        assert told[0].startswith(f"Price!{place[1]} shows")
        assert told[1] == "=PB_PHR(50,200) gives 'Could not find Interpreter!', not 25.0"

    def test_macros_that_do_not_run_are_told_shortly(
        self, values: Mapping[Address, Value], excel_demo: Path
    ) -> None:
        told = acceptance(Stand({}, {}), excel_demo, values).differences
        assert len(told) == 21
        assert told[-1].startswith("... and ")

    def test_the_file_excel_gets_holds_no_number_of_ours(
        self, tmp_path: Path, scenario_us: Scenario
    ) -> None:
        full, bare = tmp_path / "full.xlsm", tmp_path / "bare.xlsm"
        values = make(full, scenario_us.system, scenario_us.entries)
        rewrite.inject(full, bare, dict.fromkeys(values))
        book = read_book(bare)
        assert {book.sheets[s].value(a) for s, a in formula_cells(book)} == {None}
        assert olevba.VBA_Parser(str(bare)).detect_vba_macros()


class TestOffWindows:
    @pytest.mark.parametrize("command", ["install", "check", "shortcut"])
    def test_it_is_refused_with_what_to_do(self, command: str, capsys: Printed) -> None:
        assert run("addin", "excel", command) == 2
        told = capsys.readouterr().err
        assert "need Windows" in told
        assert "run this on the Windows PC" in told


class TestInstall:
    @pytest.fixture
    def windows(self, monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Path:
        """Stand in for a Windows PC with all that is needed; return the folder of its Python."""
        versions = {"xlwings": add_to_excel.XLWINGS, "pywin32": "311"}
        monkeypatch.setattr(platform, "system", lambda: "Windows")
        monkeypatch.setattr(importlib.metadata, "version", versions.__getitem__)
        monkeypatch.setattr(sys, "executable", str(tmp_path / "py" / "python.exe"))
        monkeypatch.setattr(Path, "home", lambda: tmp_path)
        monkeypatch.setattr(add_to_excel, "_ANSI", "cp1252")
        (tmp_path / "py").mkdir()
        for bits in (32, 64):
            (tmp_path / "py" / f"xlwings{bits}-{add_to_excel.XLWINGS}.dll").touch()
        return tmp_path / "py"

    def test_it_writes_the_settings(self, windows: Path, capsys: Printed) -> None:
        assert run("addin", "excel", "install") == 0
        assert "pourbook addin excel check" in capsys.readouterr().out
        lines = add_to_excel.configuration().read_bytes().decode("cp1252").split("\r\n")
        assert lines == [
            f'"INTERPRETER_WIN","{windows / "python.exe"}"',
            f'"UDF MODULES","{add_to_excel.UDFS}"',
            '"ADD_WORKBOOK_TO_PYTHONPATH","False"',
            "",
        ]

    @pytest.mark.usefixtures("windows")
    def test_settings_of_others_stay(self) -> None:
        add_to_excel.configuration().parent.mkdir()
        add_to_excel.configuration().write_text('"SHOW CONSOLE","True"\n\n"UDF MODULES","mine"\n')
        add_to_excel.install()
        assert '"SHOW CONSOLE","True"\n"UDF MODULES"' in add_to_excel.configuration().read_text()

    def test_missing_libraries_are_refused(self, windows: Path) -> None:
        (windows / f"xlwings64-{add_to_excel.XLWINGS}.dll").unlink()
        with pytest.raises(UsageError, match="libraries Excel loads"):
            add_to_excel.install()
        assert not add_to_excel.configuration().exists()

    def test_libraries_one_folder_up_are_found(self, windows: Path) -> None:
        assert len(add_to_excel.libraries(windows / "Scripts" / "python.exe")) == 2

    @pytest.mark.usefixtures("windows")
    def test_another_xlwings_is_refused(self, monkeypatch: pytest.MonkeyPatch) -> None:
        monkeypatch.setattr(importlib.metadata, "version", lambda _: "0.1")
        with pytest.raises(UsageError, match=r"xlwings 0\.1 is installed"):
            add_to_excel.install()

    @pytest.mark.usefixtures("windows")
    def test_python_of_the_store_is_refused(self, monkeypatch: pytest.MonkeyPatch) -> None:
        monkeypatch.setattr(sys, "executable", r"C:\x\WindowsApps\python.exe")
        with pytest.raises(UsageError, match="Microsoft Store"):
            add_to_excel.install()

    @pytest.mark.usefixtures("windows")
    def test_a_path_that_cannot_be_spelt(
        self, monkeypatch: pytest.MonkeyPatch, capsys: Printed
    ) -> None:
        monkeypatch.setattr(add_to_excel, "_ANSI", "ascii")
        monkeypatch.setattr(add_to_excel, "libraries", lambda _: [Path("a"), Path("b")])
        monkeypatch.setattr(sys, "executable", "C:\\Jörg\\python.exe")
        assert run("addin", "excel", "install") == 3
        assert "plain letters" in capsys.readouterr().err

    def test_shortcut_recomputes_what_is_dropped_on_it(self, windows: Path, tmp_path: Path) -> None:
        target = tmp_path / "Pourbook.cmd"
        assert run("addin", "excel", "shortcut", target) == 0
        text = target.read_bytes().decode()
        assert f'"{windows / "python.exe"}" -m pourbook recompute "%~1"\r\n' in text
        assert run("addin", "excel", "shortcut", target) == 2
        assert run("addin", "excel", "shortcut", target, "--force") == 0
        assert run("addin", "excel", "shortcut", tmp_path / "x.txt") == 2

    @pytest.mark.usefixtures("windows")
    def test_check_reports_what_excel_says(
        self, monkeypatch: pytest.MonkeyPatch, capsys: Printed
    ) -> None:
        excel = Stand({}, {})
        monkeypatch.setattr(addin, "hidden_excel", lambda: contextlib.nullcontext(excel))
        assert run("addin", "excel", "check") == 1
        told = capsys.readouterr().out
        assert "CHECK" in told
        assert "Excel 16.0: not all of" in told
