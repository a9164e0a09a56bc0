"""The other steps of Days by hand: lifting out, masking, fillers, dams, clean-up, drips, return.

The job is the example of PB_DAYS: two people from 8 to 16 h at 20 degC, where the product states
its times, 4 h of one person to prepare, one poured coat of two batches of 8 minutes; touch dry in
24 h, light use in 72 h. What a step takes is common practice, no source.
"""

from __future__ import annotations

from datetime import datetime

import pytest

from pourbook.cells import Rows, Value
from pourbook.dates import from_serial
from pourbook.errors import InputError
from pourbook.functions.catalogue import catalogue, evaluate
from pourbook.functions.days import calendar
from pourbook.tables.site import OTHER_STEPS, read_other_steps
from pourbook.trade.days.sequence import CoatTimes, job_steps

USUAL = (24, 0.5, 1, 2, 0.5, 15, 20, 0.5)
"""In the order of Days: cans, lift out, mask, fillers, dams, clean-up, drips, return visit."""


def _days(*steps: Value) -> list[dict[str, Value]]:
    given = [*calendar.EXAMPLE[:-1], [[step] for step in steps]]
    found = evaluate("PB_DAYS", given)
    assert isinstance(found, list)
    names = [column.id for column in catalogue()["PB_DAYS"].columns]
    return [dict(zip(names, row, strict=True)) for row in found]


def _times(rows: list[dict[str, Value]], step: str) -> tuple[datetime, datetime]:
    row = next(row for row in rows if row["step"] == step)
    assert isinstance(row["starts"], float)
    assert isinstance(row["ends"], float)
    return from_serial(row["starts"]), from_serial(row["ends"])


@pytest.mark.parametrize(
    ("step", "begins", "ends"),
    [
        ("cans in the warm", (10, 13, 0), (10, 13, 0)),  # 24 h before the first batch
        ("lift out", (11, 8, 0), (11, 8, 15)),  # 0.5 h by two
        ("mask", (11, 8, 15), (11, 8, 45)),
        ("prepare", (11, 8, 45), (11, 10, 45)),
        ("fillers cured", (11, 12, 45), (11, 12, 45)),  # 2 h later, nobody's work
        ("dams and tape", (11, 12, 45), (11, 13, 0)),
        ("pour batch 1 of 2", (11, 13, 0), (11, 13, 8)),
        ("clean up", (11, 13, 16), (11, 13, 24)),  # 15 min by two, up to whole minutes
        ("touch dry", (12, 13, 16), (12, 13, 16)),
        ("sand drips", (12, 13, 16), (12, 13, 26)),  # 20 min by two, once it is touch dry
        ("return visit", (14, 13, 16), (14, 13, 46)),  # one person, once light use may begin
    ],
)
def test_steps_stand_on_the_calendar(
    step: str, begins: tuple[int, int, int], ends: tuple[int, int, int]
) -> None:
    found = _times(_days(*USUAL), step)
    assert found == (datetime(2027, 1, *begins), datetime(2027, 1, *ends))


def test_return_visit_is_paid_to_one() -> None:
    """Dates on site: 5 h 24 min by two, 10 min by two, half an hour by one; at least 4 h each."""
    rows = _days(*USUAL)
    people = [row["visit_people"] for row in rows if row["visit_people"] != ""]
    assert people == [2, 2, 1]
    paid = evaluate("PB_OPTIONS", [*calendar.EXAMPLE[:-1], [[s] for s in USUAL], 4.0])
    assert isinstance(paid, list)
    assert list(paid[0][7:9]) == [3, pytest.approx(2 * 5.4 + 2 * 4 + 1 * 4)]
    assert paid[0][9] == pytest.approx(0.5 + 1 + 0.5 + 0.5 + 15 / 60 + 20 / 60)


@pytest.mark.parametrize("at", range(len(USUAL)))
def test_each_can_be_struck_out(at: int) -> None:
    named = ("cans in the warm", "lift out", "mask", "fillers cured", "dams and tape")
    name = (*named, "clean up", "sand drips", "return visit")[at]
    assert name in {row["step"] for row in _days(*USUAL)}
    for struck in (0, None):
        rows = _days(*USUAL[:at], struck, *USUAL[at + 1 :])
        assert name not in {row["step"] for row in rows}
    assert _days(*[None] * len(USUAL)) == _days(*[0] * len(USUAL)) == _days()


def test_drips_go_with_the_sanding_over_them() -> None:
    below = CoatTimes("flood", (600.0,), 0.0, 296.15, 3600.0, touch_dry=7200.0, drip_seconds=300.0)
    over = CoatTimes("top", (600.0,), 0.0, 296.15)
    sanded = CoatTimes(**{**vars(below), "sand_always": True, "sand_seconds": 900.0})
    names = [step.name for step in job_steps([], [sanded, over])]
    assert names.index("flood: sand drips") + 1 == names.index("flood: sand 220")
    assert [step.name for step in job_steps([], [below, over])][-1] == "flood: sand drips"


def test_drips_of_a_coat_that_never_dries_are_refused() -> None:
    coat = CoatTimes("flood", (600.0,), 0.0, 296.15, drip_seconds=300.0)
    with pytest.raises(InputError, match="type Touch dry on Products, or 0 at Sand drips"):
        job_steps([], [coat])


@pytest.mark.parametrize("bad", [-1, 10_001, "half a day"])
def test_figure_out_of_range_is_named(bad: Value) -> None:
    rows: Rows = [[None], [bad]]
    with pytest.raises(InputError, match="Lift out"):
        read_other_steps(rows)
    assert str(_days(None, bad)[0]["day_status"]).startswith("! Lift out")


def test_labels_are_those_of_the_sheet() -> None:
    from pourbook.workbook.template.template import load_book

    lines = next(
        block.columns
        for sheet in load_book("job").sheets
        for block in sheet.blocks
        if block.id == "other_steps"
    )
    assert [(line.id, line.header) for line in lines] == [
        (name, label) for name, (label, _) in OTHER_STEPS.items()
    ]
    assert [line.default for line in lines] == list(USUAL)
