"""Plants one small slip at a time in the calculations and sees whether a test fails.

Run by hand: ``python tests/mutate.py --sample 300``. Slips are drawn by a digest of what each is
and of ``--seed``, so that anybody plants the same ones, and a change of the code draws others only
for the lines it changes; ``--rooms trade`` keeps to a room,
``--only TEXT`` to files whose name holds a text, ``--list`` plants none, and
``--after N`` leaves out the first of them. First all tests near the
calculations run once, to see which of them runs which line (:mod:`tests.slip_map`, the extra
``slips``); ``--map FILE`` keeps that, and takes it from there the next time. Each slip is made in a
copy of the project and meets the tests that run its line, the quick ones first; the first that
fails kills it. What lived is printed with its line. Those of :data:`EQUIVALENT` change nothing that
can be seen, and are not counted.
"""

from __future__ import annotations

import argparse
import ast
import copy
import hashlib
import json
import os
import shutil
import subprocess
import sys
import tempfile
from collections import Counter
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from queue import Queue
from typing import TypedDict, TypeGuard

ROOT = Path(__file__).parents[1]
PACKAGE = Path("src/pourbook")
ROOMS = ("trade", "functions", "tables")
SECONDS = 120.0
"""How long the tests that one slip meets may take, as counted without a slip."""
ENDLESS = 900
"""After so many seconds a slip counts as one that never ends, which is killed too."""
FIRST = 40
"""Tests met in a first run; most slips are killed by one of them."""
COMPARED = {
    ast.Lt: ast.LtE, ast.LtE: ast.Lt, ast.Gt: ast.GtE, ast.GtE: ast.Gt, ast.Eq: ast.NotEq,
    ast.NotEq: ast.Eq, ast.Is: ast.IsNot, ast.IsNot: ast.Is, ast.In: ast.NotIn, ast.NotIn: ast.In,
}  # fmt: skip
COMBINED = {ast.Add: ast.Sub, ast.Sub: ast.Add, ast.Mult: ast.Div, ast.Div: ast.Mult}
JOINED = {ast.And: ast.Or, ast.Or: ast.And}
SWAPPED = {"min": "max", "max": "min", "any": "all", "all": "any", "floor": "ceil", "ceil": "floor"}
NEAR = (
    *("tests/trade", "tests/functions", "tests/published", "tests/units", "tests/job"),
    *("tests/shop", "tests/workbook/test_check.py"),
    *(f"src/pourbook/{room}" for room in ROOMS),
)
"""Where the tests are that a slip can meet, those that stand beside what they test too."""
EQUIVALENT = {
    ("fewest.py", "200 + 4 * many -> 200 - 4 * many", ""): "how long evening out may take; "
    "where it stops early, the search goes on without it",
    ("fewest.py", "20 -> 21", "EVEN_PIECES ="): "from how many pieces one way goes before another",
    ("fewest.py", "False -> True", "return placed("): "a plan that is found proves nothing, and "
    "nobody asks whether it did",
    ("even.py", "sum([sizes[at] for at in heavy]) >= loads[0] -> sum([sizes[at] for at in heavy]) "
    "> loads[0]", "if sum("): "two bins of the same loads as before are no gain either way",
    ("acceptance.py", "under + thin if rule.inclusive else thin -> thin if rule.inclusive else "
    "under + thin", "low ="): "a reading under the floor fails first, whatever else is low",
    ("pouring.py", "room - left -> room + left", ""): "sets that leave too much lead to no plan: "
    "they are left out to save steps",
    ("pouring.py", "not packed -> not not packed", "if below >"): "a bound is raised later; 4,000 "
    "random plans are the same",
    ("cuts.py", "take < rest -> take <= rest", "rest ="): "what is all taken leaves nothing",
    ("air.py", "value > high + _SLACK -> value >= high + _SLACK", ""): "a hair beyond the limit",
    ("on_page.py", "WIDE + _CLOSE -> WIDE - _CLOSE", ""): "a billionth of the page",
    ("call_range.py", "45 -> 46", "_HALVINGS"): "halved once more, far below what is shown",
    ("call_range.py", "2 * student_below(middle, freedom) - 1 < chance -> 2 * "
    "student_below(middle, freedom) - 1 <= chance", ""): "halving from the other side",
    ("sequence.py", "0.0 -> 1.0", "if clean >"): "no coat is cleaned within a second",
    ("options.py", "1 -> 2", "single, steps ="): "a cell more, of which nothing is taken",
    ("fewest.py", "200 -> 201", "near ="): "how far many pieces are evened",
    ("pouring.py", "last >= 0 -> last > 0", "if last"): "a twin is tried too: steps alone",
    ("pouring.py", "(below - batches) * self.usable - self._left(state) -> (below - batches) * "
    "self.usable + self._left(state)", "empty ="): "more is tried: steps alone",
    ("pouring.py", "not self.twin[bit] -> not not self.twin[bit]", "if not"): "twins are tried "
    "too, and others looked at that are none: steps alone",
    ("pouring.py", "batches + batches_for(rest / self.usable) < below -> batches + "
    "batches_for(rest / self.usable) <= below", "state for"): "what leads to no plan of fewer is "
    "tried too: steps alone",
    ("repair.py", "8 -> 9", "group.append("): "which batches are taken next, as by dice",
    ("search.py", "1 + len(self.sizes) // 8 -> 1 - len(self.sizes) // 8", "self.nodes"): "how "
    "steps are counted",
    ("even.py", "len(sizes) - 1 -> len(sizes) + 1", "for each in"): "one look more, at fewer "
    "and smaller pieces",
    ("even.py", "len(full) + len(light) > _PAIR_PIECES -> len(full) + len(light) >= _PAIR_PIECES",
     "if len("): "from how many pieces two bins are evened by one move",
    ("on_page.py", "0.0 -> 1.0", "right ="): "the first piece begins a row, whatever is before",
    ("history.py", "from_hour <= clock < to_hour -> from_hour < clock < to_hour", "kelvins"): "the "
    "midst of a stretch is never its end",
    ("ode.py", "(end - begin) / 100.0 or end - begin -> (end - begin) / 100.0 and end - begin",
     "h ="): "a first step that is too large is made smaller",
    ("ode.py", "end - begin -> end + begin", "h ="): "a first step that is too large is made "
    "smaller",
    ("covering.py", "240 -> 241", "_STEPS ="): "how fine a common measure may be",
    ("grouped.py", "0 -> 1", "pieces = ["): "all of them have the same place",
    ("fewest.py", "1 -> 2", "levels: Sequence"): "one level more, above what always does",
    ("plans.py", "0.0 -> 1.0", "smallest ="): "without it every mass has the same pot life",
    ("heat.py", "point.slopes[1] <= 0.0 -> point.slopes[1] < 0.0", "found = crossing"): "halving "
    "from the other side",
    ("hatch.py", "high - low > _CLOSE -> high - low >= _CLOSE", "return"): "a hair of a line",
    ("cuts.py", "1 -> 2", "def _even_shares("): "no piece has either place",
}  # fmt: skip
"""Slips that change nothing: file, what is said of it, how its line begins, and the reason."""


