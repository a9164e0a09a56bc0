"""Plants one small slip at a time in the calculations and sees whether a test fails.

Run by hand: ``python tests/mutate.py --sample 300`` (five hours on two cores). Slips are counted in
a fixed order and drawn with a fixed seed, so that anybody plants the same ones; ``--rooms trade``
keeps to a room, ``--only TEXT`` to files whose name holds a text, ``--list`` plants none. Each slip
is made in a copy of the project; the tests nearest to it run first, and the first that fails kills
it. What lived is printed with its line. Those of :data:`EQUIVALENT` change nothing that can be
seen, and are not counted.
"""

from __future__ import annotations

import argparse
import ast
import copy
import os
import random
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from queue import Queue

ROOT = Path(__file__).parents[1]
PACKAGE = Path("src/pourbook")
ROOMS = ("trade", "functions", "tables")
SECONDS = 600
"""How long the tests of one slip may take; a slip that never ends is killed too."""
COMPARED = {
    ast.Lt: ast.LtE, ast.LtE: ast.Lt, ast.Gt: ast.GtE, ast.GtE: ast.Gt, ast.Eq: ast.NotEq,
    ast.NotEq: ast.Eq, ast.Is: ast.IsNot, ast.IsNot: ast.Is, ast.In: ast.NotIn, ast.NotIn: ast.In,
}  # fmt: skip
COMBINED = {ast.Add: ast.Sub, ast.Sub: ast.Add, ast.Mult: ast.Div, ast.Div: ast.Mult}
JOINED = {ast.And: ast.Or, ast.Or: ast.And}
SWAPPED = {"min": "max", "max": "min", "any": "all", "all": "any", "floor": "ceil", "ceil": "floor"}
NEAREST = {
    "trade": ("tests/trade", "tests/published", "tests/functions"),
    "functions": ("tests/functions", "tests/published", "tests/workbook/test_check.py"),
    "tables": ("tests/functions", "tests/published", "tests/shop", "tests/workbook/test_check.py"),
}
EQUIVALENT: dict[tuple[str, str], str] = {
    (
        "fewest.py",
        "200 + 4 * many -> 200 - 4 * many",
    ): "how long evening out may take; where it stops early, the search goes on without it",
    (
        "acceptance.py",
        "under + thin if rule.inclusive else thin -> thin if rule.inclusive else under + thin",
    ): "a reading under the floor fails first, whatever else is low",
    (
        "pouring.py",
        "room - left -> room + left",
    ): "sets that leave too much lead to no plan: they are left out to save steps",
}
"""Slips that change nothing: by file and by what is said of the slip, the reason."""


@dataclass(frozen=True)
class Slip:
    """One slip: the file, its line, what was there and what is planted."""

    path: Path
    line: int
    number: int
    said: str

    def __str__(self) -> str:
        return f"{self.path}:{self.line}: {self.said}"


def _places(tree: ast.Module) -> Iterator[ast.AST]:
    """Give every place of a module where a slip can stand."""
    texts = {id(node.value) for node in ast.walk(tree) if isinstance(node, ast.Expr)}
    notes = {id(n) for node in ast.walk(tree) for n in _annotations(node)}
    for node in ast.walk(tree):
        if id(node) in texts or id(node) in notes:
            continue
        if _fits(node):
            yield node


def _fits(node: ast.AST) -> bool:
    if isinstance(node, ast.Compare):
        return type(node.ops[0]) in COMPARED
    if isinstance(node, ast.BinOp):
        return type(node.op) in COMBINED
    if isinstance(node, ast.UnaryOp):
        return isinstance(node.op, ast.Not | ast.USub)
    if isinstance(node, ast.Constant):
        return type(node.value) in {int, float, bool}
    if isinstance(node, ast.Name):
        return node.id in SWAPPED
    return isinstance(node, ast.BoolOp | ast.IfExp)


def _annotations(node: ast.AST) -> Iterator[ast.AST]:
    for name in ("annotation", "returns"):
        found = getattr(node, name, None)
        if found is not None:
            yield from ast.walk(found)


