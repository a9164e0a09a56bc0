"""The LibreOffice Calc add-in: its package, its conversions, and the whole demo live inside Calc.

What runs live is installed into a private profile over UNO, and every cell Calc works out is held
against the fast engine.
"""

from __future__ import annotations

import ast
import datetime as dt
import json
import os
import shutil
import struct
import subprocess
import zipfile
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from click.testing import CliRunner
from lxml import etree
from openpyxl.worksheet.formula import ArrayFormula
from tests.hosts.calc_live import DRIVER, PYTHON, RESULTS, laid_out, program, same
from tests.typed_out import typed_out

from pourbook.cli import cli
from pourbook.errors import FileUnreadableError, UsageError
from pourbook.formats.ooxml.addresses import letters
from pourbook.functions.catalogue import JOINTS, catalogue
from pourbook.hosts import headless
from pourbook.hosts.calc import add_to_calc, bundle, called, saved, values
from pourbook.hosts.calc.typelib import MAGIC, Method, Parameter, interface_library
from pourbook.hosts.calc.wrapped import unwrapped, wrapped
from pourbook.job import books, make
from pourbook.job.make import Scenario
from pourbook.workbook.build import build
from pourbook.workbook.check.check import check_file
from pourbook.workbook.check.structure import check_structure
from pourbook.workbook.layout.laid_out import Layout
from pourbook.workbook.read.read import read_book

Cells = dict[str, dict[str, Any]]


@pytest.fixture(scope="module")
def oxt(tmp_path_factory: pytest.TempPathFactory) -> Path:
    target = tmp_path_factory.mktemp("oxt") / "pourbook.oxt"
    bundle.build(target)
    return target


class TestPackage:
    def test_every_file_the_manifest_names_is_there(self, oxt: Path) -> None:
        with zipfile.ZipFile(oxt) as made:
            root = etree.fromstring(made.read("META-INF/manifest.xml"))
            space = "{http://openoffice.org/2001/manifest}full-path"
            listed = {str(entry.get(space)) for entry in root}
            registry = {"CalcAddIn.xcu", "Jobs.xcu", "Addons.xcu"}
            assert listed == {"pourbook.rdb", "component.py", *registry}
            assert listed <= set(made.namelist())
            for name in made.namelist():
                if name.endswith((".xcu", ".xml")):
                    etree.fromstring(made.read(name))

    def test_nothing_is_compiled_and_everything_needed_is_there(self, oxt: Path) -> None:
        with zipfile.ZipFile(oxt) as made:
            names = made.namelist()
            for name in names:
                assert name.endswith(
                    (".py", ".txt", ".toml", ".xcu", ".xml", ".rdb")
                ) or name.startswith("licences/")
                if name.startswith("pythonpath/") and name.endswith(".py"):
                    ast.parse(made.read(name))
        for dependency in bundle.DEPENDENCIES:
            assert any(n.startswith(f"licences/{dependency}/LICENSE") for n in names)
        assert "pythonpath/pourbook/_data/shared/units.txt" in names
        assert "pythonpath/pint/__init__.py" in names
        assert "pythonpath/typing_extensions.py" in names
        assert "pythonpath/pourbook/_data/workbook_templates/job/rooms.toml" in names
        left_out = ("testsuite", "pourbook/workbook/", "/cli")
        assert not [n for n in names if any(part in n for part in left_out)]

    def test_bundle_answers_without_anything_else(self, oxt: Path, tmp_path: Path) -> None:
        with zipfile.ZipFile(oxt) as made:
            made.extractall(tmp_path)
        code = (
            "import sys; sys.path[:0] = [sys.argv[1]]\n"
            "from pourbook.hosts.calc.values import answer\n"
            "import pourbook, pint\n"
            "assert pourbook.__file__.startswith(sys.argv[1]), pourbook.__file__\n"
            "assert pint.__file__.startswith(sys.argv[1]), pint.__file__\n"
            "print(answer('PB_READ', ('2 ft 6 in', 'in')))\n"
            "from pourbook.functions.catalogue import catalogue\n"
            "from pourbook.hosts.calc.values import answer\n"
            "wide = len(catalogue()['PB_ROOMS'].arguments[0].columns)\n"
            "print(len(catalogue()), len(answer('PB_ROOMS', ((('',) * wide,), 'us'))))\n"
        )
        command = [PYTHON if Path(PYTHON).exists() else "python", "-I", "-c", code]
        done = subprocess.run(
            [*command, str(tmp_path / "pythonpath")], capture_output=True, text=True, check=False
        )
        assert done.stdout.split() == ["30.0", str(len(catalogue())), "1"], done.stderr

    def test_wizard_knows_every_function_and_argument(self, oxt: Path) -> None:
        oor = "{http://openoffice.org/2001/registry}name"
        with zipfile.ZipFile(oxt) as made:
            root = etree.fromstring(made.read("CalcAddIn.xcu"))
        (functions,) = (n for n in root.iter("node") if n.get(oor) == "AddInFunctions")
        seen = {}
        for node in functions:
            texts = {str(p.get(oor)): "".join(map(str, p.itertext())) for p in node.findall("prop")}
            assert texts["DisplayName"] == texts["CompatibilityName"]
            assert node.get(oor) == called.method_name(texts["DisplayName"])
            (arguments,) = (n for n in node.findall("node") if n.get(oor) == "Parameters")
            labels = [
                "".join(map(str, p.itertext()))
                for a in arguments
                for p in a.findall("prop")
                if p.get(oor) == "DisplayName"
            ]
            seen[texts["DisplayName"]] = (labels, texts["Description"])
        assert seen.keys() == catalogue().keys()
        for name, function in catalogue().items():
            labels, description = seen[name]
            assert labels == [a.name for a in function.arguments]
            assert function.summary in description

    def test_same_bytes_every_time(self, oxt: Path, tmp_path: Path) -> None:
        bundle.build(tmp_path / "again.oxt")
        assert (tmp_path / "again.oxt").read_bytes() == oxt.read_bytes()


