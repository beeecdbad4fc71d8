"""Which tasks the due list shows, and what stands beside each."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from datetime import timedelta

from analytics.models import PRESSING, Computation, DoorFigures, DueTask
from analytics.models.due_task import DueTaskQuerySet
from analytics.reports.basis import Basis
from analytics.reports.standing import stands, stands_in

PRESSING_WORD = "pressing"


@dataclass(frozen=True)
class DueChoice:
    """What a person wants listed; empty means every one."""

    depot_id: int | None = None
    task_id: int | None = None
    state: str = ""
    words: str = ""
    within_days: int | None = None


def due_tasks(
    choice: DueChoice, depot_ids: tuple[int, ...] | None, basis: Basis
) -> DueTaskQuerySet:
    """The tasks chosen, of the depots a person may see, soonest first."""
    rows: DueTaskQuerySet = DueTask.objects.filter(generation=basis.run)
    rows = rows.at_depots(depot_ids)
    if choice.depot_id is not None:
        rows = rows.filter(depot=choice.depot_id)
    if choice.task_id is not None:
        rows = rows.filter(task=choice.task_id)
    if choice.state == PRESSING_WORD:
        rows = rows.filter(stands_in(PRESSING, basis))
    elif choice.state:
        rows = rows.filter(stands(choice.state, basis))
    if choice.words:
        rows = rows.matching(choice.words)
    if choice.within_days is not None:
        rows = rows.due_by(basis.today + timedelta(days=choice.within_days))
    return rows.with_links().soonest_first()


def figures_of(door_ids: Collection[int], run: Computation | None) -> dict[int, DoorFigures]:
    """The figures of some doors by door id; queries once."""
    rows = DoorFigures.objects.filter(generation=run, door__in=set(door_ids))
    return {row.door_id: row for row in rows.order_by()}
