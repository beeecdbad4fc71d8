"""Doors that left the fleet, and until when the records of each are kept."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime, tzinfo
from typing import Any
from zoneinfo import ZoneInfo

from django.db.models import Count, Max, Q

from fleetdoors.models import DoorUnit, Mounting, Truck
from fleetdoors.retention import RecordClass, RuleSet, StillInTheFleetError, keep_until
from inspections.services.retention.what_goes import GOES, Goes


@dataclass(frozen=True)
class Departed:
    """A door that left, with its last truck and depot.

    `kept_until` by class of records, None while a truck that they name is in the fleet; `rows`:
    how many of them there are.
    """

    door: DoorUnit
    truck: Truck | None
    left_on: date
    kept_until: dict[RecordClass, date | None]
    rows: int

    @property
    def zone(self) -> tzinfo:
        """Where its days begin."""
        return self.truck.depot.zone if self.truck else ZoneInfo("UTC")

    @property
    def may_go_on(self) -> date | None:
        """The first day on which all of its records may go; None: not to be told yet."""
        days = self.kept_until.values()
        return None if None in days else max((self.left_on, *filter(None, days)))

    @property
    def governed_by(self) -> RecordClass | None:
        """The class of records that is kept longest; None where there is none."""
        waits = [each for each, day in self.kept_until.items() if day is None]
        known = {each: day for each, day in self.kept_until.items() if day is not None}
        return waits[0] if waits else max(known, key=lambda each: known[each], default=None)

    def may_go(self, now: datetime) -> bool:
        """Whether the day has come where the door was last."""
        return self.may_go_on is not None and self.may_go_on <= now.astimezone(self.zone).date()


@dataclass
class _Evidence:
    """What is known of one class of one door's records: its days, and when its trucks left."""

    days: list[date | datetime] = field(default_factory=list)
    trucks_left_on: list[date] = field(default_factory=list)
    names_a_truck_in_the_fleet: bool = False

    def keep_until(
        self, rule_set: RuleSet, record_class: RecordClass, left_on: date, zone: tzinfo
    ) -> date | None:
        """The day until which the class is kept; None while one of its trucks is in the fleet."""
        days = [
            each.astimezone(zone).date() if isinstance(each, datetime) else each
            for each in self.days
        ]
        all_left = max((left_on, *self.trucks_left_on))
        try:
            return keep_until(
                rule_set,
                record_class,
                recorded_on=max(days),
                left_on=None if self.names_a_truck_in_the_fleet else all_left,
            )
        except StillInTheFleetError:
            return None


def departed_doors(rule_set: RuleSet, only: DoorUnit | None = None) -> list[Departed]:
    """Doors that left and of which records remain; one query for each kind of record."""
    left = _left(only)
    counted, evidence = _records(list(left))
    found = []
    for pk, (door, truck, left_on) in left.items():
        if not counted.get(pk):
            continue
        zone = truck.depot.zone if truck else ZoneInfo("UTC")
        until = {
            each: evidence[pk, each].keep_until(rule_set, each, left_on, zone)
            for each in RecordClass
            if evidence[pk, each].days
        }
        found.append(Departed(door, truck, left_on, until, counted[pk]))
    return sorted(found, key=lambda each: (each.may_go_on or date.max, each.door.serial))


def has_left(door: DoorUnit) -> bool:
    """Whether a door has left the fleet, with records or without."""
    return bool(_left(door))


def _left(only: DoorUnit | None) -> dict[int, tuple[DoorUnit, Truck | None, date]]:
    """Doors that retired, or whose truck was disposed of, with the day; two queries."""
    gone = Q(retired_on__isnull=False) | Q(
        mountings__removed_on__isnull=True, mountings__truck__disposed_on__isnull=False
    )
    doors = DoorUnit.objects.filter(gone).distinct()
    if only is not None:
        doors = doors.filter(pk=only.pk)
    last: dict[int, Mounting] = {}
    stays = Mounting.objects.filter(door__in=doors).select_related("truck__depot")
    last |= {each.door_id: each for each in stays.order_by("mounted_on", "pk")}
    found = {}
    for door in doors.order_by("serial"):
        stay = last.get(door.pk)
        days = [door.retired_on]
        if stay is not None and stay.removed_on is None:
            days.append(stay.truck.disposed_on)
        known = [day for day in days if day is not None]
        found[door.pk] = (door, stay.truck if stay else None, max(known))
    return found


def _records(
    ids: list[int],
) -> tuple[Mapping[int, int], Mapping[tuple[int, RecordClass], _Evidence]]:
    """Rows by door, and the evidence by door and class."""
    counted: dict[int, int] = defaultdict(int)
    evidence: dict[tuple[int, RecordClass], _Evidence] = defaultdict(_Evidence)
    for goes in GOES:
        for way in goes.to_door:
            for row in _grouped(goes, way, ids):
                counted[row[way]] += row["rows"]
                if goes.record_class is None:
                    continue
                own = evidence[row[way], goes.record_class]
                own.days += [row[f"latest_{name}"] for name in goes.dated]
                own.days = [day for day in own.days if day is not None]
                if goes.of_truck:
                    own.names_a_truck_in_the_fleet |= row["in_fleet"] > 0
                    own.trucks_left_on += [day for day in (row["truck_left"],) if day is not None]
    return counted, evidence


def _grouped(goes: Goes, way: str, ids: list[int]) -> Iterable[dict[str, Any]]:
    """Rows of one table by door: how many, and the latest days; one query."""
    figures: dict[str, Any] = {f"latest_{name}": Max(name) for name in goes.dated}
    if goes.of_truck:
        stays = Q(
            **{f"{goes.of_truck}__isnull": False, f"{goes.of_truck}__disposed_on__isnull": True}
        )
        figures["truck_left"] = Max(f"{goes.of_truck}__disposed_on")
        figures["in_fleet"] = Count("pk", filter=stays)
    rows = goes.rows_of(ids).filter(**{f"{way}__in": ids})
    return rows.values(way).annotate(rows=Count("pk"), **figures)