class _Reader:
    """Reads a type library back, by the description of the format."""

    def __init__(self, content: bytes) -> None:
        self.content, self.at = content, 0

    def number(self) -> int:
        (value,) = struct.unpack_from("<I", self.content, self.at)
        self.at += 4
        return int(value)

    def byte(self) -> int:
        self.at += 1
        return self.content[self.at - 1]

    def text(self) -> str:
        size = self.number()
        if size & 0x80000000:
            back, self.at = self.at, size & 0x7FFFFFFF
            found = self.text()
            self.at = back
            return found
        self.at += size
        return self.content[self.at - size : self.at].decode()

    def entry(self) -> str:
        """Read a map entry and go to what it names."""
        label, place = self.number(), self.number()
        self.at = place
        return self.content[label : self.content.index(b"\0", label)].decode()

    def interface(self) -> tuple[str, list[Method]]:
        assert self.content.startswith(MAGIC)
        self.at = len(MAGIC)
        place, count = self.number(), self.number()
        assert count == 1
        self.at = place
        path = [self.entry()]
        while (kind := self.byte()) == 0:
            assert self.number() == 1
            path.append(self.entry())
        assert kind == 5
        assert (self.number(), self.text()) == (1, "com.sun.star.uno.XInterface")
        assert (self.number(), self.number()) == (0, 0)
        return ".".join(path), [self.method() for _ in range(self.number())]

    def method(self) -> Method:
        name, result = self.text(), self.text()
        parameters = []
        for _ in range(self.number()):
            assert self.byte() == 0
            parameters.append(Parameter(self.text(), self.text()))
        assert self.number() == 0
        return Method(name, result, tuple(parameters))


def test_type_library_reads_back() -> None:
    methods = [
        Method("one", "any", (Parameter("a", "any"), Parameter("b", "any"))),
        Method("two", "[][]any", ()),
        Method("three", "any", (Parameter("one", "[]any"),)),
    ]
    assert _Reader(interface_library("org.x.deep.XOne", methods)).interface() == (
        "org.x.deep.XOne",
        methods,
    )


def test_type_library_holds_the_catalogue(oxt: Path) -> None:
    with zipfile.ZipFile(oxt) as made:
        name, methods = _Reader(made.read("pourbook.rdb")).interface()
    assert name == bundle.INTERFACE
    assert {m.name: (m.result, len(m.parameters)) for m in methods} == {
        called.method_name(f.name): ("[][]any" if f.columns else "any", len(f.arguments))
        for f in catalogue().values()
    }


