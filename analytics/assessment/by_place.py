"""Parts of a component that failed at each place of the door, over the cycles of those doors."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import Any

import numpy as np

from analytics.assessment.exposure import Exposure
from analytics.datasets.fitments import End
from analytics.datasets.fleet import Fleet
from analytics.datasets.places import Places


@dataclass(frozen=True)
class PlaceSum:
    """One place: doors that have it, their cycles, and parts taken off it because they failed."""

    place: str
    doors: int
    cycles: float
    failures: int


def sum_places(
    fleet: Fleet, exposure: Exposure, places: Places, component_id: int
) -> list[PlaceSum]:
    """Every named place of a component; none with fewer than two, as there is nothing to tell."""
    parts = fleet.fitments
    own = np.flatnonzero(parts.component_id == component_id)
    place = places.of(parts.ids[own])
    found = []
    for k in np.unique(place[place >= 0]).tolist():
        rows = own[place == k]
        doors = np.unique(parts.door[rows])
        found.append(
            PlaceSum(
                place=places.names[k],
                doors=len(doors),
                cycles=float(exposure.window_cycles[doors].sum()),
                failures=int((parts.end[rows] == End.FAILED).sum()),
            )
        )
    return found if len(found) > 1 else []


def places_json(
    fleet: Fleet, exposure: Exposure, places: Places, component_id: int
) -> list[dict[str, Any]]:
    """The same as plain numbers and words."""
    return [asdict(each) for each in sum_places(fleet, exposure, places, component_id)]
