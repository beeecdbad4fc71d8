"""Readings keyed from a sheet of paper: each row is kept or says what is wrong with it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from django.db import transaction
from django.db.models import Q
from django.utils.translation import gettext as _

from fleetdoors.models import Depot, DoorUnit, Mounting, User
from fleetdoors.services.recomputation import doors_changed
from inspections.models import CounterReading, Source
from inspections.services.readings import ReadingClashError, ReadingRefusedError, keep_reading


@dataclass(frozen=True)
class KeyedRow:
    """A row as it was typed, with what is wrong with it or the reading it became."""

    number: int
    named: str
    typed: str
    error: str = ""
    reading: CounterReading | None = None


@dataclass(frozen=True)
class Keyed:
    """Rows that became readings, and rows that did not."""

    kept: list[KeyedRow]
    refused: list[KeyedRow]


class RowRefusedError(ValueError):
    """This row is not kept; the others are not concerned."""


@transaction.atomic
def key_readings(
    *,
    depot: Depot,
    rows: Sequence[KeyedRow],
    read_at: datetime,
    read_by: str,
    entered_at: datetime,
    entered_by: User,
) -> Keyed:
    """Keep every row that can be kept; figures are asked for once."""
    doors = _doors_named(depot, {row.named for row in rows})
    kept: list[KeyedRow] = []
    refused: list[KeyedRow] = []
    for row in rows:
        try:
            with transaction.atomic():
                reading = keep_reading(
                    door=_door(row, doors),
                    read_at=read_at,
                    counter_value=_value(row),
                    entered_at=entered_at,
                    entered_by=entered_by,
                    read_by=read_by,
                    source=Source.HAND,
                )
        except (RowRefusedError, ReadingRefusedError, ReadingClashError) as error:
            refused.append(replace(row, error=str(error)))
        else:
            kept.append(replace(row, reading=reading))
    doors_changed(sorted({row.reading.door_id for row in kept if row.reading}))
    return Keyed(kept, refused)


def _doors_named(depot: Depot, names: Iterable[str]) -> dict[str, DoorUnit]:
    """Doors of the depot by their truck's number and by their own; queries once."""
    wanted = {name.upper() for name in names}
    here = Mounting.objects.open().filter(truck__depot=depot).select_related("truck", "door")
    either = Q(truck__fleet_number__in=wanted) | Q(door__serial__in=wanted)
    any_case = Q()
    for name in wanted:
        any_case |= Q(truck__fleet_number__iexact=name) | Q(door__serial__iexact=name)
    found: dict[str, DoorUnit] = {}
    for mounting in here.filter(either | any_case) if wanted else ():
        found.setdefault(mounting.truck.fleet_number.upper(), mounting.door)
        found.setdefault(mounting.door.serial.upper(), mounting.door)
    return found


def _door(row: KeyedRow, doors: dict[str, DoorUnit]) -> DoorUnit:
    door = doors.get(row.named.upper())
    if door is None:
        raise RowRefusedError(
            _("No truck or door of this depot is called “%(name)s”.") % {"name": row.named}
        )
    return door


def _value(row: KeyedRow) -> int:
    digits = "".join(row.typed.split())
    if not (digits.isascii() and digits.isdecimal()) or len(digits) > 12:
        raise RowRefusedError(
            _("Only digits stand on a counter: “%(value)s” has something else in it.")
            % {"value": row.typed}
        )
    return int(digits)
