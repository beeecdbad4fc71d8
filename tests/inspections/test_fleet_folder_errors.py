"""Every broken rule is reported, with file, row, column, value and the rule in words."""

from pathlib import Path

import pytest

from fleetdoors.models import DoorUnit
from inspections.services.fleet_folder.errors import Problems
from inspections.services.fleet_folder.importing import check_fleet, import_fleet
from inspections.services.fleet_folder.tables import TABLES
from tests.inspections.fleet_folders import NOW, PLAIN, bring_in, complaints, rules, write_folder

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("recompute_requests")]

# Table, what its text is, and the row, column, value and words of the one problem expected.
CELLS = [
    ("depots", "depot,timezone\nA,Mars/North\n", 2, "timezone", "Mars/North", "Time zone"),
    ("depots", "depot,setting\nA,salt+fog\n", 2, "setting", "salt+fog", "wash_down"),
    ("depots", "depot,salt_from\nA,13-40\n", 2, "salt_from", "13-40", "MM-DD"),
    ("depots", "depot,bay_hours_per_day\nA,-3\n", 2, "bay_hours_per_day", "-3", "negative"),
    ("depots", "depot,name\n,Nameless\n", 2, "depot", "", "must not be empty"),
    ("depots", "depot\nA\nA\n", 3, "depot", "A", "row 2 is the same"),
    ("trucks", "truck,depot\nT9,SOUTH\n", 2, "depot", "SOUTH", "neither in the folder"),
    ("trucks", "truck,depot,model_year\nT9,NORTH,19\n", 2, "model_year", "19", "between"),
    (
        "trucks",
        "truck,depot,in_service_on,disposed_on\nT9,NORTH,2025-01-02,2025-01-01\n",
        2,
        "disposed_on",
        "2025-01-01",
        "must not be before in_service_on",
    ),
    (
        "door_models",
        "door_model,drive_volts\nM9,40\n",
        2,
        "drive_volts_high",
        "33.0",
        "must not be before drive_volts",
    ),
    ("door_models", "door_model,counts_per_cycle\nM9,3\n", 2, "counts_per_cycle", "3", "between"),
    ("components", "component,kind\nlamp,magic\n", 2, "kind", "magic", "electronic, electrical"),
    ("tasks", "task,interval_days\nXYZ,0\n", 2, "interval_days", "0", "between 1"),
    ("parts", "part,name,unit_cost\nP9,Fuse,1.234\n", 2, "unit_cost", "1.234", "two decimals"),
    ("parts", "part,name,pack_size\nP9,Fuse,0\n", 2, "pack_size", "0", "between 1"),
    ("parts", "part,name,fits\nP9,Fuse,M5+M6\n", 2, "fits", "M5+M6", "neither in the folder"),
    ("parts", "part,name,replaces\nP9,Fuse,P9\n", 2, "replaces", "P9", "replace itself"),
    ("parts", f"part,name\nP9,{'x' * 201}\n", 2, "name", "x" * 79 + "…", "at most 200"),
    ("doors", "door,door_model,opening_cycles\nD9,M5,-1\n", 2, "opening_cycles", "-1", "negative"),
    ("doors", "door,door_model\nD9,M5\nD9,M5\n", 3, "door", "D9", "row 2 is the same"),
    (
        "doors",
        "door,door_model,mounted_on\nD9,M5,2025-01-01\n",
        2,
        "mounted_on",
        "2025-01-01",
        "needs a truck",
    ),
    (
        "doors",
        "door,door_model,truck,mounted_on\nD9,M5,T1,2025-01-01\n",
        2,
        "truck",
        "D9",
        "truck T1 has door D1 from 2024-02-01 to now",
    ),
    ("doors", "door,door_model,truck\nD1,M5,T3\n", 2, "truck", "T3", "neither in the folder"),
    (
        "doors",
        "door,door_model,truck\nD1,M5,T2\n",
        2,
        "mounted_on",
        "",
        "a move needs a later mounted_on",
    ),
    (
        "mountings",
        "door,truck,mounted_on,removed_on\nD1,T2,2023-01-01,2022-01-01\n",
        2,
        "removed_on",
        "2022-01-01",
        "must not be before mounted_on",
    ),
    (
        "mountings",
        "door,truck,mounted_on,removed_on\nD1,T1,2023-01-01,2024-03-01\n",
        2,
        "truck",
        "T1",
        "door D1 is on truck T1 from 2024-02-01 to now",
    ),
    (
        "counters",
        "door,counter,fitted_on,first_value\nD1,C1,2024-02-01,0\nD1,C2,2025-02-01,0\n",
        3,
        "counter",
        "C2",
        "counter C1 is on the door at the same time",
    ),
    (
        "counters",
        "door,counter,fitted_on,first_value\nD1,C1,2024-02-01,100000\n",
        2,
        "first_value",
        "100000",
        "more digits",
    ),
    (
        "counters",
        "door,counter,fitted_on,first_value,last_value\nD1,C1,2024-02-01,0,5\n",
        2,
        "last_value",
        "5",
        "needs the day",
    ),
    (
        "fitments",
        "door,component,position\nD1,spring,left\nD1,spring,left\n",
        None,
        "",
        "",
        "",
    ),
    (
        "fitments",
        "door,component,fitted_at_cycles\nD1,converter,10\n",
        2,
        "position",
        "D1 converter",
        "holds a part already",
    ),
    (
        "fitments",
        "door,component,fitted_at_cycles,removed_at_cycles,removal\nD1,spring,9,8,failed\n",
        2,
        "removed_at_cycles",
        "8",
        "must not be before fitted_at_cycles",
    ),
    (
        "fitments",
        "door,component,fitted_on,removed_on\nD1,spring,2025-01-01,2025-02-01\n",
        2,
        "removal",
        "",
        "needs the reason",
    ),
    (
        "fitments",
        "door,component,fitted_at_cycles,removal\nD1,spring,9,failed\n",
        2,
        "removal",
        "failed",
        "needs its day or its cycles",
    ),
    ("fitments", "door,component,removal\nD1,gearbox,\n", 2, "component", "gearbox", "neither"),
    ("fitments", "door,component,removal\nD1,fuse,lost\n", 2, "removal", "lost", "preventive"),
    (
        "fitments",
        "door,component,part,fitted_on,fitted_at_cycles,removed_on,removal\n"
        "D1,converter,,2024-02-01,0,2027-02-01,other\n",
        2,
        "removed_on",
        "2027-02-01",
        "future",
    ),
    ("readings", "door,read_at,counter_value\nD9,2026-05-01,7\n", 2, "door", "D9", "neither"),
    ("readings", "door,read_at,counter_value\n,2026-05-01,7\n", 2, "door", "", "empty"),
    ("readings", "door,read_at,counter_value\nD1,,7\n", 2, "read_at", "", "must not be empty"),
    ("readings", "door,read_at,counter_value\nD1,2026-05-01,\n", 2, "counter_value", "", "empty"),
    (
        "readings",
        "door,read_at,counter_value\nD1,01/05/2026,7\n",
        2,
        "read_at",
        "01/05/2026",
        "2026-03-01T07:40",
    ),
    (
        "readings",
        "door,read_at,counter_value\nD1,2026-02-29T07:40,7\n",
        2,
        "read_at",
        "2026-02-29T07:40",
        "must be a moment",
    ),
    (
        "readings",
        "door,read_at,counter_value\nD1,2026-11-27T07:40,7\n",
        2,
        "read_at",
        "2026-11-27T07:40",
        "future",
    ),
    (
        "readings",
        "door,read_at,counter_value\nD1,2026-05-01,-7\n",
        2,
        "counter_value",
        "-7",
        "negative",
    ),
    (
        "readings",
        "door,read_at,counter_value\nD1,2026-05-01,7.5\n",
        2,
        "counter_value",
        "7.5",
        "whole number",
    ),
    (
        "readings",
        "door,read_at,counter_value\nD1,2026-05-01,100000\n",
        2,
        "counter_value",
        "100000",
        "more digits",
    ),
    (
        "readings",
        "door,read_at,counter_value,source\nD1,2026-05-01,7,radio\n",
        2,
        "source",
        "radio",
        "hand, import, device",
    ),
    ("faults", "door,found_at,mode\nD1,2026-05-01,FM40\n", 2, "mode", "FM40", "FM01, FM02"),
    ("faults", "door,found_at,complaint\nD1,2026-05-01,S99\n", 2, "complaint", "S99", "S1, S2"),
    ("faults", "door,found_at,is_failure\nD1,2026-05-01,1\n", 2, "is_failure", "1", "yes or no"),
    (
        "faults",
        "door,found_at,off_road_from,off_road_until\n"
        "D1,2026-05-01,2026-05-02T10:00,2026-05-02T09:00\n",
        2,
        "off_road_until",
        "2026-05-02 14:00:00+00:00",
        "must not be before off_road_from",
    ),
    (
        "parts_used",
        "door,used_at,part,quantity\nD1,2026-05-01,P-CON,0\n",
        2,
        "quantity",
        "0",
        "between 1",
    ),
    (
        "parts_used",
        "door,used_at,part,quantity\nD1,2026-05-01,P-XX,1\n",
        2,
        "part",
        "P-XX",
        "neither",
    ),
    ("tasks_done", "door,task,done_at\nD1,OIL,2026-05-01\n", 2, "task", "OIL", "neither"),
    ("stock", "depot,part,on_hand\nNORTH,P-CON,-1\n", 2, "on_hand", "-1", "negative"),
    (
        "stock",
        "depot,part,on_hand,service_level\nNORTH,P-CON,1,95\n",
        2,
        "service_level",
        "95",
        "between 0.5",
    ),
    (
        "stock",
        "depot,part,on_hand\nNORTH,P-CON,1\nNORTH,P-CON,2\n",
        3,
        "on_hand",
        "2",
        "row 2 has another count",
    ),
]


