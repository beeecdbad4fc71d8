"""What an import writes, and what a second one leaves alone."""

from datetime import UTC, date, datetime
from decimal import Decimal
from pathlib import Path

import pytest

from fleetdoors.models import (
    Counter,
    Depot,
    DoorUnit,
    Fitment,
    MaintenanceTask,
    Mounting,
    Part,
    TaskChange,
    Truck,
)
from fleetdoors.services.task_catalogue import undo_change
from fleetdoors.services.task_sheet import TaskSheet, every_sheet, sheet_of
from inspections.models import CounterReading, Fault, PartUsed, StockCount, TaskDone
from inspections.services.fleet_folder.importing import check_fleet, import_fleet
from tests.factories import make_user
from tests.inspections.fleet_folders import NOW, PLAIN, bring_in, counts, write_folder

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("recompute_requests")]


def test_every_table_lands_in_the_record(tmp_path: Path) -> None:
    report = bring_in(tmp_path, PLAIN)
    assert counts(report)["readings"] == (3, 0, 0, 0)
    assert Depot.objects.get().settings_in_force == ("salt", "cold")
    part = Part.objects.get()
    assert part.unit_cost == Decimal("120.50")
    assert [model.code for model in part.fits.all()] == ["M5"]
    assert Mounting.objects.open().get(door__serial="D1").truck.fleet_number == "T1"
    assert Fitment.objects.get().removal == ""
    assert Fault.objects.count() == 2
    assert PartUsed.objects.get().draws_on_stock is False
    assert TaskDone.objects.get().at_cycles == 1210
    assert StockCount.objects.get().on_order == 2


def test_moments_are_on_the_depots_clock_and_bare_dates_start_the_day(tmp_path: Path) -> None:
    bring_in(tmp_path, PLAIN)
    first = CounterReading.objects.filter(door__serial="D1").earliest("read_at")
    # Chicago is six hours behind UTC on 1 March and five on 1 April (Energy Policy Act of 2005).
    assert first.read_at == datetime(2026, 3, 1, 13, 40, tzinfo=UTC)
    assert TaskDone.objects.get().done_at == datetime(2026, 3, 2, 6, 0, tzinfo=UTC)
    last = CounterReading.objects.latest("read_at")
    assert last.read_at == datetime(2026, 4, 1, 12, 40, tzinfo=UTC)


def test_an_entry_without_a_moment_was_made_when_it_happened(tmp_path: Path) -> None:
    bring_in(tmp_path, PLAIN)
    assert all(row.entered_at == row.read_at for row in CounterReading.objects.all())
    assert all(row.entered_at == row.found_at for row in Fault.objects.all())
    fitment = Fitment.objects.get()
    assert fitment.entered_at == datetime(2024, 2, 1, 6, 0, tzinfo=UTC)
    assert fitment.end_entered_at is None


def test_the_same_folder_twice_changes_nothing_and_says_so(tmp_path: Path) -> None:
    bring_in(tmp_path, PLAIN)
    before = list(CounterReading.objects.values()), list(Fault.objects.values())
    again = bring_in(tmp_path, PLAIN)
    assert again.changes_nothing
    assert all(each.unchanged == each.read > 0 for each in again.counts)
    assert (list(CounterReading.objects.values()), list(Fault.objects.values())) == before


def test_a_check_writes_nothing(tmp_path: Path) -> None:
    report = check_fleet(write_folder(tmp_path, PLAIN), now=NOW)
    assert not report.refused
    assert not report.changes_nothing
    assert DoorUnit.objects.count() == 0


def test_one_wrong_row_keeps_everything_out(tmp_path: Path) -> None:
    wrong = PLAIN | {"stock": PLAIN["stock"] + "NORTH,P-CON,-1,0,2026-03-02\n"}
    report = import_fleet(write_folder(tmp_path, wrong), now=NOW)
    assert report.refused
    assert DoorUnit.objects.count() == Depot.objects.count() == CounterReading.objects.count() == 0


def test_the_last_word_wins_for_registries_and_empty_cells_never_erase(tmp_path: Path) -> None:
    bring_in(tmp_path, PLAIN)
    later = {
        "depots": "depot,name,setting\nNORTH,,dust\n",
        "trucks": "truck,depot,route_kind\nT1,NORTH,\nT3,NORTH,linen\n",
    }
    report = bring_in(tmp_path / "later", later)
    assert counts(report) == {"depots": (0, 1, 0, 0), "trucks": (1, 0, 0, 1)}
    depot = Depot.objects.get()
    assert (depot.name, depot.setting, depot.timezone) == ("North yard", "dust", "America/Chicago")
    assert Truck.objects.get(fleet_number="T1").route_kind == "parcel"


