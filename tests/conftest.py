"""Files and layouts that many tests look at; files are made once for all workers.

The jobs have few rows on Rooms, because the plain engine takes its time with every row.
"""

from __future__ import annotations

import datetime as dt
import gc
import os
import zipfile
from collections.abc import Callable, Iterator, Mapping
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings
from tests.build_memory import building_once
from tests.engine_memory import working_out_once
from tests.job import settling
from tests.made_once import made_once
from tests.open_book import OpenBook
from tests.plain_memory import remembering

from pourbook import resources
from pourbook.formats.ooxml.copying import copied
from pourbook.job import make
from pourbook.job.accept import accept
from pourbook.job.make import Scenario
from pourbook.workbook.build import build
from pourbook.workbook.check import quoted
from pourbook.workbook.layout.laid_out import Layout
from pourbook.workbook.layout.lay_out import lay_out
from pourbook.workbook.read.read import read_book

# A busy machine is slow, which says nothing of the code under test.
settings.register_profile("pourbook", deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.load_profile("pourbook")

# Workbooks are many objects that stay: looking for rubbish among them takes a tenth of all time.
gc.set_threshold(200_000, 20, 50)

PIECES = 18
SHOP_ROWS = 24
MADE = dt.datetime(2026, 11, 24, 9, 30)
ACCEPTED = dt.date(2026, 12, 1)
Edit = Callable[[bytes], bytes | None]


IN_TURN, TURNS = "POURBOOK_IN_TURN", 4
"""Set while the whole suite runs; of the tests marked ``in_turn`` a quarter then has its day, of
those marked ``in_turn(2)`` a half."""


LONG = "POURBOOK_LONG"
"""Set to run the whole suite's long tests too; .ci/run does, after the README's command."""
LONG_ROOMS = tuple(
    f"tests/{room}/"
    for room in ("agreement", "archive", "commands", "hosts", "job", "papers", "released", "shop")
)
"""Rooms whose tests start programs (commands, LibreOffice, windows, processes) or take whole jobs
through them."""
LONG_FILES = frozenset(
    f"tests/{file}.py"
    for file in (
        *("workbook/test_bare_numbers", "workbook/test_check", "workbook/test_finishes"),
        *("workbook/test_planted_faults", "workbook/test_blank_entries", "functions/test_calls"),
        *("formats/test_hostile", "formats/test_read_apart"),
    )
)


def pytest_configure(config: pytest.Config) -> None:
    """Say to this program and its workers whether the whole suite runs, or tests that were named.

    Named tests all run; ``POURBOOK_ALL=1`` runs all of the suite.
    """
    if not hasattr(config, "workerinput"):
        named = config.option.file_or_dir or config.option.keyword or os.environ.get("POURBOOK_ALL")
        os.environ[IN_TURN] = "" if named else str(dt.date.today().toordinal())


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Give each worker whole files, which make what they need once; one all the plain engine's."""
    today = os.environ.get(IN_TURN, "")
    for item in items:
        file = item.nodeid.partition("::")[0]
        if file.startswith(LONG_ROOMS) or file in LONG_FILES or item.get_closest_marker("plain"):
            item.add_marker(pytest.mark.long)
    if today and not os.environ.get(LONG):
        long = [item for item in items if item.get_closest_marker("long")]
        config.hook.pytest_deselected(items=long)
        items[:] = [item for item in items if not item.get_closest_marker("long")]
    if today:
        marks = ((item, item.get_closest_marker("in_turn")) for item in items)
        turns: dict[int, list[pytest.Item]] = {}
        for item, mark in marks:
            if mark:
                turns.setdefault(mark.args[0] if mark.args else TURNS, []).append(item)
        waiting = [
            item
            for many, marked in turns.items()
            for n, item in enumerate(marked)
            if (n + int(today)) % many
        ]
        config.hook.pytest_deselected(items=waiting)
        others = {id(item) for item in waiting}
        items[:] = [item for item in items if id(item) not in others]
    for item in items:
        group = "plain" if item.get_closest_marker("plain") else item.nodeid.partition("::")[0]
        item.add_marker(pytest.mark.xdist_group(group))


@pytest.fixture(scope="session", autouse=True)
def _nothing_is_done_twice(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    with remembering(), working_out_once(), building_once(tmp_path_factory.mktemp("built")):
        yield


@pytest.fixture(scope="session")
def pieces() -> int:
    """How many rows the Rooms sheet of the test jobs has."""
    return PIECES


_AFTER = {"log", "receipts", "invoices", "extras", "worked", "left", "coated", "spent"}


def _quoted(scenario: Scenario) -> Scenario:
    """Return a scenario as it is when it is quoted: nothing mixed, bought or counted yet."""
    return replace(
        scenario, entries={k: v for k, v in scenario.entries.items() if k[0] not in _AFTER}
    )


@pytest.fixture(scope="session")
def logged_us() -> Scenario:
    """The demo job in feet and inches, as text, with all that was mixed, bought and counted."""
    return make.read_scenario(resources.folder("shared") / "demo" / "us.toml")


@pytest.fixture(scope="session")
def logged_metric() -> Scenario:
    """The metric twin of the demo job, as text, with all that was mixed, bought and counted."""
    return make.read_scenario(resources.folder("shared") / "demo" / "metric.toml")


@pytest.fixture(scope="session")
def scenario_us(logged_us: Scenario) -> Scenario:
    """The demo job as quoted, in feet and inches."""
    return _quoted(logged_us)


@pytest.fixture(scope="session")
def scenario_metric(logged_metric: Scenario) -> Scenario:
    """The metric twin of the demo job, as quoted."""
    return _quoted(logged_metric)


@pytest.fixture(scope="session")
def shop_rows() -> int:
    """How many movements of stock the test shops have room for."""
    return SHOP_ROWS


@pytest.fixture(scope="session")
def scenario_shop() -> Scenario:
    """The demo's shop, as text."""
    return make.read_scenario(resources.folder("shared") / "demo" / "shop.toml")


@pytest.fixture(scope="session")
def plan_shop() -> Layout:
    """The layout of the demo's shop."""
    return lay_out("shop", "us", SHOP_ROWS)


@pytest.fixture(scope="session")
def demo_shop(tmp_path_factory: pytest.TempPathFactory, scenario_shop: Scenario) -> Path:
    """The finished shop workbook of the demo."""

    def fill(folder: Path) -> None:
        target = folder / "shop.xlsx"
        make.make(target, "us", scenario_shop.entries, book="shop", pieces=SHOP_ROWS, made=MADE)

    return made_once(tmp_path_factory, "shop", fill) / "shop.xlsx"


@pytest.fixture(scope="session")
def plan_us() -> Layout:
    """The layout of the demo job."""
    return lay_out("job", "us", PIECES)


@pytest.fixture(scope="session")
def plan_metric() -> Layout:
    """The layout of the metric twin."""
    return lay_out("job", "metric", PIECES)


@pytest.fixture(scope="session")
def open_us(plan_us: Layout, tmp_path_factory: pytest.TempPathFactory) -> OpenBook:
    """The layout of the demo job, to set any entries in."""
    return OpenBook(plan_us, tmp_path_factory.mktemp("open"))


@pytest.fixture(scope="session")
def open_metric(plan_metric: Layout, tmp_path_factory: pytest.TempPathFactory) -> OpenBook:
    """The layout of the metric twin, to set any entries in."""
    return OpenBook(plan_metric, tmp_path_factory.mktemp("open"))


def _finished(factory: pytest.TempPathFactory, scenario: Scenario) -> Path:
    name = f"demo-{scenario.system}.xlsx"

    def fill(folder: Path) -> None:
        make.make(folder / name, scenario.system, scenario.entries, pieces=PIECES, made=MADE)

    return made_once(factory, scenario.system, fill) / name


@pytest.fixture(scope="session")
def demo_us(tmp_path_factory: pytest.TempPathFactory, scenario_us: Scenario) -> Path:
    """The finished demo workbook: formulas with their values."""
    return _finished(tmp_path_factory, scenario_us)


@pytest.fixture(scope="session")
def demo_metric(tmp_path_factory: pytest.TempPathFactory, scenario_metric: Scenario) -> Path:
    """The finished metric twin."""
    return _finished(tmp_path_factory, scenario_metric)


@pytest.fixture(scope="session")
def settled_us(
    tmp_path_factory: pytest.TempPathFactory, scenario_us: Scenario, plan_us: Layout, demo_us: Path
) -> Path:
    """The demo as accepted, mixed, bought and counted; not to be written to."""

    def fill(folder: Path) -> None:
        book = read_book(demo_us)
        wanted = [(c.sheet, c.address) for c in plan_us.cells if c.formula or c.fill]
        values = {(sheet, cell): book.sheets[sheet].value(cell) for sheet, cell in wanted}
        target, quote = folder / "settled.xlsx", folder / "accepted.xlsx"
        accept(demo_us, quote, on=dt.date(2026, 12, 21))
        kept = quoted.kept(plan_us, read_book(quote))
        entries = {**scenario_us.entries, **settling.job_done(plan_us, values, kept)}
        make.make(target, scenario_us.system, entries, pieces=PIECES, made=MADE)

    return made_once(tmp_path_factory, "settled", fill) / "settled.xlsx"


@pytest.fixture
def write_bare(tmp_path: Path) -> Callable[[Layout, Mapping[tuple[str, str, int], object]], Path]:
    """A job without cached values, as the engines get it from the builder."""

    def write(layout: Layout, entries: Mapping[tuple[str, str, int], object]) -> Path:
        target = tmp_path / f"bare-{len(list(tmp_path.iterdir()))}.xlsx"
        build.write(layout, {**make.defaults(layout), **entries}, target, made=MADE)
        return target

    return write


@pytest.fixture(scope="session")
def repack() -> Callable[[Path, Path, Mapping[str, Edit]], Path]:
    """Copy a package with some parts changed.

    An edit gets the part as it is (nothing for a part that is not there yet) and gives what it
    becomes; None leaves the part out.
    """

    def copy(source: Path, target: Path, edits: Mapping[str, Edit]) -> Path:
        def edit(part: str, content: bytes) -> bytes | None:
            return edits[part](content) if part in edits else content

        with zipfile.ZipFile(source) as package:
            new = {part: edits[part](b"") for part in edits.keys() - set(package.namelist())}
        more = {part: made for part, made in new.items() if made is not None}
        copied(source, target, edit, more)
        return target

    return copy


@pytest.fixture(scope="session")
def accepted_us(demo_us: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The finished demo with its quote accepted."""

    def fill(folder: Path) -> None:
        accept(demo_us, folder / "accepted.xlsx", on=ACCEPTED)

    return made_once(tmp_path_factory, "accepted", fill) / "accepted.xlsx"