@pytest.mark.parametrize("case", CELLS, ids=[f"{case[0]}-{at}" for at, case in enumerate(CELLS)])
def test_one_wrong_cell(tmp_path: Path, case: tuple[str, str, int | None, str, str, str]) -> None:
    table, text, row, column, value, words = case
    bring_in(tmp_path / "fleet", PLAIN)
    report = check_fleet(write_folder(tmp_path / "wrong", {table: text}), now=NOW)
    if row is None:
        assert not report.refused
        return
    (problem,) = report.problems
    assert (problem.file, problem.row, problem.column) == (f"{table}.csv", row, column)
    assert problem.value == value
    assert words in problem.rule


def test_every_error_is_reported_not_only_the_first(tmp_path: Path) -> None:
    wrong = PLAIN | {
        "trucks": "truck,depot\nT1,SOUTH\nT2,NORTH\n",
        "readings": PLAIN["readings"] + "D9,yesterday,many,,\nD1,2026-05-01,-4,,phone\n",
        "faults": PLAIN["faults"] + "D1,2026-05-01,converter,FM99,S3,perhaps\n",
    }
    assert sorted(complaints(tmp_path, wrong)) == [
        ("faults.csv", 4, "is_failure", "perhaps"),
        ("faults.csv", 4, "mode", "FM99"),
        ("readings.csv", 5, "counter_value", "many"),
        ("readings.csv", 5, "door", "D9"),
        ("readings.csv", 5, "read_at", "yesterday"),
        ("readings.csv", 6, "counter_value", "-4"),
        ("readings.csv", 6, "source", "phone"),
        ("trucks.csv", 2, "depot", "SOUTH"),
    ]


