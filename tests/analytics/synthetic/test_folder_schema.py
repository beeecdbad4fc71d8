"""The written folder is what an import of a fleet folder takes, and no more."""

import re

import pytest

from tests.analytics.synthetic.conftest import MadeFleet

# Columns of the documented fleet folder, written here anew; the first words are required.
DOCUMENTED = {
    "depots": ("depot", "name timezone setting bay_hours_per_day"),
    "trucks": (
        "truck depot",
        "route_kind make serial_number model_year tire_size owner in_service_on disposed_on",
    ),
    "door_models": (
        "door_model",
        "supply_volts drive_volts drive_volts_low drive_volts_high counter_digits"
        " counts_per_cycle cable_awg cable_metres sensor_offset_mm spring_class_cycles",
    ),
    "doors": ("door door_model", "truck mounted_on opening_cycles record_from retired_on"),
    "mountings": ("door truck mounted_on", "removed_on"),
    "lay_ups": ("truck from_on", "until_on reason"),
    "counters": ("door counter fitted_on first_value", "removed_on last_value"),
    "readings": ("door read_at counter_value", "read_by source"),
    "parts": (
        "part name",
        "component unit_cost currency lead_time_days lead_time_sd_days pack_size"
        " shelf_life_days fits revision replaces rating",
    ),
    "fitments": (
        "door component",
        "position part fitted_on fitted_at_cycles observed_from_cycles removed_on"
        " removed_at_cycles removal",
    ),
    "faults": (
        "door found_at",
        "at_cycles component mode complaint detected_by is_failure action off_road_from"
        " off_road_until",
    ),
    "parts_used": ("door used_at part quantity", "depot"),
    "tasks_done": ("door task done_at", "at_cycles done_by"),
    "stock": ("depot part on_hand", "on_order expected_on service_level counted_on"),
}
COMPONENTS = """
remote remote_battery receiver switch supply_feed converter fuse fuse_holder control_board
counter coil_cable slider connector motor open_sensor closed_sensor ajar_lamp spring lift_cable
roller hinge track panel bottom_seal turnbuckle manual_release gasket
"""
TASKS = "DRV CTR CLN REV LUB LFT COI REL BAL SEN FAS SEA ELE RBT ANN REN"
DATE = re.compile(r"\d{4}-\d{2}-\d{2}")
MOMENT = re.compile(r"\d{4}-\d{2}-\d{2}T([01]\d|2[0-3]):[0-5]\d")


def test_only_documented_tables_lie_beside_truth(demo_fleet: MadeFleet) -> None:
    names = {path.name for path in demo_fleet.folder.iterdir()}
    assert names == {f"{table}.csv" for table in DOCUMENTED} | {"truth"}


@pytest.mark.parametrize("table", DOCUMENTED)
def test_columns_are_documented_and_required_ones_are_filled(
    demo_fleet: MadeFleet, table: str
) -> None:
    required, optional = (words.split() for words in DOCUMENTED[table])
    rows = demo_fleet.rows(table)
    assert rows
    assert set(rows[0]) == set(required + optional)
    assert all(row[column] for row in rows for column in required)


@pytest.mark.parametrize("table", DOCUMENTED)
def test_dates_and_moments_are_iso(demo_fleet: MadeFleet, table: str) -> None:
    checked = 0
    for row in demo_fleet.rows(table):
        for column, cell in row.items():
            if not cell or "cycles" in column:
                continue
            if column.endswith("_at") or column.startswith("off_road"):
                assert MOMENT.fullmatch(cell), (table, column, cell)
                checked += 1
            elif column.endswith("_on") and column not in ("on_hand", "on_order"):
                assert DATE.fullmatch(cell), (table, column, cell)
                checked += 1
    assert checked or table in ("depots", "door_models", "parts")


def test_codes_are_known(demo_fleet: MadeFleet) -> None:
    known = set(COMPONENTS.split())
    assert {row["component"] for row in demo_fleet.rows("fitments")} <= known
    assert {row["component"] for row in demo_fleet.rows("parts")} <= known
    assert {row["component"] for row in demo_fleet.rows("faults")} <= known | {""}
    assert {row["task"] for row in demo_fleet.rows("tasks_done")} <= set(TASKS.split())
    modes = {row["mode"] for row in demo_fleet.rows("faults")} - {""}
    assert modes <= {f"FM{number:02d}" for number in range(1, 40)}
    complaints = {row["complaint"] for row in demo_fleet.rows("faults")}
    assert complaints <= {f"S{number}" for number in range(1, 14)}
    assert {row["is_failure"] for row in demo_fleet.rows("faults")} == {"yes", "no"}
    removals = {row["removal"] for row in demo_fleet.rows("fitments")}
    assert removals == {"failed", "preventive", "other", ""}


def test_everything_referred_to_exists(demo_fleet: MadeFleet) -> None:
    keys = {
        table: {row[column] for row in demo_fleet.rows(table)}
        for table, column in (
            ("depots", "depot"),
            ("trucks", "truck"),
            ("doors", "door"),
            ("door_models", "door_model"),
            ("parts", "part"),
        )
    }
    for table in DOCUMENTED:
        for row in demo_fleet.rows(table):
            for parent, known in keys.items():
                column = parent.removesuffix("s")
                assert row.get(column, "") in known | {""}, (table, column, row)


def test_no_door_shares_a_truck_at_one_time(demo_fleet: MadeFleet) -> None:
    trucks = [row["truck"] for row in demo_fleet.rows("doors")]
    assert len(set(trucks)) == len(trucks)
    present = {row["door"]: row["truck"] for row in demo_fleet.rows("doors")}
    mountings = demo_fleet.rows("mountings")
    assert len(mountings) == 2
    first, second = sorted(mountings, key=lambda row: row["mounted_on"])
    assert first["removed_on"] == second["mounted_on"]
    assert second["removed_on"] == ""
    assert present[second["door"]] == second["truck"] != first["truck"]


def test_demo_is_labelled_as_invented(demo_fleet: MadeFleet) -> None:
    assert all("invented" in row["owner"] for row in demo_fleet.rows("trucks"))
    assert "invented" in (demo_fleet.folder / "truth" / "README.txt").read_text()
