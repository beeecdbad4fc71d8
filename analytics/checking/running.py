"""A check of forecasts beside the requests of this process, and how far it is."""

from __future__ import annotations

from datetime import datetime, timedelta
from threading import Thread

import structlog
from django.conf import settings
from django.db import connection

from analytics.checking.check import check_forecasts
from analytics.models import ForecastCheck
from analytics.tasks import check_past_forecasts

log = structlog.get_logger("analytics")

# After so long without a result a check is no longer waited for.
LONGEST = timedelta(hours=2)


def start_checking(*, now: datetime) -> None:
    """Check the forecasts; asked for twice, the check that goes on will do.

    By a worker where there is one, else in a thread of this process.
    """
    if running_check(now) is not None:
        return
    if settings.REDIS_URL:
        check_past_forecasts.delay()
    else:
        Thread(target=_check, args=(now,), name="check_forecasts", daemon=True).start()


def running_check(now: datetime) -> ForecastCheck | None:
    """The check that has begun and not come to an end; queries once."""
    return ForecastCheck.objects.running_since(now - LONGEST).first()


def _check(now: datetime) -> None:
    try:
        check_forecasts(as_of=now, started_at=now)
    except Exception:  # nobody waits for the thread: what went wrong must be found in the log
        log.exception("check_of_forecasts_failed")
    finally:
        connection.close()
