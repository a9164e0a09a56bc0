"""Imports go one way: trade, then functions, then hosts, then the workbook, then the commands."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

import pourbook

PACKAGE = Path(pourbook.__file__).parent
MODULES = sorted(p.relative_to(PACKAGE) for p in PACKAGE.rglob("*.py"))
# A layer may import itself and the layers before it.
LAYERS = ("base", "trade", "functions", "hosts", "workbook", "commands")
BASE = {"__init__", "__version__", "errors", "resources", "units", "lengths", "addresses", "gs1"}


def layer(name: str) -> str:
    """Return the layer of a module below the package, such as ``trade.film``."""
    first = name.partition(".")[0]
    if first in LAYERS:
        return first
    return "base" if first in BASE else "commands"


def imported(path: Path) -> set[str]:
    """Return the names below the package that a module imports, anywhere in it."""
    found: set[str] = set()
    for node in ast.walk(ast.parse((PACKAGE / path).read_text(encoding="utf-8"))):
        if isinstance(node, ast.ImportFrom) and node.module and node.level == 0:
            parts = node.module.split(".")
            if parts[0] == "pourbook":
                rest = ".".join(parts[1:])
                found |= {rest} if rest else {alias.name for alias in node.names}
        elif isinstance(node, ast.Import):
            names = [a.name for a in node.names if a.name.startswith("pourbook.")]
            found |= {n.partition(".")[2] for n in names}
    return found


@pytest.mark.parametrize("path", MODULES, ids=str)
def test_imports_go_one_way(path: Path) -> None:
    own = layer(".".join(path.with_suffix("").parts))
    for name in imported(path):
        other = layer(name)
        assert LAYERS.index(other) <= LAYERS.index(own), f"{path} ({own}) imports {name} ({other})"


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
    assert not {n for n in imported(path) if n.startswith("units")}


def test_modules_stay_small() -> None:
    long = {
        str(p): n
        for p in MODULES
        if (n := len((PACKAGE / p).read_text(encoding="utf-8").splitlines())) > 420
    }
    assert not long