@dataclass(frozen=True)
class Slip:
    """One slip: the file, its line, what was there and planted, and the lines of its statement.

    An ``idle`` one changes an example, which is a test itself, or a guard against unequal lengths.
    """

    path: Path
    line: int
    number: int
    said: str
    lines: tuple[int, ...]
    idle: bool

    def __str__(self) -> str:
        return f"{self.path}:{self.line}: {self.said}"


def _places(tree: ast.Module) -> Iterator[ast.expr]:
    """Give every place of a module where a slip can stand."""
    texts = {id(node.value) for node in ast.walk(tree) if isinstance(node, ast.Expr)}
    notes = {id(n) for node in ast.walk(tree) for n in (*_annotations(node), *_decorators(node))}
    for node in ast.walk(tree):
        if id(node) in texts or id(node) in notes:
            continue
        if _fits(node):
            yield node


def _fits(node: ast.AST) -> TypeGuard[ast.expr]:
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


def _decorators(node: ast.AST) -> Iterator[ast.AST]:
    """Give what decorates a class: that records may not be changed is nothing a test can see."""
    for one in getattr(node, "decorator_list", ()) if isinstance(node, ast.ClassDef) else ():
        yield from ast.walk(one)


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
            around = {id(node): one for one in _statements(tree) for node in ast.walk(one)}
            idling = _idling(tree)
            for number, node in enumerate(_places(tree)):
                before = ast.unparse(node)
                after = copy.deepcopy(node)
                _plant(after)
                said = f"{before} -> {ast.unparse(ast.fix_missing_locations(after))}"
                line, lines = node.lineno, _lines(node, around[id(node)])
                idle = id(node) in idling
                found.append(Slip(path.relative_to(ROOT), line, number, said, lines, idle))
    return found


