"""Readings are kept, corrected and ruled on; nothing is overwritten."""

from datetime import date, timedelta

import pytest

from fleetdoors.models import DoorUnit
from inspections.models import CounterReading, ReadingStatus
from inspections.services.corrections import CorrectionRefusedError, history_of
from inspections.services.readings import (
    ReadingClashError,
    ReadingRefusedError,
    correct_reading,
    log_reading,
    rule_on_reading,
)
from tests.factories import NOW, make_counter, make_depot, make_door, make_reading, make_user

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("recompute_requests")]
LATER = NOW + timedelta(hours=1)


def revision(door: DoorUnit) -> int:
    return DoorUnit.objects.get(pk=door.pk).revision


def test_log_reading_keeps_value_moment_and_author() -> None:
    door, person = make_door(), make_user()
    reading = log_reading(
        door=door, read_at=NOW, counter_value=41_872, entered_at=LATER, entered_by=person
    )
    kept = CounterReading.objects.get(pk=reading.pk)
    assert (kept.counter_value, kept.read_at, kept.entered_at) == (41_872, NOW, LATER)
    assert kept.entered_by == person
    assert revision(door) == 1


def test_log_reading_twice_is_one_reading() -> None:
    door = make_door()
    first = log_reading(door=door, read_at=NOW, counter_value=5, entered_at=NOW)
    again = log_reading(door=door, read_at=NOW, counter_value=5, entered_at=LATER)
    assert again.pk == first.pk
    assert CounterReading.objects.count() == 1
    assert revision(door) == 1


def test_log_reading_asks_when_the_moment_has_another_value() -> None:
    door = make_door()
    first = log_reading(door=door, read_at=NOW, counter_value=5, entered_at=NOW)
    with pytest.raises(ReadingClashError, match="5 is on record already") as clash:
        log_reading(door=door, read_at=NOW, counter_value=6, entered_at=LATER)
    assert clash.value.existing == first
    assert CounterReading.objects.get() == first


def test_log_reading_keeps_a_counter_lower_than_before() -> None:
    door = make_door()
    make_reading(door=door, counter_value=9_000, read_at=NOW - timedelta(days=7))
    log_reading(door=door, read_at=NOW, counter_value=12, entered_at=NOW)
    assert CounterReading.objects.in_force().count() == 2


@pytest.mark.parametrize(
    ("value", "ahead", "field", "message"),
    [
        (5, timedelta(days=1, minutes=1), "read_at", "2026-11-26 12:01 is in the future"),
        (-1, timedelta(0), "counter_value", "below 0: -1"),
        (1_000_000, timedelta(0), "counter_value", "6 digits: 1000000 has more"),
    ],
)
def test_log_reading_refuses_what_no_counter_can_show(
    value: int, ahead: timedelta, field: str, message: str
) -> None:
    door = make_door()
    with pytest.raises(ReadingRefusedError, match=message) as refused:
        log_reading(door=door, read_at=NOW + ahead, counter_value=value, entered_at=NOW)
    assert refused.value.field == field
    assert not CounterReading.objects.exists()
    assert revision(door) == 0


def test_log_reading_allows_a_clock_that_runs_a_day_ahead() -> None:
    reading = log_reading(
        door=make_door(), read_at=NOW + timedelta(days=1), counter_value=1, entered_at=NOW
    )
    assert reading.pk


def test_log_reading_counts_the_digits_of_the_counter_then_on_the_door() -> None:
    """The day is the depot's: at 02:00 UTC on the 1st it is still the day before in Chicago."""
    door = make_door(depot=make_depot(timezone="America/Chicago"))
    make_counter(door=door, fitted_on=date(2026, 11, 1), digits=4)
    at_two = NOW.replace(day=1, hour=2)
    log_reading(door=door, read_at=at_two, counter_value=41_872, entered_at=NOW)
    with pytest.raises(ReadingRefusedError, match="4 digits"):
        log_reading(door=door, read_at=NOW, counter_value=41_872, entered_at=NOW)


def test_correct_reading_puts_a_new_row_in_its_place() -> None:
    door, person = make_door(), make_user()
    old = make_reading(door=door, counter_value=47_812)
    new = correct_reading(
        reading=old,
        counter_value=41_872,
        read_at=old.read_at,
        reason="digits swapped",
        entered_at=LATER,
        entered_by=person,
    )
    old.refresh_from_db()
    assert (old.counter_value, old.superseded_at) == (47_812, LATER)
    assert (new.corrects, new.counter_value, new.reason) == (old, 41_872, "digits swapped")
    assert (new.entered_at, new.entered_by) == (LATER, person)
    assert CounterReading.objects.in_force().get() == new
    assert revision(door) == 1


