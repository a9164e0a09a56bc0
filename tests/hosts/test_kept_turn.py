"""What one confirmed workbook leaves to the next never confirms what is not so."""

from __future__ import annotations

import random
import sys
from collections.abc import Callable, Iterator, Mapping, Sequence
from pathlib import Path

import pytest
from openpyxl.formula import Tokenizer
from openpyxl.utils import range_boundaries

from pourbook.cells import CellError, Rows, Value
from pourbook.errors import CellText
from pourbook.formats.ooxml.addresses import a1, split
from pourbook.formats.ooxml.addresses import cells as block_cells
from pourbook.formats.ooxml.lines import LineShape, SheetCells, SheetLine, lines_of
from pourbook.functions import catalogue
from pourbook.hosts.headless import kept_turn, stored
from pourbook.hosts.headless.cell_rules import OddError
from pourbook.hosts.headless.engine import Cell, Recomputed, call
from pourbook.hosts.headless.kept_turn import WORTH, KeptTurn, taken
from pourbook.job import make
from pourbook.workbook.layout.lay_out import lay_out
from pourbook.workbook.read.read import read_book
from pourbook.workbook.read.sheet_lines import RawCell

PROGRAM = lay_out("job", "us", 18).program  # as many pieces as the jobs of the tests have
Tell = Callable[[CellText], None]
Sheets = Mapping[str, SheetCells[Cell]]


def sheets_of(path: Path) -> Sheets:
    return {name: anew(one.cells) for name, one in read_book(path).sheets.items()}


def anew(cells: Mapping[str, Cell]) -> SheetCells[Cell]:
    """Return the cells of a sheet as another object of the same rows."""
    return SheetCells(lines_of(cells))


def row_at(address: str) -> int:
    return split(address)[0]


def with_cells(sheets: Sheets, sheet: str, row: int, cells: Mapping[str, Cell]) -> Sheets:
    """Return sheets in which a row holds other cells, or is gone; all other rows are the same."""
    lines = [line for line in sheets[sheet].lines if line.number != row]
    lines += [SheetLine(row, cells)] if cells else []
    return {**sheets, sheet: SheetCells(sorted(lines, key=lambda line: line.number))}


def row_of(sheets: Sheets, sheet: str, address: str) -> tuple[int, dict[str, Cell]]:
    row = split(address)[0]
    held = (dict(line.cells) for line in sheets[sheet].lines if line.number == row)
    return row, next(held, {})


def changed(sheets: Sheets, sheet: str, address: str, value: Value) -> Sheets:
    """Return sheets in which one cell holds something else."""
    row, held = row_of(sheets, sheet, address)
    was = held.get(address, RawCell(None))
    return with_cells(sheets, sheet, row, {**held, address: RawCell(value, was.formula, was.array)})


def confirmed(sheets: Sheets) -> Recomputed | None:
    """Confirm sheets as others, so that what was confirmed last is not known by them."""
    return stored.as_stored({n: anew(one) for n, one in sheets.items()}, PROGRAM)


def standing(sheets: Sheets) -> KeptTurn:
    """Return what is kept once it is known which rows read what."""
    kept_turn._KEPT.clear()
    for _ in range(WORTH + 1):
        assert confirmed(sheets) is not None
    (one,) = kept_turn._KEPT
    assert one.readers is not None
    return one


@pytest.fixture(scope="module")
def sheets(settled_us: Path) -> Sheets:
    return sheets_of(settled_us)


def named(formula: str, own: str) -> set[tuple[str, int, int, int]]:
    """Return the columns that a formula names by openpyxl: sheet, column, first and last row."""
    found = set()
    for token in Tokenizer(formula).items:
        if token.type == "OPERAND" and token.subtype == "RANGE":
            sheet, _, area = token.value.rpartition("!")
            left, top, right, bottom = range_boundaries(area)
            sheet = (sheet.removeprefix("'").removesuffix("'").replace("''", "'") or own).casefold()
            found |= {(sheet, column, top, bottom) for column in range(left, right + 1)}
    return found


@pytest.mark.parametrize(
    ("book", "system", "version"),
    [("job", "us", "2"), ("job", "metric", "2"), ("job", "imperial", "2"), ("job", "us", "1")]
    + [(book, "us", "2") for book in ("shop", "month", "board")],
)
def test_what_a_formula_reads_is_all_that_it_names(book: str, system: str, version: str) -> None:
    program = lay_out(book, system, 18, version).program
    columns = {name: (sheet, column) for name, sheet, column in program.columns}
    held = 0
    for sheet, cells in program.at.items():
        for known in cells.values():
            reads = program.reads[known.code]
            if known.code in program.calling:
                assert "PB_" in known.formula
                assert not reads
                continue
            said = {(*columns[n], known.rows[top], known.rows[last]) for n, top, last in reads}
            assert said == named(known.formula, sheet), known.formula
            held += len(said)
    assert held > (20 if book != "job" else 10_000)