def drawn(found: list[Slip], seed: int) -> list[Slip]:
    """Return slips in the order of a digest of each: its file, what it says, and which of those."""
    counted: Counter[tuple[Path, str]] = Counter()
    order = []
    for slip in found:
        counted[slip.path, slip.said] += 1
        key = f"{seed} {slip.path.as_posix()} {slip.said} {counted[slip.path, slip.said]}"
        order.append((hashlib.sha256(key.encode()).digest(), slip))
    return [slip for _, slip in sorted(order, key=lambda one: one[0])]


def _idling(tree: ast.Module) -> set[int]:
    """Return the nodes of examples and of what only they use, and those that make a zip strict."""
    named: dict[ast.AST, list[str]] = {one: _named(one) for one in tree.body}
    names = [node for node in ast.walk(tree) if isinstance(node, ast.Name)]
    found: set[int] = set()
    for one in ast.walk(tree):
        example = any(name.strip("_").startswith("EXAMPLE") for name in named.get(one, []))
        if example or (isinstance(one, ast.keyword) and one.arg in {"strict", "examples"}):
            found |= {id(node) for node in ast.walk(one)}
    while True:
        used = {n.id for n in names if isinstance(n.ctx, ast.Load) and id(n) not in found}
        more = {
            id(node)
            for one, given in named.items()
            if given and all(name.startswith("_") and name not in used for name in given)
            for node in ast.walk(one)
        }
        if more <= found:
            return found
        found |= more


def _named(node: ast.stmt) -> list[str]:
    """Return the names that a statement gives values to; a function its own."""
    if isinstance(node, ast.FunctionDef):
        return [node.name]
    targets = [node.target] if isinstance(node, ast.AnnAssign) else getattr(node, "targets", [])
    return [one.id for one in targets if isinstance(one, ast.Name)]


def _is_equivalent(slip: Slip) -> bool:
    """Return whether it is known that a slip changes nothing."""
    text = (ROOT / slip.path).read_text(encoding="utf-8").splitlines()[slip.line - 1].strip()
    known = (key for key in EQUIVALENT if key[:2] == (slip.path.name, slip.said))
    return any(text.startswith(begins) for _, _, begins in known)


def _statements(tree: ast.Module) -> Iterator[ast.stmt]:
    """Give the statements of a module, those inside others after them."""
    return (node for node in ast.walk(tree) if isinstance(node, ast.stmt))


def _lines(node: ast.expr, around: ast.stmt) -> tuple[int, ...]:
    """Return the lines that run where a place runs: its own, and those of a plain statement."""
    parts = (node, around) if not hasattr(around, "body") else (node,)
    lines = {n for one in parts for n in range(one.lineno, (one.end_lineno or one.lineno) + 1)}
    return tuple(sorted({around.lineno, *lines}))


class Seen(TypedDict):
    """How long each test takes, seconds, and by file and line the tests that run it."""

    took: dict[str, float]
    lines: dict[str, dict[str, list[str]]]


def seen_by_tests(file: Path, jobs: int) -> Seen:
    """Return which tests run which lines, from a file or from a run of all tests near them."""
    if not file.exists():
        folders = [str(ROOT / PACKAGE / room) for room in ROOMS]
        words = [sys.executable, "-m", "pytest", "-q", "-n0", "-p", "no:cacheprovider"]
        words += ["-p", "tests.slip_map", "-m", "not plain and not network"]
        tests = [[near for n, near in enumerate(NEAR) if n % jobs == job] for job in range(jobs)]
        parts = [file.with_suffix(f".{job}") for job in range(jobs)]
        runs = []
        for part, named in zip(parts, tests, strict=True):
            told = {"POURBOOK_SLIP_MAP": str(part), "POURBOOK_SLIP_ROOMS": ",".join(folders)}
            runs.append(subprocess.Popen([*words, *named], cwd=ROOT, env={**os.environ, **told}))
        if any(run.wait() not in {0, 1} for run in runs):  # 1: some fail while they are followed
            raise SystemExit("the tests could not be followed")
        file.write_text(json.dumps(_joined(parts)), encoding="utf-8")
    seen: Seen = json.loads(file.read_text(encoding="utf-8"))
    return seen