def test_correct_reading_asked_for_twice_is_done_once() -> None:
    old = make_reading(door=make_door(), counter_value=5)
    facts = {"counter_value": 6, "read_at": old.read_at, "reason": "typo", "entered_at": LATER}
    first = correct_reading(reading=old, **facts)
    assert correct_reading(reading=old, **facts) == first
    assert CounterReading.objects.count() == 2


def test_correct_reading_refuses_a_row_that_was_corrected_to_something_else() -> None:
    old = make_reading(door=make_door(), counter_value=5)
    correct_reading(
        reading=old, counter_value=6, read_at=old.read_at, reason="typo", entered_at=LATER
    )
    with pytest.raises(CorrectionRefusedError, match="corrected before"):
        correct_reading(
            reading=old, counter_value=7, read_at=old.read_at, reason="no", entered_at=LATER
        )
    assert CounterReading.objects.in_force().get().counter_value == 6


def test_correct_reading_refuses_an_empty_reason() -> None:
    old = make_reading(door=make_door(), counter_value=5)
    with pytest.raises(CorrectionRefusedError, match="reason is empty"):
        correct_reading(
            reading=old, counter_value=6, read_at=old.read_at, reason="  ", entered_at=LATER
        )
    assert CounterReading.objects.in_force().get().counter_value == 5


def test_correct_reading_refuses_a_moment_that_is_taken() -> None:
    door = make_door()
    taken = make_reading(door=door, counter_value=5, read_at=NOW - timedelta(days=1))
    old = make_reading(door=door, counter_value=9)
    with pytest.raises(ReadingClashError) as clash:
        correct_reading(
            reading=old, counter_value=9, read_at=taken.read_at, reason="date", entered_at=LATER
        )
    assert clash.value.existing == taken
    assert CounterReading.objects.in_force().count() == 2


@pytest.mark.parametrize("ruling", list(ReadingStatus))
def test_rule_on_reading_keeps_who_said_what_and_why(ruling: ReadingStatus) -> None:
    door, person = make_door(), make_user()
    old = make_reading(door=door, counter_value=5)
    ruled = rule_on_reading(
        reading=old, ruling=ruling, reason="saw it", entered_at=LATER, entered_by=person
    )
    assert (ruled.ruling, ruled.status, ruled.counter_value) == (ruling, ruling, 5)
    assert (ruled.corrects, ruled.reason, ruled.entered_by) == (old, "saw it", person)
    old.refresh_from_db()
    assert (old.ruling, old.superseded_at) == ("", LATER)
    assert revision(door) == 1


def test_rule_on_reading_asked_for_twice_is_done_once() -> None:
    old = make_reading(door=make_door(), counter_value=5)
    facts = {"ruling": ReadingStatus.HELD, "reason": "odd", "entered_at": LATER}
    first = rule_on_reading(reading=old, **facts)
    assert rule_on_reading(reading=old, **facts) == first
    assert rule_on_reading(reading=first, **facts) == first
    assert CounterReading.objects.count() == 2


def test_rule_on_reading_can_be_undone_by_the_other_ruling() -> None:
    old = make_reading(door=make_door(), counter_value=5)
    held = rule_on_reading(reading=old, ruling=ReadingStatus.HELD, reason="odd", entered_at=LATER)
    accepted = rule_on_reading(
        reading=held, ruling=ReadingStatus.ACCEPTED, reason="it was right", entered_at=LATER
    )
    assert history_of(old) == [accepted, held, old]
    assert CounterReading.objects.accepted().get() == accepted


def test_history_of_keeps_to_one_reading() -> None:
    door = make_door()
    other = make_reading(door=door, counter_value=4, read_at=NOW - timedelta(days=1))
    rule_on_reading(reading=other, ruling=ReadingStatus.HELD, reason="odd", entered_at=NOW)
    alone = make_reading(door=door, counter_value=5)
    assert history_of(alone) == [alone]


def test_as_of_an_earlier_moment_the_old_value_stands() -> None:
    old = make_reading(door=make_door(), counter_value=5, read_at=NOW - timedelta(days=2))
    correct_reading(
        reading=old, counter_value=6, read_at=old.read_at, reason="typo", entered_at=NOW
    )
    before = CounterReading.objects.entered_before(NOW - timedelta(hours=1))
    assert [reading.counter_value for reading in before] == [5]
