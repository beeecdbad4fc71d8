"""Arrays into derived rows: the whole fleet, some doors, or whatever is stale."""

from analytics.recompute.full import recompute_fleet
from analytics.recompute.outlooks import recompute_outlooks
from analytics.recompute.some import (
    can_recompute_doors,
    recompute_doors,
    recompute_stale,
    stale_door_ids,
)

__all__ = [
    "can_recompute_doors",
    "recompute_doors",
    "recompute_fleet",
    "recompute_outlooks",
    "recompute_stale",
    "stale_door_ids",
]
