"""Visits by hand: dates on site, what they are paid for, and what a bare surface drinks.

The random jobs hold that the visits on Price are the dates on Days; the figures here are worked out
step by step. What raw wood drinks and half a day a visit are common practice, no source.
"""

from __future__ import annotations

import datetime as dt

import pytest
from tests.agreement import jobs
from tests.agreement.pipeline import Pipeline

from pourbook.cells import Rows, Value, row_of
from pourbook.functions.catalogue import evaluate
from pourbook.functions.days import calendar
from pourbook.functions.days.options import PB_OPTIONS
from pourbook.tables import layers, products, rooms, substrates
from pourbook.tables.measured import ROOM_COLUMNS

SEEDS = range(60)


def _options(**cells: Value) -> list[list[Value]]:
    """Return the answer to the example of PB_DAYS, with some cells of Start and Days changed."""
    given = dict(zip([a.name for a in PB_OPTIONS.arguments], calendar.EXAMPLE, strict=False))
    names = [a.name for a in PB_OPTIONS.arguments]
    found = evaluate("PB_OPTIONS", [{**given, **cells}.get(name) for name in names])
    assert isinstance(found, list)
    return [list(row) for row in found]


@pytest.mark.parametrize(
    ("cells", "visits", "paid"),
    [
        # prepare 4 h by two from 8:00 to 10:00, then two batches of 8 minutes each: 2 h 16 min
        ({"least": 0.0}, 1, 2 * (2 + 16 / 60)),
        ({"least": None}, 1, 2 * (2 + 16 / 60)),
        ({"least": 4.0}, 1, 2 * 4.0),
        # 40 h by two are 20 h: days of 8, 8 and 4 h, the pour on the third
        ({"prepare": 40.0, "least": 5.0}, 3, 2 * (8 + 8 + 5)),
        ({"prepare": 40.0, "least": 0.0}, 3, 2 * (8 + 8 + 4 + 16 / 60)),
        # by one, who mixes and spreads as well: 4 h, then the same two batches
        ({"crew": 1.0, "least": 0.0}, 1, 4 + 16 / 60),
    ],
)
def test_visits_are_dates_on_site(cells: dict[str, Value], visits: int, paid: float) -> None:
    offered = _options(**cells)[0]
    assert offered[7:9] == [visits, pytest.approx(paid, abs=1e-9)]
    beside = _options(**cells, option="B")[0]
    assert beside[7:] == offered[7:]


def test_no_calendar_no_visits() -> None:
    assert _options(start=None)[0][7:9] == ["", ""]
    assert _options(start=None)[0][5] == "ok"


def test_visits_on_price_are_the_dates_on_days() -> None:
    """Random jobs: each price pays the dates its calendar has, and its hours at the least."""
    seen = several = 0
    for seed in SEEDS:
        sample = jobs.make(seed)
        if str(sample.entries.get(("rates", "paid_by", 0))).casefold() == "steps alone":
            continue
        job = Pipeline(jobs.layout(sample.system), sample.entries)
        offered = "ABC".index(str(job.get("rates", "option")).upper())
        days, hours = (job.get("price", name, offered) for name in ("days", "hours"))
        steps = zip(
            *(job.column("days", name) for name in ("step", "starts", "ends", "hours")), strict=True
        )
        worked = [(a, b) for _, a, b, h in steps if isinstance(h, float) and isinstance(a, float)]
        if not isinstance(days, float | int) or not worked:
            continue
        seen += 1
        dates = {dt.date.fromordinal(int(a)) for a, _ in worked}
        several += len(dates) > 1
        assert days == len(dates), seed
        least = job.get("rates", "least") or 0
        assert isinstance(hours, float | int)
        people = [p for p in job.column("days", "visit_people") if isinstance(p, float | int)]
        spans = [
            24 * (max(float(b) for a, b in worked if int(a) == d.toordinal())
                  - min(a for a, _ in worked if int(a) == d.toordinal()))
            for d in sorted(dates)
        ]  # fmt: skip
        paid = sum(p * max(s, float(least)) for p, s in zip(people, spans, strict=True))
        assert hours + 1e-6 >= paid, seed
    assert seen >= 10
    assert several >= 5


