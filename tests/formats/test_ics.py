"""The calendar file, read back with the icalendar package."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st
from icalendar import Calendar

from pourbook.errors import InputError
from pourbook.formats.ics import Event, to_ics

STAMP = datetime(2024, 3, 1, 12, 30, 15)
MONDAY = datetime(2024, 3, 4, 7)


def _line(name: str, hours: float = 1.0, note: str = "") -> Event:
    return Event(name, MONDAY, MONDAY + timedelta(hours=hours), note)


def test_a_calendar_program_reads_the_steps_back() -> None:
    text = to_ics(
        [_line("pour", note="sand, then\nclean; \\ twice"), _line("dry", 0.0)], STAMP, "7"
    )
    calendar = Calendar.from_ical(text)
    pour, dry = calendar.walk("VEVENT")
    assert pour.decoded("dtstart") == MONDAY
    assert pour.decoded("dtstart").tzinfo is None
    assert pour.decoded("dtend") == MONDAY + timedelta(hours=1)
    assert pour.decoded("dtstamp") == STAMP.replace(tzinfo=UTC)
    assert str(pour["summary"]) == "7: pour"
    assert str(pour["description"]) == "sand, then\nclean; \\ twice"
    assert "dtend" not in dry
    assert "description" not in dry
    assert calendar["version"] == "2.0"


@given(st.text(st.characters(exclude_categories=["Cs", "Cc"]), min_size=1, max_size=300))
def test_any_text_folds_and_reads_back(name: str) -> None:
    text = to_ics([_line(name)], STAMP, "job")
    assert text.endswith("\r\n")
    assert all(len(line.encode()) <= 75 for line in text.split("\r\n"))
    assert "\n" not in text.replace("\r\n", "")
    (event,) = Calendar.from_ical(text).walk("VEVENT")
    assert str(event["summary"]) == f"job: {name}"


def test_forbidden_characters_become_spaces() -> None:
    (event,) = Calendar.from_ical(to_ics([_line("a\x00b\x7fc\td")], STAMP, "job")).walk("VEVENT")
    assert str(event["summary"]) == "job: a b c d"


def test_uid_keeps_to_the_step_and_the_job() -> None:
    def uids(text: str) -> list[str]:
        return [str(event["uid"]) for event in Calendar.from_ical(text).walk("VEVENT")]

    first = uids(to_ics([_line("pour"), _line("dry")], STAMP, "7"))
    later = [
        Event(line.name, line.start + timedelta(days=2), line.end + timedelta(days=2))
        for line in (_line("pour"), _line("dry"))
    ]
    assert uids(to_ics(later, STAMP + timedelta(days=1), "7")) == first
    assert len(set(first)) == 2
    assert not set(first) & set(uids(to_ics([_line("pour"), _line("dry")], STAMP, "8")))


@pytest.mark.parametrize(
    "call",
    [
        lambda: to_ics([_line("pour"), _line("pour")], STAMP, "7"),
        lambda: to_ics([_line("pour")], STAMP, " "),
        lambda: to_ics([_line("pour")], STAMP.replace(tzinfo=UTC), "7"),
    ],
)
def test_what_no_calendar_can_hold_is_refused(call: object) -> None:
    assert callable(call)
    with pytest.raises(InputError) as refusal:
        call()
    assert refusal.value.mend
