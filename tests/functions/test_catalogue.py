"""Every function of the catalogue through the one door the hosts use: evaluate().

The examples are checked as they stand in the documentation. Beyond them nothing is compared with
numbers of our own making: the tests hold laws (counts multiply, parts add up, order does not
matter, the same piece measures the same in feet and in metres) and the form of every refusal.
"""

from __future__ import annotations

import math
import time
import tracemalloc
from collections.abc import Iterator, Sequence

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from pourbook import units
from pourbook.cells import OK, CellError, Value
from pourbook.errors import FAILED, WAITS
from pourbook.functions.batch import plans
from pourbook.functions.board import board_rows
from pourbook.functions.calls import call_rows
from pourbook.functions.catalogue import JOINTS, catalogue, evaluate
from pourbook.functions.declare import Argument, Function, Result
from pourbook.functions.mix import amounts
from pourbook.functions.site import damp, proof_tests, survey
from pourbook.tables import doing, products, rooms, works
from pourbook.tables import layers as layer_table
from pourbook.tables.used import log_rows

LONGEST_REFUSAL = 250
FUNCTIONS = [f for f in catalogue().values() if f.name not in JOINTS]
SCALARS = [f for f in FUNCTIONS if not f.columns and f.arguments]
JUDGES = ("PB_OPTIONS", "PB_ADDITIVES", "PB_CASES")
"""What they are given is refused by others; they say whether it was: tests of their own."""
REFUSING = [f for f in FUNCTIONS if f.name not in JUDGES]
BLOCKS = [f for f in REFUSING if f.columns]
ROWWISE = [f for f in BLOCKS if not f.rows]  # a row of the result for a row of a table
FIXED = [f for f in BLOCKS if f.rows and len(f.arguments[0].columns) > 1]
"""As many rows as the sheet has, from the table of layers."""
ONE_REFUSAL = ("PB_DAYS",)
"""Of the fixed ones, those whose refusal is one row in place of all."""
PLAIN = [f for f in REFUSING if f.name not in ONE_REFUSAL]
DRAWN = ("PB_DRAWING",)
"""Points for a chart: numbers in every row whatever happens, and a status in the first alone."""
FOLLOWED = {"PB_BUY": "products"}
"""The table the rows of the result follow, where it is not the first."""
CAUTIOUS = ("PB_BATCHES",)
"""Those whose status may begin with CHECK while the row's figures stand."""
BESIDE = {"plan": "layers"}
"""Tables that belong to another row by row."""
ASIDE = {"PB_BUY": ("amounts", "settled", "trip")}
"""Arguments only columns aside hang on: what is wrong with them is said there, and tested there."""
NAMES: dict[str, tuple[int, ...]] = {
    "PB_PLAN": (0, 1, 2),
    "PB_AMOUNTS": (0, 1, 2, 3),
    "PB_PARTS": (0, 1, 2, 3),
    "PB_BATCHES": (1, 2),
    "PB_SURVEY": (4, 5),
}
"""Columns that name the row, or say nothing of it; they stand in a refused row too."""
CLOSE = 1e-9

Table = list[list[Value]]


def _name(function: Function) -> str:
    return function.name


def _refused(result: Result) -> str:
    """Return a refusal after looking at its form."""
    assert isinstance(result, str), f"{result!r} is no refusal"
    assert result.startswith("! "), ascii(result)
    assert len(result) <= LONGEST_REFUSAL, f"{len(result)} characters: {result!a}"
    assert len(result.strip("! ")) > 5, ascii(result)
    return result


def _table(result: Result) -> Table:
    assert isinstance(result, list), f"{result!r} is no table"
    return result


BUYING = ("PB_BUY", "PB_PACKS", "PB_STOCK")
"""Their rows hang together by product: tests of their own in test_buying.py."""
LAYERED = [f for f in BLOCKS if {a.name for a in f.arguments} & set(BESIDE)]


def _status_at(function: Function) -> int:
    (place,) = (n for n, c in enumerate(function.columns) if c.id.endswith("status"))
    return place


def _rest(function: Function, row: Sequence[Value]) -> list[Value]:
    """Return a row without its names and its status."""
    aside = {*NAMES.get(function.name, ()), _status_at(function)}
    return [value for place, value in enumerate(row) if place not in aside]


def _refusal(function: Function, result: Result) -> str:
    """Return the refusal of a whole call, which the calendar gives in one row."""
    if isinstance(result, str) or function.name not in ONE_REFUSAL:
        return _refused(result)
    first, *others = _table(result)
    assert all(set(row) == {""} for row in others)
    assert set(_rest(function, first)) == {FAILED}
    return _refused(first[_status_at(function)])


def _extended(
    function: Function, given: list[Value | Table], before: int, after: Table
) -> list[Value | Table]:
    """Return a call with rows added to its first table: blank ones before, ``after`` behind.

    A table that belongs to it row by row gets blank rows too, and its last row again.
    """
    call = list(given)
    first = function.arguments[0]
    for place, (argument, table) in enumerate(zip(function.arguments, given, strict=False)):
        if not isinstance(table, list) or (place and BESIDE.get(argument.name) != first.name):
            continue
        blank: Table = [[None] * len(argument.columns) for _ in range(before)]
        call[place] = [*blank, *table, *([table[-1]] * len(after) if place else after)]
    return call


def _arguments(function: Function) -> list[Value | Table]:
    """Return the arguments of a function's fullest example, tables as lists."""
    fullest = max(function.examples, key=lambda e: len(e.arguments))
    return [[list(row) for row in a] if isinstance(a, tuple) else a for a in fullest.arguments]


def _same(found: Result, wanted: object, tolerance: float) -> None:
    if isinstance(wanted, tuple):
        table = _table(found)
        assert len(table) == len(wanted)
        for row, line in zip(table, wanted, strict=True):
            assert len(row) == len(line)
            for one, other in zip(row, line, strict=True):
                _same(one, other, tolerance)
    elif isinstance(wanted, str):
        assert found == wanted
    else:
        assert isinstance(found, int | float)
        assert found == pytest.approx(wanted, rel=tolerance, abs=0)