def _soaked(below: str | None, over: str | None = None, **base: Value) -> list[list[Value]]:
    """Return the rows of PB_AMOUNTS of two coats on 2 m² of a bar, metric."""
    there: Rows = [
        row_of(substrates.COLUMNS, survey_room="Bar", substrate=below, soak=base.pop("soak", None))
    ]
    entries = row_of(rooms.COLUMNS, room="Bar", piece="Top", shape="area given", a="2 m²")
    areas = evaluate("PB_ROOMS", [[entries], "metric", there])
    assert isinstance(areas, list)
    (measured,) = areas
    cells = {"product": "Clear", "method": "pour", "surfaces": "top", "spread": "1 mm"}
    coats = [
        row_of(layers.COLUMNS, option="A", layer=name, **{**cells, **more})
        for name, more in (("Base", base), ("Clear coat", {"take_up": over}))
    ]
    product = row_of(
        products.COLUMNS, product="Clear", parts=2, basis="volume", ratio="1:1",
        first="A", density_a=1.1, density_b=1.0, solids=1.0,
    )  # fmt: skip
    plan = [("A", n, "x", "ok", 40.0, 9.0, "bucket", 1, 1, "fewest", 2.0, 0, 0.0) for n in (1, 2)]
    found = evaluate("PB_AMOUNTS", [coats, [product], [[*entries, *measured]], plan, "metric"])
    assert isinstance(found, list)
    return [list(row) for row in found]


def test_raw_wood_drinks_of_the_first_coat_and_laminate_of_none() -> None:
    """0.5 US fl oz/ft² is 0.5 x 29.5735 mL / 0.092903 m²: 159.2 mL/m², on 2 m² 0.3183 L."""
    drunk = 0.5 * 29.5735295625 / 0.09290304 * 2 / 1000
    base, clear = _soaked("plywood or wood")
    assert base[9] == pytest.approx(drunk, rel=1e-9)
    assert base[13] == pytest.approx(2 + drunk, rel=1e-9)
    assert clear[9] == 0.0
    assert [row[9] for row in _soaked("laminate")] == [0.0, 0.0]
    assert [row[9] for row in _soaked("old coating")] == [0.0, 0.0]


def test_what_is_typed_goes_before_what_is_usual() -> None:
    assert _soaked("plywood or wood", soak="100 mL/m²")[0][9] == pytest.approx(0.2)
    assert _soaked("plywood or wood", take_up="25 mL/m²")[0][9] == pytest.approx(0.05)
    assert _soaked("plywood or wood", take_up="0 mL/m²")[0][9] == 0.0
    assert _soaked("concrete", soak="50 mL/m²")[0][9] == pytest.approx(0.1)


def test_nothing_is_usual_for_concrete() -> None:
    assert "fix its row on the Rooms sheet" in str(_soaked("concrete")[0][-1])
    entries = row_of(rooms.COLUMNS, room="Bar", piece="Top", shape="area given", a="2 m²")
    there: Rows = [row_of(substrates.COLUMNS, survey_room="bar", substrate="concrete")]
    found = evaluate("PB_ROOMS", [[entries], "metric", there])
    assert isinstance(found, list)
    assert "type Soak-in on Survey, 0 where it is sealed" in str(found[0][5])


@pytest.mark.parametrize(
    ("method", "surfaces", "holds", "stays"),
    [
        # 1 mm over 2 m² of top and 0.5 m² of edge: an edge holds 0.3 mm, the rest runs off
        ("pour", "top + edge", None, 2.0 + 0.5 * 0.3),
        ("trowel", "top + edge", None, 2.0 + 0.5 * 0.3),
        ("pour", "top + edge", "0.2 mm", 2.0 + 0.5 * 0.2),
        ("pour", "top + edge", "2 mm", 2.5),
        ("pour", "top", None, 2.0),
        ("pour", "edge", None, 0.5 * 0.3),
        ("roll", "top + edge", None, 2.5),
    ],
)
def test_what_a_vertical_does_not_hold_runs_off(
    method: str, surfaces: str, holds: Value, stays: float
) -> None:
    measured = row_of(
        ROOM_COLUMNS, room="Bar", piece="Top", shape="area given", top=2.0, edge=0.5, splash=0.0,
        total=2.5, run=5.0, status="ok", soak=0.0,
    )  # fmt: skip
    coat = row_of(
        layers.COLUMNS, option="A", layer="Flood", product="Clear", method=method,
        surfaces=surfaces, spread="1 mm",
    )  # fmt: skip
    product = row_of(
        products.COLUMNS, product="Clear", parts=2, basis="volume", ratio="1:1", first="A",
        density_a=1.1, density_b=1.0, solids=1.0, vertical=holds,
    )  # fmt: skip
    plan = [("A", 1, "Flood", "ok", 40.0, 9.0, "bucket", 1, 1, "fewest", 2.5, 0, 0.0)]
    found = evaluate("PB_AMOUNTS", [[coat], [product], [measured], plan, "metric"])
    assert isinstance(found, list)
    net, _, off, _, _, mixed = found[0][8:14]
    whole = {"top + edge": 2.5, "top": 2.0, "edge": 0.5}[surfaces]
    assert [net, off, mixed] == pytest.approx([stays, whole - stays, whole])