def of_templates() -> Iterator[tuple[str, str, str]]:
    for sheet, cells in PROGRAM.at.items():
        for address, known in cells.items():
            if PROGRAM.reads[known.code]:
                yield sheet, address, known.formula


@pytest.mark.parametrize("seed", range(12))
def test_a_formula_is_worked_out_again_where_anything_it_reads_is_another(
    seed: int, sheets: Sheets
) -> None:
    """Its own row is as it was: it is due for what it reads alone."""
    rng = random.Random(seed)
    one = standing(sheets)
    by_name = {name.casefold(): name for name in sheets}
    for sheet, address, formula in rng.sample([*of_templates()], 40):
        spots = sorted(named(formula, sheet))
        if not spots:
            continue
        low, column, top, bottom = rng.choice(spots)
        spot = (by_name[low], a1(rng.randint(top, bottom), column))
        old = sheets[spot[0]].get(spot[1], RawCell(None)).value
        other = changed(sheets, *spot, 4711.5 if old != 4711.5 else 1.0)
        one.read(other)
        assert row_at(address) in one.due[sheet], (sheet, address, spot)
        assert sum(map(len, one.due.values())) < 900  # of 1,900 rows
        one.read(sheets)


@pytest.mark.parametrize("seed", range(6))
def test_a_figure_typed_over_is_found_in_the_workbook_after(seed: int, sheets: Sheets) -> None:
    """Whether or not another was confirmed before it."""
    rng = random.Random(100 + seed)
    found = 0
    for sheet, _, formula in rng.sample([*of_templates()], 12):
        low, column, top, bottom = rng.choice(sorted(named(formula, sheet)))
        name = next(name for name in sheets if name.casefold() == low)
        spot = (name, a1(rng.randint(top, bottom), column))
        old = sheets[name].get(spot[1], RawCell(None)).value
        new: Value = old * 1.5 + 1 if isinstance(old, float) else "typed"
        other = changed(sheets, *spot, new)
        standing(sheets)
        after = confirmed(other)
        kept_turn._KEPT.clear()
        alone = confirmed(other)
        assert (after is None) == (alone is None), (formula, spot)
        if alone is not None:
            assert after is not None
            assert after.values == alone.values
        found += alone is None
    assert found > 3


def test_jobs_one_after_the_other_are_as_each_alone(
    scenario_us: make.Scenario, tmp_path: Path
) -> None:
    """Each differs in a piece, one has more of them, and one has fewer layers."""
    given = []
    for number in range(WORTH + 4):
        path = tmp_path / f"{number}.xlsx"
        entries = {**scenario_us.entries, ("rooms", "a", 0): 98.0 + number / 16}
        if number == WORTH + 1:
            entries = {key: one for key, one in entries.items() if key[0] != "sundries"}
        if number == WORTH + 2:
            entries = {
                key: one for key, one in entries.items() if key[:1] + key[2:] != ("rooms", 3)
            }
        make.make(path, scenario_us.system, entries, pieces=scenario_us.pieces)
        given.append(sheets_of(path))
    program = lay_out("job", "us", scenario_us.pieces).program
    kept_turn._KEPT.clear()
    after = [stored.as_stored(one, program) for one in given + given[::-1]]
    for found, one in zip(after, given + given[::-1], strict=True):
        kept_turn._KEPT.clear()
        alone = stored.as_stored({name: anew(cells) for name, cells in one.items()}, program)
        assert found is not None
        assert alone is not None
        assert found.values == alone.values
        assert found.refusals.keys() == alone.refusals.keys()
        assert (found.calls, found.blocks) == (alone.calls, alone.blocks)


