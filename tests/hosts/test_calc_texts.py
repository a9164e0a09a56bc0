"""What LibreOffice shows in words: every refusal, every help text, and what a blank cell does.

One LibreOffice works out one sheet that holds every example of the catalogue spoilt in every way
below; what it shows is held against the catalogue called from Python. The package is installed by
LibreOffice's own ``unopkg``, which wants a user other than root.
"""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner
from tests.hosts.calc_live import DRIVER, PYTHON, laid_out, program, same

from pourbook.cells import Rows, Value
from pourbook.cli import cli
from pourbook.errors import FAILED
from pourbook.functions.catalogue import JOINTS, catalogue, evaluate
from pourbook.functions.declare import Argument, Example, Result
from pourbook.hosts.calc import add_to_calc, bundle, values
from pourbook.hosts.headless.engine import spread
from pourbook.hosts.steps import WORK

pytestmark = pytest.mark.in_turn

Given = Value | tuple[tuple[Value, ...], ...]
NONSENSE = "neither this nor that"
SPOILT: dict[str, tuple[Given, ...]] = {
    "measure": ("", NONSENSE, "-5 ft", "5 psi", "1,234 L", "12 oz", "7 furlongs", "x" * 120, 7.0),
    "text": ("", NONSENSE, "psi", 7.0),
    "number": ("", NONSENSE, -1.0, 1e13),
}
ROW_SPOILT = (NONSENSE, -1.0)


AS_TYPED = {"PB_ENTERED", "PB_LOOKS", "PB_OPTIONS", "PB_CASES", "PB_WORDS"}
"""Functions that refuse nothing a person types: each argument is spoilt in one way only."""


def _spoilt(name: str, argument: Argument, given: Given) -> Iterator[Given]:
    """Give an argument's value spoilt in every way."""
    if argument.kind != "rows":
        yield from SPOILT[argument.kind][: 1 if name in AS_TYPED else None]
        if isinstance(given, str | float):
            yield ((given, given),)
        return
    assert isinstance(given, tuple)
    first, *others = given
    yield tuple((*row, "too wide") for row in given)
    for at in range(1 if name in AS_TYPED else len(first)):
        for bad in ROW_SPOILT:
            yield ((*first[:at], bad, *first[at + 1 :]), *others)


def _tuples(result: Result) -> Given:
    return tuple(map(tuple, result)) if isinstance(result, list) else result


def _expected(name: str, given: tuple[Given, ...]) -> Example:
    plain = [[list(row) for row in a] if isinstance(a, tuple) else a for a in given]
    return Example(given, _tuples(spread(catalogue()[name], plain, evaluate(name, plain))))


def _cases() -> list[tuple[str, Example]]:
    found = []
    for name, function in catalogue().items():
        if name in JOINTS:
            continue  # what its functions refuse is tried with them
        example = function.examples[0].arguments
        if not function.columns:
            found.append((name, _expected(name, example[: function.required - 1])))
        for at, (argument, given) in enumerate(zip(function.arguments, example, strict=False)):
            for bad in _spoilt(name, argument, given):
                found.append((name, _expected(name, (*example[:at], bad, *example[at + 1 :]))))
    return found


CASES = _cases()
# What stands in the cell pointed at is blank; what Calc makes of it, and whether that is the
# catalogue's answer to a missing argument. It is not where a bare 0 is a number or a share.
BLANK_CELLS: dict[str, tuple[str, list[Value | Rows], bool]] = {
    '=PB_READ(ZZ1;"in")': ("PB_READ", [None, "in"], True),
    '=PB_READ("2 ft";ZZ1)': ("PB_READ", ["2 ft", None], True),
    '=PB_AREA("ft²";"rectangle";"5 ft";"3 ft";ZZ1;ZZ1)': (
        "PB_AREA",
        ["ft²", "rectangle", "5 ft", "3 ft", None, None],
        True,
    ),
    '=PB_AREA("ft²";"circle";ZZ1)': ("PB_AREA", ["ft²", "circle", None], True),
    '=PB_FILM("120 g/m²";"mm";ZZ1)': ("PB_FILM", ["120 g/m²", "mm", None], True),
    '=PB_SPREAD("125 µm";"m²/L";0.65;ZZ1)': ("PB_SPREAD", ["125 µm", "m²/L", 0.65, None], True),
    '=PB_SPLIT("3 L";"L";"2:1";1;ZZ1)': ("PB_SPLIT", ["3 L", "L", "2:1", 1.0, None], True),
    '=PB_NEED("3 L";"L";ZZ1)': ("PB_NEED", ["3 L", "L", 0.0], False),
    '=PB_SPREAD("125 µm";"m²/L";ZZ1)': ("PB_SPREAD", ["125 µm", "m²/L", 0.0], False),
    '=PB_CONVERT(ZZ1;"in";"mm")': ("PB_CONVERT", [0.0, "in", "mm"], False),
}


