"""The plan of visits through the figures command: hours, trucks, nesting, spring work, as of."""

from __future__ import annotations

from collections import Counter
from datetime import date, datetime, timedelta

import pytest

from analytics.recompute import recompute_fleet
from analytics.scheduling.board import board_of
from analytics.scheduling.propose import propose_at_once
from fleetdoors.models import Depot, LayUp, MaintenanceTask
from inspections.models import (
    DefectReport,
    DefectStep,
    FollowUp,
    NightChoice,
    RoadHold,
    SpringAuthorisation,
    Visit,
    VisitState,
)
from tests import factories as make
from tests.analytics.asking import ask
from tests.schedule_factories import make_choice, make_planned
from tests.truck_factories import make_defect_report, make_follow_up, make_hold

pytestmark = pytest.mark.django_db
TODAY = make.NOW.date()
AS_OF = f"--as-of={TODAY}"
BEGUN = TODAY - timedelta(days=500)
VISIT = 22
EVERY_TASK = (
    "ANN",
    "RBT",
    "REV",
    "CTR",
    "LUB",
    "LFT",
    "COI",
    "REL",
    "BAL",
    "SEN",
    "FAS",
    "ELE",
    "SEA",
)


def door_of(depot: Depot, number: str, **facts):
    """A door read every week up to yesterday, on a truck of its own."""
    truck = make.make_truck(depot=depot, fleet_number=f"T-{number}")
    door = make.make_door(truck=truck, serial=f"D-{number}", record_from=BEGUN, **facts)
    make.make_readings(
        door=door,
        values=[140 * k for k in range(1, 72)],
        first_at=make.NOW.replace(hour=0) - timedelta(days=493),
    )
    return door


def done(door, days_ago: float, *codes: str) -> None:
    for code in codes:
        make.make_task_done(
            door=door,
            task=make.task(code),
            done_at=make.NOW.replace(hour=8) - timedelta(days=days_ago),
        )


def hours_of(depot: Depot, hours: float | None) -> None:
    depot.bay_hours_per_day = hours
    depot.save()


def plan(*options: str):
    return ask("schedule", AS_OF, *options)


def covered_by(tasks: str) -> set[str]:
    """The codes named in a row, and those that they contain."""
    named = MaintenanceTask.objects.filter(code__in=tasks.split("+"))
    return {task.code for task in named} | {
        inner.code for task in named for inner in task.contains.all()
    }


def test_a_late_task_is_done_in_the_first_night():
    depot = make.make_depot(code="NORTH")
    door = door_of(depot, "1")
    done(door, 10, "ANN")
    done(door, 0, *EVERY_TASK)
    make.make_task_done(door=door, task=make.task("LUB"), done_at=make.NOW - timedelta(days=9))
    hours_of(depot, 4)
    assert plan("--days=5") == []
    row = ask("schedule", f"--as-of={TODAY + timedelta(days=25)}", "--days=7")
    # 30 days after the last visit the reverse test and the reading fall due together.
    [visit] = row
    assert visit["tasks"] == "CTR+REV"
    assert visit["minutes"] == VISIT
    assert visit["late_by_days"] == 0
    due = TODAY + timedelta(days=30)
    assert due - timedelta(days=3) <= date.fromisoformat(visit["date"]) <= due


def test_a_full_inspection_does_what_it_contains():
    depot = make.make_depot(code="NORTH")
    door_of(depot, "1")
    [row] = plan("--days=3")
    assert (row["depot"], row["date"], row["truck"]) == ("NORTH", str(TODAY), "T-1")
    assert row["tasks"] == "ANN"
    assert row["minutes"] == 120 + VISIT
    # The reverse test, every 30 days, was never done since the record began.
    assert row["late_by_days"] == 500 - 30
    assert {"LUB", "REV", "BAL", "RBT"} <= covered_by(row["tasks"])


def test_hours_are_kept_and_no_truck_is_booked_twice():
    depot = make.make_depot(code="NORTH")
    for number in range(12):
        done(door_of(depot, f"{number:02d}"), 100 + 9 * number, *EVERY_TASK)
    hours_of(depot, 5)
    rows = plan("--days=10")
    used: Counter[str] = Counter()
    for row in rows:
        used[row["date"]] += row["minutes"]
    assert max(used.values()) <= 300
    assert max(Counter((row["truck"], row["date"]) for row in rows).values()) == 1
    last = str(TODAY + timedelta(days=9))
    assert all(str(TODAY) <= row["date"] <= last for row in rows)
    assert {row["truck"] for row in rows} == {f"T-{number:02d}" for number in range(12)}


