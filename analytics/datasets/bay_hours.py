"""Hours of each depot's bay in the weeks ahead: its usual week, less the days it is closed."""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np

from analytics.datasets.columns import Floats
from fleetdoors.models import ClosedDay, Depot, DepotWeekday

_MINUTES_AN_HOUR = 60.0
_WEEK_DAYS = 7


def fetch_week_minutes(depot_ids: list[int], first_day: date, weeks: int) -> Floats:
    """Minutes of the bay by depot and week, nan where nobody noted any; runs three queries."""
    usual = dict(Depot.objects.filter(pk__in=depot_ids).values_list("pk", "bay_hours_per_day"))
    place = {each: k for k, each in enumerate(depot_ids)}
    hours = np.array([usual.get(each) for each in depot_ids], dtype=float)
    by_weekday = np.repeat(hours[:, None], _WEEK_DAYS, axis=1)
    own = DepotWeekday.objects.filter(depot__in=depot_ids, bay_hours__isnull=False)
    for depot, weekday, bay_hours in own.values_list("depot_id", "weekday", "bay_hours"):
        by_weekday[place[depot], weekday] = bay_hours
    dates = [first_day + timedelta(days=k) for k in range(_WEEK_DAYS * weeks)]
    by_day = by_weekday[:, [each.weekday() for each in dates]]
    closed = ClosedDay.objects.filter(depot__in=depot_ids, closed_on__range=(dates[0], dates[-1]))
    for depot, closed_on in closed.values_list("depot_id", "closed_on"):
        by_day[place[depot], (closed_on - first_day).days] = 0.0
    return _MINUTES_AN_HOUR * by_day.reshape(len(depot_ids), weeks, _WEEK_DAYS).sum(axis=2)
