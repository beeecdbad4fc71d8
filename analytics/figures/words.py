"""Numbers, days and moments as rows of figures carry them."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import numpy as np

from analytics.datasets.clock import EPOCH_DATE
from analytics.datasets.columns import DAY_SECONDS
from analytics.recompute.values import FURTHEST_DAYS

Value = str | float | int | None
Row = dict[str, Value]


def number(value: float | None) -> float | None:
    """A number, null where nan or not known."""
    return None if value is None or not np.isfinite(value) else float(value)


def day(epoch_day: float) -> str | None:
    """An ISO date, null where not known."""
    if not np.isfinite(epoch_day):
        return None
    return (EPOCH_DATE + timedelta(days=int(np.floor(epoch_day)))).isoformat()


def day_ahead(epoch_day: float, as_of_day: float) -> str | None:
    """An ISO date, null where not known or too far ahead to mean anything."""
    return None if epoch_day > as_of_day + FURTHEST_DAYS else day(epoch_day)


def moment(epoch_day: float) -> str:
    """A moment on a depot's wall clock, to the minute."""
    seconds = round(epoch_day * DAY_SECONDS)
    return f"{datetime.fromtimestamp(seconds, UTC):%Y-%m-%dT%H:%M}"
