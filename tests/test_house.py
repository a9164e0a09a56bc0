"""The house: rooms in one order, imports down it and never in a circle, small modules, own names.

Each test names the file at fault.
"""

from __future__ import annotations

import ast
import importlib
import os
import re
import tomllib
from collections import Counter
from functools import cache
from pathlib import Path

import pytest

import pourbook

PACKAGE = Path(pourbook.__file__).parent
HERE = Path(__file__).parent
MODULES = sorted(p.relative_to(PACKAGE) for p in PACKAGE.rglob("*.py"))
FLOOR = {
    *("__init__", "alike", "compiled", "errors", "resources", "cells", "dates", "once"),
    "records",
}
"""Modules that belong to no room: every room may import them."""
ROOMS = (
    *("floor", "units", "formats", "trade", "tables", "functions", "hosts", "workbook", "job"),
    *("shop", "archive", "papers", "commands", "door"),
)
"""A room may import itself and the rooms before it; the door is what a shell or Python opens."""
MOST_LINES = 420
MOST_MODULES = 15


def dotted(path: Path) -> str:
    """Return a module's name below the package, such as ``trade.film``; a package has its own."""
    parts = path.with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" and len(parts) > 1 else parts)


def room(name: str) -> str:
    """Return the room of a module below the package."""
    first = name.partition(".")[0]
    if first in FLOOR:
        return "floor"
    return first if first in ROOMS else "door"


KNOWN = {dotted(p): p for p in MODULES}


@cache
def imported(path: Path) -> frozenset[str]:
    """Return the modules below the package that a module imports, anywhere in it."""
    found: set[str] = set()
    for node in ast.walk(ast.parse((PACKAGE / path).read_text(encoding="utf-8"))):
        if isinstance(node, ast.ImportFrom) and node.module and node.level == 0:
            first, _, rest = node.module.partition(".")
            if first == "pourbook":
                for alias in node.names:
                    full = f"{rest}.{alias.name}" if rest else alias.name
                    found.add(full if full in KNOWN else rest or "__init__")
        elif isinstance(node, ast.Import):
            names = [a.name for a in node.names if a.name.startswith("pourbook.")]
            found |= {n.partition(".")[2] for n in names}
    return frozenset(found)


@pytest.mark.parametrize("path", MODULES, ids=str)
def test_imports_go_down_the_house(path: Path) -> None:
    own = room(dotted(path))
    for name in imported(path):
        other = room(name)
        assert ROOMS.index(other) <= ROOMS.index(own), f"{path} ({own}) imports {name} ({other})"


@pytest.mark.parametrize("path", MODULES, ids=str)
def test_no_module_imports_itself_by_a_way_round(path: Path) -> None:
    start = dotted(path)
    way: dict[str, str] = {}
    open_ = [start]
    while open_:
        name = open_.pop()
        for other in imported(KNOWN[name]):
            if other == start:
                told = [name]
                while told[-1] != start:
                    told.append(way[told[-1]])
                pytest.fail(f"{path} imports itself: {' from '.join([start, *told])}")
            if other in KNOWN and other not in way:
                way[other] = name
                open_.append(other)


def test_rooms_inside_a_room_import_each_other_one_way() -> None:
    inner = {n: ".".join(n.split(".")[:2]) for n in KNOWN if n.count(".") >= 2}
    edges = {
        (inner[n], inner[other], n)
        for n in inner
        for other in imported(KNOWN[n])
        if other in inner and inner[other] != inner[n]
    }
    both = {(a, b): n for a, b, n in edges}
    back = [f"{n} imports {b}, which imports {a}" for (a, b), n in both.items() if (b, a) in both]
    assert not back


@pytest.mark.parametrize("path", [p for p in MODULES if p.parts[0] == "trade"], ids=str)
def test_trade_knows_no_spreadsheet_and_no_units(path: Path) -> None:
    tree = ast.parse((PACKAGE / path).read_text(encoding="utf-8"))
    outside = {
        (alias.name if isinstance(node, ast.Import) else str(node.module)).partition(".")[0]
        for node in ast.walk(tree)
        if isinstance(node, ast.Import | ast.ImportFrom)
        for alias in node.names
    }
    assert not outside & {"openpyxl", "pint", "xlwings", "formulas", "formualizer", "numpy"}
    assert not {n for n in imported(path) if room(n) in {"units", "formats"}}


def test_modules_stay_small() -> None:
    long = {
        str(p): n
        for p in MODULES
        if (n := len((PACKAGE / p).read_text(encoding="utf-8").splitlines())) > MOST_LINES
    }
    assert not long


