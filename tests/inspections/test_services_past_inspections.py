"""Inspections of the past: judged as a new one would be, and nothing opened by them."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from fleetdoors.models import DoorUnit
from inspections.models import Fault, FollowUp, Inspection, InspectionKind, Measurement, RoadHold
from inspections.services.inspecting import InspectionFacts, record_inspection
from inspections.services.past_inspections import PastInspection, record_past_inspections
from tests.factories import NOW, make_door

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("recompute_requests")]
NEW = {"board_output": 32.0, "motor_end": 30.9, "travel_open_seconds": 8.0, "battery_rest": 12.7}
WORN = {"board_output": 31.8, "motor_end": 29.9, "travel_open_seconds": 9.4, "battery_rest": 12.1}
LIMITS = (
    "quantity", "value", "amps", "celsius", "limit_low", "near_low", "near_high", "limit_high",
    "limit_source", "judgement",
)  # fmt: skip


def facts(days_ago: int, kind: str = InspectionKind.ROUTINE) -> InspectionFacts:
    return InspectionFacts(
        begun_at=NOW - timedelta(days=days_ago), inspector="Kim", kind=kind, amps=11.0, celsius=9.0
    )


def past(door: DoorUnit) -> list[PastInspection]:
    """A worn door and when it was new, the later one first."""
    begun_at = NOW - timedelta(days=90)
    return [
        PastInspection(door, facts(30), WORN, entered_at=NOW - timedelta(days=30)),
        PastInspection(door, facts(90, InspectionKind.COMMISSIONING), NEW, entered_at=begun_at),
    ]


def kept_of(door: DoorUnit) -> list[tuple[object, ...]]:
    rows = Measurement.objects.filter(door=door).order_by("measured_at", "quantity")
    return list(rows.values_list(*LIMITS))


def test_they_are_judged_as_one_recorded_at_its_time_would_be() -> None:
    at_once, later = make_door(), make_door()
    later.door_model = at_once.door_model
    later.save()
    for each in reversed(past(at_once)):
        record_inspection(
            door=at_once, facts=each.facts, values=each.values, entered_at=each.entered_at
        )
    record_past_inspections(inspections=past(later))
    assert kept_of(later) == kept_of(at_once)
    assert {row[-1] for row in kept_of(later)} >= {"holds", "near", "past"}


def test_what_was_past_its_limit_opens_nothing_now() -> None:
    door = make_door()
    record_past_inspections(inspections=past(door))
    assert Measurement.objects.filter(judgement="past").exists()
    assert not Fault.objects.exists()
    assert not FollowUp.objects.exists()
    assert not RoadHold.objects.exists()


def test_each_keeps_the_moment_at_which_it_was_entered() -> None:
    door = make_door()
    kept = record_past_inspections(inspections=past(door))
    assert [each.entered_at for each in kept] == [NOW - timedelta(days=d) for d in (90, 30)]
    assert set(Measurement.objects.values_list("entered_at", flat=True)) == {
        each.entered_at for each in kept
    }


def test_an_unknown_quantity_is_refused_with_everything_else() -> None:
    door = make_door()
    with pytest.raises(KeyError):
        record_past_inspections(
            inspections=[
                *past(door),
                PastInspection(door, facts(9), {"no_such": 1.0}, entered_at=NOW),
            ]
        )
    assert not Inspection.objects.exists()
    assert not Measurement.objects.exists()


def test_as_many_queries_for_many_as_for_few() -> None:
    doors = [
        DoorUnit.objects.select_related("door_model").get(pk=make_door().pk) for _n in "abcdef"
    ]

    def queries_for(chosen: list[DoorUnit]) -> int:
        inspections = [each for door in chosen for each in past(door)]
        with CaptureQueriesContext(connection) as queries:
            record_past_inspections(inspections=inspections)
        return len(queries)

    assert queries_for(doors[:1]) == queries_for(doors[1:3])