def test_columns_that_nobody_knows_or_that_are_missing(tmp_path: Path) -> None:
    wrong = {"depots": "code,name,name\nA,b,c\n", "trucks": "truck;depot\nT1;A\n"}
    found = complaints(tmp_path, wrong)
    assert ("depots.csv", 1, "code", "") in found
    assert ("depots.csv", 1, "name", "") in found
    assert ("depots.csv", 1, "depot", "") in found
    assert ("trucks.csv", 1, "truck;depot", "") in found
    assert "unknown column; known are: depot, name, timezone" in rules(tmp_path, wrong)


def test_a_row_of_the_wrong_width_and_what_stands_after_it(tmp_path: Path) -> None:
    text = "depot,name\nA,one\nB\n\nC,three,more\nD,four\n,\n"
    report = check_fleet(write_folder(tmp_path, {"depots": text}), now=NOW)
    assert [(each.row, each.rule) for each in report.problems] == [
        (3, "the row has 1 cells, the header has 2"),
        (5, "the row has 3 cells, the header has 2"),
        (7, "must not be empty"),
    ]


def test_rows_are_counted_past_line_breaks_inside_cells(tmp_path: Path) -> None:
    text = 'depot,name\nA,"one\ntwo"\nB,"x"\nC,y\nB,z\n'
    assert complaints(tmp_path, {"depots": text}) == [("depots.csv", 5, "depot", "B")]


