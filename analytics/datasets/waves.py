"""Stays of the parts that wear with use, on chosen doors."""

from __future__ import annotations

import numpy as np
from django.db.models import Value, When

from analytics.datasets.columns import CodeOf, EpochDays, Table, fetch_table
from analytics.datasets.fitments import End
from fleetdoors.models import Component, ComponentKind, Fitment, Removal

_ENDS = {Removal.FAILED: End.FAILED, Removal.PREVENTIVE: End.PREVENTIVE, Removal.OTHER: End.OTHER}


def fetch_wearing_components() -> list[Component]:
    """Components that break after many bends: springs, lift cables, coil cables; one query."""
    return list(Component.objects.filter(kind=ComponentKind.FATIGUE).order_by("name"))


def fetch_stays(components: list[Component], door_ids: list[int]) -> Table:
    """Stays of the components' parts on the doors, ended or not; runs one query."""
    ended = CodeOf(
        *(When(removal=word, then=Value(int(code))) for word, code in _ENDS.items()),
        default=Value(int(End.FITTED)),
    )
    return fetch_table(
        Fitment.objects.in_force().filter(component__in=components, door__in=door_ids),
        {
            "component": ("component_id", np.int64),
            "door": ("door_id", np.int64),
            "fitted_at": ("fitted_at_cycles", np.float64),
            "removed_at": ("removed_at_cycles", np.float64),
            "fitted_day": (EpochDays("fitted_on"), np.float64),
            "removed_day": (EpochDays("removed_on"), np.float64),
            "end": (ended, np.int8),
        },
    )