@pytest.fixture(scope="module")
def said(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Any]:
    soffice = program()
    folder = tmp_path_factory.mktemp("texts")
    bundle.build(folder / "pourbook.oxt")
    entered, formulas, _ = laid_out(CASES)
    blanks = [[f"A{row}", formula] for row, formula in enumerate(BLANK_CELLS, 1)]
    return _run(
        folder,
        {
            "program": soffice,
            "profile": str(folder / "profile"),
            "package": str(folder / "pourbook.oxt"),
            "tasks": [
                {
                    "set": entered,
                    "formulas": formulas,
                    "manual": True,
                    "ranges": [address for address, _ in formulas],
                },
                {"formulas": blanks},
            ],
            "describe": "PB_",
        },
    )


def _run(folder: Path, order: dict[str, Any]) -> dict[str, Any]:
    (folder / "job.json").write_text(json.dumps(order), encoding="utf-8")
    done = subprocess.run(
        [PYTHON, str(DRIVER), str(folder / "job.json")],
        env={**add_to_calc.environment(os.environ), "HOME": str(folder)},
        capture_output=True,
        text=True,
        timeout=400,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    answer: dict[str, Any] = json.loads(done.stdout)
    return answer


def _rows(example: Example) -> tuple[tuple[Value, ...], ...]:
    return example.result if isinstance(example.result, tuple) else ((example.result,),)


def _texts(example: Example) -> set[str]:
    cells = (value for row in _rows(example) for value in row)
    return {v for v in cells if isinstance(v, str) and v.startswith(FAILED)}


@pytest.mark.parametrize("name", [n for n in catalogue() if n not in JOINTS])
def test_every_function_is_spoilt_in_many_ways(name: str) -> None:
    spoilt = [example for known, example in CASES if known == name]
    assert len(set().union(*map(_texts, spoilt))) >= min(4, len(catalogue()[name].arguments))


@pytest.mark.libreoffice
class TestLive:
    @pytest.mark.parametrize("name", [n for n in catalogue() if n not in JOINTS])
    def test_refusals_are_the_catalogues(self, said: dict[str, Any], name: str) -> None:
        wrong = []
        for (known, example), shown in zip(CASES, said["tasks"][0]["ranges"], strict=True):
            if known == name:
                pairs = zip(_rows(example), shown, strict=True)
                wrong += [
                    (example.typed(name), ours, theirs)
                    for row, other in pairs
                    for ours, theirs in zip(row, other, strict=True)
                    if not same(ours, theirs)
                ]
        assert not wrong, f"(call, catalogue, Calc): {wrong}"

    def test_wizard_shows_the_catalogues_words(self, said: dict[str, Any]) -> None:
        shown = said["described"]
        assert shown.keys() == catalogue().keys()
        for name, function in catalogue().items():
            assert shown[name] == {
                "description": f"{function.summary}. Gives {function.result}",
                "arguments": [
                    [a.name, a.help + (" (may be left out)" if a.optional else "")]
                    for a in function.arguments
                ],
            }

    @pytest.mark.parametrize("formula", BLANK_CELLS)
    def test_a_blank_cell_is_a_blank_to_calc_too(self, said: dict[str, Any], formula: str) -> None:
        name, given, missing = BLANK_CELLS[formula]
        row = list(BLANK_CELLS).index(formula) + 1
        assert same(evaluate(name, given), said["tasks"][1]["sheets"]["Sheet1"].get(f"A{row}", ""))
        absent = [None if a == 0 else a for a in given]
        assert missing == (evaluate(name, given) == evaluate(name, absent))


def test_zero_that_can_be_typed_is_kept() -> None:
    assert values.answer("PB_READ", (0.0, "%")) == 0.0
    assert values.answer("PB_READ", (0.0, "in")) == evaluate("PB_READ", [None, "in"])
    assert "part 0" in str(values.answer("PB_SPLIT", ("3 L", "L", "2:1", 0.0, None, None)))


@pytest.fixture
def home() -> Iterator[Path]:
    """Give a home for a LibreOffice profile, which the user of :func:`_as_anyone` may write."""
    folder = Path(tempfile.mkdtemp(prefix="pourbook-home"))
    try:
        yield folder
    finally:
        shutil.rmtree(folder)


def _as_anyone(home: Path) -> None:
    """Put a ``unopkg`` on the path that is the real one, run by a user it accepts."""
    real = shutil.which(
        "unopkg", path=os.environ["PATH"] + os.pathsep + "/usr/lib/libreoffice/program"
    )
    assert real is not None
    user = ""
    if os.getuid() == 0:
        if shutil.which("runuser") is None:
            pytest.skip("unopkg refuses root, and there is no runuser to be another user with")
        shutil.chown(home, "nobody")
        user = "runuser -u nobody --"
    script = home / "bin" / "unopkg"
    script.parent.mkdir(mode=0o755)
    # Another user cannot read the folder the package is built in.
    script.write_text(
        f'#!/bin/sh\n[ "$1" = list ] && exec {user} env HOME={home} {real} list\n'
        f'cp "$3" {home}/pourbook.oxt && chmod 644 {home}/pourbook.oxt\n'
        f'exec {user} env HOME={home} {real} "$1" "$2" {home}/pourbook.oxt\n'
    )
    script.chmod(0o755)


@pytest.mark.libreoffice
def test_real_unopkg_takes_the_package(home: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    program()
    _as_anyone(home)
    monkeypatch.setenv("PATH", str(home / "bin"), prepend=os.pathsep)
    for _ in range(2):  # the second time it replaces the first
        done = CliRunner().invoke(cli, ["addin", "calc", "install"])
        assert done.exit_code == 0, done.output
    listed = subprocess.run(
        [str(home / "bin" / "unopkg"), "list"],
        capture_output=True,
        text=True,
        timeout=100,
        check=True,
    ).stdout
    assert listed.count(f"Identifier: {bundle.IDENTIFIER}") == 1
    assert "is registered: no" not in listed
    assert listed.count("is registered: yes") == 6  # the package and its five parts


@pytest.mark.libreoffice
def test_the_menu_opens_the_window_with_the_workbook_at_hand(
    tmp_path: Path, demo_us: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """LibreOffice has read every line; a script stands for the Python that a line starts."""
    told, script = tmp_path / "told.txt", tmp_path / "python"
    script.write_text(
        f'#!/bin/sh\nprintf "%s\\n" "$@" "${{PYTHONHOME:-none}}" > {told}.part\n'
        f"mv {told}.part {told}\n"
    )
    script.chmod(0o755)
    monkeypatch.setattr(sys, "executable", str(script))
    bundle.build(tmp_path / "pourbook.oxt")
    asked = {
        "program": program(),
        "profile": str(tmp_path / "profile"),
        "package": str(tmp_path / "pourbook.oxt"),
        "tasks": [],
        "menu": {
            "node": "org.pourbook.menu",
            "open": str(demo_us),
            "press": f"service:{bundle.MENU}?settle",
        },
    }
    shown = _run(tmp_path, asked)["menu"]
    assert shown["title"] == "Pourbook"
    assert shown["lines"] == [[s.label, f"service:{bundle.MENU}?{s.name}"] for s in WORK]
    for _ in range(100):
        if told.exists():
            break
        time.sleep(0.1)
    assert told.read_text().splitlines() == [
        *("-m", "pourbook", "desk", str(demo_us), "--step", "settle", "none")
    ]
