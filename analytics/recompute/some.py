"""Some doors anew, inside the generation that is shown."""

from __future__ import annotations

from collections.abc import Collection

import numpy as np
from django.db import transaction
from django.db.models import Exists, OuterRef, Q

from analytics.assessment.parameters import FleetParameters, kept_parameters
from analytics.assessment.usage import UsageFound, assess_doors_usage
from analytics.assessment.whole import DoorsFound, assess_doors
from analytics.datasets import AsOf, fetch_fleet
from analytics.datasets.clock import latest_moment
from analytics.datasets.columns import Ints
from analytics.datasets.fleet import Fleet
from analytics.kernel.neighbours import MOST_NEIGHBOURS, neighbour_values
from analytics.models import (
    Computation,
    DoorFailure,
    DoorFigures,
    DueTask,
    ReliabilitySums,
    SuspectReading,
)
from analytics.recompute import evidence_rows, rows
from analytics.recompute.shelves import refresh_shelves
from analytics.recompute.statuses import update_statuses
from analytics.recompute.store import batches, insert_columns
from fleetdoors.models import DoorUnit

DOORS_AT_ONCE = 500


def can_recompute_doors() -> bool:
    """Whether the run shown keeps what single doors reuse; without it a full run has to come."""
    run = Computation.objects.current().first()
    return run is not None and kept_parameters(run.parameters) is not None


def recompute_doors(door_ids: Collection[int], *, as_of: AsOf) -> int:
    """Replace the derived rows of these doors; returns how many were computed.

    Without a generation to put them into, or with one that keeps nothing to reuse, there is
    nothing to do: the next full run takes all.
    """
    run = Computation.objects.current().first()
    parameters = None if run is None else kept_parameters(run.parameters)
    if run is None or parameters is None:
        return 0
    return sum(
        _recompute_batch(run, parameters, set(batch), as_of)
        for batch in batches(sorted(set(door_ids)), DOORS_AT_ONCE)
    )


def recompute_stale(*, as_of: AsOf) -> int:
    """Bring every door up to date that was written to since; returns how many."""
    return recompute_doors(stale_door_ids(as_of=as_of), as_of=as_of)


def stale_door_ids(*, as_of: AsOf) -> list[int]:
    """Doors whose derived rows are missing or older than their record; runs one query."""
    fresh = DoorFigures.objects.current().filter(
        door=OuterRef("pk"), door_revision=OuterRef("revision")
    )
    begun = Q(record_from__isnull=True) | Q(record_from__lt=latest_moment(as_of).date())
    stale = DoorUnit.objects.filter(begun).filter(~Exists(fresh))
    return list(stale.order_by("pk").values_list("pk", flat=True))


def _recompute_batch(
    run: Computation, parameters: FleetParameters, door_ids: set[int], as_of: AsOf
) -> int:
    fleet = fetch_fleet(as_of, door_ids)
    usage = assess_doors_usage(fleet, parameters, None)
    mates = _depot_mates(run, fleet, usage)
    if mates:
        # What was held may have been read on another truck of the depot: look there too.
        fleet = fetch_fleet(as_of, door_ids | mates)
        neighbours = neighbour_values(fleet.readings.kernel, fleet.doors.depot)
        usage = assess_doors_usage(fleet, parameters, neighbours)
    found = assess_doors(fleet, usage)
    chosen = np.flatnonzero(np.isin(fleet.doors.ids, list(door_ids)))
    _replace(run, found, chosen, door_ids)
    depots = np.unique(fleet.doors.depot[chosen])
    # A part used on a door came off a shelf of its depot.
    refresh_shelves(fleet.doors.depots.ids[depots[depots >= 0]].tolist(), as_of=as_of)
    return len(chosen)


def _depot_mates(run: Computation, fleet: Fleet, usage: UsageFound) -> set[int]:
    """The other doors of depots where a reading is held, unless they are too many to tell apart."""
    held = usage.followed.judgement.held
    if not held.any():
        return set()
    depots = np.unique(fleet.doors.depot[fleet.readings.kernel.door()[held]])
    mates: set[int] = set()
    for depot in depots[depots >= 0].tolist():
        there = DoorFigures.objects.filter(generation=run, depot=fleet.doors.depots.ids[depot])
        ids = list(there.values_list("door", flat=True)[: MOST_NEIGHBOURS + 1])
        mates.update(ids if len(ids) <= MOST_NEIGHBOURS else ())
    return mates - set(fleet.doors.ids.tolist())


@transaction.atomic
def _replace(run: Computation, found: DoorsFound, chosen: Ints, door_ids: set[int]) -> None:
    # Locked, so that two runs for one door, or a switch of generations, follow one another.
    shown = Computation.objects.select_for_update().filter(pk=run.pk, is_current=True)
    if not shown.exists():
        # A newer generation is shown by now; if it missed this write, the door is stale there.
        return
    _mark_sums(run, found, chosen, door_ids)
    for model in (DueTask, SuspectReading, DoorFailure, DoorFigures):
        model._default_manager.filter(generation=run, door__in=door_ids).delete()
    insert_columns(DoorFigures, rows.door_columns(run.pk, found, chosen))
    insert_columns(DoorFailure, evidence_rows.failure_columns(run.pk, found, chosen))
    due = np.flatnonzero(np.isin(found.due.door, chosen))
    insert_columns(DueTask, rows.due_columns(run.pk, found, due))
    suspects = rows.suspects_among(found, chosen)
    insert_columns(SuspectReading, rows.suspect_columns(run.pk, found, suspects))
    update_statuses(found, chosen)


def _mark_sums(run: Computation, found: DoorsFound, chosen: Ints, door_ids: set[int]) -> None:
    """Say of sums over very many doors that these have newer figures, where they were and are."""
    sums = ReliabilitySums.objects.filter(generation=run)
    if not sums.exists():
        return
    doors = found.fleet.doors
    now = doors.depots.ids[np.unique(doors.depot[chosen][doors.depot[chosen] >= 0])].tolist()
    before = DoorFigures.objects.filter(generation=run, door__in=door_ids, depot__isnull=False)
    then = before.order_by().values_list("depot", flat=True).distinct()
    sums.mark_changed({*now, *then}, len(chosen))
