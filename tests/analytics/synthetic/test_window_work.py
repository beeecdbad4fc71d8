"""The made shop's windows are those of the program's own catalogue."""

import numpy as np
import pytest

from analytics.synthetic.window_work import SEVERITY, TASKS
from fleetdoors.models import MaintenanceTask, SeverityFactor

pytestmark = pytest.mark.django_db


def test_intervals_are_those_of_the_catalogue() -> None:
    made = {code: (days, cycles) for code, days, cycles in TASKS}
    kept = {
        task.code: (task.interval_days, task.interval_cycles or np.inf)
        for task in MaintenanceTask.objects.filter(code__in=made)
    }
    assert made == kept


@pytest.mark.parametrize("condition", SEVERITY)
def test_shorter_intervals_are_those_of_the_catalogue(condition: str) -> None:
    codes = [code for code, _days, _cycles in TASKS]
    factors = SeverityFactor.objects.filter(condition=condition, task__code__in=codes)
    kept = {row.task.code: float(row.factor) for row in factors.select_related("task")}
    assert kept == SEVERITY[condition]
