"""A large fleet some depots at a time: begun once, computed in any order, shown at the end.

The database says what is done, never a queue: whoever finishes the last slice shows the run, and a
slice that was lost with its worker is computed by whoever finds it. One slice is the whole fleet:
what rests on all doors at once (lives, parts, reliability), computed beside the others.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import datetime

import numpy as np
from django.conf import settings
from django.db import transaction

from analytics.assessment.learned import learn_parameters, usage_by
from analytics.assessment.parameters import FleetParameters
from analytics.assessment.whole import assess_doors
from analytics.datasets import AsOf, Fleet, fetch_fleet
from analytics.datasets.clock import latest_moment
from analytics.datasets.columns import Ints
from analytics.datasets.doors import DoorRows, fetch_doors
from analytics.models import Computation, ComputationSlice
from analytics.recompute.full import (
    FLEET_WIDE,
    PER_DOOR,
    SHOWING,
    show,
    sweep,
    write_doors,
    write_fleet_wide,
)
from analytics.recompute.outlooks import catch_up_outlooks
from analytics.recompute.reliability_rows import write_reliability
from analytics.recompute.statuses import update_statuses
from fleetdoors.services.one_at_a_time import one_at_a_time

WHOLE_FLEET = 0


def begin_slices(*, as_of: AsOf, started_at: datetime) -> Computation:
    """Learn the fleet's parameters, and note which doors are to be computed together."""
    # Revisions before everything else: what is written from now on makes its door stale.
    doors = fetch_doors(as_of)
    parameters = learn_parameters(doors)
    with transaction.atomic():
        run = Computation.objects.create(
            as_of=latest_moment(as_of),
            as_of_on=None if isinstance(as_of, datetime) else as_of,
            started_at=started_at,
            doors=len(doors),
            parameters=parameters.to_json(),
        )
        # The whole fleet first: it takes longest.
        ComputationSlice.objects.bulk_create(
            ComputationSlice(generation=run, number=number, doors=rows, asked_at=started_at)
            for number, rows in enumerate([[], *_by_depots(doors)])
        )
    return run


def _by_depots(doors: DoorRows) -> Iterator[list[list[int]]]:
    """Ids and revisions by whole depots: a reading may be that of another truck of its depot."""
    order = np.lexsort((doors.ids, doors.depot))
    bounds = np.flatnonzero(np.diff(doors.depot[order], prepend=-2))
    gathered: list[Ints] = []
    for rows in np.split(order, bounds[1:]):
        gathered.append(rows)
        if sum(map(len, gathered)) >= settings.DOORS_IN_SLICE:
            yield _noted(doors, gathered)
            gathered = []
    if gathered and len(order):
        yield _noted(doors, gathered)


def _noted(doors: DoorRows, gathered: list[Ints]) -> list[list[int]]:
    rows = np.concatenate(gathered)
    noted: list[list[int]] = np.stack((doors.ids[rows], doors.revision[rows]), axis=1).tolist()
    return noted


def compute_slice(slice_id: int, *, now: datetime) -> bool:
    """Compute a slice, unless that is done; whether this call did it."""
    part = ComputationSlice.objects.unfinished().filter(pk=slice_id).first()
    if part is None:
        return False
    compute = _compute_fleet_wide if part.number == WHOLE_FLEET else _compute_doors
    return compute(part, now)


def _compute_doors(part: ComputationSlice, now: datetime) -> bool:
    run = part.generation
    fleet = _with_revisions(part)
    found = assess_doors(fleet, usage_by(fleet, FleetParameters.from_json(run.parameters)))
    with transaction.atomic():
        if not part.take(now=now):
            return False
        for model in PER_DOOR:
            rows = model._default_manager.filter(generation=run)
            rows.filter(door__in=fleet.doors.ids.tolist()).delete()
        write_doors(run, found)
        update_statuses(found, np.arange(len(fleet.doors)))
    return True


def _with_revisions(part: ComputationSlice) -> Fleet:
    """The record of the slice's doors, with the revisions they had when the run began."""
    begun = dict(part.doors)
    fleet = fetch_fleet(part.generation.asked_for, list(begun))
    revision = np.array([begun[door] for door in fleet.doors.ids.tolist()], dtype=np.int64)
    return replace(fleet, doors=replace(fleet.doors, revision=revision))


def _compute_fleet_wide(part: ComputationSlice, now: datetime) -> bool:
    run = part.generation
    fleet = fetch_fleet(run.asked_for)
    usage = usage_by(fleet, FleetParameters.from_json(run.parameters)).without_judgement()
    found = assess_doors(fleet, usage)
    with transaction.atomic():
        if not part.take(now=now):
            return False
        for model in FLEET_WIDE:
            model._default_manager.filter(generation=run).delete()
        write_reliability(run, found)
        write_fleet_wide(run, found)
    return True


def run_to_show(slice_id: int) -> int | None:
    """The run of a slice, once nothing of it is left to compute; none before, and when shown."""
    part = ComputationSlice.objects.filter(pk=slice_id).select_related("generation").first()
    if part is None or part.generation.slices.unfinished().exists():
        return None
    return part.generation.pk


def show_slices(run_id: int, *, now: datetime) -> Computation | None:
    """Show the run, once all slices are done; else, and a second time, nothing."""
    with one_at_a_time(SHOWING), transaction.atomic():
        open_runs = Computation.objects.select_for_update().filter(finished_at__isnull=True)
        run = open_runs.filter(pk=run_id).first()
        if run is None or run.slices.unfinished().exists():
            return None
        show(run, seconds=max((now - run.started_at).total_seconds(), 0.0))
        run.slices.all().delete()
    catch_up_outlooks(run)
    sweep(run)
    return run
