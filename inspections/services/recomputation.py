"""How a write asks for new figures; the ground floor does so too, hence its home there."""

from fleetdoors.services.recomputation import doors_changed

__all__ = ["doors_changed"]
