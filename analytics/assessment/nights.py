"""The hours of a depot's nights as the plan takes them."""

from __future__ import annotations

import numpy as np

from analytics.datasets.columns import Flags, Floats, Ints
from analytics.datasets.depots import Depots
from analytics.datasets.planning import TrainedPeople
from analytics.datasets.week_hours import DepotHours
from analytics.kernel.schedule_problem import Nights

# Assumptions until the record says better (common practice, no source).
ASSUMED_BAY_MINUTES = 8 * 60.0
MINUTES_PER_PERSON = 8 * 60.0


def assess_nights(
    hours: DepotHours, trained_minutes: Floats, *, days: Ints, trucks: Ints, laid_up: Flags
) -> Nights:
    """Hours of the bay, of trained people, and of trucks by id where they are not laid up."""
    home = np.where(laid_up, 0.0, hours.home_minutes(trucks, days))
    return Nights(
        minutes=bay_minutes(hours, days),
        trained_minutes=trained_minutes,
        home=home > 0,
        home_minutes=home,
    )


def bay_minutes(hours: DepotHours, days: Ints) -> Floats:
    """Minutes of the bay on epoch days; eight hours where nobody has said."""
    return np.nan_to_num(hours.bay_minutes(days), nan=ASSUMED_BAY_MINUTES)


def trained_minutes(
    people: TrainedPeople, depots: Depots, hours: DepotHours, *, depot: int, days: Ints
) -> Floats:
    """Minutes of people trained for spring work in each night; nobody works while it is shut."""
    bay = bay_minutes(hours, days)
    there = [
        people.minutes_at(depots, depot, day, longest=min(most, MINUTES_PER_PERSON))
        for day, most in zip(days.tolist(), bay.tolist(), strict=True)
    ]
    return np.where(bay > 0, np.array(there, dtype=float), 0.0)
