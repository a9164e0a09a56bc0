"""xlwings' own Windows code (generator, COM server, conversion) calls our functions on Linux."""

from __future__ import annotations

import datetime as dt
import re
import sys
from collections.abc import Callable, Iterator
from decimal import Decimal
from pathlib import Path
from typing import Any, NamedTuple

import pytest
import xlwings
from tests.functions.test_wrong_arguments import CASES, DATE, WRONG, Case, right_call
from tests.hosts import winshim
from tests.hosts.winshim import MISSING, TRIPS, UDFS, WRAPPER, Excel, TimeType

from pourbook.cells import CellError
from pourbook.functions.catalogue import catalogue, evaluate
from pourbook.functions.declare import Example
from pourbook.hosts.excel import add_to_excel, arguments, basic
from pourbook.hosts.excel.arguments import parameter, taken
from pourbook.hosts.headless.engine import INTERNAL, Recomputed

DIV0, NA, SPILL = -2146826281, -2146826246, -2146826245
CALL = re.compile(r"^Function (\w+)\((.*?)\)$", re.MULTILINE)
# What Excel would take for a cell: A1, R1C1.
CELL = re.compile(r"([A-Z]{1,3}[0-9]{1,7}|R[0-9]*C[0-9]*|R|C)$", re.IGNORECASE)
LONGEST_LINE = 1023


class Desk(NamedTuple):
    excel: Excel
    call: Callable[..., Any]


@pytest.fixture(scope="module")
def desk() -> Iterator[Desk]:
    with winshim.windows_xlwings() as fresh:
        from xlwings import com_server

        assert fresh.has_pywin32
        assert not fresh.__pro__
        excel = Excel()
        caller = excel.range()
        server: Any = com_server.XLPython()

        def call(name: str, *given: object) -> Any:
            return server.CallUDF(UDFS, name, given, excel.book, caller)

        yield Desk(excel, call)


@pytest.fixture(scope="module")
def generated() -> tuple[str, list[tuple[str, dict[str, Any]]]]:
    return winshim.wrapper_text()


class TestWrapper:
    def test_it_is_the_one_xlwings_generates(self, generated: tuple[str, Any]) -> None:
        text = WRAPPER.read_text(encoding="ascii")
        assert text == generated[0], "renew it: python tests/hosts/winshim.py"

    def test_the_other_module_is_xlwings_own(self) -> None:
        original = Path(xlwings.__file__).with_name("xlwings.bas").read_text(encoding="ascii")
        folder = Path(basic.__file__).parent
        assert (folder / "xlwings.bas").read_text(encoding="ascii") == original
        carried = basic.sources()["xlwings"].splitlines()
        assert carried.pop(1).startswith("'Of the module of xlwings")
        rest = iter(original.splitlines())
        assert all(line in rest for line in carried if line), "lines of its own, in its order"
        text = "\n".join(carried)
        assert "BSD 3-clause license" in text
        assert "Redistributions of source code must retain" in text
        assert f'XLWINGS_VERSION As String = "{xlwings.__version__}"' in text

    def test_no_procedure_is_carried_that_nothing_reaches(self) -> None:
        """What starts programs, writes files or changes macros is what scanners look for."""
        said = basic.sources()
        names = re.compile(r"^(?:Public |Private )?(?:Function|Sub) (\w+)", re.MULTILINE)
        whole = Path(basic.__file__).with_name("xlwings.bas").read_text(encoding="ascii")
        carried, known = set(names.findall(said["xlwings"])), set(names.findall(whole))
        assert "XLPy" in carried
        assert not carried & {"RunPython", "ExecuteWindows", "ExecuteMac", "SaveConfigToFile"}
        assert not [w for w in ("VBProject", ".Run ", "Kill ") if w in said["xlwings"]]
        code = re.sub(r"^\s*'.*$", "", "\n".join(said.values()), flags=re.MULTILINE)
        used = {
            word.lower() for word in re.findall(r"\w+", re.sub(r"'[^\"\n]*$", "", code, flags=re.M))
        }
        assert {name for name in known if name.lower() in used} == carried

    def test_it_is_the_pinned_version(self) -> None:
        assert xlwings.__version__ == add_to_excel.XLWINGS
        project = (WRAPPER.parents[4] / "pyproject.toml").read_text(encoding="utf-8")
        assert set(re.findall(r"xlwings==([\d.]+)", project)) == {add_to_excel.XLWINGS}
        assert add_to_excel.UDFS == UDFS

    def test_every_function_is_there(self) -> None:
        found = dict(CALL.findall(basic.sources()["xlwings_udfs"]))
        assert found.keys() == catalogue().keys()
        for name, given in found.items():
            function = catalogue()[name]
            wanted = ["Optional " * a.optional + parameter(a) for a in function.arguments]
            assert given == ", ".join(wanted)

    def test_names_are_legal_in_vba_and_excel(self) -> None:
        for name, given in CALL.findall(basic.sources()["xlwings_udfs"]):
            names = [g.removeprefix("Optional ") for g in given.split(", ") if g]
            assert not CELL.match(name)
            assert len({n.lower() for n in names}) == len(names)
            for one in names:
                assert re.fullmatch(r"[A-Za-z][A-Za-z0-9_]*", one)
                assert one.lower() not in arguments._VBA_WORDS.split()

    def test_lines_are_short_enough(self) -> None:
        for text in basic.sources().values():
            assert max(map(len, text.splitlines())) <= LONGEST_LINE

    def test_nothing_is_called_or_left_out_but_by_recalculation(self) -> None:
        """A line that asks for the function wizard gives 0 while a workbook opens.

        Source: https://github.com/xlwings/xlwings/issues/1574, and its maintainer's answer there.
        """
        text = basic.sources()["xlwings_udfs"]
        assert "CommandBars" not in text
        assert "Volatile" not in text

    def test_the_wizard_is_told_what_things_are(self, generated: tuple[str, Any]) -> None:
        options = dict(generated[1])
        for name, function in catalogue().items():
            told = options[f"'job.xlsm'!{name}"]
            assert told["Description"] == function.summary
            assert told["Category"] == "Pourbook"
            assert (told["ArgumentDescriptions"] or []) == [a.help for a in function.arguments]


