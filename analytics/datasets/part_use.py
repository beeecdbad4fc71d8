"""What was used of parts at a depot, month by month and in the last year."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from django.db.models import BigIntegerField, Count, Max, OuterRef, Q, QuerySet, Subquery, Sum
from django.db.models.functions import Coalesce, TruncMonth

from analytics.models import DoorFigures
from fleetdoors.models import Depot
from inspections.models import PartUsed

_YEAR = timedelta(days=365)


def used_by_month(
    part_ids: Collection[int], depot: Depot, *, since: datetime, until: datetime
) -> dict[str, int]:
    """Pieces by month (YYYY-MM) on the depot's clock; runs one query."""
    rows = (
        _used_at(depot)
        .filter(part__in=part_ids, used_at__gte=since, used_at__lt=until)
        .annotate(month=TruncMonth("used_at", tzinfo=depot.zone))
        .order_by()
        .values_list("month")
        .annotate(pieces=Sum("quantity"))
    )
    return {f"{month:%Y-%m}": pieces for month, pieces in rows}


def used_in_last_year(depot: Depot, *, until: datetime) -> dict[int, int]:
    """Pieces by part id; runs one query."""
    rows = (
        _used_at(depot)
        .filter(used_at__gte=until - _YEAR, used_at__lt=until)
        .order_by()
        .values_list("part")
        .annotate(pieces=Sum("quantity"))
    )
    return dict(rows)


def _used_at(depot: Depot) -> QuerySet[PartUsed]:
    """Use at the depot noted, or else on a door that is there now."""
    there = DoorFigures.objects.current().filter(depot=depot).values("door")
    used: QuerySet[PartUsed] = PartUsed.objects.in_force()
    return used.filter(Q(depot=depot) | Q(depot__isnull=True, door__in=there))


def fitted_by_depot(part_ids: Collection[int], depot_ids: tuple[int, ...] | None) -> dict[int, int]:
    """Pieces fitted now on doors in service, by depot in sight; runs one query."""
    doors = DoorFigures.objects.current().at_depots(depot_ids).filter(in_service=True)
    rows = (
        doors.filter(
            depot__isnull=False,
            door__fitments__part__in=part_ids,
            door__fitments__removal="",
            door__fitments__superseded_at__isnull=True,
        )
        .order_by()
        .values_list("depot")
        .annotate(pieces=Count("door__fitments"))
    )
    return dict(rows)


def used_by_depot(
    part_ids: Collection[int], depot_ids: tuple[int, ...] | None, *, until: datetime
) -> dict[int, int]:
    """Pieces used within a year, by depot in sight; runs one query."""
    rows = _used_in_sight(part_ids, depot_ids, until).values_list("at")
    return dict(rows.annotate(pieces=Sum("quantity")))


@dataclass(frozen=True)
class DoorUse:
    """Pieces that one door took, and when the last of them."""

    serial: str
    truck: str
    pieces: int
    last_used_at: datetime


def most_used_on(
    part_ids: Collection[int], depot_ids: tuple[int, ...] | None, *, until: datetime, most: int
) -> list[DoorUse]:
    """The doors that took the most pieces within a year; runs two queries."""
    rows = list(
        _used_in_sight(part_ids, depot_ids, until)
        .values("door", "door__serial")
        .annotate(pieces=Sum("quantity"), last=Max("used_at"))
        .order_by("-pieces", "-last", "door__serial")[:most]
    )
    figures = DoorFigures.objects.current().filter(door__in=[row["door"] for row in rows])
    trucks = dict(figures.order_by().values_list("door", "truck__fleet_number"))
    return [
        DoorUse(row["door__serial"], trucks.get(row["door"]) or "", row["pieces"], row["last"])
        for row in rows
    ]


def _used_in_sight(
    part_ids: Collection[int], depot_ids: tuple[int, ...] | None, until: datetime
) -> QuerySet[Any, Any]:
    """Use within a year with the depot noted, or that where the door is now, as `at`."""
    now_at = DoorFigures.objects.current().filter(door=OuterRef("door")).values("depot")[:1]
    used: QuerySet[Any, Any] = PartUsed.objects.in_force()
    rows = (
        used.filter(part__in=part_ids, used_at__gte=until - _YEAR, used_at__lt=until)
        .annotate(at=Coalesce("depot_id", Subquery(now_at), output_field=BigIntegerField()))
        .filter(at__isnull=False)
        .order_by()
    )
    return rows if depot_ids is None else rows.filter(at__in=depot_ids)
