"""How a write asks for new figures without knowing who computes them."""

from collections.abc import Collection
from functools import partial

from django.conf import settings
from django.db import transaction
from django.utils.module_loading import import_string

from fleetdoors.models import DoorUnit


def doors_changed(door_ids: Collection[int]) -> None:
    """Mark the doors' figures stale, and ask for new ones once the transaction stands.

    Call it inside the transaction that writes: the mark and the write stand or fall together.
    """
    DoorUnit.objects.filter(pk__in=door_ids).raise_revision()
    request = import_string(settings.RECOMPUTE_DOORS)
    transaction.on_commit(partial(request, tuple(door_ids)))
