"""What is usual in the fleet, learned from all doors or, in a very large fleet, from a sample."""

from __future__ import annotations

import numpy as np

from analytics.assessment.parameters import FleetParameters
from analytics.assessment.usage import UsageFound, assess_doors_usage, assess_fleet_usage
from analytics.datasets import UsageRecord, fetch_usage_record
from analytics.datasets.doors import DoorRows
from analytics.kernel.neighbours import neighbour_values

# More doors tell next to nothing more of what is usual for a class, and cost their share of time.
LEARNED_FROM = 5_000


def usage_of_fleet(fleet: UsageRecord) -> UsageFound:
    """Usage of every door of the whole fleet, by parameters learned from it."""
    if len(fleet.doors) <= LEARNED_FROM:
        return assess_fleet_usage(fleet)
    return usage_by(fleet, learn_parameters(fleet.doors))


def learn_parameters(doors: DoorRows) -> FleetParameters:
    """The fleet's parameters from at most so many of its doors, evenly chosen over the depots."""
    order = np.lexsort((doors.ids, doors.depot))
    step = max(1, -(-len(order) // LEARNED_FROM))
    chosen = None if step == 1 else doors.ids[order[::step]].tolist()
    return assess_fleet_usage(fetch_usage_record(doors.as_of, chosen)).parameters


def usage_by(fleet: UsageRecord, parameters: FleetParameters) -> UsageFound:
    """Usage of whole depots, or of the whole fleet, by parameters learned before."""
    neighbours = neighbour_values(fleet.readings.kernel, fleet.doors.depot)
    return assess_doors_usage(fleet, parameters, neighbours)
