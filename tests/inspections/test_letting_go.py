"""Old records go when their last period has passed, whole, and never a day before."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from io import StringIO
from typing import Any

import pytest
from django.apps import apps
from django.core.files.storage import default_storage
from django.core.management import CommandError, call_command
from django.db import connection
from django.test.utils import CaptureQueriesContext
from pytest_django import DjangoCaptureOnCommitCallbacks
from pytest_django.fixtures import Settings

from analytics.models import DoorFigures
from analytics.recompute import recompute_fleet
from fleetdoors.models import DoorUnit
from fleetdoors.retention import RecordClass, RuleSet
from inspections.models import Attachment, CounterReading, DefectReport, LettingGo, VisitState
from inspections.models.visit import Visit
from inspections.services.retention.departed import departed_doors
from inspections.services.retention.letting_go import KeptError, let_go
from inspections.services.retention.what_goes import GOES, STAYS
from tests import factories as make
from tests.schedule_factories import make_acceptance, make_choice, make_planned
from tests.truck_factories import make_attachment, make_defect_report, make_follow_up, make_hold

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("recompute_requests")]
GONE = date(2026, 1, 31)


def at(day: date) -> datetime:
    """Noon where the depots of the tests are, near enough."""
    return datetime(day.year, day.month, day.day, 12, tzinfo=UTC)


def leave(door: DoorUnit, on: date = GONE) -> DoorUnit:
    """Dispose of the door's truck."""
    truck = door.mountings.get(removed_on=None).truck
    truck.disposed_on = on
    truck.save()
    return door


def with_everything() -> DoorUnit:
    """A door with a row in most tables, of the year 2025."""
    then = at(date(2025, 6, 1))
    door = make.make_door(record_from=date(2024, 1, 1))
    spring, part = make.component("spring"), make.make_part(component=make.component("spring"))
    make.make_readings(door=door, values=[100, 300, 500], first_at=then)
    make.make_fitment(door=door, component=spring, part=part)
    make.make_fault(door=door, component=spring, found_at=then)
    make.make_task_done(door=door, task=make.task("LUB"), done_at=then)
    make.make_part_used(door=door, part=part, used_at=then)
    report = make_defect_report(door=door, reported_at=then)
    Attachment.objects.filter(pk=make_attachment().pk).update(defect_report=report)
    make_follow_up(door=door, task_asked=make.task("SEN"))
    make_hold(door=door)
    visit = make_planned(door, -400, "LUB")
    Visit.objects.filter(pk=visit.pk).update(state=VisitState.DROPPED, reason="not needed")
    make_choice(door=door)
    acceptance = make_acceptance(depot=visit.depot)
    acceptance.steps.create(change="added", after=visit)
    return door


def everything_of(door: DoorUnit) -> dict[str, list[Any]]:
    """Every row of every table of the record that does not belong to the door."""
    own = {goes.model: goes.rows_of([door.pk]).values("pk") for goes in GOES}
    found = {}
    for app in ("fleetdoors", "inspections"):
        for model in apps.get_app_config(app).get_models():
            rows = model._default_manager.order_by("pk")
            if model in own:
                rows = rows.exclude(pk__in=own[model])
            if model not in (LettingGo, DoorUnit):
                found[model.__name__] = list(rows.values())
    return found


def test_a_british_report_is_kept_fifteen_months_and_goes_on_the_day() -> None:
    # Worked by hand: reported on 1 December 2025, the truck left on 31 January 2026.
    door = leave(make.make_door())
    make_defect_report(door=door, reported_at=at(date(2025, 12, 1)))
    [found] = departed_doors(RuleSet.GB)
    assert found.may_go_on == date(2027, 3, 1)
    assert found.kept_until == {RecordClass.DEFECT: date(2027, 3, 1)}
    with pytest.raises(KeptError, match=r"2027-03-01.*driver's report"):
        let_go(door=door, rule_set=RuleSet.GB, at=at(date(2027, 2, 28)), by=None)
    assert DefectReport.objects.count() == 1
    gone = let_go(door=door, rule_set=RuleSet.GB, at=at(date(2027, 3, 1)), by=None)
    assert gone.rows == {DefectReport._meta.db_table: 1}
    assert gone.kept_until_on == date(2027, 3, 1)
    assert not DefectReport.objects.exists()


def test_american_work_is_kept_two_years_after_the_truck_left() -> None:
    # Worked by hand: by the law alone 1 June 2026, as shipped 24 months after 1 December 2025.
    door = leave(make.make_door(), date(2025, 12, 1))
    make.make_fault(door=door, found_at=at(date(2025, 2, 1)))
    [found] = departed_doors(RuleSet.US)
    assert found.may_go_on == date(2027, 12, 1)
    with pytest.raises(KeptError, match="2027-12-01"):
        let_go(door=door, rule_set=RuleSet.US, at=at(date(2027, 11, 30)), by=None)
    let_go(door=door, rule_set=RuleSet.US, at=at(date(2027, 12, 1)), by=None)


def test_a_door_in_the_fleet_is_refused_however_old_its_records() -> None:
    door = make.make_door()
    make.make_fault(door=door, found_at=at(date(2001, 1, 1)))
    assert departed_doors(RuleSet.NONE) == []
    with pytest.raises(KeptError, match="is in the fleet"):
        let_go(door=door, rule_set=RuleSet.NONE, at=at(date(2099, 1, 1)), by=None)