# Documentation


def _examples() -> Iterator[object]:
    for function in FUNCTIONS:
        for number, shown in enumerate(function.examples):
            yield pytest.param(function, shown, id=f"{function.name}-{number}")


@pytest.mark.parametrize(("function", "shown"), list(_examples()))
def test_example_gives_what_it_says(function: Function, shown: object) -> None:
    found = next(e for e in function.examples if e is shown)
    _same(evaluate(function.name, list(found.arguments)), found.result, 1e-12)


@pytest.mark.parametrize("function", FUNCTIONS, ids=_name)
def test_everything_is_explained(function: Function) -> None:
    assert function.name.startswith("PB_")
    assert function.name.isupper()
    assert function.summary.endswith(".")
    assert function.examples
    for words in (function.result, function.valid, function.source):
        assert len(words) > 5
    for argument in function.arguments:
        assert argument.name
        assert len(argument.help) > 5, f"{function.name}, {argument.name}"
        assert (argument.kind == "rows") is bool(argument.columns), argument.name
        if argument.dimension:
            assert argument.dimension in units.KINDS
    for column in function.columns:
        assert len(column.help) > 3, f"{function.name}, {column.id}"
    optional = [a.optional for a in function.arguments]
    assert optional == sorted(optional), "what may be left out stands last"


@pytest.mark.parametrize("function", BLOCKS, ids=_name)
def test_every_result_unit_is_a_unit_of_every_system(function: Function) -> None:
    for column in function.columns:
        for system in units.SYSTEMS.values():
            if column.unit:
                assert units.kind_of(getattr(system, column.unit)), column.id


# Refusals


@pytest.mark.parametrize("function", FUNCTIONS, ids=_name)
def test_too_few_arguments_are_refused(function: Function) -> None:
    for count in range(function.required):
        said = _refused(evaluate(function.name, _arguments(function)[:count]))
        assert function.name in said


@pytest.mark.parametrize("function", FUNCTIONS, ids=_name)
def test_too_many_arguments_are_refused(function: Function) -> None:
    given = [None] * (len(function.arguments) + 1)
    assert function.name in _refused(evaluate(function.name, given))


def _firm(function: Function) -> list[Argument]:
    return [a for a in function.arguments if a.name not in ASIDE.get(function.name, ())]


def _spoilt(function: Function, argument: Argument, value: Value | Table) -> list[Value | Table]:
    """Return a sound call with one argument replaced, and those before it filled."""
    given = _arguments(function)
    place = function.arguments.index(argument)
    given += [None] * (place + 1 - len(given))
    given[place] = value
    return given


@pytest.mark.parametrize("function", REFUSING, ids=_name)
def test_error_cells_are_refused(function: Function) -> None:
    for argument in _firm(function):
        given = _spoilt(function, argument, CellError("#DIV/0!"))
        said = _refusal(function, evaluate(function.name, given))
        if argument.kind != "rows":
            assert "#DIV/0!" in said
            assert argument.name in said


@pytest.mark.parametrize("function", REFUSING, ids=_name)
def test_earlier_refusals_pass_through(function: Function) -> None:
    earlier = "! Size A: it is blank: type it"
    for argument in _firm(function):
        said = _refusal(function, evaluate(function.name, _spoilt(function, argument, earlier)))
        if argument.kind != "rows":
            assert said == earlier


@pytest.mark.parametrize(
    "function", [f for f in FUNCTIONS if any(a.kind != "rows" for a in f.arguments)], ids=_name
)
def test_range_for_one_cell_is_refused(function: Function) -> None:
    seen = 0
    for argument in function.arguments:
        if argument.kind != "rows":
            said = _refused(evaluate(function.name, _spoilt(function, argument, [[1.0, 2.0]])))
            assert argument.name in said
            seen += 1
    assert seen


@pytest.mark.parametrize("function", PLAIN, ids=_name)
@pytest.mark.parametrize("wrong", ["no such thing", True, None, "", "  ", -5.0, 1e300])
def test_wrong_kinds_of_argument_are_refused(function: Function, wrong: Value) -> None:
    shown = _arguments(function)
    for place, argument in enumerate(function.arguments):
        if argument not in _firm(function):
            continue
        result = evaluate(function.name, _spoilt(function, argument, wrong))
        blank = wrong is None or (isinstance(wrong, str) and not wrong.strip())
        bare = argument.kind == "number" or argument.dimension == "fraction"
        may_serve = place >= len(shown) or (argument.optional and blank)
        lone = len(argument.columns) == 1  # one cell is a table of one row and one column
        serves = may_serve or (bare and isinstance(wrong, float))
        left_out = argument.optional and blank  # a table may be left out as a cell may
        if lone or left_out or (argument.kind != "rows" and serves):
            assert isinstance(result, float | list) or _refused(result)
        else:
            _refused(result)


@pytest.mark.parametrize("function", BLOCKS, ids=_name)
def test_range_of_the_wrong_width_is_refused(function: Function) -> None:
    told = "system" in {a.name for a in function.arguments}
    for argument in _firm(function):
        if argument.kind == "rows":
            right = len(argument.columns)
            older = {len(ids) for _, ids in getattr(argument.columns, "older", ())}
            fits = {right} if told else {right, *older}  # nothing says which templates it is of
            for width in {1, right - 1, right + 1} - {0, *fits}:
                table: Table = [["x"] * width]
                said = _refusal(
                    function, evaluate(function.name, _spoilt(function, argument, table))
                )
                assert str(len(argument.columns)) in said


@pytest.mark.parametrize(
    "function", [f for f in BLOCKS if "system" in {a.name for a in f.arguments}], ids=_name
)
def test_unknown_measure_system_is_refused(function: Function) -> None:
    system = next(a for a in function.arguments if a.name == "system")
    given = _spoilt(function, system, "cubits")
    assert "cubits" in _refusal(function, evaluate(function.name, given))