def _joined(parts: list[Path]) -> Seen:
    """Return what several runs saw as one."""
    joined: Seen = {"took": {}, "lines": {}}
    for part in parts:
        seen: Seen = json.loads(part.read_text(encoding="utf-8"))
        part.unlink()
        joined["took"].update(seen["took"])
        for file, lines in seen["lines"].items():
            known = joined["lines"].setdefault(file, {})
            for line, tests in lines.items():
                known[line] = sorted({*known.get(line, []), *tests})
    return joined


def _met(slip: Slip, seen: Seen, seconds: float) -> list[str]:
    """Return the tests that a slip meets, the quick ones first.

    What a module works out while it is loaded is run by no test: there all tests of the file count.
    """
    lines = seen["lines"].get(str(slip.path), {})
    met = {test for line in slip.lines for test in lines.get(str(line), ())}
    met = met or {test for tests in lines.values() for test in tests}
    found: list[str] = []
    left = seconds
    for test in sorted(met, key=lambda one: (seen["took"][one], one)):
        left -= seen["took"][test]
        if left < 0 and found:
            break
        found.append(test)
    return found


def _killed(slip: Slip, base: Path, seen: Seen, seconds: float) -> bool:
    """Return whether a test fails with a slip planted in a copy of the project."""
    file = base / slip.path
    source = file.read_text(encoding="utf-8")
    file.write_text(planted(source, slip.number), encoding="utf-8")
    try:
        met = _met(slip, seen, seconds)
        return any(_fails(tests, base) for tests in (met[:FIRST], met[FIRST:]) if tests)
    finally:
        file.write_text(source, encoding="utf-8")


def _fails(tests: list[str], base: Path) -> bool:
    named = base / "slip_tests.txt"
    named.write_text("\n".join(tests), encoding="utf-8")
    words = [sys.executable, "-m", "pytest", "-x", "-q", "-n0", "-p", "no:cacheprovider"]
    env = {**os.environ, "PYTHONPATH": str(base / "src")}
    try:
        done = subprocess.run(
            [*words, f"@{named}"], cwd=base, env=env, capture_output=True, timeout=ENDLESS,
            check=False,
        )  # fmt: skip
    except subprocess.TimeoutExpired:
        return True
    if done.returncode not in {0, 1, 2}:  # 2: the module cannot even be loaded
        raise SystemExit(done.stdout.decode() + done.stderr.decode())
    return done.returncode != 0


def main() -> None:
    """Plant slips and tell what lived."""
    parser = argparse.ArgumentParser(description="Plant slips in the calculations.")
    parser.add_argument("--rooms", nargs="*", default=ROOMS, choices=ROOMS)
    parser.add_argument("--only", default="")
    parser.add_argument("--sample", type=int, default=0)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--jobs", type=int, default=os.cpu_count() or 1)
    parser.add_argument("--list", action="store_true")
    parser.add_argument("--map", type=Path)
    parser.add_argument("--after", type=int, default=0)
    parser.add_argument("--seconds", type=float, default=SECONDS, help="of tests each slip meets")
    asked = parser.parse_args()
    found = slips(tuple(asked.rooms), asked.only)
    print(f"{len(found)} slips")
    if asked.sample:
        found = drawn(found, asked.seed)[: asked.sample]
    found = [slip for slip in found if not slip.idle and not _is_equivalent(slip)]
    found = found[asked.after :]
    if asked.list:
        print(*found, sep="\n")
        return
    with tempfile.TemporaryDirectory() as name:
        seen = seen_by_tests(asked.map or Path(name) / "map.json", asked.jobs)
        bases: Queue[Path] = Queue()
        for job in range(asked.jobs):
            base = Path(name) / f"{job}"
            left_out = shutil.ignore_patterns(".git", ".venv", "__pycache__")
            bases.put(shutil.copytree(ROOT, base, ignore=left_out))

        def one(slip: Slip) -> bool:
            base = bases.get()
            try:
                return _killed(slip, base, seen, asked.seconds)
            finally:
                bases.put(base)

        with ThreadPoolExecutor(asked.jobs) as pool:
            lived = 0
            for turn, (slip, killed) in enumerate(zip(found, pool.map(one, found), strict=True)):
                lived += not killed
                print(f"\r{turn + 1} of {len(found)}", end="", file=sys.stderr, flush=True)
                if not killed:
                    print(f"lived: {slip}", flush=True)
    print(f"killed {len(found) - lived} of {len(found)}, {1 - lived / max(len(found), 1):.1%}")


if __name__ == "__main__":
    main()
