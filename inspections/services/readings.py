"""Readings come in, are corrected, and are ruled on by a person."""

from __future__ import annotations

from datetime import datetime, timedelta

from django.db import transaction
from django.utils.translation import gettext as _

from fleetdoors.models import DoorUnit, User
from fleetdoors.services.counter_exchange import counter_on, digits_of
from fleetdoors.services.recomputation import doors_changed
from fleetdoors.services.whereabouts import present_depot, zone_of
from inspections.models import CounterReading, ReadingStatus
from inspections.models.counter_reading import Source
from inspections.moments import in_words
from inspections.services.corrections import sign, supersede

FUTURE_ALLOWED = timedelta(days=1)


class ReadingRefusedError(ValueError):
    """The reading cannot be true as it stands; `field` names what to look at."""

    def __init__(self, message: str, *, field: str) -> None:
        super().__init__(message)
        self.field = field


class ReadingClashError(ValueError):
    """Another value is on record for the same door and moment."""

    def __init__(self, message: str, *, existing: CounterReading) -> None:
        super().__init__(message)
        self.existing = existing


@transaction.atomic
def log_reading(
    *,
    door: DoorUnit,
    read_at: datetime,
    counter_value: int,
    entered_at: datetime,
    entered_by: User | None = None,
    read_by: str = "",
    source: str = Source.HAND,
) -> CounterReading:
    """Keep a reading, suspect or not; the same value at the same moment twice is one reading."""
    door = DoorUnit.objects.select_for_update().select_related("door_model").get(pk=door.pk)
    before = CounterReading.objects.in_force().filter(door=door, read_at=read_at).exists()
    reading = keep_reading(
        door=door,
        read_at=read_at,
        counter_value=counter_value,
        entered_at=entered_at,
        entered_by=entered_by,
        read_by=read_by,
        source=source,
    )
    if not before:
        doors_changed([reading.door_id])
    return reading


@transaction.atomic
def keep_reading(
    *,
    door: DoorUnit,
    read_at: datetime,
    counter_value: int,
    entered_at: datetime,
    entered_by: User | None,
    read_by: str,
    source: str,
) -> CounterReading:
    """As `log_reading`, for callers that ask for new figures themselves, once for many doors."""
    door = DoorUnit.objects.select_for_update().select_related("door_model").get(pk=door.pk)
    check_reading(door=door, read_at=read_at, counter_value=counter_value, entered_at=entered_at)
    existing = CounterReading.objects.in_force().filter(door=door, read_at=read_at).first()
    if existing:
        return _same_or_clash(existing, counter_value)
    return CounterReading.objects.create(
        door=door,
        read_at=read_at,
        counter_value=counter_value,
        read_by=read_by,
        source=source,
        entered_at=entered_at,
        entered_by=entered_by,
    )


@transaction.atomic
def correct_reading(
    *,
    reading: CounterReading,
    counter_value: int,
    read_at: datetime,
    reason: str,
    entered_at: datetime,
    entered_by: User | None = None,
) -> CounterReading:
    """Put another value or moment in a reading's place; asked for twice, it is done once."""
    reading = _lock(reading)
    newer = _correction_of(reading)
    if newer and (newer.counter_value, newer.read_at) == (counter_value, read_at):
        return newer
    check_reading(
        door=reading.door, read_at=read_at, counter_value=counter_value, entered_at=entered_at
    )
    supersede(reading, reason=reason, entered_at=entered_at)
    clash = CounterReading.objects.in_force().filter(door=reading.door, read_at=read_at).first()
    if clash:
        raise _clash(clash)
    corrected = _copy(reading)
    corrected.counter_value, corrected.read_at = counter_value, read_at
    return _put_in_place(reading, corrected, reason=reason, by=entered_by, at=entered_at)


@transaction.atomic
def rule_on_reading(
    *,
    reading: CounterReading,
    ruling: ReadingStatus,
    reason: str,
    entered_at: datetime,
    entered_by: User | None = None,
) -> CounterReading:
    """A person accepts or holds a reading; asked for twice, it is done once."""
    reading = _lock(reading)
    current = _correction_of(reading) or reading
    if current.ruling == ruling and current.counter_value == reading.counter_value:
        return current
    supersede(reading, reason=reason, entered_at=entered_at)
    ruled = _copy(reading)
    ruled.ruling = ruled.status = ruling
    return _put_in_place(reading, ruled, reason=reason, by=entered_by, at=entered_at)


def check_reading(
    *, door: DoorUnit, read_at: datetime, counter_value: int, entered_at: datetime
) -> None:
    """Raise ReadingRefusedError for what no counter can show; queries the door's counter."""
    if read_at > entered_at + FUTURE_ALLOWED:
        raise ReadingRefusedError(
            _("A reading is not dated more than a day ahead: %(moment)s is in the future.")
            % {"moment": in_words(read_at)},
            field="read_at",
        )
    if counter_value < 0:
        raise ReadingRefusedError(
            _("A counter shows no number below 0: %(value)s was entered.")
            % {"value": counter_value},
            field="counter_value",
        )
    day = read_at.astimezone(zone_of(present_depot(door))).date()
    digits = digits_of(counter_on(door, day), door)
    if counter_value >= 10**digits:
        raise ReadingRefusedError(
            _("This counter has %(digits)d digits: %(value)s has more.")
            % {"digits": digits, "value": counter_value},
            field="counter_value",
        )


def _same_or_clash(existing: CounterReading, counter_value: int) -> CounterReading:
    if existing.counter_value == counter_value:
        return existing
    raise _clash(existing)


def _clash(existing: CounterReading) -> ReadingClashError:
    return ReadingClashError(
        _("For this door and moment %(value)s is on record already.")
        % {"value": existing.counter_value},
        existing=existing,
    )


def _lock(reading: CounterReading) -> CounterReading:
    """The reading as it stands now, its door kept from others until the transaction ends."""
    DoorUnit.objects.select_for_update().get(pk=reading.door_id)
    return CounterReading.objects.select_related("door__door_model").get(pk=reading.pk)


def _correction_of(reading: CounterReading) -> CounterReading | None:
    return CounterReading.objects.filter(corrects=reading).first()


def _copy(reading: CounterReading) -> CounterReading:
    return CounterReading(
        door=reading.door,
        read_at=reading.read_at,
        counter_value=reading.counter_value,
        read_by=reading.read_by,
        source=reading.source,
    )


def _put_in_place(
    old: CounterReading, new: CounterReading, *, reason: str, by: User | None, at: datetime
) -> CounterReading:
    sign(new, corrects=old, reason=reason, by=by, at=at)
    new.save()
    doors_changed([new.door_id])
    return new
