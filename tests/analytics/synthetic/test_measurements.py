"""Invented measurements: the same each time, possible, and with the stories they promise."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from analytics.demo import MEASURED_DOORS, measure_doors
from analytics.kernel.cable_trend import CableState, assess_cable
from analytics.synthetic.measurements import (
    INSPECTOR,
    ROUNDS,
    ROUNDS_WITH_STORY,
    STORIES,
    InventedInspection,
    invent_inspections,
)
from inspections.limits import DoorFigures
from inspections.models import Fault, Inspection, InspectionKind, Measurement
from inspections.quantities import QUANTITIES
from inspections.typed_values import Typed, check_typed
from tests.factories import NOW, component, make_door, make_fitment

FIRST_AT, LAST_AT = datetime(2025, 1, 1, tzinfo=UTC), datetime(2026, 11, 1, tzinfo=UTC)
MODELS = (
    DoorFigures("A", cable_awg=14, cable_metres=6.5),
    DoorFigures("B", supply_volts=24.0, cable_awg=12, cable_metres=8.0),
    DoorFigures("C", cable_awg=16, cable_metres=5.0),
    DoorFigures("D"),
)
DOORS = MODELS * 10


def invented() -> list[list[InventedInspection]]:
    return invent_inspections(DOORS, first_at=FIRST_AT, last_at=LAST_AT)


def state_of(rounds: list[InventedInspection]) -> CableState:
    board = np.array([each.values["board_output"] for each in rounds])
    return assess_cable(
        np.arange(len(rounds)),
        board - [each.values["motor_end"] for each in rounds],
        np.array([each.facts.amps for each in rounds], dtype=float),
        np.array([each.facts.celsius for each in rounds], dtype=float),
        float(np.median(board)),
    ).state


def test_the_same_doors_get_the_same_values() -> None:
    assert invented() == invented()


def test_every_value_can_be_read_off_a_meter() -> None:
    for door, rounds in zip(DOORS, invented(), strict=True):
        for each in rounds:
            for code, value in each.values.items():
                checked = check_typed(QUANTITIES[code].typed_as, abs(value), door.supply_volts)
                assert checked.verdict == Typed.OK, (code, value)


def test_each_door_begins_with_its_values_when_new_and_says_it_is_invented() -> None:
    for row, rounds in enumerate(invented()):
        kinds = [each.facts.kind for each in rounds]
        assert len(kinds) == (ROUNDS_WITH_STORY if row < len(STORIES) else ROUNDS)
        assert kinds[0] == InspectionKind.COMMISSIONING
        assert set(kinds[1:]) == {InspectionKind.ROUTINE}
        assert {each.facts.inspector for each in rounds} == {INSPECTOR}
        assert "invented" in INSPECTOR


def test_two_cables_wear_one_joint_comes_loose_and_the_others_hold() -> None:
    states = [state_of(rounds) for rounds in invented()]
    assert states[:3] == [CableState.WATCH, CableState.ACT, CableState.SUDDEN]
    assert set(states[3:]) == {CableState.HOLDS}


# In the demo


@pytest.mark.django_db
@pytest.mark.usefixtures("recompute_requests")
def test_the_demo_measures_some_doors_and_opens_what_stands_past_its_limit() -> None:
    begun = (NOW - timedelta(days=720)).date()
    doors = [make_door(serial=f"D-{number:02}", record_from=begun) for number in range(44)]
    for door in doors:
        door.door_model.cable_awg, door.door_model.cable_metres = 14, 6.5
        door.door_model.save()
    cable = component("coil_cable")
    make_fitment(
        door=doors[0], component=cable, fitted_on=(NOW - timedelta(days=50)).date(),
        fitted_at_cycles=100,
    )  # fmt: skip
    make_fitment(door=doors[1], component=cable, fitted_on=begun, fitted_at_cycles=0)
    measure_doors(now=NOW)
    measured = set(Inspection.objects.values_list("door__serial", flat=True))
    assert len(measured) == MEASURED_DOORS
    # A cable that was changed within the record cannot tell one story.
    assert "D-00" not in measured
    assert Inspection.objects.filter(door=doors[1]).count() == ROUNDS_WITH_STORY
    assert not Measurement.objects.filter(measured_at__gte=NOW).exists()
    past = Measurement.objects.filter(
        judgement="past", inspection__begun_at__gte=NOW - timedelta(6)
    )
    assert {each.quantity for each in past} == {"motor_end"}
    opened = Fault.objects.unrepaired().filter(mode="FM14", is_failure=False)
    assert {fault.door_id for fault in opened} == {each.door_id for each in past}