class TestValues:
    def test_left_out_arguments_are_not_given(self) -> None:
        short = values.answer("PB_AREA", ("ft²", "rectangle", "2 ft", "3 ft", None, None))
        assert short == pytest.approx(6)
        assert "takes 2 to 2 arguments" in str(values.answer("PB_READ", ("2 ft", None)))

    def test_blank_cell_of_a_one_cell_range_is_blank(self) -> None:
        assert str(values.answer("PB_READ", ((("",),), "in"))).startswith("! measure: it is blank")
        assert values.answer("PB_READ", ((("2 ft",),), "in")) == 24.0

    def test_range_for_a_cell_is_refused(self) -> None:
        two = (("2 ft",), ("3 ft",))
        assert "point at one cell" in str(values.answer("PB_READ", (two, "in")))

    def test_refused_block_fills_its_cells(self) -> None:
        rows = tuple(("", "", "") for _ in range(4))
        block = values.answer("PB_ROOMS", (rows, "furlongs"))
        assert isinstance(block, tuple)
        assert [len(row) for row in block] == [len(catalogue()["PB_ROOMS"].columns)] * 4
        assert {str(cell)[:2] for row in block for cell in row} == {"! "}


class TestSaved:
    def test_wrapping_comes_off_again(self) -> None:
        plain = "PB_PARTS($A$1:$B$2;$Start.$B$6;'Mix cards'.C7;$B$9)"
        full = wrapped("{=" + plain + "}")
        assert full is not None
        assert "$Start.$B$6:$B$6;'Mix cards'.C7:C7;$B$9:$B$9)" in full
        written = full.removeprefix("=").replace(";", ",").replace("&", "&amp;").encode()
        assert unwrapped(written) == (plain.replace(";", ",").encode(), 1)
        assert wrapped(full) is None

    @pytest.mark.parametrize("other", ["=1+1", "{=SUM(A1:A2)}", "=2*PB_ROOMS(A1;B1)", "PB_READ"])
    def test_other_formulas_stay(self, other: str) -> None:
        assert wrapped(other) is None

    def test_only_formulas_of_ours_change(self, tmp_path: Path) -> None:
        book = tmp_path / "job.xlsx"
        content = {
            "xl/worksheets/sheet1.xml": b"<f>ORG.POURBOOK.FUNCTIONS.PBREAD(A1)+ORG.X.PBREAD(1)</f>",
            "xl/sharedStrings.xml": b"<t>org.pourbook.functions.pbread(</t>",
        }
        with zipfile.ZipFile(book, "w") as made:
            for name, text in content.items():
                made.writestr(name, text)
        os.utime(book, (1_000_000, 1_000_000))
        assert saved.plain_names(book, called.SERVICE, {"pbRead": "PB_READ"}) == 1
        assert book.stat().st_mtime == 1_000_000
        with zipfile.ZipFile(book) as made:
            assert made.testzip() is None
            sheet = made.read("xl/worksheets/sheet1.xml")
            assert sheet == b"<f>PB_READ(A1)+ORG.X.PBREAD(1)</f>"
            assert made.read("xl/sharedStrings.xml") == content["xl/sharedStrings.xml"]
        before = book.read_bytes()
        assert saved.plain_names(book, called.SERVICE, {"pbRead": "PB_READ"}) == 0
        assert book.read_bytes() == before


class TestCommands:
    def test_build_writes_the_same_add_in_every_time(self, oxt: Path, tmp_path: Path) -> None:
        target = tmp_path / "x.oxt"
        done = CliRunner().invoke(cli, ["addin", "calc", "build", str(target)])
        assert done.exit_code == 0, done.output
        assert target.read_bytes() == oxt.read_bytes()
        again = CliRunner().invoke(cli, ["addin", "calc", "build", str(target)])
        assert isinstance(again.exception, UsageError)
        other = CliRunner().invoke(cli, ["addin", "calc", "build", str(tmp_path / "x.zip")])
        assert isinstance(other.exception, UsageError)
        assert "x.oxt" in str(other.exception)

    def test_without_libreoffice_install_says_how_to_get_it(
        self, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
    ) -> None:
        monkeypatch.setenv("PATH", str(tmp_path))
        monkeypatch.setattr(add_to_calc, "_USUAL", ())
        done = CliRunner().invoke(cli, ["addin", "calc", "install"])
        assert isinstance(done.exception, UsageError)
        assert "is not found" in str(done.exception)

    @pytest.mark.skipif(os.name != "posix", reason="the stand-in is a shell script")
    @pytest.mark.parametrize("code", [0, 1])
    def test_unopkg_gets_the_package(
        self, monkeypatch: pytest.MonkeyPatch, tmp_path: Path, code: int
    ) -> None:
        stand_in = tmp_path / "unopkg"
        stand_in.write_text(
            f'#!/bin/sh\necho "$@" > {tmp_path}/said\necho in use >&2\nexit {code}\n'
        )
        stand_in.chmod(0o755)
        monkeypatch.setenv("PATH", str(tmp_path))
        done = CliRunner().invoke(cli, ["addin", "calc", "install", "--shared"])
        said = (tmp_path / "said").read_text().split()
        assert said[:3] == ["add", "--force", "--shared"]
        assert said[3].endswith("pourbook.oxt")
        if code:
            assert "in use" in str(done.exception)
            assert "close LibreOffice" in str(done.exception)
        else:
            assert done.exit_code == 0, done.output

    def test_another_python_is_kept_out_of_the_way(self) -> None:
        given = {"PATH": "/venv/bin", "PYTHONPATH": "x", "VIRTUAL_ENV": "/venv", "HOME": "/h"}
        assert add_to_calc.environment(given).keys() == {"PATH", "HOME"}


