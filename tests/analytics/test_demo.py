"""The demo: loaded once, kept as it was left, never mixed into another fleet."""

from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from pytest_django.fixtures import Settings

from analytics.demo import OtherFleetError, prepare_demo
from analytics.demo_visits import largest_tasks
from analytics.models import Computation, DueTask, ForecastCheck
from fleetdoors.models import DoorUnit, MaintenanceTask, User
from inspections.models import CounterReading, Visit
from tests.factories import make_door

NOW = datetime(2027, 2, 3, 14, tzinfo=UTC)
pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def folder(settings: Settings, tmp_path: Path) -> None:
    """A data folder in which no demo was ever started."""
    settings.DATA_DIR = tmp_path
    settings.RECOMPUTE_DOORS = "tests.recompute_requests.keep"


def test_the_demo_is_loaded_once_and_ends_now() -> None:
    demo = prepare_demo(now=NOW)

    newest = CounterReading.objects.latest("read_at").read_at
    assert NOW - timedelta(days=8) < newest < NOW
    assert demo.was_loaded
    assert demo.doors == DoorUnit.objects.count() == 240
    assert User.objects.filter(username__in=[each.name for each in demo.people]).count() == 4
    assert ForecastCheck.objects.finished().count() == 1
    assert Visit.objects.count() == 12
    run = Computation.objects.current().get()

    again = prepare_demo(now=NOW + timedelta(hours=1))

    assert not again.was_loaded
    assert Computation.objects.current().get() == run
    assert Visit.objects.count() == 12


def test_another_fleet_is_left_alone() -> None:
    make_door()
    with pytest.raises(OtherFleetError, match="nothing was changed"):
        prepare_demo(now=NOW)
    assert DoorUnit.objects.count() == 1


def test_a_visit_does_not_name_what_a_larger_task_does_as_well() -> None:
    codes = ("LUB", "ANN", "REN")
    tasks = MaintenanceTask.objects.filter(code__in=codes)
    rows = [DueTask(task=task) for task in tasks]
    assert {task.code for task in largest_tasks(rows)} == {"ANN", "REN"}