def test_rooms_stay_small() -> None:
    full = Counter(str(p.parent) for p in MODULES if p.name != "__init__.py")
    assert not {name: n for name, n in full.items() if n > MOST_MODULES}


def test_a_module_name_stands_once() -> None:
    names = Counter(p.stem for p in MODULES if not p.stem.startswith("__"))
    twice = [str(p) for p in MODULES if names[p.stem] > 1]
    assert not twice


def test_a_class_name_stands_once() -> None:
    where: dict[str, list[str]] = {}
    for path in MODULES:
        tree = ast.parse((PACKAGE / path).read_text(encoding="utf-8"))
        for node in tree.body:
            if isinstance(node, ast.ClassDef) and not node.name.startswith("_"):
                where.setdefault(node.name, []).append(str(path))
    assert not {name: found for name, found in where.items() if len(found) > 1}


def test_product_code_is_used_by_the_product() -> None:
    """A function or class that only tests call is no product: it belongs to the oracles."""
    texts = {p: (PACKAGE / p).read_text(encoding="utf-8") for p in MODULES}
    # what Excel's macros call
    basic = [p.read_text(encoding="ascii") for p in PACKAGE.rglob("*_ribbon.bas")]
    unused = []
    for path, text in texts.items():
        if room(dotted(path)) in {"commands", "door"}:
            continue  # what a shell calls
        for node in ast.parse(text).body:
            if not isinstance(node, ast.FunctionDef | ast.ClassDef) or node.name.startswith("_"):
                continue
            name = re.compile(rf"\b{node.name}\b")
            own = len(name.findall(text)) - len(name.findall(ast.get_docstring(node) or ""))
            others = [*basic, *(t for p, t in texts.items() if p != path)]
            if own <= 1 and not any(map(name.search, others)):
                unused.append(f"{path}: {node.name}")
    assert not unused


@pytest.mark.parametrize("path", sorted(HERE.rglob("*.py")), ids=lambda p: str(p.relative_to(HERE)))
def test_no_test_takes_what_another_keeps_to_itself(path: Path) -> None:
    tree = ast.parse(path.read_text(encoding="utf-8"))
    private = [
        f"{node.module}.{alias.name}"
        for node in ast.walk(tree)
        if isinstance(node, ast.ImportFrom) and str(node.module).startswith("tests.")
        for alias in node.names
        if alias.name.startswith("_")
    ]
    assert not private


def test_types_pass_without_what_only_an_extra_brings() -> None:
    """CI installs the extra ``test`` and no other: the types of the others are not looked for."""
    told = tomllib.loads((HERE.parent / "pyproject.toml").read_text(encoding="utf-8"))
    extras = told["project"]["optional-dependencies"]
    named = {extra: {re.split("[>=<]", one)[0] for one in those} for extra, those in extras.items()}
    missing = set.union(*named.values()) - named["test"]
    assert missing
    ignored = told["tool"]["mypy"]["overrides"][0]["module"]
    assert not {name for name in missing if f"{name}.*" not in ignored}


PROGRAMS = {"__main__", "component"}
"""What a shell or Calc starts; neither holds a pattern of such a kind."""
_CLASS = re.compile(r"\[\^?\]?(?:\\.|[^\]])*\]")
_POSSESSIVE = re.compile(r"(?<!\\)[*+?}]\+")


@pytest.mark.parametrize("path", [p for p in MODULES if p.stem not in PROGRAMS], ids=str)
def test_no_pattern_needs_a_python_of_its_own(path: Path) -> None:
    """Before 3.11.5 a possessive repetition (``*+``) matches wrongly, too much or too little.

    Python issues 106052 and 100061, read; the Python of Debian 12 is 3.11.2.
    """
    try:
        module = importlib.import_module(f"pourbook.{dotted(path)}")
    except ModuleNotFoundError as error:
        if error.name != "tkinter":
            raise
        pytest.skip("this Python has no windows")
    patterns = [one.pattern for one in vars(module).values() if isinstance(one, re.Pattern)]
    texts = [one.decode("latin-1") if isinstance(one, bytes) else one for one in patterns]
    assert not [one for one in texts if _POSSESSIVE.search(_CLASS.sub("x", one))]


def test_a_file_goes_whole_to_one_worker(request: pytest.FixtureRequest) -> None:
    """What a file's tests share is made once, and the plain engine reads a formula once.

    Nothing fails where it does not, all just takes longer: so it was with pytest 9.2.
    """
    if "PYTEST_XDIST_WORKER" not in os.environ:
        pytest.skip("one process runs all")
    assert request.node.nodeid.endswith("@tests/test_house.py")
