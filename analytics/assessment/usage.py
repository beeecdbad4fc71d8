"""Readings judged, cycles followed, usage as of a moment."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from analytics.assessment.parameters import FleetParameters, estimate_parameters
from analytics.datasets.columns import Ints
from analytics.datasets.fleet import UsageRecord
from analytics.kernel.calibration import calibrate
from analytics.kernel.class_priors import DoorPriors
from analytics.kernel.effective_days import Calendar
from analytics.kernel.exposure import Series, accepted_series
from analytics.kernel.judgement import Judgement
from analytics.kernel.neighbours import Neighbours, neighbour_values
from analytics.kernel.plausibility import judge
from analytics.kernel.rate_history import RateHistory, filter_rates
from analytics.kernel.usage import Usage, usage_at


@dataclass(frozen=True)
class Followed:
    """Readings judged, and the cycles that they come to, door after door."""

    calendar: Calendar
    priors: DoorPriors
    judgement: Judgement
    series: Series


@dataclass(frozen=True)
class UsageFound:
    """What the readings of some doors come to."""

    parameters: FleetParameters
    followed: Followed
    usage: Usage

    @property
    def series(self) -> Series:
        """Accepted points of every door."""
        return self.followed.series

    def without_judgement(self) -> UsageFound:
        """The same for what rests on all doors, where what was said of each reading is ballast."""
        followed = replace(self.followed, judgement=Judgement.of_nothing())
        return replace(self, followed=followed)


def assess_fleet_usage(fleet: UsageRecord) -> UsageFound:
    """Learn the fleet's parameters, then judge and follow every door by them."""
    parameters = estimate_parameters(fleet)
    neighbours = neighbour_values(fleet.readings.kernel, fleet.doors.depot)
    followed, history = follow(fleet, parameters, neighbours)
    parameters = parameters.with_calibration(
        calibrate(followed.series, history, fleet.doors.day, followed.calendar)
    )
    return UsageFound(parameters, followed, _usage(fleet, parameters, followed, history))


def assess_doors_usage(
    fleet: UsageRecord, parameters: FleetParameters, neighbours: Neighbours | None
) -> UsageFound:
    """Judge and follow some doors by parameters learned from the fleet before."""
    followed, history = follow(fleet, parameters, neighbours)
    return UsageFound(parameters, followed, _usage(fleet, parameters, followed, history))


def follow(
    fleet: UsageRecord, parameters: FleetParameters, neighbours: Neighbours | None
) -> tuple[Followed, RateHistory]:
    """Judge the readings, and learn each door's rate from those accepted.

    The history of rates is large and only needed for what is usual now, so it is kept apart.
    """
    calendar, priors = parameters.calendar(fleet.doors), parameters.priors(fleet.doors)
    doors, readings = fleet.kernel_doors, fleet.readings.kernel
    judgement = judge(doors, fleet.counters, readings, calendar, priors.rate, neighbours=neighbours)
    series = accepted_series(doors, readings, judgement)
    history = filter_rates(series, calendar, priors.rate, parameters.settings)
    return Followed(calendar, priors, judgement, series), history


def _usage(
    fleet: UsageRecord, parameters: FleetParameters, followed: Followed, history: RateHistory
) -> Usage:
    """Usage of every door at its own depot's wall-clock time."""
    return usage_at(
        fleet.doors.day,
        followed.series,
        history,
        followed.calendar,
        prior=followed.priors.rate,
        calibration=parameters.calibration,
    )


def last_accepted(fleet: UsageRecord, judgement: Judgement) -> Ints:
    """Row of each door's last accepted reading, -1 where it has none, (n,)."""
    last = np.full(len(fleet.doors), -1)
    rows = np.flatnonzero(~judgement.held)
    last[fleet.readings.kernel.door()[rows]] = rows
    return last
