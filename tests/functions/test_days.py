"""The calendar of a job through PB_DAYS.

What is expected follows from the figures typed here by hand: hours of work from area and pace,
times of cure at their own temperature (where one hour is one hour), dates by the calendar.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import datetime, timedelta

import pytest

from pourbook import units
from pourbook.cells import Value
from pourbook.dates import from_serial
from pourbook.functions.batch.plans import EXAMPLE_DOING, EXAMPLE_WORKING
from pourbook.functions.catalogue import catalogue, evaluate
from pourbook.functions.day_columns import SPANS
from pourbook.functions.days import calendar, spans
from pourbook.functions.days.calendar import EXAMPLE, MOST_LINES, SITE
from pourbook.functions.declare import Result
from pourbook.functions.mix.amounts import EXAMPLE_LAYER, EXAMPLE_PRODUCT
from pourbook.tables.products import COLUMNS as PRODUCT
from pourbook.tables.works import COLUMNS as WORKING
from pourbook.trade.air import Verdict
from pourbook.trade.days.schedule import Deed
from pourbook.workbook.tell import days_told

MONDAY = datetime(2027, 1, 11)
Table = list[list[Value]]


def _call(
    *,
    layers: int = 1,
    before: str | None = None,
    working: dict[str, Value] | None = None,
    product: dict[int, Value] | None = None,
    hourly: Sequence[Value] | None = None,
    doing: dict[int, Value] | None = None,
    **site: Value,
) -> list[dict[str, Value]]:
    """Call the function with the example's job, changed; layers alike go one over another."""
    given: list[Value | Table] = [
        [list(r) for r in a] if isinstance(a, tuple) else a for a in EXAMPLE
    ]
    coats: Table = [list(EXAMPLE_LAYER) for _ in range(layers)]
    for coat in coats[1:]:
        coat[6] = before
    given[0] = coats
    how = [(doing or {}).get(i, v) for i, v in enumerate(EXAMPLE_DOING)]
    given[1] = [list(how) for _ in range(layers)]
    given[2] = [[(product or {}).get(i, v) for i, v in enumerate(EXAMPLE_PRODUCT)]]
    stated = dict(zip(WORKING, EXAMPLE_WORKING, strict=True)) | (working or {})
    given[3] = [[stated[c] for c in WORKING]]
    if hourly is not None:
        given[5] = [[v] for v in hourly]
    first = 8
    for key, value in site.items():
        given[7 if key == "option" else first + SITE.index(key)] = value
    found: Result = evaluate("PB_DAYS", given)
    assert isinstance(found, list)
    ids = [c.id for c in catalogue()["PB_DAYS"].columns]
    return [dict(zip(ids, row, strict=True)) for row in found]


def _when(rows: list[dict[str, Value]], step: str, layer: str = "Flood") -> datetime:
    return from_serial(
        next(
            float(r["starts"])  # type: ignore[arg-type]
            for r in rows
            if r["step"] == step and r["day_layer"] == layer
        )
    )


def _refusal(rows: list[dict[str, Value]]) -> str:
    """Return the one refusal; nothing else stands on the sheet."""
    assert [r["day_status"] for r in rows[1:]] == [""] * (MOST_LINES - 1)
    said = str(rows[0]["day_status"])
    assert said.startswith("! ")
    return said


def test_as_many_rows_as_the_sheet() -> None:
    assert len(_call()) == MOST_LINES


def test_one_layer_at_the_temperature_of_its_data_sheet() -> None:
    rows = _call()
    assert _when(rows, "prepare", "") == datetime(2027, 1, 11, 8)
    # 4 hours of one, two people; 1 m² at 10 m²/h and 2 minutes of mixing: 8 minutes a batch
    assert _when(rows, "pour batch 1 of 2") == datetime(2027, 1, 11, 10)
    assert _when(rows, "pour batch 2 of 2") == datetime(2027, 1, 11, 10, 8)
    assert _when(rows, "touch dry") == datetime(2027, 1, 12, 10, 16)
    assert _when(rows, "full cure") == datetime(2027, 1, 18, 10, 16)
    # the window closes by the oldest film: 24 h after the end of the first batch
    assert _when(rows, "recoat until") == datetime(2027, 1, 12, 10, 8)


def test_colder_nights_make_it_later() -> None:
    assert _when(_call(night=15.0, day_from=7.0, day_to=19.0), "touch dry") > _when(
        _call(), "touch dry"
    )


