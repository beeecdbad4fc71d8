"""Worked figures of the trade for planning: backlog in weeks, and nested tasks in one visit.

Worked out by hand from the rules named beside them; no published table stands behind them.
"""

from __future__ import annotations

import numpy as np
import pytest

from analytics.kernel.schedule import preview, schedule, visits_of
from analytics.kernel.schedule_problem import Jobs, Nights, ScheduleProblem

# Minutes of the usual tasks; the bundles come to 42 and 90 (sums by hand).
QUARTER = (5.0, 15.0, 8.0, 10.0, 3.0, 1.0)
HALF = (*QUARTER, 10.0, 8.0, 12.0, 6.0, 12.0)


@pytest.mark.parametrize(("minutes", "bundle"), [(QUARTER, 42), (HALF, 90)])
def test_a_bundle_is_one_visit(minutes, bundle):
    """All due on one night: their minutes, 15 to get at the door, 7 for the final check."""
    count = len(minutes)
    problem = ScheduleProblem(
        Jobs(
            truck=np.zeros(count, np.int64),
            minutes=np.array(minutes),
            due_night=np.zeros(count),
            earliest_night=np.zeros(count, np.int64),
            weight=np.ones(count),
            goes_first=np.zeros(count, bool),
            needs_trained=np.zeros(count, bool),
            pinned_night=np.full(count, -1),
        ),
        Nights(np.full(3, 480.0), np.zeros(3), np.ones((1, 3), bool)),
        np.zeros((0, 2), np.int64),
    )
    for plan in (preview(problem), schedule(problem, seconds=2.0)):
        visits = visits_of(problem, plan)
        assert visits.night.tolist() == [0]
        assert visits.minutes.tolist() == [bundle + 15 + 7]