EXAMPLES = [
    pytest.param(name, example, id=f"{name}-{number}")
    for name, function in catalogue().items()
    for number, example in enumerate(function.examples)
]


def _com(value: object) -> object:
    """Return an example's argument as COM hands it over."""
    if isinstance(value, tuple):
        return tuple(tuple(NA if isinstance(v, CellError) else v for v in row) for row in value)
    return float(value) if isinstance(value, int) and not isinstance(value, bool) else value


def _near(got: object, wanted: object) -> bool:
    if isinstance(wanted, int | float) and isinstance(got, int | float):
        return got == pytest.approx(wanted, rel=1e-9)
    return got == ("" if wanted is None else wanted)


@pytest.mark.parametrize("as_range", [False, True], ids=["values", "ranges"])
@pytest.mark.parametrize(("name", "example"), EXAMPLES)
def test_every_example_gives_the_same_here(
    desk: Desk, name: str, example: Example, as_range: bool
) -> None:
    given = [_com(value) for value in example.arguments]
    if as_range:
        given = [desk.excel.range(value) for value in given]
    missing = len(catalogue()[name].arguments) - len(given)
    got = desk.call(name, *given, *[MISSING] * missing)
    if isinstance(example.result, tuple):
        if not isinstance(got, list):
            got = [[got]]  # xlwings hands a single cell over bare, and a single row flat
        elif not isinstance(got[0], list):
            got = [got]
        assert len(got) >= len(example.result)
        for row, wanted in zip(got, example.result, strict=False):
            assert len(row) == len(wanted)
            assert all(map(_near, row, wanted)), f"{row} is not {wanted}"
    else:
        assert _near(got, example.result)


# The wrong values of the headless tests as COM hands them over, bare and from a cell.
_WRONG_COM: dict[str, object] = {
    **WRONG,
    "error": DIV0,
    "range": ((1.0, 2.0), (3.0, 4.0)),
    "empty range": ((None, None), (None, None)),
}


@pytest.mark.parametrize("as_range", [False, True], ids=["value", "cell"])
@pytest.mark.parametrize("case", CASES)
def test_a_wrong_argument_is_told_as_anywhere(desk: Desk, case: Case, as_range: bool) -> None:
    headless = right_call(case.function)
    handed = [desk.excel.range(_com(v)) if as_range else _com(v) for v in headless]
    headless[case.place] = WRONG[case.wrong]
    wrong = _WRONG_COM[case.wrong]
    if as_range:
        handed[case.place] = desk.excel.range(wrong)
    elif case.wrong == "date":
        handed[case.place] = TimeType(2026, 11, 25, tzinfo=dt.UTC)
        assert taken(handed[case.place]) == DATE
    else:
        handed[case.place] = wrong
    told = desk.call(case.function, *handed)
    assert isinstance(told, str)
    assert told.startswith("! ")
    assert "Traceback" not in told
    assert told == evaluate(case.function, headless)


