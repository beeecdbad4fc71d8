"""How a write asks for new figures; the ground floor writes too, hence the home there."""

from fleetdoors.services.recomputation import doors_changed, fleet_changed

__all__ = ["doors_changed", "fleet_changed"]
