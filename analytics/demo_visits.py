"""Visits of the demo's day: the doors that wait longest at each depot, with their work."""

from __future__ import annotations

from datetime import datetime

from django.utils.timezone import localdate

from analytics.models import DueTask
from fleetdoors.models import Depot, MaintenanceTask
from inspections.services.visits import Jobs, plan_visit

VISITS_A_DEPOT = 4


def plan_demo_visits(*, now: datetime) -> None:
    """Plan today's visits of the demo, each with all that presses on its door."""
    for depot in Depot.objects.order_by("code"):
        pressing = DueTask.objects.current().pressing().filter(depot=depot, truck__isnull=False)
        by_door: dict[int, list[DueTask]] = {}
        for row in pressing.with_links().soonest_first():
            by_door.setdefault(row.door_id, []).append(row)
        for rows in list(by_door.values())[:VISITS_A_DEPOT]:
            plan_visit(
                door=rows[0].door,
                planned_on=localdate(now, depot.zone),
                jobs=Jobs(tasks=largest_tasks(rows)),
                entered_at=now,
            )


def largest_tasks(rows: list[DueTask]) -> list[MaintenanceTask]:
    """The tasks of a door without those that a larger one of them does as well."""
    inside = {task.pk for row in rows for task in row.task.contains.all()}
    return [row.task for row in rows if row.task_id not in inside]
