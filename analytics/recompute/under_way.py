"""Runs over a large fleet that are under way, and those whose workers or queue were lost."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

from analytics.models import Computation
from analytics.recompute.full import LOST_AFTER

# A run of which nothing was heard for so long has lost its messages; it is asked for again.
STALLED_AFTER = timedelta(minutes=3)


@dataclass(frozen=True)
class Lost:
    """What has to be asked for again: slices nobody computed, and runs that nobody shows."""

    slice_ids: tuple[int, ...]
    run_ids: tuple[int, ...]


def runs_under_way(now: datetime) -> list[Computation]:
    """Runs by slices that are begun and not shown yet, the newest first; runs one query."""
    begun = Computation.objects.filter(
        finished_at__isnull=True, started_at__gt=now - LOST_AFTER, slices__isnull=False
    )
    return list(begun.distinct().order_by("-pk"))


def ask_again_for_lost(now: datetime) -> Lost:
    """Find what stalled, and note that it is asked for now; asking twice does no harm."""
    slice_ids: list[int] = []
    run_ids: list[int] = []
    for run in runs_under_way(now):
        heard = now - STALLED_AFTER
        if run.slices.finished_since(heard).exists() or run.slices.asked_since(heard).exists():
            continue
        open_slices = run.slices.unfinished()
        found = list(open_slices.values_list("pk", flat=True))
        run.slices.update(asked_at=now)
        slice_ids += found
        if not found:
            run_ids.append(run.pk)
    return Lost(tuple(slice_ids), tuple(run_ids))
