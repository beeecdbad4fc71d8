"""What changes on a door's pages without changing its figures: visits, findings, reports, holds."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from hashlib import sha256

from django.db.models import Count, Max, QuerySet

from fleetdoors.models import DoorUnit
from inspections.models import (
    DefectReport,
    FaultTrace,
    FollowUp,
    Inspection,
    RoadHold,
    Visit,
    VisitState,
)


def door_marks(doors: Sequence[DoorUnit]) -> dict[int, str]:
    """A short mark for each door, another one after any of it; a constant number of queries."""
    told: dict[int, list[str]] = defaultdict(list)
    keys = [door.pk for door in doors]
    for rows in _rows(keys):
        for door, *facts in rows:
            told[door].append(",".join(map(str, facts)))
        for door in keys:
            told[door].append("/")
    return {key: sha256("".join(told[key]).encode()).hexdigest()[:8] for key in keys}


def _rows(doors: Iterable[int]) -> list[QuerySet]:
    """For each kind, the door first and then what may change; ordered, so that marks repeat."""
    visits = Visit.objects.filter(door__in=doors).order_by("door", "pk")
    to_do = visits.still_to_do().annotate(
        jobs_count=Count("jobs", distinct=True),
        ticks_count=Count("safety_ticks", distinct=True),
        checks_count=Count("final_checks", distinct=True),
    )
    return [
        to_do.values_list(
            "door", "pk", "state", "technician", "jobs_count", "ticks_count", "checks_count"
        ),
        visits.filter(state=VisitState.CLOSED)
        .values("door")
        .annotate(last=Max("pk"))
        .order_by("door")
        .values_list("door", "last"),
        _latest(FollowUp.objects.open(), doors),
        _latest(DefectReport.objects.unanswered(), doors),
        _latest(RoadHold.objects.standing(), doors),
        _latest(Inspection.objects.all(), doors),
        FaultTrace.objects.filter(door__in=doors, closed_at=None)
        .values("door")
        .annotate(last=Max("answers"), count=Count("answers"))
        .order_by("door")
        .values_list("door", "last", "count"),
    ]


def _latest(rows: QuerySet, doors: Iterable[int]) -> QuerySet:
    """How many there are on each door, and the last of them."""
    grouped = rows.filter(door__in=doors).order_by().values("door")
    return (
        grouped.annotate(last=Max("pk"), count=Count("pk"))
        .order_by("door")
        .values_list("door", "last", "count")
    )