@pytest.mark.parametrize("size", ["no such thing", "9 ft"])
def test_size_a_shape_does_not_have_is_refused(size: str) -> None:
    """As on the Rooms sheet: a third size of a rectangle is a mistake, never passed over."""
    _refused(evaluate("PB_AREA", ["ft²", "rectangle", "5 ft", "3 ft", size]))
    row = _room(shape="rectangle", a="5 ft", b="3 ft", c=size)
    _refused(_table(evaluate("PB_ROOMS", [[row], "us"]))[0][5])


def test_units_of_another_kind_are_refused() -> None:
    _refused(evaluate("PB_READ", ["2 ft", "L"]))
    _refused(evaluate("PB_CONVERT", [1.0, "kg", "L"]))
    _refused(evaluate("PB_NEED", ["3 L", "m", "5 %"]))
    _refused(evaluate("PB_AREA", ["ft", "rectangle", "5 ft", "3 ft"]))
    _refused(evaluate("PB_SPREAD", ["125 µm", "mm"]))


@pytest.mark.parametrize("unit", ["oz", "gal"])
def test_units_with_two_meanings_are_refused(unit: str) -> None:
    _refused(evaluate("PB_READ", [f"30 {unit}", "L"]))
    _refused(evaluate("PB_CONVERT", [30.0, unit, "L"]))


BAD = pytest.mark.parametrize(
    "bad", [CellError("#N/A"), "! Status: earlier: fix it"], ids=["error", "!"]
)


@pytest.mark.parametrize("function", [f for f in ROWWISE if f.name not in BUYING], ids=_name)
@BAD
def test_bad_cell_fails_its_row_and_says_where(function: Function, bad: Value) -> None:
    """Every column of the first table, one after the other; a sound row beside it stays sound."""
    labels = {
        "PB_ROOMS": rooms.LABELS,
        "PB_PRODUCTS": products.LABELS,
        "PB_SURVEY": survey.LABELS,
        "PB_AIR": damp.LABELS,
        "PB_USED": log_rows.LABELS,
        "PB_PROOF": proof_tests.LABELS,
        "PB_CALLS": call_rows.LABELS,
        "PB_BOARD": board_rows.LABELS,
    }.get(function.name, layer_table.LABELS)
    given = _arguments(function)
    sound = given[0]
    assert isinstance(sound, list)
    status = _status_at(function)
    for place, column in enumerate(function.arguments[0].columns):
        row = list(sound[0])
        if function.name == "PB_PRODUCTS" and column != "product":
            row[0] = "Another"
        row[place] = bad
        found = _table(evaluate(function.name, _extended(function, given, 0, [row])))
        assert found[0][status] == OK, column
        assert labels[column] in _refused(found[1][status]), column
        assert set(_rest(function, found[1])) == {FAILED}, column


@pytest.mark.parametrize("function", [f for f in FIXED if f.name not in DRAWN], ids=_name)
@BAD
def test_bad_cell_of_a_layer_is_said_among_its_rows(function: Function, bad: Value) -> None:
    """Every column but the option, without which the row is no layer of the job."""
    given = _arguments(function)
    layers = given[0]
    assert isinstance(layers, list)
    for place, column in enumerate(function.arguments[0].columns):
        if column == "option":
            continue
        call = _extended(function, given, 0, [_with(layers[0], place, bad)])
        result = evaluate(function.name, call)
        _well_formed(function, result, call)
        said = [str(row[_status_at(function)]) for row in _table(result)]
        failed = [words for words in said if words.startswith(FAILED)]
        assert len(failed) == 1, column
        assert layer_table.LABELS[column] in failed[0], column
        assert (OK in said) is (function.name not in ONE_REFUSAL)


@pytest.mark.parametrize("name", ["PB_PLAN"])
@BAD
def test_bad_cell_on_how_a_layer_is_mixed_fails_that_layer(name: str, bad: Value) -> None:
    function = catalogue()[name]
    given = _arguments(function)
    layers, how = given[:2]
    assert isinstance(layers, list)
    assert isinstance(how, list)
    status = _status_at(function)
    for place, column in enumerate(doing.DOING):
        call = [layers * 2, [*how, _with(how[0], place, bad)], *given[2:]]
        found = _table(evaluate(name, call))
        assert found[0][status] == OK, column
        of_no_layer = column in {"name", "layer_name"}
        why = "no row says how" if of_no_layer else doing.DOING_LABELS[column]
        assert why in _refused(found[1][status])
        assert set(_rest(function, found[1])) == {FAILED}, column


@pytest.mark.parametrize("function", LAYERED, ids=_name)
def test_tables_of_different_lengths_are_refused(function: Function) -> None:
    given = _arguments(function)
    for place, argument in enumerate(function.arguments):
        table = given[place] if place < len(given) else None
        if argument.name == "layers" or argument.name in BESIDE:
            assert isinstance(table, list)
            for other in ([], table * 2):
                call = [*given[:place], other, *given[place + 1 :]]
                said = _refusal(function, evaluate(function.name, call))
                assert "the tables have different numbers of rows" in said


@pytest.mark.parametrize("function", [f for f in ROWWISE if f.name != "PB_BUY"], ids=_name)
def test_blank_rows_give_blanks(function: Function) -> None:
    given = _arguments(function)
    width = len(function.arguments[0].columns)
    call = _extended(function, given, 3, [])
    table = call[0]
    assert isinstance(table, list)
    table[1:3] = [["  "] * width, [""] * width]
    found = _table(evaluate(function.name, call))
    assert found[:3] == [[""] * len(function.columns)] * 3
    assert found[3][_status_at(function)] == OK


@pytest.mark.parametrize("function", FIXED, ids=_name)
def test_blank_layers_change_nothing_in_a_fixed_table(function: Function) -> None:
    given = _arguments(function)
    plain = _table(evaluate(function.name, given))
    assert plain[0][_status_at(function)] == OK
    assert _table(evaluate(function.name, _extended(function, given, 3, []))) == plain


# Laws


def _room(**cells: Value) -> list[Value]:
    assert set(cells) <= set(rooms.COLUMNS)
    return [{"room": "Bar", "piece": "Top", **cells}.get(c) for c in rooms.COLUMNS]