def test_wrong_quoting_is_reported_with_its_row(tmp_path: Path) -> None:
    text = 'depot,name\nA,one\nB,"two" or so\nC,three\n'
    report = check_fleet(write_folder(tmp_path, {"depots": text}), now=NOW)
    (problem,) = report.problems
    assert (problem.file, problem.row) == ("depots.csv", 3)


def test_an_existing_stay_is_not_overwritten(tmp_path: Path) -> None:
    bring_in(tmp_path / "fleet", PLAIN)
    head = "door,component,part,fitted_on,fitted_at_cycles,observed_from_cycles\n"
    fill = {"fitments": head + "D1,converter,,2024-02-01,0,5\n"}
    bring_in(tmp_path / "fill", fill)
    other = {"fitments": head + "D1,converter,,2024-02-01,0,6\n"}
    assert complaints(tmp_path / "other", other) == [
        ("fitments.csv", 2, "observed_from_cycles", "6")
    ]
    assert "history is not overwritten" in rules(tmp_path / "other", other)


def test_a_door_mounted_elsewhere_than_doors_says(tmp_path: Path) -> None:
    wrong = PLAIN | {"mountings": "door,truck,mounted_on\nD1,T2,2024-02-01\n"}
    found = complaints(tmp_path, wrong)
    assert ("doors.csv", 2, "truck", "T1") in found
    assert "disagrees with the mounting on truck T2" in rules(tmp_path, wrong)


def test_two_doors_of_one_file_on_one_truck(tmp_path: Path) -> None:
    wrong = PLAIN | {"doors": "door,door_model,truck\nD1,M5,T1\nD2,M5,T1\n"}
    (found,) = {(file, row, column) for file, row, column, _ in complaints(tmp_path, wrong)} - {
        ("readings.csv", None, "")
    }
    assert found[0] == "doors.csv"
    assert found[2] == "truck"


def test_a_correction_without_a_problem_does_not_hide_one(tmp_path: Path) -> None:
    bring_in(tmp_path / "fleet", PLAIN)
    wrong = {"readings": "door,read_at,counter_value\nD1,2026-03-01T07:40,1\nD1,2026-05-01,x\n"}
    report = import_fleet(write_folder(tmp_path / "wrong", wrong), now=NOW)
    assert [each.row for each in report.problems] == [3]
    assert DoorUnit.objects.get(serial="D1").readings.in_force().count() == 2


def test_problems_are_counted_beyond_those_kept_and_shown() -> None:
    problems = Problems()
    for row in range(Problems.KEPT + 5):
        problems.add("readings.csv", "rule", row=row)
    problems.add("depots.csv", "rule", row=2)
    assert len(problems) == Problems.KEPT + 6
    assert sum(1 for _ in problems) == Problems.KEPT
    assert len(problems.shown(200)) == 200


def test_every_column_of_the_promised_format_is_known() -> None:
    promised = {
        "depots": "depot name timezone setting bay_hours_per_day",
        "trucks": "truck depot route_kind make serial_number model_year tire_size owner "
        "in_service_on disposed_on",
        "door_models": "door_model supply_volts drive_volts drive_volts_low drive_volts_high "
        "counter_digits counts_per_cycle cable_awg cable_metres sensor_offset_mm "
        "spring_class_cycles",
        "doors": "door door_model truck mounted_on opening_cycles record_from retired_on",
        "mountings": "door truck mounted_on removed_on entered_at end_entered_at",
        "counters": "door counter fitted_on first_value removed_on last_value digits "
        "counts_per_cycle",
        "readings": "door read_at counter_value read_by source status corrected_value entered_at",
        "parts": "part name component unit_cost currency lead_time_days lead_time_sd_days "
        "pack_size shelf_life_days fits revision replaces rating",
        "fitments": "door component position part fitted_on fitted_at_cycles "
        "observed_from_cycles removed_on removed_at_cycles removal",
        "faults": "door found_at at_cycles component mode complaint detected_by is_failure "
        "action off_road_from off_road_until",
        "parts_used": "door used_at part quantity depot",
        "tasks_done": "door task done_at at_cycles done_by",
        "stock": "depot part on_hand on_order expected_on service_level counted_on",
        "truck_depots": "truck depot from_on until_on",
        "lay_ups": "truck from_on until_on reason",
        "components": "component name kind",
        "tasks": "task name interval_cycles interval_days minutes",
    }
    for table, columns in promised.items():
        assert set(columns.split()) <= set(TABLES[table].by_name), table