def test_each_late_task_is_done_once_where_there_are_hours():
    depot = make.make_depot(code="NORTH")
    for number in range(3):
        done(door_of(depot, str(number)), 100, *EVERY_TASK)
    rows = plan("--days=10")
    late = {
        (row["truck"], row["task"]) for row in ask("due", AS_OF) if row["state"] in ("late", "due")
    }
    planned = Counter((row["truck"], code) for row in rows for code in covered_by(row["tasks"]))
    assert late
    assert late <= set(planned)
    assert {planned[each] for each in late} == {1}


def test_minutes_are_those_of_the_tasks_and_of_the_visit():
    depot = make.make_depot(code="NORTH")
    done(door_of(depot, "1"), 100, *EVERY_TASK)
    minutes = dict(MaintenanceTask.objects.values_list("code", "minutes"))
    for row in plan("--days=5"):
        own = [code for code in row["tasks"].split("+") if code not in ("REV", "CTR")]
        assert row["minutes"] == VISIT + sum(minutes[code] for code in own)


def test_depots_have_hours_of_their_own():
    for code in ("NORTH", "SOUTH"):
        depot = make.make_depot(code=code)
        for number in range(3):
            door_of(depot, f"{code}{number}")
        hours_of(depot, 2.5)
    rows = plan("--days=4")
    assert {row["depot"] for row in rows} == {"NORTH", "SOUTH"}
    used: Counter[tuple[str, str]] = Counter()
    for row in rows:
        used[row["depot"], row["date"]] += row["minutes"]
    assert max(used.values()) <= 150
    assert {row["depot"] for row in plan("--days=4", "--depot=SOUTH")} == {"SOUTH"}


@pytest.mark.parametrize(("hours", "visits"), [(0, 0), (2.3, 0), (2.4, 1), (None, 1)])
def test_a_night_holds_what_fits(hours, visits):
    """A full inspection and its visit take 142 minutes; without hours on record, 8 are assumed."""
    depot = make.make_depot(code="NORTH")
    door_of(depot, "1")
    hours_of(depot, hours)
    rows = [row for row in plan("--days=1") if row["tasks"] == "ANN"]
    assert len(rows) == visits


def authorise(person, *, from_on: date = BEGUN, until_on: date = TODAY, **facts) -> None:
    SpringAuthorisation.objects.create(
        person=person, from_on=from_on, until_on=until_on, granted_by="Kim", **facts
    )


def springs_due(depot: Depot):
    door = door_of(depot, "1", door_model=make.make_door_model(spring_class_cycles=10_000))
    done(door, 5, *EVERY_TASK)


def renewals(*options: str):
    return [row["date"] for row in plan("--days=6", *options) if "REN" in row["tasks"].split("+")]


def test_spring_work_is_given_to_nobody_untrained():
    depot = make.make_depot(code="NORTH")
    springs_due(depot)
    assert renewals() == []
    authorise(make.make_user(depots=[depot]), until_on=TODAY + timedelta(days=90))
    assert renewals() == [str(TODAY)]


@pytest.mark.parametrize(
    "facts",
    [
        {"until_on": TODAY - timedelta(days=1)},
        {"from_on": TODAY},
        {"until_on": TODAY + timedelta(days=90), "withdrawn_at": make.NOW - timedelta(days=1)},
    ],
    ids=["run out", "not known yet", "withdrawn"],
)
def test_a_word_that_does_not_hold_is_no_training(facts):
    depot = make.make_depot(code="NORTH")
    springs_due(depot)
    authorise(make.make_user(depots=[depot]), **facts)
    assert renewals() == []


def test_a_person_of_two_depots_is_at_one_of_them_a_night():
    depots = [make.make_depot(code=code) for code in ("NORTH", "SOUTH")]
    for depot in depots:
        door = door_of(
            depot, depot.code, door_model=make.make_door_model(spring_class_cycles=10_000)
        )
        done(door, 5, *EVERY_TASK)
    authorise(make.make_user(depots=depots), until_on=TODAY + timedelta(days=90))
    nights = renewals()
    assert len(nights) == len(set(nights)) == 2