def _layer(**cells: Value) -> list[Value]:
    usual: dict[str, Value] = {
        "option": "A",
        "layer": "Flood",
        "product": "Clear",
        "method": "pour",
        "surfaces": "top + edge + splash",
        "spread": "1 L/m²",
    }
    assert set(cells) <= set(layer_table.COLUMNS)
    return [{**usual, **cells}.get(c) for c in layer_table.COLUMNS]


def _product(**cells: Value) -> list[Value]:
    usual: dict[str, Value] = {
        "product": "Clear",
        "parts": 2,
        "basis": "volume",
        "ratio": "2:1",
        "density_a": "1.12 kg/L",
        "density_b": "0.97 kg/L",
        "solids": 0.9,
    }
    assert set(cells) <= set(products.COLUMNS)
    return [{**usual, **cells}.get(c) for c in products.COLUMNS]


def _measured(table: Table, system: str = "metric") -> Table:
    """Return the whole Rooms table: entries with the results beside them."""
    found = _table(evaluate("PB_ROOMS", [table, system]))
    assert all(r[5] == OK for r in found), found
    return [[*row, *result] for row, result in zip(table, found, strict=True)]


def _planned(batches: int = 1, left: float = 0.0) -> list[Value]:
    """Return a row as of PB_PLAN, made by hand; ``left`` in the volume of the system."""
    usual: dict[str, Value] = {"plan_status": OK, "batches": batches, "left": left}
    return [usual.get(c) for c in amounts.PLAN_COLUMNS]


def _layers(
    layers: Table,
    measured: Table,
    system: str = "metric",
    name: str = "PB_AMOUNTS",
    known: Table | None = None,
    plan: Sequence[Value] | None = None,
) -> list[dict[str, Value]]:
    """Return the rows of a function of layers by column; all layers have the same plan."""
    rows = [list(plan or _planned())] * len(layers)
    table = _table(evaluate(name, [layers, known or [_product()], measured, rows, system]))
    ids = [c.id for c in catalogue()[name].columns]
    found = [dict(zip(ids, row, strict=True)) for row in table]
    assert all(r[ids[_status_at(catalogue()[name])]] == OK for r in found), found
    return found


def _number(value: Value) -> float:
    assert isinstance(value, int | float)
    assert not isinstance(value, bool)
    return float(value)


LENGTHS = st.floats(50, 5000).map(lambda x: round(x, 1))
COUNTS = st.integers(1, 40)


@st.composite
def pieces(draw: st.DrawFn) -> list[Value]:
    """A sound row of Rooms in millimetres."""
    shape = draw(st.sampled_from(["rectangle", "triangle", "circle", "ellipse", "trapezoid"]))
    wanted = {"circle": 1, "trapezoid": 3}.get(shape, 2)
    sizes = dict(zip("abc", [draw(LENGTHS) for _ in range(wanted)], strict=False))
    cells: dict[str, Value] = {"shape": shape, "count": draw(COUNTS), **sizes}
    if draw(st.booleans()):
        run = sizes["a"] * draw(st.floats(0.1, 2))
        cells |= {"edge_run": f"{run} mm", "edge_height": draw(st.floats(5, 80))}
        cells["edge_profile"] = draw(st.sampled_from(["square", "half-round", "girth given"]))
    if draw(st.booleans()):
        cells |= {"splash_run": f"{draw(LENGTHS)} mm", "splash_height": draw(LENGTHS)}
    return _room(room=draw(st.sampled_from(["Bar", "Bath", "Kitchen"])), **cells)


TABLES = st.lists(pieces(), min_size=1, max_size=6)


@given(TABLES, st.randoms())
def test_order_of_rows_does_not_matter(table: Table, random: object) -> None:
    order = list(range(len(table)))
    assert hasattr(random, "shuffle")
    random.shuffle(order)
    straight = _table(evaluate("PB_ROOMS", [table, "metric"]))
    turned = _table(evaluate("PB_ROOMS", [[table[i] for i in order], "metric"]))
    assert turned == [straight[i] for i in order]


@given(TABLES, st.randoms())
def test_order_of_rooms_does_not_matter_to_layers(table: Table, random: object) -> None:
    measured = _measured(table)
    turned = list(measured)
    assert hasattr(random, "shuffle")
    random.shuffle(turned)
    cells: dict[str, Value] = {
        "edge_loss": "20 mL/m",
        "take_up": "30 mL/m²",
        "loss": 0.1,
    }
    plan = _planned(3, 0.06)
    straight = _layers([_layer(**cells)], measured, plan=plan)[0]
    for name, value in _layers([_layer(**cells)], turned, plan=plan)[0].items():
        assert value == (
            pytest.approx(straight[name], rel=CLOSE) if isinstance(value, float) else straight[name]
        )


@given(pieces(), COUNTS)
def test_pieces_of_a_kind_have_the_area_of_as_many_rows(row: list[Value], count: int) -> None:
    at = rooms.COLUMNS.index("count")
    one, many = list(row), list(row)
    one[at], many[at] = None, count
    first, second = _table(evaluate("PB_ROOMS", [[one, many], "metric"]))
    for single, several in zip(first[:5], second[:5], strict=True):
        assert _number(several) == pytest.approx(_number(single) * count, rel=CLOSE)


@given(st.floats(200, 5000), LENGTHS, st.floats(0.05, 0.95), COUNTS)
def test_piece_in_two_rows_takes_the_same(a: float, b: float, part: float, count: int) -> None:
    """A rectangle cut in two: edges, splashes and cutouts split with it."""

    def piece(share: float) -> list[Value]:
        return _room(
            shape="rectangle",
            a=f"{a * share} mm",
            b=b,
            count=count,
            cutouts=None,
            edge_run=f"{a * share} mm",
            edge_height=38,
            splash_run=f"{a * share} mm",
            splash_height=100,
        )

    layers = [_layer(loss=0.08, take_up="40 mL/m²", edge_loss="15 mL/m")]
    plan = _planned(3, 0.05)
    whole = _layers(layers, _measured([piece(1)]), plan=plan)[0]
    halves = _layers(layers, _measured([piece(part), piece(1 - part)]), plan=plan)[0]
    for name, value in whole.items():
        assert halves[name] == (
            pytest.approx(value, rel=CLOSE) if isinstance(value, float) else value
        )


