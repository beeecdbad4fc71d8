"""An exchange ends one segment of the counter and begins the next."""

from datetime import date

import pytest

from fleetdoors.models import Counter, DoorUnit
from fleetdoors.services.counter_exchange import (
    CounterExchangeRefusedError,
    NewCounter,
    OldCounter,
    counter_on,
    digits_of,
    exchange_counter,
)
from tests.factories import NOW, make_counter, make_door, make_door_model

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("recompute_requests")]
TODAY = date(2026, 11, 25)
BEGAN = date(2025, 1, 1)


def test_exchange_counter_ends_the_old_and_begins_the_new() -> None:
    door = make_door()
    old = make_counter(door=door, serial="A", first_value=10)
    new = exchange_counter(
        door=door,
        exchanged_on=TODAY,
        old=OldCounter(last_value=41_872, record_began_on=BEGAN),
        new=NewCounter(serial="B", first_value=3, digits=5, counts_per_cycle=2),
        entered_at=NOW,
    )
    old.refresh_from_db()
    assert (old.removed_on, old.last_value, old.end_entered_at) == (TODAY, 41_872, NOW)
    assert (new.fitted_on, new.first_value, new.digits, new.counts_per_cycle) == (TODAY, 3, 5, 2)
    assert DoorUnit.objects.get(pk=door.pk).revision == 1


def test_exchange_counter_gives_a_first_counter_the_row_it_never_had() -> None:
    """It showed opening cycles times counts per cycle, within its digits, at the beginning."""
    model = make_door_model(counter_digits=5, counts_per_cycle=2)
    door = make_door(door_model=model, opening_cycles=60_000)
    exchange_counter(
        door=door,
        exchanged_on=TODAY,
        old=OldCounter(last_value=30_000, record_began_on=BEGAN),
        new=NewCounter(serial="B", first_value=0),
        entered_at=NOW,
    )
    first = Counter.objects.get(door=door, removed_on=TODAY)
    assert (first.fitted_on, first.first_value, first.last_value) == (BEGAN, 20_000, 30_000)


def test_exchange_counter_leaves_an_unknown_last_value_unknown() -> None:
    door = make_door()
    old = make_counter(door=door)
    exchange_counter(
        door=door,
        exchanged_on=TODAY,
        old=OldCounter(last_value=None, record_began_on=BEGAN),
        new=NewCounter(serial="B", first_value=0),
        entered_at=NOW,
    )
    old.refresh_from_db()
    assert old.last_value is None


@pytest.mark.parametrize(
    ("day", "last_value", "new", "message"),
    [
        (date(2024, 12, 31), 5, NewCounter("B", 0), "went on on 2025-01-01, not 2024-12-31"),
        (TODAY, 5, NewCounter("A", 0), "A has been on D9"),
        (TODAY, 1_000_000, NewCounter("B", 0), "6 digits; 1000000 does not"),
        (TODAY, 5, NewCounter("B", 1000, digits=3), "3 digits; 1000 does not"),
        (TODAY, -1, NewCounter("B", 0), "-1 does not"),
    ],
)
def test_exchange_counter_refuses_and_changes_nothing(
    day: date, last_value: int, new: NewCounter, message: str
) -> None:
    door = make_door(serial="D9")
    make_counter(door=door, serial="A")
    with pytest.raises(CounterExchangeRefusedError, match=message):
        exchange_counter(
            door=door,
            exchanged_on=day,
            old=OldCounter(last_value=last_value, record_began_on=BEGAN),
            new=new,
            entered_at=NOW,
        )
    assert Counter.objects.get().removed_on is None
    assert DoorUnit.objects.get(pk=door.pk).revision == 0


def test_digits_of_prefers_the_counters_own() -> None:
    door = make_door()
    make_counter(door=door, fitted_on=date(2026, 1, 1), digits=4)
    assert digits_of(counter_on(door, date(2025, 12, 31)), door) == 6
    assert digits_of(counter_on(door, date(2026, 1, 1)), door) == 4
