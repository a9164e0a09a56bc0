"""Every argument of every scalar function, given something of the wrong kind.

Each gives a short text that names the argument, and nothing fails inside. The same cases go through
Excel's argument path in ``tests/hosts/test_excel_functions.py``.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

import pytest

from pourbook.cells import CellError, Rows, Value
from pourbook.functions.catalogue import JOINTS, catalogue, evaluate
from pourbook.functions.declare import Argument
from pourbook.hosts.headless.engine import Recomputed, call
from pourbook.trade import measuring

DATE = 46351.0  # 2026-11-25, as every spreadsheet program hands a date over
LONGEST = 250
# A call with every argument given, where the first example leaves some out.
FULL: dict[str, tuple[Value, ...]] = {
    "PB_AREA": ("ft²", "L-shape", "8 ft", "2 ft", "6 ft", "2 ft"),
    "PB_FILM": ("120 g/m²", "mm", "1.2 kg/L"),
    "PB_SPREAD": ("125 µm", "m²/L", "65 %", "10 %"),
    "PB_SPLIT": ("3 L", "g", "2:1", 2.0, "volume", "1.1:1"),
    "PB_NOTCH": ("square", "mil", "1/8 in", "1/8 in", "1/8 in", "90 %"),
}
# The sizes of a shape are named as the shape has them, not by their letters.
SIZES = dict(zip("abcd", measuring.SHAPES["L-shape"].dimensions.values(), strict=True))
WRONG: dict[str, Value | Rows] = {
    "word": "plenty",
    "true": True,
    "date": DATE,
    "time": 2 / 24 + 1 / 1440,  # what a cell makes of a typed 2:1
    "range": [[1.0, 2.0], [3.0, 4.0]],
    "empty range": [[None, None], [None, None]],
    "blank": None,
    "error": CellError("#DIV/0!"),
}


class Case(NamedTuple):
    function: str
    argument: Argument
    place: int
    wrong: str


def right_call(name: str) -> list[Value | Rows]:
    """Return a call with every argument in order."""
    function = catalogue()[name]
    return list(FULL.get(name) or function.examples[0].arguments)


def cases() -> Iterator[Case]:
    """Yield every argument with everything it must refuse."""
    for name, function in catalogue().items():
        if name in JOINTS:
            continue  # what its functions refuse is tried with them
        if function.columns:
            continue
        for index, argument in enumerate(function.arguments):
            for wrong in WRONG:
                number = argument.kind == "number" and name != "PB_SPLIT"
                share = argument.dimension == "fraction"
                if wrong in {"date", "time"} and number:
                    continue  # a date is a number: nothing tells it from one
                if wrong == "time" and share:
                    continue  # as small a number is a share
                needed = name in {"PB_AREA", "PB_FILM"} or argument.name == "densities"
                if wrong == "blank" and argument.optional and not needed:
                    continue  # left out is no fault
                yield Case(name, argument, index, wrong)


CASES = [pytest.param(c, id=f"{c.function}-{c.argument.name}-{c.wrong}") for c in cases()]


def test_every_scalar_function_is_tried() -> None:
    scalars = {name for name, function in catalogue().items() if not function.columns}
    scalars -= {name for name in scalars if not catalogue()[name].arguments}
    assert {p.values[0].function for p in CASES} == scalars  # type: ignore[union-attr]
    for name in scalars:
        assert len(right_call(name)) == len(catalogue()[name].arguments)
        assert isinstance(evaluate(name, right_call(name)), float), (
            f"{name}: the right call is refused"
        )


@pytest.mark.parametrize("case", CASES)
def test_a_wrong_argument_is_named_in_a_short_text(case: Case) -> None:
    arguments = right_call(case.function)
    arguments[case.place] = WRONG[case.wrong]
    record = Recomputed()
    told = call(case.function, arguments, record)
    assert record.reasons == []
    assert isinstance(told, str), f"{told} for {case.wrong}"
    assert told.startswith("! ")
    assert len(told) <= LONGEST
    assert "Error" not in told
    assert "Traceback" not in told
    name = case.argument.name
    words = (name, SIZES.get(name, name)) if case.function == "PB_AREA" else (name,)
    subject = told.removeprefix("! ").removeprefix("volume ")  # volume solids
    assert any(subject.startswith((f"{w}: ", f"{w} is ")) for w in words), told


@pytest.mark.parametrize(
    ("ratio", "words"),
    [
        (2.0, "! ratio: '2' has no colon"),
        ("3:x", "! ratio: '3:x': type numbers"),
        ("2:1:1", "! densities: 2 stand for 3 parts"),
    ],
)
def test_a_ratio_is_never_guessed(ratio: Value, words: str) -> None:
    told = evaluate("PB_SPLIT", ["3 L", "g", ratio, 1.0, "volume", "1.1:1"])
    assert isinstance(told, str)
    assert told.startswith(words)
    assert "such as" in told


def test_a_dose_may_be_a_mortar_but_not_a_date() -> None:
    assert evaluate("PB_DOSE", ["5 kg", "kg", "600 %"]) == 30.0
    assert evaluate("PB_DOSE", ["5 kg", "kg", 6.0]) == 30.0
    told = evaluate("PB_DOSE", ["5 kg", "kg", DATE])
    assert told == "! share: it is above 1000 %: type a share, such as 2 %"