@given(TABLES, st.integers(2, 9), st.sampled_from(["1 L/m²", "300 g/m²", "4 m²/L", "0.5 mm"]))
def test_amounts_scale_with_the_area(table: Table, factor: int, spread: str) -> None:
    at = rooms.COLUMNS.index("count")
    larger = [[*row[:at], int(_number(row[at])) * factor, *row[at + 1 :]] for row in table]
    layer = [_layer(spread=spread, loss=0.15, take_up="25 mL/m²", edge_loss="10 mL/m", passes=2)]
    small, large = _layers(layer, _measured(table))[0], _layers(layer, _measured(larger))[0]
    for name in ("area", "coated", "net", "take_up", "edge_loss", "loss", "mixed"):
        assert _number(large[name]) == pytest.approx(_number(small[name]) * factor, rel=CLOSE), name
    for name in ("wet", "dry"):
        assert _number(large[name]) == pytest.approx(_number(small[name]), rel=CLOSE), name


def _twin(metres: float, system: units.System) -> Value:
    return units.express(metres, system.length)


METRES = st.floats(0.05, 6).map(lambda x: round(x, 4))


@given(METRES, METRES, st.floats(0.1, 2), COUNTS, st.sampled_from(["us", "imperial"]))
def test_twins_measure_the_same(
    a: float, b: float, round_it: float, count: int, other: str
) -> None:
    """The same pieces and layers with bare numbers, once in each system."""
    found = []
    run = a * round_it
    for name in ("metric", other):
        system = units.SYSTEMS[name]
        table = [
            _room(
                shape="ellipse",
                a=_twin(a, system),
                b=_twin(b, system),
                count=count,
                edge_run=units.express(run, system.run),
                edge_height=_twin(0.038, system),
                splash_run=units.express(run, system.run),
                splash_height=_twin(0.1, system),
            )
        ]
        layers = [
            _layer(
                spread=units.express(0.0012, system.volume_per_area),
                loss=0.1,
                take_up=units.express(3e-5, system.volume_per_area),
                edge_loss=units.express(2e-5, f"{system.small_volume}/{system.run}"),
            )
        ]
        measured = _measured(table, name)
        for function in ("PB_AMOUNTS", "PB_PARTS"):
            plan = _planned(2, units.express(6e-5, system.volume))
            row = _layers(layers, measured, name, function, plan=plan)[0]
            roles = {c.id: c.unit for c in catalogue()[function].columns if c.unit}
            found.append(
                {k: units.to_si(_number(row[k]), getattr(system, r)) for k, r in roles.items()}
            )
        results = measured[0][len(rooms.COLUMNS) :]
        found.append(
            {
                c.id: units.to_si(_number(value), getattr(system, c.unit))
                for c, value in zip(rooms.RESULTS, results, strict=True)
                if c.unit and value != ""
            }
        )
    assert found[:3] == [
        {name: pytest.approx(value, rel=CLOSE) for name, value in twin.items()}
        for twin in found[3:]
    ]


RATIOS = st.floats(0.1, 100).map(lambda x: round(x, 3))
DENSITIES = st.floats(0.8, 2.2).map(lambda x: round(x, 3))


@given(
    st.integers(1, 3),
    st.sampled_from(["volume", "mass"]),
    st.tuples(RATIOS, RATIOS, RATIOS),
    st.tuples(DENSITIES, DENSITIES, DENSITIES),
    TABLES,
    st.sampled_from(list(units.SYSTEMS)),
)
def test_parts_add_up_to_the_mix(
    count: int,
    basis: str,
    ratio: tuple[float, ...],
    dense: tuple[float, ...],
    table: Table,
    system: str,
) -> None:
    """By volume to the mixed volume; by mass to mixed volume times the density PB_PRODUCTS says."""
    cells: dict[str, Value] = dict.fromkeys(("density_a", "density_b"))
    cells["ratio"] = ":".join(map(repr, ratio[:count])) if count > 1 else None
    for letter, density in list(zip("abc", dense, strict=True))[:count]:
        cells[f"density_{letter}"] = f"{density} kg/L"
    known = [_product(parts=count, basis=basis, **cells)]
    kept = units.SYSTEMS[system]
    measured = _measured(
        [
            [
                f"{v} mm" if i in {3, 4, 5, 10, 13} and v is not None else v
                for i, v in enumerate(row)
            ]
            for row in table
        ],
        system,
    )
    layer = [_layer(loss=0.1)]
    plan = _planned(2, units.express(5e-5, kept.volume))
    mixed = units.to_si(
        _number(_layers(layer, measured, system, known=known, plan=plan)[0]["mixed"]), kept.volume
    )
    parts = _layers(layer, measured, system, "PB_PARTS", known, plan)[0]
    by_volume = [units.to_si(_number(parts[f"volume_{p}"]), kept.volume) for p in "abc"]
    by_mass = [units.to_si(_number(parts[f"mass_{p}"]), kept.small_mass) for p in "abc"]
    assert sum(by_volume) == pytest.approx(mixed, rel=CLOSE)
    shown = _table(evaluate("PB_PRODUCTS", [known, system]))[0][0]
    assert sum(by_mass) == pytest.approx(
        mixed * units.to_si(_number(shown), kept.density), rel=CLOSE
    )
    split = by_volume if basis == "volume" else by_mass
    for place in range(1, count):
        assert split[place] * ratio[0] == pytest.approx(split[0] * ratio[place], rel=CLOSE)
    assert all(v == 0 for v in by_volume[count:])


@given(TABLES, st.floats(0, 0.9), st.integers(1, 9), st.integers(1, 9))
def test_film_and_losses_add_up_to_the_mix(
    table: Table, loss: float, batches: int, passes: int
) -> None:
    layer = _layer(
        loss=loss,
        passes=passes,
        take_up="20 mL/m²",
        edge_loss="12 mL/m",
    )
    row = _layers([layer], _measured(table), plan=_planned(batches, 0.04))[0]
    assert row["batch_loss"] == pytest.approx(batches * 0.04, rel=CLOSE)
    kept = ("net", "take_up", "edge_loss", "loss", "batch_loss")
    assert sum(_number(row[k]) for k in kept) == pytest.approx(_number(row["mixed"]), rel=CLOSE)
    assert _number(row["coated"]) == pytest.approx(_number(row["area"]) * passes, rel=CLOSE)
    one = _layers([_layer(loss=loss)], _measured(table))[0]
    assert _number(row["dry"]) == pytest.approx(_number(one["dry"]) * passes, rel=CLOSE)