def test_a_new_fleet_marks_its_doors_stale_and_asks_for_figures(
    tmp_path: Path, recompute_requests: list, django_capture_on_commit_callbacks
) -> None:
    with django_capture_on_commit_callbacks(execute=True):
        bring_in(tmp_path, PLAIN)
    keys = set(DoorUnit.objects.values_list("pk", flat=True))
    # The shelves that were counted come after the doors.
    assert [set(asked) for asked in recompute_requests] == [keys, set()]
    assert set(DoorUnit.objects.values_list("revision", flat=True)) == {1}


def test_a_change_of_a_depot_concerns_every_door(
    tmp_path: Path, recompute_requests: list, django_capture_on_commit_callbacks
) -> None:
    bring_in(tmp_path, PLAIN)
    recompute_requests.clear()
    with django_capture_on_commit_callbacks(execute=True):
        bring_in(tmp_path / "later", {"depots": "depot,setting\nNORTH,coast\n"})
    assert recompute_requests == [None]
    assert set(DoorUnit.objects.values_list("revision", flat=True)) == {2}


def test_a_shelf_that_was_counted_asks_for_the_orders_alone(
    tmp_path: Path, recompute_requests: list, django_capture_on_commit_callbacks
) -> None:
    bring_in(tmp_path, PLAIN)
    recompute_requests.clear()
    part = Part.objects.values_list("part_number", flat=True).first()
    with django_capture_on_commit_callbacks(execute=True):
        bring_in(tmp_path / "later", {"stock": f"depot,part,on_hand\nNORTH,{part},77\n"})
    assert recompute_requests == [()]
    assert set(DoorUnit.objects.values_list("revision", flat=True)) == {1}


def test_nothing_is_asked_for_when_nothing_changes(
    tmp_path: Path, recompute_requests: list, django_capture_on_commit_callbacks
) -> None:
    bring_in(tmp_path, PLAIN)
    recompute_requests.clear()
    with django_capture_on_commit_callbacks(execute=True):
        bring_in(tmp_path, PLAIN)
    assert recompute_requests == []
    assert set(DoorUnit.objects.values_list("revision", flat=True)) == {1}


def test_only_doors_that_are_written_about_go_stale(tmp_path: Path) -> None:
    bring_in(tmp_path, PLAIN)
    bring_in(
        tmp_path / "later",
        {"readings": "door,read_at,counter_value\nD2,2026-05-01T08:00,1000\n"},
    )
    assert dict(DoorUnit.objects.values_list("serial", "revision")) == {"D1": 1, "D2": 2}


def test_equal_events_are_counted_and_the_larger_number_stays(tmp_path: Path) -> None:
    bring_in(tmp_path, PLAIN)
    row = "D1,2026-03-05T09:00,converter,FM07,S3,yes\n"
    third = bring_in(tmp_path / "three", {"faults": PLAIN["faults"] + row})
    assert counts(third)["faults"] == (1, 0, 0, 2)
    one = bring_in(
        tmp_path / "one", {"faults": "door,found_at,component,mode,complaint,is_failure\n" + row}
    )
    assert counts(one)["faults"] == (0, 0, 0, 1)
    assert Fault.objects.count() == 3


def test_an_event_that_was_corrected_since_is_not_added_again(tmp_path: Path) -> None:
    bring_in(tmp_path, PLAIN)
    old = Fault.objects.earliest("pk")
    old.superseded_at = NOW
    old.save()
    Fault.objects.create(
        door=old.door,
        found_at=old.found_at,
        component=old.component,
        is_failure=False,
        entered_at=NOW,
        corrects=old,
    )
    assert bring_in(tmp_path, PLAIN).changes_nothing


def test_a_fault_without_a_component_takes_that_of_its_mode(tmp_path: Path) -> None:
    tables = PLAIN | {"faults": "door,found_at,mode\nD1,2026-03-05T09:00,FM10\n"}
    bring_in(tmp_path, tables)
    assert Fault.objects.get().component.code == "fuse"
    assert bring_in(tmp_path, tables).changes_nothing


