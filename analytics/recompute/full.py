"""The whole fleet anew: compute, write a new generation, switch, tidy up."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta
from time import perf_counter

import numpy as np
from django.db import transaction

from analytics.assessment.learned import usage_of_fleet
from analytics.assessment.whole import (
    HORIZON_DAYS,
    DoorsFound,
    assess_doors,
    assess_parts,
    lives_of,
)
from analytics.datasets import AsOf, fetch_fleet, fetch_parts_record
from analytics.datasets.clock import latest_moment
from analytics.datasets.demand_factors import fetch_demand_factors
from analytics.models import (
    CheckEvidence,
    ComponentLife,
    Computation,
    DoorFailure,
    DoorFigures,
    DueTask,
    LifeEvidence,
    PartOutlook,
    PeriodUse,
    ReliabilitySums,
    ScoreMonth,
    SuspectReading,
)
from analytics.recompute import evidence_rows, fleet_rows, rows
from analytics.recompute.outlooks import catch_up_outlooks
from analytics.recompute.reliability_rows import write_reliability
from analytics.recompute.score_rows import score_columns
from analytics.recompute.statuses import update_statuses
from analytics.recompute.store import delete_generations, in_turn, insert_columns
from fleetdoors.services.one_at_a_time import one_at_a_time

# Held by who switches from one run's rows to another's.
SHOWING = "showing-figures"
PER_DOOR = (DueTask, SuspectReading, DoorFailure, DoorFigures)
FLEET_WIDE = (
    ComponentLife,
    LifeEvidence,
    PartOutlook,
    PeriodUse,
    CheckEvidence,
    ReliabilitySums,
    ScoreMonth,
)
DERIVED = (*PER_DOOR, *FLEET_WIDE)
# A run that has not finished after so long was killed; its rows are swept away by the next.
LOST_AFTER = timedelta(hours=6)

Progress = Callable[[str, int], None]


def silent(step: str, percent: int) -> None:
    """Report progress to nobody."""


def recompute_fleet(
    *, as_of: AsOf, started_at: datetime, progress: Progress = silent
) -> Computation:
    """Rebuild every derived row and show the new ones; readers see the old ones until then."""
    clock = perf_counter()
    progress("reading the record", 0)
    fleet = fetch_fleet(as_of)
    progress("judging readings", 20)
    usage = usage_of_fleet(fleet)
    progress("finding due dates", 40)
    found = assess_doors(fleet, usage)
    run = Computation.objects.create(
        as_of=latest_moment(as_of),
        as_of_on=None if isinstance(as_of, datetime) else as_of,
        started_at=started_at,
        doors=len(fleet.doors),
        parameters=usage.parameters.to_json(),
    )
    progress("writing due dates", 50)
    write_doors(run, found)
    update_statuses(found, np.arange(len(fleet.doors)))
    # What was said of each reading is written, and a third of the memory.
    found, usage = found.without_judgement(), usage.without_judgement()
    progress("adding up failures", 70)
    write_reliability(run, found)
    progress("forecasting parts", 80)
    write_fleet_wide(run, found)
    progress("tidying up", 90)
    with one_at_a_time(SHOWING):
        show(run, seconds=perf_counter() - clock)
    catch_up_outlooks(run)
    sweep(run)
    progress("done", 100)
    return run


def write_doors(run: Computation, found: DoorsFound) -> None:
    """Write the rows of every door that was computed.

    Some at a time: as the database's own values they take ten times the room of the arrays.
    """
    for some in in_turn(len(found.fleet.doors)):
        insert_columns(DoorFigures, rows.door_columns(run.pk, found, some))
        insert_columns(DoorFailure, evidence_rows.failure_columns(run.pk, found, some))
        suspects = rows.suspects_among(found, some)
        insert_columns(SuspectReading, rows.suspect_columns(run.pk, found, suspects))
    for some in in_turn(len(found.due.door)):
        insert_columns(DueTask, rows.due_columns(run.pk, found, some))


def write_fleet_wide(run: Computation, found: DoorsFound) -> None:
    """Compute and write what rests on all doors at once: lives, and the outlook of parts."""
    fleet = found.fleet
    record = fetch_parts_record(fleet.doors)
    lives = lives_of(fleet, found.usage, found.exposure)
    outlooks = assess_parts(
        fleet,
        record,
        found.usage,
        found.exposure,
        lives=lives,
        factors=fetch_demand_factors(fleet.doors.as_of),
        horizon_days=HORIZON_DAYS,
    )
    insert_columns(ScoreMonth, score_columns(run.pk, found, record))
    insert_columns(ComponentLife, fleet_rows.life_columns(run.pk, lives))
    insert_columns(LifeEvidence, evidence_rows.evidence_columns(run.pk, found, lives))
    insert_columns(
        PartOutlook,
        fleet_rows.outlook_columns(run.pk, fleet, record, outlooks, HORIZON_DAYS),
    )


@transaction.atomic
def show(run: Computation, *, seconds: float) -> None:
    """Show this run's rows, unless a run that started later has been shown meanwhile.

    The caller holds `SHOWING`: a row that is locked tells nothing of one that was added meanwhile.
    """
    run.seconds = seconds
    run.finished_at = run.started_at + timedelta(seconds=seconds)
    shown = Computation.objects.select_for_update().current().first()
    run.is_current = shown is None or shown.started_at <= run.started_at
    if shown is not None and run.is_current:
        Computation.objects.filter(pk=shown.pk).update(is_current=False)
    run.save(update_fields=["seconds", "finished_at", "is_current"])


def sweep(run: Computation) -> None:
    """Delete the rows of runs that are no longer shown, and of those that died half-way."""
    lost = Computation.objects.filter(
        finished_at__isnull=True, started_at__lt=run.started_at - LOST_AFTER
    )
    old = Computation.objects.superseded() | lost
    old_ids = list(old.order_by().values_list("pk", flat=True))
    if old_ids:
        delete_generations(DERIVED, old_ids)
        Computation.objects.filter(pk__in=old_ids).delete()
