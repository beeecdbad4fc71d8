"""What was used of parts at a depot, month by month and in the last year."""

from __future__ import annotations

from collections.abc import Collection
from datetime import datetime, timedelta

from django.db.models import Q, QuerySet, Sum
from django.db.models.functions import TruncMonth

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