def test_next_coat_waits_for_its_window() -> None:
    rows = _call(layers=2)
    # recoat from 18:16, work ends at 16:00: on the next morning, before 10:08
    assert _when(rows, "pour batch 1 of 2", "Flood (2)") == datetime(2027, 1, 12, 8)
    assert not [r for r in rows if r["day_note"]]


def test_missed_window_adds_sanding_and_says_so() -> None:
    """A Friday: the window of 24 hours closes on Saturday, when nobody works."""
    rows = _call(layers=2, start=46398.0 + 4)
    sanding = next(r for r in rows if r["step"] == "sand 220, window missed")
    assert sanding["day_layer"] == "Flood (2)"
    assert sanding["hours"] == pytest.approx(0.1)  # 2 m² at 10 m²/h, two people
    assert "recoat window missed" in str(sanding["day_note"])
    assert _when(rows, "pour batch 1 of 2", "Flood (2)") == datetime(2027, 1, 18, 8, 6)
    poured = next(r for r in rows if r["day_layer"] == "Flood (2)" and "pour" in str(r["step"]))
    assert "recoat window closed 2027-01-16 10:08" in str(poured["day_note"])
    assert {r["day_status"] for r in rows} == {"ok", ""}


def test_missed_window_without_a_sanding_pace_is_refused() -> None:
    said = _refusal(_call(layers=2, start=46398.0 + 4, sand=None))
    assert "'Flood (2)'" in said
    assert "recoat window closes" in said


def _cold_hour(hour: int, touch: float) -> list[dict[str, Value]]:
    """20 °C but for one hour at 5 °C, below the 10 °C the product allows."""
    hourly = [5.0 if n == hour else 20.0 for n in range(48)]
    coldest = PRODUCT.index("coldest")
    return _call(hourly=hourly, product={coldest: 10.0}, working={"touch": touch})


@pytest.mark.parametrize(
    ("hour", "touch", "cold"),
    [
        (12, 1.8, True),  # batch 2 ends at 10:16 and is touch dry at 12:04
        (12, 1.7, False),  # 11:58
        (11, 1.7, True),
        (23, 13.0, True),  # 23:16 for batch 2, 23:08 for batch 1
        (23, 12.8, True),  # 23:04 for batch 2 alone
        (23, 12.7, False),  # 22:58
    ],
)
def test_a_cold_hour_counts_until_touch_dry_from_the_end_of_the_pour(
    hour: int, touch: float, cold: bool
) -> None:
    rows = _cold_hour(hour, touch)
    last = next(r for r in rows if r["step"] == "pour batch 2 of 2")
    assert last["air"] == ("wait" if cold else "go")


