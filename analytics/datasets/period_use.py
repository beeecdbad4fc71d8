"""Cycles by period of groups of doors, from their derived rows."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analytics.datasets.columns import Floats
from analytics.datasets.windows import depot_labels
from analytics.models import PeriodUse


@dataclass(frozen=True)
class PeriodUseRows:
    """Groups of doors by depot, model and route (empty = not known); cycles (g, p)."""

    first_day: float
    depots: tuple[str, ...]
    models: tuple[str, ...]
    routes: tuple[str, ...]
    cycles: Floats

    @property
    def periods(self) -> int:
        """How many periods there are."""
        return int(self.cycles.shape[1])


def fetch_period_use(depot_ids: tuple[int, ...] | None) -> PeriodUseRows:
    """The groups at the depots, as the shown run added them up; runs one query."""
    rows = list(
        PeriodUse.objects.current()
        .at_depots(depot_ids)
        .order_by("depot", "door_model", "route_kind")
        .values_list(
            "depot__name", "depot__code", "door_model", "route_kind", "first_day", "cycles"
        )
    )
    return PeriodUseRows(
        first_day=rows[0][4] if rows else 0.0,
        depots=depot_labels([(row[0], row[1]) for row in rows]),
        models=tuple(row[2] for row in rows),
        routes=tuple(row[3] for row in rows),
        cycles=np.array([row[5] for row in rows], dtype=float)
        if rows
        else np.zeros((0, 0), dtype=float),
    )