def test_layer_kept_to_one_room_takes_only_that_room() -> None:
    measured = _measured(
        [
            _room(room="Bar", shape="rectangle", a=1000, b=1000),
            _room(room="Bath", shape="rectangle", a=1000, b=500),
        ]
    )
    found = _layers([_layer(rooms="bath"), _layer(rooms="Bar; Bath"), _layer()], measured)
    assert [r["area"] for r in found] == pytest.approx([0.5, 1.5, 1.5])
    assert [r["number"] for r in found] == [1, 2, 3]


def test_unmeasured_piece_holds_up_its_layers_only() -> None:
    table = [
        _room(room="Bar", shape="rectangle", a=1000, b=1000),
        _room(room="Bath", shape="rectangle", a=1000),
    ]
    results = _table(evaluate("PB_ROOMS", [table, "metric"]))
    assert [*results[1][:5], results[1][6]] == [FAILED] * 6
    assert "Size B" in _refused(results[1][5])
    measured = [[*row, *result] for row, result in zip(table, results, strict=True)]
    layers = [_layer(rooms="Bar"), _layer()]
    for name in ("PB_AMOUNTS", "PB_PARTS"):
        plan = [_planned()] * 2
        found = _table(evaluate(name, [layers, [_product()], measured, plan, "metric"]))
        assert found[0][-1] == OK
        assert "Rooms" in _refused(found[1][-1])
        assert set(found[1][4:-1]) == {FAILED}


@settings(max_examples=30)
@given(TABLES, st.integers(1, 3), st.sampled_from(["2 L", "9 L", "40 L"]))
def test_batches_add_up_to_the_layer_planned(table: Table, passes: int, bucket: str) -> None:
    """PB_PLAN, its rows in PB_AMOUNTS and PB_PARTS, and the list of PB_BATCHES agree."""
    measured = [_with(row, rooms.COLUMNS.index("may_split"), "yes") for row in _measured(table)]
    layers = [_layer(passes=passes, loss=0.1, take_up="20 mL/m²", pigment="3 % mass")]
    cells: dict[str, Value] = {"name": "A", "layer_name": "Flood", "bucket": bucket}
    cells |= {"hands": 4, "pace": 900, "batch_loss": "40 mL"}
    how: Table = [[cells.get(c) for c in doing.DOING]]
    stated: dict[str, Value] = {"name": "Clear", "pot_life": 40, "pot_temp": 20}
    work: Table = [[stated.get(c) for c in works.COLUMNS]]
    tables: list[Value | Table] = [layers, how, [_product()], work, measured, 20.0, 2.0]
    plan = _table(evaluate("PB_PLAN", [*tables, "metric"]))[0][: len(plans.RESULTS)]
    if plan[3] != OK:
        assert "more than 999 batches" in _refused(plan[3])
        return
    shown = dict(zip(amounts.PLAN_COLUMNS, plan, strict=True))
    row = _layers(layers, measured, plan=plan)[0]
    parts = _layers(layers, measured, name="PB_PARTS", plan=plan)[0]
    assert row["batches"] == shown["batches"]
    assert _number(shown["bound"]) <= _number(shown["batches"])
    assert _number(shown["largest"]) <= _number(shown["limit"]) * (1 + CLOSE)
    listed = _table(evaluate("PB_BATCHES", [*tables, "A", "metric"]))
    ids = [c.id for c in catalogue()["PB_BATCHES"].columns]
    batches = [dict(zip(ids, r, strict=True)) for r in listed if r[-1] != ""]
    if _number(shown["batches"]) > len(listed):
        assert "room for" in _refused(batches[-1]["status"])
        return
    assert len(batches) == shown["batches"]
    for name, whole in (
        ("mixed", row["mixed"]),
        ("mass_a", parts["mass_a"]),
        ("mass_b", parts["mass_b"]),
        ("pigment_mass", parts["pigment_mass"]),
    ):
        total = math.fsum(_number(b[name]) for b in batches)
        assert total == pytest.approx(_number(whole), rel=CLOSE), name


@pytest.mark.parametrize("name", ["PB_AMOUNTS", "PB_PARTS"])
@pytest.mark.parametrize(
    ("column", "bad"),
    [
        ("plan_status", None),
        ("plan_status", "!"),
        ("plan_status", "! Batch: it is too large"),
        ("batches", 0.0),
        ("batches", "x"),
        ("left", -1.0),
        ("left", CellError("#N/A")),
    ],
)
def test_layer_without_a_sound_plan_is_refused_alone(name: str, column: str, bad: Value) -> None:
    layers = [_layer(), _layer()]
    plan = [_planned(), _with(_planned(), amounts.PLAN_COLUMNS.index(column), bad)]
    measured = _measured([_room(shape="rectangle", a=1000, b=1000)])
    found = _table(evaluate(name, [layers, [_product()], measured, plan, "metric"]))
    assert found[0][-1] == OK
    assert "Batch" in _refused(found[1][-1]) or column == "left"
    if name == "PB_AMOUNTS":
        (known, _), (bare, lost) = (_halves(row) for row in found)
        assert bare == known
        assert set(lost) == {FAILED}
    else:
        assert set(found[1][4:-1]) == {FAILED}


def test_product_that_stands_twice_is_refused_both_times() -> None:
    found = _table(evaluate("PB_PRODUCTS", [[_product(), _product(product="CLEAR")], "metric"]))
    for row in found:
        assert "twice" in _refused(row[-2])


# Anything at all


