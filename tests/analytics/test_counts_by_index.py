"""Counts over a large fleet read an index alone, not the rows; SQLite itself says which."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.db import connection
from django.db.models import QuerySet

from analytics.models import DoorFigures, DueState, DueTask
from analytics.reports.basis import Basis
from analytics.reports.standing import stands
from tests.factories import make_depot, make_door
from tests.pages.planner_rows import days, make_due, make_run

pytestmark = [
    pytest.mark.django_db,
    pytest.mark.skipif(connection.vendor != "sqlite", reason="reads SQLite's own query plan"),
]
TODAY = days(0)


def plan_of_count(rows: QuerySet) -> str:
    """How the database would count the rows, as the pages have them counted."""
    return rows.order_by().values("pk").explain()


def basis(*, computed_days_ago: int) -> Basis:
    return Basis(make_run(), TODAY - timedelta(days=computed_days_ago), TODAY)


@pytest.mark.parametrize("behind", [0, 3])
@pytest.mark.parametrize("state", [DueState.LATE, DueState.SOON, DueState.UNKNOWN])
def test_a_state_is_counted_from_its_index(state: DueState, behind: int) -> None:
    now = basis(computed_days_ago=behind)
    rows = DueTask.objects.filter(stands(state, now), generation=now.run)
    for seen in (rows, rows.at_depots((1, 2)), rows.filter(depot=1)):
        assert "COVERING INDEX due_task_by_state" in plan_of_count(seen)


def test_a_weeks_tasks_at_depots_are_counted_from_their_index() -> None:
    rows = DueTask.objects.filter(generation=make_run(), due_on__lte=TODAY, depot__in=[1, 2])
    counted = rows.exclude(task__in=[1], door__in=rows.filter(task=2).values("door"))
    assert plan_of_count(counted).count("COVERING INDEX due_task_by_depot") == 2


@pytest.mark.parametrize("asked", [{"basis": "stale"}, {"last_read_at__isnull": True}])
def test_doubtful_doors_are_counted_from_their_index(asked: dict[str, object]) -> None:
    rows = DoorFigures.objects.filter(generation=make_run(), in_service=True, **asked)
    assert "COVERING INDEX door_figures_depot" in plan_of_count(rows)


def test_a_search_finds_the_doors_and_only_then_their_tasks() -> None:
    run, north = make_run(), make_depot()
    wanted = make_door(serial="FIND-ME", depot=north)
    make_due(run=run, door=wanted)
    make_due(run=run, door=make_door(serial="OTHER", depot=north))
    rows = DueTask.objects.filter(generation=run).matching("find")
    assert [row.door for row in rows] == [wanted]
    assert "COVERING INDEX" in plan_of_count(rows).splitlines()[0]
