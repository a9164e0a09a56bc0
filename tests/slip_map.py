"""Which tests run which line of the calculations: where to look first for a planted slip.

Contract: a plugin of pytest (``-p tests.slip_map``) for :mod:`tests.mutate`. It writes to the file
named by ``POURBOOK_SLIP_MAP``, as JSON, how long each test took and which tests ran each line.
What functions remember is forgotten before each test, or only the first would run their lines.
The modules followed are named by ``POURBOOK_SLIP_ROOMS``, a folder or more between commas.
"""

from __future__ import annotations

import functools
import gc
import json
import os
import time
from collections import OrderedDict, defaultdict
from collections.abc import Callable, Iterator
from pathlib import Path
from types import FunctionType
from typing import Any

import pytest

FILE, ROOMS = "POURBOOK_SLIP_MAP", "POURBOOK_SLIP_ROOMS"
_cover: Any = None
_took: dict[str, float] = {}
_shared: dict[str, float] = {}
_failed: set[str] = set()
_remembering: list[Callable[[], None]] = []


def pytest_configure(config: pytest.Config) -> None:
    """Begin to follow the lines that run, before any of them is loaded."""
    global _cover  # noqa: PLW0603  # a plugin of pytest is a module
    import coverage

    _cover = coverage.Coverage(data_file=None, source=os.environ[ROOMS].split(","))
    _cover.start()


def _memories() -> list[Callable[[], None]]:
    """Return what empties what the functions followed remember."""
    found: list[Callable[[], None]] = []
    rooms = tuple(f"pourbook.{Path(room).name}." for room in os.environ[ROOMS].split(","))
    for one in gc.get_objects():
        if not str(getattr(one, "__module__", "")).startswith(rooms):
            continue
        if isinstance(one, functools._lru_cache_wrapper):
            found.append(one.cache_clear)
        elif isinstance(one, FunctionType) and hasattr(one, "__wrapped__"):
            kept = (cell.cell_contents for cell in one.__closure__ or ())
            found += [each.clear for each in kept if isinstance(each, OrderedDict)]
    return found


@pytest.hookimpl(hookwrapper=True)
def pytest_fixture_setup(fixturedef: pytest.FixtureDef[Any]) -> Iterator[None]:
    """Write down how long a fixture takes that many tests share: alone, each has to make it."""
    start = time.perf_counter()
    yield
    if fixturedef.scope != "function":
        _shared[fixturedef.argname] = time.perf_counter() - start


@pytest.hookimpl(hookwrapper=True)
def pytest_runtest_protocol(item: pytest.Item) -> Iterator[None]:
    """Write down under which test lines run, and how long it takes."""
    if len(_took) % 50 == 0:
        _remembering[:] = _memories()
    for empty in _remembering:
        empty()
    _cover.switch_context(item.nodeid)
    start = time.perf_counter()
    yield
    took = time.perf_counter() - start
    named = getattr(item, "fixturenames", ())
    _took[item.nodeid] = took + sum(_shared.get(name, 0.0) for name in named)
    _cover.switch_context("")


def pytest_runtest_logreport(report: pytest.TestReport) -> None:
    """Leave out what fails while it is followed, as a test of memory does: it kills every slip."""
    if report.failed:
        _failed.add(report.nodeid)


def pytest_sessionfinish() -> None:
    """Keep what was seen."""
    _cover.stop()
    data, root = _cover.get_data(), Path.cwd()
    lines: dict[str, dict[int, list[str]]] = defaultdict(dict)
    for file in data.measured_files():
        for line, tests in data.contexts_by_lineno(file).items():
            met = [test for test in tests if test and test not in _failed]
            lines[str(Path(file).relative_to(root))][line] = met
    took = {test: seconds for test, seconds in _took.items() if test not in _failed}
    seen = {"took": took, "lines": lines}
    Path(os.environ[FILE]).write_text(json.dumps(seen), encoding="utf-8")
