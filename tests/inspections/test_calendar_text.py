"""Calendar text by RFC 5545: examples of the standard, recalled, and what must hold of any."""

from __future__ import annotations

from datetime import UTC, date, datetime

from hypothesis import given
from hypothesis import strategies as st

from inspections.calendar_text import LONGEST_LINE, DayEvent, calendar_text

MOMENT = datetime(2026, 11, 20, 6, 30, tzinfo=UTC)


def event(**changes: object) -> DayEvent:
    facts = {
        "key": "visit-7",
        "day": date(2026, 12, 31),
        "summary": "Truck 17",
        "description": "Lubrication",
        "location": "North",
        "changed_at": MOMENT,
    } | changes
    return DayEvent(**facts)  # type: ignore[arg-type]


def unfolded(text: str) -> list[str]:
    """RFC 5545, 3.1, undone: a line end and a blank are nothing."""
    return text.replace("\r\n ", "").split("\r\n")


def test_a_whole_day_ends_with_the_next_one() -> None:
    lines = unfolded(calendar_text("Doors", [event()], domain="doors.example"))
    assert "DTSTART;VALUE=DATE:20261231" in lines
    assert "DTEND;VALUE=DATE:20270101" in lines
    assert "UID:visit-7@doors.example" in lines
    assert "DTSTAMP:20261120T063000Z" in lines
    assert lines[0] == "BEGIN:VCALENDAR"
    assert lines[-2:] == ["END:VCALENDAR", ""]


def test_signs_with_a_meaning_are_escaped() -> None:
    # RFC 5545, 3.3.11 (recalled): its own example of a comma, a semicolon and a line end.
    text = "Project XYZ Final Review\nConference Room - 3B\nCome Prepared."
    lines = unfolded(calendar_text("D", [event(description=text)], domain="d"))
    assert r"DESCRIPTION:Project XYZ Final Review\nConference Room - 3B\nCome Prepared." in lines
    lines = unfolded(calendar_text("D", [event(summary="a, b; c \\ d")], domain="d"))
    assert r"SUMMARY:a\, b\; c \\ d" in lines


def test_a_visit_that_did_not_happen_is_cancelled() -> None:
    assert "STATUS:CANCELLED" in calendar_text("D", [event(is_cancelled=True)], domain="d")


@given(st.text(max_size=300))
def test_no_text_breaks_the_calendar(words: str) -> None:
    told = calendar_text("D", [event(summary=words)], domain="d")
    lines = told.split("\r\n")
    assert all(len(line.encode()) <= LONGEST_LINE for line in lines)
    assert "\n" not in told.replace("\r\n", "")
    assert sum(line == "END:VEVENT" for line in unfolded(told)) == 1
    assert len(unfolded(told)) == 18