@pytest.mark.parametrize("whole", [False, True], ids=["a formula", "a block"])
def test_what_has_no_formula_any_more_is_not_among_what_formulas_gave(
    whole: bool, sheets: Sheets
) -> None:
    """It was typed over with the very figure it showed."""
    leads = [
        (name, address)
        for name, cells in sheets.items()
        for address, cell in cells.items()
        if cell.formula and (cell.array not in {"", address}) is whole
    ]
    for name, address in leads[:: 1 + len(leads) // 4]:
        standing(sheets)
        row, held = row_of(sheets, name, address)
        value = held[address].value
        after = confirmed(with_cells(sheets, name, row, {**held, address: RawCell(value)}))
        assert after is not None
        gone = block_cells(held[address].array or address)
        assert not [one for one in gone if (name, one) in after.values]
        again = confirmed(sheets)
        assert again is not None
        assert all((name, one) in again.values for one in gone)


@pytest.mark.parametrize("whole", [False, True], ids=["a cell", "a row"])
def test_what_is_gone_from_a_block_is_found(whole: bool, sheets: Sheets) -> None:
    """The workbook before had it."""
    held = [
        (name, one)
        for name, cells in sheets.items()
        for address, cell in cells.items()
        if cell.array not in {"", address}
        for one in block_cells(cell.array)
        if split(one)[0] > split(address)[0]
        if one in cells and cells[one].value not in {None, ""}
    ]
    assert len(held) > 100
    for name, address in held[:: 1 + len(held) // 6]:
        standing(sheets)
        row, cells = row_of(sheets, name, address)
        left = {} if whole else {at: one for at, one in cells.items() if at != address}
        assert confirmed(with_cells(sheets, name, row, left)) is None


def test_a_figure_of_a_block_typed_over_is_found(sheets: Sheets) -> None:
    """What it is worked out from is as it was, and so is what it gives."""
    for name, cells in sheets.items():
        for address, cell in cells.items():
            if cell.array in {"", address}:
                continue
            inside = block_cells(cell.array)
            for one in (
                inside[-1],
                *[one for one in inside[1:] if split(one)[0] == row_at(address)],
            ):
                standing(sheets)
                old = cells[one].value if one in cells else None
                new = old + 1.0 if isinstance(old, float) else "typed"
                assert confirmed(changed(sheets, name, one, new)) is None, (name, one)
                if one != inside[-1]:
                    break


@pytest.mark.parametrize(("old", "new"), [(1.0, True), (0.0, -0.0), (0.0, False)])
def test_what_is_equal_to_python_alone_is_another(old: float, new: float, sheets: Sheets) -> None:
    one = standing(sheets)
    by_name = {name.casefold(): name for name in sheets}
    found = 0
    for sheet, address, formula in of_templates():
        for low, column, top, _ in named(formula, sheet):
            spot = (by_name[low], a1(top, column))
            held = sheets[spot[0]].get(spot[1], RawCell(None)).value
            if type(held) is float and held == old and (spot[0], top) != (sheet, row_at(address)):
                one.read(changed(sheets, *spot, new))
                assert row_at(address) in one.due[sheet]
                one.read(sheets)
                found += 1
        if found > 5:
            return
    raise AssertionError("no formula reads such a cell")


@pytest.mark.parametrize("before", [1.0, True], ids=["a number before", "TRUE before"])
def test_a_block_that_gives_true_for_1_or_1_for_true_is_found(
    before: float, sheets: Sheets, monkeypatch: pytest.MonkeyPatch
) -> None:
    """To Python they are the same; the workbook holds what was given before."""
    ones = [
        (name, one, cell)
        for name, cells in sheets.items()
        for cell in cells.values()
        if cell.formula.startswith("=PB_BATCHES(")
        for one in block_cells(cell.array)
        if one in cells and cells[one].value == 1.0
    ]
    module, ours = sys.modules[call.__module__], catalogue.evaluate
    given_out: dict[tuple[int, int], float] = {}

    def evaluate(called: str, given: Sequence[Value | Rows], tell: Tell) -> Value | Rows:
        rows = ours(called, given, tell)
        if called == "PB_BATCHES":
            assert isinstance(rows, list)
            for (row, column), value in given_out.items():
                rows[row] = [value if n == column else one for n, one in enumerate(rows[row])]
        return rows

    monkeypatch.setattr(module, "evaluate", evaluate)
    found = 0
    for name, address, lead in ones:
        left, _, right, _ = range_boundaries(lead.array)
        at, wide = block_cells(lead.array).index(address), right - left + 1
        given_out = {divmod(at, wide): before}
        held = changed(sheets, name, address, before)
        kept_turn._KEPT.clear()
        if confirmed(held) is None:
            continue  # a formula of the sheet reads it
        standing(held)
        given_out = {divmod(at, wide): 1.0 if before is True else True}
        assert confirmed(held) is None
        found += 1
    assert found


def test_a_row_that_stands_twice_is_left_to_an_engine(sheets: Sheets) -> None:
    name, cells = next((n, c) for n, c in sheets.items() if c.lines)
    assert confirmed({**sheets, name: SheetCells([*cells.lines, cells.lines[0]])}) is None


def test_a_workbook_that_was_not_confirmed_leaves_nothing(sheets: Sheets) -> None:
    standing(sheets)
    sheet, address, _ = next(of_templates())
    assert confirmed(changed(sheets, sheet, address, "typed over")) is None
    assert not kept_turn._KEPT
    assert confirmed(sheets) is not None


def test_formulas_of_ones_own_are_those_of_their_workbook_alone(sheets: Sheets) -> None:
    standing(sheets)
    total = next((n, a) for n, a, _ in of_templates() if isinstance(sheets[n][a].value, float))
    value = sheets[total[0]][total[1]].value
    assert isinstance(value, float)
    own = {"A900": RawCell(value + 1, f"='{total[0]}'!{total[1]}+1")}
    found = confirmed(with_cells(sheets, "Scratch", 900, own))
    assert found is not None
    assert found.values["Scratch", "A900"] == value + 1
    after = confirmed(sheets)
    assert after is not None
    assert ("Scratch", "A900") not in after.values
    wrong = {"A900": RawCell(value + 2, own["A900"].formula)}
    assert confirmed(with_cells(sheets, "Scratch", 900, wrong)) is None


def test_two_turns_at_once_use_two(sheets: Sheets) -> None:
    standing(sheets)
    one, two = taken(PROGRAM, sheets), taken(PROGRAM, sheets)
    assert one is not two
    assert (one.turns, two.turns) == (WORTH + 1, 0)


def test_another_program_with_the_same_sheets_has_its_own(sheets: Sheets) -> None:
    standing(sheets)
    other = lay_out("job", "metric", 18).program
    assert taken(other, sheets).turns == 0
    assert taken(PROGRAM, sheets).turns == WORTH + 1


def _with(sheets: Sheets, name: str, row: int, shape: LineShape[Cell]) -> Sheets:
    """Return sheets in which a row of one is of a shape, and holds what that does."""
    lines = [line for line in sheets[name].lines if line.number != row]
    line = SheetLine(row, shape.cells, shape)
    return {**sheets, name: SheetCells(sorted([*lines, line], key=lambda one: one.number))}


def test_a_shape_is_known_by_its_sheet_and_by_its_program(sheets: Sheets) -> None:
    """A formula of one sheet is one's own on another; other templates have other code for it."""
    first = lay_out("job", "us", 18, "1").program
    at, cell = next(
        (at, cell)
        for at, cell in sheets["Price"].items()
        if at in PROGRAM.at["Price"]
        and cell.formula == PROGRAM.at["Price"][at].formula
        and not cell.array
        and at not in PROGRAM.at["Used"]
    )
    row = row_at(at)
    shape = LineShape({at: cell})
    both = _with(_with(sheets, "Price", row, shape), "Used", row, shape)
    turn = KeptTurn(PROGRAM, both)
    turn.read(both)
    assert [one[0] for one in turn.planned["Price"][row]] == [at]
    assert turn.own == [("Used", at, cell.formula)]
    assert row not in turn.planned["Used"]
    at, cell = next(
        (at, cell)
        for name in PROGRAM.at.keys() & first.at.keys()
        for at, cell in sheets[name].items()
        if cell.formula
        and not cell.array
        and at in PROGRAM.at[name]
        and at in first.at[name]
        and PROGRAM.at[name][at].code != first.at[name][at].code
        and PROGRAM.at[name][at].formula == cell.formula == first.at[name][at].formula
    )
    (name,) = [one for one in sheets if sheets[one].get(at) is cell]
    shape, row = LineShape({at: cell}), row_at(at)
    nothing: Sheets = {sheet: SheetCells() for sheet in sheets}
    one = _with(nothing, name, row, shape)
    for program in (PROGRAM, first):
        turn = KeptTurn(program, one)
        turn.read(one)
        assert [(place, code) for place, _, code, _ in turn.planned[name][row]] == [
            (at, program.at[name][at].code)
        ]


def test_an_error_that_is_stored_is_left_to_an_engine(sheets: Sheets) -> None:
    at = next(at for at, cell in sheets["Used"].items() if not cell.formula)
    turn = KeptTurn(PROGRAM, sheets)
    with pytest.raises(OddError):
        turn.read(changed(sheets, "Used", at, CellError("#N/A")))
