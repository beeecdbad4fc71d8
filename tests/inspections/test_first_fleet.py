"""A depot and its trucks, typed on one page, become a fleet folder."""

import csv
from datetime import UTC, datetime
from io import StringIO

import pytest

from inspections.services.first_fleet import (
    MOST_TRUCKS,
    FirstFleet,
    LinesRefusedError,
    TypedTruck,
    as_folder,
    read_trucks,
)

NOW = datetime(2026, 3, 1, 3, 30, tzinfo=UTC)


def fleet(*trucks: TypedTruck, counts_per_cycle: int = 1) -> FirstFleet:
    return FirstFleet(
        depot="NORTH",
        depot_name="North yard, bay 1",
        timezone="America/Chicago",
        setting="salt+dust",
        bay_hours_per_day=7.5,
        door_model="A",
        supply_volts=24.0,
        counter_digits=6,
        counts_per_cycle=counts_per_cycle,
        trucks=trucks,
    )


def rows_of(table: str, typed: FirstFleet) -> list[dict[str, str]]:
    [file] = [
        each for each in as_folder(typed, now=NOW, read_by="Kit") if each.name == f"{table}.csv"
    ]
    return list(csv.DictReader(StringIO(file.read().decode())))


@pytest.mark.parametrize(
    "line",
    ["2104, D-7, 12000", "2104\tD-7\t12000", "2104; D-7; 12000", "  2104 ,D-7,12000 , ,"],
)
def test_a_line_may_come_from_a_keyboard_or_a_spreadsheet(line: str) -> None:
    assert read_trucks(f"\n{line}\n\n") == [TypedTruck("2104", "D-7", 12_000)]


def test_what_is_not_at_hand_is_left_out() -> None:
    assert read_trucks("2104\n2105,,7") == [
        TypedTruck("2104", "D-2104", None),
        TypedTruck("2105", "D-2105", 7),
    ]


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "No truck was typed"),
        ("1\n,D-2", "Line 2: the truck's number is missing"),
        ("1,D-1,12a", "Line 1: 12a is not what a counter shows"),
        ("1,D-1,-5", "Line 1: -5 is not"),
        ("1,D-1,5,6", "Line 1: a truck, a door and a counter make three"),
        ("1\n2\n1,D-9", "Line 3: 1 stands on line 1 already"),
        ("1,D-1\n2,D-1", "Line 2: D-1 stands on line 1 already"),
        ("\n".join(map(str, range(MOST_TRUCKS + 1))), "can be typed at once"),
    ],
)
def test_lines_that_cannot_be_read_are_named(text: str, said: str) -> None:
    with pytest.raises(LinesRefusedError, match=said):
        read_trucks(text)


def test_every_fault_is_said_at_once() -> None:
    with pytest.raises(LinesRefusedError) as refusal:
        read_trucks("1,D-1,x\n2\n,D-3\n2,D-4")
    assert [reason[:6] for reason in refusal.value.reasons] == ["Line 1", "Line 3", "Line 4"]


@pytest.mark.django_db
def test_a_counter_becomes_the_first_reading_on_the_depots_clock() -> None:
    typed = fleet(
        TypedTruck("2104", "D-7", 12_001), TypedTruck("1", "D-1", None), counts_per_cycle=2
    )
    doors = rows_of("doors", typed)
    # In Chicago it is still the evening of the last day of February.
    assert [(row["opening_cycles"], row["record_from"]) for row in doors] == [
        ("6000", "2026-02-28"),
        ("0", "2026-02-28"),
    ]
    assert rows_of("readings", typed) == [
        {
            "door": "D-7",
            "read_at": "2026-02-28T21:30-06:00",
            "counter_value": "12001",
            "read_by": "Kit",
            "source": "hand",
        }
    ]
    assert rows_of("depots", typed) == [
        {
            "depot": "NORTH",
            "name": "North yard, bay 1",
            "timezone": "America/Chicago",
            "setting": "salt+dust",
            "bay_hours_per_day": "7.5",
        }
    ]
