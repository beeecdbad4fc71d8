"""One-off checks and the doors that have had them go along in a fleet folder."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path

import pytest

from fleetdoors.models import DoorUnit
from inspections.models import OneOffCheck, OneOffLook
from inspections.services.fleet_folder.exporting import export_fleet
from inspections.services.fleet_folder.importing import import_fleet
from inspections.services.one_off_checks import (
    Finding,
    close_check,
    open_check,
    record_looks,
    take_look_back,
)
from tests.factories import NOW, make_depot, make_door, make_part, make_truck, make_user
from tests.inspections.test_fleet_folder_linked import rewritten
from tests.inspections.test_fleet_folder_round_trip import empty_the_database, goes_round

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("recompute_requests")]
LATER = NOW + timedelta(hours=3)


def two_checks() -> list[DoorUnit]:
    """One check with a door put right, one not yet looked at, one taken back; another closed."""
    kim = make_user()
    depot = make_depot(code="OSL", timezone="Europe/Oslo")
    first = make_door(truck=make_truck(depot=depot))
    doors = [first, *(make_door(door_model=first.door_model) for _each in range(2))]
    plug = open_check(
        title="=Loose plug", what_to_look_at="Is it tight?\nBehind the box.",
        door_model=first.door_model, part=None, opened_at=NOW - timedelta(days=3), opened_by=kim,
    )  # fmt: skip
    for door, note in zip(doors, ("was loose", "", ""), strict=True):
        if door is not doors[2]:
            found = Finding(not note, note, "Sam")
            record_looks(
                check=plug, doors=[door], found=found, looked_at=NOW, entered_at=NOW,
                entered_by=kim,
            )  # fmt: skip
    take_look_back(
        look=OneOffLook.objects.get(door=doors[1]), reason="the wrong door", entered_at=LATER
    )
    recall = open_check(
        title="Recall", what_to_look_at="The lot", door_model=None,
        part=make_part(part_number="SPR"), opened_at=NOW, opened_by=None,
    )  # fmt: skip
    close_check(check=recall, reason="none of that lot here", closed_at=LATER)
    return doors


def test_checks_go_round_with_who_has_had_them(tmp_path: Path) -> None:
    serials = [door.serial for door in two_checks()]
    files = goes_round(tmp_path)
    assert {"one_off_checks.csv", "one_off_looks.csv"} <= set(files)
    plug, recall = OneOffCheck.objects.order_by("pk")
    assert (plug.title, plug.what_to_look_at) == ("=Loose plug", "Is it tight?\nBehind the box.")
    assert {door.serial for door in plug.doors()} == set(serials)
    had = plug.looks.filter(superseded_at__isnull=True).get()
    assert (had.door.serial, had.is_as_it_should_be, had.note) == (serials[0], False, "was loose")
    back = plug.looks.get(superseded_at__isnull=False)
    assert (back.door.serial, back.superseded_at, back.reason) == (
        serials[1], LATER, "the wrong door",
    )  # fmt: skip
    assert (recall.part.part_number, recall.closed_at) == ("SPR", LATER)
    assert recall.why_closed == "none of that lot here"


def test_a_check_of_the_folder_is_found_again(tmp_path: Path) -> None:
    two_checks()
    export_fleet(tmp_path / "fleet")
    assert import_fleet(tmp_path / "fleet", now=NOW + timedelta(days=1)).changes_nothing
    assert OneOffCheck.objects.count() == 2


@pytest.mark.parametrize(
    ("table", "changes", "says"),
    [
        ("one_off_checks", {"door_model": ""}, "of a door model or of a part"),
        ("one_off_checks", {"part": "SPR"}, "of a door model or of a part"),
        ("one_off_checks", {"closed_at": "2026-11-25T13:00Z"}, "the reason is missing"),
        ("one_off_checks", {"title": ""}, "must not be empty"),
        ("one_off_looks", {"note": ""}, "not as it should be is told"),
        ("one_off_looks", {"check_asked": "7"}, "no row of one_off_checks"),
        ("one_off_looks", {"is_as_it_should_be": "perhaps"}, "must be yes or no"),
        ("one_off_looks", {"door": "D-elsewhere"}, "neither in the folder's doors"),
    ],
)
def test_a_check_that_cannot_be_is_told(
    tmp_path: Path, table: str, changes: dict[str, str], says: str
) -> None:
    two_checks()
    export_fleet(tmp_path / "fleet")
    empty_the_database()
    report = import_fleet(
        rewritten(tmp_path / "fleet", table, **changes), now=NOW + timedelta(days=1)
    )
    problems = [str(problem) for problem in report.problems]
    assert any(says in problem and f"{table}.csv" in problem for problem in problems), problems
    assert not OneOffCheck.objects.exists()
