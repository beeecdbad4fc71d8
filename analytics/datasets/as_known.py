"""Rows of depots as they were known at the moment that `as_of` means at each depot."""

from __future__ import annotations

from datetime import datetime

from django.db.models import Q

from analytics.datasets.clock import moment_in
from analytics.datasets.depots import Depots
from analytics.datasets.doors import DoorRows


def before(doors: DoorRows, depot: str, *fields: str) -> Q:
    """All the fields before the depot's moment; `depot` is the way to the depot's key."""
    found = Q(pk__in=())
    for moment, ids in _moments(doors).items():
        found |= Q(**{f"{depot}__in": ids}, **{f"{field}__lt": moment for field in fields})
    return found


def not_before(doors: DoorRows, depot: str, field: str) -> Q:
    """The field empty, or not yet over at the depot's moment."""
    found = Q(**{f"{field}__isnull": True})
    for moment, ids in _moments(doors).items():
        found |= Q(**{f"{depot}__in": ids, f"{field}__gte": moment})
    return found


def _moments(doors: DoorRows) -> dict[datetime, list[int]]:
    """Depots by the moment that `as_of` means there: one for each zone, or one for all."""
    depots: Depots = doors.depots
    found: dict[datetime, list[int]] = {}
    for key, zone in zip(depots.ids.tolist(), depots.zones, strict=False):
        found.setdefault(moment_in(doors.as_of, zone), []).append(key)
    return found
