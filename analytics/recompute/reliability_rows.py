"""What the pages of reliability read, written after a run's doors."""

from __future__ import annotations

import json

import numpy as np

from analytics.assessment.checks import ChecksFound, assess_checks
from analytics.assessment.periods import GroupUse, use_by_period
from analytics.assessment.whole import DoorsFound
from analytics.datasets.doors import DoorRows
from analytics.models import CheckEvidence, Computation, PeriodUse, ReliabilitySums
from analytics.recompute import values
from analytics.recompute.reliability_sums import sums_columns
from analytics.recompute.store import Columns, insert_columns

DELAYS_KEPT = [0.05, 0.5, 0.95]


def write_reliability(run: Computation, found: DoorsFound) -> None:
    """Use by period, the evidence of checks, and sums where there are very many doors."""
    use = use_by_period(found.fleet, found.usage)
    insert_columns(PeriodUse, period_columns(run.pk, found.fleet.doors, use))
    insert_columns(CheckEvidence, check_columns(run.pk, found))
    for columns in sums_columns(run.pk, found, use):
        insert_columns(ReliabilitySums, columns)


def period_columns(generation_id: int, doors: DoorRows, use: GroupUse) -> Columns:
    """One row per depot, door model and kind of route."""
    return {
        "generation": [generation_id] * len(use.model),
        "depot": values.ids(use.depot, doors.depots.ids),
        "door_model": [doors.model_codes[k] for k in use.model.tolist()],
        "route_kind": [doors.route_kinds[k] if k >= 0 else "" for k in use.route.tolist()],
        "first_day": [use.first_day] * len(use.model),
        "cycles": [json.dumps(row) for row in np.round(use.cycles, 1).tolist()],
    }


def check_columns(generation_id: int, found: DoorsFound) -> Columns:
    """One row per component that some task looks at."""
    rows = assess_checks(found.fleet, found.exposure)
    return {
        "generation": [generation_id] * len(rows),
        "component": [row.component_id for row in rows],
        "checks": [row.checks for row in rows],
        "found": [row.found for row in rows],
        "failed": [row.failed for row in rows],
        "usual_cycles": [row.usual_cycles for row in rows],
        "figures": [json.dumps(_delays(row)) for row in rows],
    }


def _delays(row: ChecksFound) -> dict[str, list[float]]:
    if row.delays is None:
        return {}
    delays = row.delays.quantiles(DELAYS_KEPT)
    return {"delay_cycles": delays, "defects_per_cycle": row.delays.defects_at(delays)}