def _plant(node: ast.AST) -> None:
    """Make the slip that fits a place."""
    if isinstance(node, ast.Compare):
        node.ops[0] = COMPARED[type(node.ops[0])]()
    elif isinstance(node, ast.BinOp):
        node.op = COMBINED[type(node.op)]()
    elif isinstance(node, ast.BoolOp):
        node.op = JOINED[type(node.op)]()
    elif isinstance(node, ast.UnaryOp):
        node.op = ast.UAdd() if isinstance(node.op, ast.USub) else node.op
        if isinstance(node.op, ast.Not):
            node.operand = ast.UnaryOp(ast.Not(), node.operand)
    elif isinstance(node, ast.Constant):
        old = node.value
        node.value = not old if isinstance(old, bool) else old + 1  # type: ignore[operator]
    elif isinstance(node, ast.Name):
        node.id = SWAPPED[node.id]
    elif isinstance(node, ast.IfExp):
        node.body, node.orelse = node.orelse, node.body


def planted(source: str, number: int) -> str:
    """Return a module with its slip of that number planted."""
    tree = copy.deepcopy(ast.parse(source))
    node = list(_places(tree))[number]
    _plant(node)
    return ast.unparse(ast.fix_missing_locations(tree))


def slips(rooms: tuple[str, ...], only: str) -> list[Slip]:
    """Return every slip of some rooms, in a fixed order."""
    found = []
    for room in rooms:
        for path in sorted((ROOT / PACKAGE / room).rglob("*.py")):
            if only not in path.name:
                continue
            tree = ast.parse(path.read_text(encoding="utf-8"))
            for number, node in enumerate(_places(tree)):
                before = ast.unparse(node)
                after = copy.deepcopy(node)
                _plant(after)
                said = f"{before} -> {ast.unparse(ast.fix_missing_locations(after))}"
                line = getattr(node, "lineno", 0)
                found.append(Slip(path.relative_to(ROOT), line, number, said))
    return found


def _killed(slip: Slip, base: Path) -> bool:
    """Return whether a test fails with a slip planted in a copy of the project."""
    file = base / slip.path
    source = file.read_text(encoding="utf-8")
    file.write_text(planted(source, slip.number), encoding="utf-8")
    try:
        near = NEAREST[slip.path.parts[2]]
        stem = slip.path.stem
        first = [str(p.relative_to(base)) for p in sorted(base.glob(f"tests/*/test_*{stem}*.py"))]
        return any(_fails(tests, base) for tests in ([str(slip.path), *first], list(near)))
    finally:
        file.write_text(source, encoding="utf-8")


def _fails(tests: list[str], base: Path) -> bool:
    words = [sys.executable, "-m", "pytest", "-x", "-q", "-n0", "-p", "no:cacheprovider", *tests]
    env = {**os.environ, "PYTHONPATH": str(base / "src"), "PYTHONDONTWRITEBYTECODE": "1"}
    try:
        done = subprocess.run(
            words, cwd=base, env=env, capture_output=True, timeout=SECONDS, check=False
        )
    except subprocess.TimeoutExpired:
        return True
    return done.returncode not in {0, 5}


def main() -> None:
    """Plant slips and tell what lived."""
    parser = argparse.ArgumentParser(description="Plant slips in the calculations.")
    parser.add_argument("--rooms", nargs="*", default=ROOMS, choices=ROOMS)
    parser.add_argument("--only", default="")
    parser.add_argument("--sample", type=int, default=0)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--jobs", type=int, default=os.cpu_count() or 1)
    parser.add_argument("--list", action="store_true")
    asked = parser.parse_args()
    found = slips(tuple(asked.rooms), asked.only)
    print(f"{len(found)} slips")
    if asked.sample:
        found = random.Random(asked.seed).sample(found, min(asked.sample, len(found)))
    found = [slip for slip in found if (slip.path.name, slip.said) not in EQUIVALENT]
    if asked.list:
        print(*found, sep="\n")
        return
    with tempfile.TemporaryDirectory() as name:
        bases: Queue[Path] = Queue()
        for job in range(asked.jobs):
            base = Path(name) / f"{job}"
            left_out = shutil.ignore_patterns(".git", ".venv", "__pycache__")
            bases.put(shutil.copytree(ROOT, base, ignore=left_out))

        def one(slip: Slip) -> bool:
            base = bases.get()
            try:
                return _killed(slip, base)
            finally:
                bases.put(base)

        with ThreadPoolExecutor(asked.jobs) as pool:
            lived = 0
            for slip, killed in zip(found, pool.map(one, found), strict=True):
                lived += not killed
                if not killed:
                    print(f"lived: {slip}", flush=True)
    print(f"killed {len(found) - lived} of {len(found)}, {1 - lived / max(len(found), 1):.1%}")


if __name__ == "__main__":
    main()