def test_no_cold_hour_before_touch_dry_is_missed() -> None:
    """Against minutes counted one by one, a minute at T worth exp(E/R (1/T0 - 1/T)) of one at T0.

    E is the 55 kJ/mol of the example's product, stated at 20 °C.
    """
    worth = math.exp(55000 / 8.314462618 * (1 / 293.15 - 1 / 278.15))
    for hour in range(10, 34):
        for touch in (1.3, 5.05, 13.4, 20.9):
            clock, cured = 10 * 60 + 16, 0.0
            met = {10}
            while cured < touch * 60 - 1e-6:
                met.add(clock // 60)
                cured += worth if clock // 60 == hour else 1
                clock += 1
            rows = _cold_hour(hour, touch)
            last = next(r for r in rows if r["step"] == "pour batch 2 of 2")
            assert (last["air"] != "go") == (hour in met), (hour, touch)


def test_sanding_for_a_missed_window_waits_until_touch_dry() -> None:
    """A Friday; sticky for 80 hours after batch 2, which ends at 10:16: until Monday 18:16."""
    rows = _call(layers=2, start=46398.0 + 4, working={"touch": 80, "light": 90})
    assert _when(rows, "sand 220, window missed", "Flood (2)") == datetime(2027, 1, 19, 8)


def test_sanding_between_coats_waits_until_touch_dry() -> None:
    rows = _call(layers=2, before="sand 220 and clean")
    assert _when(rows, "sand 220") == datetime(2027, 1, 12, 10, 16)
    assert _when(rows, "clean", "Flood (2)") > _when(rows, "sand 220")


def test_days_off_and_weekends_are_left_out() -> None:
    rows = _call(days_off="2027-01-11; 2027-01-12")
    assert _when(rows, "prepare", "") == datetime(2027, 1, 13, 8)
    saturday = _call(start=46398.0 + 5)
    assert _when(saturday, "prepare", "") == datetime(2027, 1, 18, 8)
    assert _when(_call(start=46398.0 + 5, weekdays="Mon-Sat"), "prepare", "").day == 16
    assert _when(_call(start=46398.0 + 6, weekdays="every day"), "prepare", "").day == 17


def test_long_preparation_is_parted_over_days() -> None:
    rows = _call(prepare=20.0)  # two people: 10 h, days of 8 h
    assert _when(rows, "prepare, part 2", "") == datetime(2027, 1, 12, 8)
    assert _when(rows, "pour batch 1 of 2") == datetime(2027, 1, 12, 10)


def test_heat_passes_follow_the_pour() -> None:
    """Three of 4 min, 2 min apart, take 16 min; 5 min after 10:08, then when the torch is free."""
    rows = _call(doing={8: 3}, heat_pass=4.0, gap=2.0)
    heated = [_when(rows, f"heat 3 passes, batch {n} of 2") for n in (1, 2)]
    assert [one.minute for one in heated] == [13, 29]
    assert not [r for r in rows if r["day_note"]]


def test_a_batch_heated_too_late_is_a_check() -> None:
    """Passes of 20 min: the torch is free for batch 2, spread by 10:16, at 11:17; 10:31 is late."""
    rows = _call(doing={8: 3}, heat_pass=20.0, gap=2.0)
    (late,) = (r for r in rows if r["day_note"])
    assert late["step"] == "heat 3 passes, batch 2 of 2"
    assert str(late["day_note"]).startswith("CHECK: 46 min too late")


def test_a_crew_that_all_spreads_heats_between_two_batches() -> None:
    """One person: batch 1 from 12:00 to 12:08, batch 2 to 12:16; then batch 1 is heated, then 2."""
    rows = _call(doing={8: 1}, heat_pass=2.0, gap=2.0, crew=1.0)
    times = [_when(rows, f"{step} of 2") for step in ("pour batch 2", "heat 1 pass, batch 1")]
    assert [one.strftime("%H:%M") for one in times] == ["12:08", "12:16"]
    assert _when(rows, "heat 1 pass, batch 2 of 2").strftime("%H:%M") == "12:21"


def test_heat_times_are_the_products() -> None:
    rows = _call(doing={8: 1}, working={"heat_from": 2, "heat_until": 4}, heat_pass=1.0)
    assert _when(rows, "heat 1 pass, batch 1 of 2").strftime("%H:%M") == "10:10"


def test_two_mixers_mix_while_the_batch_before_is_spread() -> None:
    """Six minutes of spreading each, two of mixing: the second is spread straight after."""
    rows = _call(doing={13: 2}, crew=3.0)
    first, second = (next(r for r in rows if r["step"] == f"pour batch {n} of 2") for n in (1, 2))
    minutes = (float(str(second["starts"])) - float(str(first["ends"]))) * 1440
    assert minutes == pytest.approx(-2)


def test_hourly_temperatures_take_the_place_of_day_and_night() -> None:
    warm = _call(hourly=[None] * 12 + [30.0] * 24)
    assert _when(warm, "touch dry") < _when(_call(), "touch dry")
    same = _call(hourly=[20.0] * 336)
    assert _when(same, "touch dry") == _when(_call(), "touch dry")


def test_passes_are_coats_of_their_own() -> None:
    given = [[list(r) for r in a] if isinstance(a, tuple) else a for a in EXAMPLE]
    assert isinstance(given[0], list)
    given[0][0][9] = 2
    found = evaluate("PB_DAYS", given)
    assert isinstance(found, list)
    layers = {row[1] for row in found if row[1]}
    assert layers == {"Flood, pass 1", "Flood, pass 2"}


def test_more_lines_than_rows_are_drawn_together() -> None:
    small = {2: "45 mL", 5: "5 mL"}  # 2 L in batches of 40 mL, two layers
    rows = _call(layers=2, doing={**small, 4: 100.0}, product={10: 0.5})
    assert {r["day_status"] for r in rows} == {"ok", ""}
    first = next(r for r in rows if "pour batch" in str(r["step"]))
    assert str(first["step"]).startswith("pour batch 1 of ")
    assert " to " in str(first["step"])


@pytest.mark.parametrize(
    ("cells", "words"),
    [
        ({"start": None}, "! type the day the work starts on Start"),
        ({"start": "soon"}, "Work starts: 'soon' is no date"),
        ({"work_from": 16.0, "work_to": 8.0}, "no working hours"),
        ({"work_from": 8.0, "work_to": 8.0}, "no working hours"),
        ({"work_from": None}, "Work begins: it is blank"),
        ({"humidity": 1.2}, "Relative humidity: it is 120 %"),
        ({"weekdays": "Sundays"}, "Days worked"),
        ({"days_off": "Easter"}, "Days off: 'Easter' is no date"),
        ({"crew": 0.0}, "Crew"),
        ({"prepare": -1.0}, "Prepare: it is -1"),
        ({"prepare": None}, "Prepare: it is blank"),
        ({"sand": 0.0}, "Sanding pace: it is 0"),
        ({"option": "B"}, "no layers"),
        ({"work_to": 8.1}, "a working day has"),
        ({"night": "cold"}, "Night temperature: 'cold' is no number"),
        ({"hourly": ["cold"]}, "Temperature of hour 1"),
        ({"working": {"recoat_from": 30, "recoat_until": 24}}, "closes before it opens"),
        ({"working": {"cure_temp": None}}, "Cure at of Clear: it is blank"),
        ({"layers": 2, "working": {"recoat_from": None}}, "Recoat from of Clear: it is blank"),
        ({"layers": 2, "before": "clean", "clean": None}, "Cleaning pace: it is blank"),
        ({"layers": 2, "before": "sand 220 and clean", "sand": None}, "Sanding pace: it is blank"),
        ({"working": {"pot_life": None}}, "Pot life"),
    ],
)
def test_calendar_that_cannot_be_kept(cells: dict[str, object], words: str) -> None:
    rows = _call(**cells)  # type: ignore[arg-type]
    assert words in _refusal(rows)
    assert [row["span"] for row in rows[:2]] == ["!", ""]


@pytest.mark.parametrize(
    ("cells", "verdict", "words"),
    [
        ({}, "go", ""),
        ({"humidity": None}, "wait", "type the relative humidity"),
        ({"humidity": 0.9}, "don't", "dew point"),
        ({"humidity": 0.65, "product": {13: 0.6}}, "wait", "humidity is 65 %"),
        ({"product": {11: 22.0}}, "don't", "below the least allowed, 22 °C"),
        ({"product": {12: 18.0}}, "don't", "above the most allowed, 18 °C"),
        ({"surface": 10.0}, "don't", "above it"),
        (
            {"night": 12.0, "day_from": 7.0, "day_to": 19.0, "product": {11: 15.0}},
            "wait",
            "it falls to 12 °C",
        ),
        ({"hourly": [20.0] * 20 + [31.0] * 9, "product": {12: 30.0}}, "wait", "it rises to 31 °C"),
    ],
)
def test_air_of_a_pour(cells: dict[str, object], verdict: str, words: str) -> None:
    rows = _call(**cells)  # type: ignore[arg-type]
    pours = [r for r in rows if str(r["step"]).startswith("pour")]
    assert [r["air"] for r in pours] == [verdict] * 2
    assert all(words in str(r["day_note"]) for r in pours)
    assert {r["air"] for r in rows} == {"", verdict}, "only what is put on is judged"


def test_spans_agree_with_the_lines() -> None:
    lines = _call(layers=2)
    assert [s["span"] for s in lines[:4]] == ["Prepare", "Flood", "Flood (2)", ""]
    for span in lines[1:3]:
        own = [r for r in lines if r["day_layer"] == span["span"]]
        at = {r["step"]: r["starts"] for r in own}
        assert span["touch_dry"] == at["touch dry"]
        assert span["next_until"] == at["recoat until"]
        assert span["hard_use"] == at["full cure"]
        assert span["work_from"] == min(r["starts"] for r in own if r["hours"])  # type: ignore[type-var]


def test_more_layers_than_spans_are_counted() -> None:
    rows = _call(layers=9)
    assert rows[spans.MOST - 1]["span"] == "3 more below"
    assert {row["span"] for row in rows[spans.MOST :]} == {""}


def test_explained_age_is_the_one_needed() -> None:
    """At the temperature of the data sheet, age and clock agree."""
    given = [[list(r) for r in a] if isinstance(a, tuple) else a for a in EXAMPLE]
    found = calendar.calendar(*given)  # type: ignore[arg-type]
    index = next(i for i, p in enumerate(found.lines) if p.step.deed is Deed.TOUCH_DRY)
    told = {s.label: s.value for s in days_told.steps(found, index, units.SYSTEMS["metric"])}
    assert told["Age needed"] == 24
    assert told["Age reached"] == pytest.approx(24, abs=1e-3)
    assert told["Time by the clock"] == pytest.approx(24, abs=1e-3)


def test_sanding_after_a_closed_window_says_that_it_reopens_it() -> None:
    """Sanded between coats in any case; three days off close the window of a day before that."""
    off = "2027-01-12; 2027-01-13; 2027-01-14"
    sand = "sand 220 and clean"
    dry: dict[str, Value] = {"touch": 8.0}
    kept = [
        r
        for r in _call(layers=2, before=sand, working=dry)
        if r["step"] == "sand 220" and r["day_layer"]
    ]
    late = [
        r
        for r in _call(layers=2, before=sand, working=dry, days_off=off)
        if r["step"] == "sand 220" and r["day_layer"]
    ]
    assert [r["day_note"] for r in kept] == [""]
    assert ["window has closed" in str(r["day_note"]) for r in late] == [True]


def test_batches_in_one_line_have_the_first_bad_air_among_them() -> None:
    """Four batches of a coat an hour apart, the third and fourth out of bounds."""
    said = [Verdict("go", ("ok",)), Verdict("go", ("ok",)), Verdict("wait", ("damp",))]
    said.append(Verdict("don't", ("cold",)))
    made = [
        calendar.Line(
            *(Deed.BATCH, "pour", f"{n + 1}", "Flood"),
            *(MONDAY + timedelta(hours=n), MONDAY + timedelta(hours=n + 1), air, ""),
        )
        for n, air in enumerate(said)
    ]
    sand = calendar.Line(Deed.SAND, "sand", "", "Top", made[-1].end, made[-1].end, None, "")
    merged = calendar._merged([*made, sand, *made[:2]])
    assert [(line.turns, line.air) for line in merged] == [
        ("1 to 4", said[2]),
        ("", None),
        ("1 to 2", said[1]),
    ]
    assert (merged[0].start, merged[0].end) == (made[0].start, made[-1].end)
    assert calendar._merged([made[0], sand]) == [made[0], sand]


def test_each_batch_meets_the_warmth_of_its_own_hour_coat_after_coat() -> None:
    """Two coats of two batches, the second coat a day later at 8 h, in an hour typed as 31 °C."""
    hours = [20.0] * 24 * 3
    hours[24 + 8] = 31.0
    rows = _call(layers=2, hourly=hours)
    pours = [r for r in rows if str(r["step"]).startswith("pour")]
    begun = [from_serial(float(str(r["starts"]))).hour for r in pours]
    assert begun == [10, 10, 8, 8]
    assert [r["batch_warmth"] for r in rows[:4]] == pytest.approx([20.0, 20.0, 31.0, 31.0])


def test_a_coat_longer_than_a_working_day_is_refused() -> None:
    """A coat of two batches takes 16 min, 0.27 h, and from 8:00 to 8:06 there is 0.1 h."""
    said = _refusal(_call(work_to=8.1))
    assert said.startswith("! 'Flood' takes 0.3 h but a working day has 0.1 h: split it")


def test_what_is_on_time_has_no_note() -> None:
    rows = _call(layers=2, before="clean")
    notes = {str(r["step"]): r["day_note"] for r in rows if r["step"]}
    assert any("clean" in step for step in notes)
    assert set(notes.values()) == {""}


def test_a_wait_is_rounded_up_to_the_second_and_a_window_down() -> None:
    """8 and 24 h at 20 °C, 55 kJ/mol (Arrhenius), at 17.3 °C: whole seconds, on the safe side."""
    rows = _call(temperature=17.3, layers=2)
    slower = math.exp(55e3 / 8.314462618 * (1 / 290.45 - 1 / 293.15))
    pours = [r for r in rows if str(r["step"]).startswith("pour") and r["day_layer"] == "Flood"]
    first, last = (from_serial(float(str(r["ends"]))) for r in (pours[0], pours[-1]))
    waits = (_when(rows, "recoat from") - last).total_seconds()
    closes = (_when(rows, "recoat until") - first).total_seconds()
    assert waits == math.ceil(8 * 3600 * slower)
    assert closes == math.floor(24 * 3600 * slower)


def test_a_time_of_a_row_is_taken_from_its_own_line() -> None:
    """Row 0 is the preparation; the next is the coat's, and no row stands below it."""
    found = calendar.calendar(*EXAMPLE)
    times = [column.id for column in SPANS][-4:]
    lines = [spans.line_behind(found, 1, name) for name in times]
    assert all(line is not None for line in lines)
    assert lines == sorted(lines, key=lambda line: found.lines[line or 0].start)
    for row in (0, 2, -1):
        assert [spans.line_behind(found, row, name) for name in times] == [None] * 4
    assert spans.line_behind(found, 1, "span") is None
