"""The demo: loaded once, kept as it was left, never mixed into another fleet."""

from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from django.db.models import Sum
from pytest_django.fixtures import Settings

from analytics.demo import OtherFleetError, prepare_demo
from analytics.demo_visits import largest_tasks
from analytics.models import Computation, DueTask, ForecastCheck
from analytics.models.score import Measure, ScoreMonth
from fleetdoors.models import DoorUnit, LayUp, MaintenanceTask, User
from inspections.models import (
    AnnouncedChange,
    CounterReading,
    DefectReport,
    HoldReason,
    LabourRate,
    OneOffCheck,
    OutsideInvoice,
    RoadHold,
    Visit,
    VisitMinutes,
    VisitState,
)
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
    assert Visit.objects.still_to_do().count() == 12
    run = Computation.objects.current().get()

    again = prepare_demo(now=NOW + timedelta(hours=1))

    assert not again.was_loaded
    assert Computation.objects.current().get() == run
    assert Visit.objects.still_to_do().count() == 12


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


def test_the_demo_tells_of_a_company_mostly_well_kept() -> None:
    prepare_demo(now=NOW)

    kept = ScoreMonth.objects.current().filter(measure=Measure.ON_TIME, month_on__lt="2027-02-01")
    shares = {
        row["depot__code"]: row["amount"] / row["out_of"]
        for row in kept.values("depot__code").annotate(amount=Sum("amount"), out_of=Sum("out_of"))
    }
    sums = kept.aggregate(amount=Sum("amount"), out_of=Sum("out_of"))
    assert 0.70 <= sums["amount"] / sums["out_of"] <= 0.95
    assert all(0.65 <= share <= 0.95 for share in shares.values())

    check = OneOffCheck.objects.get()
    looked = check.looks.count()
    assert 0 < looked < DoorUnit.objects.filter(door_model=check.door_model).count()
    assert AnnouncedChange.objects.standing().count() == 1
    assert LabourRate.objects.in_force().count() == 3
    assert OutsideInvoice.objects.filter(is_reversal=True).count() == 1
    assert OutsideInvoice.objects.count() == 6
    assert VisitMinutes.objects.count() == Visit.objects.filter(state=VisitState.CLOSED).count()
    assert DefectReport.objects.unanswered().count() == 3
    assert RoadHold.objects.standing().filter(because=HoldReason.REVERSE).exists()
    assert LayUp.objects.filter(until_on__gte=NOW.date()).exists()
    for measure in (Measure.LABOUR_COST, Measure.OUTSIDE, Measure.PARTS_COST):
        months = ScoreMonth.objects.current().filter(measure=measure)
        assert months.aggregate(total=Sum("amount"))["total"] > 0