SLOWEST = 5.0  # s; one cell, on a slow computer
NASTY = [
    "inf",
    "-inf",
    "nan",
    "NaN",
    "1e999",
    "1_0",
    "0x10",
    "1/0",
    "1,234",
    "½",
    "²",
    "٣",
    "1.2.3",
    "square notch 1/8 x 1/8 at 1.2.3 %",
    "1.2.3 % mass",
    "1..2 % vol",
    ". % mass",
    "1.2.3 g per batch",
    "2 of",
    "0 of 3 x 4",
    "99 of round 0",
    "oval",
    "area",
    ";",
    ";;;",
    ",",
    "x",
    "0, 0; 1, 1",
    "0, 0; nan, 1; 1, 0",
    "=1+1",
    "'",
    '"',
    "' \"",
    "5' 13\"",
    "-3 ft",
    "3 ft/0",
    "1 kg/L/L",
    "\x00",
    "\ud800",
    "1" * 400,
    "9" * 200 + " in",
    "W" * 200,
    "! earlier",
    "µ",
    "g/m²",
    "°F",
]
CELLS = st.one_of(
    st.none(),
    st.booleans(),
    st.integers(-5, 2000),
    st.floats(allow_nan=False, allow_infinity=False),
    st.text(max_size=60),
    st.sampled_from(NASTY),
    st.builds(
        "{} {}".format,
        st.one_of(st.integers(0, 500), st.decimals(0, 500, places=2)),
        st.sampled_from(
            [
                "in",
                "ft",
                "mm",
                "kg/L",
                "L/m²",
                "g/m²",
                "mil",
                "fl oz",
                "gal",
                "oz",
                "% vol",
                "% mass",
                "g per batch",
                "x 3",
                "lb/ft²",
                "of 2 x 3",
                "°C",
                "m²/L",
            ]
        ),
    ),
    st.sampled_from(["#N/A", "#DIV/0!", "#NAME?"]).map(CellError),
)


def _rows_of(function: Function, call: Sequence[Value | Table]) -> int:
    """Return how many rows a call must give."""
    followed = FOLLOWED.get(function.name, function.arguments[0].name)
    place = [a.name for a in function.arguments].index(followed)
    table = call[place]
    return function.rows or (len(table) if isinstance(table, list) else 1)


def _halves(row: Sequence[Value]) -> tuple[list[Value], list[Value]]:
    """Return what a row of PB_AMOUNTS knows without batches, and what it does not."""
    return list(row[amounts.KNOWN]), list(row[amounts.KNOWN.stop : -1])


def _well_formed(function: Function, result: Result, call: Sequence[Value | Table]) -> None:
    if not isinstance(result, list):
        if result not in call:  # an earlier refusal passes through as it is
            _refused(result)
        assert isinstance(result, str)
        assert result.startswith(FAILED)
        return
    assert len(result) == _rows_of(function, call)
    at = _status_at(function)
    if function.name in ONE_REFUSAL and str(result[0][at]).startswith(FAILED):
        _refusal(function, result)
        return
    if function.name in DRAWN:
        assert not {row[at] for row in result[1:]} - {""}
        assert str(result[0][at]).startswith((OK, FAILED, WAITS))
        assert all(math.isfinite(_number(value)) for row in result for value in row[at + 2 :])
        return
    for row in result:
        assert len(row) == len(function.columns)
        status = str(row[at])
        if status.startswith((FAILED, WAITS)):
            _refused(status.replace(WAITS, FAILED))
            if function.name == "PB_AMOUNTS":  # what is known without its batches stands there
                bare, lost = _halves(row)
                assert set(lost) == {FAILED}
                assert set(bare) == {FAILED} or all(math.isfinite(_number(v)) for v in bare)
            elif function.name == "PB_BUY":
                assert FAILED in row  # the options it concerns, and no other
            else:
                assert set(_rest(function, row)) == {FAILED}
        elif status == "":
            assert set(row) == {""}
        else:
            assert (
                status == OK
                or (function.name == "PB_STOCK" and "not used" in status)
                or (function.name in CAUTIOUS and status.startswith("CHECK: "))
            ), ascii(status)
            for value in row:
                assert isinstance(value, str) or math.isfinite(_number(value))


def _with(row: Sequence[Value], place: int, value: Value) -> list[Value]:
    return [*row[:place], value, *row[place + 1 :]]


def _as_id(value: str) -> str:
    """Return an id any worker can send: plain letters, whatever the value."""
    return ascii(value)[:24].replace("\\", "/")


@pytest.mark.in_turn
@pytest.mark.parametrize("function", BLOCKS, ids=_name)
@pytest.mark.parametrize("value", NASTY, ids=_as_id)
def test_nasty_cell_never_breaks_a_table(function: Function, value: str) -> None:
    """The value in every argument, and every column of every table, in turn; the rest sound."""
    given = _arguments(function)
    for place, argument in enumerate(function.arguments[: len(given)]):
        table = given[place]
        spoilt: list[Value | Table] = [value]
        if isinstance(table, list):
            columns = range(len(argument.columns))
            spoilt += [[_with(table[0], column, value)] for column in columns]
        for one in spoilt:
            call = [*given[:place], one, *given[place + 1 :]]
            _well_formed(function, evaluate(function.name, call), call)


HUGE = (1e300, -1e300, 1e15, 1e6, 1e-300, 1e-9, 0.0, "x" * 40_000, "9" * 15 + " km", "a 1;" * 9_000)


@pytest.mark.in_turn
@pytest.mark.parametrize("function", BLOCKS, ids=_name)
def test_huge_cell_takes_no_huge_time_or_memory(function: Function) -> None:
    """No batches by the million, no packs by the million, no text read for minutes."""
    given = _arguments(function)
    evaluate(function.name, given)
    for place, argument in enumerate(function.arguments[: len(given)]):
        table = given[place]
        if not isinstance(table, list):
            continue
        for column in range(len(argument.columns)):
            for value in HUGE:
                call = [*given[:place], [_with(table[0], column, value)], *given[place + 1 :]]
                begin = time.process_time()
                _well_formed(function, evaluate(function.name, call), call)
                taken = time.process_time() - begin
                assert taken < SLOWEST, (
                    f"{argument.name}, {argument.columns[column]}: {value!r:.40}"
                )


