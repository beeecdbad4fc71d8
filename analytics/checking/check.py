"""One check: past dates in order, each forecast scored, and what the weeks after it teach."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from datetime import datetime, timedelta
from time import perf_counter

import numpy as np
from django.db import transaction

from analytics.assessment.learned import usage_of_fleet
from analytics.checking.demand_scores import DEMAND_DAYS, demand_outcomes
from analytics.checking.due_scores import due_outcomes
from analytics.checking.learning_factors import FactorLearner
from analytics.checking.origins import Then, known_on, origins_before
from analytics.datasets import fetch_fleet, fetch_parts_record
from analytics.datasets.demand_factors import kept_factors
from analytics.datasets.fleet import Fleet, PartsRecord
from analytics.kernel.exposure import Series
from analytics.models import ForecastCheck, ForecastKind, ForecastScore
from fleetdoors.models import DoorUnit

# More doors would cost hours and change no figure in its second digit.
MOST_DOORS = 10_000

Key = tuple[str, int, int | None]


@dataclass
class Sums:
    """What is added up for one depot, or for one part at one depot."""

    forecasts: int = 0
    inside: int = 0
    error: float = 0.0
    naive_error: float = 0.0
    expected: float = 0.0
    actual: float = 0.0


@dataclass(frozen=True)
class Now:
    """What is known now: the outcomes."""

    fleet: Fleet
    series: Series
    record: PartsRecord


def check_forecasts(*, as_of: datetime, started_at: datetime) -> ForecastCheck:
    """Repeat past forecasts as of dates four weeks apart, and keep how good they were.

    Nothing that was entered after a past date is used in its forecasts. Scores of earlier checks
    are deleted; their factors stay, for figures as of an earlier date.
    """
    clock, only = perf_counter(), _doors_looked_at()
    fleet = fetch_fleet(as_of, only)
    now = Now(fleet, usage_of_fleet(fleet).series, fetch_parts_record(fleet.doors))
    origins = origins_before(as_of.date(), fleet)
    check = ForecastCheck.objects.create(
        as_of=as_of,
        started_at=started_at,
        origins=len(origins),
        first_origin_on=min(origins, default=None),
        last_origin_on=max(origins, default=None),
        doors=len(fleet.doors),
        doors_on_record=DoorUnit.objects.count(),
    )
    sums: dict[Key, Sums] = defaultdict(Sums)
    learner = FactorLearner()
    for done, origin in enumerate(origins, start=1):
        then = known_on(origin, only)
        _add_due_dates(sums, then, now)
        if origin + timedelta(days=DEMAND_DAYS) <= as_of.date():
            _add_demand(sums, then, now, learner)
        learner.look(then, fleet)
        ForecastCheck.objects.filter(pk=check.pk).update(origins_done=done)
    check.finished_at = started_at + timedelta(seconds=perf_counter() - clock)
    return _keep(check, sums, learner)


def _doors_looked_at() -> set[int] | None:
    """All doors, or evenly chosen ones of a very large fleet."""
    ids = list(DoorUnit.objects.order_by("pk").values_list("pk", flat=True))
    step = -(-len(ids) // MOST_DOORS)
    return None if step <= 1 else set(ids[::step])


def _add_due_dates(sums: dict[Key, Sums], then: Then, now: Now) -> None:
    found = due_outcomes(then, now.fleet, now.series)
    for depot in np.unique(found.depot_id).tolist():
        rows, to = found.depot_id == depot, sums[ForecastKind.DUE_DATE, depot, None]
        if depot < 0:
            continue
        to.forecasts += int(rows.sum())
        to.inside += int(found.inside[rows].sum())
        to.error += float(found.error[rows].sum())
        to.naive_error += float(found.naive_error[rows].sum())


def _add_demand(sums: dict[Key, Sums], then: Then, now: Now, learner: FactorLearner) -> None:
    for outcome in demand_outcomes(then, now.record, learner.factors()):
        to = sums[ForecastKind.DEMAND, outcome.depot_id, outcome.part_id]
        to.forecasts += 1
        to.inside += outcome.inside
        to.error += outcome.error
        to.naive_error += outcome.naive_error
        to.expected += outcome.expected
        to.actual += outcome.actual


@transaction.atomic
def _keep(check: ForecastCheck, sums: dict[Key, Sums], learner: FactorLearner) -> ForecastCheck:
    ForecastScore.objects.bulk_create(
        [
            ForecastScore(
                forecast_check=check,
                kind=kind,
                depot_id=depot,
                part_id=part,
                forecasts=found.forecasts,
                inside=found.inside,
                error=found.error,
                naive_error=found.naive_error,
                expected=found.expected,
                actual=found.actual,
            )
            for (kind, depot, part), found in sums.items()
            if found.forecasts
        ],
        batch_size=1_000,
    )
    check.factors = kept_factors(learner.factors())
    check.origins_done = check.origins
    check.save(update_fields=["factors", "origins_done", "finished_at"])
    ForecastScore.objects.exclude(forecast_check=check).delete()
    return check