def test_a_truck_that_is_laid_up_is_not_waited_for():
    depot = make.make_depot(code="NORTH")
    door = door_of(depot, "1")
    truck = door.mountings.get().truck
    LayUp.objects.create(truck=truck, from_on=TODAY - timedelta(days=3))
    assert plan("--days=5") == []


def test_a_finding_asks_for_its_task_at_once():
    depot = make.make_depot(code="NORTH")
    door = door_of(depot, "1")
    done(door, 5, *EVERY_TASK)
    assert plan("--days=5") == []
    FollowUp.objects.create(
        door=door,
        task=make.task("BAL"),
        because="heavy at half height",
        opened_at=make.NOW - timedelta(days=2),
        entered_at=make.NOW - timedelta(days=2),
    )
    # A door out of balance is work on wound springs: somebody trained has to come.
    assert plan("--days=5") == []
    authorise(make.make_user(depots=[depot]), until_on=TODAY + timedelta(days=90))
    [row] = plan("--days=5")
    assert (row["date"], row["tasks"]) == (str(TODAY), "BAL")
    assert ask("schedule", f"--as-of={TODAY - timedelta(days=3)}", "--days=5") == []


def served(depot: Depot, number: str):
    """A door on which nothing is due."""
    door = door_of(depot, number)
    done(door, 5, *EVERY_TASK)
    return door


@pytest.mark.parametrize(
    ("facts", "asked"),
    [
        ({"is_failure": False}, True),
        ({}, False),
        ({"off_road_from": make.NOW - timedelta(days=2)}, True),
        ({"is_failure": False, "action": "repair"}, False),
        (
            {
                "action": "repair",
                "off_road_from": make.NOW - timedelta(days=2),
                "off_road_until": make.NOW + timedelta(days=2),
            },
            True,
        ),
    ],
    ids=["put off", "history", "off the road", "repaired", "repaired later"],
)
def test_a_fault_that_came_with_an_import_is_work_if_it_was_put_off(facts, asked):
    depot = make.make_depot(code="NORTH")
    make.make_fault(
        door=served(depot, "1"), found_at=make.NOW - timedelta(days=2),
        component=make.component("roller"), **facts,
    )  # fmt: skip
    rows = [(row["date"], row["tasks"], row["minutes"]) for row in plan("--days=3")]
    assert rows == ([(str(TODAY), "REPAIR", 60 + VISIT)] if asked else [])


def test_a_fault_somebody_wrote_down_is_work_until_something_was_done():
    depot = make.make_depot(code="NORTH")
    fault = make.make_fault(door=served(depot, "1"), found_at=make.NOW - timedelta(days=3))
    fault.entered_by = make.make_user()
    fault.save()
    assert [row["tasks"] for row in plan("--days=3")] == ["REPAIR"]
    before = f"--as-of={TODAY - timedelta(days=4)}"
    assert ask("schedule", before, "--days=3") == []
    fault.superseded_at = make.NOW + timedelta(hours=1)
    fault.save()
    # Corrected this afternoon; this morning nobody knew.
    assert [row["tasks"] for row in plan("--days=3")] == ["REPAIR"]
    later = f"--as-of={TODAY + timedelta(days=1)}"
    assert ask("schedule", later, "--days=3") == []


def test_a_driver_s_report_is_work_until_the_workshop_has_answered():
    depot = make.make_depot(code="NORTH")
    report = make_defect_report(door=served(depot, "1"), reported_at=make.NOW - timedelta(days=3))
    before = f"--as-of={TODAY - timedelta(days=1)}"
    assert [row["minutes"] for row in plan("--days=3")] == [24 + VISIT]
    DefectStep.objects.create(
        report=report, kind="repaired", name="Kim", taken_at=make.NOW - timedelta(days=1),
        entered_at=make.NOW - timedelta(days=1),
    )  # fmt: skip
    DefectReport.objects.update(state="repaired")
    assert plan("--days=3") == []
    assert [row["minutes"] for row in ask("schedule", before, "--days=3")] == [24 + VISIT]


