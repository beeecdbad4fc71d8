"""A full recomputation beside the requests of this process, and how far the newest one is."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from threading import Thread

import structlog
from django.conf import settings
from django.db import connection

from analytics.models import Computation
from analytics.recompute import recompute_fleet
from analytics.recompute.under_way import runs_under_way
from analytics.tasks import recompute_whole_fleet

log = structlog.get_logger("analytics")

# After so long without a result a run is no longer waited for.
LONGEST = timedelta(minutes=30)


@dataclass(frozen=True)
class Progress:
    """Whether the run asked for at a moment is done, still writes, or came to nothing.

    `slices_done` of `slices` where the fleet is computed some depots at a time; None before.
    """

    is_done: bool
    is_writing: bool
    is_lost: bool
    slices_done: int | None = None
    slices: int | None = None


def start_recomputing(*, now: datetime) -> None:
    """Compute the whole fleet anew; asked for twice, the run that goes on will do.

    By the workers where there are any, else in a thread of this process.
    """
    if _is_running(now):
        return
    if settings.REDIS_URL:
        recompute_whole_fleet.delay()
        return
    Thread(target=_recompute, args=(now,), name="recompute", daemon=True).start()


def progress_since(asked_at: datetime, *, now: datetime) -> Progress:
    """How far the run asked for at the moment is; queries at most five times."""
    shown = Computation.objects.current().first()
    is_done = shown is not None and shown.started_at >= asked_at
    is_writing = not is_done and _is_running(now)
    is_lost = not is_done and now - asked_at > LONGEST
    under_way = [] if is_done else runs_under_way(now)
    if not under_way:
        return Progress(is_done, is_writing, is_lost)
    slices = under_way[0].slices
    total = slices.count()
    return Progress(is_done, is_writing, is_lost, total - slices.unfinished().count(), total)


def _is_running(now: datetime) -> bool:
    """Whether a run has begun to write and has not finished."""
    unfinished = Computation.objects.filter(finished_at__isnull=True)
    return unfinished.filter(started_at__gt=now - LONGEST).exists()


def _recompute(now: datetime) -> None:
    try:
        recompute_fleet(as_of=now, started_at=now)
    except Exception:  # nobody waits for the thread: what went wrong must be found in the log
        log.exception("recompute_failed")
    finally:
        connection.close()
