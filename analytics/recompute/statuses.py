"""The machine's verdict on readings, written where it differs from what stands."""

from __future__ import annotations

import numpy as np

from analytics.assessment.whole import DoorsFound
from analytics.datasets.columns import Ints
from analytics.recompute.store import batches
from inspections.models import CounterReading, ReadingStatus

_IDS_AT_ONCE = 900


def update_statuses(found: DoorsFound, doors: Ints) -> int:
    """Bring `status` of the doors' readings up to date; returns how many changed."""
    readings, held = found.fleet.readings, found.usage.followed.judgement.held
    wanted = np.zeros(len(found.fleet.doors), bool)
    wanted[doors] = True
    differs = (held != readings.held_at_present) & wanted[readings.kernel.door()]
    changed = 0
    for status, chosen in (
        (ReadingStatus.HELD, differs & held),
        (ReadingStatus.ACCEPTED, differs & ~held),
    ):
        for batch in batches(readings.ids[chosen].tolist(), _IDS_AT_ONCE):
            changed += CounterReading.objects.filter(pk__in=batch).update(status=status)
    return changed