def test_the_figures_and_the_proposed_week_hold_the_same_work():
    depot = make.make_depot(code="NORTH")
    doors = [served(depot, str(number)) for number in range(4)] + [door_of(depot, "9")]
    make_follow_up(door=doors[0], task_asked=make.task("SEN"))
    make.make_fault(
        door=doors[1], found_at=make.NOW - timedelta(days=2), is_failure=False,
        component=make.component("hinge"),
    )  # fmt: skip
    make_defect_report(door=doors[2], reported_at=make.NOW - timedelta(days=2))
    make_hold(door=doors[3])
    authorise(make.make_user(depots=[depot]), until_on=TODAY + timedelta(days=90))
    recompute_fleet(as_of=TODAY + timedelta(days=1), started_at=make.NOW)
    tomorrow = TODAY + timedelta(days=1)
    rows = ask("schedule", f"--as-of={tomorrow}", "--days=7")
    board = board_of(
        propose_at_once(
            depot=depot, first_on=tomorrow, nights=7,
            asked_at=make.NOW + timedelta(days=1), asked_by=make.make_user(),
        )
    )  # fmt: skip
    visits = {(visit.row.truck.fleet_number, float(visit.minutes)) for visit in board.visits()}
    assert {(row["truck"], row["minutes"]) for row in rows} == visits
    assert {truck for truck, _minutes in visits} == {f"T-{k}" for k in (0, 1, 2, 3, 9)}


def test_a_truck_held_in_the_yard_comes_before_all_others():
    depot = make.make_depot(code="NORTH")
    for number in range(4):
        door_of(depot, str(number))
    held = door_of(depot, "9")
    done(held, 5, *EVERY_TASK)
    hours_of(depot, 2.4)
    RoadHold.objects.create(
        door=held,
        truck=held.mountings.get().truck,
        because="not_secured",
        placed_at=make.NOW - timedelta(days=1),
        entered_at=make.NOW - timedelta(days=1),
    )
    [first] = [row for row in plan("--days=6") if row["truck"] == "T-9"]
    assert (first["tasks"], first["minutes"], first["date"]) == ("REPAIR", 60 + VISIT, str(TODAY))


def test_what_was_entered_later_does_not_count():
    depot = make.make_depot(code="NORTH")
    door = door_of(depot, "1")
    before = plan("--days=5")
    for code in EVERY_TASK:
        make.make_task_done(
            door=door,
            task=make.task(code),
            done_at=make.NOW - timedelta(days=9),
            entered_at=make.NOW + timedelta(days=1),
        )
    assert plan("--days=5") == before
    assert before


def test_what_people_planned_and_chose_is_kept_as_it_was_known():
    depot = make.make_depot(code="NORTH")
    hours_of(depot, 20)
    planned, chosen, free = (door_of(depot, str(number)) for number in (1, 2, 3))
    nothing_planned = {row["truck"]: row["date"] for row in plan("--days=5")}
    assert nothing_planned == dict.fromkeys(("T-1", "T-2", "T-3"), str(TODAY))
    yesterday = make.NOW - timedelta(days=1)
    visit = make_planned(planned, 3, "ANN")
    Visit.objects.filter(pk=visit.pk).update(entered_at=yesterday)
    choice = make_choice(door=chosen, days=2)
    NightChoice.objects.filter(pk=choice.pk).update(chosen_at=yesterday)
    kept = {row["truck"]: row["date"] for row in plan("--days=5")}
    third, fourth = (str(TODAY + timedelta(days=days)) for days in (2, 3))
    assert kept == {"T-1": fourth, "T-2": third, "T-3": str(TODAY)}
    # Closed, and chosen anew, after the moment of the question.
    Visit.objects.filter(pk=visit.pk).update(
        state=VisitState.CLOSED, started_at=make.NOW + timedelta(days=2), signed_by="A. Person",
        closed_at=make.NOW + timedelta(days=2),
    )  # fmt: skip
    NightChoice.objects.filter(pk=choice.pk).update(withdrawn_at=make.NOW + timedelta(hours=1))
    make_choice(door=chosen, days=1)
    assert {row["truck"]: row["date"] for row in plan("--days=5")} == kept
    Visit.objects.filter(pk=visit.pk).update(entered_at=make.NOW + timedelta(days=1))
    NightChoice.objects.filter(pk=choice.pk).update(chosen_at=make.NOW + timedelta(hours=1))
    assert {row["truck"]: row["date"] for row in plan("--days=5")} == nothing_planned
    assert free.serial == "D-3"


def test_now_begins_with_tonight():
    depot = make.make_depot(code="NORTH")
    door_of(depot, "1")
    [row] = ask("schedule", "--days=1")
    assert row["date"] == str(datetime.now(tz=depot.zone).date())
