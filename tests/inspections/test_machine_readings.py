"""Readings from other systems: each taken once, refused alone, in the sight of the token."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from inspections.models import CounterReading, MachineEntry
from inspections.services.machine_readings import PostedReading, RowAnswer, take_readings
from tests.factories import NOW, make_depot, make_door, make_loose_door, make_reading
from tests.machine_factories import make_token

pytestmark = pytest.mark.django_db


def posted(client_id: str = "a-1", door: str = "RD1", **changes: object) -> PostedReading:
    facts = {"read_at": NOW - timedelta(hours=2), "counter_value": 4_210} | changes
    return PostedReading(client_id=client_id, door=door, **facts)  # type: ignore[arg-type]


def take(*rows: PostedReading, **token: object) -> list[RowAnswer]:
    issued = token.pop("issued", None) or make_token(**token)  # type: ignore[arg-type]
    return take_readings(token=issued.token, rows=rows, received_at=NOW)  # type: ignore[attr-defined]


def test_a_reading_is_kept_under_the_name_of_the_system() -> None:
    make_door(serial="RD1")
    (answer,) = take(posted(), name="Yard telematics")
    assert answer.is_new
    kept = CounterReading.objects.get()
    assert (kept.counter_value, kept.source, kept.read_by) == (4_210, "device", "Yard telematics")
    assert (kept.read_at, kept.entered_at) == (NOW - timedelta(hours=2), NOW)


def test_the_same_id_again_is_the_same_reading() -> None:
    make_door(serial="RD1")
    issued = make_token()
    (first,) = take(posted(), issued=issued)
    (again,) = take(posted(), issued=issued)
    assert again.reading == first.reading
    assert not again.is_new
    assert CounterReading.objects.count() == 1


def test_the_same_id_twice_in_one_batch_is_taken_once() -> None:
    make_door(serial="RD1")
    first, second = take(posted(), posted())
    assert (first.is_new, second.is_new, second.reading) == (True, False, first.reading)


def test_an_id_used_for_another_reading_is_refused() -> None:
    make_door(serial="RD1")
    first, second = take(posted(), posted(counter_value=4_300))
    assert first.is_new
    assert "another reading" in second.reason


def test_two_systems_may_use_the_same_id() -> None:
    make_door(serial="RD1")
    take(posted())
    (answer,) = take(posted(read_at=NOW - timedelta(hours=1)), name="Another")
    assert answer.is_new


@pytest.mark.parametrize(
    ("row", "reason"),
    [
        (posted(door="RD9"), "No door with this number"),
        (posted(read_at=NOW + timedelta(days=3)), "not dated more than a day ahead"),
        (posted(counter_value=12_345_678), "6 digits"),
        (posted(counter_value=10**15), "so large"),
        (posted(read_at=NOW - timedelta(days=1)), "on record already"),
    ],
    ids=["unknown door", "future", "digits", "large", "clash"],
)
def test_a_refused_row_says_why_and_stops_no_other(row: PostedReading, reason: str) -> None:
    door = make_door(serial="RD1")
    make_reading(door=door, counter_value=4_000, read_at=NOW - timedelta(days=1))
    before, refused, after = take(
        posted("ok-1"), row, posted("ok-2", read_at=NOW - timedelta(hours=1))
    )
    assert (before.is_new, after.is_new) == (True, True)
    assert reason in refused.reason
    assert MachineEntry.objects.count() == 2


def test_a_refused_row_may_come_again_once_its_cause_is_mended() -> None:
    issued = make_token()
    (refused,) = take(posted(), issued=issued)
    make_door(serial="RD1")
    (taken,) = take(posted(), issued=issued)
    assert (refused.is_new, taken.is_new) == (False, True)


def test_a_token_of_one_depot_does_not_reach_the_doors_of_another() -> None:
    north, south = make_depot(code="NORTH"), make_depot(code="SOUTH")
    make_door(serial="RD1", depot=north)
    make_door(serial="RD2", depot=south)
    make_loose_door(serial="RD3")
    mine, others, in_store = take(
        posted("a"), posted("b", "RD2"), posted("c", "RD3"), depots=[north]
    )
    assert mine.is_new
    # No word on whether the door exists: it is no more than an unknown one to this system.
    assert others.reason == in_store.reason == take(posted("d", "RD9"), depots=[north])[0].reason


def test_a_moment_without_an_offset_is_local_to_the_depot() -> None:
    make_door(serial="RD1", depot=make_depot(timezone="America/Chicago"))
    take(posted(read_at=datetime(2026, 11, 20, 6, 30)))
    assert CounterReading.objects.get().read_at == datetime(2026, 11, 20, 12, 30, tzinfo=UTC)


def test_new_figures_are_asked_for_once_for_the_whole_batch(
    recompute_requests: list[tuple[int, ...]],
    django_capture_on_commit_callbacks: Any,
) -> None:
    doors = [make_door(serial=f"RD{number}") for number in (1, 2, 3)]
    with django_capture_on_commit_callbacks(execute=True):
        take(*(posted(door.serial, door.serial) for door in doors))
    assert [set(asked) for asked in recompute_requests] == [{door.pk for door in doors}]