def test_an_open_fitment_is_closed_by_a_later_import(tmp_path: Path) -> None:
    bring_in(tmp_path, PLAIN)
    closed = {
        "fitments": "door,component,part,fitted_on,fitted_at_cycles,removed_on,removed_at_cycles,"
        "removal\nD1,converter,P-CON,2024-02-01,0,2026-03-05,1300,failed\n"
        "D1,converter,P-CON,2026-03-05,1300,,,\n"
    }
    report = bring_in(tmp_path / "closed", closed)
    assert counts(report)["fitments"] == (1, 1, 0, 0)
    old = Fitment.objects.get(fitted_at_cycles=0)
    assert (old.removal, old.removed_at_cycles) == ("failed", 1300)
    assert old.end_entered_at == datetime(2026, 3, 5, 6, 0, tzinfo=UTC)
    assert bring_in(tmp_path / "closed", closed).changes_nothing
    # The older folder, in which the part was still fitted, does not open it again.
    assert bring_in(tmp_path, {"fitments": PLAIN["fitments"]}).changes_nothing


def test_an_open_counter_is_closed_by_a_later_import(tmp_path: Path) -> None:
    head = "door,counter,fitted_on,first_value,removed_on,last_value,digits\n"
    bring_in(tmp_path, PLAIN | {"counters": head + "D1,C1,2024-02-01,0,,,\n"})
    both = head + "D1,C1,2024-02-01,0,2026-05-01,3000,\nD1,C2,2026-05-01,0,,,6\n"
    report = bring_in(tmp_path / "both", {"counters": both})
    assert counts(report)["counters"] == (1, 1, 0, 0)
    assert Counter.objects.get(serial="C1").last_value == 3000
    assert Counter.objects.get(serial="C2").digits == 6


def test_parts_may_replace_parts_of_the_same_file(tmp_path: Path) -> None:
    bring_in(
        tmp_path,
        {"parts": "part,name,replaces\nNEW,Fuse b,OLD\nOLD,Fuse a,\n"},
    )
    assert Part.objects.get(part_number="NEW").replaces.part_number == "OLD"


def test_a_fleets_own_components_and_tasks_can_be_used(tmp_path: Path) -> None:
    tables = PLAIN | {
        "components": "component,name,kind\nstep_light,Step light,electrical\n",
        "tasks": "task,name,interval_days,minutes\nSTP,Step light check,60,2\n",
        "tasks_done": "door,task,done_at\nD1,STP,2026-03-02T10:00\n",
        "fitments": "door,component,fitted_at_cycles\nD1,step_light,0\n",
    }
    bring_in(tmp_path, tables)
    assert TaskDone.objects.get().task.interval_days == 60
    assert Fitment.objects.get().component.name == "Step light"
    # Nobody knows when it was fitted: it counts as known since the door's record began.
    assert Fitment.objects.get().entered_at == datetime(2024, 2, 1, 6, 0, tzinfo=UTC)


def test_a_door_that_retires_leaves_its_truck(tmp_path: Path) -> None:
    bring_in(tmp_path, PLAIN)
    later = {
        "doors": "door,door_model,truck,mounted_on,retired_on\n"
        "D1,M5,T1,,2026-06-01\nD3,M5,T1,2026-06-01,\n"
    }
    report = bring_in(tmp_path / "later", later)
    assert counts(report)["doors"] == (1, 1, 0, 0)
    assert Mounting.objects.get(door__serial="D1").removed_on == date(2026, 6, 1)
    assert Mounting.objects.open().get(truck__fleet_number="T1").door.serial == "D3"
    assert bring_in(tmp_path / "later", later).changes_nothing


def test_a_door_moves_to_another_truck(tmp_path: Path) -> None:
    bring_in(tmp_path, PLAIN)
    later = {
        "doors": "door,door_model,truck,mounted_on\nD1,M5,T2,2026-06-01\nD2,M5,T1,2026-06-01\n"
    }
    report = bring_in(tmp_path / "later", later)
    assert counts(report)["doors"] == (0, 2, 0, 0)
    now = dict(Mounting.objects.open().values_list("door__serial", "truck__fleet_number"))
    assert now == {"D1": "T2", "D2": "T1"}
    assert Mounting.objects.count() == 4
    assert bring_in(tmp_path / "later", later).changes_nothing


def test_mountings_and_the_present_truck_agree(tmp_path: Path) -> None:
    tables = PLAIN | {
        "mountings": "door,truck,mounted_on,removed_on\n"
        "D1,T2,2024-01-01,2024-02-01\nD1,T1,2024-02-01,\n"
    }
    bring_in(tmp_path, tables)
    assert Mounting.objects.filter(door__serial="D1").count() == 2
    assert bring_in(tmp_path, tables).changes_nothing