def _differences(book: Path, layout: Layout, sheets: Cells) -> dict[str, tuple[object, object]]:
    """Hold what Calc shows against what the fast engine gives for a workbook."""
    wanted = [(c.sheet, c.address) for c in layout.cells if c.formula or c.fill]
    ours = headless.engine("fast").recompute(book, wanted).values
    assert len(ours) > 1000
    return {
        f"{sheet}!{address}": (value, sheets[sheet].get(address, ""))
        for (sheet, address), value in ours.items()
        if not same(value, sheets[sheet].get(address, ""))
    }


EXAMPLES = [(name, e) for name, f in catalogue().items() for e in f.examples]


class Live:
    """What Calc answered, and the workbooks it was asked about."""

    def __init__(
        self, answers: Mapping[str, Any], changed: dict[str, Path], kept: Path, copy: Path
    ) -> None:
        self.tasks = answers["tasks"]
        self.changed = changed
        self.kept = kept
        self.copy = copy


EDITS = 2000
"""What an estimator types in an hour, and more."""
MOST_MEMORY = 1_000_000_000


def _hour(plan: Layout) -> dict[str, Any]:
    """Return what is typed again and again, ending in what stood there, and a cell to look at."""
    typed = {
        ("start", "client", 0): ["Terns", "Sandpipers", "The owners of Tern Cottage"],
        ("rates", "labour", 0): [47, 48, 46],
        ("rooms", "a", 2): ["31", "32", "30"],
    }
    cells = [[plan.cell(*key).sheet, plan.cell(*key).address, said] for key, said in typed.items()]
    looked_at = plan.cell("quote_price", "gross", 0)
    client, labour, size = cells
    turns = [*[client, labour] * 4, size, client]
    return {"cells": turns, "times": EDITS, "watch": [looked_at.sheet, looked_at.address]}


CHANGES: dict[str, dict[tuple[str, str, int], object]] = {
    "longer": {("rooms", "a", 0): "31 ft"},
    "refused": {("rooms", "a", 0): "25 oz", ("layers", "product", 1): "Unknown"},
}


CUTS: dict[str, tuple[tuple[str, int, int], ...]] = {
    "moved": (("products", 1, 6), ("layers", 1, 10), ("working", 2, 8), ("doing", 4, 7)),
    "edge": (("products", 0, 6),),
}
"""Rows that are cut and put elsewhere: table, from which row, to which."""


def _cut(plan: Layout, table: str, source: int, goal: int) -> list[str]:
    """Return the cells of a row that are typed, and where the first of them goes."""
    typed = [f.id for f in plan.block(table).columns if f.is_typed]
    first, last = (plan.cell(table, typed[n], source) for n in (0, -1))
    goal_cell = plan.cell(table, typed[0], goal)
    return [first.sheet, f"{first.address}:{last.address}", goal_cell.address]


def _after(
    plan: Layout, entries: Mapping[Any, object], cuts: tuple[tuple[str, int, int], ...]
) -> dict[Any, object]:
    """Return the entries once the rows are cut and put elsewhere."""
    to = {(table, source): goal for table, source, goal in cuts}
    moved = {(b, f, to[b, row]): value for (b, f, row), value in entries.items() if (b, row) in to}
    return {key: value for key, value in entries.items() if (key[0], key[2]) not in to} | moved


