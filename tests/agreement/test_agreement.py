"""A few random jobs through the pipeline and every host; the long form is ``run.py``.

The pipeline reads no formula, the two engines and LibreOffice are three independent programs, so
that a cell on which all agree is right or wrong in the formula's own terms, not by a host's way.
"""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from tests.agreement import hosts, jobs, run
from tests.agreement.cells import NOISE
from tests.agreement.checks import CARDS, CHECKS
from tests.agreement.compare import Tally, compare
from tests.agreement.jobs import Sample
from tests.agreement.pipeline import Pipeline
from tests.hosts.calc_live import calc_program

from pourbook.cells import Address, Value
from pourbook.job.make import Scenario
from pourbook.workbook.layout.lay_out import lay_out
from pourbook.workbook.read.read import read_book

pytestmark = pytest.mark.plain

SEEDS = (8, 12, 20)
"""Two accepted jobs of one system, one of another; the plain engine does all of the last."""


@pytest.mark.libreoffice
def test_hosts_agree(tmp_path: Path) -> None:
    program, reason = calc_program()
    if program is None and os.environ.get("CI"):
        pytest.fail(reason)
    said: list[str] = []
    tally = run.run(SEEDS, tmp_path, program=program, workers=0, say=said.append)
    assert not tally.apart, "\n".join(tally.apart[:20])
    assert tally.jobs == len(SEEDS)
    assert tally.cents == 0
    assert tally.numbers > 1000
    assert tally.native > 700 * len(SEEDS)
    held = {"formualizer", "formulas", "LibreOffice", "code"} - (
        set() if program else {"LibreOffice"}
    )
    assert tally.by_host.keys() == held
    if program is None:
        pytest.skip(f"{reason}; the other hosts agree")


def test_pipeline_and_fast_engine_agree_on_more_jobs(tmp_path: Path) -> None:
    tally = Tally()
    for seed in (7, *range(100, 105)):
        sample = jobs.make(seed)
        book = tmp_path / f"{seed}.xlsx"
        hosts.write(sample, book)
        found = {"formualizer": hosts.engine("fast", book, sample.system)}
        compare(seed, jobs.layout(sample.system), found, hosts.expected(sample), tally)
    assert not tally.apart, "\n".join(tally.apart[:20])
    assert tally.refusals > 0


@pytest.mark.parametrize("seed", [7, 12, 31])
def test_a_workbook_is_the_same_whichever_way_it_is_written(tmp_path: Path, seed: int) -> None:
    sample = jobs.make(seed)
    hosts.write(sample, tmp_path / "slowly.xlsx")
    hosts.write_quickly(sample, tmp_path / "quickly.xlsx")
    one, two = (read_book(tmp_path / f"{how}.xlsx").sheets for how in ("slowly", "quickly"))
    assert one.keys() == two.keys()
    for name, sheet in one.items():
        assert sheet.cells.keys() == two[name].cells.keys(), name
        for address, cell in sheet.cells.items():
            other = two[name].cells[address]  # openpyxl writes 16 digits of a number
            assert cell.value == (
                pytest.approx(other.value, rel=1e-15)
                if isinstance(other.value, float)
                else other.value
            ), f"{name}!{address}"
            assert cell == other._replace(value=cell.value), f"{name}!{address}"


def test_jobs_differ_and_come_out_with_a_price() -> None:
    made = [jobs.make(seed) for seed in range(40)]
    assert {sample.system for sample in made} == {"us", "metric", "imperial"}
    assert jobs.make(3) == made[3]
    priced = 0
    for sample in made:
        pipeline = Pipeline(jobs.layout(sample.system), sample.entries)
        priced += any(isinstance(v, float) for v in pipeline.column("price", "net"))
    assert 16 <= priced < 40


def test_pipeline_knows_the_demo(scenario_us: Scenario) -> None:
    layout = lay_out("job", "us", scenario_us.pieces)
    pipeline = Pipeline(layout, scenario_us.entries)
    assert pipeline.get("overall", "overall") == "OK"
    assert pipeline.get("quote_price", "gross", 0) == pipeline.get("price", "gross", 0)


def test_pipeline_covers_every_check_and_limit() -> None:
    layout = jobs.layout("us")
    assert CHECKS.keys() == {check.id for check in layout.block("checks").checks}
    fixed = [layout.cell("overall", name).value for name in ("noise", "cards")]
    assert fixed == [NOISE, CARDS]
    pipeline = Pipeline(layout, {})
    left = {c.block for c in hosts.computed("us") if not pipeline.covers(c) and c.role != "unit"}
    assert left <= {"mix_cards", "quote_terms", "map"}


def _has_price(sample: Sample) -> bool:
    pipeline = Pipeline(jobs.layout(sample.system), sample.entries)
    return isinstance(pipeline.get("price", "gross", 0), float)


@pytest.fixture(scope="module")
def sample() -> Sample:
    """A random job whose option A has a price."""
    return next(s for s in map(jobs.make, range(1, 50)) if _has_price(s))


@pytest.fixture(scope="module")
def told(sample: Sample) -> dict[Address, Value]:
    """What the pipeline says of that job."""
    return hosts.expected(sample)


@pytest.mark.parametrize(
    ("block", "field", "change"),
    [
        ("measured", "total", 1e-8),
        ("price", "gross", 0.01),
        ("price", "state", None),
        ("batches", "mixed", 1e-8),
    ],
)
def test_difference_is_named(
    told: dict[Address, Value], sample: Sample, block: str, field: str, change: float | None
) -> None:
    layout = jobs.layout(sample.system)
    cell = layout.cell(block, field)
    where = (cell.sheet, cell.address)
    before = told[where]
    changed = f"{before} " if change is None else float(str(before)) * (1 + change)
    tally = Tally()
    compare(sample.seed, layout, {"other": {**told, where: changed}}, told, tally)
    assert len(tally.apart) == 1
    assert tally.apart[0].startswith(f"job {sample.seed}, {cell.sheet}!{cell.address} ")


def test_cent_is_noticed_within_the_noise(told: dict[Address, Value], sample: Sample) -> None:
    """A difference far below 1e-9 that carries a figure over half a cent."""
    layout = jobs.layout(sample.system)
    rounded, free = layout.cell("price", "net"), layout.cell("price", "asked")
    low, high = 10_000.004999, 10_000.005001
    for cell, cents, edges in ((rounded, 1, 0), (free, 0, 1)):
        where = (cell.sheet, cell.address)
        tally = Tally()
        compare(1, layout, {"other": {**told, where: high}}, {**told, where: low}, tally)
        assert (tally.cents, len(tally.edges), len(tally.apart)) == (cents, edges, cents)


def test_a_run_goes_on_from_what_was_kept(tmp_path: Path) -> None:
    file = tmp_path / "kept.json"
    assert run.read_kept(file, 5) == Tally()
    so_far = Tally(jobs=20, cells=9, by_host={"code": 9}, largest={"code": (1e-15, "job 5, A!B1")})
    run.write_kept(file, 5, so_far)
    assert run.read_kept(file, 5) == so_far
    with pytest.raises(SystemExit, match="other jobs"):
        run.read_kept(file, 6)
    file.write_text(file.read_text().replace('"version": "', '"version": "0'))
    with pytest.raises(SystemExit, match="another version"):
        run.read_kept(file, 5)
