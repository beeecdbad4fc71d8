"""Inspections: what is kept, how it is judged, and what a value past its limit opens."""

from datetime import timedelta

import pytest

from inspections.models import (
    Fault,
    FollowUp,
    Inspection,
    InspectionKind,
    Judgement,
    Measurement,
    RoadHold,
)
from inspections.quantities import WRONG
from inspections.services.inspecting import (
    InspectionFacts,
    InspectionRefusedError,
    doubts_about,
    record_inspection,
)
from tests.factories import NOW, make_door, make_user
from tests.truck_factories import make_hold, make_open_visit, make_visit

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("recompute_requests")]


def inspected(values: dict[str, float], door=None, visit=None, by=None, **facts) -> Inspection:
    told = {"begun_at": NOW, "inspector": "Kim"} | facts
    return record_inspection(
        door=door or make_door(),
        facts=InspectionFacts(**told),
        values=values,
        entered_at=NOW,
        entered_by=by,
        visit=visit,
    )


def nothing_was_written() -> bool:
    tables = (Inspection, Measurement, Fault, FollowUp, RoadHold)
    return not any(table.objects.exists() for table in tables)


def test_limits_in_force_stay_with_the_measurement() -> None:
    door = make_door()
    inspected({"converter_no_load": 30.4}, door=door)
    door.door_model.drive_volts_low = 29.0
    door.door_model.save()
    kept = Measurement.objects.get()
    assert kept.judgement == Judgement.NEAR
    assert (kept.limit_low, kept.near_low, kept.near_high, kept.limit_high) == (30, 31, 33, 34)
    assert door.door_model.code in kept.limit_source


def test_near_a_limit_opens_nothing() -> None:
    inspected({"battery_rest": 12.3, "balance_half": -100.0})
    assert not Fault.objects.exists()
    assert not FollowUp.objects.exists()


@pytest.mark.parametrize(
    ("quantity", "value", "task"),
    [
        ("balance_half", -200.0, "BAL"),
        ("cable_condition", WRONG, "COI"),
        ("sensor_offset", 60.0, "SEN"),
        ("drag", 180.0, "LUB"),
    ],
)
def test_past_a_limit_opens_its_task(quantity: str, value: float, task: str) -> None:
    inspected({quantity: value})
    asked = FollowUp.objects.get()
    assert asked.task.code == task
    assert asked.measurement == Measurement.objects.get()
    assert asked.closed_at is None
    assert f"{value:g}" in asked.because or "not as it should be" in asked.because


@pytest.mark.parametrize(
    ("quantity", "value", "mode", "is_failure"),
    [
        ("battery_rest", 11.9, "FM05", False),
        ("converter_no_load", 12.3, "FM07", False),
        ("fuse", 1_000.0, "FM10", True),
        ("ajar_lamp", WRONG, "FM23", True),
        ("motor_end", 20.0, "FM14", False),
    ],
)
def test_past_a_limit_opens_its_fault(
    quantity: str, value: float, mode: str, *, is_failure: bool
) -> None:
    inspected({"board_output": 32.0, quantity: value})
    fault = Fault.objects.get()
    assert (fault.mode, fault.is_failure, fault.detected_by) == (mode, is_failure, "inspection")
    assert fault.component is not None


def test_a_fault_or_task_that_stands_is_not_opened_twice() -> None:
    door = make_door()
    for day in (0, 1):
        inspected(
            {"battery_rest": 11.9, "drag": 200.0}, door=door, begun_at=NOW + timedelta(hours=day)
        )
    assert Measurement.objects.count() == 4
    assert Fault.objects.count() == FollowUp.objects.count() == 1


@pytest.mark.parametrize(
    ("quantity", "because"),
    [
        ("spring", "spring_or_cable"),
        ("lift_cables", "spring_or_cable"),
        ("secures", "not_secured"),
        ("reverse_function", "reverse"),
    ],
)
def test_what_must_not_leave_is_held_at_once(quantity: str, because: str) -> None:
    person = make_user()
    inspection = inspected({quantity: WRONG}, by=person)
    hold = RoadHold.objects.get()
    assert (hold.because, hold.placed_by, hold.lifted_at) == (because, person, None)
    assert hold.truck == inspection.door.mountings.get().truck
    assert Fault.objects.get().is_failure


def test_nothing_is_measured_with_power_beside_a_broken_spring() -> None:
    with pytest.raises(InspectionRefusedError, match="not run"):
        inspected({"spring": WRONG, "converter_running": 31.0})
    assert nothing_was_written()


def test_nothing_is_measured_with_power_under_a_hold() -> None:
    door = make_door()
    make_hold(door=door)
    with pytest.raises(InspectionRefusedError, match="not run"):
        inspected({"travel_open_seconds": 9.0}, door=door)
    inspected({"battery_rest": 12.6}, door=door)
    assert Measurement.objects.count() == 1


def test_all_as_it_should_be_with_exceptions() -> None:
    inspection = inspected({"drag": 120.0}, all_as_it_should_be=True)
    assert inspection.all_as_it_should_be
    assert inspection.measurements.get(quantity="drag").judgement == Judgement.NEAR
    looked_at = inspection.measurements.exclude(quantity="drag")
    assert {each.judgement for each in looked_at} == {Judgement.HOLDS}


def test_commissioning_gives_the_baselines_of_later_inspections() -> None:
    door = make_door()
    inspected(
        {"travel_open_seconds": 10.0}, door=door, kind=InspectionKind.COMMISSIONING,
        begun_at=NOW - timedelta(days=90),
    )  # fmt: skip
    inspected({"travel_open_seconds": 13.5}, door=door)
    later = Measurement.objects.newest_first()[0]
    assert (later.judgement, later.limit_high) == (Judgement.PAST, pytest.approx(13.0))
    assert FollowUp.objects.get().task.code == "ELE"


def test_the_same_inspection_sent_twice_is_one() -> None:
    door, person = make_door(), make_user()
    first = inspected({"drag": 90.0}, door=door, by=person)
    assert inspected({"drag": 90.0}, door=door, by=person) == first
    assert Measurement.objects.count() == 1


@pytest.mark.parametrize(
    ("values", "facts", "words"),
    [
        ({}, {}, "Nothing was entered"),
        ({"drag": 90.0}, {"inspector": " "}, "carries a name"),
        ({"luck": 1.0}, {}, "no such quantity"),
        ({"battery_rest": 320.0}, {}, "cannot read 320 V"),
        ({"battery_rest": float("nan")}, {}, "cannot read"),
        ({"spring": 0.5}, {}, "none of the choices"),
    ],
)
def test_what_cannot_be_is_refused(values, facts, words: str) -> None:
    with pytest.raises(InspectionRefusedError, match=words):
        inspected(values, **facts)
    assert nothing_was_written()


def test_an_inspection_belongs_to_an_open_visit_of_its_door() -> None:
    door = make_door()
    for visit in (make_visit(door=door), make_open_visit()):
        with pytest.raises(InspectionRefusedError, match="open visit"):
            inspected({"drag": 90.0}, door=door, visit=visit)
    visit = make_open_visit(door=door)
    assert inspected({"drag": 90.0}, door=door, visit=visit).measurements.get().visit == visit


def test_a_lost_decimal_point_is_asked_about() -> None:
    door = make_door()
    asked = doubts_about(door=door, values={"converter_no_load": 3.2, "battery_rest": 12.6})
    assert len(asked) == 1
    assert "32" in asked[0]
    assert doubts_about(door=door, values={"spring": WRONG, "balance_half": -80.0}) == []
