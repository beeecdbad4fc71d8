"""Asking for new figures: at once in this process, or through a queue where one is set up.

The queue is never the truth: a door that was written to is stale by its revision, and whoever
recomputes next picks it up. Losing a message costs time, not figures.
"""

from __future__ import annotations

from collections.abc import Collection
from threading import Thread

import structlog
from django.conf import settings
from django.db import connection
from django.utils import timezone

from analytics.checking import check_forecasts
from analytics.digests import send_digests
from analytics.recompute import (
    can_recompute_doors,
    recompute_doors,
    recompute_fleet,
    recompute_outlooks,
    recompute_stale,
    stale_door_ids,
)
from analytics.recompute.fleet_slices import (
    begin_slices,
    compute_slice,
    run_to_show,
    show_slices,
)
from analytics.recompute.shelves import refresh_shelves
from analytics.recompute.under_way import ask_again_for_lost, runs_under_way
from fleetdoors.config.celery import app
from fleetdoors.models import DoorUnit

log = structlog.get_logger("analytics")

# From this share of the fleet on, one full run costs less than the doors one by one.
FULL_RUN_SHARE = 0.2
FEWEST_FOR_FULL_RUN = 50
# Up to so many doors a person waits the seconds that new outlooks take.
DOORS_WHILE_WAITING = 3_000


def request_recompute(door_ids: Collection[int] | None) -> None:
    """Ask for the figures of these doors, or of whatever is stale; never fails the write before.

    Called once the transaction that wrote stands.
    """
    try:
        if settings.REDIS_URL:
            # A person waits for the answer: the settings let a Redis that is away fail at once.
            bring_up_to_date.delay(None if door_ids is None else list(door_ids))
        else:
            catch_up(door_ids)
    except Exception:  # the write stands, whatever happens to its figures
        log.exception("recompute_not_done", doors=None if door_ids is None else len(door_ids))


def request_outlooks() -> None:
    """Ask for the outlooks of parts after something was announced; never fails the write before.

    Without workers a large fleet is computed beside the request.
    """
    try:
        if settings.REDIS_URL:
            bring_outlooks_up_to_date.delay()
        elif DoorUnit.objects.count() > DOORS_WHILE_WAITING:
            Thread(target=_outlooks_beside, name="outlooks", daemon=True).start()
        else:
            bring_outlooks_up_to_date()
    except Exception:  # the write stands, whatever happens to its figures
        log.exception("outlooks_not_done")


@app.task(name="analytics.bring_outlooks_up_to_date")
def bring_outlooks_up_to_date() -> int:
    """Recompute the outlooks of parts that are shown; doing it twice does no harm."""
    return recompute_outlooks(as_of=timezone.now())


def _outlooks_beside() -> None:
    try:
        bring_outlooks_up_to_date()
    except Exception:  # nobody waits for the thread: what went wrong must be found in the log
        log.exception("outlooks_not_done")
    finally:
        connection.close()


@app.task(name="analytics.bring_up_to_date")
def bring_up_to_date(door_ids: list[int] | None = None) -> int:
    """Recompute doors, or whatever is stale; doing it twice does no harm."""
    if door_ids is None:
        _send_what_was_lost()
    return catch_up(door_ids)


@app.task(name="analytics.recompute_fleet")
def recompute_whole_fleet() -> int:
    """Compute the whole fleet anew, by slices on all workers; returns how many slices.

    Asked for while such a run is under way, that run will do.
    """
    now = timezone.now()
    if runs_under_way(now):
        return 0
    run = begin_slices(as_of=now, started_at=now)
    slice_ids = list(run.slices.values_list("pk", flat=True))
    for slice_id in slice_ids:
        compute_some_depots.delay(slice_id)
    return len(slice_ids)


@app.task(name="analytics.compute_slice")
def compute_some_depots(slice_id: int) -> bool:
    """Compute a slice; whoever finds that none is left shows the run."""
    is_done = compute_slice(slice_id, now=timezone.now())
    run_id = run_to_show(slice_id)
    if run_id is not None:
        show_fleet.delay(run_id)
    return is_done


@app.task(name="analytics.show_slices")
def show_fleet(run_id: int) -> bool:
    """Show a run whose slices are done, then take up what was written meanwhile."""
    shown = show_slices(run_id, now=timezone.now())
    if shown is None:
        return False
    recompute_stale(as_of=timezone.now())
    return True


@app.task(name="analytics.recompute_each_night")
def recompute_each_night() -> int:
    """Bring every date up to a new day; returns how many slices or doors were asked for."""
    if settings.REDIS_URL:
        return recompute_whole_fleet()
    now = timezone.now()
    return recompute_fleet(as_of=now, started_at=now).doors


def _send_what_was_lost() -> None:
    lost = ask_again_for_lost(timezone.now())
    for slice_id in lost.slice_ids:
        compute_some_depots.delay(slice_id)
    for run_id in lost.run_ids:
        show_fleet.delay(run_id)


@app.task(name="analytics.check_past_forecasts")
def check_past_forecasts() -> int:
    """Repeat past forecasts and score them; returns from how many dates."""
    now = timezone.now()
    return check_forecasts(as_of=now, started_at=now).origins


@app.task(name="analytics.send_morning_mail")
def send_morning_mail() -> int:
    """Send the morning mail where a server is set up; returns how many were sent."""
    if not settings.MAIL_SERVER:
        return 0
    return send_digests(now=timezone.now(), address=f"{settings.PUBLIC_ADDRESS.rstrip('/')}/")


def catch_up(door_ids: Collection[int] | None) -> int:
    """Recompute these doors, or all stale ones, or the fleet where that is less work."""
    now = timezone.now()
    if door_ids is not None and not door_ids:
        # Nothing about a door was written, so a shelf was counted.
        return refresh_shelves(None, as_of=now)
    if can_recompute_doors():
        doors = stale_door_ids(as_of=now) if door_ids is None else list(door_ids)
        if not _worth_a_full_run(len(doors)):
            return recompute_doors(doors, as_of=now)
    if settings.REDIS_URL:
        return recompute_whole_fleet()
    run = recompute_fleet(as_of=now, started_at=now)
    # What was written while the run read is stale in what it wrote.
    recompute_stale(as_of=now)
    return run.doors


def _worth_a_full_run(doors: int) -> bool:
    """Whether so many doors are a large share of the fleet; runs one query if they are many."""
    if doors < FEWEST_FOR_FULL_RUN:
        return False
    return doors > FULL_RUN_SHARE * DoorUnit.objects.count()
