"""The moment as of which a figure holds, and wall-clock time in the zones of the depots.

A date stands for the start of that day in a depot's own zone, so depots in different zones have
different moments; a moment is the same everywhere.
"""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta
from functools import lru_cache
from zoneinfo import ZoneInfo

import numpy as np

from analytics.datasets.columns import DAY_SECONDS, Floats, Ints

AsOf = date | datetime
EPOCH_DATE = date(1970, 1, 1)
# No zone is more than 12 hours behind UTC, so that every depot's day has begun by then.
_WESTERNMOST = timedelta(hours=12)


def moment_in(as_of: AsOf, zone: ZoneInfo) -> datetime:
    """The moment itself, or the start of the day in the zone."""
    if isinstance(as_of, datetime):
        return as_of
    return datetime.combine(as_of, time(), zone)


def latest_moment(as_of: AsOf) -> datetime:
    """The latest moment that `as_of` can mean in any zone."""
    if isinstance(as_of, datetime):
        return as_of
    return datetime.combine(as_of, time(), UTC) + _WESTERNMOST


def limit_day(as_of: AsOf, zone: ZoneInfo) -> int:
    """The first epoch day whose bare date is not before the moment."""
    if not isinstance(as_of, datetime):
        return (as_of - EPOCH_DATE).days
    local = as_of.astimezone(zone)
    begun = local.time() > time()
    return (local.date() - EPOCH_DATE).days + begun


def local_day(moment: datetime, zone: ZoneInfo) -> float:
    """Epoch days of a moment on the zone's wall clock."""
    wall = moment.astimezone(zone).replace(tzinfo=UTC)
    return wall.timestamp() / DAY_SECONDS


def wall_seconds(epoch: Floats | Ints, zone: ZoneInfo) -> Floats:
    """Seconds since 1970 on the zone's wall clock, for moments as seconds since 1970."""
    if len(epoch) == 0:
        return np.zeros(0)
    years = [datetime.fromtimestamp(float(end), UTC).year for end in (epoch.min(), epoch.max())]
    changes = [_changes(zone, year) for year in range(years[0], years[1] + 1)]
    starts = np.concatenate([each[0] for each in changes])
    shifts = np.concatenate([each[1] for each in changes])
    return epoch + shifts[np.searchsorted(starts, epoch, side="right") - 1]


@lru_cache(maxsize=4096)
def _changes(zone: ZoneInfo, year: int) -> tuple[Floats, Floats]:
    """Moments of a year from which a shift against UTC holds, and the shifts, in seconds."""
    start = int(datetime(year, 1, 1, tzinfo=UTC).timestamp())
    end = int(datetime(year + 1, 1, 1, tzinfo=UTC).timestamp())
    moments, shifts = [start], [_shift(zone, start)]
    for day in range(start, end, DAY_SECONDS):
        low, high = day, min(day + DAY_SECONDS, end - 1)
        if _shift(zone, high) == shifts[-1]:
            continue
        while high - low > 1:
            middle = (low + high) // 2
            low, high = (middle, high) if _shift(zone, middle) == shifts[-1] else (low, middle)
        moments.append(high)
        shifts.append(_shift(zone, high))
    return np.array(moments, float), np.array(shifts, float)


def _shift(zone: ZoneInfo, epoch: int) -> float:
    offset = datetime.fromtimestamp(epoch, zone).utcoffset()
    return offset.total_seconds() if offset else 0.0