class TestArguments:
    @pytest.mark.parametrize(
        ("value", "words"),
        [
            (None, "! measure: it is blank"),
            ("", "! measure: it is blank"),
            (DIV0, "! measure: the cell shows #DIV/0!"),
            (NA, "! measure: the cell shows #N/A"),
            (SPILL, "! measure: the cell shows #VALUE!"),
            ("! Size A: it is 0", "! Size A: it is 0"),
            ("30 oz", "! "),
            (((1.0, 2.0),), "! measure: it is a range"),
        ],
    )
    @pytest.mark.parametrize("as_range", [False, True])
    def test_what_cannot_be_read_is_refused_shortly(
        self, desk: Desk, value: object, words: str, as_range: bool
    ) -> None:
        given = desk.excel.range(value) if as_range else value
        got = desk.call("PB_READ", given, "g")
        assert isinstance(got, str)
        assert got.startswith(words)
        assert len(got) <= 250
        assert "Traceback" not in got

    def test_a_currency_cell_keeps_its_places(self, desk: Desk) -> None:
        cell = desk.excel.range(4.12349, shown=Decimal("4.1235"))
        assert desk.call("PB_READ", cell, "mm") == desk.call("PB_READ", 4.12349, "mm")

    def test_a_currency_value_is_a_number(self, desk: Desk) -> None:
        assert desk.call("PB_CONVERT", Decimal("2.5"), "m", "mm") == 2500.0

    def test_dates_are_their_numbers(self) -> None:
        assert taken(TimeType(2026, 11, 25, 18, tzinfo=dt.UTC)) == 46351.75

    def test_an_array_typed_into_a_formula_is_a_range(self) -> None:
        assert taken((1.0, "a")) == [[1.0, "a"]]
        assert taken(((1.0,), (True,))) == [[1.0], [True]]

    def test_an_error_in_a_range_stays_an_error(self) -> None:
        rows = taken(((1.0, DIV0),))
        assert isinstance(rows, list)
        assert isinstance(rows[0][1], CellError)

    def test_one_row_is_a_range_too(self, desk: Desk) -> None:
        rows = desk.call("PB_ROOMS", desk.excel.range((("Bar",) + (None,) * 40,)), "us")
        assert rows.startswith("! ") if isinstance(rows, str) else rows[0][-1].startswith("! ")


def test_a_range_is_read_in_one_go(desk: Desk) -> None:
    """However many cells: the trips between the processes are what a call costs."""

    def trips(rows: int) -> int:
        given = desk.excel.range(tuple(("x",) * 16 for _ in range(rows)))
        TRIPS.clear()
        desk.call("PB_ROOMS", given, "us")
        return TRIPS.count("Value2") + TRIPS.count("Value")

    assert trips(2) == trips(300) == 1


def test_a_fault_of_ours_is_a_short_text(desk: Desk, monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(*_: object) -> None:
        raise ZeroDivisionError("inside")

    monkeypatch.setattr(sys.modules[Recomputed.__module__], "evaluate", broken)
    assert desk.call("PB_READ", "2 ft", "in") == INTERNAL


def test_a_range_excel_does_not_hand_over(desk: Desk) -> None:
    busy = desk.excel.range("2 ft")
    del busy.__dict__["content"]["Value2"]
    assert desk.call("PB_READ", busy, "in").startswith("! Excel was busy")


def test_only_the_free_part_of_xlwings_is_used() -> None:
    """Xlwings itself looks for its paid part; we never ask for it, and it stays off."""
    asked: set[str] = set()
    for path in (WRAPPER.parents[2]).rglob("*.py"):
        asked |= set(
            re.findall(r"^\s*(?:import|from) (xlwings[\w.]*)", path.read_text("utf-8"), re.M)
        )
    assert asked == {"xlwings", "xlwings.conversion"}
    assert not xlwings.__pro__


def test_the_functions_can_be_called_without_excel() -> None:
    from pourbook.hosts.excel import udfs

    read = udfs.__dict__["PB_READ"]
    assert read("2 ft", "in") == 24.0
