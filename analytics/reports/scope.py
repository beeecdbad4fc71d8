"""The depots that a person's pages speak of."""

from __future__ import annotations

from fleetdoors.models import User


def depot_ids_of(user: User) -> tuple[int, ...] | None:
    """The ids of the depots a person is tied to, None for every depot; queries once."""
    if user.is_superuser:
        return None
    return tuple(user.depots.order_by("pk").values_list("pk", flat=True)) or None