@pytest.mark.in_turn
@pytest.mark.parametrize("function", SCALARS, ids=_name)
@pytest.mark.parametrize("value", NASTY, ids=_as_id)
def test_nasty_argument_never_breaks_a_function(function: Function, value: str) -> None:
    for argument in function.arguments:
        result = evaluate(function.name, _spoilt(function, argument, value))
        if isinstance(result, str):
            assert result.startswith("!")
        else:
            assert math.isfinite(_number(result))  # type: ignore[arg-type]


FUZZ = settings(max_examples=60)
SLOW = {"PB_BATCHES", "PB_DAYS", "PB_PLAN", "PB_BUY"}


def _anything(function: Function, data: st.DataObject) -> None:
    sound = _arguments(function)
    call: list[Value | Table] = []
    rows = data.draw(st.integers(1, 3))
    for place, argument in enumerate(function.arguments[: len(sound)]):
        table = sound[place]
        if not isinstance(table, list):
            call.append(data.draw(CELLS) if data.draw(st.integers(0, 9)) == 9 else table)
            continue
        made: Table = []
        for _ in range(rows):
            row = list(table[0])
            for column in data.draw(st.sets(st.integers(0, len(argument.columns) - 1), max_size=3)):
                row[column] = data.draw(CELLS)
            made.append(row)
        call.append(made)
    _well_formed(function, evaluate(function.name, call), call)


@pytest.mark.parametrize("function", [f for f in BLOCKS if f.name not in SLOW], ids=_name)
@FUZZ
@given(st.data())
def test_anything_in_a_table_gives_numbers_or_a_refusal(
    function: Function, data: st.DataObject
) -> None:
    _anything(function, data)


@pytest.mark.parametrize("function", [f for f in BLOCKS if f.name in SLOW], ids=_name)
@settings(max_examples=25)
@given(st.data())
def test_anything_in_many_tables_gives_numbers_or_a_refusal(
    function: Function, data: st.DataObject
) -> None:
    _anything(function, data)


@pytest.mark.parametrize("function", BLOCKS, ids=_name)
@settings(max_examples=40)
@given(st.data(), st.floats(-1e308, 1e308))
def test_one_figure_beyond_all_sense_gives_numbers_or_a_refusal(
    function: Function, data: st.DataObject, value: float
) -> None:
    call = _arguments(function)
    place = data.draw(st.integers(0, len(call) - 1))
    table = call[place]
    if isinstance(table, list):
        call[place] = [_with(table[0], data.draw(st.integers(0, len(table[0]) - 1)), value)]
    else:
        call[place] = value
    _well_formed(function, evaluate(function.name, call), call)


@pytest.mark.parametrize("function", SCALARS, ids=_name)
@FUZZ
@given(st.data())
def test_anything_as_an_argument_gives_a_number_or_a_refusal(
    function: Function, data: st.DataObject
) -> None:
    given = _arguments(function)
    full = data.draw(st.integers(function.required, len(function.arguments)))
    call = [*given, *[None] * full][:full]
    for place in data.draw(st.sets(st.integers(0, full - 1), min_size=1)):
        call[place] = data.draw(CELLS)
    result = evaluate(function.name, call)
    if isinstance(result, str):
        assert result.startswith("!")
        if result not in call:
            assert len(result) <= LONGEST_REFUSAL
    else:
        assert math.isfinite(_number(result))  # type: ignore[arg-type]


@given(st.sampled_from(["a", "b", "count", "cutouts", "edge_run"]), st.floats(1e150, 1e308))
@example("a", 1e308)
def test_sizes_beyond_all_sense_give_no_infinity(column: str, value: float) -> None:
    cells: dict[str, Value] = {"shape": "rectangle", "a": 1000, "b": 500, column: value}
    row = _room(**cells)
    call: list[Value | Table] = [[row], "metric"]
    _well_formed(catalogue()["PB_ROOMS"], evaluate("PB_ROOMS", call), call)


def test_huge_count_of_cutouts_takes_no_huge_memory() -> None:
    row = _room(shape="rectangle", a=1000, b=500, cutouts="300000 of round 1")
    evaluate("PB_ROOMS", [[_room(shape="rectangle", a=1000, b=500)], "metric"])
    tracemalloc.start()
    try:
        evaluate("PB_ROOMS", [[row], "metric"])
        _, peak = tracemalloc.get_traced_memory()
    finally:
        tracemalloc.stop()
    assert peak < 1_000_000, f"{peak} bytes for one cell"


@pytest.mark.parametrize(("film", "spread"), [("wet", "0.11 mm"), ("dry", "0.09 mm")])
def test_a_thinned_film_is_thicker_wet_and_as_thick_dry(film: str, spread: str) -> None:
    """0.1 mm of mix of 90 % solids and a tenth of it water: 0.11 mm wet, 0.09 mm dry."""
    layer = _layer(film=film, spread=spread, thinner="10 % vol", surfaces="top")
    (found,) = layer_table.work_out_all(
        [layer],
        [_product()],
        _measured([_room(shape="rectangle", a=2000, b=500)]),
        units.SYSTEMS["metric"],
    )
    assert isinstance(found, layer_table.Layer)
    assert found.mix_film == pytest.approx(1e-4)
    assert found.wet == pytest.approx(1.1e-4)
    assert found.dry == pytest.approx(0.9e-4)


def test_pieces_of_one_row_share_its_edge() -> None:
    """Three tops with 2 m of edge each: the row has 6 m, and each piece 2 of them."""
    table = _measured(
        [_room(shape="rectangle", a=2000, b=500, count=3, edge_run="2 m", edge_height=38)]
    )
    (found,) = layer_table.work_out_all(
        [_layer(surfaces="top")], [_product()], table, units.SYSTEMS["metric"]
    )
    assert isinstance(found, layer_table.Layer)
    assert [piece.run for piece in found.pieces] == pytest.approx([2.0, 2.0, 2.0])
    assert [piece.area for piece in found.pieces] == pytest.approx([1.0, 1.0, 1.0])
    assert found.run == pytest.approx(6.0)