def test_a_mounting_without_a_day_begins_with_the_doors_record(tmp_path: Path) -> None:
    tables = {
        "depots": "depot\nA\n",
        "trucks": "truck,depot,in_service_on\nT1,A,2023-05-01\nT2,A,2023-06-01\nT3,A,\n",
        "door_models": "door_model\nM\n",
        "doors": "door,door_model,truck,record_from\nD1,M,T1,2024-03-01\nD2,M,T2,\nD3,M,T3,\n",
    }
    bring_in(tmp_path, tables)
    days = dict(Mounting.objects.values_list("door__serial", "mounted_on"))
    assert days == {"D1": date(2024, 3, 1), "D2": date(2023, 6, 1), "D3": date(1970, 1, 1)}
    assert bring_in(tmp_path, tables).changes_nothing


def test_a_moved_door_keeps_the_clock_of_the_depot_where_it_was_read(tmp_path: Path) -> None:
    tables = {
        "depots": "depot,timezone\nEAST,America/New_York\nWEST,America/Los_Angeles\n",
        "trucks": "truck,depot\nT1,WEST\n",
        "truck_depots": "truck,depot,from_on,until_on\nT1,EAST,2024-01-01,2025-01-01\n",
        "door_models": "door_model\nM\n",
        "doors": "door,door_model,truck,mounted_on\nD1,M,T1,2024-01-01\n",
        "readings": "door,read_at,counter_value\nD1,2024-06-01T12:00,10\nD1,2025-06-01T12:00,20\n",
    }
    bring_in(tmp_path, tables)
    hours = CounterReading.objects.order_by("read_at").values_list("read_at__hour", flat=True)
    assert list(hours) == [16, 19]


def test_stock_without_a_day_is_counted_now_and_only_when_it_differs(tmp_path: Path) -> None:
    head = "depot,part,on_hand,on_order,service_level\n"
    tables = PLAIN | {"stock": head + "NORTH,P-CON,4,2,0.95\n"}
    bring_in(tmp_path, tables)
    assert StockCount.objects.get().counted_at == NOW
    later = datetime(2026, 11, 26, 12, 0, tzinfo=UTC)
    assert bring_in(tmp_path, tables, now=later).changes_nothing
    fewer = {"stock": "depot,part,on_hand\nNORTH,P-CON,3\n"}
    report = bring_in(tmp_path / "fewer", fewer, now=later)
    assert counts(report)["stock"] == (0, 1, 0, 0)
    newest = StockCount.objects.latest("counted_at")
    assert (newest.on_hand, newest.on_order, newest.service_level) == (3, 2, 0.95)


def test_another_figure_for_a_counted_day_is_a_correction(tmp_path: Path) -> None:
    bring_in(tmp_path, PLAIN)
    other = {"stock": "depot,part,on_hand,counted_on\nNORTH,P-CON,5,2026-03-01\n"}
    report = bring_in(tmp_path / "other", other)
    assert counts(report)["stock"] == (0, 0, 1, 0)
    now = StockCount.objects.in_force().get()
    assert (now.on_hand, now.corrects.on_hand) == (5, 4)
    assert bring_in(tmp_path, PLAIN).changes_nothing


def test_what_a_folder_changes_of_a_task_is_kept_with_what_stood_before(tmp_path: Path) -> None:
    tasks = "task,name,interval_days,minutes\nLUB,Greasing,45,20\nOWN,Own check,30,10\n"
    factors = "task,condition,factor\nLUB,salt,0.5\n"
    before = sheet_of(MaintenanceTask.objects.get(code="LUB"))
    bring_in(tmp_path, {"tasks": tasks, "severity_factors": factors})
    own, lub = TaskChange.objects.order_by("-task__code")
    assert (own.task.code, own.before) == ("OWN", None)
    assert TaskSheet.from_json(lub.before) == before
    after = sheet_of(MaintenanceTask.objects.get(code="LUB"))
    assert TaskSheet.from_json(lub.after) == after
    assert (after.name, after.interval_days, after.factors["salt"]) == ("Greasing", 45, 0.5)
    assert lub.changed_by is None
    assert lub.reason == "A fleet folder was imported."
    bring_in(tmp_path, {"tasks": tasks, "severity_factors": factors})
    assert TaskChange.objects.count() == 2, "the same folder again changes nothing"
    undo_change(change=lub, by=make_user(), at=NOW, reason="Not ours")
    assert sheet_of(MaintenanceTask.objects.get(code="LUB")) == before


def test_every_sheet_is_the_sheet_of_each_task() -> None:
    tasks = MaintenanceTask.objects.order_by("code")
    assert every_sheet() == {task.code: sheet_of(task) for task in tasks}
    assert any(sheet.factors and sheet.contains for sheet in every_sheet().values())