def test_a_retired_doors_report_waits_for_the_truck_that_it_names() -> None:
    door = make.make_door(record_from=date(2020, 1, 1))
    truck = door.mountings.get().truck
    make_defect_report(door=door, reported_at=at(date(2021, 1, 1)))
    door.mountings.update(mounted_on=date(2020, 1, 1), removed_on=date(2021, 2, 1))
    DoorUnit.objects.filter(pk=door.pk).update(retired_on=date(2021, 2, 1))
    door.refresh_from_db()
    [found] = departed_doors(RuleSet.NONE)
    assert found.may_go_on is None
    with pytest.raises(KeptError, match="a truck that is still in the fleet"):
        let_go(door=door, rule_set=RuleSet.NONE, at=at(date(2030, 1, 1)), by=None)
    truck.disposed_on = date(2025, 5, 5)
    truck.save()
    [found] = departed_doors(RuleSet.NONE)
    assert found.may_go_on == date(2025, 5, 5), "later than 15 months from the report"


def test_everything_of_the_door_goes_and_nothing_else(
    django_capture_on_commit_callbacks: DjangoCaptureOnCommitCallbacks,
) -> None:
    door, other = leave(with_everything()), leave(with_everything())
    before = everything_of(door)
    file = Attachment.objects.get(defect_report__door=door).file.name
    assert default_storage.exists(file)
    when = at(date(2030, 1, 1))
    with django_capture_on_commit_callbacks(execute=True):
        gone = let_go(door=door, rule_set=RuleSet.NONE, at=when, by=None)
        assert default_storage.exists(file), "not before the deletion stands"
    assert not default_storage.exists(file)
    assert default_storage.exists(Attachment.objects.get(defect_report__door=other).file.name)
    assert all(not goes.rows_of([door.pk]).exists() for goes in GOES)
    assert everything_of(door) == before
    assert sum(gone.rows.values()) >= len(gone.rows) >= 11
    connection.check_constraints()
    assert [each.door for each in departed_doors(RuleSet.NONE)] == [other]
    with pytest.raises(KeptError, match="nothing is on record"):
        let_go(door=door, rule_set=RuleSet.NONE, at=when, by=None)


def test_figures_leave_the_door_out_afterwards() -> None:
    door, other = (leave(with_everything()) for _ in range(2))
    recompute_fleet(as_of=make.NOW, started_at=make.NOW)
    failures = DoorFigures.objects.filter(generation__is_current=True, door__in=(door, other))
    assert dict(failures.values_list("door", "failures")) == {door.pk: 1, other.pk: 1}
    revision = DoorUnit.objects.get(pk=door.pk).revision
    let_go(door=door, rule_set=RuleSet.NONE, at=at(date(2030, 1, 1)), by=None)
    assert DoorUnit.objects.get(pk=door.pk).revision > revision
    recompute_fleet(as_of=make.NOW, started_at=make.NOW + timedelta(minutes=1))
    failures = DoorFigures.objects.filter(generation__is_current=True, door__in=(door, other))
    assert dict(failures.values_list("door", "failures")) == {door.pk: 0, other.pk: 1}


def test_every_table_that_points_to_a_door_is_decided_on() -> None:
    goes = {each.model.__name__ for each in GOES}
    pointing = set()
    for app in ("fleetdoors", "inspections"):
        for model in apps.get_app_config(app).get_models():
            targets = {
                field.related_model
                for field in model._meta.get_fields()
                if field.concrete and (field.many_to_one or field.one_to_one)
            }
            if targets & {DoorUnit, *(each.model for each in GOES)}:
                pointing.add(model.__name__)
    assert pointing - {"LogEntry"} == goes | STAYS


def test_the_list_takes_the_same_queries_for_many_doors() -> None:
    leave(with_everything())
    with CaptureQueriesContext(
        connection,
    ) as one:
        departed_doors(RuleSet.NONE)
    for _ in range(3):
        leave(with_everything())
    with CaptureQueriesContext(connection) as four:
        assert len(departed_doors(RuleSet.NONE)) == 4
    assert len(four) == len(one) <= 45


def said(*options: str) -> str:
    out = StringIO()
    call_command("purge", *options, stdout=out)
    return out.getvalue()


def test_the_command_lists_first_and_deletes_what_is_due_only_when_told(
    settings: Settings,
) -> None:
    settings.RETENTION_RULES = "gb"
    due, early = leave(with_everything(), date(2019, 1, 31)), leave(make.make_door())
    CounterReading.objects.filter(door=due).delete()
    for goes in GOES:
        # All of it long ago.
        for name in goes.dated:
            if goes.model is not CounterReading and name in ("found_at", "done_at", "reported_at"):
                goes.rows_of([due.pk]).update(**{name: at(date(2018, 1, 1))})
    make.make_fault(door=early, found_at=make.NOW)
    found = {each.door.pk: each for each in departed_doors(RuleSet.GB)}
    text = said()
    assert "Great Britain" in text
    assert f"{early.serial}: left 2026-01-31" in text
    assert "nothing was deleted" in text
    assert set(found) == {due.pk, early.pk}
    with pytest.raises(CommandError, match=r"kept until 20\d\d") as refused:
        said("--door", early.serial, "--do")
    assert refused.value.returncode == 2
    with pytest.raises(CommandError, match="must name a door on record"):
        said("--door", "no such door")
    assert not LettingGo.objects.exists()


def test_the_command_does_what_is_due() -> None:
    old, young = (leave(make.make_door(), date(2019, 1, 31)) for _ in range(2))
    make.make_fault(door=old, found_at=at(date(2018, 1, 1)))
    make.make_fault(door=young, found_at=make.NOW)
    leave(young, make.NOW.date())
    assert f"{old.serial}: left 2019-01-31, 1 rows, kept until 2021-01-31" in said()
    assert "1 may go; nothing was deleted" in said()
    assert "1 doors let go" in said("--do")
    assert LettingGo.objects.get().door == old
    assert LettingGo.objects.get().gone_by is None
    assert "0 doors let go" in said("--do")
