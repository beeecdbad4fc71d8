"""How a write asks for new figures without knowing who computes them."""

from collections.abc import Collection, Iterable
from functools import partial
from itertools import islice

from django.conf import settings
from django.db import transaction
from django.utils.module_loading import import_string

from fleetdoors.models import DoorUnit

# Above so many doors, whatever is stale is asked for instead of doors by name.
NAMED_DOORS = 1_000
BATCH = 500


def doors_changed(door_ids: Collection[int]) -> None:
    """Mark the doors' figures stale, and ask for new ones once the transaction stands.

    Call it inside the transaction that writes: the mark and the write stand or fall together.
    """
    if not door_ids:
        return
    for batch in _batches(door_ids):
        DoorUnit.objects.filter(pk__in=batch).raise_revision()
    _ask_on_commit(tuple(door_ids) if len(door_ids) <= NAMED_DOORS else None)


def fleet_changed() -> None:
    """Mark every door's figures stale, and ask for new ones once the transaction stands."""
    DoorUnit.objects.all().raise_revision()
    _ask_on_commit(None)


def shelves_changed() -> None:
    """Ask for the orders anew once the transaction stands: a shelf was counted, no door changed."""
    _ask_on_commit(())


def outlooks_changed() -> None:
    """Ask for the forecasts of parts anew once the transaction stands: no door changed."""
    transaction.on_commit(import_string(settings.RECOMPUTE_OUTLOOKS))


def _ask_on_commit(door_ids: tuple[int, ...] | None) -> None:
    """Ask for the figures of the doors, or (None) of whatever is stale."""
    request = import_string(settings.RECOMPUTE_DOORS)
    transaction.on_commit(partial(request, door_ids))


def _batches(door_ids: Iterable[int]) -> Iterable[list[int]]:
    rest = iter(door_ids)
    while batch := list(islice(rest, BATCH)):
        yield batch
