"""A counter is exchanged: the old segment of lifetime cycles ends and a new one begins."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime

from django.db import transaction
from django.utils.translation import gettext as _

from fleetdoors.models import Counter, DoorUnit
from fleetdoors.services.recomputation import doors_changed


class CounterExchangeRefusedError(ValueError):
    """The exchange contradicts what is on record; nothing was changed."""


@dataclass(frozen=True)
class NewCounter:
    """The counter that goes on; digits and count basis only where they differ from the model's."""

    serial: str
    first_value: int
    digits: int | None = None
    counts_per_cycle: int | None = None


@dataclass(frozen=True)
class OldCounter:
    """What is known of the counter that comes off; the last two matter where it has no row yet."""

    last_value: int | None
    record_began_on: date
    serial: str = ""


@transaction.atomic
def exchange_counter(
    *,
    door: DoorUnit,
    exchanged_on: date,
    old: OldCounter,
    new: NewCounter,
    entered_at: datetime,
) -> Counter:
    """End the door's present counter and begin another; an unknown last value stays unknown."""
    door = DoorUnit.objects.select_for_update().select_related("door_model").get(pk=door.pk)
    present = door.counters.filter(removed_on__isnull=True).first()
    present = present or _first_counter(door, old, entered_at)
    _check(door, present, exchanged_on, old, new)
    present.removed_on = exchanged_on
    present.last_value = old.last_value
    present.end_entered_at = entered_at
    present.save()
    counter = Counter.objects.create(
        door=door,
        serial=new.serial,
        digits=new.digits,
        counts_per_cycle=new.counts_per_cycle,
        fitted_on=exchanged_on,
        first_value=new.first_value,
        entered_at=entered_at,
    )
    doors_changed([door.pk])
    return counter


def digits_of(counter: Counter | None, door: DoorUnit) -> int:
    """How many digits the counter shows: its own number, or else the door model's."""
    own = counter.digits if counter else None
    return own or door.door_model.counter_digits


def counter_on(door: DoorUnit, day: date) -> Counter | None:
    """The counter fitted latest at or before the day, None for one without a row; queries."""
    return door.counters.filter(fitted_on__lte=day).order_by("-fitted_on", "-pk").first()


def _first_counter(door: DoorUnit, old: OldCounter, entered_at: datetime) -> Counter:
    """The row of a counter that had none: it showed the opening cycles when the record began."""
    model = door.door_model
    shown = door.opening_cycles * model.counts_per_cycle % 10**model.counter_digits
    return Counter(
        door=door,
        serial=old.serial or _("first counter"),
        fitted_on=old.record_began_on,
        first_value=shown,
        entered_at=entered_at,
    )


def _check(
    door: DoorUnit, present: Counter, exchanged_on: date, old: OldCounter, new: NewCounter
) -> None:
    if exchanged_on < present.fitted_on:
        raise CounterExchangeRefusedError(
            _("A counter comes off after it went on: %(counter)s went on on %(on)s, not %(day)s.")
            % {"counter": present.serial, "on": present.fitted_on, "day": exchanged_on}
        )
    if new.serial == present.serial or door.counters.filter(serial=new.serial).exists():
        raise CounterExchangeRefusedError(
            _("A counter's number is used once on a door: %(serial)s has been on %(door)s.")
            % {"serial": new.serial, "door": door}
        )
    _check_digits(_("last value"), old.last_value, digits_of(present, door))
    _check_digits(_("first value"), new.first_value, new.digits or door.door_model.counter_digits)


def _check_digits(name: str, value: int | None, digits: int) -> None:
    if value is not None and not 0 <= value < 10**digits:
        raise CounterExchangeRefusedError(
            _("The %(name)s must fit a counter of %(digits)d digits; %(value)s does not.")
            % {"name": name, "digits": digits, "value": value}
        )
