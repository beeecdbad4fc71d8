"""The full run over several depots beside the requests of this process."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta
from functools import partial
from threading import Thread

import structlog
from django.db import connection

from analytics.models import PlanRun
from analytics.scheduling.propose import work_out
from fleetdoors.models import Depot

log = structlog.get_logger("analytics")
# After so long without a result a run is no longer waited for.
LONGEST = timedelta(minutes=5)


def start_full_run(run: PlanRun, depots: Sequence[Depot], *, now: datetime) -> None:
    """Work the plans out in a thread: they take up to a minute, and a page waits for none."""
    Thread(target=_work_out, args=(run, list(depots), now), name="plans", daemon=True).start()


def is_lost(run: PlanRun, *, now: datetime) -> bool:
    """Whether a run came to nothing."""
    return run.failed or (run.finished_at is None and now - run.asked_at > LONGEST)


def _tell(run_pk: int, depots_done: int) -> None:
    """Say how far a run is, from whichever thread has planned a depot."""
    PlanRun.objects.filter(pk=run_pk).update(depots_done=depots_done)
    connection.close()


def _work_out(run: PlanRun, depots: list[Depot], now: datetime) -> None:
    try:
        work_out(run, depots, now=now, done=partial(_tell, run.pk))
    except Exception:  # nobody waits for the thread: what went wrong must be found in the log
        log.exception("plans_not_worked_out", run=run.pk)
        PlanRun.objects.filter(pk=run.pk).update(failed=True)
    finally:
        connection.close()