@pytest.fixture(scope="module")
def live(
    oxt: Path,
    tmp_path_factory: pytest.TempPathFactory,
    demo_us: Path,
    demo_metric: Path,
    plan_us: Layout,
    scenario_us: Scenario,
) -> Live:
    soffice = program()
    folder = tmp_path_factory.mktemp("calc")
    kept = folder / "kept.xlsx"
    entered, formulas, _ = laid_out(EXAMPLES)
    # Of its own: what is open in one LibreOffice is closed to the others.
    own_us, own_metric = (str(shutil.copy(f, folder / f.name)) for f in (demo_us, demo_metric))
    tasks: list[dict[str, Any]] = [
        {"open": own_us, "save": str(kept)},
        {"open": own_metric},
        {"set": entered, "formulas": formulas},
        {"open": str(kept)},
    ]
    changed = {}
    for name, entries in CHANGES.items():
        cells = [
            [plan_us.cell(*where).sheet, plan_us.cell(*where).address, value]
            for where, value in entries.items()
        ]
        tasks.append({"open": own_us, "set": cells, "hard": False})
        changed[name] = folder / f"{name}.xlsx"
        filled = {**make.defaults(plan_us), **scenario_us.entries, **entries}
        build.write(plan_us, filled, changed[name], made=dt.datetime(2026, 11, 24, 9, 30))
    for name, cuts in CUTS.items():
        tasks.append({"open": own_us, "cut": [_cut(plan_us, *cut) for cut in cuts]})
        changed[name] = folder / f"{name}.xlsx"
        typed = {**typed_out(plan_us, demo_us), **scenario_us.entries}
        blank = dict.fromkeys(k for k in typed if plan_us.entry_at[k].offer)
        filled = {**make.defaults(plan_us), **blank, **_after(plan_us, typed, cuts)}
        build.write(plan_us, filled, changed[name], made=dt.datetime(2026, 11, 24, 9, 30))
    copy = folder / "copy.xlsx"
    tasks.append({"open": own_us, "hard": False, "edits": _hour(plan_us), "copy": str(copy)})
    kept_for_a_crash, recovered = folder / "recovery.ods", folder / "recovered.xlsx"
    tasks.append({"open": own_us, "hard": False, "copy": str(kept_for_a_crash)})
    tasks.append({"open": str(kept_for_a_crash), "hard": False, "save": str(recovered)})
    task = folder / "job.json"
    task.write_text(
        json.dumps(
            {
                "program": soffice,
                "profile": str(folder / "profile"),
                "package": str(oxt),
                "tasks": tasks,
            }
        )
    )
    home = {**add_to_calc.environment(os.environ), "HOME": str(folder)}
    done = subprocess.run(
        [PYTHON, str(DRIVER), str(task)],
        env=home,
        capture_output=True,
        text=True,
        timeout=400,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    return Live(json.loads(done.stdout), changed, kept, copy)


def _of_one_cell(area: str) -> bool:
    """Tell a range of one cell, which LibreOffice writes as B3:B3 or as no array at all."""
    first, _, last = area.partition(":")
    return not last or first == last


def _array_formulas(path: Path) -> dict[tuple[str, str], str]:
    """Return every block formula of a file, written alike."""
    return {
        (page.title, str(cell.value.ref)): cell.value.text.lstrip("=").replace(" ", "")
        for page in openpyxl.load_workbook(path).worksheets
        for row in page.iter_rows()
        for cell in row
        if isinstance(cell.value, ArrayFormula) and not _of_one_cell(str(cell.value.ref))
    }


@pytest.mark.libreoffice
class TestLive:
    def test_demo_is_the_fast_engines(self, live: Live, demo_us: Path, plan_us: Layout) -> None:
        apart = _differences(demo_us, plan_us, live.tasks[0]["sheets"])
        assert not apart, f"(fast engine, Calc): {apart}"

    def test_twin_is_the_fast_engines(
        self, live: Live, demo_metric: Path, plan_metric: Layout
    ) -> None:
        apart = _differences(demo_metric, plan_metric, live.tasks[1]["sheets"])
        assert not apart, f"(fast engine, Calc): {apart}"
        assert live.tasks[1]["modified"] is False, "opening alone must not ask to save"

    def test_every_example(self, live: Live) -> None:
        cells = live.tasks[2]["sheets"]["Sheet1"]
        _, _, tops = laid_out(EXAMPLES)
        wrong = {}
        for (name, example), top in zip(EXAMPLES, tops, strict=True):
            result = example.result if isinstance(example.result, tuple) else ((example.result,),)
            for down, row in enumerate(result):
                for across, value in enumerate(row):
                    place = f"{letters(RESULTS + across + 1)}{top + down}"
                    if not same(value, cells.get(place, "")):
                        wrong[f"{name} {down},{across}"] = (value, cells.get(place))
        assert not wrong, f"(catalogue, Calc): {wrong}"
        assert {name for name, _ in EXAMPLES} == catalogue().keys() - JOINTS.keys()

    def test_longer_room_moves_the_price(self, live: Live, plan_us: Layout) -> None:
        price = plan_us.cell("price", "gross", 0)
        before = live.tasks[0]["sheets"][price.sheet][price.address]
        after = live.tasks[4]["sheets"][price.sheet][price.address]
        assert after > before + 1
        apart = _differences(live.changed["longer"], plan_us, live.tasks[4]["sheets"])
        assert not apart, f"(fast engine, Calc): {apart}"

    def test_refusals_are_the_fast_engines(self, live: Live, plan_us: Layout) -> None:
        sheets = live.tasks[5]["sheets"]
        status = plan_us.cell("rooms", "status", 0)
        assert sheets[status.sheet][status.address].startswith("! Size A")
        apart = _differences(live.changed["refused"], plan_us, sheets)
        assert not apart, f"(fast engine, Calc): {apart}"

    def test_rows_cut_and_put_elsewhere_mix_nothing(self, live: Live, plan_us: Layout) -> None:
        """All is as if the rows had been typed where they were put."""
        sheets = live.tasks[6]["sheets"]
        layer = plan_us.cell("layers", "layer", 10)
        assert sheets[layer.sheet].get(layer.address), "the row was cut"
        apart = _differences(live.changed["moved"], plan_us, sheets)
        assert not apart, f"(fast engine, Calc): {apart}"

    def test_a_row_cut_at_the_edge_of_a_table_mixes_nothing(
        self, live: Live, plan_us: Layout
    ) -> None:
        apart = _differences(live.changed["edge"], plan_us, live.tasks[7]["sheets"])
        assert not apart, f"(fast engine, Calc): {apart}"

    def test_saved_file_has_its_formulas_back(self, live: Live, demo_us: Path) -> None:
        before = _array_formulas(demo_us)
        assert len(before) > 10
        assert _array_formulas(live.kept) == before

    def test_an_hour_of_typing_takes_no_memory(self, live: Live) -> None:
        told = live.tasks[8]["edits"]
        _, first, *_, last = told["memory"]
        assert last < MOST_MEMORY
        assert last - first < 30_000_000, told
        assert len(told["seen"]) > 5, "the price was never worked out"

    def test_saved_copy_is_named_and_put_right(self, live: Live, tmp_path: Path) -> None:
        """As File > Save a Copy and File > Export write it: Calc tells the add-in nothing of it."""
        with pytest.raises(
            FileUnreadableError, match=r"Save a Copy.*pourbook recompute copy\.xlsx"
        ):
            check_file(live.copy)
        target = tmp_path / "copy.xlsx"
        shutil.copyfile(live.copy, target)
        books.store(target, target, force=True)
        assert _array_formulas(target) == _array_formulas(live.kept)
        checked = check_file(target)
        assert not checked.findings

    def test_what_is_recovered_after_a_crash_is_saved_like_any_other(self, live: Live) -> None:
        """Calc keeps what it saves by itself as an OpenDocument file, and opens that again."""
        with pytest.raises(FileUnreadableError, match=r"\.ods file.*Save As"):
            check_file(live.copy.with_name("recovery.ods"))
        assert not check_file(live.copy.with_name("recovered.xlsx")).findings

    def test_saved_file_is_still_the_templates(self, live: Live) -> None:
        book = read_book(live.kept)
        found = [f.what for f in check_structure(book.plan(), book)]
        assert not found

    def test_saved_file_is_live_again(self, live: Live, demo_us: Path, plan_us: Layout) -> None:
        apart = _differences(demo_us, plan_us, live.tasks[3]["sheets"])
        assert not apart, f"(fast engine, Calc): {apart}"
